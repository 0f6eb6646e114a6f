"""Dew and frost points on a typical weather year, by the file's own conventions.

A check of consistency: dew point, temperature and humidity of the file belong together, rounded to
0.1 K, 0.1 K and 1 %. The file takes humidity over ice in air below 0 degC and prints the frost
point where that is below 0 degC; tests/data/README.md tells where it comes from.
"""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from curewatch.science.humid_air import dew_point_c, frost_point_c, saturation_pressure_pa

DATA = Path(__file__).parents[1] / "data"
FloatArray = npt.NDArray[np.float64]
SMOOTHED_H = 6
"""The typical-year method blends temperature and dew point this far either side of a month join."""


@pytest.fixture(scope="module")
def year() -> FloatArray:
    """Dry bulb [degC], dew or frost point [degC], humidity [%] and month of 8760 hours."""
    path = DATA / "sand-point-typical-year.csv"
    numbers = np.genfromtxt(path, delimiter=",", skip_header=1, usecols=(2, 3, 4))
    lines = path.read_text(encoding="utf-8").splitlines()[1:]
    months = np.array([float(line[5:7]) for line in lines])
    assert numbers.shape == (8760, 3)
    return np.column_stack([numbers, months])


def by_the_files_convention(temp_c: FloatArray, rh_frac: FloatArray) -> FloatArray:
    """Dew point, or frost point where below freezing, from humidity over ice in freezing air."""
    over_ice = saturation_pressure_pa(np.minimum(temp_c, 0.0), "ice")
    to_water = np.where(temp_c < 0.0, over_ice / saturation_pressure_pa(temp_c), 1.0)
    rh = np.minimum(rh_frac, 1.0) * to_water
    frost = frost_point_c(temp_c, rh)
    return np.where(np.isnan(frost), dew_point_c(temp_c, rh), frost)


def away_from_month_joins(months: FloatArray) -> npt.NDArray[np.bool_]:
    """Hours that the blending between months taken from different years has not touched."""
    keep = np.ones(months.size, dtype=bool)
    keep[:SMOOTHED_H] = keep[-SMOOTHED_H:] = False
    for join in np.flatnonzero(np.diff(months)):
        keep[join + 1 - SMOOTHED_H : join + 1 + SMOOTHED_H] = False
    return keep


def test_every_hour_away_from_a_month_join_lies_inside_what_rounding_allows(
    year: FloatArray, agreement: Callable
) -> None:
    temp, dew, rh, months = year.T
    keep = away_from_month_joins(months)
    lowest = by_the_files_convention(temp - 0.05, rh / 100.0 - 0.005) - 0.05
    highest = by_the_files_convention(temp + 0.05, rh / 100.0 + 0.005) + 0.05
    assert np.sum(keep) == 8616
    assert np.all((dew >= lowest - 1e-9)[keep])
    assert np.all((dew <= highest + 1e-9)[keep])
    outside = np.maximum(lowest - dew, dew - highest)[keep]
    agreement(
        check="dew or frost point of a year of outdoor air, beyond the file's rounding",
        source="typical weather year of Sand Point, its own dew point column",
        tolerance="1e-9 K",
        measured=max(outside.max(), 0.0),
        unit="K",
        n=outside.size,
    )


def test_half_of_the_year_is_within_five_hundredths_of_a_kelvin(
    year: FloatArray, agreement: Callable
) -> None:
    temp, dew, rh, _ = year.T
    error = np.abs(by_the_files_convention(temp, rh / 100.0) - dew)
    # Measured with the handbook's equations by others: median 0.045, 95 % 0.092 K.
    assert np.median(error) < 0.05
    assert np.percentile(error, 95) < 0.1
    for share, allowed in ((50, "0.05 K"), (95, "0.1 K")):
        agreement(
            check=f"dew or frost point of a year of outdoor air, {share} of 100 hours within",
            source="typical weather year of Sand Point, its own dew point column",
            tolerance=allowed,
            measured=np.percentile(error, share),
            unit="K",
            n=error.size,
        )


def test_the_large_differences_all_lie_at_month_joins(year: FloatArray) -> None:
    temp, dew, rh, months = year.T
    error = np.abs(by_the_files_convention(temp, rh / 100.0) - dew)
    assert np.sum(error > 0.3) == 45  # so the exclusion above hides something real, and only that
    assert np.all(error[away_from_month_joins(months)] <= 0.16)


def test_taking_the_humidity_over_water_would_miss_the_frozen_hours(year: FloatArray) -> None:
    temp, dew, rh, months = year.T
    frozen = (temp < -2.0) & away_from_month_joins(months)
    error = np.abs(dew_point_c(temp, rh / 100.0) - dew)[frozen]
    assert np.sum(frozen) > 500
    assert np.median(error) > 0.3  # dew against frost point: two conventions, never to be mixed
