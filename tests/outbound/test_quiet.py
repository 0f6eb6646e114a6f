"""Quiet hours hold on the shop's wall clock, through the nights in which the clocks change."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.outbound.quiet import QuietHours

BERLIN = ZoneInfo("Europe/Berlin")
NIGHT = QuietHours.parse("22:00-07:00")


def _ms(text: str, zone: ZoneInfo = BERLIN) -> int:
    return round(datetime.fromisoformat(text).replace(tzinfo=zone).timestamp() * 1000)


@pytest.mark.parametrize(
    ("text", "start", "stop"),
    [
        ("22:00-07:00", 1320, 420),
        (" 9:05 - 12:30 ", 545, 750),
        ("00:00-23:59", 0, 1439),
    ],
)
def test_a_span_is_read(text: str, start: int, stop: int) -> None:
    assert QuietHours.parse(text) == QuietHours(start, stop)


@pytest.mark.parametrize(
    "text", ["", "22-7", "24:00-07:00", "22:60-07:00", "22:00", "22:00-07:00 x", "٢٢:00-07:00"]
)
def test_what_is_no_span_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(BadInput, match="'22:00-07:00'"):
        QuietHours.parse(text)


def test_a_span_without_time_in_it_is_refused() -> None:
    with pytest.raises(BadInput, match="same minute"):
        QuietHours.parse("07:00-7:00")


@pytest.mark.parametrize(
    ("now", "ends"),
    [
        ("2025-01-10T21:59:59.999", None),
        ("2025-01-10T22:00", "2025-01-11T07:00"),
        ("2025-01-11T00:00", "2025-01-11T07:00"),
        ("2025-01-11T06:59:59.999", "2025-01-11T07:00"),
        ("2025-01-11T07:00", None),
    ],
)
def test_a_night_runs_over_midnight(now: str, ends: str | None) -> None:
    assert NIGHT.until_ms(_ms(now), BERLIN) == (None if ends is None else _ms(ends))


def test_a_span_within_a_day_ends_on_that_day() -> None:
    noon = QuietHours.parse("12:00-13:00")
    assert noon.until_ms(_ms("2025-01-10T12:30"), BERLIN) == _ms("2025-01-10T13:00")
    assert noon.until_ms(_ms("2025-01-10T11:59"), BERLIN) is None


@pytest.mark.parametrize(
    ("start", "hours"),
    [
        ("2025-03-29T22:00", 8),  # the clocks go forward: 30 March 2025
        ("2025-10-25T22:00", 10),  # and back: 26 October 2025
        ("2025-06-01T22:00", 9),
    ],
)
def test_the_night_in_which_the_clocks_change_is_an_hour_shorter_or_longer(
    start: str, hours: int
) -> None:
    begun_ms = _ms(start)
    assert NIGHT.until_ms(begun_ms, BERLIN) == begun_ms + hours * 3_600_000


def test_an_end_that_is_skipped_comes_when_the_clock_jumps_over_it() -> None:
    quiet = QuietHours.parse("22:00-02:30")
    jump = datetime(2025, 3, 30, 1, tzinfo=UTC)
    assert quiet.until_ms(_ms("2025-03-29T23:00"), BERLIN) == round(jump.timestamp() * 1000)


@given(
    start=st.integers(0, 1439),
    length=st.integers(1, 1439),
    at=st.datetimes(datetime(2024, 1, 1), datetime(2027, 1, 1)),  # noqa: DTZ001 - read as UTC below
    zone=st.sampled_from(
        ["UTC", "Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu"]
    ),
)
@example(  # loud for one minute a day only, and that one skipped
    start=151,
    length=1439,
    at=datetime(2025, 3, 29, 2),  # noqa: DTZ001 - as above
    zone="Europe/Berlin",
)
def test_it_is_quiet_until_the_end_and_not_at_it(
    start: int, length: int, at: datetime, zone: str
) -> None:
    quiet = QuietHours(start, (start + length) % 1440)
    shop = ZoneInfo(zone)
    now_ms = round(at.replace(tzinfo=UTC).timestamp() * 1000)
    end_ms = quiet.until_ms(now_ms, shop)
    if end_ms is None:
        assert not quiet.hold(now_ms, shop)
        return
    assert now_ms < end_ms <= now_ms + round(timedelta(days=3).total_seconds() * 1000)
    assert not quiet.hold(end_ms, shop)
    assert quiet.hold(end_ms - 1, shop)
    assert quiet.until_ms((now_ms + end_ms) // 2, shop) == end_ms
