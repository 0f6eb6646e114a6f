"""Conditions: what, by the assessment, people ought to be told just now of a piece.

A condition that holds long enough becomes an alert (`decide`). `room_conditions` and
`sensor_conditions` say the same of rooms and sensors.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.alert import AlertKind
from curewatch.shop.alert_words import JUDGE_GLOSS
from curewatch.shop.deeds import DEED_SPEAKS_MS
from curewatch.shop.finish import MilestoneName
from curewatch.shop.reading import Urgency
from curewatch.shop.verdict import (
    WOOD_WAITS,
    WOOD_YIELDS,
    buffed_early,
    next_milestone,
    wants_coat,
    wood_moves,
    wood_yields,
)
from curewatch.shop.window import WindowState
from curewatch.shop.words import counted

if TYPE_CHECKING:
    from collections.abc import Collection

    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.piece import Piece

    Key = tuple[AlertKind, str]

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


def piece_conditions(
    now: PieceNow, piece: Piece, now_ms: int, *, told: Collection[Key] = ()
) -> list[Condition]:
    """Return what is to be said about one piece.

    Parameters
    ----------
    now : PieceNow
        How it stands.
    piece : Piece
        What was done to it.
    now_ms : int
        The moment [ms].
    told : collection of alert keys
        What is told already: what has a margin holds until it is passed.
    """
    wood = _wood(now, piece, now_ms, told=told)
    if now.window is None:
        return wood
    return [*_window(now), *_ready(now, piece, now_ms), *wood, *_deeds(now, now_ms)]


def _window(now: PieceNow) -> list[Condition]:
    window, subject = now.window, f"piece:{now.tag}"
    if window is None or now.coating_done or now.held is not None:
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
    if now.held is not None or now.held_back_by is not None:
        return []
    if now.planned_coats is not None and wants_coat(now):
        return []
    kind, job = kinds[stone.name]
    stands = f"ready to {job}"
    if stone.name is MilestoneName.BUFF and buffed_early(now, piece, now_ms) is not None:
        stands = f"buffed early, its hours are met now: {JUDGE_GLOSS}"
    return [
        Condition(
            kind,
            f"piece:{now.tag}",
            Urgency.NOTE if kind is AlertKind.CURED else Urgency.TODAY,
            f"{now.tag}: {stands}, {stone.reached_hours:.0f} of {stone.required_hours:.0f} "
            f"effective hours on {counted(now.coats, 'coat')}, cautious end included."
            + (f" {now.assumed}" if now.assumed else ""),
            "Test where it does not show before going on.",
        )
    ]


def _wood(now: PieceNow, piece: Piece, now_ms: int, *, told: Collection[Key]) -> list[Condition]:
    """Say that the wood still moves while there is work that would show it.

    There is no hold time: the mean of three days and the wood's own lag are that.
    """
    subject = f"piece:{now.tag}"
    wood = now.wood
    known = (AlertKind.WOOD_MOVING, subject) in told
    if wood is None or not wood_moves(now, piece, now_ms, told=known):
        return []
    return [
        Condition(
            AlertKind.WOOD_MOVING,
            subject,
            Urgency.TODAY,
            f"{now.tag}: {wood.sentence}",
            WOOD_YIELDS if wood_yields(now) else WOOD_WAITS,
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
