"""Gathering a piece's record: its history from the shop, and everything ever entered about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.records.care import care_advice
from curewatch.shop.record import RecordFacts, record_facts

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.shop.batch import Batch
    from curewatch.storage.history import Entry


@dataclass(frozen=True, slots=True)
class Record:
    """A piece's record.

    Attributes
    ----------
    site: the shop's name; zone: the name of its time zone.
    now_ms: when the record was made [ms].
    facts: the history.
    parts: the histories of what is joined to it.
    pots: the pots that coats came from, by name.
    entries: everything ever entered, voided or not, in order of entry.
    care: how it is looked after (common practice).
    """

    site: str
    zone: str
    now_ms: int
    facts: RecordFacts
    parts: tuple[RecordFacts, ...]
    pots: dict[str, Batch]
    entries: tuple[Entry, ...]
    care: tuple[str, ...]

    @property
    def all(self) -> tuple[RecordFacts, ...]:
        """The piece itself, then its parts."""
        return (self.facts, *self.parts)

    @property
    def voided(self) -> tuple[Entry, ...]:
        """Entries that were corrected: they stay in the record and count no more."""
        return tuple(entry for entry in self.entries if entry.void is not None)

    def told(self, *what: str) -> tuple[Entry, ...]:
        """Return entries of these kinds that still count."""
        return tuple(one for one in self.entries if one.what in what and one.void is None)


def record_of(opened: Opened, tag: str) -> Record:
    """Return a piece's record, also of one that left the shop.

    Raises
    ------
    BadInput
        When there is no such piece.
    """
    piece = opened.store.pieces.load(tag)
    shop = opened.shop(tags=[piece.tag])
    facts = record_facts(shop, piece, opened.now_ms)
    parts = [record_facts(shop, shop.parts[part], opened.now_ms) for part in facts.parts]
    named = {coat.coat.pot for one in (facts, *parts) for coat in one.coats if coat.coat.pot}
    return Record(
        site=opened.settings.site.name,
        zone=str(opened.words.zone),
        now_ms=opened.now_ms,
        facts=facts,
        parts=tuple(parts),
        pots={name: opened.store.batches.get(name) for name in sorted(named)},
        entries=opened.store.pieces.history(piece.tag),
        care=care_advice(piece.finish),
    )
