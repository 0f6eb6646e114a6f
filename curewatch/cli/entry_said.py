"""What was entered about a piece, said as facts in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.words import counted

if TYPE_CHECKING:
    from curewatch.shop.words import Words
    from curewatch.storage.history import Entry

    Fact = str | int | float | None

LATE_MS = 3_600_000  # entered longer than this after it was so is marked
WORDED: dict[str, tuple[tuple[str, str], ...]] = {
    "hang": (("finish", ""), ("revision", "revision"), ("title", "")),
    "move": (("room", "into"),),
    "coat": (("pot", "pot"),),
    "work": (("kind", ""), ("anyway", "anyway:")),
    "outcome": (("finding", ""),),
    "rejudge": (("revision", "by revision"), ("why", "")),
    "join": (("onto", "onto"), ("part", "with its part")),
    "hold": (("target", ""), ("why", "")),
    "release": (("target", ""), ("why", "")),
    "follow-up closed": (("days", "not looked at, days after it was finished:"), ("why", "")),
}
HELD = {"batch": "pot", "lot": "lot", "piece": "piece"}


def entry_said(entry: Entry, words: Words, now_ms: int) -> str:
    """Say what was entered, and whether it counts."""
    said = ", ".join(filter(None, _facts(entry, words, now_ms)))
    return f"VOID. {said}" if entry.void is not None else said


def entered_said(entry: Entry, words: Words, now_ms: int) -> str:
    """Say when something was entered, marked where that was long after it was so."""
    when = words.at(entry.entered_ms, now_ms)
    return f"{when}, late" if entry.entered_ms - entry.at_ms > LATE_MS else when


def _facts(entry: Entry, words: Words, now_ms: int) -> list[str]:
    facts = entry.facts
    text = {name: str(value) for name, value in facts.items() if value not in (None, "")}
    lead = _coat(facts, words, now_ms) if entry.what == "coat" else []
    if entry.what == "plan":
        lead = [f"{counted(int(text['coats']), 'coat')} in all"]
    if entry.what == "hold":
        text["target"] = f"{HELD[text['what']]} {text['target']}"
    told = [_of(text, name, word) for name, word in WORDED.get(entry.what, ())]
    return [*lead, *told, text.get("note", ""), _of(text, "who", "by")]


def _of(text: dict[str, str], name: str, word: str) -> str:
    """Return a fact behind its word; '' where there is none."""
    return f"{word} {text[name]}".strip() if name in text else ""


def _coat(facts: dict[str, Fact], words: Words, now_ms: int) -> list[str]:
    """Return a coat's film, passes and mixing."""
    wet_um, passes, mixed_ms = (facts.get(name) for name in ("wet_um", "passes", "mixed_at_ms"))
    film = f"{words.film(float(wet_um))} wet" if isinstance(wet_um, (int, float)) else ""
    many = f"{passes} passes" if isinstance(passes, int) and passes > 1 else ""
    mixed = f"mixed {words.at(mixed_ms, now_ms)}" if isinstance(mixed_ms, int) else ""
    return [film, many, mixed]
