"""The record of a weighed witness panel, and what a fit says of it."""

from typing import Annotated, Final, Literal, Self

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from curewatch.errors import BadInput

FORMAT: Final = 1
LEAST_READINGS, MOST_READINGS = 30, 20_000
SUPPORTS = ("glass", "foil", "metal")
WOOD_REFUSED = (
    "A panel of wood, or of anything made of it, cannot be fitted: its own moisture swings dwarf"
    " the film. 100 g of wood that takes up 1 % of water gains 1 g, while 25 um of film on 100 cm2"
    " that still holds 5 % has about 0.01 g to give up. Spray glass or foil beside the work and"
    " weigh that."
)


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)


class Weighing(_Strict):
    """One reading: effective hours since the coat on both clocks [h], and the mass [g]."""

    drying_h: Annotated[float, Field(ge=0.0)]
    cure_h: Annotated[float, Field(ge=0.0)]
    mass_g: Annotated[float, Field(gt=0.0)]


class Panel(_Strict):
    """
    One coat on one panel, weighed while it dries.

    Attributes
    ----------
    support : str
        What was sprayed: glass, foil or metal.
    area_cm2 : float
        Sprayed area, both sides if both were [cm2].
    dry_um, dry_um_error : float
        Dry film measured afterwards, and its standard error [um]; D goes with its square.
    volatile_density_g_cm3 : float
        Density of what the film retains [g/cm3].
    readings : tuple of Weighing
        In the order of time.
    """

    support: str
    area_cm2: Annotated[float, Field(gt=0.0, le=1e6)]
    dry_um: Annotated[float, Field(ge=1.0, le=1000.0)]
    dry_um_error: Annotated[float, Field(ge=0.0)] = 0.0
    volatile_density_g_cm3: Annotated[float, Field(ge=0.5, le=2.0)] = 1.0
    readings: Annotated[
        tuple[Weighing, ...],
        Field(min_length=LEAST_READINGS, max_length=MOST_READINGS, strict=False),
    ]

    @model_validator(mode="after")
    def _can_be_fitted(self) -> Self:
        if self.support not in SUPPORTS:
            raise ValueError(WOOD_REFUSED if _wooden(self.support) else _UNKNOWN_SUPPORT)
        for clock in ("drying_h", "cure_h"):
            hours = np.array([getattr(reading, clock) for reading in self.readings])
            back = np.flatnonzero(np.diff(hours) < 0.0)
            if back.size:
                raise ValueError(
                    f"{clock} goes back at reading {int(back[0]) + 1} (counted from 0). Give the"
                    " readings in the order of time."
                )
            if hours[-1] <= hours[0]:
                raise ValueError(
                    f"{clock} stands still. The panel has to be weighed while it dries."
                )
        return self


def panel_of(request: str | bytes) -> Panel:
    """Return the panel that a JSON text describes, or BadInput with every fault and its key."""
    try:
        return Panel.model_validate_json(request)
    except ValidationError as error:
        raise BadInput(f"The panel cannot be fitted. {faults_of(error)}") from error


def faults_of(error: ValidationError) -> str:
    """Return every fault that pydantic found, each with its key."""
    return "; ".join(
        f"{'.'.join(str(step) for step in fault['loc']) or 'the panel'}: {fault['msg']}"
        for fault in error.errors(include_url=False)
    )


def refuse_support(support: str) -> None:
    """Raise BadInput, with the reason, for a panel that takes up water or is not known."""
    if support not in SUPPORTS:
        raise BadInput(WOOD_REFUSED if _wooden(support) else _UNKNOWN_SUPPORT)


_UNKNOWN_SUPPORT = f"support must be one of {', '.join(SUPPORTS)}: things that take up no water."


def _wooden(support: str) -> bool:
    words = ("wood", "ply", "board", "veneer", "mdf", "spruce", "maple", "paper", "card")
    return any(word in support.lower() for word in words)


class Estimate(_Strict):
    """
    One fitted number.

    Attributes
    ----------
    value, standard_error : float or None
        In the unit that its key names; None where the record does not determine it.
    low, high : float or None
        90 % interval.
    why : str
        Why it is not determined; '' where it is.
    """

    value: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    why: str = ""


UNDETERMINED = Estimate(
    value=None,
    standard_error=None,
    low=None,
    high=None,
    why="this record does not determine it: a larger panel, a finer scale, a thicker coat or more"
    " readings would",
)


class PanelFit(_Strict):
    """What a panel's record says, each number at the clocks' reference climate."""

    format: Literal[1] = FORMAT
    water_load_g_m2: Estimate
    drying_rate_g_m2_h: Estimate
    retained_g_m2: Estimate
    volatile_frac: Estimate
    diffusivity_um2_h: Estimate
    transfer_um_h: Estimate
    readings: int
    misfit_g: float
    cautions: tuple[str, ...]
