"""The shop as it stands: the bench list, the rooms, open alerts, and whether anyone is watching.

The bench list is in order of need: what must be recoated before a time comes first, then what is
ready, then what waits, by date. It says the same as everything else here says; nothing of it is
worked out twice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.alert import STANDING, no_alert, tell_alert
from curewatch.cli.bench import Bench, bench
from curewatch.cli.mirror import mirror_plain
from curewatch.cli.show import print_json, say
from curewatch.cli.why import add_why, print_why
from curewatch.clock import ClockTrust, SystemClock
from curewatch.keeping import resumed_gate
from curewatch.shop.assessment import Assessment, PieceNow, RoomNow, assess
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.plain import alert_plain, assessment_plain, instant
from curewatch.shop.standings_told import counts_standings
from curewatch.shop.window import WindowState
from curewatch.shop.words import counted, percent, span
from curewatch.storage.lock import daemon_of

if TYPE_CHECKING:
    import argparse

    from curewatch.shop.alert import Alert
    from curewatch.shop.plain import Plain
    from curewatch.storage.outbox import Pending

FIRST, READY, WAITING, UNDATED, HELD = range(5)
HEADINGS = {
    FIRST: "Recoat before the window closes",
    READY: "Ready",
    WAITING: "Waiting",
    UNDATED: "No date can be told",
    HELD: "Set aside",
}
TRUST = {
    ClockTrust.SET: "the system clock is set",
    ClockTrust.NOT_SET: "the system clock is NOT set: nothing is raised until it is",
    ClockTrust.UNKNOWN: "whether the system clock is set cannot be known; it is plausible",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take whether to say where the numbers come from."""
    add_why(parser)


def run(args: argparse.Namespace) -> int:
    """Assess the shop and print it."""
    with bench(args) as opened:
        now = assessed(opened)
        alerts = [a for a in opened.store.alerts.active() if a.phase in STANDING]
        pending = opened.store.notices.pending()
        process = daemon_of(opened.settings.storage.path)
        trust = clock_trust(opened)
        if args.json:
            watching = {"running": process is not None, "process": process}
            print_json(
                {
                    **assessment_plain(now),
                    "site": opened.settings.site.name,
                    "bench_list": [piece.tag for piece in bench_list(now)],
                    "alerts": [alert_plain(alert) for alert in alerts],
                    "notices": _pending_plain(pending),
                    "daemon": {**watching, "clock": trust},
                    "mirror": mirror_plain(opened),
                    "standing": counts_standings("alerts", "notices", "daemon"),
                }
            )
        else:
            _tell(opened, now, alerts, watched=process is not None)
            _tell_watching(opened, pending, process, trust)
            if args.why:
                print_why(assessment_plain(now))
    return 0


def assessed(opened: Bench) -> Assessment:
    """Return the assessment of the whole shop, sensors that are stuck included."""
    shop = opened.shop()
    gate = resumed_gate(opened.store)
    for sensor in shop.sensors:
        since = gate.frozen_since_ms(sensor.id)
        if since is not None:
            shop.frozen_since[sensor.id] = since
    return assess(shop, opened.now_ms)


def clock_trust(opened: Bench) -> ClockTrust:
    """Return whether the system clock can be believed, compared with what is stored."""
    if opened.settings.clock.source == "readings":
        return SystemClock().trust()  # a record from elsewhere says nothing of this clock
    return SystemClock(newest_stored_ms=opened.store.readings.newest_ms()).trust()


def bench_list(now: Assessment) -> list[PieceNow]:
    """Return the pieces in order of need."""
    return sorted(now.pieces, key=lambda piece: need(piece, now.at_ms))


def need(piece: PieceNow, now_ms: int) -> tuple[int, int, str]:
    """Return where a piece stands on the bench list: its group, its instant [ms], its tag."""
    if piece.held is not None:  # its clocks go on, but nothing is done on it
        return (HELD, 0, piece.tag)
    window = piece.window
    open_now = (WindowState.OPEN, WindowState.CLOSING)
    if window is not None and not piece.coating_done and window.state in open_now:
        if window.closes_at is not None:
            return (FIRST, window.closes_at, piece.tag)
        return (READY, window.opens_at or now_ms, piece.tag)
    if piece.next_at is None:
        return (UNDATED, piece.last_coat_at or 0, piece.tag)
    return (READY if piece.next_at <= now_ms else WAITING, piece.next_at, piece.tag)


def _tell(opened: Bench, now: Assessment, alerts: list[Alert], *, watched: bool) -> None:
    words, at_ms = opened.words, now.at_ms
    say(f"{opened.settings.site.name}, {words.local(at_ms):%a %d %b %Y} {words.local(at_ms):%H:%M}")
    group = None
    for piece in bench_list(now):
        if (mine := need(piece, at_ms)[0]) != group:
            group = mine
            say()
            say(f"{HEADINGS[mine].upper()}")
        _tell_piece(piece)
    if not now.pieces:
        say()
        say("No piece hangs in the shop: curewatch piece hang TAG --finish NAME --room ROOM")
    say()
    say("ROOMS")
    for room in now.rooms:
        _tell_room(room, opened)
    if not now.rooms:
        say("No room is configured.")
    say()
    say("ALERTS")
    for alert in alerts:
        tell_alert(alert, opened)
    if not alerts:
        say(no_alert(watched=watched))


def _tell_piece(piece: PieceNow) -> None:
    title = f", {piece.title}" if piece.title else ""
    coats = counted(piece.coats, "coat")
    if piece.planned_coats is not None:
        coats = f"{piece.coats} of {counted(piece.planned_coats, 'coat')}"
    say(f"{piece.tag}{title}: {coats} of {piece.finish}, {piece.room or 'no room said'}")
    say(piece.sentence, indent=4)
    say(f"Next: {piece.next_action}", indent=4)


def _tell_room(room: RoomNow, opened: Bench) -> None:
    words, climate = opened.words, room.climate
    if climate is None:
        why = room.unmeasured or "no sensor was ever heard"
        say(f"{room.name}: {why}. Cannot tell whether to spray.")
        return
    known = [
        None if climate.temp_c is None else words.temp(climate.temp_c),
        None if climate.rh_frac is None else percent(climate.rh_frac),
        None if room.dew_point_c is None else f"dew point {words.temp(room.dew_point_c)}",
        "surface not measured"
        if climate.surface_c is None
        else f"surface {words.temp(climate.surface_c)}",
    ]
    age = span((opened.now_ms - climate.at_ms) / MS_PER_H)
    say(f"{room.name}: {', '.join(part for part in known if part)}, {age} ago.")
    if room.unmeasured:
        say(f"Cannot tell: {room.unmeasured}.", indent=4)
        return
    if not room.fresh:
        when = words.at(climate.at_ms, opened.now_ms)
        say(f"Too old to decide anything: last heard {when}. Cannot tell.", indent=4)
        return
    for answer in room.sprays:
        say(f"{answer.now.finish}: {answer.sentence}.", indent=4)


def _tell_watching(opened: Bench, pending: Pending, process: str | None, trust: ClockTrust) -> None:
    say()
    if process is None:
        say("The daemon is NOT running: nothing is kept and nobody is told. curewatch run")
    else:
        say(f"The daemon is running (process {process}).")
    if opened.settings.clock.source == "readings":
        say("Now is the newest reading's time (clock.source = readings).")
    else:
        say(f"Clock: {TRUST[trust]}.")
    if pending.waiting or pending.failing or pending.given_up:
        say(
            f"Notices: {pending.waiting} to be sent, {pending.failing} tried in vain and to be "
            f"tried again, {pending.given_up} given up."
        )
    say("curewatch advises; the label, the data sheet and the local code come first.")


def _pending_plain(pending: Pending) -> Plain:
    return {
        "waiting": pending.waiting,
        "failing": pending.failing,
        "given_up": pending.given_up,
        "oldest_at": instant(pending.oldest_ms),
    }
