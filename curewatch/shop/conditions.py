"""Conditions: what, by the assessment, people ought to be told just now of a piece.

A condition that holds long enough becomes an alert (`decide`). `room_conditions` and
`sensor_conditions` say the same of rooms and sensors.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.alert import AlertKind
from curewatch.shop.assessment import next_milestone
from curewatch.shop.finish import MilestoneName
from curewatch.shop.milestones import DAY_MS
from curewatch.shop.reading import Urgency
from curewatch.shop.window import WindowState

if TYPE_CHECKING:
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.piece import Piece

    Key = tuple[AlertKind, str]

DEED_SPEAKS_MS = 7 * DAY_MS  # a deed out of time is told for a week, or until someone has seen it
LAST_COAT_HINT = "If that was the last coat, say so: curewatch piece done"


@dataclass(frozen=True, slots=True)
class Condition:
    """Something a person should be told while it holds.

    Attributes
    ----------
    kind, subject: as in `Alert`.
    urgency: how soon to look.
    reason, next_action: one line each.
    hold_s: how long it must hold before it is told [s].
    """

    kind: AlertKind
    subject: str
    urgency: Urgency
    reason: str
    next_action: str
    hold_s: float = 0.0

    @property
    def key(self) -> Key:
        """What makes it one condition and not another."""
        return (self.kind, self.subject)


def piece_conditions(now: PieceNow, piece: Piece, now_ms: int) -> list[Condition]:
    """Return what is to be said about one piece."""
    if now.window is None:
        return []
    return [*_window(now), *_ready(now, piece, now_ms), *_deeds(now, now_ms)]


def _window(now: PieceNow) -> list[Condition]:
    window, subject = now.window, f"piece:{now.tag}"
    if window is None or now.coating_done:
        return []
    told = {
        WindowState.OPEN: (AlertKind.RECOAT_OPEN, Urgency.NOTE),
        WindowState.CLOSING: (AlertKind.RECOAT_CLOSING, Urgency.NOW),
        WindowState.MISSED: (AlertKind.RECOAT_MISSED, Urgency.TODAY),
        WindowState.IN_MIDDLE: (AlertKind.RECOAT_MISSED, Urgency.TODAY),
    }.get(window.state)
    if told is None:
        return []
    kind, urgency = told
    action = window.next_action
    if now.planned_coats is None and kind is not AlertKind.RECOAT_OPEN:
        action, urgency = f"{action} {LAST_COAT_HINT} {now.tag}", Urgency.NOTE
    return [Condition(kind, subject, urgency, f"{now.tag}: {window.sentence}", action)]


def _ready(now: PieceNow, piece: Piece, now_ms: int) -> list[Condition]:
    stone = next_milestone(now, piece, now_ms)
    kinds = {
        MilestoneName.WET_SAND: (AlertKind.READY_WET_SAND, "wet-sand"),
        MilestoneName.BUFF: (AlertKind.READY_BUFF, "buff"),
        MilestoneName.FULL_CURE: (AlertKind.CURED, "treat as cured"),
    }
    if stone is None or stone.cautious_at is None or stone.name not in kinds:
        return []
    kind, job = kinds[stone.name]
    return [
        Condition(
            kind,
            f"piece:{now.tag}",
            Urgency.NOTE if kind is AlertKind.CURED else Urgency.TODAY,
            f"{now.tag}: ready to {job}, {stone.reached_hours:.0f} of {stone.required_hours:.0f} "
            f"effective hours on {now.coats} coats, cautious end included.",
            "Test where it does not show before going on.",
        )
    ]


def _deeds(now: PieceNow, now_ms: int) -> list[Condition]:
    return [
        Condition(
            deed.kind,
            f"piece:{now.tag}#{deed.mark}",
            Urgency.TODAY,
            f"{now.tag}: {deed.reason}",
            deed.next_action,
        )
        for deed in now.deeds
        if now_ms - deed.at_ms < DEED_SPEAKS_MS
    ]
