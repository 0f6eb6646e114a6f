"""Physics and statistics: numpy arrays in, numpy arrays out.

Nothing here reads a clock, a file, a socket or a setting; time and data are arguments. Temperatures
are in degC at every function (kelvin only inside a rate law), relative humidity is a fraction over
liquid water, pressures are pascals. Functions check what they are given and name the first value
that cannot be true; their `_unchecked` twins serve hot paths whose arrays were checked before, and
turn NaN into NaN.

Modules: `humid_air` (dew point, wet bulb and their kin), `wood` (equilibrium moisture),
`wet_surface` and `heat_transfer` (a drying surface), `evaporation` (the drying clock), `kinetics`
(the cure clock).
"""

from curewatch.science.evaporation import (
    SolventDrying,
    WaterDrying,
    drying_rate_solvent,
    drying_rate_water,
)
from curewatch.science.humid_air import dew_point_c, frost_point_c, wet_bulb_c
from curewatch.science.kinetics import CureLaw, rate, running_hours
from curewatch.science.spread import RateSpread
from curewatch.science.wet_surface import WetFilm, wet_film
from curewatch.science.wood import emc_pct

__all__ = [
    "CureLaw",
    "RateSpread",
    "SolventDrying",
    "WaterDrying",
    "WetFilm",
    "dew_point_c",
    "drying_rate_solvent",
    "drying_rate_water",
    "emc_pct",
    "frost_point_c",
    "rate",
    "running_hours",
    "wet_bulb_c",
    "wet_film",
]
