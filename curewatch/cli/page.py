"""The page at the bench: its passphrase, signing telephones out, where it is to be found.

`passphrase` sets what people give once on each telephone before they may log anything there; it is
kept as a digest and signs out every telephone that knows the one before. `sign-out-all` does only
that, for a telephone that was lost. A running daemon notices both within seconds.
"""

from __future__ import annotations

import getpass
import sys
from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import Forms
from curewatch.cli.show import print_json, say
from curewatch.errors import BadInput
from curewatch.settings import load_settings
from curewatch.storage.page_sessions import PASSPHRASE
from curewatch.web.access import passphrase_digest
from curewatch.web.names import is_loopback, own_names, page_url

if TYPE_CHECKING:
    import argparse

    from curewatch.settings.tables import PageTable

ALL_NETWORKS = ("0.0.0.0", "::")  # noqa: S104 - compared with, not bound to
NO_TLS = (
    "The page has no encryption of its own: open it only to a network whose members you trust, or "
    "put a reverse proxy with a certificate in front of it."
)


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the forms."""
    forms = Forms(parser)
    setting = forms.add("passphrase", _passphrase, "set the passphrase; signs everyone out")
    setting.add_argument(
        "--stdin", action="store_true", help="read it from the first line of standard input"
    )
    forms.add("sign-out-all", _sign_out_all, "forget every telephone that gave the passphrase")
    forms.add("address", _address, "where the page listens, as the configuration stands")


def run(args: argparse.Namespace) -> int:
    """Carry out the form."""
    status: int = args.do(args)
    return status


def _passphrase(args: argparse.Namespace) -> int:
    digest = passphrase_digest(_read_line() if args.stdin else _asked_twice())
    with bench(args) as at, at.store.db.transaction():
        at.store.meta.set(PASSPHRASE, digest)
        closed = at.store.page_sessions.close_all()
    if args.json:
        print_json({"passphrase": "set", "signed_out": closed})
        return 0
    say("The passphrase is set. Give it once on each telephone.")
    _say_closed(closed)
    say(NO_TLS)
    return 0


def _sign_out_all(args: argparse.Namespace) -> int:
    with bench(args) as at:
        closed = at.store.page_sessions.close_all()
    if args.json:
        print_json({"signed_out": closed})
    else:
        _say_closed(closed)
    return 0


def _say_closed(closed: int) -> None:
    if closed:
        say(f"Signed out: {closed}. They must give the passphrase again.")
    else:
        say("No telephone was signed in.")


def _address(args: argparse.Namespace) -> int:
    page = load_settings(args.config).page
    urls = _urls(page)
    if args.json:
        print_json({"serve": page.serve, "host": page.host, "port": page.port, "urls": [*urls]})
        return 0
    if not page.serve:
        say("The page is not served: set serve = true under [page] and restart the daemon.")
        return 0
    if page.port == 0:
        say("The port is whichever is free when the daemon starts: its log tells it.")
    for url in urls:
        say(url)
    if is_loopback(page.host):
        say("This computer alone can reach it; [page] host opens it to the shop's network.")
    else:
        say(NO_TLS)
    return 0


def _urls(page: PageTable) -> tuple[str, ...]:
    """Return the addresses a browser may be given; none while the port is not known."""
    if page.port == 0 or not page.serve:
        return ()
    hosts = own_names()[1:] if page.host in ALL_NETWORKS else (page.host,)
    return tuple(page_url(host, page.port) for host in hosts)


def _asked_twice() -> str:
    """Return what was typed twice the same, without showing it.

    Raises
    ------
    BadInput
        When there is no terminal to ask on, or the two differ.
    """
    if not sys.stdin.isatty():
        raise BadInput("there is no terminal to ask on: give the passphrase with --stdin")
    first = getpass.getpass("Passphrase: ")
    if getpass.getpass("Again: ") != first:
        raise BadInput("the two were not the same, so nothing was set: try again")
    return first


def _read_line() -> str:
    line = sys.stdin.readline()
    if not line:
        raise BadInput("standard input is empty: its first line must be the passphrase")
    return line.rstrip("\r\n")
