"""The quality gate: which readings are kept, which are marked, which are refused and why.

A refused value is not lost: the rejection carries it in words. The gate looks at each sensor by
itself; whether two sensors of a room disagree is for the assessment. Its limits are common
practice without a published source unless a line says otherwise.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeAlias

from curewatch.shop.reading import IN_THE_AIR, Flag, Quantity, Reading, Rejected, RejectReason

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

MINUTE_MS = 60_000
HOUR_MS = 3_600_000
POWER_ON_C = 85.0  # what digital probes say before their first conversion
DISCONNECTED_C = -127.0  # what their drivers say when nothing answers
_SAME_C = 1e-6  # two temperatures this close are the same number in other units
_ROUNDING = 1e-9
_LATELY = 256  # readings looked back on; more than come again after a break
_PAIR = {Quantity.TEMPERATURE: Quantity.HUMIDITY, Quantity.HUMIDITY: Quantity.TEMPERATURE}
_Fault: TypeAlias = tuple[RejectReason, str]


@dataclass(frozen=True, slots=True)
class GateLimits:
    """What the gate holds readings against.

    Attributes
    ----------
        lowest_c: at or below it a temperature is refused; -40 itself is a fault code [degC].
        highest_air_c: above it an air temperature is refused [degC].
        highest_surface_c: the same for a surface, which a heater may warm [degC].
        fastest_c_per_min: fastest believable change of a temperature [K/min].
        fastest_rh_frac_per_min: fastest believable change of humidity [fraction/min].
        shortest_interval_ms: readings closer together are judged as if this far apart [ms].
        agreeing: so many readings in a row that agree at a new level are believed.
        power_on_near_c: 85.0 is believed after a value this near to it [K].
        frozen_after_ms: an unchanged pair this long is marked [ms].
        frozen_readings: at least so many unchanged readings of each quantity.
        heaviest_g: a scale that shows more, above or below nought, is not believed [g]. It may
            jump as it likes: a coat or a panel laid on does that.
        fastest_air_m_s: air that is said to move faster than this is not believed [m/s]. It may
            jump, as may a fan.
    """

    lowest_c: float = -40.0
    highest_air_c: float = 80.0
    highest_surface_c: float = 120.0
    fastest_c_per_min: float = 3.0
    fastest_rh_frac_per_min: float = 0.20
    shortest_interval_ms: int = MINUTE_MS
    agreeing: int = 3
    power_on_near_c: float = 5.0
    frozen_after_ms: int = 6 * HOUR_MS
    frozen_readings: int = 6
    heaviest_g: float = 100_000.0
    fastest_air_m_s: float = 20.0


@dataclass(frozen=True, slots=True)
class SensorFacts:
    """What the gate knows of one quantity of one sensor, for the assessment.

    Attributes
    ----------
        last_at_ms: instant of the newest reading let through, None before the first [ms].
        last_value: its value, in the quantity's unit.
        unchanged_since_ms: since when that value has been repeated [ms].
        refused_in_a_row: readings refused since the last one let through.
    """

    last_at_ms: int | None
    last_value: float | None
    unchanged_since_ms: int | None
    refused_in_a_row: int


@dataclass(slots=True)
class _Line:
    """State of one quantity of one sensor.

    `last` is the newest reading let through, `lately` the instants and values let through before
    it; `candidate` is the newest of those that were refused as too fast but agree with one
    another.
    """

    last: Reading | None = None
    unchanged_since_ms: int = 0
    unchanged: int = 0
    candidate: Reading | None = None
    agreeing: int = 0
    refused_in_a_row: int = 0
    lately: list[tuple[int, float]] = field(default_factory=list)

    def is_newer(self, reading: Reading) -> bool:
        return self.last is None or reading.at_ms > self.last.at_ms

    def keep(self, reading: Reading) -> None:
        """Make `reading`, newer than all before it, the newest value."""
        if self.last is not None and reading.value == self.last.value:
            self.unchanged += 1
        else:
            self.unchanged_since_ms = reading.at_ms
            self.unchanged = 1
        self.last = reading
        self.candidate = None
        self.agreeing = 0
        self.remember(reading)

    def remember(self, reading: Reading) -> None:
        """Add `reading` to those let through lately, once."""
        place = bisect_left(self.lately, (reading.at_ms, -math.inf))
        if place == len(self.lately) or self.lately[place][0] != reading.at_ms:
            self.lately.insert(place, (reading.at_ms, reading.value))
        if len(self.lately) >= 2 * _LATELY:
            del self.lately[:_LATELY]

    def neighbours(self, at_ms: int) -> tuple[tuple[int, float], tuple[int, float]] | None:
        """Return what was let through just before and just after `at_ms`, None without both."""
        place = bisect_left(self.lately, (at_ms, -math.inf))
        if not 0 < place < len(self.lately) or self.lately[place][0] == at_ms:
            return None
        return self.lately[place - 1], self.lately[place]


@dataclass(slots=True)
class QualityGate:
    """Judges readings one by one, in the order they arrive.

    Its state is small and can be rebuilt from storage with `resume`. Late readings are normal:
    beside the range they are refused only where they contradict both their neighbours, so that a
    spike delivered again is refused again. They leave the newest value as it is, as do exact
    repeats (storage knows those) and readings whose time is not known.
    """

    limits: GateLimits = field(default_factory=GateLimits)
    _lines: dict[tuple[str, Quantity], _Line] = field(default_factory=dict)

    @classmethod
    def resume(
        cls, readings: Iterable[Reading], *, limits: GateLimits | None = None
    ) -> QualityGate:
        """Return a gate that has already let `readings` through.

        The newest of each sensor and quantity is enough to go on; with the last seven hours
        a frozen pair is known again at once.
        """
        gate = cls(limits or GateLimits())
        for reading in sorted(readings, key=lambda reading: reading.at_ms):
            line = gate._line(reading.sensor, reading.quantity)
            if reading.flags & Flag.TIME_UNKNOWN:
                continue
            if line.is_newer(reading):
                first = line.last is None
                line.keep(reading)
                if first and reading.flags & Flag.FROZEN_PAIR:
                    line.unchanged_since_ms = reading.at_ms - gate.limits.frozen_after_ms
                    line.unchanged = gate.limits.frozen_readings
        return gate

    def admit(self, reading: Reading, *, received_ms: int | None = None) -> Reading | Rejected:
        """Return `reading`, marked where doubtful, or the reason it is refused.

        Parameters
        ----------
        reading
            One reading.
        received_ms
            When it arrived, for the rejection; its own instant when not given [ms].
        """
        return self.admit_all((reading,), received_ms=received_ms)[0]

    def admit_all(
        self, answers: Sequence[Reading | Rejected], *, received_ms: int | None = None
    ) -> list[Reading | Rejected]:
        """Judge what one message held together, so that a pair of noughts is seen as one.

        Rejections among `answers` are handed through; the order is kept.
        """
        noughts = {
            (answer.sensor, answer.at_ms, answer.quantity)
            for answer in answers
            if isinstance(answer, Reading) and answer.value == 0.0
        }
        return [
            self._judge(answer, noughts, received_ms) if isinstance(answer, Reading) else answer
            for answer in answers
        ]

    def frozen_since_ms(self, sensor: str) -> int | None:
        """Return since when `sensor` repeats one pair of temperature and humidity [ms].

        None unless both have been repeated for the limit's span, six hours. The span counted is
        the one both quantities vouch for.
        """
        temperature = self._lines.get((sensor, Quantity.TEMPERATURE))
        humidity = self._lines.get((sensor, Quantity.HUMIDITY))
        if temperature is None or humidity is None:
            return None
        if temperature.last is None or humidity.last is None:
            return None
        if min(temperature.unchanged, humidity.unchanged) < self.limits.frozen_readings:
            return None
        since_ms = max(temperature.unchanged_since_ms, humidity.unchanged_since_ms)
        until_ms = min(temperature.last.at_ms, humidity.last.at_ms)
        return since_ms if until_ms - since_ms >= self.limits.frozen_after_ms else None

    def facts(self, sensor: str, quantity: Quantity) -> SensorFacts:
        """Return what is known of `quantity` of `sensor`."""
        line = self._lines.get((sensor, quantity)) or _Line()
        if line.last is None:
            return SensorFacts(None, None, None, line.refused_in_a_row)
        return SensorFacts(
            line.last.at_ms, line.last.value, line.unchanged_since_ms, line.refused_in_a_row
        )

    def _judge(
        self,
        reading: Reading,
        noughts: set[tuple[str, int, Quantity]],
        received_ms: int | None,
    ) -> Reading | Rejected:
        line = self._line(reading.sensor, reading.quantity)
        fault = self._value_fault(line, reading) or self._nought_fault(reading, noughts)
        timed = not reading.flags & Flag.TIME_UNKNOWN
        if fault is None and timed:
            fault = self._rate_fault(line, reading)
        if fault is not None:
            line.refused_in_a_row += 1
            reason, detail = fault
            when_ms = reading.at_ms if received_ms is None else received_ms
            return Rejected(reading.sensor, reason, when_ms, detail, reading.quantity)
        line.refused_in_a_row = 0
        if not timed:
            return reading
        if not line.is_newer(reading):
            line.remember(reading)
            return reading
        line.keep(reading)
        if self._belongs_to_frozen_pair(reading):
            return replace(reading, flags=reading.flags | Flag.FROZEN_PAIR)
        return reading

    def _line(self, sensor: str, quantity: Quantity) -> _Line:
        line = self._lines.get((sensor, quantity))
        if line is None:
            line = self._lines[sensor, quantity] = _Line()
        return line

    def _value_fault(self, line: _Line, reading: Reading) -> _Fault | None:
        if not math.isfinite(reading.value):
            return RejectReason.NOT_A_NUMBER, f"{reading.value} is not a finite number"
        if reading.quantity is Quantity.MASS:
            return self._mass_fault(reading.value)
        if reading.quantity in (Quantity.AIR_SPEED, Quantity.FAN_ON):
            return self._movement_fault(reading)
        if reading.quantity is not Quantity.HUMIDITY:
            return self._temperature_fault(line, reading)
        if 0.0 <= reading.value <= 1.0:
            return None
        pct = 100.0 * reading.value
        return RejectReason.OUT_OF_RANGE, f"humidity {pct:.6g} % is not within 0 to 100 %"

    def _mass_fault(self, value_g: float) -> _Fault | None:
        most_g, unit = self.limits.heaviest_g, "another unit than the one set?"
        if abs(value_g) <= most_g:
            return None
        return (
            RejectReason.OUT_OF_RANGE,
            f"{value_g:.6g} g is more than a panel's scale weighs ({most_g:g} g); {unit}",
        )

    def _movement_fault(self, reading: Reading) -> _Fault | None:
        most = 1.0 if reading.quantity is Quantity.FAN_ON else self.limits.fastest_air_m_s
        if 0.0 <= reading.value <= most:
            return None
        what, unit = reading.quantity.word, "" if reading.quantity is Quantity.FAN_ON else " m/s"
        return RejectReason.OUT_OF_RANGE, f"{what} {reading.value:.6g} is not 0 to {most:g}{unit}"

    def _temperature_fault(self, line: _Line, reading: Reading) -> _Fault | None:
        """Judge the number by itself: fault codes first, for they are outside the range too."""
        value = reading.value
        if abs(value - DISCONNECTED_C) < _SAME_C:
            return RejectReason.DISCONNECTED_VALUE, "-127 degC: the probe does not answer"
        if abs(value - POWER_ON_C) < _SAME_C and not self._was_near(line, value):
            return RejectReason.POWER_ON_VALUE, "85 degC: what a probe says when it starts"
        lowest = self.limits.lowest_c
        highest = (
            self.limits.highest_air_c
            if reading.quantity is Quantity.TEMPERATURE
            else self.limits.highest_surface_c
        )
        if lowest < value <= highest:
            return None
        unit = "a broken sensor, or another unit than the one set?"
        return (
            RejectReason.OUT_OF_RANGE,
            f"{value:.6g} degC is not within {lowest:g} to {highest:g} degC; {unit}",
        )

    def _was_near(self, line: _Line, value: float) -> bool:
        return line.last is not None and abs(line.last.value - value) <= self.limits.power_on_near_c

    def _nought_fault(
        self, reading: Reading, noughts: set[tuple[str, int, Quantity]]
    ) -> _Fault | None:
        """Refuse nought degrees together with nought percent: a sensor that is not there."""
        if reading.value != 0.0 or reading.quantity not in _PAIR:
            return None
        other = _PAIR[reading.quantity]
        before = self._line(reading.sensor, other).last
        same_message = (reading.sensor, reading.at_ms, other) in noughts
        moment_ago = before is not None and (before.at_ms, before.value) == (reading.at_ms, 0.0)
        if not (same_message or moment_ago):
            return None
        return (
            RejectReason.DISCONNECTED_VALUE,
            "temperature and humidity both 0: the sensor does not answer",
        )

    def _rate_fault(self, line: _Line, reading: Reading) -> _Fault | None:
        """Refuse a jump no room makes, until enough readings agree that it was one."""
        last = line.last
        if last is None or reading.quantity not in IN_THE_AIR:
            return None
        if not line.is_newer(reading):
            return self._late_fault(line, reading)
        if self._can_follow(last, reading):
            return None
        candidate = line.candidate
        if candidate is None or reading.at_ms > candidate.at_ms:
            agrees = candidate is not None and self._can_follow(candidate, reading)
            line.agreeing = line.agreeing + 1 if agrees else 1
            line.candidate = reading
            if line.agreeing >= self.limits.agreeing:
                return None
        span_min = (reading.at_ms - last.at_ms) / MINUTE_MS
        return (
            RejectReason.TOO_FAST,
            f"from {last.value:.6g} to {reading.value:.6g} in {span_min:.3g} min",
        )

    def _late_fault(self, line: _Line, reading: Reading) -> _Fault | None:
        """Refuse a late reading that neither its forerunner nor its follower can agree with."""
        around = line.neighbours(reading.at_ms)
        if around is None:
            return None
        before, after = (replace(reading, at_ms=at_ms, value=value) for at_ms, value in around)
        if self._can_follow(before, reading) or self._can_follow(reading, after):
            return None
        return (
            RejectReason.TOO_FAST,
            f"{reading.value:.6g} came late between {before.value:.6g} and {after.value:.6g}",
        )

    def _can_follow(self, earlier: Reading, later: Reading) -> bool:
        limit_per_min = (
            self.limits.fastest_rh_frac_per_min
            if later.quantity is Quantity.HUMIDITY
            else self.limits.fastest_c_per_min
        )
        span_ms = max(later.at_ms - earlier.at_ms, self.limits.shortest_interval_ms)
        return abs(later.value - earlier.value) <= limit_per_min * span_ms / MINUTE_MS + _ROUNDING

    def _belongs_to_frozen_pair(self, reading: Reading) -> bool:
        return reading.quantity in _PAIR and self.frozen_since_ms(reading.sensor) is not None
