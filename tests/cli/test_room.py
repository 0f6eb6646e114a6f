"""Rooms: how they stand, readings typed, gaps shown and filled by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.shop.reading import Origin, Quantity
from tests.cli.conftest import HOUR_MS, NOW_MS

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch, StoresClimate

TYPED = ("--temp-c", "20", "--rh-pct", "45")
FILL = ("--temp-c", "18", "--rh-pct", "55", "--why", "the other room's thermometer")


def hours_of(curewatch: Curewatch, tag: str) -> float:
    """Return a piece's cure hours."""
    shown = curewatch("piece", "show", tag, "--json").plain
    hours: float = shown["clocks"]["cure"]["effective_hours"]
    return hours


def test_list_shows_every_room_also_one_never_heard(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=1.0)
    curewatch("piece", "hang", "A1", "--finish", "waterborne", "--room", "spray")
    said = curewatch("room", "list")
    assert said.narrow()
    assert "21.0 °C, 50 %" in said.flat
    assert "never heard" in said.flat
    rooms = curewatch("room", "list", "--json").plain["rooms"]
    assert [room["room"] for room in rooms] == ["spray", "drying"]
    assert rooms[1]["temp_c"] is None


def test_show_tells_dew_point_wood_cover_and_the_verdict_for_finishes_in_use(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=1.0)
    curewatch("piece", "hang", "A1", "--finish", "waterborne", "--room", "spray")
    said = curewatch("room", "show", "spray")
    assert said.narrow()
    for part in (
        "spray, air gentle: 21.0 °C, 50 % humidity",
        "Dew point 10.2 °C: keep every surface 3 K above. Surface not measured.",
        "Wood left in this air settles at 9.2 % moisture.",
        "Readings cover 100 % of the last 24 h.",
        "A1 hangs here.",
        "waterborne: fit to spray",
        "no gas detector",
    ):
        assert part in said.flat, part
    plain = curewatch("room", "show", "spray", "--json").plain
    assert plain["dew_point_c"] == pytest.approx(10.2, abs=0.05)
    assert plain["spray"][0]["verdict"] == "fit"
    assert plain["pieces"] == ["A1"]


def test_a_silent_room_decides_nothing(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate("spray", days=1.0)
    climate("drying", days=1.0, until_ms=NOW_MS - 5 * HOUR_MS)
    curewatch("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying")
    said = curewatch("room", "show", "drying")
    assert "silent since: too old to decide anything by" in said.flat
    assert "cannot tell" in said.flat


def test_typed_readings_count_in_the_rooms_record(
    curewatch: Curewatch, kept: Callable[[], Store]
) -> None:
    """Two readings within the longest gap cover the time between them, as any sensor's do."""
    said = curewatch("room", "reading", "drying", *TYPED, "--at", "2026-03-05T11:40")
    assert "One reading by itself covers no time" in said.flat
    curewatch("room", "reading", "drying", *TYPED, "--at", "2026-03-05T12:00")
    rooms = {room["room"]: room for room in curewatch("room", "list", "--json").plain["rooms"]}
    assert rooms["drying"]["temp_c"] == 20.0
    assert rooms["drying"]["rh_pct"] == 45.0
    with kept() as store:
        readings = list(store.readings.rows(0, NOW_MS + 1))
        assert {(r.sensor, r.origin) for r in readings} == {("typed-drying", Origin.TYPED)}
        assert store.places.history() == {"typed-drying": ((0, "drying"),)}
        assert {touch.sensor for touch in store.touched.since(0)[1]} == {"typed-drying"}


def test_a_typed_surface_counts_too(curewatch: Curewatch) -> None:
    for minute in (40, 59):
        at = ("--at", f"2026-03-05T11:{minute}")
        curewatch("room", "reading", "drying", *TYPED, "--surface-c", "19", *at)
    room = curewatch("room", "show", "drying", "--json").plain
    assert room["surface_c"] == 19.0
    assert room["surface_over_dew_k"] == pytest.approx(19.0 - room["dew_point_c"])


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("drying",), "which reading?"),
        (("dryin", *TYPED), "did you mean drying?"),
        (("drying", "--temp-c", "200", "--rh-pct", "50"), "--temp-c 200 degC cannot be"),
        (("drying", "--temp-c", "nan"), "--temp-c nan degC cannot be"),
        (("drying", "--temp-c", "20", "--rh-pct", "140"), "--rh-pct 140 % cannot be"),
        (("drying", *TYPED, "--at", "2100-01-01"), "lies ahead"),
    ],
)
def test_what_is_no_reading_is_refused_and_nothing_stored(
    curewatch: Curewatch, kept: Callable[[], Store], words: tuple[str, ...], complaint: str
) -> None:
    assert complaint in curewatch("room", "reading", *words, status=2).complaint
    with kept() as store:
        assert store.readings.newest_ms() is None


def test_a_reading_typed_twice_is_one_and_a_contradiction_is_refused_with_the_way_out(
    curewatch: Curewatch, kept: Callable[[], Store]
) -> None:
    at = ("--at", "2026-03-05T11:00")
    curewatch("room", "reading", "drying", *TYPED, *at)
    assert "stored already" in curewatch("room", "reading", "drying", *TYPED, *at).flat
    other = ("room", "reading", "drying", "--temp-c", "21", "--rh-pct", "45", *at)
    said = curewatch(*other, status=2)
    begin, end = "2026-03-05T11:00:00", "2026-03-05T11:00:01"
    assert f"sensor void typed-drying --from {begin} --to {end}" in said.complaint
    curewatch("sensor", "void", "typed-drying", "--from", begin, "--to", end, "--why", "misread")
    assert curewatch(*other, "--json").plain["stored"] is True
    with kept() as store:
        values = store.readings.latest()
        assert values["typed-drying", Quantity.TEMPERATURE].value == 21.0


def test_only_the_open_part_of_a_stretch_is_filled(
    curewatch: Curewatch, climate: StoresClimate, kept: Callable[[], Store]
) -> None:
    climate(days=1.0)
    curewatch(
        *("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying", "--at", "3d ago")
    )
    curewatch("coat", "A1", "--at", "2d ago")
    before = hours_of(curewatch, "A1")
    said = curewatch("room", "fill", "drying", "--from", "2d ago", "--to", "12h ago", *FILL)
    assert said.narrow()
    assert "24 h filled with 18.0 °C and 55 %" in said.flat
    assert "Readings cover the other 12 h" in said.flat
    after = hours_of(curewatch, "A1")
    assert before == pytest.approx(24.0, abs=0.1)
    assert before < after < 48.0  # eighteen degrees earn less than the reference's twenty-one
    with kept() as store:
        (touch,) = store.touched.since(0)[1]
        assert (touch.room, touch.from_ms) == ("drying", NOW_MS - 48 * HOUR_MS)


def test_a_fill_is_counted_for_scripts(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(days=1.0)
    words = ("room", "fill", "drying", "--from", "30h ago", "--to", "20h ago", *FILL, "--json")
    plain = curewatch(*words).plain
    assert plain["asked_hours"] == 10.0
    assert plain["filled_hours"] == pytest.approx(6.0)


def test_a_silence_up_to_now_can_be_filled(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate("spray", days=2.0)
    climate("drying", days=2.0, until_ms=NOW_MS - 6 * HOUR_MS)
    plain = curewatch(
        "room", "fill", "drying", "--from", "1d ago", "--to", "now", *FILL, "--json"
    ).plain
    assert plain["filled_hours"] == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("--from", "5h ago", "--to", "3h ago", *FILL), "there is nothing to fill"),
        (("--from", "3h ago", "--to", "5h ago", *FILL), "--to must lie after --from"),
        (("--from", "3d ago", "--to", "2100-01-01", *FILL), "lies ahead"),
        (
            ("--from", "3d ago", "--to", "2d ago", "--temp-c", "18", "--rh-pct", "140"),
            "give 0 to 100",
        ),
        (
            ("--from", "3d ago", "--to", "2d ago", "--temp-c", "nan", "--rh-pct", "50"),
            "--temp-c nan degC cannot be: give -40 to 80",
        ),
        (
            ("--from", "3d ago", "--to", "2d ago", "--temp-c", "18", "--rh-pct", "50"),
            "needs a reason",
        ),
    ],
)
def test_what_cannot_be_filled_is_refused_and_nothing_stored(
    curewatch: Curewatch,
    climate: StoresClimate,
    kept: Callable[[], Store],
    words: tuple[str, ...],
    complaint: str,
) -> None:
    climate(days=1.0)
    why = () if "--why" in words else ("--why", " ")
    assert complaint in curewatch("room", "fill", "drying", *words, *why, status=2).complaint
    with kept() as store:
        assert store.fills.for_room("drying") == ()


def test_gaps_lists_what_is_open_and_what_is_filled_and_a_fill_can_be_voided(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(days=0.5)
    climate(days=0.5, until_ms=NOW_MS - 24 * HOUR_MS)
    gaps = ("room", "gaps", "drying", "--from", "36h ago")
    said = curewatch(*gaps)
    assert "yesterday 12:00 to today 0:00 (12 h)" in said.flat
    curewatch("room", "fill", "drying", "--from", "1d ago", "--to", "12h ago", *FILL)
    said = curewatch(*gaps)
    assert said.narrow()
    assert "no gap since" in said.flat
    (fill,) = curewatch(*gaps, "--json").plain["fills"]
    assert (fill["id"], fill["why"]) == (1, "the other room's thermometer")
    said = curewatch("room", "void-fill", "1", "--why", "it was colder")
    assert "Fill 1 of drying" in said.flat
    plain = curewatch(*gaps, "--json").plain
    assert [gap["hours"] for gap in plain["gaps"]] == [pytest.approx(12.0)]
    assert plain["fills"] == []


def test_a_silence_is_a_gap_only_once_it_is_longer_than_the_room_allows(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=1.0)
    climate("drying", days=1.0, until_ms=NOW_MS - 20 * 60_000)
    gaps = ("room", "gaps", "drying", "--from", "12h ago", "--json")
    assert curewatch(*gaps).plain["gaps"] == []
    climate("spray", days=0.01, until_ms=NOW_MS + HOUR_MS)  # an hour later
    assert [gap["hours"] for gap in curewatch(*gaps).plain["gaps"]] == [pytest.approx(80 / 60)]


def test_an_unknown_room_is_met_with_all_of_them(curewatch: Curewatch) -> None:
    for form in ("show", "gaps"):
        complaint = curewatch("room", form, "cellar", status=2).complaint
        assert "Configured are spray, drying" in complaint


def test_a_shop_without_rooms_and_sensors_is_told_to_configure_them(
    curewatch: Curewatch, shop_config: Path
) -> None:
    text = shop_config.read_text("utf-8")
    bare = text[: text.index("[[room]]")] + text[text.index("[finishes]") :]
    shop_config.write_text(bare, encoding="utf-8")
    assert "add a [[room]]" in curewatch("room", "list").flat
    assert "add a [[room]]" in curewatch("room", "show", "drying", status=2).complaint
    assert "add a [[sensor]]" in curewatch("sensor", "list").flat


def test_a_shop_without_pieces_shows_a_room_without_verdicts(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=0.1)
    assert "'curewatch check' asks for any finish" in curewatch("room", "show", "spray").flat
    assert "nothing was ever heard from it" in curewatch("room", "show", "drying").flat


def test_a_typed_reading_says_how_to_take_it_back(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(days=1.0)
    said = curewatch("room", "reading", "drying", *TYPED, "--at", "10min ago").flat
    words = said.partition("To take it back: curewatch ")[2].split(" --why")[0].split()
    back = curewatch(*words, "--why", "misread", "--json").plain
    assert back["voided"]
