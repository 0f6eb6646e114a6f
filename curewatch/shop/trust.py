"""How far a shop's sensors are to be believed: their checks, and when they were in a jar."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from curewatch.shop.calibration import Correction, rebuilt, ruling

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from curewatch.shop.calibration import Jar
    from curewatch.shop.climate import Series
    from curewatch.shop.reading import Quantity, Reading

    Key = tuple[str, Quantity]

FOR_EVER_MS: Final = 2**62
BACK_MS: Final = 30 * 60_000
"""So long after a jar a sensor's readings count for nothing: it still has the jar's air in it.
Our own figure; a bulky case may need longer [ms]."""


@dataclass(frozen=True, slots=True)
class Trust:
    """What is known of the sensors themselves.

    Attributes
    ----------
    made: corrections of each sensor's quantity, in order of time.
    jars: spans in which a sensor was in a jar, the last for ever while it is there [ms].
    since_ms: when each sensor was first hung [ms].
    """

    made: Mapping[Key, tuple[Correction, ...]] = field(default_factory=dict)
    jars: Mapping[str, tuple[tuple[int, int], ...]] = field(default_factory=dict)
    since_ms: Mapping[str, int] = field(default_factory=dict)

    def counted(self, block: Mapping[Key, Series]) -> dict[Key, Series]:
        """Return readings as they count for a room."""
        away = {sensor: self._away(sensor) for sensor, _ in block}
        return rebuilt(block, self.made, away)

    def reading(self, one: Reading) -> Reading | None:
        """Return one reading as it counts for a room, None in a jar and soon after it."""
        if self.is_away(one.sensor, one.at_ms):
            return None
        value = self.value(one.sensor, one.quantity, one.at_ms, one.value)
        return one if value == one.value else replace(one, value=value)

    def value(self, sensor: str, quantity: Quantity, at_ms: int, value: float) -> float:
        """Return a value that a sensor said at an instant [ms], corrected."""
        holds = self.ruling(sensor, quantity, at_ms)
        if holds is None:
            return value
        return float(holds.apply(np.array([value]), quantity)[0])

    def ruling(self, sensor: str, quantity: Quantity, at_ms: int) -> Correction | None:
        """Return the correction of a sensor's quantity that holds at an instant [ms]."""
        return ruling(self.made.get((sensor, quantity), ()), at_ms)

    def in_jar(self, sensor: str, at_ms: int) -> bool:
        """Return whether a sensor was in a jar at an instant [ms]."""
        return any(start <= at_ms < stop for start, stop in self.jars.get(sensor, ()))

    def is_away(self, sensor: str, at_ms: int) -> bool:
        """Return whether what a sensor said at an instant [ms] is not yet of its room."""
        return any(start <= at_ms < stop for start, stop in self._away(sensor))

    def counts_again_ms(self, sensor: str, at_ms: int) -> int:
        """Return since when a sensor that is away counts again [ms]; `at_ms` where it is not."""
        ends = [stop for start, stop in self._away(sensor) if start <= at_ms < stop]
        return max(ends, default=at_ms)

    def away_since_ms(self, sensor: str, at_ms: int) -> int:
        """Return since when a sensor that is away counts for nothing [ms]; `at_ms` if it counts."""
        begins = [start for start, stop in self._away(sensor) if start <= at_ms < stop]
        return min(begins, default=at_ms)

    def _away(self, sensor: str) -> tuple[tuple[int, int], ...]:
        """Return the spans [ms] in which a sensor counts for nothing: in a jar, soon after it."""
        return tuple(
            (start, counts_from_ms(start, stop)) for start, stop in self.jars.get(sensor, ())
        )

    def jar_since_ms(self, sensor: str, at_ms: int) -> int | None:
        """Return since when a sensor has been in the jar it is in, None where it is in none."""
        here = [start for start, stop in self.jars.get(sensor, ()) if start <= at_ms < stop]
        return max(here, default=None)


def counts_from_ms(start_ms: int, stop_ms: int) -> int:
    """Return since when a sensor counts again [ms] that was in a jar from `start_ms` to `stop_ms`.

    One put in and taken out at the same instant never was in it.
    """
    return stop_ms + BACK_MS if stop_ms > start_ms else stop_ms


def jar_spans(jars: Iterable[Jar]) -> dict[str, tuple[tuple[int, int], ...]]:
    """Return the spans [ms] in which each sensor was in a jar."""
    found: dict[str, tuple[tuple[int, int], ...]] = {}
    for jar in jars:
        span = (jar.start_ms, FOR_EVER_MS if jar.stop_ms is None else jar.stop_ms)
        found[jar.sensor] = (*found.get(jar.sensor, ()), span)
    return found
