"""What fresh coats do, kept for the climates that rooms have: the spray check's quick answer.

Following one coat through its ten minutes takes nearly as long as following a hundred at once. So
climates are followed by patches: a net of temperatures and humidities, for one blend, wet film, air
movement, pressure and distance of the piece from the air. Answers are read off its knots, never
between them. A room's usual climates soon lie in patches that are kept.

Several threads may ask at once: a patch is made whole before it is kept, and never changed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science.blush import SprayedCoat, blush, sprayed_convection_w_m2k
from curewatch.shop.thinners import thinner_named

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from curewatch.shop.climate import Floats
    from curewatch.shop.clocks import Bias

DRIEST_RH_FRAC = 0.001  # what the physics answers for
COLDEST_C, HOTTEST_C = -40.0, 80.0  # what the physics answers for
CELL_K, CELL_RH_FRAC = 0.25, 0.005  # climates in one such cell share an answer
PATCH_TEMPS, PATCH_RHS = 4, 8  # cells of a patch
PATCHES_KEPT = 512  # of 2 to 4 kB
AT_ONCE = 8  # patches followed in one go: more would take much memory and save no more time
FIGURES = (
    "lowest_film_c",
    "margin_wood_k",
    "margin_edge_k",
    "condensed_wood_g_m2",
    "condensed_edge_g_m2",
)
MARGIN_WOOD = FIGURES.index("margin_wood_k")


@dataclass(frozen=True, slots=True)
class Sprayed:
    """What is followed beside the climate: blend by its name, wet film [um], [m/s], [Pa]."""

    thinner: str
    wet_um: float
    air_speed_m_s: float
    p_pa: float


def figures(what: Sprayed, temp_c: Floats, rh_frac: Floats, piece_c: Floats | None) -> Floats:
    """Follow a coat in some climates; return `FIGURES` by rows, a column for each climate."""
    found = blush(
        temp_c,
        rh_frac,
        blend=thinner_named(what.thinner).blend,
        coat=SprayedCoat(wet_um=what.wet_um, surface_c=piece_c),
        convection_w_m2k=sprayed_convection_w_m2k(what.air_speed_m_s, temp_c, p_pa=what.p_pa),
        p_pa=what.p_pa,
    )
    return np.stack([getattr(found, name) for name in FIGURES])


@dataclass(frozen=True, slots=True)
class Patch:
    """Which climates are followed together.

    Attributes
    ----------
    what: what is sprayed.
    temp, rh: the number of the patch on each axis, counted from 0 degC and 0 %.
    over: how much warmer than the air the piece is, in cells; None where the air stands for it.
    """

    what: Sprayed
    temp: int
    rh: int
    over: int | None

    def knots(self) -> tuple[Floats, Floats, Floats]:
        """Return temperatures [degC], humidities and pieces [degC], shape (planes, temps, rhs).

        Where the piece was measured there is a second plane, its piece colder by a cell: beside a
        cell's warmer knot of the second lies the same piece as beside the colder one of the first.
        """
        temps = self.temp * PATCH_TEMPS + np.arange(PATCH_TEMPS + 1)
        rhs = self.rh * PATCH_RHS + np.arange(PATCH_RHS + 1)
        overs = np.array([0] if self.over is None else [self.over, self.over - 1])
        over, temp, rh = np.meshgrid(overs, temps, rhs, indexing="ij")
        return (
            np.clip(temp * CELL_K, COLDEST_C, HOTTEST_C),
            np.clip(rh * CELL_RH_FRAC, DRIEST_RH_FRAC, 1.0),
            np.clip((temp + over) * CELL_K, COLDEST_C, HOTTEST_C),
        )


@dataclass(frozen=True, slots=True)
class Cell:
    """A climate's cell: the patch that holds it, and its place in there."""

    patch: Patch
    temp: int
    rh: int

    @classmethod
    def of(cls, what: Sprayed, temp_c: float, rh_frac: float, surface_c: float | None) -> Cell:
        """Return the cell of a climate, the piece at its cold end."""
        first = math.floor(min(max(temp_c, COLDEST_C), HOTTEST_C) / CELL_K)
        damp = min(math.ceil(rh_frac / CELL_RH_FRAC), round(1.0 / CELL_RH_FRAC))
        over = None
        if surface_c is not None:  # what a rounded difference lacks makes no piece colder
            over = math.floor((surface_c - temp_c) / CELL_K + 1e-9)
        (across, temp), (up, rh) = divmod(first, PATCH_TEMPS), divmod(damp - 1, PATCH_RHS)
        return cls(Patch(what, across, up, over), temp, rh)

    def ends(self, found: Floats) -> Floats:
        """Return the figures at the damp end, at both ends of the temperature: shape (5, 2)."""
        ends: Floats = found[0, :, self.temp : self.temp + 2, self.rh + 1]
        return ends

    def doubt_k(self, found: Floats, bias: Bias) -> float:
        """Return the standard error of the margin over wood from the sensors' biases [K].

        A bias of the air's sensor leaves the piece as warm as it is, where that was measured. The
        margin goes nearly straight with the temperature and with the humidity's logarithm.
        """
        margins = found[:, MARGIN_WOOD]
        here = margins[0, self.temp, self.rh + 1]
        by_temp = (margins[-1, self.temp + 1, self.rh + 1] - here) / CELL_K * bias.temp_k
        damp = min((self.patch.rh * PATCH_RHS + self.rh + 1) * CELL_RH_FRAC, 1.0)
        drier = max(damp - CELL_RH_FRAC, DRIEST_RH_FRAC)
        by_log = (here - margins[0, self.temp, self.rh]) / math.log(damp / drier)
        low, high = max(damp - bias.rh_frac, DRIEST_RH_FRAC), min(damp + bias.rh_frac, 1.0)
        return math.hypot(by_temp, by_log * math.log(high / low) / 2.0)


class BlushTable:
    """The patches that were followed, the oldest given up where they become too many."""

    def __init__(self, most: int = PATCHES_KEPT) -> None:
        """Keep at most so many patches."""
        self._most = most
        self._kept: dict[Patch, Floats] = {}
        self._lock = Lock()  # of those who add and give up; who reads needs none

    def __len__(self) -> int:
        """Return how many patches are kept."""
        return len(self._kept)

    def of(self, patches: Iterable[Patch]) -> dict[Patch, Floats]:
        """Return the figures of patches, shape (planes, 5, temps, rhs); follow what is missing."""
        found: dict[Patch, Floats] = {}
        missing: dict[Sprayed, list[Patch]] = {}
        for patch in dict.fromkeys(patches):
            kept = self._kept.get(patch)
            if kept is None:
                missing.setdefault(patch.what, []).append(patch)
            else:
                found[patch] = kept
        for what, some in missing.items():
            for start in range(0, len(some), AT_ONCE):
                made = _followed(what, some[start : start + AT_ONCE])
                self._keep(made)
                found |= made
        return found

    def _keep(self, made: dict[Patch, Floats]) -> None:
        with self._lock:
            self._kept |= made
            while len(self._kept) > self._most:
                del self._kept[next(iter(self._kept))]


def _followed(what: Sprayed, patches: Sequence[Patch]) -> dict[Patch, Floats]:
    """Follow the coats of some patches in one go."""
    knots = [patch.knots() for patch in patches]
    temp, rh, piece = (
        np.concatenate([part.ravel() for part in axis]) for axis in zip(*knots, strict=True)
    )
    rows = figures(what, temp, rh, piece)
    made, start = {}, 0
    for patch, (temps, _, _) in zip(patches, knots, strict=True):
        own = rows[:, start : start + temps.size].reshape(len(FIGURES), *temps.shape)
        made[patch] = np.ascontiguousarray(np.moveaxis(own, 0, 1))
        start += temps.size
    return made
