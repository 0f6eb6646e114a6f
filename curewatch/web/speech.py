"""The page's own texts from one catalogue, and how it says instants and numbers."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import TYPE_CHECKING

from markupsafe import Markup

from curewatch.shop.plain import instant
from curewatch.shop.words import percent

if TYPE_CHECKING:
    from curewatch.shop.words import Words


@lru_cache(maxsize=4)
def catalogue(language: str = "en") -> dict[str, str]:
    """Return every text of a language by its dotted key."""
    file = resources.files("curewatch.web") / "words" / f"{language}.toml"
    return dict(_flat("", tomllib.loads(file.read_text("utf-8"))))


def _flat(prefix: str, table: dict[str, object]) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for key, value in table.items():
        if isinstance(value, dict):
            found += _flat(f"{prefix}{key}.", value)
        else:
            found.append((f"{prefix}{key}", str(value)))
    return found


@dataclass(frozen=True, slots=True)
class Speech:
    """How the page speaks at a moment.

    Attributes
    ----------
    words: the shop's zone and units.
    now_ms: the moment the page is of [ms].
    twelve_hours: whether clocks are told with am and pm.
    """

    words: Words
    now_ms: int
    twelve_hours: bool = False

    def say(self, key: str, **values: object) -> str:
        """Return a text of the catalogue, its gaps filled."""
        return catalogue()[key].format(**values)

    def when(self, at_ms: int | None) -> Markup:
        """Say an instant that has been, or a limit, to the minute."""
        if at_ms is None:
            return Markup("{}").format(self.say("word.unknown"))
        return self._time(at_ms, self._hours(self.words.at(at_ms, self.now_ms)))

    def ahead(self, at_ms: int | None) -> Markup:
        """Say an expected instant no finer than it can be known."""
        if at_ms is None:
            return Markup("{}").format(self.say("word.unknown"))
        return self._time(at_ms, self._hours(self.words.ahead(at_ms, self.now_ms)))

    def clock(self, at_ms: int) -> str:
        """Say an instant as a bare clock."""
        then = self.words.local(at_ms)
        return self._hours(f"{then.hour}:{then.minute:02d}")

    def temp(self, temp_c: float | None) -> str:
        """Say a temperature [degC]."""
        return self.say("word.unmeasured") if temp_c is None else self.words.temp(temp_c)

    def kelvin(self, difference_k: float | None) -> str:
        """Say a temperature difference [K]."""
        return (
            self.say("word.unmeasured") if difference_k is None else self.words.kelvin(difference_k)
        )

    def rh(self, rh_frac: float | None) -> str:
        """Say a relative humidity [fraction]."""
        return self.say("word.unmeasured") if rh_frac is None else percent(rh_frac)

    def film(self, film_um: float) -> str:
        """Say a film [um], in both units."""
        return self.words.film(film_um)

    def _time(self, at_ms: int, said: str) -> Markup:
        return Markup('<time datetime="{}">{}</time>').format(instant(at_ms), said)

    def _hours(self, said: str) -> str:
        if not self.twelve_hours or ":" not in said:
            return said
        before, _, clock = said.rpartition(" ")
        hour, _, minute = clock.partition(":")
        half = "am" if int(hour) < 12 else "pm"  # noqa: PLR2004 - noon
        told = f"{int(hour) % 12 or 12}:{minute} {half}"
        return f"{before} {told}" if before else told
