"""For other programs that watch this one: /metrics in OpenMetrics text, /health as plain JSON.

Both are read from this computer itself, or where anyone may look; from elsewhere the passphrase
is given as HTTP basic authentication (any name), for a scraper keeps no cookie.
"""

from __future__ import annotations

import base64
import binascii
import time
from collections import Counter as Tally
from typing import TYPE_CHECKING, Final

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, PlainTextResponse, Response

from curewatch import __version__
from curewatch.errors import StorageError
from curewatch.outbound.metrics import CONTENT_TYPE, DaemonNow, MirrorLag, exposition
from curewatch.shop.assessment import Assessment, assess_piece, assess_room
from curewatch.web.access import NotAllowed, WaitFirst
from curewatch.web.names import host_of, is_loopback
from curewatch.web.room import Room

if TYPE_CHECKING:
    from curewatch.shop.assessment import PieceNow, RoomNow
    from curewatch.shop.plain import Plain
    from curewatch.shop.reading import RejectReason
    from curewatch.web.desk import Counter

PATIENCE_S = 5.0  # scrapers wait ten seconds by custom
FORMAT = 1
MOST_COUNTED = 100_000  # rows of a mirror far behind: a scrape must not hold the daemon up
JUDGED_AT_ONCE = 50  # pieces in one scrape
ROOMS_AT_ONCE = 20  # rooms in one scrape
PASSED_ON = ("forwarded", "x-forwarded-for", "x-real-ip", "via")
WELL, ASK_WHO, TOO_OFTEN, UNWELL = 200, 401, 429, 503

health_router: Final = APIRouter()
metrics_router: Final = APIRouter()


@health_router.get("/health", include_in_schema=False)
def health(request: Request) -> Response:
    """Tell whether the daemon does its work: 200 where it does, 503 where not."""
    room: Room = request.app.state.room
    refusal = _refusal(room, request)
    if refusal is not None:
        return refusal
    try:
        facts = room.desk.ask(_health, patience_s=PATIENCE_S)
    except StorageError as error:
        facts = {"format": FORMAT, "well": False, "daemon_alive": False, "why": str(error)}
    return JSONResponse(facts, WELL if facts["well"] else UNWELL)


@metrics_router.get("/metrics", include_in_schema=False)
def metrics(request: Request) -> Response:
    """Tell the shop to a scraper."""
    room: Room = request.app.state.room
    refusal = _refusal(room, request)
    if refusal is not None:
        return refusal
    judged: LastJudged = request.app.state.judged
    try:
        text = room.desk.ask(lambda counter: _metrics(counter, judged), patience_s=PATIENCE_S)
    except StorageError as error:
        return PlainTextResponse(f"{error}\n", UNWELL)
    return Response(text, media_type=CONTENT_TYPE)


def _health(counter: Counter) -> Plain:
    storage_ok = not counter.storage_fails
    return {
        "format": FORMAT,
        "well": counter.clock_set and counter.broker_connected and storage_ok,
        "daemon_alive": True,
        "clock_set": counter.clock_set,
        "broker_connected": counter.broker_connected,
        "storage_ok": storage_ok,
        "newest_reading_age_s": _reading_age_s(counter),
    }


class LastJudged:
    """Rooms and pieces as they were judged last; in a full shop some anew at each scrape.

    Used in the daemon's thread alone, which must not be held up by whoever scrapes.
    """

    def __init__(self) -> None:
        """Begin with nothing."""
        self._rooms: dict[str, RoomNow] = {}
        self._waits: dict[str, int] = {}  # when each room was judged last [ms]
        self._pieces: dict[str, tuple[int, PieceNow]] = {}
        self._looked: dict[str, PieceNow] = {}  # as the watch had seen them by then

    def assessment(self, counter: Counter) -> Assessment:
        """Return the shop: its rooms and pieces as they are known."""
        return Assessment(
            at_ms=counter.now_ms, rooms=self._told_rooms(counter), pieces=self._told_pieces(counter)
        )

    def _told_rooms(self, counter: Counter) -> tuple[RoomNow, ...]:
        names = list(counter.shop.rooms)
        for name in sorted(names, key=lambda one: self._waits.get(one, -1))[:ROOMS_AT_ONCE]:
            self._rooms[name] = assess_room(counter.shop, name, counter.now_ms)
            self._waits[name] = counter.now_ms
        return tuple(self._rooms[name] for name in names if name in self._rooms)

    def _told_pieces(self, counter: Counter) -> tuple[PieceNow, ...]:
        now_ms = counter.now_ms
        hanging = {
            tag: piece
            for tag, piece in counter.shop.pieces.items()
            if piece.left_ms is None or piece.left_ms > now_ms
        }
        looked = {tag: now for tag, now in counter.watch.pieces_now.items() if tag in hanging}
        for tag, now in looked.items():
            if now is not self._looked.get(tag):
                self._pieces[tag] = (self._pieces.get(tag, (0, now))[0], now)
        self._looked = looked
        self._pieces = {tag: known for tag, known in self._pieces.items() if tag in hanging}
        longest_ago = sorted(hanging, key=lambda tag: self._pieces.get(tag, (-1, None))[0])
        for tag in longest_ago[:JUDGED_AT_ONCE]:
            self._pieces[tag] = (now_ms, assess_piece(counter.shop, hanging[tag], now_ms))
        return tuple(self._pieces[tag][1] for tag in hanging if tag in self._pieces)


def _metrics(counter: Counter, judged: LastJudged) -> bytes:
    return exposition(judged.assessment(counter) if counter.clock_set else None, _daemon(counter))


def _daemon(counter: Counter) -> DaemonNow:
    """Return the daemon's own figures, of the sensors that are configured."""
    sensors = {sensor.id for sensor in counter.shop.sensors}
    refused: Tally[tuple[str, RejectReason]] = Tally()
    for one in counter.store.rejections.summary():
        if one.sensor in sensors:
            refused[one.sensor, one.reason] += one.count
    return DaemonNow(
        version=__version__,
        clock_set=counter.clock_set,
        broker_connected=counter.broker_connected,
        round_age_s=None
        if counter.round_ended_s is None
        else time.monotonic() - counter.round_ended_s,
        reading_age_s=_reading_age_s(counter),
        kept={s: n for s, n in counter.store.readings.counts().items() if s in sensors},
        refused=refused,
        alerts=Tally(alert.phase for alert in counter.store.alerts.active()),
        mirror=_lag(counter),
    )


def _lag(counter: Counter) -> MirrorLag | None:
    """Return how far the mirror is behind; None where none is configured."""
    if counter.settings.influx.url is None:
        return None
    behind = counter.store.mirror_marks.behind(most=MOST_COUNTED)
    age_ms = 0 if behind.oldest_ms is None else max(counter.now_ms - behind.oldest_ms, 0)
    failing = behind.last_error is not None
    return MirrorLag(behind.rows, age_ms / 1000.0, failing=failing, parked=behind.parked)


def _reading_age_s(counter: Counter) -> float | None:
    """Return how old the newest reading is [s]; None where there is none, or no clock."""
    newest_ms = counter.store.readings.newest_ms()
    if newest_ms is None or not counter.clock_set:
        return None
    return max(counter.now_ms - newest_ms, 0) / 1000.0


def _refusal(room: Room, request: Request) -> Response | None:
    """Return why somebody may not look, None where they may."""
    if _comes_from_here(request):
        return None
    try:
        passphrase = _passphrase(request.headers.get("authorization", ""))
        if passphrase is None:
            room.reader(request)
        else:
            room.access.prove(passphrase, address=_address(request))
    except NotAllowed:
        return PlainTextResponse(
            "The shop's passphrase is needed, as HTTP basic authentication.\n",
            ASK_WHO,
            {"WWW-Authenticate": 'Basic realm="curewatch", charset="UTF-8"'},
        )
    except WaitFirst as error:
        wait = {"Retry-After": str(round(error.seconds) + 1)}
        return PlainTextResponse("Too many wrong passphrases: wait.\n", TOO_OFTEN, wait)
    except StorageError as error:
        return PlainTextResponse(f"{error}\n", UNWELL)
    return None


def _comes_from_here(request: Request) -> bool:
    """Whether a program on this computer asks, and not a proxy on it for somebody else."""
    return (
        is_loopback(_address(request))
        and is_loopback(host_of(request.headers.get("host", "")))
        and not any(name in request.headers for name in PASSED_ON)
    )


def _address(request: Request) -> str:
    return "" if request.client is None else request.client.host


def _passphrase(header: str) -> str | None:
    """Return the passphrase of a basic authentication header (RFC 7617); None without one."""
    kind, _, code = header.partition(" ")
    if kind.lower() != "basic":
        return None
    try:
        return base64.b64decode(code, validate=True).decode().partition(":")[2]
    except (binascii.Error, UnicodeDecodeError):
        return ""
