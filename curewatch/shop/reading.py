"""Readings: what a sensor said, and why a message was not taken as one."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, StrEnum, auto


class Quantity(IntEnum):
    """What a reading measures; the numbers are the ones kept in storage."""

    TEMPERATURE = 1  # air [degC]
    HUMIDITY = 2  # relative humidity as a fraction, over liquid water [0..1]
    SURFACE_TEMPERATURE = 3  # of a piece, or of what stands for the pieces [degC]
    MASS = 4  # of a witness panel on a scale [g]; never part of a room's climate
    AIR_SPEED = 5  # over the pieces [m/s]; says how the air moves, not what it is
    FAN_ON = 6  # whether the room's fan runs: 1 or 0; likewise

    @property
    def word(self) -> str:
        """The name people and files use, such as 'surface_temperature'."""
        return self.name.lower()


IN_THE_AIR = (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.SURFACE_TEMPERATURE)


class Origin(IntEnum):
    """How a reading came by its time and value."""

    OWN_TIME = 1  # the sensor stamped it
    ARRIVAL = 2  # stamped when it arrived
    TYPED = 3  # a person typed it
    IMPORTED = 4  # from a logger's file


class Flag(IntEnum):
    """Bits that mark a kept reading as doubtful; a reading may carry several."""

    FROZEN_PAIR = 1  # temperature and humidity identical for six hours
    TIME_UNKNOWN = 2  # from a backlog without times of its own: kept, never credited


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of one quantity from one sensor at one instant.

    Attributes
    ----------
        sensor: the sensor's id as configured.
        quantity: what was measured; temperatures [degC], humidity [fraction], mass [g], air
            speed [m/s], a fan's running 1 or 0.
        at_ms: when it was true, UTC epoch [ms].
        value: the value in the quantity's unit.
        origin: where time and value come from.
        flags: sum of `Flag` bits.
    """

    sensor: str
    quantity: Quantity
    at_ms: int
    value: float
    origin: Origin = Origin.OWN_TIME
    flags: int = 0


class RejectReason(StrEnum):
    """Why a message or a value was not kept as a reading."""

    NOT_TEXT = "not-text"  # not valid UTF-8
    NOT_JSON = "not-json"
    TOO_LARGE = "too-large"
    MISSING = "missing"  # nothing at the mapped place
    NOT_A_NUMBER = "not-a-number"  # null, true, a string where none was declared, nested, NaN
    NOT_SENML = "not-senml"  # no SenML pack, or one that must not be used
    UNKNOWN_UNIT = "unknown-unit"  # the message names a unit that fits no such quantity
    OUT_OF_RANGE = "out-of-range"
    POWER_ON_VALUE = "power-on-value"  # 85.0 of a digital probe that has just started
    DISCONNECTED_VALUE = "disconnected-value"  # -127, or temperature and humidity both nought
    CHECKSUM = "checksum"  # garbled on a wire
    READ_ERROR = "read-error"  # the machine could not read its own chip
    TOO_FAST = "too-fast"  # changed faster than a room can
    BAD_TIME = "bad-time"
    FUTURE_TIME = "future-time"
    RETAINED_REPLAY = "retained-replay"  # an old value the broker repeats at subscription
    DUPLICATE = "duplicate"
    CONFLICT = "conflict"  # same sensor, quantity and instant, another value


@dataclass(frozen=True, slots=True)
class Rejected:
    """A message, or a part of one, that was counted and not kept.

    Attributes
    ----------
        sensor: the sensor's id.
        reason: why.
        received_ms: when it arrived [ms].
        detail: what was wrong, in words, with the offending value cut short.
        quantity: which quantity, if it got that far.
    """

    sensor: str
    reason: RejectReason
    received_ms: int
    detail: str
    quantity: Quantity | None = None


class Standing(StrEnum):
    """Where a number comes from; one list for the whole project."""

    DATA_SHEET = "data-sheet"
    LEARNT_HERE = "learnt-here"
    COMMON_PRACTICE = "common-practice"
    FROM_MEMORY = "from-memory"
    PHYSICS = "physics"


class Urgency(StrEnum):
    """How soon a person should look; never shown by colour alone."""

    NOW = auto()
    TODAY = auto()
    NOTE = auto()
