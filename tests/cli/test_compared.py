"""What pieces, gates, seasons, gaps and hygrometers say of input that cannot be meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.fixture
def pieces(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """Return the command in a shop with pieces of two finishes."""
    climate("drying", days=12.0)
    climate("spray", days=12.0, temp_c=23.0)
    for tag, finish in (("A1", "waterborne"), ("A2", "waterborne"), ("N1", "nitro-lacquer")):
        curewatch("piece", "hang", tag, "--finish", finish, "--room", "drying", "--at", "11d ago")
        curewatch("coat", tag, "--at", "10d ago", "--no-pot")
    return curewatch


def test_a_piece_is_not_set_beside_itself_or_another_finish(pieces: Curewatch) -> None:
    said = pieces("piece", "compare", "A1", "A2", "A1", status=2).complaint
    assert "A1 cannot be set beside itself" in said
    said = pieces("piece", "compare", "A1", "N1", status=2).complaint
    assert "N1: sprayed with another finish than A1 (waterborne)" in said
    assert "curewatch test-boards" in said


def test_a_bare_piece_has_nothing_to_compare(pieces: Curewatch) -> None:
    pieces("piece", "hang", "RAW", "--finish", "waterborne")
    said = pieces("piece", "compare", "RAW", status=2).complaint
    assert "no coat is logged on RAW" in said
    assert "cannot tell" in pieces("piece", "onward", "RAW").flat
    assert pieces("piece", "show", "RAW", "--json").plain["build"] is None


def test_a_piece_alone_of_its_finish_says_so(pieces: Curewatch) -> None:
    said = pieces("piece", "compare", "N1")
    assert "nothing of the same finish to compare it with" in said.flat
    assert said.narrow()


def test_a_piece_in_no_room_is_compared_without_its_hours(pieces: Curewatch) -> None:
    pieces("piece", "hang", "LOST", "--finish", "waterborne", "--at", "3d ago")
    pieces("coat", "LOST", "--at", "2d ago", "--no-pot")
    said = pieces("piece", "compare", "LOST")
    assert "readings cover only 0 %" in said.flat
    assert said.narrow()


@pytest.mark.parametrize("coldest", ["-100", "90"])
def test_a_road_nobody_drives_is_refused(pieces: Curewatch, coldest: str) -> None:
    said = pieces("piece", "onward", "A1", "--coldest-c", coldest, status=2).complaint
    assert f"--coldest-c {coldest}" in said
    assert " give " in said


@pytest.mark.parametrize("months", ["0", "61"])
def test_seasons_reach_back_as_far_as_can_be_meant(pieces: Curewatch, months: str) -> None:
    said = pieces("room", "seasons", "drying", "--finish", "waterborne", "--months", months,
                  status=2)  # fmt: skip
    assert f"--months {months}: give 1 to 60" in said.complaint


def test_seasons_of_a_room_never_heard_and_of_a_finish_without_a_clock(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying", days=3.0)
    said = curewatch("room", "seasons", "spray", "--finish", "waterborne")
    assert "Too little of the newest month was measured" in said.flat
    told = curewatch("room", "seasons", "spray", "--finish", "waterborne", "--json").plain
    assert told["months"] == []
    said = curewatch("room", "seasons", "drying", "--finish", "dose-cured")
    assert "No clock answers for this finish" in said.flat
    assert "cannot be told" in said.flat


def test_gaps_without_a_finish_are_as_before_and_with_one_may_be_unbounded(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying", days=3.0)
    assert set(curewatch("room", "gaps", "spray", "--json").plain) == {
        "format", "room", "from", "gaps", "fills"}  # fmt: skip
    said = curewatch("room", "gaps", "spray", "--finish", "waterborne")
    assert "not known: nothing was heard before it." in said.flat
    assert said.narrow()


def test_sensors_that_cannot_be_compared_are_refused(pieces: Curewatch) -> None:
    said = pieces("sensor", "beside", "drying-air", "drying-air", status=2).complaint
    assert "cannot be compared with itself" in said
    said = pieces("sensor", "beside", "drying-air", "attic", status=2).complaint
    assert "there is no sensor 'attic' in the configuration: spray-air, drying-air" in said


def test_sensors_are_compared_over_the_time_that_is_named(pieces: Curewatch) -> None:
    told = pieces("sensor", "beside", "spray-air", "drying-air", "--from", "2d ago", "--json").plain
    assert told["temperature"]["count"] == 49
    assert told["temperature"]["difference"] == pytest.approx(2.0)
    assert told["temperature"]["says"] == "apart"
    short = pieces("sensor", "beside", "spray-air", "drying-air", "--from", "2h ago")
    assert "cannot be told: too few readings" in short.flat


def test_a_jar_nobody_heard_from_tells_nothing(pieces: Curewatch) -> None:
    told = pieces("sensor", "salt", "drying-air", "--salt", "table", "--from", "60d ago",
                  "--to", "50d ago", "--json").plain  # fmt: skip
    assert told["temp_c"] is None
    assert told["humidity"]["says"] == "unknown"
    assert told["humidity"]["difference"] is None


def test_a_lamp_on_a_piece_in_a_room_without_a_probe_moves_no_date(pieces: Curewatch) -> None:
    said = pieces("what-if", "--piece", "A1", "--lamp", "--json").plain
    assert said["milestones"] == []
    assert said["rate"]["against_reference"] is None
