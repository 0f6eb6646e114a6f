"""Is the air fit to spray a finish: the verdict, the limit that binds, and what would clear it.

With ROOM its newest climate is judged, and the bias of its own sensors; a climate older than the
room's longest gap decides nothing. What you type stands in place of what was measured. Without
ROOM give --temp-c and --rh-pct. Exit status: 0 fit, 10 fit with little to spare, 20 do not spray
now, 30 cannot tell. It judges this moment and says nothing of the hours the coat needs to flash.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from curewatch.assembly import finish_now
from curewatch.cli.bench import bench
from curewatch.cli.show import print_json, say
from curewatch.errors import BadInput
from curewatch.science.evaporation import AIR_SPEED_M_S
from curewatch.science.humid_air import pressure_at_altitude_pa
from curewatch.settings import load_settings
from curewatch.shop.assessment import assess_room, conditions_of
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.plain import check_plain, instant
from curewatch.shop.reading import Standing
from curewatch.shop.spray import Conditions, SprayCheck, Verdict, spray_check
from curewatch.shop.thinners import THINNERS, thinner_named
from curewatch.shop.words import Words, percent, span

if TYPE_CHECKING:
    import argparse

    from curewatch.shop.blush_check import FreshFilm
    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import Plain

EXIT = {Verdict.FIT: 0, Verdict.TIGHT: 10, Verdict.WAIT: 20, Verdict.UNKNOWN: 30}
# What air, piece and liquid can be where people work; beyond these a number was mistyped.
BOUNDS: dict[str, tuple[float, float, str]] = {
    "temp_c": (-40.0, 80.0, "degC"),
    "rh_pct": (0.0, 100.0, "%"),
    "surface_c": (-40.0, 120.0, "degC"),
    "liquid_c": (-40.0, 80.0, "degC"),
}
LEAST_WATER_G_M2 = 0.005  # less would be said as 0.00
HEARD_AGAIN = "a fresh reading (look to the room's sensors), or type --temp-c and --rh-pct"
FIELD = {"temp_c": "temp_c", "rh_pct": "rh_frac", "surface_c": "surface_c", "liquid_c": "liquid_c"}


@dataclass(frozen=True, slots=True)
class Place:
    """Where one wants to spray.

    Attributes
    ----------
    here: what is known there, typed values laid over measured ones.
    words: how things are said.
    room: its name, None for typed values alone.
    at_ms: when the room's newest climate was so [ms], None where there is none.
    now_ms: the moment [ms]; None for typed values alone.
    fresh: whether that climate is young enough to decide anything.
    """

    here: Conditions
    words: Words
    room: str | None = None
    at_ms: int | None = None
    now_ms: int | None = None
    fresh: bool = True


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the room, the finish and what was measured by hand."""
    parser.add_argument("room", nargs="?", metavar="ROOM", help="the room whose air is judged")
    parser.add_argument("--finish", required=True, metavar="NAME", help="what is to be sprayed")
    parser.add_argument("--temp-c", type=float, metavar="T", help="air temperature [degC]")
    parser.add_argument("--rh-pct", type=float, metavar="R", help="relative humidity [%%]")
    parser.add_argument("--surface-c", type=float, metavar="S", help="the piece itself [degC]")
    parser.add_argument("--liquid-c", type=float, metavar="L", help="the liquid in the gun [degC]")
    parser.add_argument("--air", choices=list(AIR_SPEED_M_S), help="how the air moves")
    parser.add_argument(
        "--thinner",
        metavar="NAME",
        help=f"what a lacquer is thinned with: {', '.join(THINNERS)} (default: the usual one)",
    )


def run(args: argparse.Namespace) -> int:
    """Judge, say so, and return the verdict's exit status."""
    typed = typed_values(args)
    thinner = None if args.thinner is None else thinner_named(args.thinner)
    if args.room is None:
        place, finish = _typed_place(args, typed)
    else:
        place, finish = _room_place(args, typed)
    found = spray_check(finish, place.here, place.words, thinner=thinner, exact=True)
    if args.json:
        print_json(_plain(found, place, typed))
    else:
        _tell(found, finish, place)
    return EXIT[found.verdict]


def typed_values(args: argparse.Namespace) -> dict[str, float]:
    """Return the values that were typed, each one possible.

    Raises
    ------
    BadInput
        When one cannot be, or is no number.
    """
    typed = {}
    for name, (low, high, unit) in BOUNDS.items():
        value: float | None = getattr(args, name)
        if value is None:
            continue
        if not math.isfinite(value) or not low <= value <= high:
            raise BadInput(
                f"--{name.replace('_', '-')} {value:g} {unit} cannot be: give {low:g} to {high:g}"
            )
        typed[name] = value
    return typed


def _laid_over(here: Conditions, typed: dict[str, float], air: str | None) -> Conditions:
    values = {FIELD[name]: value for name, value in typed.items()}
    if "rh_frac" in values:
        values["rh_frac"] /= 100.0
    if air is not None:
        values["air_speed_m_s"] = AIR_SPEED_M_S[air]
    return replace(here, **values)  # type: ignore[arg-type]  # every one of them is a float


def _typed_place(args: argparse.Namespace, typed: dict[str, float]) -> tuple[Place, Finish]:
    """Judge typed values alone; no database is needed."""
    if not {"temp_c", "rh_pct"} <= set(typed):
        raise BadInput("name a ROOM, or give both --temp-c and --rh-pct")
    settings = load_settings(args.config)
    pressure_pa = float(pressure_at_altitude_pa(settings.site.altitude_m))
    blank = Conditions(None, None, pressure_pa=pressure_pa)
    here = _laid_over(blank, typed, args.air)
    return Place(here, settings.words()), finish_now(settings, None, args.finish)


def _room_place(args: argparse.Namespace, typed: dict[str, float]) -> tuple[Place, Finish]:
    """Judge a room's newest climate."""
    with bench(args) as opened:
        known = opened.settings.rooms()
        if args.room not in known:
            named = ", ".join(known) or "none is configured"
            raise BadInput(f"there is no room '{args.room}' in the configuration: {named}")
        finish = finish_now(opened.settings, opened.store, args.finish)
        shop = opened.shop(tags=(), rooms=[args.room])
        now = assess_room(shop, args.room, opened.now_ms)
        measured = conditions_of(shop, args.room, now.climate if now.fresh else None)
        place = Place(
            here=_laid_over(measured, typed, args.air),
            words=opened.words,
            room=args.room,
            at_ms=None if now.climate is None else now.climate.at_ms,
            now_ms=opened.now_ms,
            fresh=now.fresh,
        )
    return place, finish


def _plain(found: SprayCheck, place: Place, typed: dict[str, float]) -> Plain:
    here = place.here
    values = {
        "temp_c": here.temp_c,
        "rh_pct": None if here.rh_frac is None else here.rh_frac * 100.0,
        "surface_c": here.surface_c,
        "liquid_c": here.liquid_c,
    }
    standing: Plain = {limit.name: str(limit.standing) for limit in found.limits}
    standing |= {"dew_point_c": str(Standing.PHYSICS), "wet_film_c": str(Standing.PHYSICS)}
    if found.blush is not None:  # of the film; standing["blush"] is that of the 3 K rule
        standing["thinner"] = str(thinner_named(found.blush.thinner).standing)
    for name, value in values.items():
        standing[name] = "typed" if name in typed else None if value is None else "measured"
    stale = _stale(place)
    said: Plain = {}
    if stale:
        sentence = f"{found.verdict.words}: {stale}"
        said = {"sentence": sentence, "reasons": [stale], "what_would_clear_it": [HEARD_AGAIN]}
    return {
        "room": place.room,
        "at": instant(place.at_ms),
        "fresh": place.fresh if place.room is not None else None,
        **check_plain(found),
        **said,
        **values,
        "temp_error_k": here.bias.temp_k,
        "rh_error_pct": here.bias.rh_frac * 100.0,
        "standing": standing,
    }


def _tell(found: SprayCheck, finish: Finish, place: Place) -> None:
    stale = _stale(place)
    reason = stale or found.sentence.partition(": ")[2]
    where = "" if place.room is None else f" in {place.room}"
    verdict = found.verdict.words
    say(f"{verdict[0].upper()}{verdict[1:]}{where}, {finish.title}: {reason}.")
    if stale:
        say(f"What would clear it: {HEARD_AGAIN}.")
    else:
        _tell_limits(found, place)
    say()
    say(_air(found, place))
    if found.blush is not None:
        say(_fresh_coat(found.blush, place))
    for note in found.notes[:-1]:
        say(f"{note[0].upper()}{note[1:]}.")
    say("This moment alone is judged, not the hours the coat needs to flash.")
    if not finish.tried:
        say("Nobody has tried this profile whole: put your data sheet's figures in.")
    say()
    for caution in finish.safety[2:4]:  # the first two say what curewatch is, as the note does
        say(caution)
    say(found.notes[-1])


def _tell_limits(found: SprayCheck, place: Place) -> None:
    """Name the limit that binds, the others that matter, and what would clear them."""
    words, binding = place.words, found.binding
    if binding is None:
        return
    if binding.margin is None:
        what = "This has to be measured first"
    elif binding.margin < 0.0:
        what = f"Outside by {_amount(-binding.margin, binding.unit, words)}"
    else:
        what = f"To spare {_amount(binding.margin, binding.unit, words)}"
    error = f", give or take {_amount(binding.error, binding.unit, words)}"
    say(f"The limit that binds: {binding.name}. {what}{error} (one standard error).")
    if binding.verdict is Verdict.UNKNOWN and binding.margin is not None:
        say("That is inside the sensors' own error.")
    others = [x for x in found.limits if x is not binding and x.verdict is not Verdict.FIT]
    for limit in others:
        doubt = limit.verdict is Verdict.UNKNOWN and limit.margin is not None
        inside = ", which is inside the sensors' own error" if doubt else ""
        say(f"Also {limit.verdict.words}: {limit.reason}{inside}.")
    clears = dict.fromkeys(x.clears for x in (binding, *others) if x.clears)
    if clears:
        say(f"What would clear it: {'; '.join(clears)}.")


def _stale(place: Place) -> str:
    """Say that a room's climate is too old to decide anything, where nothing else decides."""
    here = place.here
    if place.room is None or place.fresh or place.now_ms is None:
        return ""
    if any(value is not None for value in (here.temp_c, here.rh_frac, here.surface_c)):
        return ""
    if place.at_ms is None:
        return "no sensor of this room was ever heard"
    age = span((place.now_ms - place.at_ms) / MS_PER_H)
    when = place.words.at(place.at_ms, place.now_ms)
    return f"its newest climate is {age} old ({when}) and decides nothing"


def _air(found: SprayCheck, place: Place) -> str:
    here, words = place.here, place.words
    if here.temp_c is None or here.rh_frac is None:
        parts = ["The air is not known, so neither is its dew point"]
    else:
        dew = "none" if found.dew_point_c is None else words.temp(found.dew_point_c)
        parts = [f"Air {words.temp(here.temp_c)} and {percent(here.rh_frac)}, dew point {dew}"]
    if here.surface_c is not None:
        parts.append(f"surface {words.temp(here.surface_c)}")
    if found.wet_film_c is not None:
        parts.append(f"a wet film cools itself to {words.temp(found.wet_film_c)}")
    if place.at_ms is not None and place.now_ms is not None and place.fresh:
        parts.append(f"measured {words.at(place.at_ms, place.now_ms)}")
    return ", ".join(parts) + "."


def _fresh_coat(film: FreshFilm, place: Place) -> str:
    """Say what the coat's own chill does, and what was taken for granted."""
    words = place.words
    away = words.kelvin(abs(film.margin_wood_k))
    side = "below" if film.margin_wood_k < 0.0 else "above"
    edge = words.kelvin(abs(film.margin_edge_k))
    edge_side = "below" if film.margin_edge_k < 0.0 else "above"
    told = (
        f"Thinned with {thinner_named(film.thinner).title} ('{film.thinner}'), a fresh coat over "
        f"wood chills itself to {words.temp(film.lowest_film_c)}, {away} {side} the dew point, "
        f"give or take {words.kelvin(film.error_k)}; edges come to {edge} {edge_side} it"
    )
    if film.condensed_edge_g_m2 >= LEAST_WATER_G_M2:
        told += f" and take up {film.condensed_edge_g_m2:.2f} g/m² of water"
    return told + ". Below it water settles and the film turns white."


def _amount(value: float, unit: str, words: Words) -> str:
    return f"{value:.0f} points" if unit == "%" else words.kelvin(value)
