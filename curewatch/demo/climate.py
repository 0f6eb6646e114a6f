"""An invented fortnight of air in two rooms, from a small model with a fixed seed.

Outside there is weather; a room follows its heater while that is on and the weather while it is
not, and its moisture follows the outdoor air's with what the house gives off. The constants are
of our own making: they give an autumn that a finisher would recognise, and stand for no place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import humid_air

if TYPE_CHECKING:
    from collections.abc import Sequence

    Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

STEP_MIN = 5
STEP_H = STEP_MIN / 60.0
STEPS_A_DAY = 24 * 60 // STEP_MIN
SEED = 20251006
DRIEST_FRAC, DAMPEST_FRAC = 0.20, 0.97  # as far as the model's rooms go
MORNING_H, EVENING_H = 6.5, 19.0  # when the heater is turned up and down


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the fortnight, in hours since its first midnight [h]."""

    start_h: float
    stop_h: float

    def holds(self, hours: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        """Return which of `hours` lie in it."""
        return (hours >= self.start_h) & (hours < self.stop_h)


@dataclass(frozen=True, slots=True)
class RoomModel:
    """How a room answers to heater and weather.

    Attributes
    ----------
    day_c, night_c: what the heater is set to by day and by night [degC].
    warms_h, cools_h: time constants with the heater on, and without it [h].
    moisture_pa: vapour pressure the house adds to the outdoor air's [Pa].
    breathes_h: time constant with which the air takes up new moisture [h].
    heater_off: when the heater stands still.
    """

    day_c: float
    night_c: float
    warms_h: float
    cools_h: float
    moisture_pa: float
    breathes_h: float = 2.0
    heater_off: Sequence[Span] = ()


@dataclass(frozen=True, slots=True)
class Weather:
    """What the air outside does.

    Attributes
    ----------
    mean_c, swing_k: mean of the fortnight and half of the day's swing [degC], [K].
    rh_frac: its usual relative humidity.
    cold, cold_k: clear nights, and by how much they are colder [K].
    humid, humid_pa: a wet front, and the vapour pressure it adds in the rooms [Pa].
    """

    mean_c: float
    swing_k: float
    rh_frac: float
    cold: Span
    cold_k: float
    humid: Span
    humid_pa: float


@dataclass(frozen=True, slots=True, eq=False)
class Air:
    """A room's air on the model's steps: temperature [degC], relative humidity [fraction]."""

    temp_c: Floats
    rh_frac: Floats


def hours_of(days: int) -> Floats:
    """Return the model's instants, in hours since the first midnight [h]."""
    return np.arange(days * STEPS_A_DAY, dtype=np.float64) * STEP_H


def outside_c(weather: Weather, hours: Floats, *, random: np.random.Generator) -> Floats:
    """Return the outdoor temperature [degC]: the day's swing, slow weather, the cold spell."""
    swing = weather.swing_k * np.cos((hours - 15.0) * 2.0 * np.pi / 24.0)
    slow = wander(hours.size, sd=1.2, hours=30.0, random=random)
    temp_c = weather.mean_c + swing + slow - weather.cold_k * eased(weather.cold, hours)
    return np.asarray(temp_c, dtype=np.float64)


def room_air(
    model: RoomModel, weather: Weather, hours: Floats, *, random: np.random.Generator
) -> Air:
    """Return a room's air, stepped through the fortnight."""
    outdoor_c = outside_c(weather, hours, random=np.random.default_rng(SEED))
    source_pa = (
        weather.rh_frac * np.asarray(humid_air.saturation_pressure_pa(outdoor_c))
        + model.moisture_pa
        + weather.humid_pa * eased(weather.humid, hours)
    )
    temp_c = _temperatures(model, hours, outdoor_c)
    vapour_pa = followed(source_pa, model.breathes_h)
    temp_c = temp_c + wander(hours.size, sd=0.12, hours=0.7, random=random)
    rh = vapour_pa / np.asarray(humid_air.saturation_pressure_pa(temp_c))
    rh = rh + wander(hours.size, sd=0.006, hours=0.7, random=random)
    return Air(temp_c, np.clip(rh, DRIEST_FRAC, DAMPEST_FRAC))


def _temperatures(model: RoomModel, hours: Floats, outdoor_c: Floats) -> Floats:
    clock_h = hours % 24.0
    by_day = (clock_h >= MORNING_H) & (clock_h < EVENING_H)
    wanted_c = np.where(by_day, model.day_c, model.night_c)
    off = np.zeros(hours.size, dtype=bool)
    for span in model.heater_off:
        off |= span.holds(hours)
    temps = np.empty(hours.size)
    now_c = model.night_c
    for i in range(hours.size):
        temps[i] = now_c
        heats = not off[i] and now_c < wanted_c[i]
        goal_c, tau_h = (
            (float(wanted_c[i]), model.warms_h) if heats else (float(outdoor_c[i]), model.cools_h)
        )
        now_c += (goal_c - now_c) * (1.0 - np.exp(-STEP_H / tau_h))
        if not off[i] and not heats:
            now_c = max(now_c, float(wanted_c[i]))  # the thermostat catches it there
    return temps


def eased(span: Span, hours: Floats, *, edge_h: float = 3.0) -> Floats:
    """Return 1 inside a span and 0 outside, rising and falling over `edge_h` hours."""
    rise = np.clip((hours - span.start_h) / edge_h, 0.0, 1.0)
    fall = np.clip((span.stop_h - hours) / edge_h, 0.0, 1.0)
    share = np.minimum(rise, fall)
    return np.asarray(share * share * (3.0 - 2.0 * share), dtype=np.float64)


def followed(source: Floats, tau_h: float) -> Floats:
    """Return what follows `source` with a time constant [h]."""
    keep = float(np.exp(-STEP_H / tau_h))
    found = np.empty_like(source)
    now = float(source[0])
    for i, value in enumerate(source):
        now = keep * now + (1.0 - keep) * float(value)
        found[i] = now
    return found


def wander(size: int, *, sd: float, hours: float, random: np.random.Generator) -> Floats:
    """Return noise with a standard deviation `sd` that forgets itself over some hours [h]."""
    keep = float(np.exp(-STEP_H / hours))
    kicks = random.normal(0.0, sd * np.sqrt(1.0 - keep * keep), size)
    found = np.empty(size)
    now = 0.0
    for i in range(size):
        now = keep * now + float(kicks[i])
        found[i] = now
    return found
