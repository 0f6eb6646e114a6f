"""A room's likely climate day by day, and what a finish earns in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.cli.show import say, table
from curewatch.science.outlook import LONGEST_H
from curewatch.science.outlook_climate import climate_ahead
from curewatch.shop.ahead import law_ahead, outlook_start_ms
from curewatch.shop.finish import ClockName
from curewatch.shop.laws import law_for
from curewatch.shop.plain import instant
from curewatch.shop.room_plan import planned_climate

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.cli.bench import Bench
    from curewatch.science.outlook_climate import ClimateAhead, Range
    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import PlainValue
    from curewatch.shop.shop import Shop

HOUR_MS = 3_600_000
HOUR_S = 3600.0
DAY_H, DAYS = 24, 3
CLOCKS = (ClockName.DRYING, ClockName.CURE)


@dataclass(frozen=True, slots=True)
class Band:
    """A figure and both ends of its 80 % band."""

    low: float
    likely: float
    high: float


@dataclass(frozen=True, slots=True)
class Earned:
    """What a finish earns by one of its clocks.

    Attributes
    ----------
    day_h: effective hours the day will likely bring [h].
    so_far: those from now to the day's end [h], with the band that the outlook gives for a sum.
    """

    finish: Finish
    clock: ClockName
    day_h: float
    so_far: Band


@dataclass(frozen=True, slots=True)
class DayAhead:
    """One of the days ahead, counted from now.

    Attributes
    ----------
    from_h, to_h: its ends, from now [h]; stop_ms: its end [ms].
    temp_c, coldest_c: mean and coldest hour [degC].
    rh_frac: mean relative humidity [fraction]; None where nothing is known of it.
    earned: what finishes earn in it.
    """

    from_h: int
    to_h: int
    stop_ms: int
    temp_c: Band
    coldest_c: Band
    rh_frac: Band | None
    earned: tuple[Earned, ...]


def days_ahead(
    shop: Shop, room: str, finishes: Sequence[Finish], now_ms: int
) -> tuple[DayAhead, ...]:
    """Return the next three days of a room, plans obeyed; none where its record tells nothing."""
    frontier = shop.book.frontier_ms(room)
    if frontier is None:
        return ()
    start_ms = outlook_start_ms(min(frontier, now_ms))
    off_h = (now_ms - start_ms) / HOUR_MS
    if off_h + DAYS * DAY_H > LONGEST_H:
        return ()  # silent for so long that nothing follows from it
    record = shop.book.hourly(room, start_ms)
    leads = [off_h + hour + 0.5 for hour in range(DAYS * DAY_H)]
    climate = climate_ahead(
        record.temp_c,
        record.vapour_pressure_pa,
        HOUR_S,
        hours=leads,
        planned=planned_climate(shop.plans.get(room, ()), start_ms),
    )
    if climate is None:
        return ()
    return tuple(_day(shop, room, finishes, climate, number, now_ms) for number in range(DAYS))


def _day(
    shop: Shop,
    room: str,
    finishes: Sequence[Finish],
    climate: ClimateAhead,
    number: int,
    now_ms: int,
) -> DayAhead:
    hours = slice(number * DAY_H, (number + 1) * DAY_H)
    begin_ms = now_ms + number * DAY_H * HOUR_MS
    end_ms = begin_ms + DAY_H * HOUR_MS
    return DayAhead(
        from_h=number * DAY_H,
        to_h=(number + 1) * DAY_H,
        stop_ms=end_ms,
        temp_c=_mean(climate.temp_c, hours),
        coldest_c=_lowest(climate.temp_c, hours),
        rh_frac=None if climate.rh_frac is None else _mean(climate.rh_frac, hours),
        earned=tuple(
            earned
            for finish in finishes
            for clock in CLOCKS
            if (earned := _earned(shop, room, finish, clock, now_ms, (begin_ms, end_ms)))
        ),
    )


def _earned(
    shop: Shop,
    room: str,
    finish: Finish,
    clock: ClockName,
    now_ms: int,
    day_ms: tuple[int, int],
) -> Earned | None:
    law = law_for(finish, clock, shop.room(room))
    ahead = None if law is None else law_ahead(shop, room, law, now_ms)
    if ahead is None:
        return None
    day, so_far = ahead.earned(*day_ms), ahead.earned(now_ms, day_ms[1])
    return Earned(
        finish,
        clock,
        float(day.likely),
        Band(float(so_far.least), float(so_far.likely), float(so_far.most)),
    )


def _mean(values: Range, hours: slice) -> Band:
    return Band(*(float(part[hours].mean()) for part in (values.low, values.likely, values.high)))


def _lowest(values: Range, hours: slice) -> Band:
    return Band(*(float(part[hours].min()) for part in (values.low, values.likely, values.high)))


def day_plain(day: DayAhead) -> dict[str, PlainValue]:
    """Return a day ahead as plain data."""
    return {
        "from_h": day.from_h,
        "to_h": day.to_h,
        "until": instant(day.stop_ms),
        "temp_c": _band_plain(day.temp_c),
        "coldest_hour_c": _band_plain(day.coldest_c),
        "rh_pct": None if day.rh_frac is None else _band_plain(day.rh_frac, 100.0),
        "effective_hours": [
            {
                "finish": one.finish.name,
                "revision": one.finish.revision,
                "clock": str(one.clock),
                "likely": one.day_h,
                "since_now": _band_plain(one.so_far),
            }
            for one in day.earned
        ],
    }


def _band_plain(band: Band, scale: float = 1.0) -> dict[str, PlainValue]:
    return {"low": band.low * scale, "likely": band.likely * scale, "high": band.high * scale}


def say_days(at: Bench, room: str, days: Sequence[DayAhead]) -> None:
    """Print the days ahead, and what finishes earn in them."""
    if not days:
        say(
            f"{room}'s climate ahead cannot be told: too little was heard of it, or too long ago. "
            "Pieces there have no expected times until it is heard for an hour."
        )
        return
    say("Its likely climate, in brackets the band that holds four times in five:")
    table(
        ["hours ahead", "mean temperature", "coldest hour", "humidity"],
        [_climate_row(at, day) for day in days],
    )
    if not days[0].earned:
        say(f"No piece hangs in {room}; --finish NAME tells what a finish would earn there.")
        return
    say("What a finish will likely earn there, in hours at its own reference climate:")
    table(
        ["finish", "clock", *(f"{day.from_h} to {day.to_h} h" for day in days), "in all"],
        [
            (
                one.finish.name,
                str(one.clock),
                *(f"{day.earned[row].day_h:.1f}" for day in days),
                _hours(days[-1].earned[row].so_far),
            )
            for row, one in enumerate(days[0].earned)
        ],
    )


def _climate_row(at: Bench, day: DayAhead) -> tuple[str, ...]:
    rh = day.rh_frac
    return (
        f"{day.from_h} to {day.to_h}",
        _temps(at, day.temp_c),
        _temps(at, day.coldest_c),
        "not known"
        if rh is None
        else f"{rh.likely * 100:.0f} % ({rh.low * 100:.0f} to {rh.high * 100:.0f})",
    )


def _temps(at: Bench, band: Band) -> str:
    low, high = (at.words.temp(value).split(" ")[0] for value in (band.low, band.high))
    return f"{at.words.temp(band.likely)} ({low} to {high})"


def _hours(band: Band) -> str:
    return f"{band.likely:.1f} ({band.low:.1f} to {band.high:.1f})"
