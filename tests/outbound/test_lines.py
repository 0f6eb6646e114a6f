"""Line protocol: what each row becomes, and that it can be read back."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.outbound.lines import FIELD_OF, alert_line, reading_line, state_lines, void_line
from curewatch.shop.alert import AlertKind, AlertPhase
from curewatch.shop.plain_state import State
from curewatch.shop.reading import Quantity, Reading
from curewatch.shop.reading_void import ReadingVoid

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain

AT_MS = 1_772_668_800_123
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)


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
    told = {quantity.word: name for quantity, name in FIELD_OF.items()}
    assert (
        told.items()
        >= {
            "temperature": "temperature_c",
            "humidity": "humidity_frac",
            "surface_temperature": "surface_temperature_c",
            "mass": "mass_g",
        }.items()
    )


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


def test_a_withdrawal_says_of_which_readings_and_why() -> None:
    void = ReadingVoid("rack", Quantity.HUMIDITY, 5, 9, "hand on it", AT_MS)
    assert void_line("yard", 3, void) == (
        "curewatch_void,site=yard,sensor=rack,number=3 "
        f'void=3i,start_ms=5i,stop_ms=9i,field="humidity_frac",why="hand on it" {AT_MS}'
    )
    assert "field" not in parsed(void_line("yard", 3, replace(void, quantity=None)))[2]


def test_two_withdrawals_of_one_sensor_in_one_millisecond_are_two_points() -> None:
    void = ReadingVoid("rack", Quantity.HUMIDITY, 5, 9, "hand on it", AT_MS)
    other = replace(void, quantity=Quantity.TEMPERATURE)
    points = [parsed(void_line("yard", 3, void)), parsed(void_line("yard", 4, other))]
    keys = {(name, *sorted(tags.items()), at_ms) for name, tags, _, at_ms in points}
    assert len(keys) == 2


def test_a_room_is_a_point_for_itself_and_one_for_each_finish() -> None:
    facts: Plain = {
        "fresh": True,
        "dew_point_c": 8.5,
        "spray": {"oil": {"verdict": "tight", "caution": 1}, "shellac": {"verdict": "fit"}},
    }
    lines = [*state_lines("yard", State(AT_MS, "room", "spray booth", facts))]
    assert lines == [
        f"curewatch_room,site=yard,room=spray\\ booth fresh=true,dew_point_c=8.5 {AT_MS}",
        (
            "curewatch_spray,site=yard,room=spray\\ booth,finish=oil "
            f'verdict="tight",caution=1i {AT_MS}'
        ),
        f'curewatch_spray,site=yard,room=spray\\ booth,finish=shellac verdict="fit" {AT_MS}',
    ]


def test_a_piece_is_one_point_without_what_is_not_known() -> None:
    facts: Plain = {"coats": 2, "cure_h": 7.25, "window": None, "buff_late_ms": AT_MS}
    (line,) = state_lines("yard", State(AT_MS, "piece", "B1", facts))
    assert line == (
        f"curewatch_piece,site=yard,piece=B1 coats=2i,cure_h=7.25,buff_late_ms={AT_MS}i {AT_MS}"
    )


@pytest.mark.parametrize("tag", ["\\", "\n", "\\\\\\"])
def test_a_tag_of_which_nothing_is_left_is_left_out(tag: str) -> None:
    (line,) = state_lines("yard", State(AT_MS, "piece", tag, {"coats": 1}))
    assert line == f"curewatch_piece,site=yard coats=1i {AT_MS}"


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_number_has_no_field(value: float) -> None:
    (line,) = state_lines("yard", State(AT_MS, "piece", "B1", {"coats": 1, "cure_h": value}))
    assert line == f"curewatch_piece,site=yard,piece=B1 coats=1i {AT_MS}"
