"""How a finished piece is looked after: common practice, by the family of its finish."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib import resources


def care_advice(finish: str) -> tuple[str, ...]:
    """Return advice for a finish, the general one first.

    A profile of the shop's own that no family names gets the general advice alone.
    """
    families = _families()
    own = [lines for name, (finishes, lines) in families.items() if finish in finishes]
    return (*families["general"][1], *(line for lines in own for line in lines))


@lru_cache(maxsize=1)
def _families() -> dict[str, tuple[tuple[str, ...], tuple[str, ...]]]:
    text = (resources.files("curewatch.records") / "care.toml").read_text("utf-8")
    return {
        name: (tuple(family["for"]), tuple(family["lines"]))
        for name, family in tomllib.loads(text).items()
    }
