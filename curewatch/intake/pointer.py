"""JSON pointers: where in a message a number stands.

References
----------
P. Bryan, K. Zyp, M. Nottingham (2013), RFC 6901, JavaScript Object Notation (JSON) Pointer.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

_BAD_ESCAPE = re.compile(r"~(?![01])")
_INDEX = re.compile(r"0|[1-9][0-9]*", re.ASCII)
_LONGEST_INDEX = 9  # digits; a message of 64 KiB holds far fewer elements


class Missing:
    """Nothing stands at the place a pointer names; there is one of it, `MISSING`."""

    __slots__ = ()


MISSING: Final = Missing()


def pointer_fault(pointer: str) -> str | None:
    """Return what is wrong with `pointer`, or None when it is a JSON pointer."""
    if pointer and not pointer.startswith("/"):
        return f"'{pointer}' is not a JSON pointer: begin it with '/', such as '/{pointer}'"
    if _BAD_ESCAPE.search(pointer):
        return f"'{pointer}' has a '~' that is neither '~0' (for ~) nor '~1' (for /)"
    return None


@lru_cache(maxsize=1024)
def tokens(pointer: str) -> tuple[str, ...]:
    """Return the reference tokens of `pointer`, unescaped (RFC 6901, sections 3 and 4)."""
    return tuple(
        token.replace("~1", "/").replace("~0", "~")  # in this order, RFC 6901 section 4
        for token in pointer.split("/")[1:]
    )


def resolve(document: object, pointer: str) -> object:
    """Return what stands at `pointer` in the parsed JSON `document`, or `MISSING`."""
    here = document
    for token in tokens(pointer):
        if isinstance(here, dict):
            here = here.get(token, MISSING)
        elif isinstance(here, list):
            here = _element(here, token)
        else:
            return MISSING
    return here


def _element(elements: list[object], token: str) -> object:
    if len(token) > _LONGEST_INDEX or not _INDEX.fullmatch(token):
        return MISSING
    index = int(token)
    return elements[index] if index < len(elements) else MISSING
