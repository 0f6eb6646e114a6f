"""SenML packs in JSON: records with their base values worked in, ready to be looked up by name.

The form in CBOR is not read. A pack that cannot be trusted as a whole is one fault; a record
without a number is left out, for packs also carry words and data that are nobody's climate.

References
----------
C. Jennings, Z. Shelby, J. Arkko, A. Keranen, C. Bormann (2018), RFC 8428, Sensor Measurement
Lists (SenML), sections 4.1 to 4.6 and the units of section 12.1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

_VERSION = 10  # section 4.4: a higher one must not be used
_RELATIVE_BELOW_S = 2.0**28  # section 4.5.3: smaller times count from now
_BASES = frozenset({"bn", "bt", "bu", "bv", "bs", "bver"})
_TEXTS = ("n", "u", "bn", "bu")
_NUMBERS = ("t", "v", "bt", "bv", "bver")


class PackFault(ValueError):  # noqa: N818 - an answer on its way out, told as a rejection
    """Why something is not a SenML pack that may be used."""


@dataclass(frozen=True, slots=True)
class Record:
    """One resolved record that says something.

    Attributes
    ----------
        name: base name and name together.
        unit: its unit's code; None where the pack says none.
        value: a number, true or false, or text, as it was sent; a base value is added to numbers.
        time_s: Unix time [s], or seconds from now where that is so small.
    """

    name: str
    unit: str | None
    value: float | bool | str
    time_s: float

    @property
    def is_relative(self) -> bool:
        """Whether its time counts from now (section 4.5.3)."""
        return self.time_s < _RELATIVE_BELOW_S


@dataclass(slots=True)
class _Base:
    """The base values that hold from one record to the next."""

    texts: dict[str, str] = field(default_factory=dict)
    numbers: dict[str, float] = field(default_factory=dict)

    def take(self, raw: dict[str, object]) -> None:
        for key in _BASES & raw.keys():
            value = raw[key]
            if isinstance(value, str):
                self.texts[key] = value
            elif isinstance(value, float):
                self.numbers[key] = value


def records(document: object) -> list[Record]:
    """Return the records of a parsed pack that carry a value, resolved, in their order.

    Parameters
    ----------
    document
        Parsed JSON in which every number is a float.

    Raises
    ------
    PackFault
        When it is no pack, or one that must not be used.
    """
    if not isinstance(document, list):
        raise PackFault("a SenML pack is a list of records")
    base = _Base()
    found = []
    for number, raw in enumerate(document, start=1):
        if not isinstance(raw, dict):
            raise PackFault(f"record {number} is no object")
        _refuse(raw, number)
        base.take(raw)
        if base.numbers.get("bver", _VERSION) > _VERSION:
            raise PackFault(f"version {base.numbers['bver']:g} is newer than {_VERSION}")
        record = _resolved(raw, base)
        if record is not None:
            found.append(record)
    return found


def names(found: Iterable[Record]) -> tuple[str, ...]:
    """Return the names of `found`, each once."""
    return tuple(dict.fromkeys(record.name for record in found))


def _refuse(raw: dict[str, object], number: int) -> None:
    for key, value in raw.items():
        wanted = str if key in _TEXTS else float if key in _NUMBERS else object
        if not isinstance(value, wanted):
            raise PackFault(f"'{key}' of record {number} is of the wrong kind")
        if isinstance(value, float) and key in _NUMBERS and not math.isfinite(value):
            raise PackFault(f"'{key}' of record {number} is not a finite number")
        if key.endswith("_"):  # section 4.4: such a label must be understood
            raise PackFault(f"record {number} asks for an extension, {key[:40]!r}")


def _resolved(raw: dict[str, object], base: _Base) -> Record | None:
    value = _value(raw, base)
    if value is None:
        return None
    name = base.texts.get("bn", "") + _text(raw, "n")
    unit = _text(raw, "u") or base.texts.get("bu")
    time_s = base.numbers.get("bt", 0.0) + _number(raw, "t")
    return Record(name, unit, value, time_s)


def _value(raw: dict[str, object], base: _Base) -> float | bool | str | None:
    if "v" in raw:
        return base.numbers.get("bv", 0.0) + _number(raw, "v")
    for key, kind in (("vb", bool), ("vs", str)):
        value = raw.get(key)
        if isinstance(value, kind) and isinstance(value, (bool, str)):
            return value
    return None


def _text(raw: dict[str, object], key: str) -> str:
    value = raw.get(key, "")
    return value if isinstance(value, str) else ""


def _number(raw: dict[str, object], key: str) -> float:
    value = raw.get(key, 0.0)
    return value if isinstance(value, float) else 0.0
