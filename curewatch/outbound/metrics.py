"""What scrapers read: the shop as it stands, in OpenMetrics text.

Families and labels are a contract (docs/metrics.md). What is not known has no sample, for nought
would be a lie; what pieces say is bounded by the pieces that hang in the shop.

References
----------
Prometheus authors, OpenMetrics 1.0, 2020: text format, state sets, info and counters.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from prometheus_client.core import (
    CounterMetricFamily,
    GaugeMetricFamily,
    InfoMetricFamily,
    StateSetMetricFamily,
)
from prometheus_client.openmetrics.exposition import CONTENT_TYPE_LATEST, generate_latest

from curewatch.shop.alert import AlertPhase
from curewatch.shop.spray_terms import Verdict
from curewatch.shop.window import WindowState

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from prometheus_client.core import Metric

    from curewatch.shop.assessment import Assessment, PieceNow, RoomNow
    from curewatch.shop.reading import RejectReason

CONTENT_TYPE = CONTENT_TYPE_LATEST
LIVE_PHASES = tuple(phase for phase in AlertPhase if phase is not AlertPhase.CLEARED)


@dataclass(frozen=True, slots=True)
class MirrorLag:
    """How far a mirror is behind: rows and seconds [s], whether it fails, rows refused for good."""

    rows: int
    seconds: float
    failing: bool = False
    parked: int = 0


@dataclass(frozen=True, slots=True)
class DaemonNow:
    """The daemon as a scraper sees it.

    Attributes
    ----------
    version: of the program.
    clock_set, broker_connected: whether they are.
    round_age_s: since the daemon's thread last ended a round [s]; None before the first.
    reading_age_s: of the newest reading whose time is known [s]; None where there is none.
    kept: readings ever taken in, by sensor.
    refused: what was refused, by sensor and reason.
    alerts: how many stand, by phase.
    mirror: how far the mirror is behind; None where none is configured.
    """

    version: str
    clock_set: bool
    broker_connected: bool
    round_age_s: float | None
    reading_age_s: float | None
    kept: Mapping[str, int]
    refused: Mapping[tuple[str, RejectReason], int]
    alerts: Mapping[AlertPhase, int]
    mirror: MirrorLag | None = None


def exposition(assessment: Assessment | None, daemon: DaemonNow) -> bytes:
    """Return the whole answer; `assessment` is None while no clock says what holds now."""
    text: bytes = generate_latest(_Shop(assessment, daemon))  # type: ignore[no-untyped-call]
    return text


class _Shop:
    """Stands where the client library expects a registry, and keeps nothing between scrapes."""

    def __init__(self, assessment: Assessment | None, daemon: DaemonNow) -> None:
        self._assessment = assessment
        self._daemon = daemon

    def collect(self) -> Iterator[Metric]:
        """Yield every family that has something to say."""
        if self._assessment is not None:
            yield from room_families(self._assessment.rooms)
            yield from piece_families(self._assessment.pieces)
        yield from daemon_families(self._daemon)


def room_families(rooms: Iterable[RoomNow]) -> Iterator[Metric]:
    """Yield what is told of rooms; a climate too old to decide anything is left out."""
    rooms = tuple(rooms)
    temp = _gauge("room_temperature", "Air temperature.", ("room",), "celsius")
    humidity = _gauge("room_relative_humidity", "Relative humidity, 0 to 1.", ("room",), "ratio")
    dew = _gauge("room_dew_point", "Dew point of the air.", ("room",), "celsius")
    surface = _gauge("room_surface_temperature", "Surface temperature.", ("room",), "celsius")
    fresh = _gauge("room_fresh", "1 where the climate is young enough to decide by.", ("room",))
    coverage = _gauge(
        "room_coverage", "Share of the last 24 h that readings bridge, 0 to 1.", ("room",), "ratio"
    )
    spray = StateSetMetricFamily(
        "curewatch_room_spray", "Spray verdict for each finish in use.", labels=("room", "finish")
    )
    for room in rooms:
        where = [room.name]
        climate = room.climate if room.fresh else None
        if climate is not None:
            _add(temp, where, climate.temp_c)
            _add(humidity, where, climate.rh_frac)
            _add(surface, where, climate.surface_c)
            _add(dew, where, room.dew_point_c)
        _add(fresh, where, float(room.fresh))
        _add(coverage, where, room.coverage_24h_pct / 100.0)
        for answer in room.sprays:
            spray.add_metric(
                [room.name, answer.now.finish], {v.value: v is answer.verdict for v in Verdict}
            )
    yield from (temp, humidity, dew, surface, fresh, coverage, spray)


def piece_families(pieces: Iterable[PieceNow]) -> Iterator[Metric]:
    """Yield what is told of the pieces that hang in the shop."""
    info = InfoMetricFamily("curewatch_piece", "A piece that hangs in the shop.", labels=("piece",))
    hours = _gauge(
        "piece_effective", "Effective hours since the last coat.", ("piece", "clock"), "hours"
    )
    error = _gauge("piece_effective_error", "Their standard error.", ("piece", "clock"), "hours")
    reached = _gauge(
        "piece_milestone_reached",
        "1 where the milestone is reached at its cautious end.",
        ("piece", "milestone"),
    )
    sink = _gauge(
        "piece_sink_back_remaining", "Shrinkage still to come.", ("piece",), "micrometers"
    )
    window = StateSetMetricFamily(
        "curewatch_piece_recoat_window", "Where it stands to be recoated.", labels=("piece",)
    )
    for piece in pieces:
        info.add_metric(
            [piece.tag],
            {
                "finish": piece.finish,
                "revision": str(piece.finish_revision),
                "room": piece.room or "",
            },
        )
        for clock, reading in piece.clocks.items():
            _add(hours, [piece.tag, clock.value], reading.effective_hours)
            _add(error, [piece.tag, clock.value], reading.standard_error)
        for stone in piece.milestones:
            if stone.required_hours is not None:
                _add(reached, [piece.tag, stone.name.value], float(stone.cautious_at is not None))
        if piece.sink_back is not None:
            _add(sink, [piece.tag], piece.sink_back.remaining_um)
        if piece.window is not None:
            window.add_metric(
                [piece.tag], {state.value: state is piece.window.state for state in WindowState}
            )
    yield from (info, hours, error, reached, sink, window)


def daemon_families(daemon: DaemonNow) -> Iterator[Metric]:
    """Yield what is told of the daemon itself."""
    build = InfoMetricFamily("curewatch_build", "The program that answers.")
    build.add_metric([], {"version": daemon.version})
    kept = CounterMetricFamily(
        "curewatch_readings_kept", "Readings ever taken in.", labels=("sensor",)
    )
    for sensor, count in sorted(daemon.kept.items()):
        kept.add_metric([sensor], count)
    refused = CounterMetricFamily(
        "curewatch_readings_refused", "Messages and values refused.", labels=("sensor", "reason")
    )
    for (sensor, reason), count in sorted(daemon.refused.items()):
        refused.add_metric([sensor, reason.value], count)
    alerts = _gauge("alerts", "Alerts that stand.", ("phase",))
    for phase in LIVE_PHASES:
        _add(alerts, [phase.value], float(daemon.alerts.get(phase, 0)))
    parked = CounterMetricFamily("curewatch_mirror_parked", "Rows the mirror's server refused.")
    lag = daemon.mirror
    if lag is not None:
        parked.add_metric([], lag.parked)
    yield from (build, kept, refused, alerts, parked)
    for name, text, unit, value in (
        ("clock_set", "1 where the clock can be believed.", "", float(daemon.clock_set)),
        ("broker_connected", "1 while subscribed.", "", float(daemon.broker_connected)),
        ("round_age", "Since the last round ended.", "seconds", daemon.round_age_s),
        ("newest_reading_age", "Age of the newest reading.", "seconds", daemon.reading_age_s),
        ("mirror_behind_rows", "Rows not mirrored yet.", "", None if lag is None else lag.rows),
        ("mirror_behind", "Age of the oldest.", "seconds", None if lag is None else lag.seconds),
        (
            "mirror_failing",
            "1 after a failed try.",
            "",
            None if lag is None else float(lag.failing),
        ),
    ):
        one = _gauge(name, text, (), unit)
        _add(one, [], value)
        yield one


def _gauge(name: str, text: str, labels: tuple[str, ...], unit: str = "") -> GaugeMetricFamily:
    whole = f"curewatch_{name}_{unit}" if unit else f"curewatch_{name}"
    return GaugeMetricFamily(whole, text, labels=labels, unit=unit)


def _add(family: GaugeMetricFamily, labels: list[str], value: float | None) -> None:
    """Add a sample where there is something to say."""
    if value is not None:
        family.add_metric(labels, value)
