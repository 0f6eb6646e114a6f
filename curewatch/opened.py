"""An open shop: what a command works with, and a view that needs more than the daemon holds.

It reads storage by itself, so it may be used while the daemon runs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.assembly import assemble, load_finish, load_others, load_paces, record_start_ms
from curewatch.room_feed import RoomFeed
from curewatch.shop.joining import parts_of
from curewatch.shop.shop import Shop

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.settings import Settings
    from curewatch.shop.piece import Piece
    from curewatch.shop.words import Words
    from curewatch.storage import Store


@dataclass(frozen=True, slots=True)
class Opened:
    """An open shop: its settings, its storage and the moment.

    Attributes
    ----------
    settings, store: the shop's.
    now_ms: the moment that everything is judged at [ms].
    entered_ms: the wall clock's time for what people enter [ms].
    """

    settings: Settings
    store: Store
    now_ms: int
    entered_ms: int

    @property
    def clock_note(self) -> str:
        """What 'now' is, where that is not what a clock on the wall says; empty where it is."""
        if self.settings.clock.source != "readings" or self.store.readings.newest_ms() is None:
            return ""
        when = f"{self.words.local(self.now_ms):%Y-%m-%d %H:%M}"
        return (
            f"'Now' is the newest reading here, {when}, whatever the clock on the wall says "
            '(clock.source = "readings").'
        )

    @property
    def words(self) -> Words:
        """How things are said in this shop."""
        return self.settings.words()

    def without_record(self) -> Shop:
        """Return the shop without pieces and without any room's record."""
        return Shop(rooms=self.settings.rooms(), sensors=self.settings.sensors(), words=self.words)

    def shop(self, tags: Iterable[str] | None = None, rooms: Iterable[str] | None = None) -> Shop:
        """Return the shop with its clock book filled.

        With `tags` only those pieces (even ones that left) and the rooms they hung in are read;
        with `rooms` only those rooms.
        """
        shop = assemble(self.settings, self.store, self.now_ms)
        if tags is not None:
            pieces = [self.store.pieces.load(tag) for tag in tags]
            shop.pieces = {piece.tag: piece for piece in pieces}
            for piece in pieces:
                load_finish(self.store, shop, piece)
            load_others(self.store, shop)
            load_paces(self.store, shop)
        wanted = set(shop.rooms) if rooms is None else set(rooms)
        if tags is not None and rooms is None:
            pieces = _with_parts(shop)
            wanted = {stay.room for piece in pieces for stay in piece.stays}
            wanted |= {c.pot_room for p in pieces for c in p.coats if c.pot_room is not None}
        RoomFeed(self.store, shop).load(
            record_start_ms(_with_parts(shop), self.now_ms), sorted(wanted)
        )
        return shop


def _with_parts(shop: Shop) -> list[Piece]:
    """Return the shop's pieces and what is joined to them."""
    parts = {part for tag in shop.pieces for part in parts_of(tag, shop.joinings)}
    return [*shop.pieces.values(), *(shop.parts[tag] for tag in sorted(parts - set(shop.pieces)))]
