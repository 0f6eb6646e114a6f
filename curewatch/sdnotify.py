"""Telling the service manager how the daemon is: sd_notify(3), one datagram a message.

Where nobody listens (started by hand, in a container, on another system) every call does nothing.
"""

from __future__ import annotations

import os
import socket


def tell(state: str) -> bool:
    """Send `state`, such as 'READY=1' or 'STATUS=3 rooms'; False when nobody listens."""
    address = os.environ.get("NOTIFY_SOCKET", "")
    if not address.startswith(("/", "@")):
        return False
    if address.startswith("@"):  # an abstract socket, sd_notify(3)
        address = "\0" + address[1:]
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as line:
            line.sendto(state.encode("utf-8", "replace"), address)
    except OSError:
        return False
    return True


def watchdog_interval_s() -> float | None:
    """Return how often 'WATCHDOG=1' is to be sent [s]: twice in the time the manager allows.

    None when no watchdog runs for this process (sd_watchdog_enabled(3)).
    """
    allowed_us = os.environ.get("WATCHDOG_USEC", "")
    meant_pid = os.environ.get("WATCHDOG_PID", str(os.getpid()))
    if not allowed_us.isdecimal() or int(allowed_us) == 0 or meant_pid != str(os.getpid()):
        return None
    return int(allowed_us) / 1e6 / 2
