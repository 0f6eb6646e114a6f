"""The text of a notice: what, why, what to do next, and since when. Plain and short."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.alert import AlertPhase
from curewatch.shop.alert_words import heading, subject_said

if TYPE_CHECKING:
    from curewatch.shop.alert import Alert
    from curewatch.shop.words import Words

LONGEST_TITLE = 100
LONGEST_BODY = 400


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
    title = f"{subject_said(alert.subject)}: {heading(alert.kind, alert.reason)}"
    if alert.phase is AlertPhase.CLEARED:
        over_ms = now_ms if alert.cleared_ms is None else alert.cleared_ms
        title = f"Over: {title}"
        lines = [f"Over since {words.at(over_ms, now_ms)}. It was: {_line(alert.reason)}"]
    else:
        raised_ms = alert.since_ms if alert.raised_ms is None else alert.raised_ms
        lines = [_line(alert.reason), f"Next: {_line(alert.next_action)}"]
        lines.append(f"Raised {words.at(raised_ms, now_ms)}.")
    return _cut(title, LONGEST_TITLE), _fitted(lines)


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
