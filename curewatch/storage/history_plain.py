"""One thing that people entered as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.plain import instant

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.storage.history import Entry


def entry_plain(entry: Entry) -> Plain:
    """Return an entry, voided or not."""
    facts: dict[str, PlainValue] = {**entry.facts}
    mixed_ms = entry.facts.get("mixed_at_ms")
    if "mixed_at_ms" in facts:
        del facts["mixed_at_ms"]
        facts["mixed_at"] = instant(mixed_ms) if isinstance(mixed_ms, int) else None
    return {
        "what": entry.what,
        "id": entry.id or None,
        "at": instant(entry.at_ms),
        "entered_at": instant(entry.entered_ms),
        "facts": facts,
        "void": None
        if entry.void is None
        else {"why": entry.void.why, "at": instant(entry.void.at_ms)},
    }
