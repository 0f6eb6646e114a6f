"""What a plan points out: windows that close at night, middles, coats that cannot be laid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.coat_window import stretches
from curewatch.shop.spray_outlook import MOST_H

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.coat_window import CoatWindow
    from curewatch.shop.day_plan import Ask, PlannedCoat

FAR_MS = round(MOST_H * 3_600_000)


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
    if coat.unfit_ms is not None:
        when = ask.at(max(coat.unfit_ms, coat.at_ms))
        young = "" if coat.unfit_ms <= coat.at_ms else ", before this coat is surely dry"
        say(
            "not-fit",
            f"the room is likely not fit to spray {when}{young}: curewatch check says why",
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


def about_far(coats: Sequence[PlannedCoat], ask: Ask) -> list[Caution]:
    """Say that nobody can tell so far ahead whether a room is fit, where a coat lies there."""
    now_ms = ask.start_ms if ask.now_ms is None else ask.now_ms
    if ask.fit_until is None or not any(coat.at_ms > now_ms + FAR_MS for coat in coats):
        return []
    words = (
        f"whether the room is fit to spray more than {MOST_H / 24:.0f} days ahead is hard to tell: "
        "plan anew then"
    )
    return [Caution("fit-far-ahead", None, None, words)]


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
    if window.middle is not None and sure and sure[0].past_middle:
        say(
            "waits-out-middle",
            f"its film is in the forbidden middle before it is surely open: the next coat waits "
            f"for the far side, {ask.at(sure[0].start_ms)}. Scuff, and try a test panel",
        )
    elif opens is not None and limit is not None and limit.early is not None and not sure:
        say(
            "no-sure-window",
            f"its window may close {ask.at(limit.early)}, before it is surely open "
            f"{ask.at(opens)}: no time is surely right; follow the data sheet and try a test "
            "panel",
        )
    return found


def about_refusal(
    tag: str, number: int, window: CoatWindow | None, *, ask: Ask, gun_free_ms: int
) -> Caution:
    """Say why a coat is not planned."""
    if window is None:
        why = (
            "the room is likely not fit to spray for long enough, from a start until the coat is "
            "surely dry, at any time that could be found"
        )
        return Caution("not-planned", tag, number, why)
    opens = window.sure_open(ask.level)
    if opens is None:
        why = (
            "when its window is surely open cannot be told: no clock answers, or the room earns "
            "too little"
        )
        return Caution("not-planned", tag, number, why)
    limit = window.limit
    closes = None if limit is None else limit.early
    if closes is None:
        why = (
            f"its window is surely open {ask.at(opens)}, and the room is likely not fit from then "
            "on for long enough to dry a coat"
        )
    else:
        why = _closed(opens, closes, ask, gun_free_ms=gun_free_ms)
    if window.closes is not None and not ask.scuff:
        why += ". With a scuff it can be laid later: --scuff plans that"
    return Caution("not-planned", tag, number, why)


def _closed(opens: int, closes: int, ask: Ask, *, gun_free_ms: int) -> str:
    """Say why there is no time for a coat between a window's sure opening and its early end."""
    if closes <= ask.start_ms:
        return f"its window has closed, {ask.at(closes)}, counted at its early end"
    if closes <= opens:
        return (
            f"its window may close {ask.at(closes)}, before it is surely open {ask.at(opens)}: no "
            "time is surely right"
        )
    start, needs = max(opens, ask.start_ms), ask.coat_ms
    if ask.start_ms > opens and start + needs > closes:
        begun = ask.at(ask.start_ms)
        return f"its window may close {ask.at(closes)}, before a coat begun {begun} is on"
    gun_ms = max(start, gun_free_ms)
    if start + needs > closes:
        why = "too short for a coat"
    elif gun_ms + needs > closes:
        why = "the gun is not free by then"
    elif ask.keep_hours and ask.night.first_fit(gun_ms, needs) + needs > closes:
        why = "nobody is there in between"
    else:
        why = "the room is likely not fit in between for long enough to dry a coat"
    return f"its window is surely open {ask.at(opens)} and may close {ask.at(closes)}: {why}"


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
