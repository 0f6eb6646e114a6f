"""The page: where it listens, whether it answers, and who may look and write."""

from __future__ import annotations

import socket
from typing import TYPE_CHECKING

from curewatch.cli.doctor.finding import Finding, State
from curewatch.storage.page_sessions import PASSPHRASE
from curewatch.web.names import is_loopback

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.cli.doctor.finding import Open
    from curewatch.settings.tables import PageTable

AREA = "page"
PATIENCE_S = 2.0
EVERYWHERE = {"0.0.0.0": "127.0.0.1", "::": "::1"}  # noqa: S104 - compared with, not bound to


def findings(opened: Open, *, running: bool) -> Iterator[Finding]:
    """Look at the page, where it is served; `running` is whether the daemon is."""
    page = opened.settings.page
    if not page.serve:
        return
    yield _who(page, locked=opened.store.meta.get(PASSPHRASE) is not None)
    if running and page.port:
        yield _answers(page)
    if not is_loopback(page.host):
        yield Finding(
            AREA,
            State.OK,
            "it has no encryption of its own: the shop's network reads along",
            "keep it in a network you trust, or put a proxy with a certificate before it",
        )


def _who(page: PageTable, *, locked: bool) -> Finding:
    """Say who may look and who may write, and warn where the network may read."""
    where = f"the page listens at {page.host}:{page.port}"
    near = is_loopback(page.host)
    if near and not page.names:
        who = "a passphrase is set" if locked else "nobody may write: no passphrase is set"
        return Finding(AREA, State.OK, f"{where}, from this computer alone; {who}")
    reach = "through a proxy" if near else "in the network"
    if page.open_reading:
        what = f"{where}, and everybody {reach} may read it: pieces, customers' names, your times"
        return Finding(AREA, State.LOOK, what, "set page.open_reading = false, if not meant")
    if not locked:
        what = f"{where}, reached {reach}, and no passphrase is set: nobody can come in"
        return Finding(AREA, State.LOOK, what, "curewatch page passphrase")
    return Finding(AREA, State.OK, f"{where}, reached {reach}; the passphrase is asked for")


def _answers(page: PageTable) -> Finding:
    """Say whether something listens where the page should."""
    host = EVERYWHERE.get(page.host, page.host)
    try:
        socket.create_connection((host, page.port), PATIENCE_S).close()
    except OSError as error:
        return Finding(
            AREA,
            State.FAULT,
            f"nothing answers at {host}:{page.port} ({error.strerror or 'no answer'}), though the "
            "daemon runs",
            "its log says why: journalctl -u curewatch; a port in use is the usual cause",
        )
    return Finding(AREA, State.OK, f"something answers at {host}:{page.port}")
