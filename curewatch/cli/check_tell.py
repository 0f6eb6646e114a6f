"""A spray check in sentences: the verdict first, then why, what would clear it, the hours ahead."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.show import say
from curewatch.shop.finish import DryingLaw
from curewatch.shop.plain_check import NO_AIR
from curewatch.shop.plain_room_check import HEARD_AGAIN, Place, stale
from curewatch.shop.reading import Standing
from curewatch.shop.spray_terms import Verdict
from curewatch.shop.thinners import thinner_named
from curewatch.shop.words import percent, span

if TYPE_CHECKING:
    from curewatch.shop.blush_check import FreshFilm
    from curewatch.shop.spray_ahead import SprayAhead
    from curewatch.shop.spray_answer import SprayAnswer
    from curewatch.shop.spray_recoat import Recoat
    from curewatch.shop.spray_terms import Conditions, Limit
    from curewatch.shop.words import Words

LEAST_WATER_G_M2 = 0.005  # less would be said as 0.00
ALSO_MEASURED = "what was typed in place of a reading has no hours to come"
QUARTER_MS = 15 * 60_000
LIMIT_WORDS = {
    "air-low": "the air's cold",
    "air-high": "the air's heat",
    "liquid-low": "the liquid's cold",
    "liquid-high": "the liquid's heat",
    "surface-low": "the piece's cold",
    "surface-high": "the piece's heat",
    "humidity-high": "humidity",
    "humidity-low": "dry air",
    "surface-over-dew-point": "the dew point",
    "air-over-dew-point": "the dew point",
    "film-forming": "the wet film's cold",
    "water-leaving": "water that does not leave",
    "blush": "blush",
}


def tell(answer: SprayAnswer, place: Place) -> None:
    """Print the answer."""
    old, finish = stale(place), answer.job.finish
    reason = old or answer.sentence.partition(": ")[2]
    where = "" if place.room is None else f" in {place.room}"
    say(f"{_first(answer.verdict.words)}{where}, {finish.title}: {reason}.")
    if old:
        say(f"What would clear it: {HEARD_AGAIN}.")
    else:
        _tell_limits(answer, place)
        _tell_clears(answer)
    say()
    say(_hours_ahead(answer, place))
    if answer.recoat is not None:
        say(_next_coat(answer.recoat, place, shown=place.here))
    elif finish.drying.law is DryingLaw.NONE:
        say("This finish is cured by dose: no hour tells when the next coat may follow.")
    say()
    say(_air(answer, place))
    if place.clock_note:
        say(place.clock_note)
    if answer.now.blush is not None:
        say(_fresh_coat(answer.now.blush, place))
    for note in answer.now.notes[:-1]:
        say(f"{_first(note)}.")
    if not finish.tried:
        say("Nobody has tried this profile whole: put your data sheet's figures in.")
    say()
    for caution in finish.safety[2:4]:  # the first two say what curewatch is, as the note does
        say(caution)
    say(answer.now.notes[-1])


def _first(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}"


def _tell_limits(answer: SprayAnswer, place: Place) -> None:
    """Name the limit that binds and the others that matter."""
    words, binding = place.words, answer.binding
    if binding is None:
        return
    error = f", give or take {_amount(binding.error, binding.unit, words)} (one standard error)"
    if binding.margin is None:
        what, error = "This has to be measured first", ""
    elif binding.margin < 0.0:
        what = f"outside by {_amount(-binding.margin, binding.unit, words)}"
    else:
        what = f"to spare {_amount(binding.margin, binding.unit, words)}"
    far = binding.verdict is not answer.verdict  # an end of the hours' band, not the likely air
    where = "At the far end of what is likely here, " if far else ""
    say(
        f"The limit that binds: {binding.name} ({_stands(binding)}). "
        f"{_first(f'{where}{what}')}{error}."
    )
    if binding.verdict is Verdict.UNKNOWN and binding.margin is not None:
        say("That is inside the sensors' own error.")
    if far:
        return
    for limit in answer.decisive.limits:
        if limit is binding or limit.verdict is Verdict.FIT:
            continue
        doubt = limit.verdict is Verdict.UNKNOWN and limit.margin is not None
        inside = ", which is inside the sensors' own error" if doubt else ""
        say(f"Also {limit.verdict.words}: {limit.reason}{inside}.")


def _stands(limit: Limit) -> str:
    return str(limit.standing).replace("-", " ")


def _tell_clears(answer: SprayAnswer) -> None:
    """Name what was tried and serves."""
    if answer.verdict is Verdict.FIT:
        return
    tried = [one for one in answer.clears if one.gives is not None]
    if not answer.clears:
        say("No single change that was tried would clear it, nor any two together.")
        return
    say("What would clear it:")
    for one in answer.clears:
        say(f"- {one.words}", indent=2)
    if any("+" in one.change for one in tried):
        say("No single change would.")
    if any("warmer" in one.change for one in tried):
        say("Warmth only from what the label and the local code allow near this work.")


def _hours_ahead(answer: SprayAnswer, place: Place) -> str:
    """Say until when it is likely to stay so, in words of probability."""
    ahead, now_ms = answer.ahead, place.now_ms
    if ahead is None or now_ms is None:
        if place.room is None:
            return "Typed values say nothing of the hours the coat needs to flash."
        return f"Ahead: {ALSO_MEASURED if place.typed else NO_AIR}."
    coats = answer.job.coats
    last = "the coat" if coats == 1 else f"the last of {coats} coats"
    until = _down(ahead.until_ms, place)
    if ahead.cut:
        end = f"until {until}, as far as anybody can look; {last} flashes later"
    else:
        end = f"until {until}, when {last} should have flashed at the latest"
    planned = ", with the room as planned" if ahead.planned else ""
    if not answer.now.verdict.is_go:
        why = LIMIT_WORDS.get(ahead.limit or "", "a limit")
        better = "likely fit to spray" if ahead.verdict.is_go else f"likely no better ({why})"
        return f"Ahead{planned}, {end}: {better}."
    return f"Ahead{planned}: {_turning(ahead, place, end)}."


def _turning(ahead: SprayAhead, place: Place, end: str) -> str:
    turns, why = ahead.turns, LIMIT_WORDS.get(ahead.limit or "", "a limit")
    if turns.early is None:
        return f"likely to stay so {end}"
    early = _down(turns.early, place)
    if turns.likely is None:
        return f"likely to stay so {end}, but from about {early} it may turn ({why})"
    likely = _down(turns.likely, place)
    may = f"it may turn then ({why})" if early == likely else f"from {early} it may turn ({why})"
    late = "" if turns.late is None else _down(turns.late, place)
    return f"likely until about {likely}; {may}" + (
        f", by {late} almost surely" if late not in ("", likely) else ""
    )


def _down(at_ms: int, place: Place) -> str:
    """Say an instant ahead rounded down to the quarter hour: what may turn is told early."""
    assert place.now_ms is not None  # noqa: S101 - only rooms have hours ahead
    return place.words.at(at_ms // QUARTER_MS * QUARTER_MS, place.now_ms)


def _next_coat(found: Recoat, place: Place, *, shown: Conditions) -> str:
    """Say when the next coat may follow here, beside the sheet's time."""
    sheet = "sheet" if found.standing is Standing.DATA_SHEET else "profile"
    room = f"{place.words.temp(found.sheet_temp_c)} and {found.sheet_rh_pct:.0f} %"
    told = f"Next coat: the {sheet} says {_rough(found.sheet_h)} at {room}; here "
    one, last = found.one, found.last
    if shown.temp_c is None or one.likely is None:
        return f"{told}it does not flash within three days."
    told += f"about {_rough(one.likely)} ({_rough(one.earliest)} to {_rough(one.latest)})"
    if found.coats > 1:
        told += (
            f". All {found.coats} coats flashed in about {_rough(last.likely)} "
            f"({_rough(last.earliest)} to {_rough(last.latest)}), each laid as soon as it may be"
        )
    return f"{told}. Feel it before you go on."


def _rough(hours: float | None) -> str:
    """Say hours no finer than they can be known."""
    if hours is None:
        return "more than three days"
    minutes = hours * 60.0
    step = 5.0 if minutes < 120.0 else 15.0  # noqa: PLR2004 - two hours
    if minutes < 10.0:  # noqa: PLR2004
        step = 1.0
    return span(round(minutes / step) * step / 60.0)


def _air(answer: SprayAnswer, place: Place) -> str:
    here, words, now = place.here, place.words, answer.now
    if here.temp_c is None or here.rh_frac is None:
        parts = ["The air is not known, so neither is its dew point"]
    else:
        dew = "none" if now.dew_point_c is None else words.temp(now.dew_point_c)
        air, humid = (_marked(place, name) for name in ("temp_c", "rh_pct"))
        said = f"Air {words.temp(here.temp_c)}{air if air != humid else ''} and "
        parts = [f"{said}{percent(here.rh_frac)}{humid}", f"dew point {dew}"]
    if here.surface_c is not None:
        parts.append(f"surface {words.temp(here.surface_c)}{_marked(place, 'surface_c')}")
    if here.liquid_c is not None:
        parts.append(f"liquid {words.temp(here.liquid_c)}{_marked(place, 'liquid_c')}")
    if now.wet_film_c is not None:
        parts.append(f"a wet film cools itself to {words.temp(now.wet_film_c)}")
    return ", ".join(parts) + "."


def _marked(place: Place, name: str) -> str:
    """Say whether a value was typed or measured, and when."""
    if name in place.typed:
        return " (typed)"
    if place.at_ms is None or place.now_ms is None:
        return ""
    return f" (measured {place.words.at(place.at_ms, place.now_ms)})"


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
