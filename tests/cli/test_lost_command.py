"""What a cold night cost, at the bench the morning after."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.cli.conftest import HOUR_MS, NOW_MS

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate

DAYS = 12.0


def cold_night(hour: float) -> float:
    """Return 21 degC but for 8 degC from 20:00 to 6:00 of the last night before noon of 'now'."""
    before_now = DAYS * 24.0 - hour
    return 8.0 if 6.0 < before_now <= 16.0 else 21.0


def hang(curewatch: Curewatch, tag: str, at: str, room: str = "drying") -> None:
    """Hang a piece and lay its only coat."""
    curewatch("piece", "hang", tag, "--finish", "waterborne", "--room", room,
              "--coats", "1", "--at", "2026-02-23T08:00")  # fmt: skip
    curewatch("coat", tag, "--at", at)


def test_the_night_before_is_meant(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(days=DAYS, temp_c=cold_night)
    hang(curewatch, "B12", "2026-03-04T15:00")
    hang(curewatch, "B13", "2026-02-27T09:00")
    said = curewatch("lost", "drying")
    assert said.out.startswith("From yesterday 18:00 to today 8:00:")
    assert "lost about 10 h of 21.0 °C time" in said.flat  # below the floor every hour is lost
    assert "All 14 h were measured. Coldest 8.0 °C." in said.flat
    assert "may stay soft or hazy for good" in said.flat
    assert "B13: " in said.flat
    assert said.narrow()


def test_the_answer_as_data(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(days=DAYS, temp_c=cold_night)
    hang(curewatch, "B12", "2026-03-04T15:00")
    (night,) = curewatch("lost", "drying", "--json").plain["nights"]
    assert night["from"] == "2026-03-04T18:00:00.000Z"
    assert night["hours"] == 14.0
    assert night["coverage_pct"] == pytest.approx(100.0)
    assert night["lost_against_reference_h"]["likely"] == pytest.approx(10.0, abs=0.2)
    assert night["lost_against_expected_h"]["likely"] == pytest.approx(10.0, abs=0.6)
    (piece,) = night["pieces"]
    assert piece["may_be_harmed"] is True
    assert piece["next_milestone"] == "wet-sand"
    # ten hours below the floor; the outlook after such a night earns 0.7 to 1 an hour
    assert 10.0 <= piece["later_h"]["likely"] <= 14.0
    assert piece["not_measured_h"] == pytest.approx(0.0, abs=0.1)
    (same,) = curewatch("lost", "B12", "--json").plain["nights"]
    assert same["where"] == "B12"
    assert same["lost_against_reference_h"] == night["lost_against_reference_h"]


def test_another_stretch_can_be_said(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(days=DAYS, temp_c=cold_night)
    words = ("lost", "drying", "--finish", "oil-varnish", "--from", "yesterday 20:00")
    (night,) = curewatch(*words, "--to", "6:00", "--json").plain["nights"]
    assert night["finish"] == "oil-varnish"
    assert night["hours"] == 10.0
    (open_ended,) = curewatch(*words[:4], "--from", "today 9:00", "--json").plain["nights"]
    assert open_ended["hours"] == 3.0
    assert open_ended["lost_against_reference_h"]["high"] == pytest.approx(0.0, abs=0.01)


def test_a_stretch_long_ago_is_read_with_what_came_before_it(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(days=40.0, temp_c=20.0, every_min=30.0)
    (night,) = curewatch(
        "lost", "drying", "--finish", "waterborne",
        "--from", "2026-02-12T18:00", "--to", "2026-02-13T08:00", "--json",
    ).plain["nights"]  # fmt: skip
    assert night["coverage_pct"] == pytest.approx(100.0)
    assert night["lost_against_expected_h"]["likely"] == pytest.approx(0.0, abs=0.1)


def test_early_in_the_morning_the_night_still_runs(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    until_ms = NOW_MS - 6 * HOUR_MS
    climate(days=DAYS, temp_c=18.0, until_ms=until_ms)
    said = curewatch("lost", "drying", "--finish", "waterborne")
    assert said.out.startswith("From yesterday 18:00 to today 6:00:")


def test_a_silent_night_is_not_known(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(days=4.0, until_ms=NOW_MS - 20 * HOUR_MS)
    climate("spray")
    said = curewatch("lost", "drying", "--finish", "waterborne")
    assert "cannot be told: nothing was measured in drying" in said.flat
    (night,) = curewatch("lost", "drying", "--finish", "waterborne", "--json").plain["nights"]
    assert night["lost_against_reference_h"] is None


def test_a_night_of_which_next_to_nothing_was_measured_is_not_told(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(days=DAYS, until_ms=NOW_MS - 17 * HOUR_MS)  # one hour into the night
    climate("spray")
    hang(curewatch, "B12", "2026-03-04T09:00")
    said = curewatch("lost", "drying")
    assert "in drying cannot be told: 13 h of 14 h were not measured" in said.flat
    assert "it is somewhere between" in said.flat
    assert "no later than was to be expected" not in said.flat
    assert "comes cannot be told: 13 h of the 14 h it hung through" in said.flat
    assert said.narrow()
    (night,) = curewatch("lost", "drying", "--json").plain["nights"]
    assert night["lost_against_reference_h"] is None
    assert night["lost_bounds_h"]["high"] == pytest.approx(13.0, abs=0.2)
    assert night["pieces"][0]["later_h"] is None


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("drying",), "nothing hung in drying then"),
        (("nowhere",), "Rooms are: spray, drying"),
        (("nowhere", "--finish", "waterborne"), "there is no room 'nowhere'"),
        (("drying", "--from", "9:00", "--to", "8:00"), "would end before it begins"),
        (("drying", "--from", "2025-01-01T00:00", "--to", "8:00"), "60 days at most"),
        (("drying", "--to", "2100-01-01T08:00"), "lies ahead"),
    ],
)
def test_what_cannot_be_meant_is_refused(
    curewatch: Curewatch, climate: StoresClimate, words: tuple[str, ...], complaint: str
) -> None:
    climate()
    assert complaint in curewatch("lost", *words, status=2).complaint
