"""What a plan is made from: the pieces as they hang, and what their rooms will earn."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from curewatch.assembly import finish_now
from curewatch.clock import system_ms
from curewatch.errors import BadInput
from curewatch.named import known_room, pieces_named
from curewatch.science.humid_air import pressure_at_altitude_pa
from curewatch.shop.clocks_ahead import RoomClocks, given_clocks, room_clocks
from curewatch.shop.coat_window import window_now
from curewatch.shop.day_plan import Hook
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.plan_cautions import Caution
from curewatch.shop.room import Room
from curewatch.shop.typed import AIR, HUMIDITY, asked_back
from curewatch.shop.words import listed, percent, span

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.opened import Opened
    from curewatch.planning.wish import PlanWish
    from curewatch.settings import Settings
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.shop import Shop
    from curewatch.shop.words import Words

DAY_MS, HOUR_MS = 86_400_000, 3_600_000
STALE_MS = 3 * HOUR_MS  # an outlook from an older reading is said to be one (our own figure)
NO_TAG = "piece"
TYPED_DOUBT = (
    "Early and late ends allow for a usual sensor, the air's movement and how strongly warmth "
    "speeds the finish; not for a room that drifts."
)
ROOM_DOUBT = (
    "Early and late ends allow for how far this room's outlooks have missed (they should hold "
    "four times in five), its sensors, the air's movement and how strongly warmth speeds the "
    "finish."
)


@dataclass(frozen=True, slots=True)
class Climate:
    """A climate that was typed: it is kept [degC, fraction]."""

    temp_c: float
    rh_frac: float


@dataclass(frozen=True, slots=True)
class Known:
    """What a plan is made from.

    Attributes
    ----------
    hooks: the pieces, in order.
    finish: what is sprayed.
    now_ms: the moment [ms].
    words: how things are said.
    site: the shop's name.
    basis: what the time ahead is taken from, as a sentence.
    doubt: what its early and late ends allow for, as a sentence.
    room: where the pieces will dry, as the shop describes it.
    climate: what was typed, or the last day's mean of the room; None where it is not known.
    record_days: days of the rooms' record at hand [d]; None for a climate that was typed.
    cautions: what is to be said of all that.
    shop: the shop with the rooms' record; None for a climate that was typed, without pieces.
    """

    hooks: tuple[Hook, ...]
    finish: Finish
    now_ms: int
    words: Words
    site: str
    basis: str
    doubt: str
    room: Room
    climate: Climate | None = None
    record_days: float | None = None
    cautions: tuple[Caution, ...] = ()
    shop: Shop | None = None

    def rehang(self, temp_c: float, rh_frac: float) -> tuple[Hook, ...]:
        """Return the pieces as they would hang in a room kept so from now on [degC, fraction]."""
        found = []
        for hook in self.hooks:
            clocks = _given(hook.finish, self.room, Climate(temp_c, rh_frac))
            if hook.window is None or self.shop is None:
                found.append(replace(hook, clocks=clocks))
            else:
                found.append(_hook(self.shop, self.shop.pieces[hook.tag], clocks, self.now_ms))
        return tuple(found)


def typed_climate(wish: PlanWish) -> Climate | None:
    """Return the climate that was typed, None where none was.

    Raises
    ------
    BadInput
        When it cannot be, is half a climate, or a room is named too.
    """
    temp_c = asked_back(wish.temp_c, AIR, option="--temp-c", really=wish.really)
    rh_pct = asked_back(wish.rh_pct, HUMIDITY, option="--rh-pct", really=wish.really)
    if temp_c is None and rh_pct is None:
        return None
    if temp_c is None or rh_pct is None:
        raise BadInput("a climate needs both --temp-c and --rh-pct")
    if wish.room is not None:
        raise BadInput("give --room, or a climate with --temp-c and --rh-pct: one of the two")
    return Climate(temp_c, rh_pct / 100.0)


def known_without_shop(wish: PlanWish, settings: Settings, climate: Climate) -> Known:
    """Return what is known of a piece of no name in a climate that was typed; no storage needed."""
    words, now_ms = settings.words(), system_ms()
    finish = finish_now(settings, None, wish.finish)
    pressure_pa = float(pressure_at_altitude_pa(settings.site.altitude_m))
    room = Room("typed", air=wish.air or Room("typed").air, pressure_pa=pressure_pa)
    return Known(
        hooks=(Hook(NO_TAG, finish, _given(finish, room, climate)),),
        finish=finish,
        now_ms=now_ms,
        words=words,
        site=settings.site.name,
        basis=_typed_basis(words, climate, room),
        doubt=TYPED_DOUBT,
        room=room,
        climate=climate,
    )


def known_in_shop(wish: PlanWish, opened: Opened, climate: Climate | None) -> Known:
    """Return what is known of pieces that hang, or of a room that is heard."""
    now_ms = opened.now_ms
    tags = [] if wish.pieces is None else _tags(wish.pieces)
    pieces = pieces_named(opened, tags, hanging_at_ms=now_ms)
    finish = finish_now(opened.settings, opened.store, wish.finish)
    for piece in pieces:
        if piece.finish != finish.name:
            raise BadInput(
                f"{piece.tag} hangs with {piece.finish}: a coat of {finish.name} over it has no "
                "window that could be told"
            )
    cautions: list[Caution] = []
    rooms = _rooms(wish, opened, pieces, cautions)
    shop = opened.shop(tags, sorted({*rooms, *(s.room for p in pieces for s in p.stays)}))
    shop.finishes.setdefault((finish.name, finish.revision), finish)
    for piece in pieces:
        if piece.tag in shop.held:
            raise BadInput(
                f"{piece.tag} is held ({shop.held[piece.tag]}): no coat is planned on it until it "
                "is released; leave it out of --pieces"
            )
    hooks = []
    for number, room in enumerate(rooms):
        under = shop.finish_of(pieces[number]) if pieces else finish
        clocks = _clocks(shop, under, room, now_ms=now_ms, climate=climate, air=wish.air)
        hooks.append(
            _hook(shop, pieces[number], clocks, now_ms) if pieces else Hook(NO_TAG, finish, clocks)
        )
    here = shop.room(rooms[0]) if wish.air is None else replace(shop.room(rooms[0]), air=wish.air)
    named = tuple(dict.fromkeys(rooms))
    days = min(_days(shop, name, now_ms) for name in named)
    if climate is None:
        cautions += _stale(shop, named, now_ms)
    return Known(
        hooks=tuple(hooks),
        finish=finish,
        now_ms=now_ms,
        words=opened.words,
        site=opened.settings.site.name,
        basis=_room_basis(named, days)
        if climate is None
        else _typed_basis(opened.words, climate, here),
        doubt=ROOM_DOUBT if climate is None else TYPED_DOUBT,
        room=here,
        climate=climate or _last_day(shop, here.name, now_ms),
        record_days=days if climate is None else None,
        cautions=tuple(cautions),
        shop=shop,
    )


def _tags(text: str) -> list[str]:
    tags = [tag.strip() for tag in text.split(",")]
    if not all(tags):
        raise BadInput(f"--pieces {text!r}: name tags with a comma between, such as B12,N7")
    return tags


def _rooms(
    wish: PlanWish, opened: Opened, pieces: Sequence[Piece], cautions: list[Caution]
) -> list[str]:
    """Return the room where each piece will dry; one room where no piece is named."""
    if wish.room is not None:
        return [known_room(opened.settings, wish.room)] * max(len(pieces), 1)
    if not pieces:
        return [_any_room(opened, cautions)]
    rooms = []
    for piece in pieces:
        room = piece.room_at(opened.now_ms)
        if room is None:
            raise BadInput(
                f"nobody said where {piece.tag} hangs: name its room with --room ROOM, or say it "
                f"with curewatch move {piece.tag} ROOM"
            )
        rooms.append(room)
    return rooms


def _any_room(opened: Opened, cautions: list[Caution]) -> str:
    """Return the shop's only room; with several, the first, and say so."""
    names = list(opened.settings.rooms())
    if not names:
        raise BadInput(
            "there is no room in the configuration: give a climate with --temp-c and --rh-pct"
        )
    if len(names) > 1:
        words = f"no room was named, so {names[0]} is taken; --room names another"
        cautions.append(Caution("room-taken", None, None, words))
    return names[0]


def _clocks(
    shop: Shop,
    finish: Finish,
    room: str,
    *,
    now_ms: int,
    climate: Climate | None,
    air: str | None,
) -> RoomClocks:
    here = shop.room(room) if air is None else replace(shop.room(room), air=air)
    if climate is not None:
        return _given(finish, here, climate)
    if air is not None:
        shop.rooms[room] = here
    found = room_clocks(shop, room, finish, now_ms)
    if found is None:
        raise BadInput(
            f"{room} was never heard, so nothing can be told of its hours: look to its sensors, "
            "or type a climate with --temp-c and --rh-pct"
        )
    return found


def _hook(shop: Shop, piece: Piece, clocks: RoomClocks, now_ms: int) -> Hook:
    finish, laid = shop.finish_of(piece), piece.coats_until(now_ms)
    if not laid:
        return Hook(piece.tag, finish, clocks)
    past = PieceClocks(
        piece,
        finish,
        book=shop.book,
        rooms=shop.rooms,
        now_ms=now_ms,
        learnt=shop.learnt_of(finish),
    )
    return Hook(piece.tag, finish, clocks, laid, window_now(past, clocks))


def _given(finish: Finish, room: Room, climate: Climate) -> RoomClocks:
    return given_clocks(finish, room, temp_c=climate.temp_c, rh_frac=climate.rh_frac)


def _last_day(shop: Shop, room: str, now_ms: int) -> Climate | None:
    """Return the mean climate of the room's last day; None where it is not known."""
    hours = shop.book.hourly(room, now_ms)
    temp_c, rh_frac = hours.temp_c[-24:], hours.rh_frac[-24:]
    if np.isnan(temp_c).all() or np.isnan(rh_frac).all():
        return None
    return Climate(float(np.nanmean(temp_c)), float(np.nanmean(rh_frac)))


def _days(shop: Shop, room: str, now_ms: int) -> float:
    """Return how many days of a room's record the outlook learns from [d]."""
    return float(np.isfinite(shop.book.hourly(room, now_ms).temp_c).sum()) / 24.0


def _stale(shop: Shop, rooms: Sequence[str], now_ms: int) -> list[Caution]:
    found = []
    for room in rooms:
        heard_ms = shop.book.frontier_ms(room)
        if heard_ms is not None and now_ms - heard_ms > STALE_MS:
            words = (
                f"room {room} was last heard {shop.words.at(heard_ms, now_ms)}: the outlook begins "
                "there and knows nothing since; look to its sensors"
            )
            found.append(Caution("room-silent", None, None, words))
    return found


def _room_basis(rooms: Sequence[str], days: float) -> str:
    return f"Basis: the outlook of {listed(rooms)}, from {span(days * 24.0)} of record."


def _typed_basis(words: Words, climate: Climate, room: Room) -> str:
    return (
        f"Basis: a room kept at {words.temp(climate.temp_c)} and {percent(climate.rh_frac)} in "
        f"{room.air} air, as typed."
    )
