"""Keeping: what arrived becomes readings, is committed, acknowledged, and brought into the book.

The order is the promise: decode, gate, commit, then acknowledge. A message is acknowledged only
after the transaction that holds its readings (or counts its refusal) is on the disk.
"""

from __future__ import annotations

import logging
from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

import numpy as np

from curewatch.assembly import load_heard
from curewatch.errors import StorageError
from curewatch.intake import Arrived, TopicTable, decode
from curewatch.intake.polling import OWN_GENERATION, polled
from curewatch.presences import Presences
from curewatch.shop.gate import QualityGate
from curewatch.shop.reading import Flag, Reading, Rejected, RejectReason

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from curewatch.room_feed import RoomFeed
    from curewatch.shop.shop import Shop
    from curewatch.storage import Store

LOG = logging.getLogger(__name__)
RESUME_MS = 7 * 3_600_000  # a frozen pair is known again after a restart
HEARD_KEPT = 20_000


class Line(Protocol):
    """What acknowledges messages: the line to the broker."""

    def ack(self, messages: Iterable[Arrived]) -> None:
        """Tell the broker that messages are kept for good."""


class Keeping:
    """Takes batches of messages in, and keeps the shop's book and facts in step with storage."""

    def __init__(
        self,
        store: Store,
        shop: Shop,
        feed: RoomFeed,
        topics: TopicTable,
        *,
        follows_readings: bool = False,
        presences: Presences | None = None,
    ) -> None:
        """Write to `store`; feed `shop`.

        Where 'now' follows the readings, what is refused is told at the newest reading's time.
        `presences` takes in who is said to be gone, and who is heard without a place.
        """
        self._presences = presences or Presences(store, shop)
        self._follows_readings = follows_readings
        self._store = store
        self._shop = shop
        self._feed = feed
        self._topics = topics
        self._gate = resumed_gate(store)
        self._untimed_ms = 0
        self._behind_ms: dict[str, int] = {}  # rooms the book has not taken in, from when
        for sensor in shop.sensors:
            self._note_frozen(sensor.id)

    def keep(self, arrived: Sequence[Arrived], line: Line) -> set[str]:
        """Keep a batch; return the rooms whose past it changed.

        Raises
        ------
        StorageError
            When it could not be committed; nothing is acknowledged then, and the same batch may
            be handed in again.
        """
        answers, heard = [], self._presences.open()
        for message in arrived:
            told = self._answers(message)
            heard.take(message, told)
            answers += told
        readings = [answer for answer in answers if isinstance(answer, Reading)]
        refused = [answer for answer in answers if isinstance(answer, Rejected)]
        now_ms = max((message.received_ms for message in arrived), default=0)
        if self._follows_readings:
            now_ms = max((r.at_ms for r in [*readings, *self._shop.heard.values()]), default=now_ms)
            refused = [replace(rejected, received_ms=now_ms) for rejected in refused]
        with self._store.db.transaction():
            added = self._store.readings.add(readings)
            refused += [_refused(r, RejectReason.DUPLICATE, now_ms) for r in added.duplicates]
            refused += [_refused(r, RejectReason.CONFLICT, now_ms) for r in added.conflicts]
            self._store.rejections.add(refused)
            heard.keep()
        line.ack(arrived)
        return self._take_in(added.added, refused) | heard.take_in()

    def _answers(self, message: Arrived) -> list[Reading | Rejected]:
        if message.generation == OWN_GENERATION:
            return self._gate.admit_all(polled(message), received_ms=message.received_ms)
        found: list[Reading | Rejected] = []
        for mapping in self._topics.for_topic(message.topic):
            answers = decode(
                mapping,
                message.payload,
                received_ms=message.received_ms,
                retained=message.retained,
                backlog=message.backlog,
            )
            spread = [self._spread_untimed(answer) for answer in answers]
            found += self._gate.admit_all(spread, received_ms=message.received_ms)
        return found

    def _spread_untimed(self, answer: Reading | Rejected) -> Reading | Rejected:
        """Give a reading whose time is not known a millisecond of its own: none may be lost."""
        if isinstance(answer, Rejected) or not answer.flags & Flag.TIME_UNKNOWN:
            return answer
        self._untimed_ms = max(answer.at_ms, self._untimed_ms + 1)
        return Reading(
            sensor=answer.sensor,
            quantity=answer.quantity,
            at_ms=self._untimed_ms,
            value=answer.value,
            origin=answer.origin,
            flags=answer.flags,
        )

    def _take_in(self, readings: Sequence[Reading], refused: Sequence[Rejected]) -> set[str]:
        """Bring the book up to date; what it could not take in now is read again next time."""
        timed = [reading for reading in readings if not reading.flags & Flag.TIME_UNKNOWN]
        note_heard(self._shop, timed)
        for sensor in {reading.sensor for reading in timed}:
            self._note_frozen(sensor)
        try:
            rewritten = self._catch_up() | self._feed.take(timed)
            if refused:
                load_heard(self._store, self._shop)
        except StorageError as error:  # all of it is committed and acknowledged: no second time
            for reading in timed:
                for room in self._feed.rooms_of(reading.sensor):
                    known_ms = self._behind_ms.get(room, reading.at_ms)
                    self._behind_ms[room] = min(known_ms, reading.at_ms)
            LOG.error("%s (kept, but not yet counted)", error)  # noqa: TRY400 - the sentence says it all
            return set()
        return rewritten

    def _catch_up(self) -> set[str]:
        """Read the rooms again that could not be brought up to date."""
        rooms = set(self._behind_ms)
        for room in rooms:
            self._feed.reload(room, self._behind_ms[room])
            del self._behind_ms[room]
        return rooms

    def _note_frozen(self, sensor: str) -> None:
        since = self._gate.frozen_since_ms(sensor)
        if since is None:
            self._shop.frozen_since.pop(sensor, None)
        else:
            self._shop.frozen_since[sensor] = since


def note_heard(shop: Shop, readings: Iterable[Reading]) -> None:
    """Remember when sensors were heard, and their newest values."""
    times: dict[str, set[int]] = {}
    for reading in readings:
        times.setdefault(reading.sensor, set()).add(reading.at_ms)
        key = (reading.sensor, reading.quantity)
        newest = shop.heard.get(key)
        if newest is None or reading.at_ms >= newest.at_ms:
            shop.heard[key] = reading
    for sensor, new in times.items():
        known = shop.heard_ms.get(sensor, np.empty(0, dtype=np.int64))
        fresh = np.array(sorted(new), dtype=np.int64)
        late = known.size > 0 and fresh[0] <= known[-1]  # rare, and a union costs a whole sort
        both = np.union1d(known, fresh) if late else np.concatenate((known, fresh))
        shop.heard_ms[sensor] = both[-HEARD_KEPT:]


def resumed_gate(store: Store) -> QualityGate:
    """Return the quality gate as it stood after the newest stored readings."""
    newest = store.readings.newest_ms()
    recent = [] if newest is None else list(store.readings.rows(newest - RESUME_MS, newest + 1))
    return QualityGate.resume([*store.readings.latest().values(), *recent])


def _refused(reading: Reading, reason: RejectReason, now_ms: int) -> Rejected:
    same = (
        "the same value" if reason is RejectReason.DUPLICATE else f"another value {reading.value:g}"
    )
    detail = f"{reading.quantity.word} at this instant is kept already; came again with {same}"
    return Rejected(reading.sensor, reason, now_ms, detail, reading.quantity)
