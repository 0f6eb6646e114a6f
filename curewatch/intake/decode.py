"""One message's bytes in, its readings or named rejections out; never an exception.

Every quantity a mapping names gets exactly one answer from every message. A relative humidity up
to half a point above saturation is a sensor's own error and is kept as 100 %; more is refused.
"""

from __future__ import annotations

import json
import math
import re
from typing import TYPE_CHECKING

from curewatch.intake.mapping import SensorMapping, zone_named
from curewatch.intake.pointer import MISSING, resolve
from curewatch.intake.times import EARLIEST_MS, both_readings_ms, iso_datetime, unix_ms, utc_ms
from curewatch.intake.units import humidity_frac, mass_g, temperature_c
from curewatch.shop.reading import Flag, Origin, Quantity, Reading, Rejected, RejectReason

if TYPE_CHECKING:
    from datetime import datetime

LARGEST_PAYLOAD = 64 * 1024  # [bytes]
FUTURE_TOLERANCE_MS = 5 * 60 * 1000
_JSON = json.JSONDecoder(parse_int=float)
_SHOWN = 40  # characters of an offending value that are repeated to people
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
    """Return one reading or one rejection for each quantity `mapping` names.

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
    try:
        _refuse_replay(mapping, retained=retained)
        document = _document(mapping, payload)
        at_ms = received_ms if mapping.time is None else _own_time(mapping, document, received_ms)
    except _Refusal as refusal:
        return [
            Rejected(mapping.sensor, refusal.reason, received_ms, refusal.detail, quantity)
            for quantity, _ in mapping.pointers()
        ]
    origin = Origin.ARRIVAL if mapping.time is None else Origin.OWN_TIME
    flags = int(Flag.TIME_UNKNOWN) if backlog and mapping.time is None else 0
    answers: list[Reading | Rejected] = []
    for quantity, pointer in mapping.pointers():
        try:
            value = _value(mapping, quantity, resolve(document, pointer), pointer)
        except _Refusal as refusal:
            answers.append(
                Rejected(mapping.sensor, refusal.reason, received_ms, refusal.detail, quantity)
            )
        else:
            answers.append(Reading(mapping.sensor, quantity, at_ms, value, origin, flags))
    return answers


def _refuse_replay(mapping: SensorMapping, *, retained: bool) -> None:
    if retained and mapping.time is None:
        raise _Refusal(
            RejectReason.RETAINED_REPLAY,
            "an older value the broker repeats, without a time of its own",
        )


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
        if mapping.numbers_as_strings and ("" in (pointer for _, pointer in mapping.pointers())):
            # a bare 21,4 is text, not JSON
            return text
        why = error.msg if isinstance(error, json.JSONDecodeError) else "nested too deeply"
        raise _Refusal(RejectReason.NOT_JSON, f"{why}: {text[:_SHOWN]!r}") from None


def _own_time(mapping: SensorMapping, document: object, received_ms: int) -> int:
    given = resolve(document, mapping.time or "")
    try:
        at_ms = _instant(mapping, given, received_ms)
    except (ValueError, OverflowError) as error:
        raise _Refusal(RejectReason.BAD_TIME, f"at '{mapping.time}': {error}") from None
    if at_ms < EARLIEST_MS:
        raise _Refusal(
            RejectReason.BAD_TIME,
            f"{_shown(given)} is before the year 2000; the sensor's clock is not set",
        )
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


def _value(mapping: SensorMapping, quantity: Quantity, given: object, pointer: str) -> float:
    number = _number(mapping, given, pointer)
    if quantity is Quantity.MASS:
        return mass_g(number, mapping.mass_unit)
    if quantity is not Quantity.HUMIDITY:
        return temperature_c(number, mapping.temperature_unit)
    try:
        return humidity_frac(number, mapping.humidity_unit)
    except ValueError as error:
        raise _Refusal(RejectReason.OUT_OF_RANGE, str(error)) from None


def _number(mapping: SensorMapping, given: object, pointer: str) -> float:
    if given is MISSING:
        raise _Refusal(RejectReason.MISSING, f"nothing at '{pointer}'")
    if isinstance(given, str) and mapping.numbers_as_strings:
        given = _number_in(given, decimal_comma=mapping.decimal_comma)
    if not isinstance(given, float):  # true is not 1, and "21.4" only where that is declared
        hint = "; text, see numbers_as_strings" if isinstance(given, str) else ""
        raise _Refusal(RejectReason.NOT_A_NUMBER, f"{_shown(given)} at '{pointer}'{hint}")
    if not math.isfinite(given):
        raise _Refusal(RejectReason.NOT_A_NUMBER, f"not a finite number at '{pointer}'")
    return given


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
