"""What is to be said about a room: its climate against the films in it, and its gaps.

`RULES` lists what a finish asks of the air around its films, each with what people are told to do.
A condition that is already told keeps holding until the value has passed its limit by a margin,
so that a value on the limit does not chatter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from curewatch.shop.alert import AlertKind
from curewatch.shop.blush_check import fresh_film
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.cold_check import COOLING_H, can_cold_check, felt_falls_k
from curewatch.shop.conditions import Condition
from curewatch.shop.deeds import DEED_SPEAKS_MS
from curewatch.shop.finish import DryingLaw
from curewatch.shop.reading import Urgency
from curewatch.shop.spray_here import conditions_of
from curewatch.shop.words import listed, percent, span

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.climate import Climate
    from curewatch.shop.conditions import Key
    from curewatch.shop.finish import Finish
    from curewatch.shop.shop import Shop

__all__ = ["RULES", "RoomWork", "can_cold_check", "room_conditions"]

CLIMATE_HOLD_S = 10 * 60.0
COLD_HOLD_S = 60 * 60.0
MARGIN_K, MARGIN_RH_FRAC = 0.5, 0.02
FRESH_MS = 30 * MINUTE_MS  # a solvent coat chills most in its first minutes (our own choice)


@dataclass(frozen=True, slots=True)
class RoomWork:
    """The pieces of a room whose film the climate can still harm.

    Attributes
    ----------
    wet, young, curing: films that dry, are in their first days, or have not cured.
    brittle: hard films that may crack when they cool fast.
    """

    wet: Sequence[PieceNow]
    young: Sequence[PieceNow]
    curing: Sequence[PieceNow]
    brittle: Sequence[PieceNow] = ()

    def fresh(self, now_ms: int) -> list[PieceNow]:
        """Return the pieces coated in the last half hour."""
        return [piece for piece in self.wet if now_ms - (piece.last_coat_at or 0) < FRESH_MS]


@dataclass(frozen=True, slots=True)
class Air:
    """A room's air at a moment, as a rule looks at it."""

    shop: Shop
    room: str
    climate: Climate
    now_ms: int


@dataclass(frozen=True, slots=True)
class Rule:
    """What a finish asks of the air around its films.

    Attributes
    ----------
    kind: of the alert, and how long it must hold [s].
    pieces: whom it concerns, by the moment [ms].
    fault: the reason in words, '' where the rule is kept; takes the air, the finish, the tags and
        whether it is told already.
    action: what to do; takes the tags.
    """

    kind: AlertKind
    hold_s: float
    pieces: Callable[[RoomWork, int], Sequence[PieceNow]]
    fault: Callable[[Air, Finish, list[str], bool], str]
    action: Callable[[list[str]], str]


def room_conditions(
    shop: Shop, room: str, *, now_ms: int, work: RoomWork, told: Collection[Key]
) -> list[Condition]:
    """Return what is to be said about a room's climate and its record.

    Parameters
    ----------
    shop : Shop
        The facts.
    room : str
        Which room.
    now_ms : int
        The moment, a whole minute [ms].
    work : RoomWork
        Pieces in it whose film the climate can harm.
    told : collection of alert keys
        What is told already: those hold until the value has passed its limit by a margin.
    """
    found: list[Condition] = []
    track = shop.book.climates.get(room)
    climate = None if track is None else track.last_known(now_ms)
    gap_ms = shop.longest_gap_s(room) * 1000.0
    if climate is not None and now_ms - climate.at_ms <= gap_ms:
        air = Air(shop, room, climate, now_ms)
        found += [c for rule in RULES for c in _broken(rule, air, work=work, told=told)]
        if work.wet or work.young:
            found += _surface(air, work=[*work.wet, *work.young], told=told)
    if work.curing:
        found += _gaps(shop, room, now_ms=now_ms, curing=work.curing)
    return found


def _broken(rule: Rule, air: Air, *, work: RoomWork, told: Collection[Key]) -> list[Condition]:
    """Return what one rule finds, a condition for each finish."""
    found = []
    for name, (finish, tags) in _by_finish(air.shop, rule.pieces(work, air.now_ms)).items():
        subject = f"room:{air.room}#{name}"
        reason = rule.fault(air, finish, tags, (rule.kind, subject) in told)
        if reason:
            said = f"{air.room}: {reason}"
            action = rule.action(tags)
            found.append(Condition(rule.kind, subject, Urgency.NOW, said, action, rule.hold_s))
    return found


def _by_finish(shop: Shop, work: Sequence[PieceNow]) -> dict[str, tuple[Finish, list[str]]]:
    found: dict[str, tuple[Finish, list[str]]] = {}
    for piece in work:
        finish = shop.finishes[piece.finish, piece.finish_revision]
        found.setdefault(finish.name, (finish, []))[1].append(piece.tag)
    return found


def _outside(air: Air, finish: Finish, tags: list[str], held: bool) -> str:  # noqa: FBT001 - as a `Rule` calls it
    """Say how a climate is outside a finish's limits."""
    limits, words, climate = finish.limits, air.shop.words, air.climate
    margin_k, margin_rh = (MARGIN_K, MARGIN_RH_FRAC) if held else (0.0, 0.0)
    stop = limits.rh_stop_pct.value / 100.0
    if climate.temp_c < limits.temp_low_c.value + margin_k:
        fault = (
            f"{words.temp(climate.temp_c)}, at least {words.temp(limits.temp_low_c.value)} asked"
        )
    elif climate.temp_c > limits.temp_high_c.value - margin_k:
        fault = (
            f"{words.temp(climate.temp_c)}, at most {words.temp(limits.temp_high_c.value)} asked"
        )
    elif climate.rh_frac is not None and climate.rh_frac >= stop - margin_rh:
        fault = f"relative humidity {percent(climate.rh_frac)}, under {percent(stop)} asked"
    else:
        return ""
    return f"{fault} with wet work in it ({listed(tags)})."


def _film_cold(air: Air, finish: Finish, tags: list[str], held: bool) -> str:  # noqa: FBT001 - likewise
    """Say that a wet film is colder than it may be to form."""
    asked, climate = finish.limits.film_forming_c, air.climate
    if asked is None or climate.rh_frac is None or finish.drying.law is not DryingLaw.WATER:
        return ""
    film_c = air.shop.book.wet_film_c(air.shop.room(air.room), climate)
    if film_c >= asked.value + (MARGIN_K if held else 0.0):
        return ""
    words = air.shop.words
    return (
        f"the wet film on {listed(tags)} cools itself to {words.temp(film_c)} while the air is "
        f"{words.temp(climate.temp_c)}; {words.temp(asked.value)} is asked for it to form."
    )


def _blush(air: Air, finish: Finish, tags: list[str], held: bool) -> str:  # noqa: FBT001 - likewise
    """Say that coats just laid chill below the dew point, thinned as their finish usually is."""
    film = fresh_film(finish, conditions_of(air.shop, air.room, air.climate))
    if film is None or film.margin_wood_k >= (MARGIN_K if held else 0.0):
        return ""
    words = air.shop.words
    near = words.kelvin(abs(film.margin_wood_k))
    side = "below" if film.margin_wood_k < 0.0 else "above"
    return (
        f"a fresh coat chills itself to {words.temp(film.lowest_film_c)}, {near} {side} the dew "
        f"point ({listed(tags)}): water can settle on it and turn it white."
    )


def _cold(air: Air, finish: Finish, tags: list[str], held: bool) -> str:  # noqa: FBT001 - likewise
    """Say that films in their first days are below the finish's floor."""
    if finish.cure is None:
        return ""
    temp_c = _surface_c(air.climate)
    floor_c = finish.cure.lower_limit_c.value
    if temp_c >= floor_c + (MARGIN_K if held else 0.0):
        return ""
    words = air.shop.words
    return (
        f"{words.temp(temp_c)} on films in their first days ({listed(tags)}); below "
        f"{words.temp(floor_c)} they earn nothing and may be harmed for good."
    )


def _cooling(air: Air, finish: Finish, tags: list[str], held: bool) -> str:  # noqa: FBT001 - likewise
    """Say that hard films have cooled faster than they bear, by the room or by being carried."""
    asked = finish.limits.cold_check_k_h
    assert asked is not None  # noqa: S101 - or none of its pieces were brittle
    allowed_k = asked.value * COOLING_H - (MARGIN_K if held else 0.0)
    falls = felt_falls_k(air.shop, tags, room=air.room, climate=air.climate, now_ms=air.now_ms)
    cracked = [tag for tag, fall_k in falls.items() if fall_k > allowed_k]
    if not cracked:
        return ""
    words = air.shop.words
    return (
        f"{listed(cracked)} cooled by {words.kelvin(max(falls[tag] for tag in cracked))} to "
        f"{words.temp(air.climate.temp_c)} within {COOLING_H:g} h; a hard film of this finish may "
        f"crack beyond {words.kelvin(asked.value)} an hour."
    )


RULES: Final = (
    Rule(
        AlertKind.WET_WORK_CLIMATE,
        CLIMATE_HOLD_S,
        lambda work, _: work.wet,
        _outside,
        lambda _: (
            "Bring the room back within the sheet's limits, away from solvent vapour and open "
            "elements."
        ),
    ),
    Rule(
        AlertKind.FILM_COLD,
        CLIMATE_HOLD_S,
        lambda work, _: work.wet,
        _film_cold,
        lambda _: "Warm the room; a film that forms too cold can stay milky and weak for good.",
    ),
    Rule(
        AlertKind.BLUSH,
        0.0,
        lambda work, now_ms: work.fresh(now_ms),
        _blush,
        lambda tags: (
            "Lay no more coats in this air. Dry it, or warm it away from vapour and open "
            f"elements. If the coat whitens: curewatch piece suspects {min(tags)}"
        ),
    ),
    Rule(
        AlertKind.COLD_YOUNG_FILM,
        COLD_HOLD_S,
        lambda work, _: work.young,
        _cold,
        lambda _: "Warm the room slowly; look for haze and softness before going on.",
    ),
    Rule(
        AlertKind.COLD_CHECK,
        0.0,
        lambda work, _: work.brittle,
        _cooling,
        lambda _: (
            "Slow the cooling: wrap the pieces or warm the room gently, away from vapour. Let what "
            "was carried warm up in its wrapping. Then look for fine cracks across the grain."
        ),
    ),
)


def _surface(air: Air, *, work: Sequence[PieceNow], told: Collection[Key]) -> list[Condition]:
    """Compare the surface with the dew point; without a surface sensor, the air, and say so."""
    shop, room, climate = air.shop, air.room, air.climate
    dew_c = shop.book.dew_point_c(room, climate)
    if dew_c is None:
        return []
    subject = f"room:{room}"
    asked = max(f.limits.surface_dew_stop_k.value for f, _ in _by_finish(shop, work).values())
    margin = MARGIN_K if (AlertKind.SURFACE_DEW, subject) in told else 0.0
    value = _surface_c(climate)
    if value - dew_c >= asked + margin:
        return []
    words = shop.words
    what = "surface not measured; the air" if climate.surface_c is None else "the surface"
    tags = {piece.tag for piece in work}
    return [
        Condition(
            AlertKind.SURFACE_DEW,
            subject,
            Urgency.NOW,
            f"{room}: {what} is only {words.kelvin(value - dew_c)} above the dew point "
            f"{words.temp(dew_c)} with {listed(tags)} in it.",
            "Dry the air or warm the pieces before water settles on them; spray nothing.",
            CLIMATE_HOLD_S,
        )
    ]


def _surface_c(climate: Climate) -> float:
    return climate.temp_c if climate.surface_c is None else climate.surface_c


def _gaps(shop: Shop, room: str, *, now_ms: int, curing: Sequence[PieceNow]) -> list[Condition]:
    """Say every stretch without credit that has ended in the last week."""
    since = min(piece.last_coat_at or now_ms for piece in curing)
    frontier = min(now_ms, shop.book.frontier_ms(room) or now_ms)
    week = max(since, now_ms - DEED_SPEAKS_MS)
    stretches = shop.book.air_gaps(room, week, now_ms)
    if stretches and stretches[0][0] == week:  # it began before: say how long it was in all
        stretches = shop.book.air_gaps(room, since, now_ms)
    found = []
    for start, stop in stretches:
        if now_ms - DEED_SPEAKS_MS <= stop < frontier:
            words = shop.words
            found.append(
                Condition(
                    AlertKind.GAP,
                    f"room:{room}#gap-{stop // 1000}",
                    Urgency.NOTE,
                    f"{room}: {span((stop - start) / MS_PER_H)} without readings earned no hours, "
                    f"{words.dated(start, now_ms)} to {words.dated(stop, now_ms)}.",
                    f"If you know how the room was, fill the gap: curewatch room fill {room}",
                )
            )
    return found
