"""Working back from a date as a command."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate

TYPED = ("--temp-c", "21", "--rh-pct", "50")
BASE = ("--finish", "nitro-lacquer", "--coats", "6")
START = ("--start", "2026-03-06T08:00")


def at(text: str | None) -> datetime:
    assert text is not None
    return datetime.fromisoformat(text)


def test_a_date_far_enough_off_gives_the_last_and_the_first_coat(curewatch: Curewatch) -> None:
    words = ("finish-by", "2026-05-01", *BASE, *TYPED, *START, "--per-day", "2")
    said = curewatch(*words)
    assert said.narrow()
    assert said.out.startswith("Last coat on by ")
    assert "ready to buff by Fri 1 May 0:00, 90 times in 100" in said.flat
    assert "First of 6 coats begun by" in said.flat
    assert "2 a day at most" in said.flat
    assert "no gas detector" in said.flat
    told = curewatch(*words, "--json").plain
    assert told["verdict"] == "possible"
    assert at(told["first_coat_by"]) < at(told["last_coat_by"]) < datetime(2026, 4, 11, tzinfo=UTC)
    assert told["would_do"] is None
    assert len(told["coats"]) == 6
    one = ("finish-by", "2026-05-01", "--finish", "waterborne", "--coats", "1", *TYPED, *START)
    assert " It is begun by " in curewatch(*one).flat
    even = curewatch(*words, "--sure", "50", "--spare-days", "2")
    assert "by Wed 29 Apr 0:00, as likely as not" in even.flat


def test_too_soon_says_by_how_much_and_what_climate_would_do(curewatch: Curewatch) -> None:
    cool = ("--temp-c", "18", "--rh-pct", "50")
    words = ("finish-by", "2026-03-30", *BASE, *cool, *START)
    said = curewatch(*words)
    assert said.out.startswith("It cannot be done:")
    assert "too soon by" in said.flat
    assert "A room kept at " in said.flat
    assert "Wood comes to" in said.flat
    told = curewatch(*words, "--json").plain
    assert told["verdict"] == "too-soon"
    assert told["would_do"]["temp_c"] > 18.0
    assert told["would_do"]["rh_pct"] < 50.0
    assert told["would_do"]["wood_emc_pct"] < 9.3
    none = curewatch("finish-by", "2026-03-09", *BASE, *cool, *START)
    assert "No climate would do it: not even 38.0 °C" in none.flat


def test_coats_that_cannot_be_planned_are_said(curewatch: Curewatch) -> None:
    said = curewatch(
        "finish-by", "2026-05-01", "--finish", "acid-cure", "--coats", "3", *TYPED, *START
    )
    assert said.out.startswith("It cannot be done:")
    assert "piece, coat 2: its window is surely open" in said.flat


def test_cured_by_dose_cannot_be_told(curewatch: Curewatch) -> None:
    words = ("finish-by", "2026-05-01", "--finish", "dose-cured", "--coats", "1", *TYPED, *START)
    assert curewatch(*words).out.startswith("Cannot tell:")
    assert curewatch(*words, "--json").plain["verdict"] == "unknown"


def test_by_the_outlook_of_a_room_for_pieces_that_hang(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying", temp_c=19.0)
    hang = ("--finish", "nitro-lacquer", "--room", "drying", "--at", "2026-03-01T08:00")
    curewatch("piece", "hang", "B12", "N7", *hang)
    curewatch("coat", "B12", "--at", "2026-03-04T08:00")
    base = ("--finish", "nitro-lacquer", "--coats", "1", "--pieces", "B12,N7")
    said = curewatch("finish-by", "2026-04-25", *base)
    assert "outlook of drying" in said.flat
    assert said.out.startswith("Last coat on by ")
    assert "Perhaps later" not in said.flat
    far = curewatch("finish-by", "2026-08-25", *base)
    assert "Perhaps later: an outlook reaches 60 days" in far.flat
    soon = curewatch("finish-by", "2026-03-25", *base, "--json").plain
    assert soon["verdict"] == "too-soon"
    assert soon["basis"]["temp_c"] == pytest.approx(19.0, abs=0.01)
    assert soon["would_do"]["temp_c"] > 19.0
    ship = curewatch("finish-by", "2026-08-25", *base, "--for", "ship")
    assert ship.out.startswith("Cannot tell:")


def test_a_date_that_is_past_or_no_date_is_refused(curewatch: Curewatch) -> None:
    past = curewatch("finish-by", "2026-03-01", *BASE, *TYPED, *START, status=2)
    assert "is not after the start; give a later date" in past.complaint
    no = curewatch("finish-by", "christmas", *BASE, *TYPED, status=2)
    assert "'christmas' is not a time" in no.complaint
    spare = curewatch("finish-by", "2026-05-01", *BASE, *TYPED, "--spare-days", "-1", status=2)
    assert "--spare-days -1: give 0 to 365" in spare.complaint


def test_with_the_heating_off_in_the_evening_the_coat_is_to_be_dry_by_then(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray")
    off = ("--heating-off", "--drifts-to-c", "6", "--from", "18:00", "--to", "2026-03-09T07:00")
    curewatch("room", "ahead", "spray", *off)
    curewatch("piece", "hang", "B1", "--finish", "two-part-urethane", "--room", "spray")
    curewatch("coat", "B1", "--at", "11:00")
    base = ("--finish", "two-part-urethane", "--coats", "1", "--pieces", "B1", "--day", "always")
    words = ("finish-by", "2026-04-20", *base)
    said = curewatch(*words)
    assert (
        "It is begun by today 14:00 at the latest. Not later, for then one could not be laid: "
        in (said.flat)
    )
    assert "its window may close today 15:00, before a coat begun today 14:" in said.flat
    told = curewatch(*words, "--json").plain
    assert told["latest"]["in_unfit_room"] == 0
    assert told["last_coat_by"] == told["latest"]["coats"][-1]["done_at"]
    assert told["first_coat_bound_by"] is not None
    curewatch("piece", "hang", "B2", "--finish", "two-part-urethane", "--room", "spray")
    bare = (*base[:5], "B2", "--day", "always")
    late = curewatch("plan", *bare, "--start", "20:00", "--json").plain
    assert at(late["coats"][0]["at"]) >= datetime(2026, 3, 9, 7, 0, tzinfo=UTC)
    by_clock = curewatch("plan", *bare, "--start", "20:00", "--unfit-too")
    assert "20:00 room not fit" in " ".join(by_clock.flat.split()) or "room not" in by_clock.out
    assert "no time is surely right" in by_clock.flat


def test_the_cautions_of_the_coats_begun_at_the_latest_are_told(curewatch: Curewatch) -> None:
    base = ("finish-by", "2026-04-20", "--finish", "two-part-urethane", "--coats", "1", *TYPED)
    said = curewatch(*base, *START)
    assert "- Piece, coat 1: its window closes " in said.flat.replace("- piece", "- Piece")
    assert "when nobody is there" in said.flat
    assert "not surely dry to recoat when the day turns" in said.flat
    assert "No hours were given, so coats are laid from 8:00 to 18:00" in said.flat


def test_where_a_scuff_would_do_no_climate_is_blamed(curewatch: Curewatch) -> None:
    words = ("finish-by", "2026-05-01", "--finish", "acid-cure", "--coats", "2", *TYPED, *START)
    said = curewatch(*words)
    assert said.out.startswith("It cannot be done")
    assert "Not without a scuff: with --scuff it is ready " in said.flat
    assert "No climate would do it" not in said.flat
    assert curewatch(*words, "--json").plain["ready_with_a_scuff"] is not None
    assert curewatch(*words, "--scuff", "--json").plain["verdict"] == "possible"
