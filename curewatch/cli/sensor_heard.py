"""What was heard at the broker, and the configuration lines that would take it in."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.cli.show import say, table
from curewatch.clock import system_ms
from curewatch.daemon import broker_access
from curewatch.errors import BadConfig, BadInput
from curewatch.intake.listening import Listening, listen
from curewatch.intake.mapping import Format, SensorMapping, TopicTable, topic_matches
from curewatch.intake.proposing import proposed
from curewatch.intake.shape import readable, shape
from curewatch.shop.reading import Quantity

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from curewatch.intake.listening import HeardTopic
    from curewatch.settings import Settings
    from curewatch.shop.plain import PlainValue
    from curewatch.shop.reading import Reading

_SHOWN_SPOTS = 6
_UNITS = {
    Quantity.TEMPERATURE: "degC",
    Quantity.SURFACE_TEMPERATURE: "degC",
    Quantity.MASS: "g",
    Quantity.AIR_SPEED: "m/s",
}
_DEFAULTS = SensorMapping("", "")


@dataclass(frozen=True, slots=True)
class Asked:
    """For how long to listen [s], to which topic filters, and which topics are our own."""

    seconds: float
    filters: tuple[str, ...]
    own: str


@dataclass(frozen=True, slots=True)
class Lines:
    """The room that proposed lines name, and whether they have to make it."""

    room: str
    make_room: bool

    def text(self, tables: Sequence[str]) -> str:
        """Return everything to paste; empty where nothing is proposed."""
        room = [f"[[room]]\nname = {toml_text(self.room)}"] if self.make_room and tables else []
        return "\n\n".join([*room, *tables])


@dataclass(frozen=True, slots=True)
class HeardAtBroker:
    """What listening brought, beside what the configuration knows."""

    settings: Settings
    asked: Asked
    place: str
    listening: Listening

    def known_as(self, topic: str) -> tuple[str, ...]:
        """Return the sensors that the configuration reads or watches on a topic."""
        reads = TopicTable(self.settings.mappings()).for_topic(topic)
        watches = [p.sensor for p in self.settings.presences() if topic_matches(p.topic, topic)]
        return tuple(dict.fromkeys([*(mapping.sensor for mapping in reads), *watches]))

    def tables(self, room: str, taken: set[str]) -> Iterator[str]:
        """Yield a table for each sensor that was heard and that the configuration does not know."""
        ids = set(taken)
        for heard in self.listening.topics:
            if not self.known_as(heard.topic):
                yield from self._tables_of(heard, room, ids)

    def _tables_of(self, heard: HeardTopic, room: str, ids: set[str]) -> Iterator[str]:
        remark = "# heard only as a message the broker keeps: see that it still speaks\n"
        note = remark if heard.retained else ""
        kinds = [(f.kind, f.heard_in(heard.topic, heard.payload)) for f in self.settings.families()]
        for kind, names in kinds:
            for name in names:
                yield note + _of_kind(kind, name, room, _free(name, ids))
        if not any(names for _, names in kinds):
            for one in proposed(heard, zone=self.settings.site.timezone):
                says = ", ".join(_said(reading) for reading in one.readings)
                unused = "".join(f"# {why}\n" for why in one.unused)
                head = f"# {readable(heard.topic)}: {says}\n{note}{unused}"
                yield head + _table(one.mapping, room, _free(one.mapping.sensor, ids))

    def tell(self) -> None:
        """Say what was heard."""
        heard = self.listening
        if heard.trouble:
            say(f"The broker at {self.place}: {heard.trouble}")
            say("Look: systemctl status mosquitto; see the [broker] table")
        if not heard.topics:
            if not heard.trouble:
                say(f"At the broker at {self.place} nothing was heard in {self.asked.seconds:g} s.")
                say(
                    "Battery sensors report every 10 to 60 min: --listen 3600 waits longer. And a "
                    "broker whose access list keeps topics from this user may not say so."
                )
            return
        say(f"Heard at the broker at {self.place} in {self.asked.seconds:g} s (nothing is kept):")
        rows = [(readable(h.topic), _how(h), self._as(h), _shape_told(h)) for h in heard.topics]
        table(["topic", "messages", "known as", "says"], rows)
        if heard.left_out:
            say(f"{heard.left_out} messages on further topics; --topic FILTER listens to fewer.")

    def _as(self, heard: HeardTopic) -> str:
        return ", ".join(self.known_as(heard.topic)) or "-"

    def plain(self) -> dict[str, PlainValue]:
        """Return what was heard as plain data."""
        return {
            "place": self.place,
            "listened_s": self.asked.seconds,
            "trouble": self.listening.trouble or None,
            "left_out": self.listening.left_out,
            "topics": [
                {
                    "topic": readable(heard.topic),
                    "messages": heard.messages,
                    "retained": heard.retained,
                    "known_as": list(self.known_as(heard.topic)),
                    "shape": [
                        {"at": spot.at, "kind": spot.kind, "value": spot.value}
                        for spot in shape(heard.payload)
                    ],
                }
                for heard in self.listening.topics
            ],
        }


def hear(settings: Settings, asked: Asked) -> HeardAtBroker:
    """Listen at the configured broker; nothing is stored."""
    place = f"{settings.broker.host}:{settings.broker.port}"
    try:
        access = broker_access(settings)
    except (BadConfig, BadInput) as error:  # the chips are listed all the same
        return HeardAtBroker(settings, asked, place, Listening(trouble=str(error)))
    found = listen(access, asked.filters, seconds=asked.seconds, now_ms=system_ms, skip=asked.own)
    return HeardAtBroker(settings, asked, place, found)


def toml_text(text: str) -> str:
    """Return text as a basic string of TOML."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _of_kind(kind: str, name: str, room: str, sensor: str) -> str:
    lines = ["[[sensor]]", f'id = "{sensor}"', f"room = {toml_text(room)}", f'kind = "{kind}"']
    if name != sensor:
        lines.append(f"heard_as = {toml_text(name)}")
    return "\n".join(lines)


def _table(mapping: SensorMapping, room: str, sensor: str) -> str:
    lines = [
        "[[sensor]]",
        f'id = "{sensor}"',
        f"room = {toml_text(room)}",
        f"topic = {toml_text(mapping.topic)}",
    ]
    if mapping.format is Format.SENML:
        lines.append('format = "senml"')
    lines += [f"{quantity.word} = {toml_text(place)}" for quantity, place in mapping.pointers()]
    for key in ("temperature_unit", "humidity_unit", "mass_unit", "air_speed_unit", "time"):
        value = getattr(mapping, key)
        if value != getattr(_DEFAULTS, key):
            lines.append(f"{key} = {toml_text(value)}")
    flags = ("numbers_as_strings", "decimal_comma")
    lines += [f"{key} = true" for key in flags if getattr(mapping, key)]
    return "\n".join(lines)


def _free(name: str, taken: set[str]) -> str:
    """Return an id that nothing else has, made of what a sensor calls itself."""
    letters = "".join(c if c.isascii() and (c.isalnum() or c in "_-") else "-" for c in name)
    stem = letters.strip("-_")[:48] or "sensor"
    free, number = stem, 2
    while free in taken:
        free, number = f"{stem}-{number}", number + 1
    taken.add(free)
    return free


def _said(reading: Reading) -> str:
    if reading.quantity is Quantity.HUMIDITY:
        return f"humidity {100.0 * reading.value:.1f} %"
    if reading.quantity is Quantity.FAN_ON:
        return "the fan runs" if reading.value else "the fan stands"
    word = reading.quantity.word.replace("_", " ")
    return f"{word} {reading.value:.2f} {_UNITS[reading.quantity]}"


def _how(heard: HeardTopic) -> str:
    return f"{heard.messages}, retained" if heard.retained else str(heard.messages)


def _shape_told(heard: HeardTopic) -> str:
    spots = shape(heard.payload)
    told = [f"{spot.at or 'whole'}: {spot.value or spot.kind}" for spot in spots[:_SHOWN_SPOTS]]
    more = len(spots) - len(told)
    return "; ".join(told) + (f"; {more} more" if more > 0 else "")
