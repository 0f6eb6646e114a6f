"""The times people type of what will be, also over nights in which the clocks are changed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.shop.words import Words
from curewatch.times import WEEKDAYS, ahead_ms, instant_ms

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


@pytest.mark.parametrize("text", ["soon", "t 7:00", "someday 7:00", "in", "in h", "2026-3", ""])
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
    with pytest.raises(BadInput, match="'in 8h' is not a time"):
        instant_ms("in 8h", zone=BERLIN, now_ms=now_ms)


def been(text: str, now: datetime = THURSDAY) -> str:
    """Return what was read of a time that has been, as UTC."""
    at_ms = instant_ms(text, zone=BERLIN, now_ms=ms(now))
    return f"{datetime.fromtimestamp(at_ms / 1000, UTC):%a %Y-%m-%d %H:%M}"


@pytest.mark.parametrize(
    ("text", "past", "ahead"),
    [
        ("2026-11-12 9:00", "Thu 2026-11-12 08:00", None),
        ("2026-11-12T9:00", "Thu 2026-11-12 08:00", None),
        ("25.11.2026 9:30", "Wed 2026-11-25 08:30", None),
        ("24.12.2026", "Wed 2026-12-23 23:00", None),
        ("1.3. 8:00", "Sun 2026-03-01 07:00", "Mon 2027-03-01 07:00"),
        ("5.3. 8:00", "Thu 2026-03-05 07:00", None),  # today, whichever way one looks
        ("mon 9:00", "Mon 2026-03-02 08:00", "Mon 2026-03-09 08:00"),
        ("thu 12:03", "Thu 2026-03-05 11:03", None),  # a few minutes are a clock that is off
        ("thu 13:00", "Thu 2026-02-26 12:00", "Thu 2026-03-05 12:00"),
        ("Mon 2 Mar 9:00", "Mon 2026-03-02 08:00", None),
        ("Mon 23 Nov 2026 9:00", "Mon 2026-11-23 08:00", None),
        ("2 march", "Sun 2026-03-01 23:00", "Mon 2027-03-01 23:00"),
        ("29 Feb 9:00", "Thu 2024-02-29 08:00", "Tue 2028-02-29 08:00"),
    ],
)
def test_a_date_as_a_person_writes_it_is_read(text: str, past: str, ahead: str | None) -> None:
    assert been(text) == past
    if "2 Mar " not in text:  # with its weekday it names one day alone
        assert read(text) == (past if ahead is None else ahead)


def test_a_weekday_that_is_not_the_dates_is_said() -> None:
    with pytest.raises(BadInput, match="2 Mar 2027 is a Tuesday"):
        read("Mon 2 Mar 9:00")
    with pytest.raises(BadInput, match="3 Mar 2026 is a Tuesday"):
        been("Mon 3 Mar 9:00")


@pytest.mark.parametrize("text", ["30.2.2026", "31.4.", "2026-13-01", "0 mar"])
def test_a_day_that_no_calendar_has_is_said_to_be_none(text: str) -> None:
    for direction in (been, read):
        with pytest.raises(BadInput, match="no such day in the calendar"):
            direction(text)


@pytest.mark.parametrize("text", ["25.11.2026 24:30", "2026-11-12 9:60", "mon 25:00"])
def test_a_dates_time_of_day_is_looked_at(text: str) -> None:
    with pytest.raises(BadInput, match="not a time of day"):
        been(text)


@pytest.mark.parametrize("text", ["Xyz 2 Mar 9:00", "2 foo", "xyz 9:00", "soon"])
def test_a_hint_names_the_forms_of_its_direction(text: str) -> None:
    with pytest.raises(BadInput, match=r"'2h ago'.*25\.11\.2026 9:30"):
        been(text)
    with pytest.raises(BadInput, match=r"'in 8h'.*24\.12\.2026 8:00") as caught:
        read(text)
    assert "ago" not in str(caught.value)


@pytest.mark.parametrize("text", ["29.3.2026 2:30", "2026-03-29 2:30", "Sun 29 Mar 2026 2:30"])
def test_a_dated_time_the_clocks_jump_over_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="the clocks go forward"):
        been(text)


def test_of_a_dated_time_that_comes_twice_the_first_holds() -> None:
    assert been("25.10.2026 2:30") == "Sun 2026-10-25 00:30"
    monday = datetime(2026, 10, 26, 9, 0, tzinfo=BERLIN)
    assert been("sun 2:30", monday) == "Sun 2026-10-25 00:30"


@given(st.integers(0, 2**31), st.integers(-299 * 24 * 60, 0))
def test_what_we_say_of_the_past_is_read_back(now_s: int, later_min: int) -> None:
    now_ms = (1_000_000_020 + now_s // 60 * 60) * 1000
    words = Words(zone=UTC)
    at_ms = now_ms + later_min * 60_000
    assert instant_ms(words.at(at_ms, now_ms), zone=UTC, now_ms=now_ms) == at_ms
