"""The plan as it is drawn: from the plan's own numbers to lines, marks and nights."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.planning.said import NOT_FIT, closes, moment
from curewatch.web.draw.day import DayCoat, DayLine, DayWindow, day
from curewatch.web.speech import say

if TYPE_CHECKING:
    from curewatch.planning import Known
    from curewatch.shop.day_plan import Ask, DayPlan, PlannedCoat
    from curewatch.web.draw.svg import Svg
    from curewatch.web.speech import Speech

HOUR_MS = 3_600_000
LEAST_TAIL_MS, MOST_TAIL_MS = 2 * HOUR_MS, 12 * HOUR_MS


def plan_drawing(found: DayPlan, known: Known, ask: Ask, speech: Speech) -> Svg:
    """Return the drawing of a plan that has a coat at least."""
    start_ms = min(ask.start_ms, found.coats[0].at_ms)
    stop_ms = _stop(found, ask)
    lines = [_gun(found, ask, speech)]
    for hook in known.hooks:
        coats = [coat for coat in found.coats if coat.piece == hook.tag]
        if coats:
            lines.append(_piece(hook.tag, coats, stop_ms, ask=ask, speech=speech))
    frame = speech.frame("day", say("spray.drawing", finish=known.finish.title))
    return day(
        frame, lines, start_ms=start_ms, stop_ms=stop_ms, nights=_nights(ask, start_ms, stop_ms)
    )


def _stop(found: DayPlan, ask: Ask) -> int:
    """Return where the drawing ends: a little after the last window opens for sure [ms]."""
    last_ms = max(coat.done_ms for coat in found.coats)
    opens = [coat.window.sure_open(ask.level) for coat in found.coats]
    sure_ms = max([last_ms, *(at for at in opens if at is not None)])
    return min(max(sure_ms + HOUR_MS, last_ms + LEAST_TAIL_MS), last_ms + MOST_TAIL_MS)


def _gun(found: DayPlan, ask: Ask, speech: Speech) -> DayLine:
    marks = [
        DayCoat(
            "",
            coat.at_ms,
            coat.done_ms,
            speech.sentence(say("spray.gun_on", piece=coat.piece, at=moment(coat.at_ms, ask))),
            fit=coat.unfit_ms is None,
        )
        for coat in found.coats
    ]
    return DayLine(say("spray.gun"), tuple(marks))


def _piece(
    tag: str, coats: list[PlannedCoat], stop_ms: int, *, ask: Ask, speech: Speech
) -> DayLine:
    ends = [*(coat.at_ms for coat in coats[1:]), stop_ms]
    windows = [
        _window(coat, end, ask=ask, speech=speech) for coat, end in zip(coats, ends, strict=True)
    ]
    marks = [
        DayCoat(
            str(coat.number),
            coat.at_ms,
            coat.done_ms,
            speech.sentence(_coat_told(coat, ask)),
            fit=coat.unfit_ms is None,
        )
        for coat in coats
    ]
    return DayLine(tag, tuple(marks), tuple(windows))


def _coat_told(coat: PlannedCoat, ask: Ask) -> str:
    told = say("spray.coat_at", number=coat.number, at=moment(coat.at_ms, ask))
    return told if coat.unfit_ms is None else f"{told}, {NOT_FIT}"


def _window(coat: PlannedCoat, stop_ms: int, *, ask: Ask, speech: Speech) -> DayWindow:
    window = coat.window
    limit = None if window.limit is None else window.limit.early
    told = say(
        "spray.window",
        number=coat.number,
        early=moment(window.opens.early, ask),
        sure=moment(window.sure_open(ask.level), ask),
        closes=closes(window, ask),
    )
    return DayWindow(
        window.opens.early, window.sure_open(ask.level), stop_ms, limit, speech.sentence(told)
    )


def _nights(ask: Ask, start_ms: int, stop_ms: int) -> list[tuple[int, int]]:
    """Return when nobody is there within the drawing [ms]."""
    found, at_ms = [], start_ms
    while at_ms < stop_ms:
        today = ask.night.day_of(at_ms)
        opens, shuts = ask.night.opening(today), ask.night.closing(today)
        if at_ms < opens:
            found.append((at_ms, opens))
        morning = ask.night.next_morning(at_ms)
        found.append((max(shuts, at_ms), morning))
        at_ms = morning
    return found
