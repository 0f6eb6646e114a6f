"""Rooms and the sensors in them, as the shop describes them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from curewatch.shop.reading import IN_THE_AIR, Quantity

DEFAULT_TEMP_BIAS_K = (
    0.3  # a good chip's typical error; SCIENCE: default sensor budget [from memory]
)
DEFAULT_RH_BIAS_FRAC = 0.025
DEFAULT_TEMP_DRIFT_K, DEFAULT_RH_DRIFT_FRAC = 0.05, 0.01
"""What a sensor may drift in a year, in a finishing shop's air: our own figures. Chips' sheets say
0.03 K and 0.25 points in clean air [from memory]; solvent adds to that."""
CALIBRATION_EVERY_DAYS: Final = 365.0  # a yearly check or swap is common practice, no source
LONGEST_GAP_FLOOR_S = 30 * 60
LONGEST_GAP_UNKNOWN_S = 180 * 60  # battery sensors report every 10-60 min (common practice)


@dataclass(frozen=True, slots=True)
class Sensor:
    """A sensor and where it hangs.

    Attributes
    ----------
        id: its name in the shop's configuration.
        room: the room it hangs in.
        report_every_s: how often it is expected to report [s], if known.
        temp_bias_k: what its temperature may be off by, one standard deviation [K].
        rh_bias_frac: the same for relative humidity [fraction].
        air: whether it tells of the room's climate; a scale does not.
        temp_drift_k, rh_drift_frac: what they may drift in a year [K], [fraction].
        calibration_every_days: how often it ought to be checked.
        measures: which of the climate's quantities it tells of.
    """

    id: str
    room: str
    report_every_s: float | None = None
    temp_bias_k: float = DEFAULT_TEMP_BIAS_K
    rh_bias_frac: float = DEFAULT_RH_BIAS_FRAC
    air: bool = True
    temp_drift_k: float = DEFAULT_TEMP_DRIFT_K
    rh_drift_frac: float = DEFAULT_RH_DRIFT_FRAC
    calibration_every_days: float = CALIBRATION_EVERY_DAYS
    measures: frozenset[Quantity] = frozenset(IN_THE_AIR)


@dataclass(frozen=True, slots=True)
class Room:
    """A room where pieces are sprayed or dry.

    Attributes
    ----------
        name: its name.
        air: how much the air moves: 'still', 'gentle', 'fan', or a speed in words of those.
        longest_gap_s: silence longer than this earns no credit [s]; None for the default.
        pressure_pa: air pressure, from the shop's altitude [Pa].
    """

    name: str
    air: str = "still"
    longest_gap_s: float | None = None
    pressure_pa: float = 101325.0


def longest_gap_s(room: Room, sensors: tuple[Sensor, ...]) -> float:
    """Return the longest silence of `room` that is still bridged by a straight line [s].

    The shop's own figure wins; else the larger of 30 min and three times the slowest
    sensor's interval, or 180 min when any sensor's interval is not known.
    """
    if room.longest_gap_s is not None:
        return room.longest_gap_s
    here = [sensor.report_every_s for sensor in sensors if sensor.room == room.name and sensor.air]
    known = [every for every in here if every is not None]
    if not here or len(known) < len(here):
        return LONGEST_GAP_UNKNOWN_S
    return max(LONGEST_GAP_FLOOR_S, 3.0 * max(known))
