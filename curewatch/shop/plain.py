"""The assessment as plain data, the same on every face: commands, MQTT, exports, later the page.

Instants are ISO 8601 in UTC, temperatures degC, humidity percent, hours decimal. Keys end in
their unit. `None` means not known, never nought.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.ahead import Eta
from curewatch.shop.instants import instant
from curewatch.shop.plain_check import spray_plain
from curewatch.shop.standings import piece_standings, room_standings, sensor_standings
from curewatch.shop.wood_history import LIMIT_POINTS

if TYPE_CHECKING:
    from curewatch.shop.alert import Alert
    from curewatch.shop.assessment import Assessment, PieceNow, RoomNow, SensorNow
    from curewatch.shop.deeds import Deed
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.piece_clocks import ClockReading
    from curewatch.shop.sink import SinkBack
    from curewatch.shop.window import RecoatWindow
    from curewatch.shop.wood_history import WoodNow

    Plain = dict[str, "PlainValue"]
    PlainValue = str | int | float | bool | None | list["PlainValue"] | dict[str, "PlainValue"]

__all__ = [
    "FORMAT",
    "alert_plain",
    "assessment_plain",
    "clock_plain",
    "deed_plain",
    "eta_basis",
    "eta_plain",
    "instant",
    "milestone_plain",
    "piece_plain",
    "room_plain",
    "sensor_plain",
    "sink_back_plain",
    "window_plain",
    "wood_plain",
]

FORMAT = 1  # of these shapes; raised when a key changes its meaning
ETA_BASIS = "the room's own outlook: its last day and week, its daily shape, its past errors"


def assessment_plain(now: Assessment) -> Plain:
    """Return the whole shop."""
    return {
        "format": FORMAT,
        "at": instant(now.at_ms),
        "rooms": [room_plain(room) for room in now.rooms],
        "pieces": [piece_plain(piece) for piece in now.pieces],
    }


def room_plain(room: RoomNow) -> Plain:
    """Return a room."""
    climate = room.climate
    rh = None if climate is None else climate.rh_frac
    return {
        "room": room.name,
        "air": room.air,
        "air_moves": {
            "speed_m_s": room.moving.speed_m_s,
            "source": str(room.moving.source),
            "heard_at": instant(room.moving.heard_ms),
            "unheard": room.moving.unheard,
        },
        "climate_at": None if climate is None else instant(climate.at_ms),
        "fresh": room.fresh,
        "temp_c": None if climate is None else climate.temp_c,
        "rh_pct": None if rh is None else rh * 100.0,
        "surface_c": None if climate is None else climate.surface_c,
        "dew_point_c": room.dew_point_c,
        "surface_over_dew_k": room.surface_over_dew_k,
        "wood_emc_pct": room.wood_emc_pct,
        "coverage_24h_pct": room.coverage_24h_pct,
        "spray": [spray_plain(answer) for answer in room.sprays],
        "sensors": [sensor_plain(sensor) for sensor in room.sensors],
        "standing": room_standings(moved=room.moving.source),
    }


def sensor_plain(sensor: SensorNow) -> Plain:
    """Return a sensor."""
    return {
        "sensor": sensor.id,
        "room": sensor.room,
        "last_heard_at": instant(sensor.last_heard_at),
        "temp_c": sensor.temp_c,
        "rh_pct": None if sensor.rh_frac is None else sensor.rh_frac * 100.0,
        "surface_c": sensor.surface_c,
        "frozen_since": instant(sensor.frozen_since),
        "rejected": [
            {
                "reason": str(row.reason),
                "count": row.count,
                "last_at": instant(row.last_ms),
                "detail": row.detail,
            }
            for row in sensor.refused
        ],
        "standing": sensor_standings(),
    }


def piece_plain(piece: PieceNow) -> Plain:
    """Return a piece."""
    return {
        "piece": piece.tag,
        "title": piece.title,
        "finish": piece.finish,
        "finish_revision": piece.finish_revision,
        "room": piece.room,
        "coats": piece.coats,
        "planned_coats": piece.planned_coats,
        "coating_done": piece.coating_done,
        "last_coat_at": instant(piece.last_coat_at),
        "wet": piece.wet,
        "young": piece.young,
        "chilled_young_hours": piece.chilled_h,
        "sentence": piece.sentence,
        "next_action": piece.next_action,
        "next_at": instant(piece.next_at),
        "clocks": {str(name): clock_plain(clock) for name, clock in piece.clocks.items()},
        "milestones": [milestone_plain(stone) for stone in piece.milestones],
        "window": None if piece.window is None else window_plain(piece.window),
        "parts": [*piece.parts],
        "part_of": piece.part_of,
        "held_back_by": piece.held_back_by,
        "held": piece.held,
        "gaps": [{"start": instant(start), "stop": instant(stop)} for start, stop in piece.gaps],
        "coverage_pct": piece.coverage_pct,
        "fills": [{"id": fill.id, "room": fill.room, "why": fill.why} for fill in piece.fills],
        "deeds": [deed_plain(deed) for deed in piece.deeds],
        "sink_back": None if piece.sink_back is None else sink_back_plain(piece.sink_back),
        "wood": None if piece.wood is None else wood_plain(piece.wood),
        "eta_basis": eta_basis(piece),
        "standing": piece_standings(piece),
    }


def eta_basis(piece: PieceNow) -> str:
    """Return what a piece's times ahead rest on."""
    planned = any(stone.planned for stone in piece.milestones)
    return f"{ETA_BASIS}, and what was planned for it" if planned else ETA_BASIS


def eta_plain(eta: Eta | None) -> Plain:
    """Return an instant's early, likely and late end; what is not told is None within."""
    ends = Eta(None, None, None) if eta is None else eta
    return {
        "early": instant(ends.early),
        "likely": instant(ends.likely),
        "late": instant(ends.late),
    }


def clock_plain(clock: ClockReading) -> Plain:
    """Return a clock, counted from the last coat."""
    shares = clock.shares
    return {
        "effective_hours": clock.effective_hours,
        "standard_error": clock.standard_error,
        "shares_h": None
        if shares is None
        else {"temp": shares.temp, "rh": shares.rh, "ea": shares.ea, "air": shares.air},
        "covered_hours": clock.covered_h,
        "filled_hours": clock.filled_h,
        "extrapolated_hours": clock.beyond_h,
        "mean_rate_24h": clock.mean_rate,
    }


def milestone_plain(stone: Milestone) -> Plain:
    """Return a milestone."""
    return {
        "name": str(stone.name),
        "clock": str(stone.clock),
        "required_hours": stone.required_hours,
        "reached_hours": stone.reached_hours,
        "reached_at": instant(stone.reached_at),
        "cautious_at": instant(stone.cautious_at),
        "eta": eta_plain(stone.eta),
        "expected_at": instant(stone.eta_at),
        "expected_cautious_at": instant(stone.eta_cautious_at),
        "cautious_hours": stone.cautious_hours,
        "late_hours": stone.late_hours,
    }


def sink_back_plain(film: SinkBack) -> Plain:
    """Return a piece's sink-back."""
    return {
        "remaining_um": film.remaining_um,
        "tolerance_um": film.tolerance_um,
        "under_tolerance_h": film.under_tolerance_h,
        "under_tolerance_at": instant(film.under_tolerance_at),
        "expected_at": instant(film.expected_at),
        "lost_if_buffed_now_um": film.lost_if_buffed_now_um,
        "standing": str(film.standing),
        "decides": film.decides,
        "sentence": film.sentence,
    }


def wood_plain(wood: WoodNow) -> Plain:
    """Return a piece's wood."""
    return {
        "judged_at": instant(wood.judged_at),
        "known": wood.known,
        "room_emc_pct": wood.room_emc_pct,
        "before_emc_pct": wood.before_emc_pct,
        "before_coverage_pct": wood.before_coverage_pct,
        "coverage_pct": wood.coverage_pct,
        "at_first_coat_pct": wood.at_first_coat_pct,
        "at_last_coat_pct": wood.at_last_coat_pct,
        "now_pct": wood.now_pct,
        "since_first_coat_points": wood.since_first_coat_points,
        "drift_points": wood.drift_points,
        "limit_points": LIMIT_POINTS,
        "settles_h": wood.settles_h,
        "settles_early_h": wood.settles_early_h,
        "settles_late_h": wood.settles_late_h,
        "sentence": wood.sentence,
    }


def window_plain(window: RecoatWindow) -> Plain:
    """Return a recoat window."""
    return {
        "state": str(window.state),
        "opens_at": instant(window.opens_at),
        "closes_at": instant(window.closes_at),
        "reopens_at": instant(window.reopens_at),
        "sentence": window.sentence,
        "next_action": window.next_action,
    }


def deed_plain(deed: Deed) -> Plain:
    """Return a coat or work that came out of its time."""
    return {
        "kind": str(deed.kind),
        "at": instant(deed.at_ms),
        "reason": deed.reason,
        "next_action": deed.next_action,
    }


def alert_plain(alert: Alert) -> Plain:
    """Return an alert."""
    return {
        "id": alert.id,
        "kind": str(alert.kind),
        "subject": alert.subject,
        "urgency": str(alert.urgency),
        "phase": str(alert.phase),
        "reason": alert.reason,
        "next_action": alert.next_action,
        "since": instant(alert.since_ms),
        "raised_at": instant(alert.raised_ms),
        "seen_at": instant(alert.seen_ms),
        "seen_by": alert.seen_by,
        "rest_until": instant(alert.rest_until_ms),
        "cleared_at": instant(alert.cleared_ms),
    }
