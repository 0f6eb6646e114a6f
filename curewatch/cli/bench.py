"""What a command works with: settings, storage, the shop's words and 'now'."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.assembly import assemble, load_finish, load_others, load_paces, record_start_ms
from curewatch.clock import system_ms
from curewatch.errors import StorageError
from curewatch.room_feed import RoomFeed
from curewatch.settings import Settings, load_settings
from curewatch.shop.joining import parts_of
from curewatch.shop.shop import Shop
from curewatch.storage import Store

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterable, Iterator

    from curewatch.shop.piece import Piece
    from curewatch.shop.words import Words


@dataclass(frozen=True, slots=True)
class Bench:
    """An open shop: its settings, its storage and the moment."""

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


@contextmanager
def bench(args: argparse.Namespace, *, makes: bool = True) -> Iterator[Bench]:
    """Open the shop that the command's configuration names.

    Where there is no database yet it is made, and said so, if there is a configuration: without
    one the shop's own was most likely not named. With `makes` false it must be there.

    Raises
    ------
    StorageError
        When there is no database and none is made, or it cannot be used.
    """
    settings = load_settings(args.config)
    path = settings.storage.path
    new = not path.exists()
    if new and (settings.source is None or not makes):
        raise StorageError(
            f"there is no database at {path} yet: start 'curewatch run' once, or name the shop's "
            "configuration with --config FILE"
        )
    with Store.open(path) as store:
        if new:
            what = f"curewatch: there was no database at {path} yet; an empty one was made."
            print(what, file=sys.stderr)
        entered_ms = system_ms()
        now_ms = entered_ms
        if settings.clock.source == "readings":
            now_ms = store.readings.newest_ms() or entered_ms
        yield Bench(settings, store, now_ms, entered_ms)
