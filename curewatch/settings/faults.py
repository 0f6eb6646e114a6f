"""Everything that is wrong with a configuration, at once: key path, what, and how to mend it.

Tables are checked one by one, so a fault in one does not hide a fault in another; `agreement` then
checks what must hold between those that can be used. Elements of a list are counted from 1, as a
person counts them in the file.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import TYPE_CHECKING, TypeVar

from pydantic import BaseModel, ValidationError

from curewatch.settings.sensor_tables import KindTable, SensorTable
from curewatch.settings.tables import RoomTable, Settings

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from pydantic_core import ErrorDetails

Table = dict[str, object]
_Kind = TypeVar("_Kind", bound=BaseModel)
LISTED: dict[str, type[BaseModel]] = {
    "room": RoomTable,
    "kind": KindTable,
    "sensor": SensorTable,
}
SINGLE: dict[str, type[BaseModel]] = {
    key: info.annotation
    for key, info in Settings.model_fields.items()
    if isinstance(info.annotation, type) and issubclass(info.annotation, BaseModel)
}
EXAMPLES = {
    "name": 'name = "finish-room"',
    "id": 'id = "finish-room-air"',
    "room": 'room = "finish-room", the name of a [[room]]',
    "topic": 'topic = "shop/{id}/climate"',
}
_SECRET = ("urls",)  # keys whose values are never shown


@dataclass(slots=True)
class Findings:
    """What was found, and the tables that can be used, each with its key path."""

    faults: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    tables: list[tuple[str, BaseModel]] = field(default_factory=list)

    def of(self, kind: type[_Kind]) -> list[tuple[str, _Kind]]:
        """Return the usable tables of one kind."""
        return [(path, table) for path, table in self.tables if isinstance(table, kind)]


def examine(given: Mapping[str, object]) -> Findings:
    """Check every table of `given` by itself."""
    found = Findings()
    known = {**SINGLE, **LISTED}
    for key, value in given.items():
        if key not in known:
            found.faults.append(f"{key}: {_unknown(key, known, 'table')}")
        elif key in SINGLE:
            _examine_table(found, key, SINGLE[key], value)
        elif not isinstance(value, (list, tuple)):
            found.faults.append(f"{key}: write [[{key}]] in double brackets above each one")
        else:
            for number, element in enumerate(value, start=1):
                _examine_table(found, f"{key}[{number}]", LISTED[key], element)
    return found


def near(word: str, known: Iterable[str]) -> str:
    """Return a question naming what may have been meant, or nothing."""
    lowered = {name.lower(): name for name in known}
    close = get_close_matches(word.lower(), lowered, n=1, cutoff=0.6)
    return f"; did you mean '{lowered[close[0]]}'?" if close else ""


def _examine_table(found: Findings, path: str, kind: type[BaseModel], value: object) -> None:
    if not isinstance(value, dict):
        found.faults.append(f"{path}: is a single value; it must be a table of keys")
        return
    try:
        found.tables.append((path, kind.model_validate(value)))
    except ValidationError as error:
        found.faults += [
            labelled(_explained(fault, path, kind), value)
            for fault in error.errors()
            if fault["type"] != "default_factory_not_called"  # follows from another fault
        ]


def _explained(fault: ErrorDetails, path: str, kind: type[BaseModel]) -> str:
    """Say one of pydantic's faults in our words."""
    for part in fault["loc"]:
        path += f"[{part + 1}]" if isinstance(part, int) else f".{part}"
    last = str(fault["loc"][-1])
    secret = last in _SECRET or str(fault["loc"][0]) in _SECRET
    if fault["type"] == "extra_forbidden":
        return f"{path}: {_unknown(last, kind.model_fields, 'key')}"
    if fault["type"] == "missing":
        return f"{path}: is missing; add {EXAMPLES[last]}"
    return f"{path}: {_what(fault, secret=secret)}"


def _what(fault: ErrorDetails, *, secret: bool) -> str:
    """Say what is wrong with a value, and how to mend it."""
    value, context = fault["input"], fault.get("ctx", {})
    plain = isinstance(value, (str, int, float)) and not secret
    shown = f"'{value}'"[:80] if plain else "this"
    match fault["type"]:
        case "literal_error" | "enum":
            words = str(context["expected"]).replace("'", "").replace(" or ", ", ").split(", ")
            says = f"{shown} is not one of {', '.join(words)}{near(str(value), words)}"
        case "value_error":
            says = str(context["error"])
        case "string_type" | "path_type":
            says = f"{shown} is not text; put it in quotes"
        case "string_too_short":
            says = "is empty; leave the key out or give it a value"
        case "tuple_type":
            says = 'must be a list in square brackets, such as ["one", "two"]'
        case "bool_parsing" | "bool_type":
            says = f"{shown} is neither true nor false; write one of these without quotes"
        case _:
            says = f"{shown} will not do: {fault['msg'].replace('Input should', 'it must')}"
    return says


def _unknown(key: str, known: Iterable[str], what: str) -> str:
    names = sorted(known)
    return f"there is no such {what}{near(key, names)}; known are {', '.join(names)}"


def labelled(fault: str, table: Mapping[str, object]) -> str:
    """Put an element's own name behind its key path, for who does not want to count."""
    path, colon, what = fault.partition(": ")
    name = table.get("id", table.get("name"))
    return f"{path} ({name[:64]}){colon}{what}" if isinstance(name, str) and "[" in path else fault
