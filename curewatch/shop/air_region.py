"""Where a finish may be sprayed: the spray check asked all over the plane of air.

Temperature lies across, relative humidity up. At a row of temperatures every limit of the check
is asked at a row of humidities; where it stops saying 'go' lies its edge, and the edge that comes
first rules. Nothing here judges by itself: `spray_check` says the same at every point, within the
width of a drawn line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.blush import SprayedCoat, blush, sprayed_convection_w_m2k
from curewatch.shop.air_edges import beyond_of, edges_of, runs, side_curve
from curewatch.shop.blush_check import THICKEST_UM, THINNEST_UM, usual_thinner
from curewatch.shop.spray_air import humidity_limits, temperature_limits
from curewatch.shop.spray_dew import dew_limits, dew_point_c
from curewatch.shop.spray_film import film_limits, wet_film
from curewatch.shop.spray_terms import Conditions
from curewatch.shop.words import Words

if TYPE_CHECKING:
    from curewatch.shop.air_edges import RegionEdge
    from curewatch.shop.climate import Floats
    from curewatch.shop.clocks import Bias
    from curewatch.shop.finish import Finish
    from curewatch.shop.spray_terms import Limit
    from curewatch.shop.thinners import Thinner

COLUMNS = 17
HUMIDITIES = np.linspace(0.02, 1.0, 33)  # at less no limit is known to turn
BLUSH_COLUMNS, BLUSH_HUMIDITIES = 6, np.linspace(0.1, 1.0, 10)
DOUBTED = "surface-over-dew-point"  # inside its own error it says 'cannot tell': no go either
REGIONS_KEPT = 32


@dataclass(frozen=True, slots=True)
class Place:
    """What the region hangs on beside the finish.

    Attributes
    ----------
    air_speed_m_s, pressure_pa: air movement [m/s] and pressure [Pa].
    bias: what the sensors may be off by.
    piece_over_air_k: how much warmer than the air the piece is [K]; None where it was not
        measured and the air stands for it.
    """

    air_speed_m_s: float
    pressure_pa: float
    bias: Bias
    piece_over_air_k: float | None = None

    @classmethod
    def of(cls, here: Conditions) -> Place:
        """Return the place of what was measured; the piece's distance in steps of half a kelvin."""
        known = here.surface_c is not None and here.temp_c is not None
        over = None if not known else round(2.0 * (here.surface_c - here.temp_c)) / 2.0  # type: ignore[operator]
        return cls(here.air_speed_m_s, here.pressure_pa, here.bias, over)

    def conditions(self, temp_c: float, rh_frac: float) -> Conditions:
        """Return the place at a point of the plane."""
        over = self.piece_over_air_k
        return Conditions(
            temp_c,
            rh_frac,
            surface_c=None if over is None else temp_c + over,
            air_speed_m_s=self.air_speed_m_s,
            pressure_pa=self.pressure_pa,
            bias=self.bias,
        )


@dataclass(frozen=True, slots=True)
class AirRegion:
    """Where a finish may be sprayed; no edges where that is nowhere.

    Attributes
    ----------
    finish: its name.
    edges: the boundary, clockwise.
    beyond: limits that the boundary's come before, over the same temperatures.
    """

    finish: str
    edges: tuple[RegionEdge, ...]
    beyond: tuple[RegionEdge, ...] = ()

    @property
    def outline(self) -> tuple[tuple[float, float], ...]:
        """The boundary once round."""
        return tuple(point for edge in self.edges for point in edge.points)

    def holds(self, temp_c: float, rh_frac: float) -> bool:
        """Whether a point lies inside."""
        ends: dict[str, float] = {"top": -np.inf, "bottom": np.inf}
        for edge in self.edges:
            points = sorted(edge.points)
            if edge.side in ends and points[0][0] <= temp_c <= points[-1][0]:
                across, up = zip(*points, strict=True)
                ends[edge.side] = float(np.interp(temp_c, across, up))
        return ends["bottom"] <= rh_frac <= ends["top"]


class Regions:
    """Regions already worked out; asked for by several threads at once they are told as well."""

    def __init__(self) -> None:
        """Keep none yet."""
        self._kept: dict[tuple[str, int, str, Place], tuple[Finish, AirRegion]] = {}

    def of(self, finish: Finish, place: Place, *, thinner: Thinner | None = None) -> AirRegion:
        """Return the region of a finish in a place, worked out once."""
        key = (finish.name, finish.revision, "" if thinner is None else thinner.blend.name, place)
        kept = self._kept.get(key)
        if kept is None or kept[0] != finish:
            if len(self._kept) >= REGIONS_KEPT:
                self._kept = {}
            kept = finish, air_region(finish, place, thinner=thinner)
            self._kept[key] = kept
        return kept[1]


def air_region(finish: Finish, place: Place, *, thinner: Thinner | None = None) -> AirRegion:
    """Return where the spray check says 'go' for a finish.

    Parameters
    ----------
    finish : Finish
        What is to be sprayed.
    place : Place
        Air movement, pressure, sensors, and the piece's warmth beside the air's.
    thinner : Thinner, optional
        What a finish that dries by solvent is thinned with; its usual one if None.
    """
    (left, low_c), (right, high_c) = _temperatures(finish, place)
    if low_c >= high_c:
        return AirRegion(finish.name, ())
    temps = np.linspace(low_c, high_c, COLUMNS)
    limits = _asked(finish, place, temps)
    usual = usual_thinner(finish)
    if usual is not None:
        limits["blush"] = _blush(finish, place, temps, thinner=thinner or usual)
    spans = {name: _spans(values) for name, values in limits.items() if np.any(values < 0.0)}
    top = side_curve({name: span[1] for name, span in spans.items()}, COLUMNS, sign=1.0)
    bottom = side_curve({name: span[0] for name, span in spans.items()}, COLUMNS, sign=-1.0)
    edges = edges_of(temps, top, bottom, walls=(left, right))
    ruling = {edge.limit for edge in edges}
    beyond = [
        *beyond_of(temps, top, "top", ruling=ruling),
        *beyond_of(temps, bottom, "bottom", ruling=ruling),
    ]
    return AirRegion(finish.name, edges, tuple(beyond))


def _temperatures(finish: Finish, place: Place) -> tuple[tuple[str, float], tuple[str, float]]:
    """Return the coldest and the warmest air that keeps the limits on air and piece [degC]."""
    over = place.piece_over_air_k or 0.0
    found = temperature_limits(finish, place.conditions(20.0, 0.5), Words())
    lows = [(one.name, one.allowed - _shift(one, over)) for one in found if "-low" in one.name]
    highs = [(one.name, one.allowed - _shift(one, over)) for one in found if "-high" in one.name]
    return max(lows, key=lambda one: one[1]), min(highs, key=lambda one: one[1])


def _shift(limit: Limit, over_k: float) -> float:
    return over_k if limit.name.startswith("surface") else 0.0


def _asked(finish: Finish, place: Place, temps: Floats) -> dict[str, Floats]:
    """Return how far each limit is from stopping, shape (temperatures, humidities)."""
    words, found = Words(), dict[str, list[float]]()
    stops = set[str]()
    for temp in temps:
        for rh in HUMIDITIES:
            here = place.conditions(float(temp), float(rh))
            for limit in (
                *humidity_limits(finish, here),
                *dew_limits(finish, here, dew_point_c(here), words=words),
                *film_limits(finish, here, wet_film(finish, here), words=words),
            ):
                assert limit.margin is not None  # noqa: S101 - temperature and humidity are given
                doubt = limit.error if limit.name == DOUBTED else 0.0
                found.setdefault(limit.name, []).append(limit.margin - doubt)
                if not limit.verdict.is_go:
                    stops.add(limit.name)  # others only warn
    shape = (temps.size, HUMIDITIES.size)
    return {name: np.reshape(values, shape) for name, values in found.items() if name in stops}


def _blush(finish: Finish, place: Place, temps: Floats, *, thinner: Thinner) -> Floats:
    """Return how far a fresh film stays above the dew point [K], followed at fewer points.

    Humidity enters as its logarithm, in which the dew point is nearly straight.
    """
    coarse = np.linspace(temps[0], temps[-1], BLUSH_COLUMNS)
    wet_um = min(max(finish.drying.wet_film_um.value, THINNEST_UM), THICKEST_UM)
    rows = [
        blush(
            temp,
            BLUSH_HUMIDITIES,
            blend=thinner.blend,
            coat=SprayedCoat(
                wet_um=wet_um,
                surface_c=place.conditions(float(temp), 0.5).surface_c,
            ),
            convection_w_m2k=sprayed_convection_w_m2k(
                place.air_speed_m_s, temp, p_pa=place.pressure_pa
            ),
            p_pa=place.pressure_pa,
        ).margin_wood_k
        for temp in coarse
    ]
    return _finer(coarse, np.stack(rows), temps)


def _finer(coarse: Floats, values: Floats, temps: Floats) -> Floats:
    """Return values between coarse temperatures and humidities; the first row below them all."""
    across = np.stack([np.interp(temps, coarse, column) for column in values.T], axis=1)
    known, asked = np.log(BLUSH_HUMIDITIES), np.log(HUMIDITIES)
    return np.stack([np.interp(asked, known, row) for row in across])


def _spans(values: Floats) -> tuple[Floats, Floats]:
    """Return where each temperature's longest stretch above nought begins and ends [fraction].

    A stretch that reaches an end of the scale has no end of its own: 0 or 1. Where there is none
    it begins after it ends.
    """
    lows, highs = np.ones(values.shape[0]), np.zeros(values.shape[0])
    for row, line in enumerate(values):
        parts = runs(line >= 0.0)
        if parts:
            first, last = max(parts, key=lambda part: part[1] - part[0])
            lows[row] = 0.0 if first == 0 else _crossing(line, first - 1)
            highs[row] = 1.0 if last == line.size - 1 else _crossing(line, last)
    return lows, highs


def _crossing(line: Floats, index: int) -> float:
    """Return where a line passes nought between two humidities [fraction]."""
    before, after = line[index], line[index + 1]
    share = before / (before - after)
    return float(HUMIDITIES[index] + share * (HUMIDITIES[index + 1] - HUMIDITIES[index]))
