"""What a plan points out: windows that close at night, middles, coats that cannot be laid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.coat_window import stretches

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.coat_window import CoatWindow
    from curewatch.shop.day_plan import Ask, PlannedCoat


@dataclass(frozen=True, slots=True)
class Caution:
    """Something to know before one begins.

    Attributes
    ----------
    kind: a machine word.
    piece, coat: what it is about; the coat counted from 1 in the piece's stack. None: the plan.
    words: a sentence without capital and full stop.
    """

    kind: str
    piece: str | None
    coat: int | None
    words: str


def about_coat(coat: PlannedCoat, ask: Ask) -> list[Caution]:
    """Return what is to be known of when a coat is laid."""
    found = []
    at = ask.at(coat.at_ms)

    def say(kind: str, words: str) -> None:
        found.append(Caution(kind, coat.piece, coat.number, words))

    if coat.past_middle:
        say(
            "waits-out-middle",
            f"its film is in the forbidden middle first; {at} is past its far side. Scuff, and "
            "try a test panel",
        )
    if coat.scuff:
        say("scuff-first", f"the window has closed by then: scuff before {at}")
    unfit_ms = ask.unfit_at(coat.at_ms)
    if unfit_ms is not None:
        say(
            "not-fit",
            f"the room is likely not fit to spray {ask.at(unfit_ms)}: curewatch check says why",
        )
    if not ask.night.is_open(coat.at_ms):
        say("at-night", f"{at} falls {ask.closed}")
    return found


def about_days(coats: Sequence[PlannedCoat], ask: Ask) -> list[Caution]:
    """Return with which coats another day begins."""
    found, day = [], ask.night.day_of(ask.start_ms)
    for coat in coats:
        today = ask.night.day_of(coat.at_ms)
        if today != day:
            words = f"another day begins with it: {ask.at(coat.at_ms)}"
            found.append(Caution("another-day", coat.piece, coat.number, words))
        day = today
    return found


def about_window(coat: PlannedCoat, ask: Ask) -> list[Caution]:
    """Return what is to be known of the window that a piece's last planned coat opens."""
    found = []
    window, night = coat.window, ask.night

    def say(kind: str, words: str) -> None:
        found.append(Caution(kind, coat.piece, coat.number, words))

    closes = None if window.closes is None else window.closes.early
    if closes is not None and not night.is_open(closes):
        say(
            "closes-at-night",
            f"its window closes {ask.at(closes)}, {ask.closed}: if another coat is to follow, "
            "lay it before, or plan to scuff",
        )
    if window.middle is not None:
        begins, ends = window.middle[0].early, window.middle[1].late
        if not all(edge is not None and night.is_open(edge) for edge in (begins, ends)):
            since = "the time it is laid" if begins is None else ask.at(begins)
            until = "a time that cannot be told" if ends is None else ask.at(ends)
            say(
                "middle-at-night",
                f"another coat wrinkles the film from {since} until {until}; not both ends fall "
                "into the day",
            )
    opens, limit = window.sure_open(ask.level), window.limit
    sure = [stretch for stretch in stretches(window, ask.level) if not stretch.scuff]
    if opens is not None and limit is not None and limit.early is not None and not sure:
        say(
            "no-sure-window",
            f"its window may close {ask.at(limit.early)}, before it is surely open "
            f"{ask.at(opens)}: no time is surely right; follow the data sheet and try a test "
            "panel",
        )
    return found


def about_refusal(tag: str, number: int, window: CoatWindow | None, ask: Ask) -> Caution:
    """Say why a coat is not planned."""
    if window is None:
        why = "the room is not fit to spray at any time that could be found"
        return Caution("not-planned", tag, number, why)
    opens = window.sure_open(ask.level)
    if opens is None:
        why = (
            "when its window is surely open cannot be told: no clock answers, or the room earns "
            "too little"
        )
        return Caution("not-planned", tag, number, why)
    limit = window.limit
    why = f"its window is surely open {ask.at(opens)}"
    if limit is not None and limit.early is not None:
        why += f" and may close {ask.at(limit.early)}: gun, hours and room leave no time between"
    else:
        why += ", and the room is not fit to spray from then on"
    if window.closes is not None and not ask.scuff:
        why += ". With a scuff it can be laid later: --scuff plans that"
    return Caution("not-planned", tag, number, why)


def about_evening(
    coats: Sequence[PlannedCoat], ask: Ask, *, turns_ms: int | None, last_ms: int | None
) -> list[Caution]:
    """Return which coats of the first day are not surely dry to recoat before it turns."""
    if turns_ms is None:
        return []
    turn = ask.at(turns_ms)
    return [
        Caution(
            "past-last-start",
            coat.piece,
            coat.number,
            f"laid {ask.at(coat.at_ms)}, it is not surely dry to recoat when the day turns "
            f"{turn}: keep the room as it is until then, or lay it another day",
        )
        for coat in coats
        if coat.at_ms < turns_ms and (last_ms is None or coat.at_ms > last_ms)
    ]
