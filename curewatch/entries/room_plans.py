"""Saying what a room will be like, and taking that back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.named import known_room
from curewatch.shop.room_plan import RoomPlan
from curewatch.shop.typed import AIR, HUMIDITY, asked_back
from curewatch.times import ahead_ms

if TYPE_CHECKING:
    from curewatch.opened import Opened


@dataclass(frozen=True, slots=True)
class Change:
    """What is said of a room: kept at, or with the heating off drifting towards [degC], [fraction].

    `at_least` says that a heater alone holds `temp_c`, `humidified` that `rh_frac` is kept from
    falling as well. `really` says that unlikely figures are meant, None where nobody was asked.
    `drifts_to_c` None takes the room's own unheated temperature; `start` None is
    now, `stop` None until further notice, both as typed; `why` in a person's words.
    """

    room: str
    temp_c: float | None = None
    rh_frac: float | None = None
    at_least: bool = False
    humidified: bool = False
    heating_off: bool = False
    drifts_to_c: float | None = None
    start: str | None = None
    stop: str | None = None
    why: str = ""
    really: bool | None = None


def plan_room(at: Opened, change: Change) -> RoomPlan:
    """Store what a room is said to be like and return it with its number.

    Raises
    ------
    BadInput
        Where there is no such room, its parts contradict each other, or it is over already.
    """
    room = known_room(at.settings, change.room)
    _check_together(change)
    _ask_back(change)
    start_ms, stop_ms = _stretch(at, change)
    plan = RoomPlan(
        room=room,
        start_ms=start_ms,
        stop_ms=stop_ms,
        temp_c=_drift_c(at, change, room) if change.heating_off else change.temp_c,
        rh_frac=change.rh_frac,
        left_alone=change.heating_off,
        why=change.why,
        temp_at_least=change.at_least,
        rh_at_most=change.rh_frac is not None and not change.humidified,
    )
    return replace(plan, id=at.store.room_plans.add(plan, at.entered_ms))


def take_back(at: Opened, room: str, number: int, why: str) -> RoomPlan:
    """Void a plan of a room and return it.

    Raises
    ------
    BadInput
        When there is none of that number, it is another room's, or no reason is given.
    """
    known = {plan.id: plan for plan in at.store.room_plans.all()}
    if number in known and known[number].room != room:
        raise BadInput(
            f"plan {number} is one of {known[number].room}, not of {room}: nothing was changed"
        )
    at.store.room_plans.void(number, why, at.entered_ms)
    return known[number]


def _check_together(change: Change) -> None:
    """Refuse words that belong to something that was not said."""
    if change.drifts_to_c is not None and not change.heating_off:
        raise BadInput(
            "--drifts-to-c goes with --heating-off; a temperature that is kept is --temp-c"
        )
    if change.at_least and change.temp_c is None:
        raise BadInput("--at-least goes with --temp-c: say what the heater holds")
    if change.humidified and change.rh_frac is None:
        raise BadInput("--humidified goes with --rh-pct: say what the air is kept at")


def _ask_back(change: Change) -> None:
    """Ask back figures that cannot be, or were hardly meant."""
    rh_pct = None if change.rh_frac is None else 100.0 * change.rh_frac
    for option, value, sort in (
        ("--temp-c", change.temp_c, AIR),
        ("--drifts-to-c", change.drifts_to_c, AIR),
        ("--rh-pct", rh_pct, HUMIDITY),
    ):
        asked_back(value, sort, option=option, really=change.really)


def _drift_c(at: Opened, change: Change, room: str) -> float:
    """Return the temperature an unheated room drifts to [degC]."""
    if change.temp_c is not None:
        raise BadInput(
            "--heating-off and --temp-c contradict each other: with the heating off the room "
            "drifts; say where to with --drifts-to-c"
        )
    drifts_to_c = change.drifts_to_c
    if drifts_to_c is None:
        drifts_to_c = at.settings.unheated_c(room)
    if drifts_to_c is None:
        raise BadInput(
            f"how cold does {room} become without heating? It is not known: give --drifts-to-c N "
            "(the outdoor temperature is on the safe side), or unheated_c in its [[room]]"
        )
    return drifts_to_c


def _stretch(at: Opened, change: Change) -> tuple[int, int | None]:
    """Return from when to when [ms]."""
    zone, now_ms = at.words.zone, at.now_ms
    start_ms = now_ms if change.start is None else ahead_ms(change.start, zone=zone, now_ms=now_ms)
    if change.stop is None:
        return start_ms, None
    stop_ms = ahead_ms(change.stop, zone=zone, now_ms=now_ms, after_ms=start_ms)
    if stop_ms <= start_ms:
        raise BadInput(
            f"--to {change.stop} ({at.words.at(stop_ms, now_ms)}) does not lie after --from "
            f"({at.words.at(start_ms, now_ms)}): check both times"
        )
    if stop_ms <= now_ms:
        raise BadInput(
            f"that was over {at.words.at(stop_ms, now_ms)}: a plan speaks of the time ahead; of "
            "what has been the readings tell, or 'curewatch room fill' in a gap"
        )
    return start_ms, stop_ms
