"""A small shop in a real database, for tests of what keeps and what tells: one room, one sensor."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from curewatch.assembly import assemble, finish_text, load_pieces
from curewatch.errors import TransportError
from curewatch.intake import Arrived, TopicTable
from curewatch.keeping import Keeping
from curewatch.room_feed import RoomFeed
from curewatch.settings import Settings, load_settings
from curewatch.shop.piece import Coat
from curewatch.shop.reading import Quantity, Reading
from curewatch.shop.watch import Watch
from curewatch.storage import Store

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from curewatch.shop.shop import Shop

T0_MS = 1_772_668_800_000  # 2026-03-05 00:00 UTC
MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
TOPIC = "shop/loft"
CONFIG = """
[site]
name = "yard"
[storage]
path = "shop.db"
[[room]]
name = "loft"
[[sensor]]
id = "rack"
room = "loft"
topic = "shop/loft"
temperature = "/t"
humidity = "/rh"
time = "/at"
report_every_min = 10
[[sensor]]
id = "bare"
room = "loft"
topic = "shop/bare"
temperature = ""
report_every_min = 10
"""


@dataclass
class FakeLine:
    """A line that remembers what was acknowledged and published, and may be down or picky."""

    acked: list[int] = field(default_factory=list)
    sent: list[tuple[str, str, bool, int]] = field(default_factory=list)
    down: bool = False
    never: str = ""

    def ack(self, messages: Iterable[Arrived]) -> None:
        """Remember the packet numbers."""
        self.acked += [message.mid for message in messages]

    def publish(self, topic: str, payload: str, *, retain: bool, qos: int) -> object:
        """Remember the message."""
        if self.down:
            raise TransportError("no connection", retry=True)
        if topic == self.never:
            raise TransportError("cannot be published", retry=False)
        self.sent.append((topic, payload, retain, qos))
        return None

    def topics(self) -> list[str]:
        """Return the topics of what was sent, and forget them."""
        found = [topic for topic, *_ in self.sent]
        self.sent.clear()
        return found


@dataclass
class SmallShop:
    """The parts of the daemon, without its thread."""

    settings: Settings
    store: Store
    shop: Shop
    feed: RoomFeed
    watch: Watch
    line: FakeLine

    @classmethod
    def open(cls, folder: Path, *, config: str = "", now_ms: int = T0_MS) -> SmallShop:
        """Open the shop in `folder` as a daemon does at its start."""
        path = folder / "curewatch.toml"
        path.write_text(CONFIG + config, "utf-8")
        settings = load_settings(path)
        store = Store.open(settings.storage.path)
        shop = assemble(settings, store, now_ms)
        feed = RoomFeed(store, shop)
        feed.load(T0_MS - 24 * HOUR_MS)
        return cls(settings, store, shop, feed, Watch(shop, store.alerts.active()), FakeLine())

    def keeping(self) -> Keeping:
        """Return what keeps messages."""
        return Keeping(self.store, self.shop, self.feed, TopicTable(self.settings.mappings()))

    def hang(self, tag: str, finish: str, *coats_ms: int, planned: int | None = None) -> None:
        """Hang a piece in the loft and lay its coats."""
        with self.store.db.transaction():
            revision = self.store.finishes.keep(finish, finish_text(self.settings, finish), T0_MS)
            self.store.pieces.hang(
                tag,
                finish,
                revision,
                title="",
                at_ms=T0_MS - 100 * HOUR_MS,
                entered_ms=T0_MS,
                room="loft",
                planned_coats=planned,
            )
            for at_ms in coats_ms:
                self.store.pieces.coat(tag, Coat(at_ms), T0_MS)
        load_pieces(self.store, self.shop)
        self.watch.pieces_changed()

    def climate(self, start_ms: int, stop_ms: int, *, temp_c: float = 21.0) -> None:
        """Store a reading every ten minutes and take them into the book."""
        found = [
            Reading("rack", quantity, at_ms, value)
            for at_ms in range(start_ms, stop_ms, 10 * MINUTE_MS)
            for quantity, value in ((Quantity.TEMPERATURE, temp_c), (Quantity.HUMIDITY, 0.5))
        ]
        self.feed.take(self.store.readings.add(found).added)


def message(  # noqa: PLR0913 - what a test leaves out is the usual
    at_ms: int | None,
    temp_c: object = 21.0,
    rh_pct: object = 50.0,
    *,
    mid: int = 1,
    topic: str = TOPIC,
    payload: bytes | None = None,
    received_ms: int | None = None,
    backlog: bool = False,
) -> Arrived:
    """Return a message as the line hands it out."""
    if payload is None:
        payload = json.dumps({"t": temp_c, "rh": rh_pct, "at": at_ms}).encode()
    came_ms = received_ms if received_ms is not None else (at_ms or T0_MS) + 500
    return Arrived(
        generation=1,
        mid=mid,
        qos=1,
        topic=topic,
        payload=payload,
        retained=False,
        received_s=0.0,
        received_ms=came_ms,
        backlog=backlog,
    )
