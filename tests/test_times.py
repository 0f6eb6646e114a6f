"""The times people type of what will be, also over nights in which the clocks are changed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.times import WEEKDAYS, ahead_ms, instant_ms
from curewatch.errors import BadInput

BERLIN = ZoneInfo("Europe/Berlin")
THURSDAY = datetime(2026, 3, 5, 12, 0, tzinfo=BERLIN)


def ms(moment: datetime) -> int:
    return round(moment.timestamp() * 1000)


def read(text: str, now: datetime = THURSDAY, after: datetime | None = None) -> str:
    """Return what was read, as UTC."""
    after_ms = None if after is None else ms(after)
    at_ms = ahead_ms(text, zone=BERLIN, now_ms=ms(now), after_ms=after_ms)
    return f"{datetime.fromtimestamp(at_ms / 1000, UTC):%a %Y-%m-%d %H:%M}"


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("fri 18:00", "Fri 2026-03-06 17:00"),
        ("FRIDAY 18:00", "Fri 2026-03-06 17:00"),
        ("monday 7:00", "Mon 2026-03-09 06:00"),
        ("thurs 11:00", "Thu 2026-03-12 10:00"),  # today's has been
        ("thu 12:30", "Thu 2026-03-05 11:30"),
        ("tomorrow 6:00", "Fri 2026-03-06 05:00"),
        ("18:00", "Thu 2026-03-05 17:00"),
        ("7:00", "Thu 2026-03-05 06:00"),  # today's: it has been so since this morning
        ("now", "Thu 2026-03-05 11:00"),
        ("2h ago", "Thu 2026-03-05 09:00"),
        ("in 8h", "Thu 2026-03-05 19:00"),
        ("in 2d 4h 30min", "Sat 2026-03-07 15:30"),
        ("2026-12-01 07:00", "Tue 2026-12-01 06:00"),
        ("2026-12-01T07:00-05:00", "Tue 2026-12-01 12:00"),
        ("2026-12-01T07:00Z", "Tue 2026-12-01 07:00"),
        ("2026-07-01 07:00", "Wed 2026-07-01 05:00"),
    ],
)
def test_a_time_ahead_is_read_on_the_shops_wall_clock(text: str, utc: str) -> None:
    assert read(text) == utc


def test_what_is_typed_minutes_late_is_still_today() -> None:
    assert read("thu 12:00", THURSDAY + timedelta(minutes=4)) == "Thu 2026-03-05 11:00"
    assert read("thu 12:00", THURSDAY + timedelta(minutes=6)) == "Thu 2026-03-12 11:00"


def test_an_end_is_the_next_after_its_start() -> None:
    friday = datetime(2026, 3, 13, 18, 0, tzinfo=BERLIN)  # the week after next Monday
    assert read("mon 7:00", after=friday) == "Mon 2026-03-16 06:00"
    assert read("fri 18:00", after=friday) == "Fri 2026-03-20 17:00"
    assert read("7:00", after=friday) == "Sat 2026-03-14 06:00"
    assert read("23:00", after=friday) == "Fri 2026-03-13 22:00"
    assert read("tomorrow 7:00", after=friday) == "Fri 2026-03-06 06:00"  # counts from now


def test_a_week_end_with_a_change_of_the_clock_keeps_the_wall_clock() -> None:
    spring = datetime(2026, 3, 27, 12, 0, tzinfo=BERLIN)  # clocks go forward on Sunday the 29th
    assert read("fri 18:00", spring) == "Fri 2026-03-27 17:00"
    assert read("mon 7:00", spring) == "Mon 2026-03-30 05:00"
    autumn = datetime(2026, 10, 23, 12, 0, tzinfo=BERLIN)  # and back on Sunday the 25th
    assert read("sat 7:00", autumn) == "Sat 2026-10-24 05:00"
    assert read("sun 7:00", autumn) == "Sun 2026-10-25 06:00"
    assert read("tomorrow 7:00", autumn + timedelta(days=1)) == "Sun 2026-10-25 06:00"


def test_a_time_the_clocks_jump_over_is_refused_and_of_one_that_comes_twice_the_first_holds() -> (
    None
):
    spring = datetime(2026, 3, 27, 12, 0, tzinfo=BERLIN)
    for text in ("sun 2:30", "2026-03-29 02:30"):
        with pytest.raises(BadInput, match=r"does not exist: the clocks go forward .* 03:30 of"):
            read(text, spring)
    with pytest.raises(BadInput, match="does not exist"):
        read("2:30", spring, after=datetime(2026, 3, 28, 22, 0, tzinfo=BERLIN))
    assert read("2026-03-29T02:30+01:00", spring) == "Sun 2026-03-29 01:30"
    autumn = datetime(2026, 10, 23, 12, 0, tzinfo=BERLIN)
    assert read("sun 2:30", autumn) == "Sun 2026-10-25 00:30"
    second = datetime(2026, 10, 25, 2, 10, tzinfo=BERLIN, fold=1)
    assert read("tomorrow 2:30", second) == "Mon 2026-10-26 01:30"


@pytest.mark.parametrize("text", ["soon", "t 7:00", "someday 7:00", "in", "in h", "2026-13-01", ""])
def test_what_is_no_time_says_how_to_write_one(text: str) -> None:
    with pytest.raises(BadInput, match=r"is not a time: write '18:00', 'fri 18:00', .*'in 8h'"):
        read(text)


@pytest.mark.parametrize("text", ["fri 25:00", "mon 7:61", "24:00", "tomorrow 9:75"])
def test_what_is_no_time_of_day_says_so(text: str) -> None:
    with pytest.raises(BadInput, match="is not a time of day"):
        read(text)


@given(
    now=st.datetimes(datetime(2025, 1, 1), datetime(2027, 12, 31)),  # noqa: DTZ001 - given a zone below
    day=st.sampled_from(WEEKDAYS),
    hour=st.integers(4, 23),
)
def test_a_weekday_is_the_next_of_that_name_within_eight_days(
    now: datetime, day: str, hour: int
) -> None:
    now = now.replace(tzinfo=BERLIN)
    at_ms = ahead_ms(f"{day[:3]} {hour}:00", zone=BERLIN, now_ms=ms(now))
    there = datetime.fromtimestamp(at_ms / 1000, BERLIN)
    assert (there.strftime("%A").lower(), there.hour, there.minute) == (day, hour, 0)
    assert -5 * 60_000 <= at_ms - ms(now) <= (7 * 24 + 1) * 3_600_000


def test_times_that_have_been_are_read_as_before() -> None:
    now_ms = ms(THURSDAY)
    assert instant_ms("1d 2h ago", zone=BERLIN, now_ms=now_ms) == now_ms - 26 * 3_600_000
    with pytest.raises(BadInput, match="'fri 18:00' is not a time"):
        instant_ms("fri 18:00", zone=BERLIN, now_ms=now_ms)
