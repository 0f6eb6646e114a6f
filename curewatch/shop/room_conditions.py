"""What is to be said about a room: its climate against the films in it, and its gaps.

A condition that is already told keeps holding until the value has passed its limit by a margin,
so that a value on the limit does not chatter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.alert import AlertKind
from curewatch.shop.assessment import conditions_of
from curewatch.shop.blush_check import fresh_film
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.conditions import DEED_SPEAKS_MS, Condition
from curewatch.shop.finish import DryingLaw
from curewatch.shop.reading import Urgency
from curewatch.shop.words import listed, percent, span

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.climate import Climate
    from curewatch.shop.conditions import Key
    from curewatch.shop.finish import Finish
    from curewatch.shop.shop import Shop

CLIMATE_HOLD_S = 10 * 60.0
COLD_HOLD_S = 60 * 60.0
MARGIN_K, MARGIN_RH_FRAC = 0.5, 0.02
FRESH_MS = 30 * MINUTE_MS  # a solvent coat chills most in its first minutes (our own choice)


@dataclass(frozen=True, slots=True)
class RoomWork:
    """The pieces of a room whose film the climate can still harm."""

    wet: Sequence[PieceNow]
    young: Sequence[PieceNow]
    curing: Sequence[PieceNow]


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
        Pieces in it that are wet, young, or still curing.
    told : collection of alert keys
        What is told already: those hold until the value has passed its limit by a margin.
    """
    found: list[Condition] = []
    track = shop.book.climates.get(room)
    climate = None if track is None else track.last_known(now_ms)
    gap_ms = shop.longest_gap_s(room) * 1000.0
    if climate is not None and now_ms - climate.at_ms <= gap_ms:
        if work.wet:
            found += _wet_work(shop, room, climate, work=work.wet, told=told)
            fresh = [piece for piece in work.wet if now_ms - (piece.last_coat_at or 0) < FRESH_MS]
            found += _blush(shop, room, climate, work=fresh, told=told)
        if work.wet or work.young:
            found += _surface(shop, room, climate, work=[*work.wet, *work.young], told=told)
        if work.young:
            found += _cold(shop, room, climate, work=work.young, told=told)
    if work.curing:
        found += _gaps(shop, room, now_ms=now_ms, curing=work.curing)
    return found


def _by_finish(shop: Shop, work: Sequence[PieceNow]) -> dict[str, tuple[Finish, list[str]]]:
    found: dict[str, tuple[Finish, list[str]]] = {}
    for piece in work:
        finish = shop.finishes[piece.finish, piece.finish_revision]
        found.setdefault(finish.name, (finish, []))[1].append(piece.tag)
    return found


def _wet_work(
    shop: Shop,
    room: str,
    climate: Climate,
    *,
    work: Sequence[PieceNow],
    told: Collection[Key],
) -> list[Condition]:
    found = []
    for name, (finish, tags) in _by_finish(shop, work).items():
        subject = f"room:{room}#{name}"
        held = (AlertKind.WET_WORK_CLIMATE, subject) in told
        fault = _outside(shop, finish, climate, held=held)
        if fault:
            found.append(
                Condition(
                    AlertKind.WET_WORK_CLIMATE,
                    subject,
                    Urgency.NOW,
                    f"{room}: {fault} with wet work in it ({listed(tags)}).",
                    "Bring the room back within the sheet's limits, away from solvent vapour and "
                    "open elements.",
                    CLIMATE_HOLD_S,
                )
            )
        found += _film_cold(shop, room, climate, finish=finish, tags=tags, told=told)
    return found


def _outside(shop: Shop, finish: Finish, climate: Climate, *, held: bool) -> str:
    """Say how a climate is outside a finish's limits, '' where it is inside."""
    limits, words = finish.limits, shop.words
    margin_k, margin_rh = (MARGIN_K, MARGIN_RH_FRAC) if held else (0.0, 0.0)
    if climate.temp_c < limits.temp_low_c.value + margin_k:
        return f"{words.temp(climate.temp_c)}, at least {words.temp(limits.temp_low_c.value)} asked"
    if climate.temp_c > limits.temp_high_c.value - margin_k:
        return f"{words.temp(climate.temp_c)}, at most {words.temp(limits.temp_high_c.value)} asked"
    stop = limits.rh_stop_pct.value / 100.0
    if climate.rh_frac is not None and climate.rh_frac >= stop - margin_rh:
        return f"relative humidity {percent(climate.rh_frac)}, under {percent(stop)} asked"
    return ""


def _film_cold(
    shop: Shop,
    room: str,
    climate: Climate,
    *,
    finish: Finish,
    tags: list[str],
    told: Collection[Key],
) -> list[Condition]:
    asked = finish.limits.film_forming_c
    if asked is None or climate.rh_frac is None or finish.drying.law is not DryingLaw.WATER:
        return []
    subject = f"room:{room}#{finish.name}"
    film_c = shop.book.wet_film_c(shop.room(room), climate)
    margin = MARGIN_K if (AlertKind.FILM_COLD, subject) in told else 0.0
    if film_c >= asked.value + margin:
        return []
    words = shop.words
    return [
        Condition(
            AlertKind.FILM_COLD,
            subject,
            Urgency.NOW,
            f"{room}: the wet film on {listed(tags)} cools itself to {words.temp(film_c)} while "
            f"the air is {words.temp(climate.temp_c)}; {words.temp(asked.value)} is asked for it "
            "to form.",
            "Warm the room; a film that forms too cold can stay milky and weak for good.",
            CLIMATE_HOLD_S,
        )
    ]


def _blush(
    shop: Shop,
    room: str,
    climate: Climate,
    *,
    work: Sequence[PieceNow],
    told: Collection[Key],
) -> list[Condition]:
    """Say that coats just laid chill below the dew point, thinned as their finish usually is."""
    found = []
    for name, (finish, tags) in _by_finish(shop, work).items():
        subject = f"room:{room}#{name}"
        film = fresh_film(finish, conditions_of(shop, room, climate))
        margin = MARGIN_K if (AlertKind.BLUSH, subject) in told else 0.0
        if film is None or film.margin_wood_k >= margin:
            continue
        words = shop.words
        near = words.kelvin(abs(film.margin_wood_k))
        side = "below" if film.margin_wood_k < 0.0 else "above"
        found.append(
            Condition(
                AlertKind.BLUSH,
                subject,
                Urgency.NOW,
                f"{room}: a fresh coat chills itself to {words.temp(film.lowest_film_c)}, {near} "
                f"{side} the dew point ({listed(tags)}): water can settle on it and turn it white.",
                "Lay no more coats in this air. Dry it, or warm it away from vapour and open "
                f"elements. If the coat whitens: curewatch piece suspects {min(tags)}",
            )
        )
    return found


def _surface(
    shop: Shop,
    room: str,
    climate: Climate,
    *,
    work: Sequence[PieceNow],
    told: Collection[Key],
) -> list[Condition]:
    """Compare the surface with the dew point; without a surface sensor, the air, and say so."""
    dew_c = shop.book.dew_point_c(room, climate)
    if dew_c is None:
        return []
    subject = f"room:{room}"
    asked = max(f.limits.surface_dew_stop_k.value for f, _ in _by_finish(shop, work).values())
    margin = MARGIN_K if (AlertKind.SURFACE_DEW, subject) in told else 0.0
    value = climate.temp_c if climate.surface_c is None else climate.surface_c
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


def _cold(
    shop: Shop,
    room: str,
    climate: Climate,
    *,
    work: Sequence[PieceNow],
    told: Collection[Key],
) -> list[Condition]:
    found = []
    temp_c = climate.temp_c if climate.surface_c is None else climate.surface_c
    for name, (finish, tags) in _by_finish(shop, work).items():
        subject = f"room:{room}#{name}"
        if finish.cure is None:
            continue
        floor_c = finish.cure.lower_limit_c.value
        margin = MARGIN_K if (AlertKind.COLD_YOUNG_FILM, subject) in told else 0.0
        if temp_c < floor_c + margin:
            words = shop.words
            found.append(
                Condition(
                    AlertKind.COLD_YOUNG_FILM,
                    subject,
                    Urgency.NOW,
                    f"{room}: {words.temp(temp_c)} on films in their first days ({listed(tags)}); "
                    f"below {words.temp(floor_c)} they earn nothing and may be harmed for good.",
                    "Warm the room slowly; look for haze and softness before going on.",
                    COLD_HOLD_S,
                )
            )
    return found


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
                    f"{words.at(start, now_ms)} to {words.at(stop, now_ms)}.",
                    f"If you know how the room was, fill the gap: curewatch room fill {room}",
                )
            )
    return found
