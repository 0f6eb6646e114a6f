"""What a message looks like: every place in it, with what stands there."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from curewatch.intake.pointer import MISSING

if TYPE_CHECKING:
    from collections.abc import Iterator

MOST_PLACES: Final = 64
SHOWN: Final = 60  # characters of a value that are repeated to people
_DEEPEST: Final = 8


@dataclass(frozen=True, slots=True)
class Spot:
    """One place in a message.

    Attributes
    ----------
        at: its JSON pointer; '' for the whole message.
        kind: 'number', 'text', 'true-false', 'nothing', 'bytes', or 'more' where it goes on.
        value: what stands there, cut short.
    """

    at: str
    kind: str
    value: str


def parsed(payload: bytes) -> object:
    """Return a message as JSON with floats, as text where it is none, MISSING for bytes."""
    try:
        text = payload.decode().removeprefix("\ufeff")
    except UnicodeDecodeError:
        return MISSING
    try:
        return json.loads(text, parse_int=float)
    except (ValueError, RecursionError):
        return text


def shape(payload: bytes) -> tuple[Spot, ...]:
    """Return every place of a message that holds a value; `MOST_PLACES` at most."""
    document = parsed(payload)
    if document is MISSING:
        return (Spot("", "bytes", f"{len(payload)} bytes that are no text"),)
    found: list[Spot] = []
    for at, value in leaves(document):
        if len(found) == MOST_PLACES:
            found.append(Spot(at, "more", ""))
            break
        found.append(Spot(readable(at), _kind(value), readable(_shown(value))))
    return tuple(found)


def leaves(document: object, at: str = "", depth: int = 0) -> Iterator[tuple[str, object]]:
    """Yield every value that is no object and no list, with its pointer."""
    inner: list[tuple[str, object]]
    if isinstance(document, dict) and depth < _DEEPEST:
        inner = [(key.replace("~", "~0").replace("/", "~1"), v) for key, v in document.items()]
    elif isinstance(document, list) and depth < _DEEPEST:
        inner = [(str(number), value) for number, value in enumerate(document)]
    else:
        yield at, document
        return
    for key, value in inner:
        yield from leaves(value, f"{at}/{key}", depth + 1)


def readable(text: str) -> str:
    """Return text that can be written anywhere: half a character is told by its number."""
    shown = "".join(letter if letter.isprintable() else f"\\u{ord(letter):04x}" for letter in text)
    return shown.encode("utf-8", "backslashreplace").decode()


def _kind(value: object) -> str:
    if isinstance(value, bool):
        return "true-false"
    if isinstance(value, float):
        return "number"
    if isinstance(value, str):
        return "text"
    return "nothing" if value is None else "more"


def _shown(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, str):
        return value[:SHOWN]
    return json.dumps(value)[:SHOWN]
