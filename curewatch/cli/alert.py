"""Alerts: which stand, which someone has taken, which rest, and what went before.

`seen` says that someone has it: it is not told again. `rest` puts it aside until a time; if it is
still true then, it is told again. A running daemon notices both within seconds.
"""

from __future__ import annotations

import getpass
import re
from argparse import SUPPRESS
from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.bench import Bench, bench
from curewatch.cli.figures import whole
from curewatch.cli.show import print_json, say
from curewatch.entries.alerts import put_to_rest, take_on
from curewatch.errors import BadInput
from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.alert_words import heading, subject_said
from curewatch.shop.plain import alert_plain, instant
from curewatch.shop.reading import Urgency
from curewatch.storage.export import export_rows
from curewatch.storage.lock import daemon_of
from curewatch.times import instant_ms

if TYPE_CHECKING:
    import argparse

    from curewatch.shop.plain import Plain
    from curewatch.storage.alerts import AlertEvent

HISTORY = 50
URGENCY = {Urgency.NOW: "now", Urgency.TODAY: "to do today", Urgency.NOTE: "to know"}
STANDING = (AlertPhase.RAISED, AlertPhase.SEEN, AlertPhase.RESTING)
_SPAN = re.compile(
    r"(?=.*\d)(?:(\d+(?:\.\d+)?)\s*d)?\s*(?:(\d+(?:\.\d+)?)\s*h)?\s*(?:(\d+(?:\.\d+)?)\s*min)?"
)


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what can be done with alerts."""
    deeds = parser.add_subparsers(dest="deed", required=True, metavar="list|seen|rest|history")
    listing = deeds.add_parser("list", help="those that stand")
    listing.add_argument(
        "--all", action="store_true", help="also those that hold but are not due, and the cleared"
    )
    seen = deeds.add_parser("seen", help="someone has it")
    seen.add_argument("id", type=whole, metavar="ID", help="its number on the list")
    seen.add_argument("--by", metavar="NAME", help="who has it (default: your user name)")
    rest = deeds.add_parser("rest", help="put it aside until a time")
    rest.add_argument("id", type=whole, metavar="ID", help="its number on the list")
    until = rest.add_mutually_exclusive_group(required=True)
    until.add_argument("--until", metavar="T", help="16:40, 'tomorrow 9:05', or ISO 8601")
    until.add_argument("--for", dest="span", metavar="SPAN", help="2h, 30min, 1d, '1d 12h'")
    history = deeds.add_parser("history", help="every step of every alert's life, newest first")
    history.add_argument(
        "--limit", type=whole, default=HISTORY, metavar="N", help="so many at most"
    )
    for deed in (listing, seen, rest, history):  # these may stand behind the deed's word too
        deed.add_argument("--json", action="store_true", default=SUPPRESS)
        deed.add_argument("--config", type=Path, default=SUPPRESS, metavar="FILE")


def run(args: argparse.Namespace) -> int:
    """Do it."""
    with bench(args) as opened:
        match args.deed:
            case "list":
                _list(args, opened)
            case "history":
                _history(args, opened)
            case "seen":
                by = args.by or _user()
                alert = take_on(opened, args.id, by)
                _done(args, alert, f"Alert {alert.id} is with {by} now")
            case _:
                until_ms = _until_ms(args, opened)
                alert = put_to_rest(opened, args.id, until_ms)
                when = opened.words.at(until_ms, opened.now_ms)
                _done(args, alert, f"Alert {alert.id} rests until {when}")
    return 0


def _list(args: argparse.Namespace, opened: Bench) -> None:
    alerts = [a for a in opened.store.alerts.active() if args.all or a.phase in STANDING]
    if args.all:
        cleared = (int(str(row["id"])) for row in export_rows(opened.store, "alerts"))
        known = {alert.id for alert in alerts}
        alerts += [opened.store.alerts.get(number) for number in cleared if number not in known]
    if args.json:
        print_json([alert_plain(alert) for alert in alerts])
        return
    if not alerts:
        say(no_alert(watched=daemon_of(opened.settings.storage.path) is not None))
    for alert in alerts:
        tell_alert(alert, opened)


def no_alert(*, watched: bool) -> str:
    """Say that no alert stands, and that this tells nothing while nobody watches."""
    if watched:
        return "No alert stands."
    return (
        "No alert stands; nobody raises any while the daemon is not running: curewatch run; "
        "'curewatch status' works out how pieces and rooms stand now."
    )


def tell_alert(alert: Alert, opened: Bench) -> None:
    """Say one alert: what it is, where it stands, its reason and the next job."""
    words, now_ms = opened.words, opened.now_ms
    state = str(alert.phase)
    if alert.phase is AlertPhase.SEEN and alert.seen_ms is not None:
        state = f"seen by {alert.seen_by}, {words.at(alert.seen_ms, now_ms)}"
    elif alert.phase is AlertPhase.RESTING and alert.rest_until_ms is not None:
        state = f"resting until {words.at(alert.rest_until_ms, now_ms)}"
    elif alert.phase is AlertPhase.CLEARED and alert.cleared_ms is not None:
        state = f"cleared {words.at(alert.cleared_ms, now_ms)}"
    elif alert.raised_ms is not None:
        state = f"raised {words.at(alert.raised_ms, now_ms)}"
    title = f"{subject_said(alert.subject)}: {heading(alert.kind, alert.reason)}"
    say(f"[{alert.id}] {URGENCY[alert.urgency]}: {title} ({state})")
    say(alert.reason, indent=4)
    if alert.phase is not AlertPhase.CLEARED:
        say(f"Next: {alert.next_action}", indent=4)


def _history(args: argparse.Namespace, opened: Bench) -> None:
    if args.limit < 1:
        raise BadInput(f"--limit {args.limit}: give 1 or more")
    events = opened.store.alerts.history(limit=args.limit)
    if args.json:
        print_json([_event_plain(event) for event in events])
        return
    if not events:
        say("No alert was ever raised.")
    for event in events:
        when = opened.words.at(event.at_ms, opened.now_ms)
        what = f"{subject_said(event.subject)}: {heading(AlertKind(event.kind), event.reason)}"
        say(f"{when}  [{event.alert_id}] {event.phase}: {what}")


def _event_plain(event: AlertEvent) -> Plain:
    return {
        "id": event.alert_id,
        "kind": str(event.kind),
        "subject": event.subject,
        "phase": str(event.phase),
        "at": instant(event.at_ms),
        "reason": event.reason,
    }


def _done(args: argparse.Namespace, alert: Alert, sentence: str) -> None:
    if args.json:
        print_json(alert_plain(alert))
    else:
        say(f"{sentence}: {subject_said(alert.subject)}, {heading(alert.kind, alert.reason)}.")


def _until_ms(args: argparse.Namespace, opened: Bench) -> int:
    """Return until when it is to rest [ms]."""
    if args.span is not None:
        return opened.now_ms + span_ms(args.span)
    return instant_ms(args.until, zone=opened.settings.zone, now_ms=opened.now_ms)


def span_ms(text: str) -> int:
    """Return a span such as '2h', '30min' or '1d 12h' [ms].

    Raises
    ------
    BadInput
        The text is none, or nought.
    """
    found = _SPAN.fullmatch(text.strip().lower())
    days, hours, minutes = (float(part or 0.0) for part in found.groups()) if found else (0, 0, 0)
    total = round(((days * 24.0 + hours) * 60.0 + minutes) * 60_000)
    if total <= 0:
        raise BadInput(f"{text!r} is not a span: write 2h, 30min, 1d or '1d 12h'")
    return total


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # a user without a name
        return "someone"
