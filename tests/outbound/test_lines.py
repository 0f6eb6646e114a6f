"""Line protocol: what each row becomes, and that it can be read back."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.outbound.lines import FIELD_OF, alert_line, piece_line, reading_line, room_lines
from curewatch.shop.alert import AlertKind, AlertPhase
from curewatch.shop.assessment import Assessment, assess
from curewatch.shop.reading import Quantity, Reading
from tests.small_shop import HOUR_MS
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from pathlib import Path

AT_MS = 1_772_668_800_123
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)


@pytest.fixture(scope="module")
def now(tmp_path_factory: pytest.TempPathFactory) -> Assessment:
    folder: Path = tmp_path_factory.mktemp("lines")
    with WebShop.at(folder) as shop:
        shop.hear()
        shop.hang("B1", NOW_MS - 24 * HOUR_MS)
        return shop.do(lambda: assess(shop.daemon.shop, NOW_MS))


def parsed(line: str) -> tuple[str, dict[str, str], dict[str, str], int]:
    """Read a line back: measurement, tags, fields as they are written, time."""
    assert "\n" not in line
    head, fields, at = re.fullmatch(
        r'((?:\\.|[^ \\])+) ((?:"(?:\\.|[^"\\])*"|[^" ])+) (-?\d+)', line
    ).groups()  # type: ignore[union-attr]  # a line that is none fails the test
    name, *tags = re.split(r"(?<!\\),", head)
    pairs = dict(re.split(r"(?<!\\)=", tag, maxsplit=1) for tag in tags)
    plain = {key: re.sub(r"\\([,= ])", r"\1", value) for key, value in pairs.items()}
    found = dict(re.findall(r'(?:^|,)(\w+)=("(?:\\.|[^"\\])*"|[^,]*)', fields))
    return name, plain, found, int(at)


def unquoted(text: str) -> str:
    return re.sub(r'\\(["\\])', r"\1", text[1:-1])


@pytest.mark.parametrize("quantity", Quantity)
def test_a_reading_is_one_field_in_its_own_unit(quantity: Quantity) -> None:
    line = reading_line("yard", Reading("rack", quantity, AT_MS, 0.1 + 0.2))
    field = FIELD_OF[quantity]
    assert line == f"curewatch_reading,site=yard,sensor=rack {field}=0.30000000000000004 {AT_MS}"


def test_the_names_of_fields_are_those_of_the_page() -> None:
    assert {quantity.word: name for quantity, name in FIELD_OF.items()} == {
        "temperature": "temperature_c",
        "humidity": "humidity_frac",
        "surface_temperature": "surface_temperature_c",
        "mass": "mass_g",
    }


@given(value=st.floats(-1e6, 1e6))
def test_every_value_comes_back_to_the_last_bit(value: float) -> None:
    line = reading_line("yard", Reading("rack", Quantity.MASS, AT_MS, value))
    assert float(parsed(line)[2]["mass_g"]) == value


def test_a_step_of_an_alert_has_its_number_and_reason() -> None:
    line = alert_line(
        "yard",
        kind=AlertKind.SURFACE_DEW,
        subject="room:spray booth",
        phase=AlertPhase.RAISED,
        number=7,
        reason='surface "cold", 2 K \\ dew',
        at_ms=AT_MS,
    )
    assert line == (
        "curewatch_alert,site=yard,kind=surface-dew,subject=room:spray\\ booth,phase=raised "
        f'alert=7i,reason="surface \\"cold\\", 2 K \\\\ dew" {AT_MS}'
    )


@given(subject=TEXTS, reason=TEXTS)
def test_no_text_breaks_a_line(subject: str, reason: str) -> None:
    line = alert_line(
        "yard",
        kind=AlertKind.GAP,
        subject=f"piece:{subject}",
        phase=AlertPhase.SEEN,
        number=1,
        reason=reason,
        at_ms=AT_MS,
    )
    name, tags, fields, at_ms = parsed(line)
    assert (name, at_ms, fields["alert"]) == ("curewatch_alert", AT_MS, "1i")
    assert tags.keys() == {"site", "kind", "subject", "phase"}
    assert tags["phase"] == "seen"
    assert unquoted(fields["reason"]) == " ".join(reason.splitlines())


def test_a_room_says_what_its_assessment_says(now: Assessment) -> None:
    (room,) = now.rooms
    standing, *verdicts = map(parsed, room_lines("yard", room, AT_MS))
    assert standing[:2] == ("curewatch_room", {"site": "yard", "room": "loft"})
    assert room.climate is not None
    assert float(standing[2]["temperature_c"]) == room.climate.temp_c
    assert float(standing[2]["dew_point_c"]) == room.dew_point_c
    assert standing[2]["fresh"] == "true"
    assert "surface_temperature_c" not in standing[2]  # not measured
    told = {tags["finish"]: unquoted(fields["verdict"]) for _, tags, fields, _ in verdicts}
    assert told == {check.finish: check.verdict.value for check in room.checks}


def test_a_stale_room_has_no_climate(now: Assessment) -> None:
    stale = replace(now.rooms[0], fresh=False)
    standing = parsed(next(room_lines("yard", stale, AT_MS)))
    assert standing[2].keys() == {"fresh", "coverage_24h_frac"}
    assert standing[2]["fresh"] == "false"


def test_a_piece_says_what_its_assessment_says(now: Assessment) -> None:
    (piece,) = now.pieces
    name, tags, fields, at_ms = parsed(piece_line("yard", piece, AT_MS))
    assert (name, tags, at_ms) == ("curewatch_piece", {"site": "yard", "piece": "B1"}, AT_MS)
    for clock, reading in piece.clocks.items():
        assert float(fields[f"{clock.value}_h"]) == reading.effective_hours
    for stone in piece.milestones:
        if stone.required_hours is not None:
            told = fields[f"{stone.name.value.replace('-', '_')}_reached"]
            assert told == ("true" if stone.cautious_at is not None else "false")
    assert piece.window is not None
    assert unquoted(fields["window"]) == piece.window.state.value
