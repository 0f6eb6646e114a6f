"""Taking secrets and names out of what goes to a helper, however they are written down."""

from __future__ import annotations

import base64
import html
import json
import re
from typing import TYPE_CHECKING, cast
from urllib.parse import parse_qsl, quote, quote_plus, unquote, urlsplit

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.shop.plain import PlainValue

GONE = "[taken out]"
SHORTEST = 3  # a part of an address that is shorter is no secret
# a name and password in any address, and what follows a word that announces a secret
_IN_ADDRESS = re.compile(r"(?<=://)[^/@\s]+@")
_ANNOUNCED = re.compile(
    r"(?i)\b(pass(?:word|phrase|wd)?|token|secret|api[-_ ]?key|bearer|basic)"
    r"(\s*[=:]\s*|\s+(?=\S*\d))(\S+)"
)
_HEADER = re.compile(r"(?im)\b(authorization|proxy-authorization|(?:set-)?cookie)(\s*[:=]\s*).+$")
_HOME = re.compile(r"(?<=/home/)[^/\s\"',:;]+")  # whose it is
_DIGEST = re.compile(r"\$argon2[^\s\"',]+")


class Redactor:
    """Takes what it was told of out of texts, keys and values."""

    def __init__(self, secrets: Iterable[str], names: Iterable[str] = ()) -> None:
        """Take out `secrets` anywhere, also encoded, and `names` where they stand as words."""
        forms = {form for secret in secrets if secret.strip() for form in written(secret)}
        ordered = sorted(forms, key=len, reverse=True)
        self._secrets = re.compile("|".join(map(re.escape, ordered))) if ordered else None
        words = sorted({name.strip() for name in names if name.strip()}, key=len, reverse=True)
        self._names = (
            re.compile(
                "|".join(rf"(?<!\w){re.escape(word)}(?!\w)" for word in words), re.IGNORECASE
            )
            if words
            else None
        )

    def text(self, text: str) -> str:
        """Return `text` without them."""
        if self._secrets is not None:
            text = self._secrets.sub(GONE, text)
        if self._names is not None:
            text = self._names.sub(GONE, text)
        text = _IN_ADDRESS.sub(f"{GONE}@", text)
        text = _DIGEST.sub(GONE, text)
        text = _HOME.sub(GONE, text)
        text = _HEADER.sub(rf"\1\2{GONE}", text)
        return _ANNOUNCED.sub(rf"\1\2{GONE}", text)

    def plain(self, value: PlainValue) -> PlainValue:
        """Return plain data without them."""
        if isinstance(value, str):
            return self.text(value)
        if isinstance(value, dict):
            return {self.text(key): self.plain(part) for key, part in value.items()}
        if isinstance(value, list | tuple):
            return cast("PlainValue", [self.plain(part) for part in value])
        return value


def written(secret: str) -> set[str]:
    """Return the ways a secret may be written down: plain, escaped, encoded."""
    raw = secret.encode()
    found = {
        secret,
        quote(secret),
        quote(secret, safe=""),
        quote(secret, safe="").lower(),
        quote_plus(secret),
        unquote(secret),
        html.escape(secret),
        json.dumps(secret)[1:-1],
        json.dumps(secret, ensure_ascii=False)[1:-1],
        repr(secret)[1:-1],
        raw.hex(),
        raw.hex().upper(),
    }
    for lead in range(3):  # inside something longer it may begin at any of three places
        for coded in (base64.b64encode, base64.urlsafe_b64encode):
            whole = coded(bytes(lead) + raw).decode()
            start = (0, 2, 3)[lead]
            end = len(whole.rstrip("=")) - (0 if (lead + len(raw)) % 3 == 0 else 1)
            if end - start > SHORTEST:
                found.add(whole[start:end])
    return {form for form in found if form}


def parts_of_address(url: str) -> set[str]:
    """Return an address and everything in it that may be a secret."""
    found = {url}
    try:
        parts = urlsplit(url)
        found |= {parts.username or "", parts.password or "", parts.netloc, parts.query}
        found |= {value for _, value in parse_qsl(parts.query)}
        found |= {part for part in re.split(r"[/,]", parts.path) if part}
        found |= {part for part in (parts.netloc.rpartition("@")[2],) if part}
        found.add(parts.fragment)
    except ValueError:
        found |= set(re.split(r"[\[\]:/?&=@#,\s]+", url.partition(":")[2]))
    return {unquote(part) for part in found if len(part) >= SHORTEST} | {
        part for part in found if len(part) >= SHORTEST
    }
