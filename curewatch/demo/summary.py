"""What was said, and what the calendar would have said: from the daemon's database alone."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.assembly import assemble, record_start_ms
from curewatch.demo.losses import Losses, losses
from curewatch.errors import StorageError
from curewatch.room_feed import RoomFeed
from curewatch.settings import load_settings
from curewatch.shop.alert import AlertKind, AlertPhase
from curewatch.shop.assessment import assess_piece
from curewatch.shop.finish import MilestoneName
from curewatch.shop.plain import FORMAT, instant, piece_plain
from curewatch.storage import Store

if TYPE_CHECKING:
    from pathlib import Path

    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.piece import Piece
    from curewatch.shop.plain import Plain
    from curewatch.shop.shop import Shop
    from curewatch.shop.words import Words
    from curewatch.storage.alerts import AlertEvent

DAY_H = 24.0
DAY_MS = 86_400_000
EVERY_EVENT = 100_000


@dataclass(frozen=True, slots=True)
class Told:
    """Something that was said: when [ms], what kind of alert, about what, and why."""

    at_ms: int
    kind: AlertKind
    subject: str
    reason: str

    def plain(self) -> Plain:
        """Return it as plain data."""
        return {
            "at": instant(self.at_ms),
            "kind": str(self.kind),
            "subject": self.subject,
            "reason": self.reason,
        }


@dataclass(frozen=True, slots=True)
class Comparison:
    """When a piece may be buffed: by 'one full day per coat' on the calendar, and by its clock.

    Attributes
    ----------
    calendar_ms: last coat and a day for each coat [ms].
    nominal_ms, cautious_ms: when the rule's hours are earned, and surely earned [ms].
    expected: whether the nominal date lies ahead, if the room goes on as it is.
    cautious_expected: the same of the cautious one.
    asked_h: hours the profile asks for; wet_sand_h: what it asks before wet sanding.
    lost: what the hook's hours until then (or until now) lacked.
    """

    calendar_ms: int
    nominal_ms: int | None
    cautious_ms: int | None
    expected: bool
    cautious_expected: bool
    asked_h: float
    wet_sand_h: float
    lost: Losses

    @property
    def days_later(self) -> float | None:
        """How much later than the calendar the cautious date is [days]."""
        if self.cautious_ms is None:
            return None
        return (self.cautious_ms - self.calendar_ms) / DAY_MS


@dataclass(frozen=True, slots=True)
class PieceStory:
    """A piece: as it stands, what was said of it, and when it may be buffed."""

    now: PieceNow
    told: tuple[Told, ...]
    comparison: Comparison | None


@dataclass(frozen=True, slots=True)
class Summary:
    """The fortnight as the database tells it.

    Attributes
    ----------
    at_ms: its last minute [ms].
    pieces: in order of hanging.
    rooms, sensors: what was said of them; what names a piece stands with that piece as well.
    recovered: when silent sensors were heard again.
    readings: how many values are kept.
    refused: refused values by sensor and reason, in words.
    words: the shop's way of saying things.
    """

    at_ms: int
    pieces: tuple[PieceStory, ...]
    rooms: tuple[Told, ...]
    sensors: tuple[Told, ...]
    recovered: tuple[Told, ...]
    readings: int
    refused: tuple[str, ...]
    words: Words

    @property
    def kinds(self) -> set[AlertKind]:
        """Which kinds of alert were raised."""
        told = [*self.rooms, *self.sensors, *(t for piece in self.pieces for t in piece.told)]
        return {one.kind for one in told}

    def plain(self) -> Plain:
        """Return it as plain data."""
        return {
            "format": FORMAT,
            "invented": True,
            "at": instant(self.at_ms),
            "readings": self.readings,
            "refused": [*self.refused],
            "alert_kinds": [*sorted(str(kind) for kind in self.kinds)],
            "pieces": [_story_plain(story) for story in self.pieces],
            "rooms": [one.plain() for one in self.rooms],
            "sensors": [one.plain() for one in self.sensors],
            "heard_again": [one.plain() for one in self.recovered],
        }


def summarise(config: Path) -> Summary:
    """Read the summary from the database that a configuration names.

    Raises
    ------
    StorageError
        When there is no reading in it.
    """
    settings = load_settings(config)
    with Store.open(settings.storage.path) as store:
        newest = store.readings.newest_ms()
        if newest is None:
            raise StorageError(f"no reading arrived in {settings.storage.path}: nothing to tell")
        shop = assemble(settings, store, newest)
        RoomFeed(store, shop).load(record_start_ms(shop.pieces.values(), newest))
        events = sorted(store.alerts.history(limit=EVERY_EVENT), key=lambda event: event.at_ms)
        raised = [_told(event) for event in events if event.phase is AlertPhase.RAISED]
        cleared = [_told(event) for event in events if event.phase is AlertPhase.CLEARED]
        return Summary(
            at_ms=newest,
            pieces=tuple(_story(piece, shop, raised, newest) for piece in shop.pieces.values()),
            rooms=_about("room:", raised),
            sensors=_about("sensor:", raised),
            recovered=tuple(
                one for one in _about("sensor:", cleared) if one.kind is AlertKind.SENSOR_SILENT
            ),
            readings=sum(1 for _ in store.readings.rows(0, newest + 1)),
            refused=tuple(
                f"{row.sensor}: {row.detail}" + (f" ({row.count} times)" if row.count > 1 else "")
                for row in store.rejections.summary()
            ),
            words=settings.words(),
        )


def _told(event: AlertEvent) -> Told:
    return Told(event.at_ms, event.kind, event.subject, event.reason)


def _about(prefix: str, told: list[Told]) -> tuple[Told, ...]:
    return tuple(one for one in told if one.subject.startswith(prefix))


def _story(piece: Piece, shop: Shop, raised: list[Told], at_ms: int) -> PieceStory:
    now = assess_piece(shop, piece, at_ms)
    named = re.compile(rf"(?<![\w.-]){re.escape(piece.tag)}(?![\w.-])")
    mine = [
        one
        for one in raised
        if one.subject.partition("#")[0] == f"piece:{piece.tag}"
        or (one.subject.startswith("room:") and named.search(one.reason))
    ]
    return PieceStory(now, tuple(mine), compare(now, piece, shop, at_ms))


def compare(now: PieceNow, piece: Piece, shop: Shop, at_ms: int) -> Comparison | None:
    """Set the calendar's date for buffing beside the clock's; None where no clock answers."""
    buff, wet_sand = now.milestone(MilestoneName.BUFF), now.milestone(MilestoneName.WET_SAND)
    if now.last_coat_at is None or buff is None or buff.required_hours is None:
        return None
    until = min(buff.reached_at or at_ms, at_ms)
    return Comparison(
        calendar_ms=now.last_coat_at + now.coats * DAY_MS,
        nominal_ms=buff.reached_at or buff.eta_at,
        cautious_ms=buff.cautious_at or buff.eta_cautious_at,
        expected=buff.reached_at is None,
        cautious_expected=buff.cautious_at is None,
        asked_h=buff.required_hours,
        wet_sand_h=0.0 if wet_sand is None else wet_sand.required_hours or 0.0,
        lost=losses(piece, shop.finish_of(piece), shop, start_ms=now.last_coat_at, stop_ms=until),
    )


def _story_plain(story: PieceStory) -> Plain:
    compared = story.comparison
    return {
        **piece_plain(story.now),
        "told": [one.plain() for one in story.told],
        "buff": None if compared is None else _comparison_plain(compared),
    }


def _comparison_plain(compared: Comparison) -> Plain:
    return {
        "calendar_at": instant(compared.calendar_ms),
        "nominal_at": instant(compared.nominal_ms),
        "cautious_at": instant(compared.cautious_ms),
        "nominal_expected": compared.expected,
        "cautious_expected": compared.cautious_expected,
        "days_later_than_calendar": compared.days_later,
        "asked_hours": compared.asked_h,
        "lost_hours": {
            "cold": compared.lost.cold,
            "cool": compared.lost.cool,
            "damp": compared.lost.damp,
            "unheard": compared.lost.unheard,
        },
    }
