"""Reading what was typed into a form, with every fault at the field it is of."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from curewatch.shop.typed import HardlyMeant
from curewatch.shop.words import UM_PER_MIL
from curewatch.web.speech import catalogue, say

if TYPE_CHECKING:
    from collections.abc import Iterable

    from starlette.datastructures import FormData, QueryParams

LONGEST = 300
REALLY = "really"  # the box that insists on a figure, shown once it was asked back
_UNIT = re.compile(r" \[[^\]]*\]$")  # behind a field's name
_OPTION = re.compile(r"--([a-z][a-z-]*)")


@dataclass(slots=True)
class Typed:
    """What was typed.

    Attributes
    ----------
    given: the form's fields.
    faults: what is wrong, by field; '' for what is wrong with no field alone.
    """

    given: QueryParams | FormData
    faults: dict[str, str] = field(default_factory=dict)

    def text(self, name: str) -> str | None:
        """Return a field's text; None where nothing was typed."""
        value = self.given.get(name)
        said = value.strip() if isinstance(value, str) else ""
        if len(said) > LONGEST:
            self.faults.setdefault(name, say("form.too_long", most=LONGEST))
            return None
        return said or None

    def number(self, name: str) -> float | None:
        """Return a field's number; what is none is a fault."""
        said = self.text(name)
        if said is None:
            return None
        try:
            return float(said.replace(",", "."))
        except ValueError:
            self.faults.setdefault(name, say("form.no_number", said=said))
            return None

    def temp_c(self, name: str, *, imperial: bool) -> float | None:
        """Return a field's temperature [degC], typed in the shop's unit."""
        shown = self.number(name)
        return (shown - 32.0) / 1.8 if imperial and shown is not None else shown

    def film_um(self, name: str, *, imperial: bool) -> float | None:
        """Return a field's film [um], typed in the shop's unit."""
        shown = self.number(name)
        return shown * UM_PER_MIL if imperial and shown is not None else shown

    def whole(self, name: str) -> int | None:
        """Return a field's whole number; what is none is a fault."""
        said = self.text(name)
        if said is None:
            return None
        try:
            return int(said)
        except ValueError:
            self.faults.setdefault(name, say("form.no_whole", said=said))
            return None

    def needed(self, name: str) -> str:
        """Return a field's text; nothing is a fault."""
        said = self.text(name)
        if said is None:
            self.faults.setdefault(name, say("form.needed"))
        return said or ""

    def many(self, name: str) -> tuple[str, ...]:
        """Return what was ticked of several boxes of one name."""
        return tuple(one for one in self.given.getlist(name) if isinstance(one, str) and one)

    def blame(self, error: Exception, fields: Iterable[str], *, section: str) -> None:
        """Put an error at the field whose option it names, in the page's words for it."""
        known = set(fields)
        named = [one.replace("-", "_") for one in _OPTION.findall(str(error))]
        at = next((one for one in named if one in known), "")
        self.faults.setdefault(at, in_page_words(str(error), section))
        if isinstance(error, HardlyMeant):
            self.faults.setdefault(REALLY, say("form.really_hint"))

    @property
    def really(self) -> bool:
        """Whether the person insists on figures that are hardly meant."""
        return self.text(REALLY) is not None


def in_page_words(message: str, section: str) -> str:
    """Return a message with options of a command said as the page's fields."""

    def label(found: re.Match[str]) -> str:
        key = f"{section}.{found[1].replace('-', '_')}"
        if found[1] == REALLY:
            key = "form.really"
        return f"'{_UNIT.sub('', catalogue()[key])}'" if key in catalogue() else found[0]

    return _OPTION.sub(label, message)
