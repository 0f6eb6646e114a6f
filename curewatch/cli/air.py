"""What follows from a temperature and a relative humidity: dew point, wet bulb, wood, wet film."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from curewatch.cli.figures import add_figure, number, really_argument
from curewatch.cli.show import print_json, say
from curewatch.science import evaporation, humid_air, wood
from curewatch.shop.spray import LEAST_RH_FRAC
from curewatch.shop.standings_told import air_standings
from curewatch.shop.typed import AIR, HUMIDITY

if TYPE_CHECKING:
    import argparse

STANDARD_PA = 101325.0


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the air's state."""
    add_figure(parser, "--temp-c", AIR, of="air temperature [degC]", required=True)
    add_figure(parser, "--rh-pct", HUMIDITY, of="relative humidity [%%]", required=True)
    really_argument(parser)
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--pressure-pa", type=number, help="air pressure [Pa]")
    where.add_argument("--altitude-m", type=number, help="height of the shop above the sea [m]")
    parser.add_argument(
        "--air", default="still", choices=list(evaporation.AIR_SPEED_M_S), help="air movement"
    )


def run(args: argparse.Namespace) -> int:
    """Print the air's state."""
    pressure_pa = STANDARD_PA if args.pressure_pa is None else args.pressure_pa
    if args.altitude_m is not None:
        pressure_pa = float(humid_air.pressure_at_altitude_pa(args.altitude_m))
    found = air_plain(args.temp_c, args.rh_pct, pressure_pa=pressure_pa, air=args.air)
    if args.json:
        print_json({**found, "air": args.air, "standing": air_standings()})
    else:
        for line in _sentences(found, args.air):
            say(line)
    return 0


def air_plain(
    temp_c: float, rh_pct: float, *, pressure_pa: float, air: str
) -> dict[str, float | None]:
    """Return what follows from the air's state; `None` where a quantity does not exist."""
    rh = rh_pct / 100.0
    film = evaporation.wet_film(
        temp_c, rh, air_speed_m_s=evaporation.AIR_SPEED_M_S[air], p_pa=pressure_pa
    )
    damp = rh >= LEAST_RH_FRAC
    frost_c = float(humid_air.frost_point_c(temp_c, rh)) if damp else math.nan
    return {
        "temp_c": temp_c,
        "rh_pct": rh_pct,
        "pressure_pa": pressure_pa,
        "dew_point_c": float(humid_air.dew_point_c(temp_c, rh)) if damp else None,
        "frost_point_c": None if math.isnan(frost_c) else frost_c,
        "wet_bulb_c": float(humid_air.wet_bulb_c(temp_c, rh, p_pa=pressure_pa)),
        "vapour_pressure_pa": float(humid_air.vapour_pressure_pa(temp_c, rh)),
        "vapour_pressure_deficit_pa": float(humid_air.vapour_pressure_deficit_pa(temp_c, rh)),
        "humidity_ratio_kg_kg": float(humid_air.humidity_ratio_kg_kg(temp_c, rh, p_pa=pressure_pa)),
        "wood_emc_pct": float(wood.emc_pct(temp_c, rh)),
        "wet_film_c": float(film.temp_c),
        "evaporation_g_m2_h": float(film.rate_g_m2_h),
    }


def _sentences(found: dict[str, float | None], air: str) -> list[str]:
    dew, frost = found["dew_point_c"], found["frost_point_c"]
    grams = (found["humidity_ratio_kg_kg"] or 0.0) * 1000.0
    dew_said = (
        "No dew point: the air is all but dry."
        if dew is None
        else f"Dew point {dew:.1f} °C: a surface colder than that gets wet; keep it 3 K above."
    )
    film_said = (
        f"A freshly sprayed waterborne film cools itself to {found['wet_film_c']:.1f} °C and loses "
        f"{found['evaporation_g_m2_h']:.0f} g of water from a square metre in an hour ({air} air)."
    )
    wood_said = (
        f"Wet bulb {found['wet_bulb_c']:.1f} °C. Wood left in this air settles at "
        f"{found['wood_emc_pct']:.1f} % moisture."
    )
    vapour_said = (
        f"Vapour pressure {found['vapour_pressure_pa']:.0f} Pa, "
        f"{found['vapour_pressure_deficit_pa']:.0f} Pa short of saturation; "
        f"{grams:.1f} g of water in a kilogram of dry air."
    )
    frost_said = [] if frost is None else [f"Frost point {frost:.1f} °C."]
    head = f"Air at {found['temp_c']:.1f} °C and {found['rh_pct']:.0f} % relative humidity."
    return [head, dew_said, *frost_said, film_said, wood_said, vapour_said]
