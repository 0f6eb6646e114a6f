"""Sensors: when each was heard, what it says, what was refused of it, and how far to believe it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import Response

from curewatch.presences import newcomers_kept
from curewatch.shop.reading import Quantity
from curewatch.shop.words import counted, percent, span
from curewatch.web.room import Room
from curewatch.web.sensor_trust import TrustFacts, trust_of, trust_said
from curewatch.web.speech import say

if TYPE_CHECKING:
    from curewatch.intake.families import Newcomer
    from curewatch.shop.assessment import SensorNow
    from curewatch.shop.room import Sensor
    from curewatch.storage.rejections import RejectionCount
    from curewatch.web.desk import Counter
    from curewatch.web.speech import Speech

router = APIRouter(include_in_schema=False)
SILENT_AFTER = 3.0  # intervals without a word (as the longest gap counts them)


@dataclass(frozen=True, slots=True)
class SensorFacts:
    """One sensor of the configuration.

    Attributes
    ----------
    sensor: as configured.
    now: as it stands.
    mass_g: what it weighs, if it is a scale [g].
    silent_after_s: silence from which on something is wrong [s].
    air_speed_m_s: how fast it says the air moves [m/s].
    fan_on: whether it says that the fan runs.
    gone_ms: since when the broker was told that it is gone [ms]; None while it is there.
    trust: how far it is to be believed.
    """

    sensor: Sensor
    now: SensorNow
    mass_g: float | None
    silent_after_s: float
    air_speed_m_s: float | None = None
    fan_on: bool | None = None
    gone_ms: int | None = None
    trust: TrustFacts = field(default_factory=TrustFacts)

    def is_silent(self, now_ms: int) -> bool:
        """Whether it should have been heard since, or is said to be gone."""
        if self.gone_ms is not None:
            return True
        heard = self.now.last_heard_at
        return heard is None or now_ms - heard > self.silent_after_s * 1000.0


@dataclass(frozen=True, slots=True)
class Strangers:
    """What was refused of something that is not configured."""

    name: str
    refused: tuple[RejectionCount, ...]


def look(counter: Counter) -> tuple[list[SensorFacts], list[Strangers], list[Newcomer]]:
    """Gather the facts, in the daemon's thread."""
    shop = counter.shop

    def newest(sensor: Sensor, quantity: Quantity) -> float | None:
        reading = shop.heard.get((sensor.id, quantity))
        return None if reading is None else reading.value

    standing = {one.id: one for room in counter.assessment().rooms for one in room.sensors}
    found = [
        SensorFacts(
            sensor=sensor,
            now=standing[sensor.id],
            mass_g=newest(sensor, Quantity.MASS),
            silent_after_s=_silent_after_s(sensor, shop.longest_gap_s(sensor.room)),
            air_speed_m_s=newest(sensor, Quantity.AIR_SPEED),
            fan_on=None if (on := newest(sensor, Quantity.FAN_ON)) is None else on > 0.0,
            gone_ms=shop.gone.get(sensor.id),
            trust=trust_of(shop, sensor, counter.now_ms),
        )
        for sensor in shop.sensors
        if sensor.id in standing
    ]
    configured = {sensor.id for sensor in shop.sensors}
    strange: dict[str, list[RejectionCount]] = {}
    for row in counter.store.rejections.summary():
        if row.sensor not in configured:
            strange.setdefault(row.sensor, []).append(row)
    strangers = [Strangers(name, tuple(rows)) for name, rows in strange.items()]
    return found, strangers, newcomers_kept(counter.store)


def _silent_after_s(sensor: Sensor, longest_gap_s: float) -> float:
    every = sensor.report_every_s
    return longest_gap_s if every is None else SILENT_AFTER * every


@router.get("/sensors")
def sensors(request: Request) -> Response:
    """Show them, what needs a hand first."""
    room: Room = request.app.state.room
    room.reader(request)
    moment, (found, strangers, newcomers) = room.ask(look)
    speech = room.speech(moment.now_ms)
    ordered = sorted(
        found, key=lambda one: (not _wants_a_hand(one, moment.now_ms), one.sensor.room)
    )
    shown = [_said(one, speech) for one in ordered]
    told = {"sensors": shown, "strangers": strangers, "newcomers": newcomers, "counted": counted}
    return room.render(request, "sensors.html", told, moment=moment)


def _wants_a_hand(one: SensorFacts, now_ms: int) -> bool:
    return one.is_silent(now_ms) or _is_stuck(one) or one.trust.replace


def _is_stuck(one: SensorFacts) -> bool:
    """Whether it ought to move and does not; in a jar it ought to stay where it is."""
    return one.now.frozen_since is not None and one.trust.jar_since_ms is None


@dataclass(frozen=True, slots=True)
class Said:
    """A sensor in sentences: its name and room, how it stands, what to do, the rest."""

    id: str
    room: str
    stands: str
    todo: tuple[str, ...]
    values: str
    doubt: str
    now: SensorNow
    trust: tuple[str, ...]
    checkable: bool


def _said(one: SensorFacts, speech: Speech) -> Said:
    todo = []
    if one.is_silent(speech.now_ms):
        todo.append(say("sensors.look_silent"))
    if _is_stuck(one):
        todo.append(say("sensors.look_stuck"))
    if one.trust.replace:
        todo.append(say("sensor.replace"))
    return Said(
        id=one.sensor.id,
        room=one.sensor.room,
        stands=_stands(one, speech),
        todo=tuple(todo),
        values=_values(one, speech),
        doubt=_doubt(one, speech),
        now=one.now,
        trust=tuple(trust_said(one.trust, speech)),
        checkable=one.sensor.air,
    )


def _stands(one: SensorFacts, speech: Speech) -> str:
    heard, every = one.now.last_heard_at, one.sensor.report_every_s
    if heard is None:
        return say("sensors.never")
    if one.gone_ms is not None:
        return say("sensors.gone", at=speech.words.at(one.gone_ms, speech.now_ms))
    at = speech.sentence(speech.words.at(heard, speech.now_ms))
    if one.is_silent(speech.now_ms):
        return say("sensors.silent", at=at)
    if every is None:
        return say("sensors.heard", at=at)
    return say("sensors.heard_every", at=at, every=span(every / 3600.0))


def _values(one: SensorFacts, speech: Speech) -> str:
    now = one.now
    said = [] if now.temp_c is None else [say("sensors.air", temp=speech.temp(now.temp_c))]
    said += [] if now.rh_frac is None else [say("sensors.rh", rh=percent(now.rh_frac))]
    said += [] if now.surface_c is None else [say("sensors.piece", temp=speech.temp(now.surface_c))]
    said += [] if one.mass_g is None else [say("sensors.mass", grams=f"{one.mass_g:.3f}")]
    if one.air_speed_m_s is not None:
        said.append(say("sensors.speed", speed=f"{one.air_speed_m_s:.2f}"))
    if one.fan_on is not None:
        said.append(say("sensors.fan_on" if one.fan_on else "sensors.fan_off"))
    return ", ".join(said)


def _doubt(one: SensorFacts, speech: Speech) -> str:
    """Say what it may be off by; what it does not measure is left out."""
    if not one.sensor.air:
        return ""
    parts = []
    if one.now.temp_c is not None or one.now.surface_c is not None:
        parts.append(
            say("sensors.off_temp", by=speech.kelvin(one.trust.off_k(one.sensor.temp_bias_k)))
        )
    if one.now.rh_frac is not None:
        by = one.trust.off_frac(one.sensor.rh_bias_frac)
        parts.append(say("sensors.off_rh", points=f"{100.0 * by:.1f}"))
    return say("sensors.off", parts=", ".join(parts)) if parts else ""
