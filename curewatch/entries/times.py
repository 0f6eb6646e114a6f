"""When something happened that is entered, and writing for several pieces at once."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from curewatch.errors import BadInput, CurewatchError, StorageError
from curewatch.times import instant_ms

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from curewatch.opened import Opened

SLACK_MS = 5 * 60_000  # a wall clock at the bench may be off by so much
EARLIEST_MS = 946_684_800_000  # 2000-01-01: nobody means an earlier year


def past_ms(at: Opened, text: str | None, *, option: str = "--at") -> int:
    """Return the instant [ms] of something that has happened; now where nothing is said.

    Parameters
    ----------
    at : Opened
        The shop; its zone and its now.
    text : str or None
        What was typed.
    option : str
        What the place is called where it was typed.

    Raises
    ------
    BadInput
        When it is no time, or lies ahead, or in another century.
    """
    if text is None:
        return at.now_ms
    at_ms = instant_ms(text, zone=at.words.zone, now_ms=at.now_ms)
    if at_ms > max(at.now_ms, at.entered_ms) + SLACK_MS:
        raise BadInput(
            f"{option} {text}: {at.words.at(at_ms, at.now_ms)} lies ahead; write when it "
            "happened, such as 'yesterday 16:40'"
        )
    if at_ms < EARLIEST_MS:
        raise BadInput(f"{option} {text}: nobody sprayed then with this program; check the year")
    return at_ms


@contextmanager
def stored_already(what: str) -> Iterator[None]:
    """Say of an error in answering that what was entered is safe."""
    try:
        yield
    except CurewatchError as error:
        raise StorageError(
            f"{what} is stored; only the answer failed (do not enter it again): {error}"
        ) from error


@contextmanager
def all_or_none(at: Opened, tags: Sequence[str]) -> Iterator[None]:
    """Write for all pieces in one transaction, or for none and say so."""
    try:
        with at.store.db.transaction():
            yield
    except BadInput as error:
        if len(tags) < 2:  # noqa: PLR2004 - for one piece the error says enough
            raise
        raise BadInput(f"{error}. Nothing was stored for {', '.join(tags)}") from error
