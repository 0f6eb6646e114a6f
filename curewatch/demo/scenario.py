"""The invented fortnight: rooms, sensors, pieces, and what people do to them and when.

Nothing here says what will be told: the times are chosen so that the physics has something to
say. Shop, pieces and climate are of our own making; the finishes are generic families.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from curewatch.demo import climate
from curewatch.demo.climate import RoomModel, Span, Weather
from curewatch.shop.piece import WorkKind

if TYPE_CHECKING:
    from collections.abc import Iterator

SITE = "two-rooms"
ZONE = ZoneInfo("Europe/Vienna")
FIRST_MIDNIGHT = datetime(2025, 10, 6, tzinfo=ZONE)  # a Monday
DAYS = 14
START_MS = round(FIRST_MIDNIGHT.timestamp() * 1000)
MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS
STOP_MS = START_MS + DAYS * DAY_MS
MOST_MESSAGES = 25_000
WAKING_C = 85.0  # what a digital probe says before its first conversion; the gate knows it

SPRAY_ROOM, LOFT = "spray-room", "drying-loft"
COLD_NIGHT = Span(3 * 24 + 18.0, 4 * 24 + 7.5)  # Thursday evening to Friday morning
HUMID_SPELL = Span(7 * 24 + 1.0, 8 * 24 + 22.0)  # Monday and Tuesday of the second week
DEAD = Span(5 * 24 + 6.0, 6 * 24 + 6.0)  # Saturday to Sunday morning

WEATHER = Weather(
    mean_c=11.0,
    swing_k=4.0,
    rh_frac=0.80,
    cold=Span(3 * 24 + 16.0, 4 * 24 + 10.0),
    cold_k=8.0,
    humid=HUMID_SPELL,
    humid_pa=760.0,
)
ROOMS = {
    SPRAY_ROOM: RoomModel(day_c=21.8, night_c=18.8, warms_h=1.0, cools_h=12.0, moisture_pa=150.0),
    LOFT: RoomModel(
        day_c=21.5,
        night_c=18.8,
        warms_h=1.5,
        cools_h=10.0,
        moisture_pa=150.0,
        heater_off=(COLD_NIGHT,),
    ),
}
AIR = {SPRAY_ROOM: "gentle", LOFT: "still"}


@dataclass(frozen=True, slots=True)
class SensorModel:
    """A sensor: where it hangs, what it reads too high, when it is dead."""

    id: str
    room: str
    temp_off_k: float
    rh_off_frac: float
    dead: Span | None = None

    @property
    def topic(self) -> str:
        """Where it publishes."""
        return f"demo/{self.room}/{self.id}"


SENSORS = (
    SensorModel("spray-wall", SPRAY_ROOM, 0.0, 0.0),
    SensorModel("loft-rail", LOFT, -0.1, 0.004),
    SensorModel("loft-gable", LOFT, 0.1, -0.004, dead=DEAD),
)


@dataclass(frozen=True, slots=True)
class Message:
    """One message of a sensor.

    Attributes
    ----------
    at_ms: its own time, told in the payload [ms].
    temp_c, rh_pct: [degC], [%].
    """

    at_ms: int
    topic: str
    temp_c: float
    rh_pct: float

    def payload(self) -> dict[str, float | int]:
        """Return what is sent as JSON."""
        return {"at": self.at_ms, "temperature": self.temp_c, "humidity": self.rh_pct}


@dataclass(frozen=True, slots=True)
class Hang:
    """A new piece on a hook."""

    at_ms: int
    tag: str
    finish: str
    title: str
    planned_coats: int
    room: str = SPRAY_ROOM

    def words(self) -> list[str]:
        """Return the command a person types for it."""
        return [
            *("piece", "hang", self.tag, "--finish", self.finish, "--room", self.room),
            *("--title", self.title, "--coats", str(self.planned_coats), "--at", iso(self.at_ms)),
        ]


@dataclass(frozen=True, slots=True)
class Spray:
    """A coat."""

    at_ms: int
    tag: str

    def words(self) -> list[str]:
        """Return the command a person types for it."""
        return ["coat", self.tag, "--at", iso(self.at_ms)]


@dataclass(frozen=True, slots=True)
class Carry:
    """A piece carried into another room."""

    at_ms: int
    tag: str
    room: str

    def words(self) -> list[str]:
        """Return the command a person types for it."""
        return ["move", self.tag, self.room, "--at", iso(self.at_ms)]


@dataclass(frozen=True, slots=True)
class Rub:
    """Work on the film; `anyway` says why it is done though the command refuses it."""

    at_ms: int
    tag: str
    kind: WorkKind
    anyway: str = ""

    def words(self) -> list[str]:
        """Return the command a person types for it."""
        return ["work", self.tag, str(self.kind), "--at", iso(self.at_ms)]


Doing = Hang | Spray | Carry | Rub


def iso(at_ms: int) -> str:
    """Return an instant [ms] as people type it, with the shop's offset."""
    return datetime.fromtimestamp(at_ms / 1000, tz=ZONE).isoformat(timespec="minutes")


@dataclass(frozen=True)
class Scenario:
    """The fortnight as messages and doings, in order of time."""

    days: int = DAYS
    messages: tuple[Message, ...] = field(default_factory=lambda: tuple(_messages()))
    doings: tuple[Doing, ...] = field(default_factory=lambda: tuple(_doings()))

    @cached_property
    def pieces(self) -> dict[str, Hang]:
        """The pieces by tag, in order of hanging."""
        return {doing.tag: doing for doing in self.doings if isinstance(doing, Hang)}


def at(day: int, clock: str) -> int:
    """Return an instant [ms] by the day of the fortnight (from 0) and the shop's wall clock."""
    hour, minute = (int(part) for part in clock.split(":"))
    return START_MS + day * DAY_MS + hour * HOUR_MS + minute * MINUTE_MS


MON, TUE, WED, THU, FRI, SAT, SUN = range(7)
NEXT = 7


def _doings() -> Iterator[Doing]:
    found = [*_by_the_book(), *_buffed_too_soon(), *_missed_window(), *_cold(), *_haze(), *_nitro()]
    yield from sorted(found, key=lambda doing: doing.at_ms)


def _coats(tag: str, day: int, *clocks: str) -> list[Doing]:
    return [Spray(at(day, clock), tag) for clock in clocks]


def _by_the_book() -> list[Doing]:
    tag = "body-8"
    return [
        Hang(at(MON, "8:30"), tag, "waterborne", "guitar body, by the book", 8),
        *_coats(tag, MON, "9:00", "11:00", "13:00", "15:00"),
        Carry(at(MON, "17:30"), tag, LOFT),
        Carry(at(TUE, "8:30"), tag, SPRAY_ROOM),
        *_coats(tag, TUE, "9:00", "11:00", "13:00", "15:00"),
        Carry(at(TUE, "17:30"), tag, LOFT),
        Rub(at(SAT, "10:00"), tag, WorkKind.WET_SAND),
        Rub(at(NEXT + SAT, "17:00"), tag, WorkKind.BUFF),
    ]


def _buffed_too_soon() -> list[Doing]:
    tag = "neck-6"
    return [
        Hang(at(MON, "9:15"), tag, "waterborne", "mandolin neck, wanted early", 6),
        *_coats(tag, MON, "9:30", "12:00", "15:30"),
        Carry(at(MON, "17:30"), tag, LOFT),
        Carry(at(TUE, "8:30"), tag, SPRAY_ROOM),
        *_coats(tag, TUE, "9:30", "12:00", "15:30"),
        Carry(at(TUE, "17:30"), tag, LOFT),
        Rub(at(SAT, "11:00"), tag, WorkKind.WET_SAND),
        Rub(at(SUN, "16:00"), tag, WorkKind.BUFF, anyway="the customer comes on Monday"),
    ]


def _missed_window() -> list[Doing]:
    tag = "door-4"
    return [
        Hang(at(WED, "9:45"), tag, "waterborne", "cabinet door, left over a day", 4),
        *_coats(tag, WED, "10:00", "13:00"),
        *_coats(tag, FRI, "9:00", "13:00"),  # 44 h later, and nobody scuffed
        Carry(at(FRI, "17:30"), tag, LOFT),
    ]


def _cold() -> list[Doing]:
    tag = "shelf-2"
    return [
        Hang(at(THU, "14:00"), tag, "waterborne", "shelf, hung into the cold night", 2),
        *_coats(tag, THU, "14:30", "17:15"),
        Carry(at(THU, "17:45"), tag, LOFT),
    ]


def _haze() -> list[Doing]:
    tag = "tray-3"
    return [
        Hang(at(NEXT + MON, "9:30"), tag, "waterborne", "tray, an hour a coat as always", 3),
        *_coats(tag, NEXT + MON, "10:00", "11:00", "16:00"),
        Carry(at(NEXT + TUE, "8:30"), tag, LOFT),
    ]


def _nitro() -> list[Doing]:
    tag = "box-6"
    return [
        Hang(at(WED, "8:30"), tag, "nitro-lacquer", "jewel box in lacquer", 6),
        *_coats(tag, WED, "9:00", "11:30", "14:30"),
        Rub(at(THU, "8:45"), tag, WorkKind.SCUFF),
        *_coats(tag, THU, "9:00", "11:30", "15:00"),
        Carry(at(FRI, "9:30"), tag, LOFT),
    ]


def _messages() -> Iterator[Message]:
    hours = climate.hours_of(DAYS)
    times = START_MS + np.arange(hours.size) * climate.STEP_MIN * MINUTE_MS
    streams = [_stream(sensor, number, hours, times=times) for number, sensor in enumerate(SENSORS)]
    yield from sorted((m for stream in streams for m in stream), key=lambda m: (m.at_ms, m.topic))


def _stream(
    sensor: SensorModel,
    number: int,
    hours: climate.Floats,
    *,
    times: np.ndarray[tuple[int, ...], np.dtype[np.int64]],
) -> list[Message]:
    """Return what a sensor sends; each a little later than the last, as sensors are."""
    room = list(ROOMS).index(sensor.room)
    air = climate.room_air(
        ROOMS[sensor.room], WEATHER, hours, random=np.random.default_rng([climate.SEED, room])
    )
    own = np.random.default_rng([climate.SEED, 100 + number])
    temps = np.round(air.temp_c + sensor.temp_off_k + own.normal(0.0, 0.03, hours.size), 2)
    rhs = np.round(100.0 * (air.rh_frac + sensor.rh_off_frac) + own.normal(0.0, 0.1, hours.size), 1)
    alive = np.full(hours.shape, fill_value=True)
    if sensor.dead is not None:
        alive &= ~sensor.dead.holds(hours)
        temps[np.searchsorted(hours, sensor.dead.stop_h)] = WAKING_C
    return [
        Message(int(times[i]), sensor.topic, float(temps[i]), float(rhs[i]))
        for i in np.flatnonzero(alive)
    ]


def configuration(port: int) -> str:
    """Return the shop's configuration file, for a broker on a port of this machine."""
    head = f"""\
# An invented shop, written by 'curewatch demo'.
[site]
name = "{SITE}"
timezone = "{ZONE.key}"
[storage]
path = "shop.db"
[broker]
host = "127.0.0.1"
port = {port}
protocol = "3.1.1"  # all the embedded broker speaks
[clock]
source = "readings"  # the newest reading is now: the fortnight runs faster than life
commit_window_s = 0.05
"""
    rooms = [
        f'[[room]]\nname = "{name}"\nair = "{air}"\nlongest_gap_min = 30\n'
        for name, air in AIR.items()
    ]
    sensors = [
        f'[[sensor]]\nid = "{sensor.id}"\nroom = "{sensor.room}"\ntopic = "{sensor.topic}"\n'
        f'report_every_min = {climate.STEP_MIN}\ntemperature = "/temperature"\n'
        'humidity = "/humidity"\ntime = "/at"\n'
        for sensor in SENSORS
    ]
    return "\n".join([head, *rooms, *sensors])
