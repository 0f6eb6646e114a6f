"""The mirror: whether its server is reached, how far behind it is, and its last error."""

from __future__ import annotations

import http.client
import socket
import ssl
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from curewatch.cli.doctor.finding import Finding, State
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.words import span

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curewatch.cli.doctor.finding import Open

AREA = "mirror"
PATIENCE_S = 3.0
BEHIND_H = 0.5


def findings(opened: Open) -> Iterator[Finding]:
    """Look at the mirror, where one is configured."""
    url = opened.settings.influx.url
    if url is None:
        return
    yield reached(url, opened.settings.influx.ca_file)
    behind = opened.store.mirror_marks.behind()
    if behind.last_error:
        yield Finding(
            AREA,
            State.LOOK,
            f"the last try failed: {behind.last_error}",
            "401 or 403: see influx.token_file; 404: see org and bucket; rows are kept until then",
        )
    if behind.parked:
        yield Finding(
            AREA,
            State.LOOK,
            f"{behind.parked} rows were refused by the server for good",
            "docs/influx.md says what it may refuse; curewatch mirror backfill sends them again",
        )
    age_h = 0.0 if behind.oldest_ms is None else (opened.now_ms - behind.oldest_ms) / MS_PER_H
    late = behind.rows > 0 and age_h > BEHIND_H
    yield Finding(
        AREA,
        State.LOOK if late else State.OK,
        f"{behind.rows} rows are still to be sent"
        + (f", the oldest {span(age_h)}" if late else ""),
        "see that the daemon runs and the server answers; nothing of it is lost" if late else "",
    )


def reached(url: str, ca_file: Path | None = None) -> Finding:
    """Say whether a web server answers there at all; whatever it answers will do.

    `ca_file` holds certificates that vouch for it; None for the system's.
    """
    parts = urlsplit(url)
    host = parts.hostname or ""
    place = f"{host}:{parts.port or (443 if parts.scheme == 'https' else 80)}"
    try:
        line = http.client.HTTPConnection(host, parts.port, timeout=PATIENCE_S)
        if parts.scheme == "https":
            vouched = ssl.create_default_context(cafile=ca_file)
            line = http.client.HTTPSConnection(
                host, parts.port, timeout=PATIENCE_S, context=vouched
            )
    except (OSError, ValueError) as error:
        fix = "see that influx.ca_file holds certificates, and the port in influx.url"
        return Finding(AREA, State.FAULT, f"{place} cannot be tried ({_why(error)})", fix)
    try:
        line.request("GET", f"{parts.path.rstrip('/')}/ping")
        status = line.getresponse().status
    except ssl.SSLCertVerificationError as error:
        fix = "renew the server's certificate, or let this system know who signed it"
        return Finding(AREA, State.FAULT, f"{place}: {error.verify_message}", fix)
    except (OSError, http.client.HTTPException, socket.gaierror) as error:
        fix = "see that the server runs, and its address in influx.url"
        return Finding(AREA, State.FAULT, f"{place} is not reached ({_why(error)})", fix)
    finally:
        line.close()
    return Finding(AREA, State.OK, f"{place} answers (status {status})")


def _why(error: Exception) -> str:
    return getattr(error, "strerror", None) or type(error).__name__
