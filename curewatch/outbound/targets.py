"""Targets of notices, named without their secrets."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, unquote, urlsplit

if TYPE_CHECKING:
    from collections.abc import Iterable

# Where the host of an address is a machine. In most others it is a token or a key of its service.
_HOST_IS_A_MACHINE = frozenset(
    name + secure
    for name in ("apprise", "form", "gotify", "json", "mailto", "matrix", "mqtt", "xml")
    for secure in ("", "s")
)
_SHORTEST_SECRET = 3
_PUBLIC = frozenset(("cto", "rto", "verify", "mode", "port", "format", "overflow", "method"))


def target_name(url: str) -> str:
    """Name a target by its scheme, and by its host where that is a machine and not a key."""
    try:
        parts = urlsplit(url.strip())
        scheme, host, port = parts.scheme, parts.hostname or "", parts.port
    except ValueError:
        scheme, host, port = url.partition(":")[0], "", None
    if not re.fullmatch(r"[a-z][a-z0-9+.-]{0,30}", scheme, re.IGNORECASE):
        return "(no scheme)"
    if scheme.lower() not in _HOST_IS_A_MACHINE or not host:
        return f"{scheme.lower()}://(hidden)"
    return f"{scheme.lower()}://{host}" + (f":{port}" if port else "")


def target_names(urls: Iterable[str]) -> tuple[str, ...]:
    """Name several targets, numbering those that read alike."""
    names: list[str] = []
    for name in map(target_name, urls):
        alike = sum(known == name or known.startswith(f"{name} (") for known in names)
        names.append(f"{name} ({alike + 1})" if alike else name)
    return tuple(names)


def without_secrets(text: str, url: str) -> str:
    """Return `text` with every part of `url` taken out that its name does not show."""
    shown = target_name(url)
    secrets = {url, *_parts(url)}
    for secret in sorted(secrets, key=len, reverse=True):
        if len(secret) >= _SHORTEST_SECRET and secret not in shown:
            text = text.replace(secret, "***")
    return text


def _parts(url: str) -> set[str]:
    """Return everything in an address that may be a secret, as written and as decoded."""
    try:
        parts = urlsplit(url)
        query = parse_qsl(parts.query)
    except ValueError:
        return set(re.split(r"[\[\]:/?&=@#,\s]+", url.partition(":")[2]))
    whole = f"{parts.netloc}/{parts.path}/{parts.fragment}"
    found = {parts.netloc, *re.split(r"[:/@,]+", whole)}
    found |= {value for key, value in query if key not in _PUBLIC}
    found |= {unquote(part) for part in found}
    return found
