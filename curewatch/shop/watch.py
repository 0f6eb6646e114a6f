"""The watch: minute after minute, what changed in the shop and who must be told.

A full assessment looks at every piece. The watch looks at a piece again only when something
about it can have changed: when a person did something, when its room's record was rewritten, or
when the climate could at the very fastest have carried it to its next threshold. So a minute
costs rooms, not pieces, and it says the same as assessing everything every minute.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.assessment import PieceNow, assess_piece
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.clocks import MS_PER_H, RateLaw
from curewatch.shop.conditions import DEED_SPEAKS_MS, Condition, piece_conditions
from curewatch.shop.decide import decide
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.laws import law_for
from curewatch.shop.milestones import CONFIDENT_Z
from curewatch.shop.room_conditions import RoomWork, room_conditions
from curewatch.shop.sensor_conditions import sensor_conditions
from curewatch.shop.window import LONGEST_LAST_CALL_MS, WindowState

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.shop.climate import Times
    from curewatch.shop.piece import Piece
    from curewatch.shop.shop import Shop

    Key = tuple[AlertKind, str]

LONGEST_UNSEEN_MS = 6 * 3_600_000  # dates ahead drift with the room: look again by then
DOUBT_SHRINKS = 1.5  # a standard error may shrink while hours grow: allow for it
NEVER_MS = -(2**62)


class Watch:
    """Alerts of a shop, brought forward minute by minute.

    Attributes
    ----------
    pieces_now: standing of every piece at its last look.
    looked: tags looked at since `looked` was last emptied by its reader.
    """

    def __init__(self, shop: Shop, alerts: Iterable[Alert] = ()) -> None:
        """Watch `shop`, going on from the alerts that are not cleared."""
        self.shop = shop
        self.pieces_now: dict[str, PieceNow] = {}
        self.looked: set[str] = set()
        self._alerts: dict[str, dict[Key, Alert]] = {}
        for alert in alerts:
            self.note(alert)
        self._work: dict[str, dict[str, PieceNow]] = {}
        self._room_work: dict[str, RoomWork] = {}
        self._tags: list[str] = []
        self._rooms: list[str] = []
        self.pieces_changed()

    def note(self, alert: Alert) -> None:
        """Take an alert in as it now stands, after storage numbered it or a person moved it."""
        mine = self._alerts.setdefault(owner(alert.subject), {})
        if alert.phase is AlertPhase.CLEARED:
            mine.pop(alert.key, None)
        else:
            mine[alert.key] = alert
            if alert.phase is AlertPhase.RESTING and owner(alert.subject).startswith("piece:"):
                self.piece_changed(owner(alert.subject).removeprefix("piece:"))

    def replace_alerts(self, alerts: Iterable[Alert]) -> None:
        """Take the alerts that are not cleared in anew, as people may have moved them."""
        self._alerts = {}
        for alert in alerts:
            self.note(alert)

    def alerts(self) -> list[Alert]:
        """Return every alert that is not cleared."""
        return [alert for mine in self._alerts.values() for alert in mine.values()]

    def pieces_changed(self) -> None:
        """Look at every piece again: pieces came, left, or may all have changed."""
        self._tags = list(self.shop.pieces)
        self._rooms = list(self.shop.book.climates)
        size = len(self._tags)
        self._due_at = np.full(size, NEVER_MS, dtype=np.int64)
        self._due_frontier = np.full(size, 2**62, dtype=np.int64)
        self._room_of = np.zeros(size, dtype=np.int64)
        self._index = {tag: i for i, tag in enumerate(self._tags)}
        gone = set(self.pieces_now) - set(self._tags)
        for tag in gone:
            del self.pieces_now[tag]
            self._drop_work(tag)

    def piece_changed(self, tag: str) -> None:
        """Look at one piece again: a person entered or voided something about it."""
        index = getattr(self, "_index", {}).get(tag)
        if index is not None:
            self._due_at[index] = NEVER_MS

    def room_rewritten(self, room: str) -> None:
        """Look at a room's pieces again: late or corrected readings changed its past."""
        for tag, piece in self.shop.pieces.items():
            if any(stay.room == room for stay in piece.stays):
                self.piece_changed(tag)

    def step(self, now_ms: int) -> list[Alert]:
        """Bring the alerts forward to a whole minute; return those whose phase changed."""
        changed: list[Alert] = []
        for tag in self._due(now_ms):
            changed += self._look(tag, now_ms)
        for tag in [o for o in self._alerts if o.startswith("piece:")]:
            if tag.removeprefix("piece:") not in self._index and self._alerts[tag]:
                changed += self._decide(tag, [], now_ms)
        for room in self.shop.rooms:
            told = self._alerts.get(f"room:{room}", {})
            work = self._work_in(room)
            if told or work.wet or work.young or work.curing:
                found = room_conditions(self.shop, room, now_ms=now_ms, work=work, told=told)
                changed += self._decide(f"room:{room}", found, now_ms)
        for sensor in self.shop.sensors:
            found = sensor_conditions(self.shop, sensor, now_ms)
            changed += self._decide(f"sensor:{sensor.id}", found, now_ms)
        return changed

    def _due(self, now_ms: int) -> list[str]:
        """Return the tags of the pieces whose standing can have changed."""
        if len(self._rooms) != len(self.shop.book.climates):
            self.pieces_changed()
        frontiers: Times = np.array(
            [min(self.shop.book.frontier_ms(room) or NEVER_MS, now_ms) for room in self._rooms]
            + [NEVER_MS],
            dtype=np.int64,
        )
        due = (self._due_at <= now_ms) | (self._due_frontier <= frontiers[self._room_of])
        return [self._tags[i] for i in np.flatnonzero(due)]

    def _look(self, tag: str, now_ms: int) -> list[Alert]:
        piece = self.shop.pieces[tag]
        now = assess_piece(self.shop, piece, now_ms)
        self.pieces_now[tag] = now
        self.looked.add(tag)
        index = self._index[tag]
        room = now.room
        self._room_of[index] = self._rooms.index(room) if room in self._rooms else -1
        resting = [
            alert.rest_until_ms
            for alert in self._alerts.get(f"piece:{tag}", {}).values()
            if alert.rest_until_ms is not None
        ]
        looks = NextLook.of(now, piece, self.shop, now_ms)
        self._due_at[index] = min([looks.at_ms, *(r for r in resting if r > now_ms)])
        self._due_frontier[index] = looks.frontier_ms
        self._drop_work(tag)
        if room is not None and (now.wet or now.young or _curing(now)):
            self._work.setdefault(room, {})[tag] = now
            self._room_work.pop(room, None)
        return self._decide(f"piece:{tag}", piece_conditions(now, piece, now_ms), now_ms)

    def _drop_work(self, tag: str) -> None:
        for room, pieces in self._work.items():
            if pieces.pop(tag, None) is not None:
                self._room_work.pop(room, None)

    def _work_in(self, room: str) -> RoomWork:
        if room not in self._room_work:
            self._room_work[room] = room_work(self._work.get(room, {}).values())
        return self._room_work[room]

    def _decide(self, who: str, conditions: list[Condition], now_ms: int) -> list[Alert]:
        mine = self._alerts.get(who)
        if not mine and not conditions:
            return []
        changed = decide(mine or {}, conditions, now_ms)
        for alert in changed:
            self.note(alert)
        return changed


def owner(subject: str) -> str:
    """Return the thing a subject belongs to: 'piece:B12#coat-7' belongs to 'piece:B12'."""
    return subject.partition("#")[0]


def room_work(pieces: Iterable[PieceNow]) -> RoomWork:
    """Sort a room's pieces by what the climate can still do to them."""
    these = list(pieces)
    return RoomWork(
        wet=[piece for piece in these if piece.wet],
        young=[piece for piece in these if piece.young],
        curing=[piece for piece in these if _curing(piece)],
    )


def _curing(now: PieceNow) -> bool:
    stone = now.milestone(MilestoneName.FULL_CURE)
    return stone is not None and stone.required_hours is not None and stone.reached_at is None


@lru_cache(maxsize=1024)
def _fastest(law: RateLaw) -> float:
    return law.fastest


class NextLook:
    """When a piece's standing can change next: by the wall clock, or by its room's record [ms]."""

    def __init__(self, at_ms: int, frontier_ms: int) -> None:
        """Keep both limits; whichever comes first calls for a look."""
        self.at_ms = at_ms
        self.frontier_ms = frontier_ms

    @classmethod
    def of(cls, now: PieceNow, piece: Piece, shop: Shop, now_ms: int) -> NextLook:
        """Return the earliest instant at which anything about the piece can be otherwise."""
        ahead = [now_ms + LONGEST_UNSEEN_MS, *_planned(piece)]
        ahead += [deed.at_ms + DEED_SPEAKS_MS for deed in now.deeds]
        if now.last_coat_at is not None and now.window is not None:
            finish = shop.finish_of(piece)
            if finish.young_h is not None:
                ahead.append(now.last_coat_at + round(finish.young_h.value * MS_PER_H))
            ahead += _window_edges(now, shop, piece, now_ms)
        at_ms = min(at for at in ahead if at > now_ms)
        return cls(at_ms, _frontier_due(now, piece, shop, now_ms))


def _planned(piece: Piece) -> list[int]:
    """Return the instants of what people entered, which may lie ahead in a replay."""
    found = [coat.at_ms for coat in piece.coats] + [work.at_ms for work in piece.work]
    found += [stay.start_ms for stay in piece.stays]
    return found + [stay.stop_ms for stay in piece.stays if stay.stop_ms is not None]


def _window_edges(now: PieceNow, shop: Shop, piece: Piece, now_ms: int) -> list[int]:
    """Return the window's edges, and how soon a warmer room could bring a closing."""
    window = now.window
    assert window is not None  # noqa: S101 - the caller has looked
    edges = [at for at in (window.closes_at, window.reopens_at, window.opens_at) if at is not None]
    if window.closes_at is None:
        return edges
    opens = now.milestone(MilestoneName.RECOAT_OPENS)
    if opens is not None and opens.cautious_at is not None:
        quarter = (window.closes_at - opens.cautious_at) // 4
        edges.append(window.closes_at - min(LONGEST_LAST_CALL_MS, quarter))
    found = list(edges)
    if window.state is WindowState.CLOSING:
        found.append(now_ms + MINUTE_MS)  # a cooling room may still lift the last call
    cure = now.clocks.get(ClockName.CURE)
    law = law_for(shop.finish_of(piece), ClockName.CURE, shop.room(now.room or ""))
    if cure is not None and law is not None and window.closes_at > now_ms:
        pace = min((cure.mean_rate or 1.0) / _fastest(law), 1.0)
        ahead = [at - now_ms for at in edges if at > now_ms]
        found += [now_ms + max(round(away * pace), MINUTE_MS) for away in ahead]
    return found


def _frontier_due(now: PieceNow, piece: Piece, shop: Shop, now_ms: int) -> int:
    """Return how far the room's record must reach before a ready milestone can be passed [ms]."""
    frontier = shop.book.frontier_ms(now.room or "")
    known_ms = NEVER_MS if frontier is None else min(frontier, now_ms)
    finish, soonest = shop.finish_of(piece), 2**62
    for stone in now.milestones:
        reading = now.clocks.get(stone.clock)
        waits = stone.cautious_at is None and stone.name is not MilestoneName.RECOAT_CLOSES
        if not waits or stone.required_hours is None or reading is None:
            continue
        law = law_for(finish, stone.clock, shop.room(now.room or ""))
        if law is None:
            continue
        have, asked = reading.effective_hours, stone.required_hours
        left_h = asked - have
        if stone.reached_at is not None:
            relative = reading.standard_error / have if have > 0.0 else 0.0
            left_h = (asked * (1.0 + CONFIDENT_Z * relative) - have) / DOUBT_SHRINKS
        wait_ms = max(round(left_h / _fastest(law) * MS_PER_H), MINUTE_MS)
        soonest = min(soonest, known_ms + wait_ms)
    return soonest
