"""Numbered steps from an empty file, or any older schema, to the present one."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources
from typing import TYPE_CHECKING

from curewatch.errors import StorageError

if TYPE_CHECKING:
    from collections.abc import Callable

    import apsw

APPLICATION_ID = 0x43555245  # 'CURE': tells our files from other programs'


@dataclass(frozen=True, slots=True)
class Step:
    """One numbered change of the schema, run inside a transaction of its own.

    Attributes
    ----------
    number: the schema's number after it.
    run: what to do on the connection.
    """

    number: int
    run: Callable[[apsw.Connection], object]


def steps() -> tuple[Step, ...]:
    """Return every step in order, read from the files 'NNNN_name.sql' beside this module."""
    folder = resources.files("curewatch.storage") / "steps"
    files = sorted(
        (entry for entry in folder.iterdir() if entry.name.endswith(".sql")),
        key=lambda entry: entry.name,
    )
    return tuple(_from_sql(int(entry.name[:4]), entry.read_text("utf-8")) for entry in files)


def _from_sql(number: int, text: str) -> Step:
    """Return the step that executes the SQL `text`."""
    return Step(number, lambda connection: connection.execute(text).fetchall())


def schema_number(connection: apsw.Connection) -> int:
    """Return the schema's number in the file, 0 for an empty one."""
    return int(connection.execute("PRAGMA user_version").get)


def check_ours(connection: apsw.Connection, newest: int, name: str) -> int:
    """Return the file's schema number after making sure this program may use it.

    Raises
    ------
    StorageError
        When the file belongs to another program or to a newer curewatch.
    """
    number = schema_number(connection)
    owner = int(connection.execute("PRAGMA application_id").get)
    empty = connection.execute("SELECT NOT EXISTS (SELECT 1 FROM sqlite_schema)").get
    if owner != APPLICATION_ID and not (owner == 0 and number == 0 and empty):
        raise StorageError(
            f"database {name}: it belongs to another program and was left alone: "
            "give a path of its own under [storage] path"
        )
    if number > newest:
        raise StorageError(
            f"database {name}: it is of schema {number}, this curewatch knows up to {newest}: "
            "install the curewatch that wrote it, or restore a backup from before the upgrade"
        )
    return number


def migrate(connection: apsw.Connection, name: str, *, through: tuple[Step, ...]) -> int:
    """Bring the file from whatever older schema to the last step of `through`.

    Each step and its number commit together, so a process killed on the way leaves a file of
    one whole schema or the next. Returns the number reached.
    """
    newest = through[-1].number
    if check_ours(connection, newest, name) == newest:
        return newest
    connection.execute("PRAGMA foreign_keys = OFF")  # no effect inside a transaction
    for step in through:
        _take(connection, step, name)
    connection.execute("PRAGMA foreign_keys = ON")
    return newest


def _take(connection: apsw.Connection, step: Step, name: str) -> None:
    """Run one step unless it has been taken, by us or by another process meanwhile."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        if schema_number(connection) < step.number:
            step.run(connection)
            _check_references(connection, step, name)
            connection.execute(f"PRAGMA user_version = {step.number:d}")
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID:d}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _check_references(connection: apsw.Connection, step: Step, name: str) -> None:
    """Refuse a step that left rows pointing nowhere."""
    broken = connection.execute("PRAGMA foreign_key_check").fetchall()
    if broken:
        raise StorageError(
            f"database {name}: step {step.number} of its schema left {len(broken)} rows that "
            "point nowhere; nothing was changed: please report it"
        )
