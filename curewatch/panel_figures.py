"""Which figures of a finish a fitted panel sets anew, and why the others stay."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.finish_edit import FigureChange, change
from curewatch.shop.finish import DryingLaw, Figure, MilestoneName
from curewatch.shop.reading import Standing

if TYPE_CHECKING:
    from curewatch.panel import Estimate, Panel, PanelFit
    from curewatch.shop.finish import Finish

HALF_WIDTH = 3.0**0.5
"""Ends so many standard errors off: a figure's standard error is (high - low)/sqrt(12)."""
NO_TOLERANCE = (
    "The film's figures were not taken over: this profile has no film model yet, and a panel does "
    "not tell how much sinking a polish bears. Give film.sink_tolerance_um and the other film "
    "figures in the file first."
)
OWN_HOURS = (
    "The water load was not taken over: the profile gives recoat hours of its own, which answer "
    "the same question."
)
NO_WATER = (
    "What left while the film was wet is not a water load: this finish is thinned with solvent."
)
BOTH_RATES = (
    "D and k were not taken over, so the film goes on as it did: this record does not determine "
    "both of them."
)


def learnt_figures(
    finish: Finish, panel: Panel, fit: PanelFit, *, thicker: float, source: str
) -> tuple[list[FigureChange], list[str]]:
    """
    Return the figures that a fit sets anew, and remarks on those it leaves.

    Parameters
    ----------
    finish : Finish
        The profile as it stands.
    panel, fit : Panel, PanelFit
        The record and what it says.
    thicker : float
        The panel's wet film over the profile's usual one; its water and its dry film go with it.
    source : str
        When and from which panel.
    """
    changes, remarks = [], list[str]()

    def take(path: str, one: Estimate, *, over: float = 1.0) -> None:
        if one.value is not None and one.standard_error is not None:
            figure = _learnt(one.value / over, one.standard_error / over, source)
            changes.append(change(finish, path, figure))

    if finish.drying.law is not DryingLaw.WATER:
        remarks.append(NO_WATER)
    elif MilestoneName.RECOAT_OPENS in finish.requirements:
        remarks.append(OWN_HOURS)
    else:
        take("drying.water_load_g_m2", fit.water_load_g_m2, over=thicker)
    if finish.film is None:
        return changes, [*remarks, NO_TOLERANCE]
    dry = _learnt(panel.dry_um / thicker, panel.dry_um_error / thicker, source)
    changes.append(change(finish, "film.dry_um", dry))
    take("film.volatile_frac", fit.volatile_frac)
    take("film.diffusivity_um2_h", fit.diffusivity_um2_h)
    take("film.transfer_um_h", fit.transfer_um_h)
    if fit.diffusivity_um2_h.value is None:
        remarks.append(BOTH_RATES)
    return changes, remarks


def _learnt(value: float, error: float, source: str) -> Figure:
    half = HALF_WIDTH * error
    said = f"{source}; standard error {error:.2g}" if error else source
    low, high = (None, None) if not error else (_four(value - half), _four(value + half))
    return Figure(_four(value), Standing.LEARNT_HERE, low, high, said)


def _four(value: float) -> float:
    """Return a value to four significant digits: a panel knows no more."""
    return float(f"{value:.4g}")
