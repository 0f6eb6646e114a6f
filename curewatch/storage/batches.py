"""Mixed pots, as people entered them; append-only, corrected by voiding."""

from __future__ import annotations

import re
from difflib import get_close_matches
from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.batch import Batch
from curewatch.storage.voids import void_entry

if TYPE_CHECKING:
    from curewatch.storage.database import Database

RECENT_MS = 3 * 86_400_000
_NAME = re.compile(r"[A-Za-z0-9._-]{1,32}")


class Batches:
    """The mixed pots of the shop."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def mix(self, pot: Batch, entered_ms: int) -> int:
        """Enter a pot and return its number.

        Raises
        ------
        BadInput
            When the name is not 1 to 32 letters, digits, '-', '_' or '.', or was used before.
        """
        if not _NAME.fullmatch(pot.name):
            raise BadInput(
                f"'{pot.name}' cannot be a pot's name: use 1 to 32 letters, digits, '-', '_' or "
                "'.', no spaces"
            )
        with self._db.transaction():
            taken = self._db.value("SELECT name FROM batch WHERE name = ?", (pot.name,))
            if taken is not None:
                raise BadInput(
                    f"there was a pot {taken} before: give this one its own name, such as its day "
                    "and a letter"
                )
            return self._db.insert(
                f"INSERT INTO batch ({_WRITTEN}, entered_ms) "  # noqa: S608 - our own column names
                f"VALUES ({', '.join('?' * 15)})",
                (
                    *(pot.name, pot.finish, pot.revision, pot.lot, pot.mixed_at_ms, pot.room),
                    *(pot.crosslinker_pct, pot.crosslinker_lot, pot.reducer_pct),
                    *(pot.retarder_pct, pot.thinner, pot.tint, pot.note, pot.who, entered_ms),
                ),
            )

    def gone(self, name: str, at_ms: int, entered_ms: int) -> int:
        """Enter that a pot was used up or thrown away at `at_ms` [ms]; return the number of that.

        Raises
        ------
        BadInput
            When there is no such pot, it is gone already, or was mixed later.
        """
        with self._db.transaction():
            pot = self.get(name)
            if pot.gone_ms is not None:
                raise BadInput(f"the pot {pot.name} is gone already, as entered before")
            if at_ms < pot.mixed_at_ms:
                raise BadInput(f"the pot {pot.name} was mixed after that: check the time")
            return self._db.insert(
                "INSERT INTO batch_gone (batch, at_ms, entered_ms) VALUES (?, ?, ?)",
                (pot.id, at_ms, entered_ms),
            )

    def void(self, name: str, why: str, at_ms: int) -> None:
        """Void a pot: it stays, and no coat counts as laid from it."""
        void_entry(self._db, "batch", self.get(name).id, why=why, at_ms=at_ms)

    def stands_again(self, name: str, why: str, at_ms: int) -> None:
        """Void that a pot is gone.

        Raises
        ------
        BadInput
            When there is no such pot, it is not gone, or no reason is given.
        """
        pot = self.get(name)
        number = self._db.value(_GONE, (pot.id,))
        if number is None:
            raise BadInput(f"the pot {pot.name} is not gone: nothing was changed")
        void_entry(self._db, "gone", int(number), why=why, at_ms=at_ms)

    def get(self, name: str) -> Batch:
        """Return the pot called `name`, voided ones left out.

        Raises
        ------
        BadInput
            When there is none.
        """
        row = self._db.row(f"{_SELECT} AND name = ?", (name,))
        if row is not None:
            return Batch(*row)
        names = {pot.name.lower(): pot.name for pot in self.all()}
        near = [names[word] for word in get_close_matches(name.lower(), names)]
        hint = f"did you mean {' or '.join(near)}? " if near else ""
        raise BadInput(
            f"there is no pot '{name}': {hint}'curewatch pot list --all' shows them, 'curewatch "
            "pot mix NAME --finish F --lot L' enters a new one"
        )

    def all(self, *, since_ms: int = 0) -> tuple[Batch, ...]:
        """Return the pots mixed since `since_ms` [ms] in order of mixing, voided ones left out."""
        found = self._db.rows(
            f"{_SELECT} AND mixed_at_ms >= ? ORDER BY mixed_at_ms, batch.id", (since_ms,)
        )
        return tuple(Batch(*row) for row in found)

    def names(self) -> frozenset[str]:
        """Return every name a pot ever had, in small letters."""
        return frozenset(str(name).lower() for (name,) in self._db.rows("SELECT name FROM batch"))

    def recent(self) -> tuple[Batch, ...]:
        """Return the pots mixed within three days of the last one, oldest first."""
        return tuple(Batch(*row) for row in self._db.rows(_RECENT, (RECENT_MS,)))

    def pieces_of(self, name: str) -> tuple[tuple[str, int], ...]:
        """Return the tags of the pieces sprayed from a pot, with how many of its coats each has."""
        found = self._db.rows(
            "SELECT tag, count(*) FROM coat JOIN piece ON number = piece "
            "JOIN batch ON batch.id = coat.batch WHERE name = ? AND NOT EXISTS "
            "(SELECT 1 FROM void WHERE what = 'coat' AND target = coat.id) "
            "GROUP BY number ORDER BY number",
            (name,),
        )
        return tuple((str(tag), int(count)) for tag, count in found)


_WRITTEN = (
    "name, finish, revision, lot, mixed_at_ms, room, crosslinker_pct, crosslinker_lot, "
    "reducer_pct, retarder_pct, thinner, tint, note, who"
)
_GONE = (
    "SELECT max(id) FROM batch_gone WHERE batch = ? AND NOT EXISTS "
    "(SELECT 1 FROM void WHERE what = 'gone' AND target = batch_gone.id)"
)
_SELECT = (
    f"SELECT {_WRITTEN}, gone.at_ms, batch.id FROM batch LEFT JOIN batch_gone AS gone "  # noqa: S608 - our own column names
    "ON gone.batch = batch.id AND NOT EXISTS "
    "(SELECT 1 FROM void WHERE what = 'gone' AND target = gone.id) "
    "WHERE NOT EXISTS (SELECT 1 FROM void WHERE what = 'batch' AND target = batch.id)"
)
_RECENT = (
    f"{_SELECT} "  # noqa: S608 - our own query
    "AND mixed_at_ms >= (SELECT max(mixed_at_ms) FROM batch) - ? ORDER BY mixed_at_ms, batch.id"
)
