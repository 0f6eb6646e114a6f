"""The page's own texts from one catalogue, and how it says instants and numbers."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from curewatch.finishes.keys import FIGURES
from curewatch.shop.plain import instant
from curewatch.shop.words import UM_PER_MIL, percent
from curewatch.web.draw.scale import Frame
from curewatch.web.plainly import without_commands

if TYPE_CHECKING:
    from curewatch.shop.ahead import Eta
    from curewatch.shop.words import Words


# Figures as commands and profiles write them: what a terminal may lack, a page has, and in the
# shop's units. Two figures of one unit stand with 'to', 'and' or 'or' between.
_AMOUNT = r"(?<![\d.])(?:(-?\d+(?:\.\d+)?) (to|and|or) )?(-?\d+(?:\.\d+)?) "
_FILMS = re.compile(_AMOUNT + r"um\b")
_DEGREES = re.compile(_AMOUNT + r"deg([CF])\b")
_KELVINS = re.compile(_AMOUNT + r"K\b(?!/)")
_GUESSED = re.compile(r": did you mean [^?]* degF [^?]*\?.*")  # of who is known to type degF
_MIL_TOO = re.compile(r" \(\d+ mil are \d+ um\)")
_KEY = re.compile(r"\b[a-z]+(?:_[a-z]+)*\.[a-z0-9_.]+\b")
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
        """Say one of the shop's sentences, clocks and units as here, without its commands."""
        return self._hours(self._units(without_commands(said or "")))

    def source(self, said: str) -> str:
        """Say where a figure comes from; other figures it names by what they mean."""

        def meaning(found: re.Match[str]) -> str:
            key = FIGURES.get(found[0])
            return found[0] if key is None else f"'{key.meaning}'"

        return self.sentence(_KEY.sub(meaning, said))

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

    def _units(self, said: str) -> str:
        """Say films, temperatures and differences in the shop's units."""
        if not self.words.imperial:
            said = said.replace("[um]", "[µm]").replace("[degC]", "[°C]")
            return re.sub(r" um\b", " µm", re.sub(r" deg([CF])\b", r" °\1", said))
        said = _GUESSED.sub(".", _MIL_TOO.sub("", said))
        said = _FILMS.sub(lambda found: _both(found, "mil", 1.0 / UM_PER_MIL), said)
        said = _KELVINS.sub(lambda found: _both(found, "°F", 1.8), said)
        said = _DEGREES.sub(_fahrenheit, said)
        return re.sub(r" um\b", " µm", said)

    def _time(self, at_ms: int, said: str) -> Markup:
        return Markup('<time datetime="{}">{}</time>').format(instant(at_ms), said)

    def _hours(self, said: str) -> str:
        return _CLOCK.sub(_half_day, said) if self.twelve_hours else said


def _both(found: re.Match[str], unit: str, factor: float) -> str:
    """Return one figure or two in another unit."""
    told = [two_figures(float(one) * factor) for one in (found[1], found[3]) if one]
    return f"{f' {found[2]} '.join(told)} {unit}"


def two_figures(value: float) -> str:
    """Say a converted value no finer than one reads it."""
    return f"{value:.2g}" if abs(value) < 99.5 else f"{value:.0f}"  # noqa: PLR2004 - two figures


def _fahrenheit(found: re.Match[str]) -> str:
    shown = [float(one) for one in (found[1], found[3]) if one]
    if found[4] == "C":
        shown = [one * 1.8 + 32.0 for one in shown]
    return f"{f' {found[2]} '.join(f'{one:.0f}' for one in shown)} °F"


def _half_day(found: re.Match[str]) -> str:
    hour, minute = int(found[1]), found[2]
    half = "am" if hour < 12 else "pm"  # noqa: PLR2004 - noon
    return f"{hour % 12 or 12}:{minute} {half}"
