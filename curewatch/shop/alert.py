"""What an alert is: its kind, its subject and the phases of its life."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curewatch.shop.reading import Urgency


class AlertKind(StrEnum):
    """What people are told about."""

    RECOAT_OPEN = "recoat-open"
    RECOAT_CLOSING = "recoat-closing"
    RECOAT_MISSED = "recoat-missed"
    READY_WET_SAND = "ready-wet-sand"
    READY_BUFF = "ready-buff"
    CURED = "cured"
    COAT_EARLY = "coat-early"  # trapped haze
    COAT_IN_MIDDLE = "coat-in-middle"  # wrinkles
    COAT_LATE = "coat-late"  # no bond without a scuff
    POT_OVER = "pot-over"  # sprayed from a pot past its life
    WORK_EARLY = "work-early"  # levelled, sanded or buffed before ready
    WET_WORK_CLIMATE = "wet-work-climate"  # room outside the finish's limits with wet work in it
    SURFACE_DEW = "surface-dew"  # a surface within 3 K of the dew point
    BLUSH = "blush"  # a coat just laid in solvent chills itself below the dew point
    FILM_COLD = "film-cold"  # wet film under its film-forming temperature
    COLD_YOUNG_FILM = "cold-young-film"  # room cold on a film in its first days
    COLD_CHECK = "cold-check"  # a hardened film cooling faster than it can bear
    WOOD_MOVING = "wood-moving"  # the wood still takes up or gives off moisture; joints will print
    SENSOR_SILENT = "sensor-silent"
    SENSOR_STUCK = "sensor-stuck"
    SENSOR_RANGE = "sensor-range"
    SENSOR_IN_JAR = "sensor-in-jar"  # forgotten over a salt: its room is not measured by it
    SENSOR_OFF = "sensor-off"  # a check found it too far off to be corrected
    SENSOR_WET = "sensor-wet"  # saturated for hours: water on it
    SENSORS_APART = "sensors-apart"  # two of one room disagree by more than both may be off
    SENSOR_CHECK_DUE = "sensor-check-due"
    FOLLOW_UP = "follow-up"  # a finished piece to be looked at again
    GAP = "gap"  # hours without credit


class AlertPhase(StrEnum):
    """Where an alert stands in its life."""

    WATCHING = "watching"  # true, but not yet for its hold time
    RAISED = "raised"
    SEEN = "seen"  # someone has it
    RESTING = "resting"  # put aside until a time
    CLEARED = "cleared"


@dataclass(frozen=True, slots=True)
class Alert:
    """One alert as it stands.

    Attributes
    ----------
    kind, subject: what it is about; together they name one alert. A subject reads
        'piece:TAG', 'room:NAME', 'sensor:ID', 'pot:NAME' or 'follow-up:TAG',
        with '#...' behind it where one thing can have
        several (a coat, a gap).
    urgency: how soon a person should look.
    phase: where it stands.
    since_ms: when its condition began to hold [ms].
    reason: one line: what was found, with its numbers.
    next_action: one line: what to do next.
    raised_ms, seen_ms, cleared_ms: when it came to that phase [ms].
    rest_until_ms: when a resting alert speaks again [ms].
    seen_by: who took it.
    id: storage's number, 0 before it is stored.
    """

    kind: AlertKind
    subject: str
    urgency: Urgency
    phase: AlertPhase
    since_ms: int
    reason: str
    next_action: str
    raised_ms: int | None = None
    seen_ms: int | None = None
    seen_by: str = ""
    rest_until_ms: int | None = None
    cleared_ms: int | None = None
    id: int = 0

    @property
    def key(self) -> tuple[AlertKind, str]:
        """What makes it one alert and not another."""
        return (self.kind, self.subject)
