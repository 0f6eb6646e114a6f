"""Who is said to be gone, and who is heard without having a place: taken in beside the readings.

Who is gone is kept with the batch that said so, and both are believed once that is committed, so
that a batch handed in again changes nothing. A command in another process knows them too.
"""

from __future__ import annotations

import json
import logging
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Final

from curewatch.assembly import gone_key
from curewatch.errors import StorageError
from curewatch.intake.families import Newcomer, Newcomers
from curewatch.intake.polling import OWN_GENERATION
from curewatch.shop.reading import Flag, Reading

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from curewatch.intake import Arrived
    from curewatch.intake.families import Family
    from curewatch.intake.presence import PresenceMapping
    from curewatch.shop.reading import Rejected
    from curewatch.shop.shop import Shop
    from curewatch.storage import Store

LOG = logging.getLogger(__name__)
NEWCOMERS: Final = "newcomers"
_KEEP_EVERY_MS: Final = 15 * 60_000  # newcomers are counted in memory, and written so often


class Presences:
    """The shop's presence topics and its kinds of sensor."""

    def __init__(
        self,
        store: Store,
        shop: Shop,
        presences: Iterable[PresenceMapping] = (),
        families: Iterable[Family] = (),
        placed: Iterable[tuple[str, str]] = (),
    ) -> None:
        """Listen to `presences`, and for newcomers among `families` beside those `placed`."""
        self._store = store
        self._shop = shop
        self._by_topic: dict[str, list[PresenceMapping]] = {}
        for presence in presences:
            self._by_topic.setdefault(presence.topic, []).append(presence)
        self._newcomers = Newcomers(families, placed)
        self._kept_ms = 0
        if store.meta.get(NEWCOMERS) is not None:
            store.meta.set(NEWCOMERS, "[]")  # those of an earlier run may have a place by now

    def open(self) -> PresenceBatch:
        """Return what takes in one batch of messages."""
        return PresenceBatch(self, self._shop.gone, dict(self._shop.gone))

    def said_by(self, message: Arrived) -> list[tuple[str, bool]]:
        """Return of which sensors a message says that they are gone, or there."""
        mappings = () if message.generation == OWN_GENERATION else self._by_topic.get(message.topic)
        said = ((m.sensor, m.says_gone(message.payload)) for m in mappings or ())
        return [(sensor, gone) for sensor, gone in said if gone is not None]

    def note_newcomers(self, message: Arrived) -> None:
        """Tell the log who is heard for the first time without having a place."""
        if message.generation == OWN_GENERATION:
            return
        for new in self._newcomers.take(message.topic, message.payload, message.received_ms):
            LOG.info(
                "a sensor of kind %s that has no place is heard: '%s' on %s; nothing it says is "
                "kept until a [[sensor]] gives it a room",
                new.kind,
                new.name,
                new.topic,
            )
            self._kept_ms = 0

    def keep_newcomers(self, now_ms: int) -> None:
        """Write down who they are, at once when there is a new one; later where it is not taken."""
        everyone = self._newcomers.everyone()
        if everyone and not 0 <= now_ms - self._kept_ms < _KEEP_EVERY_MS:
            text = json.dumps([asdict(one) for one in everyone])
            try:
                self._store.meta.set(NEWCOMERS, text)
            except StorageError as error:  # their batch is kept and was acknowledged
                LOG.warning("who is heard without a place is not written down yet: %s", error)
            else:
                self._kept_ms = now_ms

    def keep_gone(self, gone: dict[str, int]) -> None:
        """Write down what differs from what is known; inside a transaction."""
        known = self._shop.gone
        for sensor in gone.keys() | known.keys():
            if gone.get(sensor) != known.get(sensor):
                self._store.meta.set(gone_key(sensor), gone.get(sensor, 0))

    def changed_to(self, gone: dict[str, int], before: dict[str, int]) -> set[str]:
        """Let the shop know who is gone now; return the rooms where that changed."""
        changed = gone.keys() ^ before.keys()
        self._shop.gone = gone
        for sensor in changed:
            LOG.info("sensor %s %s", sensor, "is said to be gone" if sensor in gone else "is back")
        return {sensor.room for sensor in self._shop.sensors if sensor.id in changed}


@dataclass(slots=True)
class PresenceBatch:
    """One batch of messages: who is gone once it is kept."""

    _presences: Presences
    _before: dict[str, int]
    _gone: dict[str, int]
    _newest_ms: int = 0
    _messages: list[Arrived] = field(default_factory=list)

    def take(self, message: Arrived, answers: Sequence[Reading | Rejected]) -> None:
        """Note a message, in order of arrival, and what it was decoded to."""
        self._newest_ms = max(self._newest_ms, message.received_ms)
        self._messages.append(message)
        for sensor, gone in self._presences.said_by(message):
            if gone:
                self._gone.setdefault(sensor, message.received_ms)
            else:
                self._gone.pop(sensor, None)
        for answer in answers:
            if isinstance(answer, Reading) and self._is_back(message, answer):
                self._gone.pop(answer.sensor, None)

    def _is_back(self, message: Arrived, reading: Reading) -> bool:
        """Tell whether a reading was sent after its sensor was said to be gone."""
        if reading.flags & Flag.TIME_UNKNOWN:
            return False
        waited = message.retained or message.backlog
        return not waited or reading.at_ms > self._gone.get(reading.sensor, 0)

    def keep(self) -> None:
        """Write it down; inside the transaction that keeps the batch's readings."""
        self._presences.keep_gone(self._gone)

    def take_in(self) -> set[str]:
        """Let the shop know, once it is kept; return the rooms where something changed."""
        for message in self._messages:
            self._presences.note_newcomers(message)
        self._messages.clear()
        self._presences.keep_newcomers(self._newest_ms)
        return self._presences.changed_to(self._gone, self._before)


def newcomers_kept(store: Store) -> list[Newcomer]:
    """Return who was heard without having a place since the daemon started."""
    text = store.meta.get(NEWCOMERS)
    return [Newcomer(**one) for one in json.loads(text)] if isinstance(text, str) else []
