"""Replay: a room's record from a logger's file, a finish and its coats; what would we have said.

The same gate, merge, clocks and alert decisions as the daemon's, stepped minute by minute over
the record, without storage.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from curewatch.errors import BadInput
from curewatch.shop.alert import Alert, AlertPhase
from curewatch.shop.assessment import PieceNow, assess_piece
from curewatch.shop.climate import MINUTE_MS, merge
from curewatch.shop.finish import Figure, Finish
from curewatch.shop.gate import QualityGate
from curewatch.shop.hindcast import hindcast_room
from curewatch.shop.laws import cure_law
from curewatch.shop.piece import Coat, Piece, Stay
from curewatch.shop.plain import FORMAT, alert_plain, instant, piece_plain
from curewatch.shop.reading import Reading, Rejected, Standing
from curewatch.shop.room import Room, Sensor
from curewatch.shop.shop import Shop
from curewatch.shop.standings import replay_standings
from curewatch.shop.watch import Watch
from curewatch.shop.words import Words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.intake.csv_log import Log
    from curewatch.science.outlook import Hindcast
    from curewatch.shop.climate import Series
    from curewatch.shop.plain import Plain
    from curewatch.shop.reading import Quantity

ROOM, SENSOR, TAG = "room", "log", "piece"
COLDEST_C, HOTTEST_C = -40.0, 80.0  # what a sensor can say: limits that limit nothing


@dataclass(frozen=True, slots=True)
class Job:
    """What to replay.

    Attributes
    ----------
    log: the record.
    finish: the profile.
    coats: the coats, in order of time.
    air: the room's air.
    longest_gap_s: longest silence that is bridged [s], None for the default.
    until_ms: the moment to judge at [ms], None for the end of the record.
    words: how things are said.
    """

    log: Log
    finish: Finish
    coats: tuple[Coat, ...]
    air: str = "still"
    longest_gap_s: float | None = None
    until_ms: int | None = None
    words: Words = Words()  # noqa: RUF009 - frozen


@dataclass(frozen=True, slots=True)
class Replay:
    """What a replay found."""

    job: Job
    until_ms: int
    piece: PieceNow
    alerts: tuple[Alert, ...]
    rejected: tuple[Rejected, ...]

    def plain(self) -> Plain:
        """Return it as plain data."""
        piece = piece_plain(self.piece)
        return {
            "format": FORMAT,
            "finish": self.job.finish.name,
            "finish_revision": self.job.finish.revision,
            "until": instant(self.until_ms),
            "readings": int(self.job.log.times_ms.size),
            "rejected": len(self.rejected),
            "piece": piece,
            "milestones": piece["milestones"],
            "gaps": piece["gaps"],
            "coverage_pct": piece["coverage_pct"],
            "alerts": [alert_plain(alert) for alert in self.alerts],
            "standing": replay_standings(piece),
        }


def replay(job: Job) -> Replay:
    """Replay a job.

    Raises
    ------
    BadInput
        When there is no coat, or none before the moment to judge at.
    """
    if not job.coats:
        raise BadInput("no coat given: name at least one with --coat TIME")
    until_ms = int(job.log.times_ms[-1]) if job.until_ms is None else job.until_ms
    if job.coats[0].at_ms > until_ms:
        raise BadInput(
            f"the first coat ({instant(job.coats[0].at_ms)}) is after the end of the replay "
            f"({instant(until_ms)}): check the coat's time and the zone"
        )
    kept, rejected = gated(job.log.readings(SENSOR))
    shop = _shop(job, kept)
    piece = shop.pieces[TAG]
    alerts = _alerts(shop, min(int(job.log.times_ms[0]), job.coats[0].at_ms), until_ms)
    now = assess_piece(shop, piece, until_ms)
    return Replay(job, until_ms, now, alerts, rejected)


def gated(readings: Sequence[Reading]) -> tuple[list[Reading], tuple[Rejected, ...]]:
    """Return the readings that the quality gate keeps, and what it refused."""
    gate = QualityGate()
    answers = [answer for row in _rows(readings) for answer in gate.admit_all(row)]
    kept = [answer for answer in answers if isinstance(answer, Reading)]
    return kept, tuple(answer for answer in answers if isinstance(answer, Rejected))


def _rows(readings: Sequence[Reading]) -> list[list[Reading]]:
    """Group readings by instant, so that a pair is judged as one message."""
    rows: list[list[Reading]] = []
    for reading in readings:
        if rows and rows[-1][0].at_ms == reading.at_ms:
            rows[-1].append(reading)
        else:
            rows.append([reading])
    return rows


def _shop(job: Job, readings: Sequence[Reading]) -> Shop:
    room = Room(ROOM, air=job.air, longest_gap_s=job.longest_gap_s)
    piece = Piece(
        tag=TAG,
        finish=job.finish.name,
        finish_revision=job.finish.revision,
        coats=job.coats,
        stays=(Stay(ROOM, min(job.coats[0].at_ms, int(job.log.times_ms[0]))),),
        planned_coats=len(job.coats),
    )
    shop = Shop(
        rooms={ROOM: room},
        sensors=(Sensor(SENSOR, ROOM),),
        finishes={(job.finish.name, job.finish.revision): job.finish},
        pieces={TAG: piece},
        words=job.words,
    )
    series = _series(readings)
    if series:
        first = min(int(times[0]) for times, _ in series.values()) // MINUTE_MS
        gap_s = shop.longest_gap_s(ROOM)
        shop.book.splice(ROOM, merge(series, first_minute=first, longest_gap_s=gap_s))
        heard = np.unique(np.concatenate([times for times, _ in series.values()]))
        shop.heard_ms[SENSOR] = heard
        shop.began_ms = int(heard[0])
    return shop


def _series(readings: Sequence[Reading]) -> dict[tuple[str, Quantity], Series]:
    by_key: dict[tuple[str, Quantity], list[Reading]] = {}
    for reading in readings:
        by_key.setdefault((reading.sensor, reading.quantity), []).append(reading)
    return {
        key: (
            np.array([reading.at_ms for reading in mine], dtype=np.int64),
            np.array([reading.value for reading in mine], dtype=np.float64),
        )
        for key, mine in by_key.items()
    }


def _alerts(shop: Shop, start_ms: int, until_ms: int) -> tuple[Alert, ...]:
    """Step the watch over the record; return the alerts that were raised, as they ended."""
    watch = Watch(shop)
    told: dict[tuple[str, str, int], Alert] = {}
    for minute in range(start_ms // MINUTE_MS + 1, until_ms // MINUTE_MS + 1):
        for alert in watch.step(minute * MINUTE_MS):
            if alert.raised_ms is not None and alert.phase in (
                AlertPhase.RAISED,
                AlertPhase.CLEARED,
            ):
                told[alert.kind, alert.subject, alert.raised_ms] = alert
    return tuple(told.values())


def hindcasts(job: Job, horizons_h: Sequence[int]) -> tuple[Hindcast, ...]:
    """Return how well outlooks over these horizons [h] would have served, over the whole record.

    'How well do you know my room?': the finish's cure rate with its temperature limits lifted
    (a cold week would leave nothing to divide by), judged from what lay before each outlook alone.
    """
    law = cure_law(job.finish)
    if law is None:
        raise BadInput(f"{job.finish.name} has no cure clock: there is nothing to look ahead for")
    kept, _ = gated(job.log.readings(SENSOR))
    track = _shop(job, kept).book.climates.get(ROOM)
    if track is None:
        raise BadInput("the record holds no reading that could be kept")
    return hindcast_room(track, law, horizons_h=horizons_h)


def without_limits(finish: Finish) -> Finish:
    """Return the finish with the temperature limits of its cure clock lifted."""
    if finish.cure is None:
        return finish
    lifted = Figure(COLDEST_C, Standing.PHYSICS, source="lifted")
    cure = replace(
        finish.cure, lower_limit_c=lifted, upper_limit_c=replace(lifted, value=HOTTEST_C)
    )
    return replace(finish, cure=cure)


CLOCK_LAW_KEYS = (
    "ea_kj_mol",
    "humidity_exponent",
    "reference_temp_c",
    "reference_rh_pct",
    "ea_se_kj_mol",
)


def with_clock_law(finish: Finish, text: str) -> Finish:
    """Return the finish with another cure law, and its temperature limits lifted.

    Parameters
    ----------
    finish : Finish
        The profile.
    text : str
        'ea_kj_mol=55,humidity_exponent=0.3,reference_temp_c=21,reference_rh_pct=50'; what is left
        out stays as the profile has it, except that no standard error is assumed for a given Ea.

    Raises
    ------
    BadInput
        A key is not known, a value is no number, or the finish has no cure clock.
    """
    given = _numbers(text)
    base = finish.cure
    if base is None:
        raise BadInput(f"{finish.name} has no cure clock that a law could replace")

    def figure(key: str, standing: Figure) -> Figure:
        if key not in given:
            return standing
        return Figure(given[key], Standing.DATA_SHEET, source="given on the command line")

    ea = figure("ea_kj_mol", base.ea_kj_mol)
    if "ea_se_kj_mol" in given:
        half = given["ea_se_kj_mol"] * 3.0**0.5  # a band of this half-width has that error
        ea = replace(ea, low=ea.value - half, high=ea.value + half)
    law = replace(
        base,
        ea_kj_mol=ea,
        humidity_exponent=figure("humidity_exponent", base.humidity_exponent),
        reference_temp_c=figure("reference_temp_c", base.reference_temp_c),
        reference_rh_pct=figure("reference_rh_pct", base.reference_rh_pct),
    )
    return without_limits(replace(finish, cure=law))


def _numbers(text: str) -> dict[str, float]:
    given: dict[str, float] = {}
    for part in filter(None, text.split(",")):
        key, _, value = (side.strip() for side in part.partition("="))
        if key not in CLOCK_LAW_KEYS:
            raise BadInput(f"{key!r} is not part of a clock law: use {', '.join(CLOCK_LAW_KEYS)}")
        try:
            given[key] = float(value)
        except ValueError:
            raise BadInput(f"{key} = {value!r} is not a number") from None
    return given
