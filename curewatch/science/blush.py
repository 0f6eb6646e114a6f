"""Blush: does a fast solvent chill the fresh film below the dew point, and how much water settles.

One coat is followed for ten minutes over two bodies that bracket a real piece: over wood (a face)
and insulated (edges and thin runs, which chill furthest).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from curewatch.errors import BadInput
from curewatch.science.arrays import (
    FloatArray,
    Numbers,
    checked,
    checked_air,
    checked_positive,
    checked_shapes,
    checked_temp,
)
from curewatch.science.drying_coat import (
    WATER_MOLAR_KG_MOL,
    LaidCoat,
    Surroundings,
    follow,
)
from curewatch.science.film_solvents import FILM_SOLVENTS
from curewatch.science.heat_transfer import checked_speed, convection_w_m2k
from curewatch.science.humid_air import STANDARD_PRESSURE_PA, dew_point_c
from curewatch.science.saturation import water_pressure_pa

LEAST_CONVECTION_W_M2K = 4.0
"""Heat transfer [W/(m2 K)] to a piece just sprayed in still air (our own choice: natural
convection and a room's own draught bring about 3, the gun and the extraction stir the rest)."""
NOMINAL_CHILL_K = 10.0
"""Chill [K] at which the natural part of the convection is taken; it is a small part."""
RESIN_MOLAR_KG_MOL = 0.2
"""What a mole of resin weighs when mole fractions are counted (our own choice, no source: a chain
counts as its repeating units)."""
RESIN_DENSITY_KG_M3 = 1200.0
"""Of a middling resin [kg/m3] (from memory)."""
RESIN_HEAT_J_KGK = 1500.0
"""Of a middling resin [J/(kg K)] (from memory)."""
WET_G_M2 = 0.01
"""Below this much condensed water [g/m2] a film counts as free of it (a hundredth of what is seen
as a bloom; our own choice)."""


@dataclass(frozen=True, slots=True)
class ThinnerBlend:
    """
    What a lacquer is thinned with.

    Attributes
    ----------
    name : str
        The blend's name.
    mass_fractions : mapping of str to float
        Share by mass of each solvent, keys of `film_solvents.FILM_SOLVENTS`; they sum to 1.

    Raises
    ------
    BadInput
        A solvent is not in the table, a share is not above 0, or they do not sum to 1.
    """

    name: str
    mass_fractions: Mapping[str, float]

    def __post_init__(self) -> None:
        """Refuse a blend that cannot be mixed."""
        object.__setattr__(self, "mass_fractions", MappingProxyType(dict(self.mass_fractions)))
        for solvent, share in self.mass_fractions.items():
            if solvent not in FILM_SOLVENTS:
                known = ", ".join(sorted(FILM_SOLVENTS))
                raise BadInput(
                    f"blend {self.name!r}: solvent {solvent!r} is not in the table. "
                    f"It must be one of: {known}."
                )
            if not share > 0.0:
                raise BadInput(
                    f"blend {self.name!r}: the share of {solvent} is {share:g}; "
                    "it must be above 0. Leave out what is not in the can."
                )
        total = sum(self.mass_fractions.values())
        if not abs(total - 1.0) <= 1e-6:  # noqa: PLR2004 - rounding of a printed recipe
            raise BadInput(
                f"blend {self.name!r}: the shares by mass sum to {total:g}; they must sum to 1."
            )


@dataclass(frozen=True, slots=True)
class SprayedCoat:
    """
    A coat as it lands.

    Attributes
    ----------
    wet_um : float
        Wet film thickness [um], 10 to 500.
    solids_frac : float
        Share by mass that stays, 0.02 to 0.8.
    surface_c : float, array or None
        Temperature of the piece [degC], an array where each climate has its own; None where it is
        as warm as the air.

    Raises
    ------
    BadInput
        A value is out of range.
    """

    wet_um: float = 100.0
    solids_frac: float = 0.2
    surface_c: Numbers | None = None

    def __post_init__(self) -> None:
        """Refuse a coat that cannot be meant."""
        checked(self.wet_um, "wet_um", allowed=(10.0, 500.0), unit="um")
        checked(self.solids_frac, "solids_frac", allowed=(0.02, 0.8), unit="as a fraction")
        if self.surface_c is not None:
            checked_temp(self.surface_c, "surface_c")


USUAL_COAT = SprayedCoat()
"""100 um wet, a fifth solids, on a piece as warm as the room (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Blush:
    """
    What a coat will do in this air; every array has the broadcast shape of the climate.

    Attributes
    ----------
    dew_point_c : ndarray
        Dew point of the air [degC].
    lowest_film_c, lowest_at_s : ndarray
        Lowest temperature of the film over wood [degC] and when [s].
    lowest_edge_c : ndarray
        Lowest temperature of the insulated film [degC].
    margin_wood_k, margin_edge_k : ndarray
        How far each stays above the dew point [K]; below 0 water settles.
    condensed_wood_g_m2, condensed_edge_g_m2 : ndarray
        Most condensed water on each at one time [g/m2].
    wet_wood_s, wet_edge_s : ndarray
        How long water lies on each [s], counted to the end of the ten minutes.
    """

    dew_point_c: FloatArray
    lowest_film_c: FloatArray
    lowest_at_s: FloatArray
    lowest_edge_c: FloatArray
    margin_wood_k: FloatArray
    margin_edge_k: FloatArray
    condensed_wood_g_m2: FloatArray
    condensed_edge_g_m2: FloatArray
    wet_wood_s: FloatArray
    wet_edge_s: FloatArray


def blush(
    temp_c: Numbers,
    rh_frac: Numbers,
    *,
    blend: ThinnerBlend,
    coat: SprayedCoat = USUAL_COAT,
    convection_w_m2k: Numbers = LEAST_CONVECTION_W_M2K,
    p_pa: Numbers = STANDARD_PRESSURE_PA,
) -> Blush:
    """
    Follow one sprayed coat for ten minutes and compare it with the dew point.

    Parameters
    ----------
    temp_c : float or array
        Air temperature [degC], -40 to 80; the walls are taken to be as warm.
    rh_frac : float or array
        Relative humidity over water [fraction], 0.001 to 1.
    blend : ThinnerBlend
        All the solvent of the mixed lacquer.
    coat : SprayedCoat
        Thickness, solids and the piece's own temperature.
    convection_w_m2k : float or array
        Convective heat transfer [W/(m2 K)], 0.5 to 100; `sprayed_convection_w_m2k` gives it.
    p_pa : float or array
        Air pressure [Pa].

    Returns
    -------
    Blush
        Film temperatures, margins and water, broadcast shape.

    Raises
    ------
    BadInput
        An input is out of range, or the humidity is below 0.1 %, where no dew point means much.

    Notes
    -----
    The equations are those of `drying_coat.follow`. Left out: the cooling in flight from the gun
    (it makes the film colder), the skin that forms late and holds solvent back, the heat that runs
    across the film, water taking up alcohol. Ideal mixtures; the dilute form of the mass transfer.
    With the usual thinner at 25 degC a third more or less convection moves the margin by 0.5 K,
    half or half again the thickness by 0.5 K, another resin (0.1 to 0.5 kg/mol) by 0.2 K, steps
    and grid by under 0.1 K. Above 40 degC fast solvents near their boiling point leave faster than
    the dilute form says.

    References
    ----------
    T. H. Chilton and A. P. Colburn, Ind. Eng. Chem. 26, 1183-1187 (1934) (from memory). Sources of
    the solvents' figures: `film_solvents`. ISO 8502-4 gives the 3 K rule as guidance.
    """
    temp, rh = checked_air(temp_c, rh_frac)
    heat = checked(convection_w_m2k, "convection_w_m2k", allowed=(0.5, 100.0), unit="W/(m2 K)")
    pressure = checked_positive(p_pa, "p_pa", unit="Pa")
    piece = temp if coat.surface_c is None else checked_temp(coat.surface_c, "surface_c")
    shape = checked_shapes(
        temp_c=temp, rh_frac=rh, convection_w_m2k=heat, p_pa=pressure, surface_c=piece
    )
    dew = np.broadcast_to(dew_point_c(temp, rh), shape)
    course = follow(laid_coat(blend, coat), _two_bodies(shape, (temp, rh, heat, pressure, piece)))
    lowest = np.argmin(course.film_c, axis=0)
    coldest = np.min(course.film_c, axis=0).reshape(2, *shape)
    water_g = course.water_mol_m2 * (1000.0 * WATER_MOLAR_KG_MOL)
    most = np.max(water_g, axis=0).reshape(2, *shape)
    wet_s = _wet_s(course.time_s, water_g).reshape(2, *shape)
    return Blush(
        dew_point_c=dew,
        lowest_film_c=coldest[0],
        lowest_at_s=course.time_s[lowest].reshape(2, *shape)[0],
        lowest_edge_c=coldest[1],
        margin_wood_k=coldest[0] - dew,
        margin_edge_k=coldest[1] - dew,
        condensed_wood_g_m2=most[0],
        condensed_edge_g_m2=most[1],
        wet_wood_s=wet_s[0],
        wet_edge_s=wet_s[1],
    )


def sprayed_convection_w_m2k(
    air_speed_m_s: Numbers, temp_c: Numbers = 21.0, *, p_pa: Numbers = STANDARD_PRESSURE_PA
) -> FloatArray:
    """
    Convective heat transfer to a coat just sprayed, from the room's air movement.

    Parameters
    ----------
    air_speed_m_s : float or array
        Air speed along the piece [m/s], 0 to 20.
    temp_c : float or array
        Air temperature [degC], -40 to 80.
    p_pa : float or array
        Air pressure [Pa].

    Returns
    -------
    ndarray
        Heat-transfer coefficient [W/(m2 K)], broadcast shape, never below 4.

    Raises
    ------
    BadInput
        An input is out of range.
    """
    speed = checked_speed(air_speed_m_s)
    temp = checked_temp(temp_c)
    pressure = checked_positive(p_pa, "p_pa", unit="Pa")
    checked_shapes(air_speed_m_s=speed, temp_c=temp, p_pa=pressure)
    heat = convection_w_m2k(speed, temp, temp - NOMINAL_CHILL_K, pressure)
    return np.maximum(heat, LEAST_CONVECTION_W_M2K)


def laid_coat(blend: ThinnerBlend, coat: SprayedCoat) -> LaidCoat:
    """Moles of each solvent and of resin on a square metre; volumes are taken to add up."""
    solvents = tuple(FILM_SOLVENTS[name] for name in blend.mass_fractions)
    shares = [(1.0 - coat.solids_frac) * share for share in blend.mass_fractions.values()]
    volume_m3_kg = coat.solids_frac / RESIN_DENSITY_KG_M3 + sum(
        share / solvent.density_kg_m3 for share, solvent in zip(shares, solvents, strict=True)
    )
    mass_kg_m2 = coat.wet_um * 1e-6 / volume_m3_kg
    resin_kg_m2 = coat.solids_frac * mass_kg_m2
    return LaidCoat(
        solvents=solvents,
        mol_m2=tuple(
            share * mass_kg_m2 / solvent.molar_kg_mol
            for share, solvent in zip(shares, solvents, strict=True)
        ),
        resin_mol_m2=resin_kg_m2 / RESIN_MOLAR_KG_MOL,
        resin_heat_j_m2k=resin_kg_m2 * RESIN_HEAT_J_KGK,
    )


def _two_bodies(
    shape: tuple[int, ...],
    place: tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray],
) -> Surroundings:
    """Every climate twice, flat: all coats over wood first, then all insulated."""
    temp, rh, heat, pressure, start = (
        np.tile(np.broadcast_to(part, shape).ravel(), 2) for part in place
    )
    return Surroundings(
        temp_c=temp,
        vapour_pa=rh * water_pressure_pa(temp),
        start_c=start,
        convection_w_m2k=heat,
        p_pa=pressure,
        on_wood=np.arange(temp.size) < temp.size // 2,
    )


def _wet_s(time_s: FloatArray, water_g_m2: FloatArray) -> FloatArray:
    """How long [s] the amounts, straight between two times, lie above `WET_G_M2`."""
    low = np.minimum(water_g_m2[1:], water_g_m2[:-1])
    high = np.maximum(water_g_m2[1:], water_g_m2[:-1])
    span = np.maximum(high - low, 1e-12)
    share = np.clip((high - WET_G_M2) / span, 0.0, 1.0)
    return np.asarray(np.diff(time_s) @ share)
