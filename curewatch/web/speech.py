"""The page's own texts from one catalogue, and how it says instants and numbers."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from curewatch.shop.plain import instant
from curewatch.shop.words import percent
from curewatch.web.draw.scale import Frame
from curewatch.web.plainly import without_commands

if TYPE_CHECKING:
    from curewatch.shop.ahead import Eta
    from curewatch.shop.words import Words


_MICRONS = re.compile(r" um\b")  # a terminal may lack the letter, a page has it
_CLOCK = re.compile(r"\b([01]?\d|2[0-3]):([0-5]\d)\b")


@lru_cache(maxsize=4)
def catalogue(language: str = "en") -> dict[str, str]:
    """Return every text of a language by its dotted key."""
    file = resources.files("curewatch.web") / "words" / f"{language}.toml"
    return dict(_flat("", tomllib.loads(file.read_text("utf-8"))))


def say(key: str, **values: object) -> str:
    """Return a text of the catalogue, its gaps filled; as markup where a value is markup."""
    text = catalogue()[key]
    if any(hasattr(value, "__html__") for value in values.values()):
        return escape(text).format(**values)
    return text.format(**values)


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
        return say(key, **values)

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

    def sentence(self, said: str | None) -> str:
        """Say one of the shop's sentences, clocks and microns as here, without its commands."""
        return self._hours(_MICRONS.sub(" µm", without_commands(said or "")))

    def expect(self, eta: Eta, at_ms: int | None = None) -> Markup:
        """Say a likely instant with its ends; `at_ms` where none of them can be told."""
        if eta.early is eta.likely is eta.late is None:
            return self.ahead(at_ms)
        return escape(self._hours(self.words.expect(eta, self.now_ms)))

    def frame(self, name: str, title: str) -> Frame:
        """Return what a drawing over time is given."""
        return Frame(name, title, self.words.zone, half_days=self.twelve_hours)

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
        return _CLOCK.sub(_half_day, said) if self.twelve_hours else said


def _half_day(found: re.Match[str]) -> str:
    hour, minute = int(found[1]), found[2]
    half = "am" if hour < 12 else "pm"  # noqa: PLR2004 - noon
    return f"{hour % 12 or 12}:{minute} {half}"
