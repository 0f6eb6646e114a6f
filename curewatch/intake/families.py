"""Sensors of one kind, whose names stand in their topics or in their records' names.

Those the configuration places are ordinary mappings. The others are noticed, so that people can be
told of them; nothing they say is kept.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from curewatch.intake.mapping import topic_fault, topic_matches
from curewatch.intake.senml import PackFault, names, records

if TYPE_CHECKING:
    from collections.abc import Iterable

ID_PLACE: Final = "{id}"
MOST_NEWCOMERS: Final = 100  # whoever may publish on such topics could fill the memory
_LONGEST_ID = 200
_LARGEST_PACK = 64 * 1024  # [bytes]


@dataclass(frozen=True, slots=True)
class Family:
    """Where sensors of one kind speak.

    Attributes
    ----------
        kind: its name in the configuration.
        topic: their topic, with `ID_PLACE` for the name of each, unless their records have it.
        records: full names of their records in a SenML pack, likewise.
    """

    kind: str
    topic: str
    records: tuple[str, ...] = ()

    @property
    def filter(self) -> str:
        """The topic filter under which all of them are heard."""
        levels = self.topic.split("/")
        return "/".join("+" if ID_PLACE in level else level for level in levels)

    def heard_in(self, topic: str, payload: bytes) -> tuple[str, ...]:
        """Return the names of this kind that a message is from."""
        if not topic_matches(self.filter, topic):
            return ()
        if ID_PLACE in self.topic:
            return _filled(self.topic, topic)
        if len(payload) > _LARGEST_PACK:
            return ()
        try:
            pack = records(json.loads(payload, parse_int=float))
        except (PackFault, ValueError, RecursionError):
            return ()
        found = [_filled(place, name) for place in self.records for name in names(pack)]
        return tuple(dict.fromkeys(one for each in found for one in each))


def family_fault(topic: str) -> str | None:
    """Return what is wrong with the topic of a kind of sensors, or None."""
    if topic.count(ID_PLACE) > 1:
        return f"'{topic}': {ID_PLACE} stands once, in the level that tells such sensors apart"
    return topic_fault(topic.replace(ID_PLACE, "x"))


def to_subscribe(topics: Iterable[str], families: Iterable[Family]) -> tuple[str, ...]:
    """Return the topic filters to ask for: what a kind's covers is not asked for twice.

    A broker may deliver a message once for each filter it falls under (MQTT 5.0, section 3.3.4).
    """
    wide = tuple(dict.fromkeys(family.filter for family in families))
    exact = [
        topic
        for topic in dict.fromkeys(topics)
        if set("+#") & set(topic) or not any(topic_matches(one, topic) for one in wide)
    ]
    return (*exact, *(one for one in wide if one not in exact))


@dataclass(slots=True)
class Newcomer:
    """A sensor that is heard and that no [[sensor]] places.

    Attributes
    ----------
        kind: the kind it speaks as.
        name: what it calls itself.
        topic: the topic it was last heard on.
        first_ms, last_ms: when it was first and last heard, UTC epoch [ms].
        messages: how often.
    """

    kind: str
    name: str
    topic: str
    first_ms: int
    last_ms: int
    messages: int = 1


class Newcomers:
    """Who is heard without having a place; at most `MOST_NEWCOMERS`, the first ones."""

    def __init__(self, families: Iterable[Family], placed: Iterable[tuple[str, str]]) -> None:
        """Listen for `families`; `placed` are the kinds and names that have a place."""
        self._families = tuple(families)
        self._placed = frozenset(placed)
        self._known: dict[tuple[str, str], Newcomer] = {}

    def take(self, topic: str, payload: bytes, at_ms: int) -> list[Newcomer]:
        """Note a message; return those that are heard for the first time."""
        new = []
        for family in self._families:
            for name in family.heard_in(topic, payload):
                key = (family.kind, name)
                known = self._known.get(key)
                if known is not None:
                    known.topic, known.last_ms = topic, at_ms
                    known.messages += 1
                elif key not in self._placed and len(self._known) < MOST_NEWCOMERS:
                    self._known[key] = Newcomer(*key, topic, at_ms, at_ms)
                    new.append(self._known[key])
        return new

    def everyone(self) -> tuple[Newcomer, ...]:
        """Return all of them, in the order in which they were first heard."""
        return tuple(self._known.values())


def _filled(template: str, text: str) -> tuple[str, ...]:
    """Return what stands in the place of the name, nothing where `text` is not of that form."""
    found = _pattern(template).fullmatch(text)
    return (found[1],) if found is not None and len(found[1]) <= _LONGEST_ID else ()


@lru_cache(maxsize=256)
def _pattern(template: str) -> re.Pattern[str]:
    before, _, after = template.partition(ID_PLACE)
    return re.compile(f"{_part(before)}([^/]+){_part(after)}", re.DOTALL)


def _part(text: str) -> str:
    """Return a piece of a topic as a pattern, its own wildcards included."""
    wild = {"+": "[^/]*", "#": ".*"}
    return "/".join(wild.get(level, re.escape(level)) for level in text.split("/"))
