"""What another climate, a cabinet, a heater, a fan or another stack would change: scene and answer.

Every answer is a range over what is not known of the finish; the reasons and cautions are the
shop's (`curewatch.shop.what_if`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from curewatch.assembly import finish_now
from curewatch.errors import BadInput
from curewatch.named import known_room
from curewatch.science.humid_air import pressure_at_altitude_pa
from curewatch.shop.finish import ClockName
from curewatch.shop.room import Room
from curewatch.shop.spray_here import heard_at
from curewatch.shop.typed import AIR, CABINET, HUMIDITY, asked_back
from curewatch.shop.usual_air import CELLS, STEP_MIN, DayHours, UsualAir, usual_air
from curewatch.shop.what_if import Air, heated, on_schedule, speeds
from curewatch.shop.what_if_cautions import Kind, cautions
from curewatch.shop.what_if_piece import Gain, piece_gains, stack_hours
from curewatch.shop.what_if_words import WhatIf
from curewatch.shop.words import percent

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.planning.wish import ChangeWish
    from curewatch.settings import Settings
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.shop import Shop
    from curewatch.shop.words import Words

DAY_HOURS = re.compile(r"(\d{1,2}):(\d{2})\s*-\s*(\d{1,2}):(\d{2})")
MINUTES = 24 * 60
WHOSE = "whose clocks? Give --finish NAME, or --piece TAG"
MOST_COATS = 60
CHANGES = (
    "temp_c",
    "rh_pct",
    "cabinet_c",
    "heater",
    "fan",
    "lamp",
    "other_finish",
    "fewer_coats",
)
SORTS = dict.fromkeys(("temp_c", "heater", "from_temp_c"), AIR)
SORTS |= {"cabinet_c": CABINET, "rh_pct": HUMIDITY, "from_rh_pct": HUMIDITY}


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """What is asked about: whose clocks, in which air, moving how."""

    finish: Finish
    settings: Settings
    room: Room
    air: Air
    source: str
    name: str | None = None
    at_ms: int | None = None
    usual: UsualAir | None = None
    shop: Shop | None = None
    piece: Piece | None = None
    now_ms: int = 0
    surface_c: float | None = None

    @property
    def words(self) -> Words:
        """How things are said."""
        return self.settings.words()


def check_change(wish: ChangeWish) -> None:
    """Refuse what cannot be meant."""
    given = [name for name in CHANGES if getattr(wish, name) is not None]
    kinds = {"temp_c" if name == "rh_pct" else name for name in given}
    if len(kinds) != 1:
        said = " and ".join(_option(name) for name in given) or "nothing"
        raise BadInput(
            f"{said} is asked: ask one thing at a time, such as --temp-c 27, --cabinet-c 32, "
            "--heater 21 --hours 8:00-18:00, --fan, --lamp, --other-finish NAME or --fewer-coats 2"
        )
    for name, sort in SORTS.items():
        asked_back(getattr(wish, name), sort, option=_option(name), really=wish.really)
    _check_companions(wish)


def _check_companions(wish: ChangeWish) -> None:
    """Refuse options that do not belong together."""
    typed = wish.from_temp_c is not None or wish.from_rh_pct is not None
    stack = wish.other_finish is not None or wish.fewer_coats is not None
    wrong = {
        "--heater T and --hours 8:00-18:00 belong together: give both": (wish.heater is None)
        != (wish.hours is None),
        WHOSE: wish.piece is None and wish.finish is None,
        "--from-temp-c and --from-rh-pct stand in a room's place: name no room": typed
        and (wish.room is not None or wish.piece is not None),
        "--from-rh-pct needs --from-temp-c beside it": typed and wish.from_temp_c is None,
        "--coats goes with --other-finish or --fewer-coats; leave it out": wish.coats is not None
        and not stack,
        "a piece that is sprayed keeps its finish: ask with --finish and a ROOM": wish.piece
        is not None
        and wish.other_finish is not None,
    }
    for why, found in wrong.items():
        if found:
            raise BadInput(why)


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def without_room(wish: ChangeWish, settings: Settings) -> Scene:
    """Return a scene without a room; no database is needed."""
    finish = finish_now(settings, None, _finish_named(wish))
    pressure_pa = float(pressure_at_altitude_pa(settings.site.altitude_m))
    room = Room("", pressure_pa=pressure_pa)
    if wish.from_temp_c is not None:
        rh = None if wish.from_rh_pct is None else wish.from_rh_pct / 100.0
        return Scene(finish, settings, room, Air.of(wish.from_temp_c, rh), "typed")
    temp_c, rh = 21.0, 0.5
    if finish.cure is not None:
        temp_c = finish.cure.reference_temp_c.value
        rh = finish.cure.reference_rh_pct.value / 100.0
    return Scene(finish, settings, room, Air.of(temp_c, rh), "reference")


def in_room(wish: ChangeWish, at: Opened) -> Scene:
    """Return a scene in a room, with the piece that is asked about."""
    piece = None if wish.piece is None else at.store.pieces.load(wish.piece)
    named = wish.room
    if piece is not None:
        hangs = piece.room_at(at.now_ms)
        if hangs is None:
            raise BadInput(f"{piece.tag} hangs in no room: curewatch move {piece.tag} ROOM")
        if named is not None and named != hangs:
            raise BadInput(f"{piece.tag} hangs in {hangs}, not in {named}: leave the room out")
        named = hangs
    assert named is not None  # noqa: S101 - a room or a piece was named
    name = known_room(at.settings, named)
    shop = at.shop(tags=() if piece is None else [piece.tag], rooms=None if piece else [name])
    finish = _finish(wish, at, shop, piece)
    newest, fresh = heard_at(shop, name, at.now_ms)
    climate = newest if fresh else None
    air = Air.of(
        None if climate is None else climate.temp_c, None if climate is None else climate.rh_frac
    )
    return Scene(
        finish,
        at.settings,
        shop.room(name),
        air,
        "measured",
        name,
        None if climate is None else climate.at_ms,
        usual_air(shop.book.climates.get(name), at.now_ms),
        shop,
        piece,
        at.now_ms,
        None if climate is None else climate.surface_c,
    )


def _finish_named(wish: ChangeWish) -> str:
    """Return the finish that was named; without a piece there is one."""
    if wish.finish is None:
        raise BadInput(WHOSE)
    return wish.finish


def _finish(wish: ChangeWish, at: Opened, shop: Shop, piece: Piece | None) -> Finish:
    if piece is None:
        return finish_now(at.settings, at.store, _finish_named(wish))
    if wish.finish is not None and wish.finish != piece.finish:
        raise BadInput(f"{piece.tag} is sprayed with {piece.finish}: leave --finish out")
    return shop.finish_of(piece)


def changed(wish: ChangeWish, scene: Scene) -> WhatIf:
    """Work the change out."""
    if wish.other_finish is not None or wish.fewer_coats is not None:
        return _stacks(wish, scene)
    kind, asked, before, after = _change(wish, scene)
    days = before.temp_c.size > 1
    room_after = replace(scene.room, air="fan") if kind is Kind.FAN else scene.room
    found = speeds(scene.finish, before, after, room=scene.room, room_after=room_after)
    if scene.source == "reference":
        found = {clock: replace(speed, against_room=None) for clock, speed in found.items()}
    if kind is Kind.LAMP:  # a coat dries into the room's air, whatever warms its face
        found.pop(ClockName.DRYING, None)
    usual = scene.usual if days else None
    gains: tuple[Gain, ...] = ()
    if scene.shop is not None and scene.piece is not None and kind is not Kind.LAMP:
        gains = piece_gains(
            scene.shop,
            scene.piece,
            before,
            after,
            room_after=room_after,
            now_ms=scene.now_ms,
        )
    return WhatIf(
        finish=scene.finish,
        kind=kind,
        asked=asked,
        source="usual days" if days and usual is not None else scene.source,
        room=scene.name,
        at_ms=scene.at_ms,
        before=before,
        after=after,
        known_pct=None if usual is None else usual.known_pct,
        speeds=found,
        cautions=cautions(
            scene.finish, kind, before=before, after=after, speeds=found, words=scene.words
        ),
        piece=None if scene.piece is None else scene.piece.tag,
        gains=gains,
    )


def _change(wish: ChangeWish, scene: Scene) -> tuple[Kind, str, Air, Air]:
    """Return what is asked, in a word and in words, the air as it is and as it would be."""
    words, air = scene.words, scene.air
    if wish.heater is not None:
        assert wish.hours is not None  # noqa: S101 - checked with its heater
        hours = _day_hours(wish.hours)
        usual = scene.usual or _same_all_day(air)
        after = on_schedule(usual.air, wish.heater, usual.inside(hours, words))
        asked = f"A heater at {words.temp(wish.heater)} from {wish.hours}"
        return Kind.HEATER, asked, usual.air, after
    if wish.lamp is not None:  # heat that no air sensor sees: the piece's own probe or nothing
        warm = Air.of(None, None) if scene.surface_c is None else heated(air, scene.surface_c)
        return Kind.LAMP, "Under sun, heat lamp or hair dryer, or in an oven", air, warm
    if wish.fan is not None:
        days = air if scene.usual is None else scene.usual.air
        return Kind.FAN, "With a fan on", days, days
    if wish.cabinet_c is not None:
        asked = f"In a cabinet at {words.temp(wish.cabinet_c)}"
        return Kind.CABINET, asked, air, heated(air, wish.cabinet_c)
    temp_c = air.mean_temp_c() if wish.temp_c is None else wish.temp_c
    if wish.rh_pct is None:
        assert wish.temp_c is not None  # noqa: S101 - something is asked
        after = heated(air, wish.temp_c)
        if air.mean_temp_c() is None:  # the new temperature is said, whatever it was before
            after = Air.of(wish.temp_c, None)
        return Kind.CLIMATE, f"At {words.temp(wish.temp_c)}, with the air's water kept", air, after
    rh = wish.rh_pct / 100.0
    said = "the same temperature" if wish.temp_c is None else words.temp(wish.temp_c)
    return Kind.CLIMATE, f"At {said} and {percent(rh)}", air, Air.of(temp_c, rh)


def _stacks(wish: ChangeWish, scene: Scene) -> WhatIf:
    """Compare two stacks of coats in the air as it is."""
    planned = None if scene.piece is None else scene.piece.planned_coats
    coats = planned if wish.coats is None else wish.coats
    if coats is None or not 1 <= coats <= MOST_COATS:
        raise BadInput(f"how many coats is it to get? Give --coats N, 1 to {MOST_COATS}")
    if wish.other_finish is not None:
        other = finish_now(scene.settings, None, wish.other_finish)
        kind, asked = Kind.OTHER_FINISH, f"{other.title} instead, {_coats(coats)}"
        new = (other, coats)
    else:
        assert wish.fewer_coats is not None  # noqa: S101 - the only other change of stacks
        left = coats - wish.fewer_coats
        laid = 0 if scene.piece is None else len(scene.piece.coats_until(scene.now_ms))
        if wish.fewer_coats < 1 or left < max(laid, 1):
            on = f", {laid} of them are on" if laid else ""
            raise BadInput(
                f"--fewer-coats {wish.fewer_coats} of {coats} cannot be{on}: leave at least one"
            )
        kind, asked = Kind.FEWER_COATS, f"{_coats(left)} instead of {coats}"
        new = (scene.finish, left)
    old = (scene.finish, coats)
    air = scene.air
    found = speeds(new[0], air, air, room=scene.room, room_after=scene.room)
    found = {clock: replace(speed, against_room=None) for clock, speed in found.items()}
    return WhatIf(
        finish=new[0],
        kind=kind,
        asked=asked,
        source=scene.source,
        room=scene.name,
        at_ms=scene.at_ms,
        before=air,
        after=air,
        known_pct=None,
        speeds=found,
        cautions=cautions(new[0], kind, before=air, after=air, speeds=found, words=scene.words),
        piece=None if scene.piece is None else scene.piece.tag,
        stacks=stack_hours(old, new, air, room=scene.room),
    )


def _coats(count: int) -> str:
    return "one coat" if count == 1 else f"{count} coats"


def _day_hours(text: str) -> DayHours:
    found = DAY_HOURS.fullmatch(text.strip())
    if found:
        start, stop = (int(found[n]) * 60 + int(found[n + 1]) for n in (1, 3))
        minutes = (int(found[2]), int(found[4]))
        if max(start, stop) <= MINUTES and max(minutes) < 60 and start != stop:  # noqa: PLR2004
            return DayHours(start, stop)
    raise BadInput(f"--hours {text}: write when it is on, such as 8:00-18:00 or 18:00-8:00")


def _same_all_day(air: Air) -> UsualAir:
    """Return a day that never changes, from midnight on."""
    full = [values.repeat(CELLS) for values in (air.temp_c, air.rh_frac)]
    middles = tuple(round((n + 0.5) * STEP_MIN * 60_000) for n in range(CELLS))
    return UsualAir(Air(*full), middles, CELLS * STEP_MIN * 60_000)
