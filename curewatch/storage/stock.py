"""The stock book: where lots of finishes and what is mixed into them stand; append-only."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.piece import Stay
from curewatch.shop.stock import Stock, StockEntry
from curewatch.storage.voids import void_entry

if TYPE_CHECKING:
    from curewatch.storage.database import Database


class StockBook:
    """The shop's cans and drums, by lot and part."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def add(self, entry: StockEntry, entered_ms: int) -> int:
        """Enter where a lot stands from a time on and return the entry's number.

        Raises
        ------
        BadInput
            When the same lot was entered for another finish.
        """
        with self._db.transaction():
            other = self._db.value(
                f"{_OTHERS} AND lot = ? AND part = ? AND finish <> ?",
                (entry.lot, entry.part, entry.finish),
            )
            if other is not None:
                raise BadInput(
                    f"lot {entry.lot} ({entry.part}) is entered for {other}: give this one another "
                    "name, such as the maker's letters before it"
                )
            return self._db.insert(
                "INSERT INTO stock (finish, lot, part, room, at_ms, opened_ms, keep_until_ms, "
                "note, entered_ms) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    *(entry.finish, entry.lot, entry.part, entry.room, entry.at_ms),
                    *(entry.opened_ms, entry.keep_until_ms, entry.note, entered_ms),
                ),
            )

    def void(self, entry: int, why: str, at_ms: int) -> None:
        """Void the entry with that number: it stays, and no longer counts."""
        void_entry(self._db, "stock", entry, why=why, at_ms=at_ms)

    def get(self, lot: str, part: str) -> Stock:
        """Return a lot of a part as it stands.

        Raises
        ------
        BadInput
            When there is none.
        """
        for stock in self.all():
            if stock.lot.casefold() == lot.casefold() and stock.part == part:
                return stock
        raise BadInput(
            f"there is no lot '{lot}' ({part}) in stock: 'curewatch stock list --gone' shows them, "
            "'curewatch stock add FINISH --lot L --room R' enters one"
        )

    def all(self) -> tuple[Stock, ...]:
        """Return every lot as it stands, in order of lot and part."""
        rows = self._db.rows(
            "SELECT finish, lot, part, room, at_ms, opened_ms, keep_until_ms, note, id "
            "FROM stock WHERE NOT EXISTS "
            "(SELECT 1 FROM void WHERE what = 'stock' AND target = stock.id) "
            "ORDER BY lot, part, at_ms, id"
        )
        entries = [StockEntry(*row) for row in rows]
        return tuple(
            _stock(list(these))
            for _, these in groupby(entries, key=lambda e: (e.lot.casefold(), e.part))
        )


_OTHERS = (
    "SELECT finish FROM stock "
    "WHERE NOT EXISTS (SELECT 1 FROM void WHERE what = 'stock' AND target = stock.id)"
)


def _stock(entries: list[StockEntry]) -> Stock:
    """Return what the ordered entries of one lot make."""
    ends = [entry.at_ms for entry in entries[1:]]
    first, last = entries[0], entries[-1]
    opened = [entry.opened_ms for entry in entries if entry.opened_ms is not None]
    keep = [entry.keep_until_ms for entry in entries if entry.keep_until_ms is not None]
    return Stock(
        finish=first.finish,
        lot=first.lot,
        part=first.part,
        stays=tuple(
            Stay(entry.room, entry.at_ms, stop_ms, entry.id)
            for entry, stop_ms in zip(entries, [*ends, None], strict=True)
            if entry.room is not None and stop_ms != entry.at_ms
        ),
        opened_ms=opened[-1] if opened else None,
        keep_until_ms=keep[-1] if keep else None,
        gone_ms=last.at_ms if last.room is None else None,
        number=last.id,
    )
