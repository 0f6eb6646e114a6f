"""Vapour pressure of the solvents that set the pace of a lacquer or of shellac."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from curewatch.science.arrays import ZERO_C_K, FloatArray


@dataclass(frozen=True, slots=True)
class VapourPressureCurve:
    """
    Coefficients of ln(p/Pa) = a + b/(T + offset) + c ln T + d T^e, T in kelvin.

    Without an offset this is DIPPR equation 101; with one, and c = d = 0, it is Antoine's. The
    constants hold from `lowest_k` to `highest_k`.
    """

    a: float
    b: float
    c: float
    d: float
    e: float
    lowest_k: float
    highest_k: float
    offset_k: float = 0.0


# Perry's Chemical Engineers' Handbook, 8th ed. (2008), table 2-8.
# Their ranges hold every temperature that is believed here, which the common Antoine constants do
# not. Handbooks differ by 11 % at 25 degC for n-butyl acetate, 4 % for ethanol, 0.4 % for toluene;
# a drying rate needs only the ratio of two temperatures, on which they agree far better.
SOLVENTS: Mapping[str, VapourPressureCurve] = MappingProxyType(
    {
        "n-butyl acetate": VapourPressureCurve(
            122.82, -9253.2, -14.99, 1.047e-05, 2.0, lowest_k=199.65, highest_k=575.4
        ),
        "ethanol": VapourPressureCurve(
            73.304, -7122.3, -7.1424, 2.8853e-06, 2.0, lowest_k=159.05, highest_k=514.0
        ),
        "toluene": VapourPressureCurve(
            76.945, -6729.8, -8.179, 5.3017e-06, 2.0, lowest_k=178.18, highest_k=591.75
        ),
    }
)


def solvent_pressure_pa(temp_c: FloatArray, solvent: str) -> FloatArray:
    """Vapour pressure [Pa] of a pure `solvent` at `temp_c` [degC]; nothing is checked."""
    curve = SOLVENTS[solvent]
    temp_k = temp_c + ZERO_C_K
    pull = curve.b / (temp_k + curve.offset_k)
    return np.exp(curve.a + pull + curve.c * np.log(temp_k) + curve.d * temp_k**curve.e)
