"""One message's bytes in, its readings or named rejections out; never an exception.

Every quantity a mapping names gets exactly one answer from every message; from a SenML pack it
gets one for each record of its name, and none where the pack has no such record. A relative
humidity up to half a point above saturation is a sensor's own error and is kept as 100 %; more is
refused.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from curewatch.intake.mapping import Format, SensorMapping, zone_named
from curewatch.intake.pointer import MISSING, resolve
from curewatch.intake.senml import PackFault, Record, records
from curewatch.intake.times import EARLIEST_MS, both_readings_ms, iso_datetime, unix_ms, utc_ms
from curewatch.intake.units import (
    AIR_SPEED_CODES,
    HUMIDITY_CODES,
    MASS_CODES,
    TEMPERATURE_CODES,
    HumidityUnit,
    UnitCodes,
    air_speed_m_s,
    humidity_frac,
    mass_g,
    temperature_c,
)
from curewatch.shop.reading import Flag, Origin, Quantity, Reading, Rejected, RejectReason

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import datetime

LARGEST_PAYLOAD = 64 * 1024  # [bytes]
FUTURE_TOLERANCE_MS = 5 * 60 * 1000
_JSON = json.JSONDecoder(parse_int=float)
_SHOWN = 40  # characters of an offending value that are repeated to people
_SWITCHED = {"on": 1.0, "off": 0.0, "true": 1.0, "false": 0.0}
_CODES: Mapping[Quantity, Mapping[str, str]] = {
    Quantity.TEMPERATURE: TEMPERATURE_CODES,
    Quantity.SURFACE_TEMPERATURE: TEMPERATURE_CODES,
    Quantity.HUMIDITY: HUMIDITY_CODES,
    Quantity.MASS: MASS_CODES,
    Quantity.AIR_SPEED: AIR_SPEED_CODES,
    Quantity.FAN_ON: {},
}
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?", re.ASCII)


class _Refusal(Exception):  # noqa: N818 - it is an answer on its way out, not an error
    """Why a message or a value is not taken; caught inside this module."""

    def __init__(self, reason: RejectReason, detail: str) -> None:
        super().__init__(detail)
        self.reason = reason
        self.detail = detail


def decode(
    mapping: SensorMapping,
    payload: bytes,
    *,
    received_ms: int,
    retained: bool,
    backlog: bool = False,
) -> list[Reading | Rejected]:
    """Return one reading or one rejection for each quantity `mapping` names and the message has.

    Parameters
    ----------
    mapping
        Where the numbers stand; without faults (`mapping_faults`).
    payload
        The message as it came: any bytes.
    received_ms
        When it came, UTC epoch [ms].
    retained
        Whether the broker repeated it at subscription. Without a time of its own it says
        nothing about now and is refused.
    backlog
        Whether it may have waited at the broker. Without a time of its own it is kept and
        flagged as of unknown time.
    """
    came = _Came(received_ms, retained, backlog)
    try:
        if mapping.format is Format.SENML:
            return _from_pack(mapping, records(_document(mapping, payload)), came)
        if mapping.time is None:
            came.refuse_replay()
        document = _document(mapping, payload)
        at_ms = None if mapping.time is None else _own_time(mapping, document, received_ms)
    except PackFault as fault:
        whole = _Refusal(RejectReason.NOT_SENML, str(fault))
    except _Refusal as refusal:
        whole = refusal
    else:
        return [
            _answer(mapping, quantity, document, place, at_ms, came)
            for quantity, place in mapping.pointers()
        ]
    return [came.refused(mapping, quantity, whole) for quantity, _ in mapping.pointers()]


@dataclass(frozen=True, slots=True)
class _Came:
    """When a message came and how; what it says is answered with it."""

    received_ms: int
    retained: bool
    backlog: bool

    def refuse_replay(self) -> None:
        """Refuse what the broker repeats, where no time of its own says of when it is."""
        if self.retained:
            raise _Refusal(
                RejectReason.RETAINED_REPLAY,
                "an older value the broker repeats, without a time of its own",
            )

    def reading(
        self, mapping: SensorMapping, quantity: Quantity, own_ms: int | None, value: float
    ) -> Reading:
        """Return a reading of its own time, or else of the arrival."""
        if own_ms is not None:
            return Reading(mapping.sensor, quantity, own_ms, value, Origin.OWN_TIME, 0)
        flags = int(Flag.TIME_UNKNOWN) if self.backlog else 0
        return Reading(mapping.sensor, quantity, self.received_ms, value, Origin.ARRIVAL, flags)

    def refused(self, mapping: SensorMapping, quantity: Quantity, why: _Refusal) -> Rejected:
        """Return why there is no reading."""
        return Rejected(mapping.sensor, why.reason, self.received_ms, why.detail, quantity)


def _answer(
    mapping: SensorMapping,
    quantity: Quantity,
    document: object,
    place: str,
    own_ms: int | None,
    came: _Came,
) -> Reading | Rejected:
    try:
        value = _mapped(mapping, quantity, document, place)
    except _Refusal as refusal:
        return came.refused(mapping, quantity, refusal)
    return came.reading(mapping, quantity, own_ms, value)


def _from_pack(mapping: SensorMapping, pack: list[Record], came: _Came) -> list[Reading | Rejected]:
    return [
        _of_record(mapping, quantity, record, came)
        for quantity, name in mapping.pointers()
        for record in pack
        if record.name == name
    ]


def _of_record(
    mapping: SensorMapping, quantity: Quantity, record: Record, came: _Came
) -> Reading | Rejected:
    """Answer one record; a time that counts from now hangs on the arrival."""
    here, own_ms = came, None
    try:
        if record.is_relative:
            came.refuse_replay()
            here = replace(came, received_ms=_counted_ms(record.time_s, came.received_ms))
        else:
            own_ms = _believed(
                lambda: unix_ms(record.time_s), record.time_s, came.received_ms, record.name
            )
        value = _recorded(mapping, quantity, record)
    except _Refusal as refusal:
        return came.refused(mapping, quantity, refusal)
    return here.reading(mapping, quantity, own_ms, value)


def _counted_ms(from_now_s: float, received_ms: int) -> int:
    at_ms = received_ms + round(from_now_s * 1000)
    if at_ms < EARLIEST_MS:
        raise _Refusal(RejectReason.BAD_TIME, f"{-from_now_s:.15g} s ago is before the year 2000")
    return _not_ahead(at_ms, from_now_s, received_ms)


def _document(mapping: SensorMapping, payload: bytes) -> object:
    if len(payload) > LARGEST_PAYLOAD:
        raise _Refusal(
            RejectReason.TOO_LARGE,
            f"{len(payload)} bytes, more than {LARGEST_PAYLOAD} are not read",
        )
    try:
        text = payload.decode().removeprefix("\ufeff")  # as the codec that does so, but faster
    except UnicodeDecodeError as error:
        raise _Refusal(
            RejectReason.NOT_TEXT, f"byte {error.start} is not UTF-8 text: {payload[:16]!r}"
        ) from None
    try:
        # every number becomes a float, so that thousands of digits cost nothing (and are refused)
        return _JSON.decode(text)
    except (ValueError, RecursionError) as error:
        bare = [quantity for quantity, place in mapping.pointers() if not place]
        if bare and (mapping.numbers_as_strings or bare == [Quantity.FAN_ON]):
            # a bare 21,4 or ON is text, not JSON
            return text
        why = error.msg if isinstance(error, json.JSONDecodeError) else "nested too deeply"
        raise _Refusal(RejectReason.NOT_JSON, f"{why}: {text[:_SHOWN]!r}") from None


def _own_time(mapping: SensorMapping, document: object, received_ms: int) -> int:
    given = resolve(document, mapping.time or "")
    return _believed(
        lambda: _instant(mapping, given, received_ms), given, received_ms, mapping.time or ""
    )


def _believed(instant: Callable[[], int], given: object, received_ms: int, place: str) -> int:
    """Return an instant that a clock which is set may have said."""
    try:
        at_ms = instant()
    except (ValueError, OverflowError) as error:
        raise _Refusal(RejectReason.BAD_TIME, f"at '{place}': {error}") from None
    if at_ms < EARLIEST_MS:
        raise _Refusal(
            RejectReason.BAD_TIME,
            f"{_shown(given)} is before the year 2000; the sensor's clock is not set",
        )
    return _not_ahead(at_ms, given, received_ms)


def _not_ahead(at_ms: int, given: object, received_ms: int) -> int:
    if at_ms > received_ms + FUTURE_TOLERANCE_MS:
        ahead_s = (at_ms - received_ms) / 1000
        raise _Refusal(
            RejectReason.FUTURE_TIME,
            f"{_shown(given)} is {ahead_s:.0f} s ahead of its arrival; "
            "check the clocks and the time zone",
        )
    return at_ms


def _instant(mapping: SensorMapping, given: object, received_ms: int) -> int:
    if isinstance(given, str):
        if mapping.numbers_as_strings and _NUMBER.fullmatch(given.strip()):
            return unix_ms(float(given.replace(",", ".")))
        moment = iso_datetime(given)
        if moment.tzinfo is not None:
            return utc_ms(moment)
        return _nearest(moment, mapping.time_zone, received_ms)
    if isinstance(given, float):
        return unix_ms(given)
    raise ValueError(f"{_shown(given)} is not a time")


def _nearest(moment: datetime, zone: str, received_ms: int) -> int:
    """Return the passage of a doubled hour that lies nearer to the arrival."""
    first, second = both_readings_ms(moment, zone_named(zone))
    return min(first, second, key=lambda at_ms: abs(at_ms - received_ms))


def _mapped(mapping: SensorMapping, quantity: Quantity, document: object, place: str) -> float:
    """Return the value at `place` of a JSON message."""
    given = resolve(document, place)
    if quantity is Quantity.FAN_ON:
        return _switched(given, place)
    number = _number(mapping, given, place)
    unit = mapping.unit_of(quantity)
    if unit.startswith("/"):
        unit = _coded(quantity, resolve(document, unit), mapping.unit_codes, unit)
    return _finite(_in_unit(quantity, number, unit), place)


def _recorded(mapping: SensorMapping, quantity: Quantity, record: Record) -> float:
    """Return the value of a record of a SenML pack; its '%' is a ratio."""
    if quantity is Quantity.FAN_ON:
        return _switched(record.value, record.name)
    number = _number(mapping, record.value, record.name)
    unit = mapping.unit_of(quantity)
    if record.unit is not None:
        unit = _coded(quantity, record.unit, UnitCodes.SENML, record.name)
    return _finite(_in_unit(quantity, number, unit), record.name)


def _coded(quantity: Quantity, code: object, codes: UnitCodes, place: str) -> str:
    """Return our unit for the code a message names."""
    known = _CODES[quantity]
    if not isinstance(code, str) or code not in known:
        raise _Refusal(
            RejectReason.UNKNOWN_UNIT,
            f"{_shown(code)} at '{place}' is no unit of {quantity.word}; known are "
            f"{', '.join(known)}",
        )
    if code == "%" and codes is UnitCodes.SENML:  # RFC 8428, section 12.1, note 1
        return HumidityUnit.FRACTION
    return known[code]


def _in_unit(quantity: Quantity, number: float, unit: str) -> float:
    """Return a number in the unit the quantity is kept in."""
    match quantity:
        case Quantity.TEMPERATURE | Quantity.SURFACE_TEMPERATURE:
            return temperature_c(number, unit)
        case Quantity.MASS:
            return mass_g(number, unit)
        case Quantity.AIR_SPEED:
            return air_speed_m_s(number, unit)
        case Quantity.FAN_ON:
            return number
        case Quantity.HUMIDITY:
            try:
                return humidity_frac(number, unit)
            except ValueError as error:
                raise _Refusal(RejectReason.OUT_OF_RANGE, str(error)) from None


def _switched(given: object, place: str) -> float:
    """Return 1 for a fan that runs and 0 for one that stands: true, 'on', or a number above 0."""
    if isinstance(given, bool):
        return float(given)
    if isinstance(given, str):
        known = _SWITCHED.get(given.strip().lower())
        if known is not None:
            return known
    if isinstance(given, float) and math.isfinite(given) and given >= 0.0:
        return float(given > 0.0)
    if given is MISSING:
        raise _Refusal(RejectReason.MISSING, f"nothing at '{place}'")
    raise _Refusal(
        RejectReason.NOT_A_NUMBER,
        f"{_shown(given)} at '{place}' says neither on nor off: true, false, 'on', 'off', or a "
        "number from 0",
    )


def _number(mapping: SensorMapping, given: object, pointer: str) -> float:
    if given is MISSING:
        raise _Refusal(RejectReason.MISSING, f"nothing at '{pointer}'")
    if isinstance(given, str) and mapping.numbers_as_strings:
        given = _number_in(given, decimal_comma=mapping.decimal_comma)
    if not isinstance(given, float):  # true is not 1, and "21.4" only where that is declared
        hint = "; text, see numbers_as_strings" if isinstance(given, str) else ""
        raise _Refusal(RejectReason.NOT_A_NUMBER, f"{_shown(given)} at '{pointer}'{hint}")
    return _finite(given, pointer)


def _finite(number: float, place: str) -> float:
    if not math.isfinite(number):
        raise _Refusal(RejectReason.NOT_A_NUMBER, f"not a finite number at '{place}'")
    return number


def _number_in(text: str, *, decimal_comma: bool) -> float | str:
    text = text.strip()
    if not _NUMBER.fullmatch(text) or ("," in text) > decimal_comma:
        return text
    return float(text.replace(",", "."))


def _shown(given: object) -> str:
    """Return a value as people may read it, cut short and safe to store."""
    if isinstance(given, str):
        return repr(given[:_SHOWN])
    if isinstance(given, float):
        return f"{given:.15g}"
    if isinstance(given, bool) or given is None:
        return json.dumps(given)
    if given is MISSING:
        return "nothing"
    return "an object" if isinstance(given, dict) else "a list"
