"""Under which names the page may be called, and where it is to be found."""

from __future__ import annotations

import ipaddress
import socket
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

if TYPE_CHECKING:
    from collections.abc import Iterable


def host_of(place: str) -> str:
    """Return the host of a `Host` or `Origin` header in small letters; '' where there is none."""
    try:
        return (urlsplit(place if "//" in place else f"//{place}").hostname or "").lower()
    except ValueError:  # such as an unclosed bracket
        return ""


def is_our_host(host: str, names: Iterable[str]) -> bool:
    """Whether a request names this machine: by address, as localhost, or by a name it has.

    A page of strangers whose name is made to point here is turned away.

    Parameters
    ----------
    host
        The request's `Host` header.
    names
        Names that the configuration allows beside the machine's own.
    """
    name = host_of(host)
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return name in {*own_names(), *names}
    return True


def own_names() -> tuple[str, ...]:
    """Return what this machine is called."""
    machine = socket.gethostname().lower()
    short = machine.partition(".")[0]
    return tuple(dict.fromkeys(("localhost", machine, short, f"{short}.local")))


def is_our_origin(origin: str | None, host: str) -> bool:
    """Whether a form comes from the page it is sent to; browsers say where it came from.

    The scheme is left out: behind a proxy the browser's is another than ours.
    """
    return origin is None or origin.partition("://")[2].lower() == host.lower()


def is_loopback(host: str) -> bool:
    """Whether what listens at `host` is reached from this computer alone."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def page_url(host: str, port: int) -> str:
    """Return the address of the page where it listens."""
    return f"http://{f'[{host}]' if ':' in host else host}:{port}/"
