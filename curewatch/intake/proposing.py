"""From a message that was heard, the [[sensor]] table that would take it in.

Which number is what is guessed from its name, its unit and its size, and then tried: only a mapping
that gives readings of this very message is proposed. A person still has to look at it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from curewatch.intake.decode import decode
from curewatch.intake.mapping import Format, SensorMapping
from curewatch.intake.pointer import pointer_fault, resolve, tokens
from curewatch.intake.senml import PackFault, Record, records
from curewatch.intake.shape import leaves, parsed
from curewatch.intake.units import (
    AIR_SPEED_CODES,
    HUMIDITY_CODES,
    MASS_CODES,
    TEMPERATURE_CODES,
)
from curewatch.shop.gate import QualityGate
from curewatch.shop.reading import Quantity, Reading

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from curewatch.intake.listening import HeardTopic

_WORDS: Final = (
    (Quantity.SURFACE_TEMPERATURE, r"(surface|wood|object|piece)_?(t|temp|temperature)?(_?[cfk])?"),
    (
        Quantity.TEMPERATURE,
        r"((air|room|ambient)_?)?(t|ta|temp|temperature)(_?(c|f|k|celsius|fahrenheit|kelvin|air))?",
    ),
    (
        Quantity.HUMIDITY,
        r"(h|rh|hum|humidity|(rel|relative|air|room)_?(hum|humidity))(_?(pct|percent|rel|frac))?",
    ),
    (Quantity.MASS, r"(m|mass|weight|grams?)(_?(g|kg|mg|oz))?"),
    (Quantity.AIR_SPEED, r"(v|air_?speed|wind_?speed|air_?velocity|velocity)(_?m_?s)?"),
    (Quantity.FAN_ON, r"fan(_?(on|running|state))?"),
)
_PATTERNS: Final = tuple((quantity, re.compile(words)) for quantity, words in _WORDS)
_NAMELESS: Final = ("value", "val", "reading", "v", "state")
_UNIT_KEYS: Final = ("unit", "units", "u")
_TIME_KEYS: Final = ("time", "timestamp", "ts", "at", "date", "datetime")
_CODES: Final[Mapping[Quantity, Mapping[str, str]]] = {
    Quantity.TEMPERATURE: TEMPERATURE_CODES,
    Quantity.SURFACE_TEMPERATURE: TEMPERATURE_CODES,
    Quantity.HUMIDITY: HUMIDITY_CODES,
    Quantity.MASS: MASS_CODES,
    Quantity.AIR_SPEED: AIR_SPEED_CODES,
    Quantity.FAN_ON: {},
}
_UNIT_FIELD: Final = {
    Quantity.TEMPERATURE: "temperature_unit",
    Quantity.SURFACE_TEMPERATURE: "temperature_unit",
    Quantity.HUMIDITY: "humidity_unit",
    Quantity.MASS: "mass_unit",
    Quantity.AIR_SPEED: "air_speed_unit",
}
_WARMEST_C, _COLDEST_K = 45.0, 230.0  # a shop is neither warmer nor colder (common practice)
_NUMBER = re.compile(r"\s*[+-]?\d+([.,]\d+)?\s*", re.ASCII)
_ALIKE_MS: Final = 10 * 60_000  # a time so far off its arrival is another zone's, or another thing


@dataclass(frozen=True, slots=True)
class Proposed:
    """A mapping that takes a message in, and what it would read of it.

    Attributes
    ----------
        mapping: the mapping; its sensor is a name made up from the topic.
        readings: what it gives of the message.
        unused: why something in it is left out, in words.
    """

    mapping: SensorMapping
    readings: tuple[Reading, ...]
    unused: tuple[str, ...] = ()


def proposed(heard: HeardTopic, *, zone: str) -> tuple[Proposed, ...]:
    """Return what would take a message in; empty where nothing in it is known.

    Parameters
    ----------
    heard
        The message.
    zone
        IANA name of the zone in which its times without offset would be read.
    """
    document = parsed(heard.payload)
    try:
        pack = records(document)
    except PackFault:
        return _of_json(heard, document, zone)
    return tuple(_of_pack(heard, pack)) if pack else ()


def _of_json(heard: HeardTopic, document: object, zone: str) -> tuple[Proposed, ...]:
    mapping = SensorMapping(_name(heard.topic), heard.topic, time_zone=zone)
    for at, value in leaves(document):
        quantity = _quantity(at, heard.topic)
        if quantity is not None and not _taken(mapping, quantity) and _usable(at, value, quantity):
            tried = _with(mapping, quantity, at, value, document)
            if tried is not None and _read(tried, heard, only=quantity):
                mapping = tried
    if not mapping.pointers():
        return ()
    mapping, unused = _with_time(mapping, heard, document)
    return (Proposed(mapping, tuple(_read(mapping, heard)), unused),)


def _quantity(at: str, topic: str) -> Quantity | None:
    """Guess what stands at a place by its own name, or by that of what holds it."""
    names = [token for token in tokens(at) if not token.isdigit()]
    while names and _plain(names[-1]) in _NAMELESS and _by_name(names[-1]) is None:
        names.pop()
    word = names[-1] if names else topic.rpartition("/")[2]
    return _by_name(word)


def _by_name(word: str) -> Quantity | None:
    return next((q for q, pattern in _PATTERNS if pattern.fullmatch(_plain(word))), None)


def _plain(word: str) -> str:
    """Return a name in small letters, its parts joined by '_'."""
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", "_", word)
    return re.sub(r"[^a-z0-9]+", "_", parted.lower()).strip("_")


def _taken(mapping: SensorMapping, quantity: Quantity) -> bool:
    return any(known is quantity for known, _ in mapping.pointers())


def _usable(at: str, value: object, quantity: Quantity) -> bool:
    if pointer_fault(at) or not at.isprintable():
        return False
    if quantity is Quantity.FAN_ON:
        return isinstance(value, (bool, float, str))
    return isinstance(value, float) or (isinstance(value, str) and bool(_NUMBER.fullmatch(value)))


def _with(
    mapping: SensorMapping, quantity: Quantity, at: str, value: object, document: object
) -> SensorMapping | None:
    """Return the mapping with one quantity more, its unit guessed."""
    changes: dict[str, object] = {quantity.word: at}
    number = value if isinstance(value, float) else None
    if isinstance(value, str) and quantity is not Quantity.FAN_ON:
        number = float(value.replace(",", "."))
        changes["numbers_as_strings"] = True
        changes["decimal_comma"] = mapping.decimal_comma or "," in value
    unit = _unit(quantity, at, document, number)
    if unit:
        changes[_UNIT_FIELD[quantity]] = unit
    return replace(mapping, **changes)  # type: ignore[arg-type]  # keys are its own


def _unit(quantity: Quantity, at: str, document: object, number: float | None) -> str:
    """Return the unit where it is not the usual one: named beside it, in its name, or by size."""
    stem, codes = at.rpartition("/")[0], _CODES[quantity]
    for key in _UNIT_KEYS:
        code = resolve(document, f"{stem}/{key}") if at else None
        if isinstance(code, str) and code in codes:
            return f"{stem}/{key}"
    ending = _plain(tokens(at)[-1] if at else "").rpartition("_")[2]
    size = 0.0 if number is None else number
    match quantity:
        case Quantity.TEMPERATURE | Quantity.SURFACE_TEMPERATURE:
            return _temperature_unit(ending, size)
        case Quantity.HUMIDITY:
            return "fraction" if 0.0 < size <= 1.0 else ""
        case Quantity.MASS:
            return ending if ending in ("kg", "mg", "oz") else ""
        case _:
            return ""


def _temperature_unit(ending: str, size: float) -> str:
    if ending in ("k", "kelvin") or size > _COLDEST_K:
        return "K"
    return "F" if ending in ("f", "fahrenheit") or size > _WARMEST_C else ""


def _with_time(
    mapping: SensorMapping, heard: HeardTopic, document: object
) -> tuple[SensorMapping, tuple[str, ...]]:
    """Return the mapping with the message's own time, where that is one."""
    for at, _ in leaves(document):
        if at and _plain(tokens(at)[-1]) in _TIME_KEYS and not pointer_fault(at):
            found = _read(replace(mapping, time=at), heard)
            near = [abs(heard.received_ms - one.at_ms) <= _ALIKE_MS for one in found]
            if found and (heard.retained or all(near)):
                return replace(mapping, time=at), ()
            why = "it is no time, or far from its arrival; look at the sensor's clock and zone"
            return mapping, (f"the time at '{at}' is not used: {why}",)
    return mapping, ()


def _of_pack(heard: HeardTopic, pack: list[Record]) -> Iterator[Proposed]:
    """Propose a sensor for each stem of the records' names."""
    by_stem: dict[str, SensorMapping] = {}
    for record in pack:
        quantity = _quantity_of(record)
        stem = re.split(r"[:/._-](?=[^:/._-]*$)", record.name)[0] or heard.topic
        sensor = _name(stem.replace(":", "/"))
        known = by_stem.get(stem) or SensorMapping(sensor, heard.topic, format=Format.SENML)
        if quantity is None or _taken(known, quantity) or not record.name.isprintable():
            continue
        tried = replace(known, **{quantity.word: record.name})  # type: ignore[arg-type]  # same
        if _read(tried, heard, only=quantity):
            by_stem[stem] = tried
    for mapping in by_stem.values():
        yield Proposed(mapping, tuple(_read(mapping, heard)))


def _quantity_of(record: Record) -> Quantity | None:
    """Tell what a record measures by its unit, and by its name where that leaves a choice."""
    word = re.split(r"[:/.]", record.name)[-1]
    named = _by_name(word)
    match record.unit:
        case "Cel" | "K":
            surface = Quantity.SURFACE_TEMPERATURE
            return surface if named is surface else Quantity.TEMPERATURE
        case "%RH":
            return Quantity.HUMIDITY
        case "kg" | "g":
            return Quantity.MASS
        case "m/s":
            return Quantity.AIR_SPEED
        case _:
            return named


def _read(
    mapping: SensorMapping, heard: HeardTopic, *, only: Quantity | None = None
) -> list[Reading]:
    """Return the readings a mapping gives of a message, as they would be let through."""
    answers = decode(
        mapping, heard.payload, received_ms=heard.received_ms, retained=False, backlog=False
    )
    wanted = [answer for answer in answers if only in (None, answer.quantity)]
    admitted: Iterable[object] = QualityGate().admit_all(wanted, received_ms=heard.received_ms)
    return [answer for answer in admitted if isinstance(answer, Reading)]


def _name(topic: str) -> str:
    """Return an id made of the last two levels of a topic that say something."""
    levels = [re.sub(r"[^A-Za-z0-9_-]+", "-", level).strip("-_") for level in topic.split("/")]
    return "-".join([level for level in levels if level][-2:])[:48].strip("-_") or "sensor"
