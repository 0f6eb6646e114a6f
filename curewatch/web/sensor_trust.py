"""How far one sensor is to be believed, as the views of sensors tell it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from curewatch.shop.calibration import CHECKABLE
from curewatch.shop.reading import Quantity
from curewatch.shop.trust_conditions import due_ms, off_by
from curewatch.shop.words import percent
from curewatch.web.speech import say

if TYPE_CHECKING:
    from collections.abc import Mapping

    from curewatch.shop.room import Sensor
    from curewatch.shop.shop import Shop
    from curewatch.web.speech import Speech

WARMTH = (Quantity.TEMPERATURE, Quantity.SURFACE_TEMPERATURE)


@dataclass(frozen=True, slots=True)
class TrustFacts:
    """How far one sensor is to be believed.

    Attributes
    ----------
    off: what each quantity that it was heard of may be off by now.
    counted: its last values as they count for the room, where those are corrected.
    jar_since_ms: since when it is in a jar [ms].
    due_ms: when its next check is due [ms].
    replace: whether a check found it past correcting.
    """

    off: Mapping[Quantity, float] = field(default_factory=dict)
    counted: Mapping[Quantity, float] = field(default_factory=dict)
    jar_since_ms: int | None = None
    due_ms: int | None = None
    replace: bool = False

    def off_k(self, configured: float) -> float:
        """Return what its temperatures may be off by [K]."""
        return max((self.off[q] for q in WARMTH if q in self.off), default=configured)

    def off_frac(self, configured: float) -> float:
        """Return what its humidity may be off by [fraction]."""
        return self.off.get(Quantity.HUMIDITY, configured)


def trust_of(shop: Shop, sensor: Sensor, now_ms: int) -> TrustFacts:
    """Return how far one sensor is to be believed now."""
    off, counted, replace = {}, {}, False
    for quantity in CHECKABLE:
        holds = shop.trust.ruling(sensor.id, quantity, now_ms)
        replace = replace or (holds is not None and bool(holds.replace))
        heard = shop.heard.get((sensor.id, quantity))
        if heard is None:
            continue
        value = shop.trust.value(sensor.id, quantity, heard.at_ms, heard.value)
        rh = value if quantity is Quantity.HUMIDITY else None
        off[quantity] = off_by(shop, sensor, quantity, now_ms, rh)
        if value != heard.value:
            counted[quantity] = value
    return TrustFacts(
        off=off,
        counted=counted,
        jar_since_ms=shop.trust.jar_since_ms(sensor.id, now_ms),
        due_ms=due_ms(shop, sensor, now_ms),
        replace=replace,
    )


def trust_said(facts: TrustFacts, speech: Speech) -> list[str]:
    """Say where it is, what it says corrected, and what is due."""
    said = []
    if facts.jar_since_ms is not None:
        said.append(say("sensors.in_jar", at=speech.when(facts.jar_since_ms)))
    values = [
        percent(value) if quantity is Quantity.HUMIDITY else speech.temp(value)
        for quantity, value in facts.counted.items()
    ]
    if values:
        said.append(say("sensors.corrected", values=", ".join(values)))
    if facts.due_ms is not None and facts.due_ms < speech.now_ms:
        said.append(say("sensors.check_due", at=speech.when(facts.due_ms)))
    return said
