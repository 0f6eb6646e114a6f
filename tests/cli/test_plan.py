"""The day plan as a command: by a room's outlook, by a typed climate, and as a calendar."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from math import cos, pi
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest
from icalendar import Calendar

from tests.cli.conftest import CONFIG, NOW_MS, WIDTH

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Curewatch, StoresClimate

TYPED = ("--temp-c", "21", "--rh-pct", "50")
EDGES = ("early", "likely", "late")


def at(text: str | None) -> datetime:
    assert text is not None
    return datetime.fromisoformat(text)


def hang(curewatch: Curewatch, tag: str, finish: str = "waterborne", room: str = "drying") -> None:
    curewatch("piece", "hang", tag, "--finish", finish, "--room", room)


def test_a_plan_by_a_typed_climate_needs_no_database(
    curewatch: Curewatch, shop_config: Path
) -> None:
    (shop_config.parent / "shop.db").unlink()
    told = curewatch(
        "plan",
        "--finish",
        "waterborne",
        "--coats",
        "3",
        *TYPED,
        "--start",
        "2026-03-06T08:00",
        "--json",
    ).plain
    assert [coat["piece"] for coat in told["coats"]] == ["piece"] * 3
    assert at(told["coats"][0]["at"]) == datetime(2026, 3, 6, 8, 0, tzinfo=UTC)
    for before, after in pairwise(told["coats"]):
        opens, closes = before["window_opens"], before["window_closes"]
        assert at(before["at"]) < at(opens["early"]) < at(opens["likely"]) < at(opens["late"])
        assert at(opens["late"]) <= at(after["at"]) < at(closes["early"])
        assert at(closes["early"]) <= at(closes["likely"]) <= at(closes["late"])
        assert after["laid_in"]["window_opens"] == opens
    assert told["coats"][0]["laid_in"] is None
    assert told["unplanned"] == 0
    assert told["basis"]["room"] is None
    assert "kept at 21.0 °C" in told["basis"]["sentence"]


def test_a_finish_that_never_closes_has_no_closing_edges(curewatch: Curewatch) -> None:
    told = curewatch("plan", "--finish", "nitro-lacquer", "--coats", "2", *TYPED, "--json").plain
    assert told["coats"][1]["window_closes"] == dict.fromkeys(EDGES)
    assert told["coats"][1]["reopens"] == dict.fromkeys(EDGES)


def test_the_far_side_of_a_middle_is_told(curewatch: Curewatch) -> None:
    told = curewatch("plan", "--finish", "oil-varnish", "--coats", "2", *TYPED, "--json").plain
    first, second = told["coats"]
    assert at(second["at"]) >= at(first["reopens"]["late"])
    assert second["past_middle"]


def test_a_forbidden_middle_is_in_words_where_it_comes_before_the_sure_opening(
    curewatch: Curewatch,
) -> None:
    base = ("plan", "--finish", "oil-varnish", "--coats", "1", *TYPED)
    said = curewatch(*base, "--start", "2026-03-06T08:00")
    assert said.narrow()
    assert "past the" in said.out  # beside the far side
    assert "middle" in said.out.split("The last four columns")[0]
    assert "the next coat waits for the far side, Mon 9 Mar" in said.flat


def test_the_plan_as_a_table_fits_a_plain_terminal_and_says_what_it_rests_on(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying")
    for tag in ("B12", "NECK-0007"):
        hang(curewatch, tag, "two-part-urethane")
    said = curewatch(
        *("plan", "--finish", "two-part-urethane", "--coats", "3", "--pieces", "B12,NECK-0007"),
        *("--start", "16:00", "--day", "8:00-18:00", "--clean-min", "5"),
    )
    assert said.narrow()
    assert "the outlook of drying, from " in said.flat
    assert "four times in five" in said.flat
    assert "A pot mixed today 16:00 serves 2 coats of this plan" in said.flat
    assert "B12, coat 2: its window closes today 21:" in said.flat
    assert "when nobody is there" in said.flat
    assert "2 of the coats could not be planned." in said.flat
    assert "no gas detector" in said.flat


def test_a_coat_that_cannot_be_planned_is_counted(curewatch: Curewatch) -> None:
    said = curewatch("plan", "--finish", "acid-cure", "--coats", "2", *TYPED)
    assert "1 of the coats could not be planned." in said.flat
    assert "--scuff plans that" in said.flat


def test_the_evening_is_told(curewatch: Curewatch) -> None:
    base = ("plan", "--finish", "waterborne", "--coats", "1", *TYPED, "--day", "8:00-18:00")
    early = curewatch(*base, "--start", "2026-03-06T08:00")
    assert "Last safe start " in early.flat
    assert "a coat is not surely dry when the day turns" in early.flat
    late = curewatch(*base, "--start", "2026-03-06T17:30")
    assert (
        "A coat begun Fri 6 Mar 17:30 is not surely dry to recoat before the day turns Fri 6 Mar "
        "18:00" in late.flat
    )
    nitro = curewatch(
        *("plan", "--finish", "nitro-lacquer", "--coats", "1", *TYPED, "--day", "always")
    )
    assert "no limit" in nitro.out
    assert "day turns" not in nitro.flat


def test_instants_are_said_from_now_whenever_the_plan_begins(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray")
    words = ("plan", "--finish", "waterborne", "--coats", "2", "--room", "spray")
    said = curewatch(*words, "--start", "tomorrow 8:00", "--day", "8:00-18:00")
    assert "one gun, from tomorrow 8:00 on" in said.flat
    assert "Last safe start tomorrow 16:" in said.flat
    assert "when the day turns tomorrow 18:00" in said.flat
    assert "another day begins" not in said.flat
    over = curewatch(*words, "--start", "17:45", "--day", "8:00-18:00", "--json").plain
    assert [one["coat"] for one in over["warnings"] if one["kind"] == "another-day"] == [2]


def test_days_are_named_once_they_are_others(curewatch: Curewatch) -> None:
    said = curewatch(
        "plan", "--finish", "oil-varnish", "--coats", "4", *TYPED, "--start", "2026-03-06T08:00"
    )
    assert "Mon " in said.out
    assert " Mar " in said.out


def test_coats_that_are_on_count_by_their_record(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying")
    hang(curewatch, "B12")
    hang(curewatch, "B13")
    curewatch("coat", "B12", "--at", "2026-03-05T11:30")
    told = curewatch(
        "plan", "--finish", "waterborne", "--coats", "1", "--pieces", "B13,B12", "--json"
    ).plain
    bare, coated = told["coats"]
    assert (bare["piece"], bare["coat"], bare["laid_in"]) == ("B13", 1, None)
    assert (coated["piece"], coated["coat"]) == ("B12", 2)
    assert at(coated["at"]) >= at(coated["laid_in"]["window_opens"]["late"])
    assert at(coated["laid_in"]["window_opens"]["likely"]) < datetime(
        2026, 3, 5, 13, 30, tzinfo=UTC
    )
    assert told["basis"]["room"] == "drying"
    assert 7.9 <= told["basis"]["record_days"] <= 10.1  # at the least what an outlook begins with
    assert told["basis"]["temp_c"] == pytest.approx(21.0, abs=0.01)


def test_another_room_or_a_typed_climate_stands_in_for_the_room_they_hang_in(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying")
    climate("spray", temp_c=27.0)
    hang(curewatch, "B12")
    base = ("plan", "--finish", "shellac", "--coats", "1", "--json")
    hang(curewatch, "S1", "shellac")
    here = curewatch(*base, "--pieces", "S1").plain
    there = curewatch(*base, "--pieces", "S1", "--room", "spray").plain
    typed = curewatch(*base, "--pieces", "S1", "--temp-c", "27", "--rh-pct", "50").plain
    windy = curewatch(*base, "--pieces", "S1", "--air", "fan").plain
    likely = [
        at(told["coats"][0]["window_opens"]["likely"]) for told in (here, there, typed, windy)
    ]
    assert likely[1] < likely[0]
    assert likely[2] < likely[0]
    assert likely[3] < likely[0]
    assert there["basis"]["room"] == "spray"


def test_without_a_name_the_first_room_is_taken_and_said_to_be(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray")
    told = curewatch("plan", "--finish", "waterborne", "--coats", "1", "--json").plain
    assert told["basis"]["room"] == "spray"
    assert told["warnings"][0]["kind"] == "room-taken"
    assert told["warnings"][0]["piece"] is None


def test_a_shop_with_one_room_needs_no_word_of_it(
    curewatch: Curewatch, climate: StoresClimate, shop_config: Path
) -> None:
    climate("spray")
    one = CONFIG.replace('[[room]]\nname = "drying"\n', "").split("[[sensor]]")
    kept = [part for part in one if "drying-air" not in part]
    tail = CONFIG[CONFIG.index("[finishes]") :]
    text = "[[sensor]]".join(kept)
    shop_config.write_text(text if "[finishes]" in text else text + tail, encoding="utf-8")
    told = curewatch("plan", "--finish", "waterborne", "--coats", "1", "--json").plain
    assert [one["kind"] for one in told["warnings"]] == ["hours-taken"]


def test_a_room_heard_long_ago_is_said_to_be_silent(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying", until_ms=NOW_MS - 30 * 3_600_000)
    climate("spray")
    said = curewatch("plan", "--finish", "waterborne", "--coats", "1", "--room", "drying")
    assert "Room drying was last heard yesterday 6:00: the outlook begins there" in said.flat


def test_a_time_of_day_that_has_passed_is_tomorrows(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray")
    base = ("plan", "--finish", "waterborne", "--coats", "1", "--room", "spray", "--json")
    told = curewatch(*base, "--start", "8:00").plain
    assert at(told["start"]) == datetime(2026, 3, 6, 8, 0, tzinfo=UTC)
    later = curewatch(*base, "--start", "13:00").plain
    assert at(later["start"]) == datetime(2026, 3, 5, 13, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("--coats", "0", *TYPED), "--coats 0: give 1 to 60"),
        (("--coats", "1", "--temp-c", "21"), "both --temp-c and --rh-pct"),
        (("--coats", "1", "--temp-c", "210", "--rh-pct", "50"), "cannot be: give -40 to 80"),
        (("--coats", "1", *TYPED, "--room", "spray"), "one of the two"),
        (("--coats", "1", *TYPED, "--day", "8-18"), "such as 8:00-18:00"),
        (("--coats", "1", *TYPED, "--day", "18:00-8:00"), "must end after it begins"),
        (("--coats", "1", *TYPED, "--coat-min", "0"), "--coat-min: give 0.5 to 600 minutes"),
        (("--coats", "1", *TYPED, "--per-day", "0"), "at least one coat a day"),
        (("--coats", "1", *TYPED, "--wet-um", "4"), "give 15 to 2000 um"),
        (("--coats", "1", *TYPED, "--mixed-at", "now"), "has no pot life"),
        (("--coats", "1", "--room", "drying"), "drying was never heard"),
        (("--coats", "1", "--room", "attic"), "there is no room 'attic'"),
        (("--coats", "1", "--pieces", "B99"), "B99"),
    ],
)
def test_what_cannot_be_meant_is_refused(
    curewatch: Curewatch, climate: StoresClimate, words: tuple[str, ...], complaint: str
) -> None:
    climate("spray")
    said = curewatch("plan", "--finish", "waterborne", *words, status=2)
    assert complaint in said.complaint


def test_a_start_that_is_past_and_a_pot_from_the_future_are_refused(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray")
    base = ("plan", "--finish", "acid-cure", "--coats", "1", "--room", "spray")
    past = curewatch(*base, "--start", "2026-03-04T08:00", status=2)
    assert "is past; a plan begins now or later" in past.complaint
    mixed = curewatch(*base, "--mixed-at", "13:00", status=2)
    assert "--mixed-at lies after the start" in mixed.complaint
    told = curewatch(*base, "--mixed-at", "11:00", "--json").plain
    assert at(told["pots"][0]["mixed_at"]) == datetime(2026, 3, 5, 11, 0, tzinfo=UTC)


def test_a_pot_that_stands_is_over_when_the_bench_says_so(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", temp_c=28.0)
    pot = ("--finish", "two-part-urethane", "--lot", "L1", "--room", "spray", "--at", "11:45")
    curewatch("pot", "mix", "P1", *pot)
    (listed,) = curewatch("pot", "list", "--json").plain["pots"]
    base = ("plan", "--finish", "two-part-urethane", "--coats", "1", "--room", "spray", "--json")
    told = curewatch(*base, "--mixed-at", "11:45").plain
    assert abs(at(told["pots"][0]["over_at"]) - at(listed["ends"]["early"])) < timedelta(seconds=1)


def test_a_piece_of_another_finish_or_without_a_room_is_refused(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying")
    hang(curewatch, "B12", "shellac")
    said = curewatch("plan", "--finish", "waterborne", "--coats", "1", "--pieces", "B12", status=2)
    assert "B12 hangs with shellac" in said.complaint


def events(path: Path) -> list[Any]:
    return list(Calendar.from_ical(path.read_bytes()).walk("VEVENT"))


def test_the_calendar_is_read_back_with_its_zone_uids_and_alarms(
    curewatch: Curewatch, shop_config: Path, tmp_path: Path
) -> None:
    text = shop_config.read_text(encoding="utf-8")
    shop_config.write_text(text.replace('"UTC"', '"Europe/Vienna"'), encoding="utf-8")
    path = tmp_path / "plan.ics"
    start = ("--start", "2026-03-28T20:00")  # the clocks change that night
    base = ("plan", "--finish", "waterborne-crosslinked", "--coats", "2", *TYPED)
    words = (*base, *start, "--ics", str(path))
    told = curewatch(*words, "--json").plain
    calendar = Calendar.from_ical(path.read_bytes())
    assert calendar["version"] == "2.0"
    assert str(calendar["prodid"]).startswith("-//curewatch//plan")
    assert [zone["tzid"] for zone in calendar.walk("VTIMEZONE")] == ["Europe/Vienna"]
    found = events(path)
    coats = [event for event in found if str(event["summary"]).startswith("Coat ")]
    closings = [event for event in found if "closes" in str(event["summary"])]
    assert len(coats) == len(closings) == 2
    for event, coat, closing in zip(coats, told["coats"], closings, strict=True):
        assert event["dtstart"].params["TZID"] == "Europe/Vienna"
        assert event["dtstart"].dt == at(coat["at"])
        assert event["dtstart"].dt.tzinfo == ZoneInfo("Europe/Vienna")
        assert event["dtend"].dt - event["dtstart"].dt == timedelta(minutes=10)
        early = at(coat["window_closes"]["early"])
        assert abs(closing["dtstart"].dt - early) < timedelta(seconds=1)
        assert closing["dtstart"].dt <= early
        (alarm,) = closing.walk("VALARM")
        assert alarm["action"] == "DISPLAY"
        assert -timedelta(hours=1) <= alarm["trigger"].dt < timedelta(0)
    uids = [str(event["uid"]) for event in found]
    assert len(set(uids)) == 4
    assert "The calendar is in" in curewatch(*words).flat
    assert [str(event["uid"]) for event in events(path)] == uids


def test_a_finish_that_never_closes_has_coats_alone_in_its_calendar(
    curewatch: Curewatch, tmp_path: Path
) -> None:
    path = tmp_path / "plan.ics"
    curewatch("plan", "--finish", "nitro-lacquer", "--coats", "2", *TYPED, "--ics", str(path))
    assert [str(event["summary"]) for event in events(path)] == [
        "Coat 1 on piece",
        "Coat 2 on piece",
    ]


@pytest.mark.parametrize(
    "there",
    [
        b"notes of mine",
        b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//someone//else//EN\r\nEND:VCALENDAR\r\n",
        b"\xff\xfe\x00",
        b"",
    ],
)
def test_a_file_of_someone_else_is_never_written_over(
    curewatch: Curewatch, tmp_path: Path, there: bytes
) -> None:
    path = tmp_path / "mine.ics"
    path.write_bytes(there)
    said = curewatch(
        "plan", "--finish", "shellac", "--coats", "1", *TYPED, "--ics", str(path), status=2
    )
    assert "is no calendar of curewatch's" in said.complaint
    assert path.read_bytes() == there
    folder = curewatch(
        "plan", "--finish", "shellac", "--coats", "1", *TYPED, "--ics", str(tmp_path), status=2
    )
    assert "is no calendar of curewatch's" in folder.complaint


def test_a_calendar_that_cannot_be_written_is_said_so(curewatch: Curewatch, tmp_path: Path) -> None:
    path = tmp_path / "nowhere" / "plan.ics"
    said = curewatch(
        "plan", "--finish", "shellac", "--coats", "1", *TYPED, "--ics", str(path), status=1
    )
    assert "could not be written" in said.complaint


def test_the_help_fits_a_plain_terminal(curewatch: Curewatch) -> None:
    said = curewatch("plan", "--help")
    assert max(len(line) for line in said.out.splitlines()) <= WIDTH


def test_a_piece_that_hangs_nowhere_needs_a_room(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying")
    curewatch("piece", "hang", "B12", "--finish", "waterborne")
    base = ("plan", "--finish", "waterborne", "--coats", "1", "--pieces", "B12")
    assert "nobody said where B12 hangs" in curewatch(*base, status=2).complaint
    assert curewatch(*base, "--room", "drying", "--json").plain["unplanned"] == 0


def test_a_shop_without_rooms_is_asked_for_a_climate(
    curewatch: Curewatch, shop_config: Path
) -> None:
    shop_config.write_text('[site]\nname = "bare"\n[storage]\npath = "shop.db"\n', encoding="utf-8")
    said = curewatch("plan", "--finish", "waterborne", "--coats", "1", status=2)
    assert "give a climate with --temp-c and --rh-pct" in said.complaint


def test_a_plan_without_any_coat_gives_no_calendar(
    curewatch: Curewatch, climate: StoresClimate, tmp_path: Path
) -> None:
    climate("drying")
    hang(curewatch, "B12", "dose-cured")
    curewatch("coat", "B12", "--at", "11:00")
    path = tmp_path / "plan.ics"
    words = ("plan", "--finish", "dose-cured", "--coats", "1", "--pieces", "B12")
    told = curewatch(*words, "--ics", str(path), "--json").plain
    assert told["coats"] == []
    assert told["unplanned"] == 1
    assert not path.exists()
    assert "No calendar: no coat is planned." in curewatch(*words, "--ics", str(path)).flat


def test_the_evening_of_a_room_that_cools_is_seen_coming(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    """Days of 22 degC and nights of 12: too cold to spray once the evening comes."""
    climate("spray", days=10.0, temp_c=lambda hour: 17.0 + 5.0 * cos(2.0 * pi * hour / 24.0))
    base = ("plan", "--finish", "waterborne", "--coats", "8", "--room", "spray", "--day", "always")
    told = curewatch(*base, "--unfit-too", "--json").plain
    turns, last = at(told["turns_at"]), at(told["last_safe_start"])
    assert datetime(2026, 3, 5, 14, 0, tzinfo=UTC) < turns < datetime(2026, 3, 5, 20, 0, tzinfo=UTC)
    assert last < turns
    unfit = [one["coat"] for one in told["warnings"] if one["kind"] == "not-fit"]
    assert unfit
    assert unfit == [c["coat"] for c in told["coats"] if c["room_likely_unfit_at"] is not None]
    assert told["in_unfit_room"] == len(unfit)
    marked = curewatch(*base, "--unfit-too")
    assert marked.out.startswith(f"{len(unfit)} of the 8 coats lie where the room is likely not")
    assert marked.out.count("room not fit") + marked.out.count("room not\n") >= len(unfit)
    assert marked.narrow()
    fit = curewatch(*base, "--json").plain
    assert fit["in_unfit_room"] == 0
    today = [coat for coat in fit["coats"] if at(coat["at"]) < turns]
    assert today
    assert all(at(coat["window_opens"]["late"]) <= turns for coat in today)
    assert fit["unplanned"] == 0  # the others wait for a fit hour of another day
    assert len(today) < 8
    said = curewatch(*base)
    assert "Last safe start today" in said.flat
    assert said.narrow()


def test_nothing_planned_leads_with_its_reason_and_shows_no_empty_table(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=10.0, temp_c=7.0)
    base = ("plan", "--finish", "waterborne", "--coats", "2", "--room", "spray")
    said = curewatch(*base)
    assert said.out.startswith("No coat is planned: piece, coat 1: the room is likely not fit")
    assert "start" not in said.out.splitlines()[6]
    assert "The last four columns" not in said.flat
    assert "of the coats could not be planned" not in said.flat
    assert said.flat.count("is likely not fit") == 1
    told = curewatch(*base, "--json").plain
    assert told["coats"] == []
    assert "not-planned" in [one["kind"] for one in told["warnings"]]
    clock = curewatch(*base, "--unfit-too")
    assert clock.out.startswith("2 of the 2 coats lie where the room is likely not fit to spray")
    one = curewatch(*base[:3], "--coats", "1", "--room", "spray", "--unfit-too")
    assert one.out.startswith("The coat lies where the room is likely not fit to spray: do not")
    assert "The room is likely not fit to spray today 12:00: `curewatch check`" in clock.flat


def test_the_clock_goes_round_only_where_that_is_asked(curewatch: Curewatch) -> None:
    base = ("plan", "--finish", "shellac", "--coats", "8", *TYPED, "--start", "2026-03-06T08:00")
    day = curewatch(*base, "--json").plain
    assert [one["kind"] for one in day["warnings"]].count("hours-taken") == 1
    assert all(8 <= at(coat["at"]).hour < 18 for coat in day["coats"])
    assert "coats are laid from 8:00 to 18:00" in curewatch(*base).flat
    night = curewatch(*base, "--day", "always", "--json").plain
    assert "hours-taken" not in [one["kind"] for one in night["warnings"]]
    assert any(at(coat["at"]).hour >= 18 or at(coat["at"]).hour < 8 for coat in night["coats"])


def test_no_coat_is_planned_on_a_piece_that_is_held(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying")
    hang(curewatch, "B12")
    curewatch("quarantine", "piece", "B12", "--why", "odd smell")
    base = ("plan", "--finish", "waterborne", "--coats", "1")
    assert "B12 is held (" in curewatch(*base, "--pieces", "B12", status=2).complaint
    nameless = curewatch(*base, "--pieces", "B12,,N7", status=2)
    assert "name tags with a comma between" in nameless.complaint
    listed = curewatch("bench-list", "--json").plain
    assert [job["piece"] for job in listed["held"]] == ["B12"]
    assert "Set aside:" in curewatch("bench-list").out
