"""A weighed witness panel: its water load, drying rate, diffusivity and surface transfer.

The fit needs scipy, which is large; so it runs in a short-lived child, `python -m curewatch.fits`,
with JSON in and out, and `fit_apart` is how the rest of the program asks for it. Nothing else
imports scipy.

One coat on a panel that takes up no water, weighed from the gun on, is taken to lose

    m = m_end + A [W (1 - t_dry/t_gone)+ + R f(t_cure; D, k)]

with t_dry and t_cure effective hours of its drying and its cure clock since the coat, A its area, W
the water that leaves at the wet film's steady rate W/t_gone, R what the skinned film retains and f
the share of it still there (`science.film`, one coat). Six numbers are fitted by least squares.
"""

import json
import math
import os
import subprocess
import sys
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from curewatch.errors import BadInput, CurewatchError
from curewatch.panel import UNDETERMINED, Estimate, Panel, PanelFit, panel_of
from curewatch.science.arrays import FloatArray
from curewatch.science.film import remaining_um

TOO_LOOSE_LN = 0.25
"""A number known no better than to this standard error of its ln is not told: on synthetic panels
intervals are honest up to about here. D and k make up for each other, so both are told or none."""
WIDTH_90 = 1.645
"""Standard errors to either end of a 90 % interval (standard normal)."""
SCAN_READINGS, SCAN_GONE = 200, 48
LEAST_WET = 10
"""So many readings of the wet film make its line."""
MOST_LEFT_FRAC = 0.3
"""With more than this share of what the film retains still in it, the end is not known well enough
to tell what it retained or how it left."""
EXTRA = "fits"
BAD_INPUT, NOT_RUN = 3, 4
"""Exit status of the child where the record is at fault, and where scipy is missing."""
_PANEL_COAT_FRAC = 0.01  # the film is linear in it: any small fraction gives the same share


def fit_apart(panel: Panel, *, timeout_s: float = 120.0) -> PanelFit:
    """
    Fit a panel's record in a child process.

    Parameters
    ----------
    panel : Panel
        The record.
    timeout_s : float
        How long the child may take [s].

    Returns
    -------
    PanelFit
        What the record says.

    Raises
    ------
    BadInput
        The record cannot be fitted.
    CurewatchError
        The child could not be run, or did not end in time.
    """
    command = [sys.executable, "-m", "curewatch.fits"]
    try:
        done = subprocess.run(  # noqa: S603 - our own module, nothing of the user's in the command
            command,
            input=panel.model_dump_json(),
            capture_output=True,
            text=True,
            timeout=timeout_s,
            check=False,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        )
    except subprocess.TimeoutExpired as error:
        raise CurewatchError(
            f"The panel's fit was stopped after {timeout_s:g} s. Give fewer readings, or try again"
            " when the machine is idle."
        ) from error
    if done.returncode == 0:
        return PanelFit.model_validate_json(done.stdout)
    if done.returncode in {BAD_INPUT, NOT_RUN}:
        kind = BadInput if done.returncode == BAD_INPUT else CurewatchError
        raise kind(str(json.loads(done.stdout)["error"]))
    last = done.stderr.strip().splitlines()[-1:] or ["nothing was said"]
    raise CurewatchError(f"The panel's fit failed: {last[0]}")


def main() -> int:
    """Fit the panel given on standard input; the child's side of `fit_apart`."""
    try:
        answer = fit_panel(panel_of(sys.stdin.buffer.read())).model_dump_json()
        status = 0
    except CurewatchError as error:
        answer = json.dumps({"error": str(error)})
        status = BAD_INPUT if isinstance(error, BadInput) else NOT_RUN
    sys.stdout.write(answer + "\n")
    return status


@dataclass(frozen=True, slots=True)
class _Record:
    """A panel's record as arrays; `mass` is grams per square metre of sprayed area."""

    drying_h: FloatArray
    cure_h: FloatArray
    mass: FloatArray
    dry_um: float


def fit_panel(panel: Panel) -> PanelFit:
    """
    Fit a panel's record here and now; needs scipy.

    Parameters
    ----------
    panel : Panel
        The record.

    Returns
    -------
    PanelFit
        Estimates with standard errors from the curvature at the best fit. Where residuals hang
        together the readings count as fewer, by (1 - r)/(1 + r) with r their lag-one correlation.

    Raises
    ------
    BadInput
        No start fits the record at all.
    CurewatchError
        scipy is not installed.
    """
    area_m2 = panel.area_cm2 * 1e-4
    record = _Record(
        drying_h=np.array([reading.drying_h for reading in panel.readings]),
        cure_h=np.array([reading.cure_h for reading in panel.readings]),
        mass=np.array([reading.mass_g for reading in panel.readings]) / area_m2,
        dry_um=panel.dry_um,
    )
    best, low, high = _best_fit(record)
    misfit = _modelled(record, best) - record.mass
    scatter = float(np.sqrt(misfit @ misfit / (misfit.size - best.size)))
    cov = _covariance(record, best) * scatter**2 * _hanging_together(misfit)
    held = np.isclose(best, low, atol=1e-3) | np.isclose(best, high, atol=1e-3)
    return _told(panel, best, cov, held=held, misfit_g=scatter * area_m2)


# The fitted numbers, in this order; all but the first are logarithms.
_END, _WATER, _RETAINED, _GONE, _DIFFUSIVITY, _TRANSFER = range(6)


def _modelled(record: _Record, numbers: FloatArray) -> FloatArray:
    end, water, retained = numbers[_END], math.exp(numbers[_WATER]), math.exp(numbers[_RETAINED])
    share = _share_left(record, math.exp(numbers[_DIFFUSIVITY]), math.exp(numbers[_TRANSFER]))
    wet = _share_wet(record, math.exp(numbers[_GONE]))
    return np.asarray(end + water * wet + retained * share)


def _share_wet(record: _Record, gone_h: float) -> FloatArray:
    return np.maximum(1.0 - record.drying_h / gone_h, 0.0)


def _share_left(record: _Record, diffusivity_um2_h: float, transfer_um_h: float) -> FloatArray:
    still = remaining_um(
        0.0,
        record.cure_h,
        coat_um=record.dry_um,
        volatile_frac=_PANEL_COAT_FRAC,
        diffusivity_um2_h=diffusivity_um2_h,
        transfer_um_h=transfer_um_h,
    )
    return still / (_PANEL_COAT_FRAC * record.dry_um)


def _best_fit(record: _Record) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the best numbers, and the bounds that they were sought in."""
    try:
        from scipy.optimize import (  # type: ignore[import-untyped]  # noqa: PLC0415 - see above
            least_squares,
        )
    except ImportError as error:
        raise CurewatchError(
            f"Fitting a panel needs scipy. Install it with: pip install 'curewatch[{EXTRA}]'"
        ) from error
    starts = _starts(record)
    low, high = _bounds(record)
    found = [
        least_squares(
            lambda numbers: _modelled(record, numbers) - record.mass,
            np.clip(start, low + 1e-6, high - 1e-6),
            jac="3-point",
            bounds=(low, high),
            x_scale="jac",
        )
        for start in starts
    ]
    best = min(found, key=lambda fit: float(fit.cost))
    return np.asarray(best.x, dtype=np.float64), low, high


def _bounds(record: _Record) -> tuple[FloatArray, FloatArray]:
    lost = float(np.ptp(record.mass))
    step_h = max(float(np.diff(np.unique(record.drying_h)).min()), 1e-4)
    end = float(record.mass[-1])
    square = record.dry_um**2 / record.cure_h[-1]
    low = [end - 2.0 * lost, lost * 1e-4, lost * 1e-4, 0.5 * step_h, 1e-3 * square, 1e-5 * square]
    high = [end + lost, 1e3 * lost, 1e3 * lost, 5.0 * record.drying_h[-1], 1e5 * square]
    high.append(1e6 * square)
    for ends in (low, high):
        ends[_TRANSFER] /= record.dry_um
        ends[1:] = np.log(ends[1:]).tolist()
    return np.array(low), np.array(high)


def _starts(record: _Record) -> list[FloatArray]:
    """Scan the three numbers that the model is not linear in; return the three best starts."""
    every = max(record.mass.size // SCAN_READINGS, 1)
    few = _Record(
        record.drying_h[::every], record.cure_h[::every], record.mass[::every], record.dry_um
    )
    fits: list[tuple[float, FloatArray]] = []
    first_h = max(float(few.drying_h[1]), 0.002 * float(few.drying_h[-1]))
    gone_grid = np.geomspace(first_h, few.drying_h[-1], SCAN_GONE)
    wets = [_share_wet(few, float(gone_h)) for gone_h in gone_grid]
    for diffusivity in record.dry_um**2 / record.cure_h[-1] * np.geomspace(0.1, 100.0, 7):
        for biot in (0.1, 0.5, 2.0, 10.0):
            transfer = biot * diffusivity / record.dry_um
            share = _share_left(few, float(diffusivity), float(transfer))
            for gone_h, wet in zip(gone_grid, wets, strict=True):
                columns = np.column_stack((np.ones_like(wet), wet, share))
                (end, water, retained), *_ = np.linalg.lstsq(columns, few.mass)
                if water > 0.0 and retained > 0.0:
                    off = columns @ (end, water, retained) - few.mass
                    logs = np.log([water, retained, gone_h, diffusivity, transfer])
                    fits.append((float(off @ off), np.array([end, *logs])))
    if not fits:
        raise BadInput(
            "The panel's mass does not fall the way a drying film's does. Check the readings: mass"
            " in g, from the gun on, with nothing laid on or taken off the scale."
        )
    return [start for _, start in sorted(fits, key=lambda fit: fit[0])[:3]]


def _covariance(record: _Record, best: FloatArray) -> FloatArray:
    """Return the inverse of the curvature, for residuals of 1 g/m2."""
    step = 1e-5
    slopes = np.empty((record.mass.size, best.size))
    for number in range(best.size):
        aside = np.zeros(best.size)
        aside[number] = step
        up, down = _modelled(record, best + aside), _modelled(record, best - aside)
        slopes[:, number] = (up - down) / (2.0 * step)
    size = np.linalg.norm(slopes, axis=0)
    size[size == 0.0] = 1e-12  # a number that moves nothing is not determined
    # Directions that the record says next to nothing of come out huge, not as an error.
    _, singular, rows = np.linalg.svd(slopes / size, full_matrices=False)
    spread = rows.T / np.maximum(singular, 1e-9)
    return np.asarray(spread @ spread.T / np.outer(size, size))


def _hanging_together(misfit: FloatArray) -> float:
    """Return by how much residuals that hang together widen a variance, at least 1."""
    centred = misfit - misfit.mean()
    together = float(centred[1:] @ centred[:-1]) / max(float(centred @ centred), 1e-300)
    r = min(max(together, 0.0), 0.99)
    return (1.0 + r) / (1.0 - r)


def _told(
    panel: Panel, best: FloatArray, cov: FloatArray, *, held: npt.NDArray[np.bool_], misfit_g: float
) -> PanelFit:
    """Put the fitted numbers in words and units; each a sum of logarithms."""
    thick_ln = panel.dry_um_error / panel.dry_um

    wet = sum(reading.drying_h < math.exp(best[_GONE]) for reading in panel.readings)
    left = _share_at_end(panel, best)

    def error_ln(parts: dict[int, float]) -> float:
        pick = _picked(parts)
        known = wet >= LEAST_WET if _WATER in parts else left <= MOST_LEFT_FRAC
        if not known or any(held[number] for number in parts):
            return math.inf
        return math.sqrt(float(pick @ cov @ pick))

    def estimate(
        parts: dict[int, float], *, unit: float = 1.0, thick: float = 0.0, with_: int | None = None
    ) -> Estimate:
        alone = math.hypot(error_ln(parts), thick * thick_ln)
        other = 0.0 if with_ is None else math.hypot(error_ln({with_: 1.0}), thick_ln)
        if max(alone, other) > TOO_LOOSE_LN:
            return UNDETERMINED
        value = unit * math.exp(float(_picked(parts) @ best))
        wide = math.exp(WIDTH_90 * alone)
        return Estimate(
            value=value, standard_error=value * alone, low=value / wide, high=value * wide
        )

    # R = rho phi0 d with d in um and rho in g/cm3: one um of 1 g/cm3 is one g/m2.
    per_film = 1.0 / (panel.volatile_density_g_cm3 * panel.dry_um)
    return PanelFit(
        water_load_g_m2=estimate({_WATER: 1.0}),
        drying_rate_g_m2_h=estimate({_WATER: 1.0, _GONE: -1.0}),
        retained_g_m2=estimate({_RETAINED: 1.0}),
        volatile_frac=estimate({_RETAINED: 1.0}, unit=per_film, thick=1.0),
        diffusivity_um2_h=estimate({_DIFFUSIVITY: 1.0}, thick=2.0, with_=_TRANSFER),
        transfer_um_h=estimate({_TRANSFER: 1.0}, thick=1.0, with_=_DIFFUSIVITY),
        readings=len(panel.readings),
        misfit_g=misfit_g,
        cautions=_cautions(panel, wet=wet, left=left),
    )


def _picked(parts: dict[int, float]) -> FloatArray:
    pick = np.zeros(_TRANSFER + 1)
    pick[list(parts)] = list(parts.values())
    return pick


def _share_at_end(panel: Panel, best: FloatArray) -> float:
    """Return the share of what the film retains that is still there at the last reading."""
    reading = panel.readings[-1]
    last = _Record(
        np.array([reading.drying_h]), np.array([reading.cure_h]), np.zeros(1), panel.dry_um
    )
    return float(_share_left(last, math.exp(best[_DIFFUSIVITY]), math.exp(best[_TRANSFER]))[0])


def _cautions(panel: Panel, *, wet: int, left: float) -> tuple[str, ...]:
    """Say what would have made the record tell more."""
    said = []
    if wet < LEAST_WET:
        said.append(f"Only {wet} readings while the film was wet: weigh sooner and more often.")
    if left > 0.1:  # noqa: PLR2004 - a tenth of what the film retains
        said.append(
            f"About {left:.0%} of what the film retains was still in it at the last reading: weigh"
            " for longer."
        )
    if panel.dry_um_error == 0.0:
        said.append("The dry film is taken as exact; D goes with its square, k with the film.")
    return tuple(said)


if __name__ == "__main__":
    sys.exit(main())
