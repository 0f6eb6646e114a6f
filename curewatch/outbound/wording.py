"""The text of a notice: what, why, what to do next, and since when. Plain and short."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.alert import AlertKind, AlertPhase

if TYPE_CHECKING:
    from curewatch.shop.alert import Alert
    from curewatch.shop.words import Words

LONGEST_TITLE = 100
LONGEST_BODY = 400
SAYS: dict[AlertKind, str] = {
    AlertKind.RECOAT_OPEN: "ready for the next coat",
    AlertKind.RECOAT_CLOSING: "last call for the next coat",
    AlertKind.RECOAT_MISSED: "the time for the next coat has passed",
    AlertKind.READY_WET_SAND: "ready to wet sand",
    AlertKind.READY_BUFF: "ready to buff",
    AlertKind.CURED: "fully cured",
    AlertKind.COAT_EARLY: "coated too early",
    AlertKind.COAT_IN_MIDDLE: "coated inside the forbidden time",
    AlertKind.COAT_LATE: "coated too late to bond without a scuff",
    AlertKind.POT_OVER: "the pot's life is over",
    AlertKind.WORK_EARLY: "worked before it was ready",
    AlertKind.WET_WORK_CLIMATE: "air outside the finish's limits, with wet work in it",
    AlertKind.SURFACE_DEW: "a surface is close to the dew point",
    AlertKind.BLUSH: "a fresh coat can blush in this air",
    AlertKind.FILM_COLD: "the wet film is too cold to form",
    AlertKind.COLD_YOUNG_FILM: "cold on a young film",
    AlertKind.COLD_CHECK: "a hard film is cooling too fast",
    AlertKind.WOOD_MOVING: "its wood is still moving",
    AlertKind.SENSOR_SILENT: "not heard from",
    AlertKind.SENSOR_STUCK: "its values do not move",
    AlertKind.SENSOR_RANGE: "out of range",
    AlertKind.FOLLOW_UP: "look at it again",
    AlertKind.GAP: "hours without credit",
}


def notice_text(alert: Alert, words: Words, *, now_ms: int) -> tuple[str, str]:
    """Return title and body of the notice that tells of `alert` as it stands.

    Parameters
    ----------
    alert : Alert
        What is told.
    words : Words
        The shop's zone and units.
    now_ms : int
        When it is written [ms]; instants are told relative to that day.
    """
    title = f"{subject_said(alert.subject)}: {SAYS[alert.kind]}"
    if alert.phase is AlertPhase.CLEARED:
        over_ms = now_ms if alert.cleared_ms is None else alert.cleared_ms
        title = f"Over: {title}"
        lines = [f"Over since {words.at(over_ms, now_ms)}. It was: {_line(alert.reason)}"]
    else:
        raised_ms = alert.since_ms if alert.raised_ms is None else alert.raised_ms
        lines = [_line(alert.reason), f"Next: {_line(alert.next_action)}"]
        lines.append(f"Raised {words.at(raised_ms, now_ms)}.")
    return _cut(title, LONGEST_TITLE), _fitted(lines)


def subject_said(subject: str) -> str:
    """Say an alert's subject: 'piece:A12#coat-3' is 'Piece A12'."""
    what, _, name = subject.partition(":")
    return f"{what.capitalize()} {name.partition('#')[0]}".strip()


def _line(text: str) -> str:
    """Keep one line one line, and free of what a terminal or a mail head might obey."""
    return "".join(
        letter if letter.isprintable() else " " for letter in " ".join(text.split())
    ).strip()


def _fitted(lines: list[str]) -> str:
    """Join the lines, shortening the longest of them until the whole fits."""
    while (over := len("\n".join(lines)) - LONGEST_BODY) > 0:
        longest = max(range(len(lines)), key=lambda index: len(lines[index]))
        lines[longest] = _cut(lines[longest], max(1, len(lines[longest]) - max(over, 1)))
    return "\n".join(lines)


def _cut(text: str, length: int) -> str:
    text = _line(text)
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"
