"""How rooms and pieces stood, kept as time goes by, for the mirror to be sent from.

What is said of a room or piece in words (a verdict, a milestone, the window) is kept in the minute
in which it changes, its figures every so often. Pieces are judged a few at a time, so that a full
shop does not hold up its readings.
"""

from __future__ import annotations

import hashlib
import json
import logging
from typing import TYPE_CHECKING

from curewatch.shop.assessment import assess_piece, assess_room
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.plain_state import piece_state, room_state

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.settings import Settings
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.plain_state import State
    from curewatch.shop.watch import Watch
    from curewatch.storage import Store

LOG = logging.getLogger(__name__)
DAY_MS = 86_400_000
AT_ONCE = 20  # pieces judged anew in one round
ROOMS_AT_ONCE = 5  # likewise: a lacquer's hours ahead cost a tenth of a second


class StateKeeper:
    """Keeps states while a mirror is configured."""

    def __init__(self, store: Store, watch: Watch, settings: Settings) -> None:
        """Keep states of the watched shop in `store`."""
        self._store = store
        self._shop = watch.shop
        self._watch = watch
        self._every_ms = settings.influx.states_every_min * MINUTE_MS
        self._wanted = settings.influx.url is not None
        self._minutes: dict[str, int] = {}  # in which each room was judged last
        self._looked: dict[str, PieceNow] = {}  # as the watch saw them last
        self._kept: dict[tuple[str, str], tuple[int, bytes]] = {}  # in which interval, said what
        self._pruned_ms: int | None = None

    def work(self, now_ms: int) -> None:
        """Keep what is due.

        Raises
        ------
        StorageError
            When it cannot be written; it is kept in a later round.
        """
        if not self._wanted:
            self._prune(now_ms)  # of a mirror that was given up
            return
        looked = dict(self._watch.pieces_now)
        states = [*self._rooms(now_ms), *self._pieces(looked, now_ms)]
        interval = now_ms // self._every_ms
        told = {(one.kind, one.name): (interval, _digest(one)) for one in states}
        due = [one for one in states if self._is_due(one, told[one.kind, one.name])]
        if due:
            self._store.states.add(due)
        self._minutes |= {s.name: now_ms // MINUTE_MS for s in states if s.kind == "room"}
        self._looked = looked
        self._kept |= {(one.kind, one.name): told[one.kind, one.name] for one in due}
        self._prune(now_ms)

    def _is_due(self, state: State, told: tuple[int, bytes]) -> bool:
        return self._kept.get((state.kind, state.name)) != told

    def _rooms(self, now_ms: int) -> Iterator[State]:
        """Yield rooms not judged in this minute, those first that wait longest."""
        minute = now_ms // MINUTE_MS
        due = [room for room in self._shop.rooms if self._minutes.get(room) != minute]
        due.sort(key=lambda room: self._minutes.get(room, -1))
        for room in due[:ROOMS_AT_ONCE]:
            yield room_state(assess_room(self._shop, room, now_ms), now_ms)

    def _pieces(self, looked: dict[str, PieceNow], now_ms: int) -> Iterator[State]:
        """Yield pieces that the watch has looked at since, and some whose figures are due."""
        interval, judged = now_ms // self._every_ms, 0
        for tag, now in looked.items():
            kept, _ = self._kept.get(("piece", tag), (None, b""))
            if kept == interval:
                if now is not self._looked.get(tag):
                    yield piece_state(now, now_ms)
            elif judged < AT_ONCE and tag in self._shop.pieces:
                judged += 1
                yield piece_state(assess_piece(self._shop, self._shop.pieces[tag], now_ms), now_ms)

    def _prune(self, now_ms: int) -> None:
        """Take away old states, once a day, and forget pieces that left."""
        if self._pruned_ms is not None and abs(now_ms - self._pruned_ms) < DAY_MS:
            return
        gone = self._store.states.prune(now_ms)
        if gone:
            LOG.info("%d old states of rooms and pieces were taken away", gone)
        here = {*self._shop.rooms, *self._shop.pieces}
        self._kept = {key: told for key, told in self._kept.items() if key[1] in here}
        self._pruned_ms = now_ms


def _digest(state: State) -> bytes:
    text = json.dumps(state.said, sort_keys=True)
    return hashlib.blake2b(text.encode(), digest_size=16).digest()
