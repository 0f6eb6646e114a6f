"""The broker: it takes us, a message comes round, and what waits there is not dropped."""

from __future__ import annotations

import ssl
from typing import TYPE_CHECKING

from curewatch.cli.doctor import broker_file
from curewatch.cli.doctor.finding import Finding, State, count
from curewatch.daemon import broker_access
from curewatch.errors import BadConfig, BadInput
from curewatch.intake.terms import DAY_S, broker_says, broker_terms, broker_waits
from curewatch.intake.trial import try_line
from curewatch.web.names import is_loopback

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.intake.broker import BrokerAccess
    from curewatch.intake.terms import Terms
    from curewatch.settings import Settings

AREA = "broker"
CONFIGURATION = "deploy/mosquitto/curewatch.conf has the settings; restart the broker after"
LEAST_WAIT_S = 7 * DAY_S
LEAST_PACKET = 64 * 1024


def findings(settings: Settings, *, try_queue: bool, now_ms: int) -> Iterator[Finding]:
    """Try the line; with `try_queue` also let many messages wait for a client that is away."""
    try:
        access = broker_access(settings)
    except BadConfig:
        return  # told with the secrets
    except (BadInput, OSError, ssl.SSLError) as error:
        yield Finding(AREA, State.FAULT, str(error), "correct the [broker] table")
        return
    trial = try_line(access, settings.asked_topics(), site=settings.site.name)
    if not trial.accepted:
        what = f"{access.place} is of no use: {trial.trouble}"
        yield Finding(AREA, State.FAULT, what, "systemctl status mosquitto; see the [broker] table")
        return
    who = "no user name" if access.username is None else f"user {access.username}"
    yield Finding(AREA, State.OK, f"{access.place} takes us ({who}, MQTT {access.protocol})")
    for refusal in trial.refusals:
        fix = "let this user read it in the broker's access list"
        yield Finding(AREA, State.FAULT, f"it does not grant {refusal}", fix)
    if trial.round_trip_s is None:
        fix = f"let this user read and write curewatch/{settings.site.name}/# there"
        yield Finding(AREA, State.FAULT, trial.trouble, fix)
        return
    way = f"curewatch/{settings.site.name}/doctor"
    yield Finding(
        AREA, State.OK, f"a message on {way} came back in {trial.round_trip_s * 1000:.0f} ms"
    )
    if is_loopback(access.host):
        yield from broker_file.findings(access.port)
    yield from _keeping(access, settings.site.name, now_ms, try_queue=try_queue)


def _keeping(access: BrokerAccess, site: str, now_ms: int, *, try_queue: bool) -> Iterator[Finding]:
    """Look at what may drop messages."""
    terms = broker_terms(access)
    if terms is None:
        yield Finding(
            AREA,
            State.OK,
            "what it keeps while the daemon is away cannot be asked over MQTT 3.1.1",
            CONFIGURATION,
        )
    else:
        yield from judged(terms, access.session_expiry_s, now_ms)
    said = broker_says(access)
    if said.dropped:
        yield Finding(
            AREA,
            State.LOOK,
            f"it has dropped {count(said.dropped, 'message')} since it was started "
            f"({said.version or 'version not told'})",
            f"raise max_queued_messages and max_inflight_messages: {CONFIGURATION}",
        )
    elif said.dropped == 0:
        yield Finding(AREA, State.OK, f"{said.version}: no message dropped since it was started")
    if not try_queue:
        yield Finding(
            AREA,
            State.OK,
            "whether it keeps what comes while the daemon is away was not tried",
            "to try it with 1500 small messages: --try-queue",
        )
    elif access.protocol == "5":
        yield _queue(access, site)


def judged(terms: Terms, wanted_s: int, now_ms: int) -> Iterator[Finding]:
    """Judge what the broker said it would grant."""
    if terms.session_expiry_s < min(wanted_s, LEAST_WAIT_S):
        hours = terms.session_expiry_s / 3600
        yield Finding(
            AREA,
            State.LOOK,
            f"it keeps what waits for an absent daemon for {hours:.1f} h only",
            f"let it keep sessions for a week at least: {CONFIGURATION}",
        )
    if terms.most_qos < 1:
        what = "it takes messages at QoS 0 alone: nothing waits for an absent daemon"
        yield Finding(AREA, State.FAULT, what, f"let it take QoS 1: {CONFIGURATION}")
    if not terms.retains:
        what = "it keeps no retained message: displays stay empty until the next change"
        yield Finding(AREA, State.LOOK, what, f"let it retain: {CONFIGURATION}")
    if not terms.wildcards:
        what = "it takes no topic with + or #"
        yield Finding(AREA, State.LOOK, what, "name every sensor's topic in full")
    if terms.largest_packet is not None and terms.largest_packet < LEAST_PACKET:
        what = f"it drops messages above {terms.largest_packet} bytes"
        yield Finding(AREA, State.LOOK, what, f"raise max_packet_size: {CONFIGURATION}")
    if terms.certificate_until_ms is not None:
        yield _certificate(terms.certificate_until_ms, now_ms)


def _certificate(until_ms: int, now_ms: int) -> Finding:
    days = (until_ms - now_ms) / 86_400_000
    soon = days < 30  # noqa: PLR2004 - a month to see to it
    return Finding(
        AREA,
        State.LOOK if soon else State.OK,
        f"its certificate is good for {days:.0f} days more",
        "renew it, and restart the broker" if soon else "",
    )


def _queue(access: BrokerAccess, site: str) -> Finding:
    waited = broker_waits(access, site=site)
    if waited.trouble:
        return Finding(AREA, State.FAULT, waited.trouble, CONFIGURATION)
    if waited.came < waited.sent:
        return Finding(
            AREA,
            State.FAULT,
            f"of {waited.sent} messages for a client that was away it kept {waited.came} and "
            "dropped the rest without a word",
            f"raise max_queued_messages: {CONFIGURATION}",
        )
    return Finding(
        AREA, State.OK, f"it kept all of {waited.sent} messages for a client that was away"
    )
