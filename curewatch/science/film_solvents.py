"""The solvents of a sprayed coat: vapour pressure, heat of vaporisation, diffusion, density.

Handbook figures as read from the data files of the open `chemicals` library 1.5.2; the sources are
named beside the columns. Handbooks differ at 25 degC by 0.3 % (acetone) to 11 % (n-butyl acetate)
in vapour pressure and by 1 to 3 % in heat of vaporisation.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from curewatch.science.arrays import ZERO_C_K
from curewatch.science.solvents import SOLVENTS, VapourPressureCurve

AIR_MOLAR_KG_MOL = 0.028965
"""Molar mass of dry air (ASHRAE Handbook - Fundamentals 2017, chapter 1)."""
AIR_DIFFUSION_VOLUME = 19.7
"""Diffusion volume of air (Fuller, Ensley and Giddings 1969)."""
AIR_HEAT_DIFFUSIVITY_M2_S = 2.12e-5
"""Thermal diffusivity of air at 20 degC and one atmosphere (Sutherland viscosity over density and
Prandtl number 0.71; within 1 % of a reference equation of state)."""
HEATS_AT_K = 298.15
"""Temperature [K] of the tabulated heats of vaporisation."""
WATSON_EXPONENT = 0.38
"""Watson's exponent for the heat of vaporisation (K. M. Watson, Ind. Eng. Chem. 35, 398 (1943))."""


@dataclass(frozen=True, slots=True)
class FilmSolvent:
    """
    What a coat needs to know of one solvent.

    Attributes
    ----------
    curve : VapourPressureCurve
        Vapour pressure.
    molar_kg_mol : float
        Molar mass [kg/mol].
    density_kg_m3 : float
        Density of the liquid at 20 degC [kg/m3].
    heat_j_kgk : float
        Specific heat of the liquid at 15 degC [J/(kg K)].
    vaporisation_j_mol : float
        Heat of vaporisation at 25 degC [J/mol].
    critical_k : float
        Critical temperature [K].
    diffusion_volume : float
        Sum of the atoms' diffusion volumes.
    """

    curve: VapourPressureCurve
    molar_kg_mol: float
    density_kg_m3: float
    heat_j_kgk: float
    vaporisation_j_mol: float
    critical_k: float
    diffusion_volume: float

    @property
    def lewis_number(self) -> float:
        """
        Thermal diffusivity of air over the solvent's diffusivity in it, at 20 degC.

        Notes
        -----
        Both go nearly as T^1.75/p, so their ratio is taken as fixed (1 % from 0 to 40 degC).
        """
        return AIR_HEAT_DIFFUSIVITY_M2_S / diffusivity_m2_s(self, 20.0)


def diffusivity_m2_s(solvent: FilmSolvent, temp_c: float) -> float:
    """
    Diffusivity of the solvent's vapour in air at one atmosphere.

    Parameters
    ----------
    solvent : FilmSolvent
        The solvent.
    temp_c : float
        Temperature [degC].

    Returns
    -------
    float
        Diffusivity [m2/s].

    Notes
    -----
    D = 1.43e-7 T^1.75 / (p sqrt(M) (v_s^(1/3) + v_air^(1/3))^2), p = 1.01325 bar and
    M = 2/(1/M_s + 1/M_air) in g/mol. Measured values (G. A. Lugg,
    Anal. Chem. 40, 1072 (1968), from memory) lie within 11 %.

    References
    ----------
    E. N. Fuller, K. Ensley and J. C. Giddings, J. Phys. Chem. 73, 3679-3685 (1969); atoms' volumes
    C 15.9, H 2.31, O 6.11, ring -18.3 (from memory; they give the values of the tests' table).
    """
    pair_g_mol = 2000.0 / (1.0 / solvent.molar_kg_mol + 1.0 / AIR_MOLAR_KG_MOL)
    size = solvent.diffusion_volume ** (1.0 / 3.0) + AIR_DIFFUSION_VOLUME ** (1.0 / 3.0)
    return float(1.43e-7 * (temp_c + ZERO_C_K) ** 1.75 / (1.01325 * pair_g_mol**0.5 * size**2))


def _solvent(
    curve: VapourPressureCurve,
    figures: tuple[float, float, float, float],
    atoms: tuple[int, int, int, int],
    critical_k: float | None = None,
) -> FilmSolvent:
    """Fill one row; `figures` are g/mol, kg/m3, J/(kg K), J/mol and `atoms` are C, H, O, rings."""
    grams, density, heat, vaporisation = figures
    carbon, hydrogen, oxygen, rings = atoms
    return FilmSolvent(
        curve=curve,
        molar_kg_mol=grams / 1000.0,
        density_kg_m3=density,
        heat_j_kgk=heat,
        vaporisation_j_mol=vaporisation,
        critical_k=curve.highest_k if critical_k is None else critical_k,
        diffusion_volume=15.9 * carbon + 2.31 * hydrogen + 6.11 * oxygen - 18.3 * rings,
    )


# Vapour pressure: Perry's Chemical Engineers' Handbook, 8th ed. (2008), table 2-8 (DIPPR 101);
# 2-butoxyethanol: Landolt-Boernstein IV/20, Antoine, 278 to 443 K. Molar mass: `chemicals`.
# Density: the same handbook, table 2-32 (DIPPR 105) at 20 degC. Specific heat: the same, table
# 2-153 (DIPPR 100, heptane 114) at 15 degC. Heat of vaporisation: CRC Handbook of Chemistry and
# Physics, table "Enthalpy of Vaporization", at 25 degC. 2-Butoxyethanol: density from memory,
# specific heat from the CRC Handbook (281 J/(mol K)), critical temperature 634 K.
FILM_SOLVENTS: Mapping[str, FilmSolvent] = MappingProxyType(
    {
        "acetone": _solvent(
            VapourPressureCurve(69.006, -5599.6, -7.0985, 6.2237e-06, 2.0, 178.45, 508.2),
            (58.079, 792.2, 2146.0, 30990.0),
            (3, 6, 1, 0),
        ),
        "2-butanone": _solvent(
            VapourPressureCurve(72.698, -6143.6, -7.5779, 5.6476e-06, 2.0, 186.48, 535.5),
            (72.106, 804.9, 2181.0, 34790.0),
            (4, 8, 1, 0),
        ),
        "ethyl acetate": _solvent(
            VapourPressureCurve(66.824, -6227.6, -6.41, 1.7914e-17, 6.0, 189.6, 523.3),
            (88.105, 899.5, 1912.0, 35600.0),
            (4, 8, 2, 0),
        ),
        "ethanol": _solvent(
            SOLVENTS["ethanol"],
            (46.068, 790.3, 2359.0, 42320.0),
            (2, 6, 1, 0),
        ),
        "2-propanol": _solvent(
            VapourPressureCurve(96.094, -8575.4, -10.292, 1.6665e-17, 6.0, 185.26, 508.3),
            (60.095, 786.7, 2484.0, 45390.0),
            (3, 8, 1, 0),
        ),
        "n-butanol": _solvent(
            VapourPressureCurve(106.295, -9866.4, -11.655, 1.0832e-17, 6.0, 183.85, 563.1),
            (74.122, 808.2, 2316.0, 52350.0),
            (4, 10, 1, 0),
        ),
        "toluene": _solvent(
            SOLVENTS["toluene"],
            (92.138, 868.5, 1671.0, 38010.0),
            (7, 8, 0, 1),
        ),
        "o-xylene": _solvent(
            VapourPressureCurve(90.405, -7955.2, -10.086, 5.9594e-06, 2.0, 247.98, 630.3),
            (106.165, 879.9, 1729.0, 43430.0),
            (8, 10, 0, 1),
        ),
        "m-xylene": _solvent(
            VapourPressureCurve(85.099, -7615.9, -9.3072, 5.5643e-06, 2.0, 225.3, 617.0),
            (106.165, 864.3, 1691.0, 42650.0),
            (8, 10, 0, 1),
        ),
        "p-xylene": _solvent(
            VapourPressureCurve(88.72, -7741.2, -9.8693, 6.077e-06, 2.0, 286.41, 616.2),
            (106.165, 860.9, 1673.0, 42400.0),
            (8, 10, 0, 1),
        ),
        "n-butyl acetate": _solvent(
            SOLVENTS["n-butyl acetate"],
            (116.158, 880.9, 1917.0, 43860.0),
            (6, 12, 2, 0),
        ),
        "n-heptane": _solvent(
            VapourPressureCurve(87.829, -6996.4, -9.8802, 7.2099e-06, 2.0, 182.57, 540.2),
            (100.202, 685.7, 2204.0, 36570.0),
            (7, 16, 0, 0),
        ),
        "hexane": _solvent(
            VapourPressureCurve(104.65, -6995.5, -12.702, 1.2381e-05, 2.0, 177.83, 507.6),
            (86.175, 660.5, 2238.0, 31560.0),
            (6, 14, 0, 0),
        ),
        "cyclohexanone": _solvent(
            VapourPressureCurve(85.424, -7944.4, -9.2862, 4.9957e-06, 2.0, 242.0, 653.0),
            (98.143, 947.0, 1827.0, 45060.0),
            (6, 10, 1, 1),
        ),
        "2-butoxyethanol": _solvent(
            VapourPressureCurve(
                22.035578158996508,
                -3895.255570796912,
                0.0,
                0.0,
                1.0,
                lowest_k=278.0,
                highest_k=443.0,
                offset_k=-72.931,
            ),
            (118.174, 901.0, 2378.0, 56590.0),
            (6, 14, 2, 0),
            critical_k=634.0,
        ),
    }
)
