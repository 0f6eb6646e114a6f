"""A coat losing its solvents: composition and temperature of the film, step by step.

The film is lumped: one temperature, one composition. Beneath it lies wood, solved in one dimension,
or nothing at all. Many coats run side by side, so that a table costs little more than one coat.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from curewatch.science.arrays import ZERO_C_K, FloatArray
from curewatch.science.coat_grid import (
    USUAL_GRID,
    Grid,
    step_lengths_s,
    wood_cells_m,
    wood_step,
)
from curewatch.science.film_solvents import HEATS_AT_K, WATSON_EXPONENT, FilmSolvent
from curewatch.science.heat_transfer import (
    AIR_HEAT_J_KGK,
    DRY_AIR_GAS_CONSTANT_J_KGK,
    radiation_w_m2k,
)
from curewatch.science.saturation import water_pressure_pa, water_slope_per_k
from curewatch.science.wet_surface import LEWIS_NUMBER

GAS_CONSTANT_J_MOLK = 8.314462618
"""Molar gas constant (CODATA 2018)."""
WATER_MOLAR_KG_MOL = 0.018015
"""Molar mass of water (from memory; IUPAC)."""
WATER_HEAT_J_MOLK = 75.4
"""Specific heat of liquid water [J/(mol K)] (from memory; 4186 J/(kg K))."""
_NEWTON_STEPS = 3
"""From the last pace's guess two steps reach 1e-6 K (measured); one spare."""


@dataclass(frozen=True, slots=True)
class LaidCoat:
    """
    What lies on a square metre when the gun has passed.

    Attributes
    ----------
    solvents : tuple of FilmSolvent
        The solvents.
    mol_m2 : tuple of float
        How much of each [mol/m2].
    resin_mol_m2 : float
        Resin, which stays [mol/m2].
    resin_heat_j_m2k : float
        Its heat capacity [J/(m2 K)].
    water_mol_m2 : float
        Water that lies on the film [mol/m2].
    """

    solvents: tuple[FilmSolvent, ...]
    mol_m2: tuple[float, ...]
    resin_mol_m2: float
    resin_heat_j_m2k: float
    water_mol_m2: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """
    Air above and wood beneath, one entry a coat.

    Attributes
    ----------
    temp_c, vapour_pa : ndarray
        Air temperature [degC] and partial pressure of its water [Pa].
    start_c : ndarray
        Temperature of wood and film at the start [degC].
    convection_w_m2k, p_pa : ndarray
        Convective heat transfer [W/(m2 K)] and air pressure [Pa].
    on_wood : ndarray of bool
        Whether wood lies beneath; without it the film is insulated.
    radiates : bool
        Count the heat the walls radiate.
    solvent_vapour_pa : float
        Partial pressure [Pa] of each solvent in the air; 0 in a ventilated room.
    """

    temp_c: FloatArray
    vapour_pa: FloatArray
    start_c: FloatArray
    convection_w_m2k: FloatArray
    p_pa: FloatArray
    on_wood: npt.NDArray[np.bool_]
    radiates: bool = True
    solvent_vapour_pa: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """
    What happened to the coats; the first axis is time, the last the coats.

    Attributes
    ----------
    time_s : ndarray
        Times [s], the start included.
    film_c : ndarray
        Film temperature [degC].
    mol_m2 : ndarray
        Solvents left [mol/m2], shape (times, solvents, coats).
    water_mol_m2 : ndarray
        Condensed water on the film [mol/m2].
    wood_c : ndarray
        Wood temperature [degC], shape (times, cells, coats).
    heat_j_m2 : ndarray
        Heat received from air and walls in the step before each time [J/m2].
    """

    time_s: FloatArray
    film_c: FloatArray
    mol_m2: FloatArray
    water_mol_m2: FloatArray
    wood_c: FloatArray
    heat_j_m2: FloatArray


def follow(coat: LaidCoat, around: Surroundings, grid: Grid = USUAL_GRID) -> Course:
    """
    Follow coats while they dry.

    Parameters
    ----------
    coat : LaidCoat
        What was laid, the same for all.
    around : Surroundings
        Air and wood, one entry a coat; nothing is checked.
    grid : Grid
        How finely time and wood are cut.

    Returns
    -------
    Course
        Film, wood and amounts at each time.

    Notes
    -----
    Solvent i leaves at J_i = k_i (x_i P_i(T) - p_i)/(R T_m), x_i its mole fraction with the resin
    counted (ideal mixture); water comes at J_w = k_w (p_v - p_sat(T))/(R T_m) and never leaves
    faster than what has condensed. k = h_c/(rho cp) Le^(-2/3), in which rho cancels T_m:
    k/(R T_m) = h_c R_a/(R cp p) Le^(-2/3). The film's heat:

        C dT/dt = (h_c + h_r)(T_air - T) - sum J_i H_i + J_w H_w - flow into the wood.

    Backward Euler in film and wood; the number of moles x_i is taken over, the heat capacity, h_r
    and H_i are those at the start of a step. Amounts and heat balance to rounding.
    """
    laws = _laws(coat, around)
    state = _start(coat, around, grid)
    seen = [state]
    steps = step_lengths_s(grid)
    for step_s in steps.tolist():
        state = _advance(laws, state, grid=grid, step_s=step_s)
        seen.append(state)
    return Course(
        time_s=np.concatenate(([0.0], np.cumsum(steps))),
        film_c=np.stack([s.film_c for s in seen]),
        mol_m2=np.stack([s.mol_m2 for s in seen]),
        water_mol_m2=np.stack([s.water_mol_m2 for s in seen]),
        wood_c=np.stack([s.wood_c for s in seen]),
        heat_j_m2=np.stack([s.heat_j_m2 for s in seen]),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Laws:
    """What does not change along the way; columns are solvents, rows coats."""

    around: Surroundings
    coat: LaidCoat
    transfer: FloatArray  # mol/(m2 s Pa), (solvents, coats)
    water_transfer: FloatArray  # the same for water, (coats,)
    curve: tuple[FloatArray, ...]  # a, b, c, d, e, offset
    heats_j_mol: FloatArray
    critical_k: FloatArray
    stores_j_molk: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    """The coats at one time; `pace_k_s` is how fast the film's temperature has last moved."""

    film_c: FloatArray
    mol_m2: FloatArray
    water_mol_m2: FloatArray
    wood_c: FloatArray
    heat_j_m2: FloatArray
    pace_k_s: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Pull:
    """What drives each substance out of the film in one step, at the step's first temperature."""

    mol_m2: FloatArray
    drawn: FloatArray  # share of a solvent that leaves, times P_i(T)/P_i(T_old), over 1 - share
    slope_per_k: FloatArray  # of ln P_i
    arriving: FloatArray  # mol/m2 out of the air
    water_mol_m2: FloatArray
    water_drawn: FloatArray  # mol/m2 that would leave into dry air
    water_slope_per_k: FloatArray
    water_arriving: FloatArray


def _laws(coat: LaidCoat, around: Surroundings) -> _Laws:
    exchange = (
        around.convection_w_m2k
        * DRY_AIR_GAS_CONSTANT_J_KGK
        / (GAS_CONSTANT_J_MOLK * AIR_HEAT_J_KGK * around.p_pa)
    )
    kinds = coat.solvents
    curves = [s.curve for s in kinds]
    return _Laws(
        around=around,
        coat=coat,
        transfer=exchange * _column([s.lewis_number for s in kinds]) ** (-2.0 / 3.0),
        water_transfer=exchange * LEWIS_NUMBER ** (-2.0 / 3.0),
        curve=(
            _column([c.a for c in curves]),
            _column([c.b for c in curves]),
            _column([c.c for c in curves]),
            _column([c.d for c in curves]),
            _column([c.e for c in curves]),
            _column([c.offset_k for c in curves]),
        ),
        heats_j_mol=_column([s.vaporisation_j_mol for s in kinds]),
        critical_k=_column([s.critical_k for s in kinds]),
        stores_j_molk=_column([s.heat_j_kgk * s.molar_kg_mol for s in kinds]),
    )


def _column(values: list[float]) -> FloatArray:
    return np.array(values)[:, np.newaxis]


def _start(coat: LaidCoat, around: Surroundings, grid: Grid) -> _State:
    count = around.start_c.size
    return _State(
        film_c=around.start_c,
        mol_m2=np.repeat(_column(list(coat.mol_m2)), count, axis=1),
        water_mol_m2=np.full(count, coat.water_mol_m2),
        wood_c=np.repeat(around.start_c[np.newaxis], wood_cells_m(grid).size, axis=0),
        heat_j_m2=np.zeros(count),
        pace_k_s=np.zeros(count),
    )


def _advance(laws: _Laws, old: _State, *, grid: Grid, step_s: float) -> _State:
    """One implicit step: Newton on the film's heat balance, everything else follows from it."""
    around = laws.around
    kept, shared, conductance = wood_step(grid, step_s)
    wood = kept @ old.wood_c
    surface = step_s * conductance * around.on_wood
    into_wood = surface * (1.0 - shared[0])
    taken_up = around.convection_w_m2k
    if around.radiates:
        taken_up = taken_up + radiation_w_m2k(around.temp_c, old.film_c)
    taken_up = step_s * taken_up
    stiffness = _capacity(laws, old) + taken_up + into_wood
    offset = taken_up * (old.film_c - around.temp_c) + into_wood * old.film_c - surface * wood[0]
    pull = _pull(laws, old, step_s)
    heats, water_heat = _heats_j_mol(laws, old.film_c)
    change = old.pace_k_s * step_s
    for _ in range(_NEWTON_STEPS):
        gone, gone_slope, gain, gain_slope = _exchanged(pull, change)
        balance = stiffness * change + offset + np.sum(gone * heats, axis=0) - gain * water_heat
        slope = stiffness + np.sum(gone_slope * heats, axis=0) - gain_slope * water_heat
        correction = -balance / slope
        change = change + correction
    # The last correction moves amounts along their slopes, so that the heat balance closes.
    film = old.film_c + change
    return _State(
        film_c=film,
        mol_m2=old.mol_m2 - gone - gone_slope * correction,
        water_mol_m2=np.maximum(old.water_mol_m2 + gain + gain_slope * correction, 0.0),
        wood_c=wood + shared * film,
        heat_j_m2=taken_up * (around.temp_c - film),
        pace_k_s=change / step_s,
    )


def _capacity(laws: _Laws, state: _State) -> FloatArray:
    """Heat capacity of the film [J/(m2 K)]."""
    liquid: FloatArray = np.sum(state.mol_m2 * laws.stores_j_molk, axis=0)
    return liquid + laws.coat.resin_heat_j_m2k + WATER_HEAT_J_MOLK * state.water_mol_m2


def _pull(laws: _Laws, state: _State, step_s: float) -> _Pull:
    a, b, c, d, e, offset = laws.curve
    temp_k = state.film_c + ZERO_C_K
    shifted, power = temp_k + offset, d * temp_k**e
    pressure = np.exp(a + b / shifted + c * np.log(temp_k) + power)
    moles = np.sum(state.mol_m2, axis=0) + laws.coat.resin_mol_m2
    drive = step_s * laws.water_transfer
    return _Pull(
        mol_m2=state.mol_m2,
        drawn=step_s * laws.transfer * pressure / moles,
        slope_per_k=(c + e * power) / temp_k - b / (shifted * shifted),
        arriving=step_s * laws.transfer * laws.around.solvent_vapour_pa,
        water_mol_m2=state.water_mol_m2,
        water_drawn=drive * water_pressure_pa(state.film_c),
        water_slope_per_k=water_slope_per_k(state.film_c),
        water_arriving=drive * laws.around.vapour_pa,
    )


def _heats_j_mol(laws: _Laws, film_c: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Heat of vaporisation of the solvents (Watson) and of water [J/mol]."""
    reduced = (laws.critical_k - ZERO_C_K - film_c) / (laws.critical_k - HEATS_AT_K)
    water = WATER_MOLAR_KG_MOL * (2.501e6 - 2361.0 * film_c)
    return laws.heats_j_mol * reduced**WATSON_EXPONENT, water


def _exchanged(
    pull: _Pull, change_k: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """
    Amounts that leave and arrive if the film's temperature moves by `change_k` [K].

    Returns
    -------
    tuple
        Solvents gone [mol/m2] and d/dT of it, water gained [mol/m2] and d/dT of it.

    Notes
    -----
    Within a step ln P is taken as straight in T (1e-4 of P over 0.5 K).
    """
    drawn = pull.drawn * np.exp(pull.slope_per_k * change_k)
    stay = 1.0 / (1.0 + drawn)
    gone = (pull.mol_m2 * drawn - pull.arriving) * stay
    gone_slope = (pull.mol_m2 + pull.arriving) * drawn * stay * stay * pull.slope_per_k
    water_drawn = pull.water_drawn * np.exp(pull.water_slope_per_k * change_k)
    gain = pull.water_arriving - water_drawn
    gain_slope = np.where(gain > -pull.water_mol_m2, -water_drawn * pull.water_slope_per_k, 0.0)
    return gone, gone_slope, np.maximum(gain, -pull.water_mol_m2), gain_slope
