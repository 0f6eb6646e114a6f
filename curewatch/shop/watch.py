"""The watch: minute after minute, what changed in the shop and who must be told.

A full assessment looks at every piece. The watch looks at a piece again only when something
about it can have changed: when a person did something, when its room's record was rewritten, or
when the climate could at the very fastest have carried it to its next threshold. So a minute
costs rooms, not pieces, and it says the same as assessing everything every minute.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.assessment import PieceNow, assess_piece
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.conditions import Condition, piece_conditions
from curewatch.shop.decide import decide
from curewatch.shop.finish import MilestoneName
from curewatch.shop.follow_up import follow_up_conditions, next_change_ms
from curewatch.shop.joining import parts_of
from curewatch.shop.next_look import FOR_EVER_MS, LONGEST_UNSEEN_MS, NEVER_MS, NextLook
from curewatch.shop.pot_conditions import pot_conditions
from curewatch.shop.room_conditions import RoomWork, can_cold_check, room_conditions
from curewatch.shop.sensor_conditions import sensor_conditions

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from curewatch.shop.climate import Times
    from curewatch.shop.piece import Piece
    from curewatch.shop.shop import Shop

    Key = tuple[AlertKind, str]

SPREAD_MINUTES = 180  # pieces looked at in one minute are looked at again over so many
DAWN_MINUTES = 10  # sentences speak of days: soon after the shop's day has turned they are renewed


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
        self._curing: set[str] = set()
        self._tags: list[str] = []
        self._rooms: list[str] = []
        self._unsettled: dict[str, tuple[tuple[str, int | None], ...]] = {}
        self._plans = dict(self.shop.plans)
        self._finished: tuple[Piece, ...] | None = None
        self._asks_ms = FOR_EVER_MS
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
        self._due_frontier = np.full(size, FOR_EVER_MS, dtype=np.int64)
        self._unsettled = {t: u for t, u in self._unsettled.items() if t in self.shop.pieces}
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
        self._heed_plans()
        for tag in self._with_wholes(self._due(now_ms)):
            changed += self._look(tag, now_ms)
        for tag in [o for o in self._alerts if o.startswith("piece:")]:
            if tag.removeprefix("piece:") not in self._index and self._alerts[tag]:
                changed += self._decide(tag, [], now_ms)
        for room in self.shop.rooms:
            told = self._alerts.get(f"room:{room}", {})
            work = self._work_in(room)
            if told or work.wet or work.young or work.curing or work.brittle:
                found = room_conditions(self.shop, room, now_ms=now_ms, work=work, told=told)
                changed += self._decide(f"room:{room}", found, now_ms)
        for sensor in self.shop.sensors:
            found = sensor_conditions(self.shop, sensor, now_ms)
            changed += self._decide(f"sensor:{sensor.id}", found, now_ms)
        named = {who.partition(":")[2] for who in self._alerts if who.startswith("pot:")}
        for name in sorted({*named, *self.shop.pots}):
            pot = self.shop.pots.get(name)
            found = [] if pot is None else pot_conditions(self.shop, pot, now_ms)
            changed += self._decide(f"pot:{name}", found, now_ms)
        return [*changed, *self._follow_up(now_ms)]

    def _with_wholes(self, tags: list[str]) -> list[str]:
        """Return the tags, and behind them what those pieces are joined onto."""
        wholes = {joining.onto for joining in self.shop.joinings} & self._index.keys()
        looked = set(tags)
        due = {w for w in wholes if looked.intersection(parts_of(w, self.shop.joinings))}
        return [*tags, *sorted(due - looked)]

    def _follow_up(self, now_ms: int) -> list[Alert]:
        """Ask about finished pieces again, when a question comes due or pieces changed."""
        pieces = self.shop.finished
        told = [who for who in self._alerts if who.startswith("follow-up:")]
        rest = any(a.rest_until_ms is not None for who in told for a in self._alerts[who].values())
        if pieces is self._finished and now_ms < self._asks_ms and not rest:
            return []
        self._finished = pieces
        ahead = [at for piece in pieces if (at := next_change_ms(piece, now_ms)) is not None]
        self._asks_ms = min(ahead, default=FOR_EVER_MS)
        asked = {f"follow-up:{piece.tag}": follow_up_conditions(piece, now_ms) for piece in pieces}
        changed: list[Alert] = []
        for who in sorted({*asked, *told}):
            changed += self._decide(who, asked.get(who, []), now_ms)
        return changed

    def _heed_plans(self) -> None:
        """Look at a room's pieces again where other things are planned for it than before."""
        plans = self.shop.plans
        if plans != self._plans:
            for room in {*plans, *self._plans}:
                if plans.get(room) != self._plans.get(room):
                    self.room_rewritten(room)
            self._plans = dict(plans)

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
        for tag, rooms in self._unsettled.items():
            if any(self.shop.book.frontier_ms(room) != ends_ms for room, ends_ms in rooms):
                due[self._index[tag]] = True
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
        at_ms = looks.at_ms
        if at_ms == now_ms + LONGEST_UNSEEN_MS:
            at_ms -= index % SPREAD_MINUTES * MINUTE_MS  # not a whole shop in one minute
        turns_ms = self.shop.words.next_day_ms(now_ms) + index % DAWN_MINUTES * MINUTE_MS
        self._due_at[index] = min([at_ms, turns_ms, *(r for r in resting if r > now_ms)])
        self._due_frontier[index] = looks.frontier_ms
        self._unsettled.pop(tag, None)
        if looks.unsettled:
            self._unsettled[tag] = looks.unsettled
        self._drop_work(tag)
        if piece.left_ms is not None and piece.left_ms <= now_ms:
            return self._decide(f"piece:{tag}", [], now_ms)
        curing = _curing(now)
        (self._curing.add if curing else self._curing.discard)(tag)
        if room is not None and (now.wet or now.young or curing or can_cold_check(now)):
            self._work.setdefault(room, {})[tag] = now
            self._room_work.pop(room, None)
        told = self._alerts.get(f"piece:{tag}", {})
        found = piece_conditions(now, piece, now_ms, told=told)
        return self._decide(f"piece:{tag}", found, now_ms)

    def _drop_work(self, tag: str) -> None:
        for room, pieces in self._work.items():
            if pieces.pop(tag, None) is not None:
                self._room_work.pop(room, None)

    def _work_in(self, room: str) -> RoomWork:
        if room not in self._room_work:
            these = self._work.get(room, {}).values()
            self._room_work[room] = room_work(these, self._curing)
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


def room_work(pieces: Iterable[PieceNow], known: Collection[str] | None = None) -> RoomWork:
    """Sort a room's pieces by what the climate can still do to them.

    `known` holds the tags of those still curing, where a caller has that at hand.
    """
    these = list(pieces)
    return RoomWork(
        wet=[piece for piece in these if piece.wet],
        young=[piece for piece in these if piece.young],
        curing=[p for p in these if (_curing(p) if known is None else p.tag in known)],
        brittle=[piece for piece in these if can_cold_check(piece)],
    )


def _curing(now: PieceNow) -> bool:
    stone = now.milestone(MilestoneName.FULL_CURE)
    return stone is not None and stone.required_hours is not None and stone.reached_at is None
