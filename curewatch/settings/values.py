"""What single values of the configuration file must look like, said with a way to mend them."""

import re
from collections.abc import Callable
from difflib import get_close_matches
from enum import StrEnum
from urllib.parse import urlsplit

from pydantic import ValidationInfo

from curewatch.intake.families import family_fault
from curewatch.intake.mapping import Format, topic_fault, unit_fault, zone_named
from curewatch.intake.pointer import pointer_fault
from curewatch.outbound.quiet import QuietHours

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}", re.ASCII)
_HOST_NAME = re.compile(r"(?=.{1,253}$)[A-Za-z0-9_-]{1,63}(\.[A-Za-z0-9_-]{1,63})*", re.ASCII)
_DIGEST = re.compile(r"[0-9a-f]{64}", re.ASCII)
_NOT_IN_NAME = re.compile(r"[^A-Za-z0-9_-]+", re.ASCII)


def plain_name(name: str) -> str:
    """Take a name that can be a level of an MQTT topic, or say what would do instead."""
    if not _NAME.fullmatch(name):
        better = _NOT_IN_NAME.sub("-", name).strip("-_")[:64]
        such = f", such as '{better}'" if _NAME.fullmatch(better) else ""
        raise ValueError(
            f"'{name[:80]}' cannot be a name: it becomes a level of an MQTT topic, so use 1 to 64 "
            f"letters a-z, digits, '-' and '_', beginning with a letter or digit{such}"
        )
    return name


def zone_name(name: str) -> str:
    """Take the IANA name of a time zone."""
    try:
        zone_named(name)
    except ValueError:
        raise ValueError(
            f"no time zone is called '{name[:80]}'; use an IANA name such as 'Europe/Berlin' or "
            "'UTC'"
        ) from None
    return name


def quiet_span(text: str) -> str:
    """Take a span of the day such as '22:00-07:00'."""
    QuietHours.parse(text)
    return text


def broker_host(host: str) -> str:
    """Take a bare host name or address."""
    if not host or "/" in host or any(letter.isspace() for letter in host):
        raise ValueError(
            f"'{host[:80]}' is not a host: give its name or address alone, such as 'localhost'"
        )
    if host.count(":") == 1:  # more of them make an IPv6 address
        raise ValueError(f"'{host[:80]}' holds a port: give that under port")
    return host


def web_address(url: str) -> str:
    """Take the address of a server, without a name and a password in it."""
    parts = urlsplit(url)
    if parts.scheme not in ("http", "https") or not parts.hostname or "@" in parts.netloc:
        raise ValueError(
            "this is not a server's address: give it such as 'http://127.0.0.1:8086', without a "
            "name or a password in it"
        )
    return url


def host_name(name: str) -> str:
    """Take a name that a browser may call the page by, in small letters."""
    if not _HOST_NAME.fullmatch(name):
        raise ValueError(
            f"'{name[:80]}' is not a host's name: give it without a scheme and a port, such as "
            "'shop.example.org'"
        )
    return name.lower()


def protocol_text(value: object) -> object:
    """Let the number 5 stand for the text."""
    return "5" if value == 5 and not isinstance(value, bool) else value  # noqa: PLR2004 - MQTT 5


def not_a_switch(value: object) -> object:
    """Refuse true and false where a number belongs: they would pass for 1 and 0."""
    if isinstance(value, bool):
        raise ValueError("is true or false; a number belongs here")  # noqa: TRY004 - pydantic's
    return value


def topic_filter(topic: str) -> str:
    """Take an MQTT topic, with or without wildcards."""
    fault = topic_fault(topic)
    if fault:
        raise ValueError(fault)
    return topic


def family_topic(topic: str) -> str:
    """Take the topic of sensors of one kind, in which their names have a place."""
    fault = family_fault(topic)
    if fault:
        raise ValueError(fault)
    return topic


def certificate_digest(text: str) -> str:
    """Take the SHA-256 digest of a certificate, with colons or without."""
    bare = text.removeprefix("sha256:").replace(":", "").replace(" ", "").lower()
    if not _DIGEST.fullmatch(bare):
        raise ValueError(
            "is not a certificate's SHA-256 digest, 64 digits and letters a-f; get it with "
            "'openssl x509 -in CERTIFICATE -noout -fingerprint -sha256'"
        )
    return bare


def unit_or_place(kind: type[StrEnum]) -> Callable[[str], str]:
    """Return what takes a unit of `kind`, or the pointer to where a message names it."""

    def take(unit: str) -> str:
        fault = unit_fault(unit, kind)
        if fault:
            lowered = {str(word).lower(): str(word) for word in kind}
            close = get_close_matches(unit.lower(), lowered, n=1)
            raise ValueError(fault + (f"; did you mean '{lowered[close[0]]}'?" if close else ""))
        return unit

    return take


def topic_or_chip(topic: str | None, given: ValidationInfo) -> str | None:
    """Take no topic only where a chip at this machine stands in its place."""
    kind, chip = given.data.get("kind"), given.data.get("kernel", "faulty")
    if topic is None and chip is None and kind is None:
        raise ValueError(
            'is missing; add topic = "shop/finish-room/climate", or kernel = "..." for a chip at '
            "this machine"
        )
    return topic


def json_pointer(pointer: str) -> str:
    """Take a JSON pointer (RFC 6901)."""
    fault = pointer_fault(pointer)
    if fault:
        raise ValueError(fault)
    return pointer


def message_place(place: str, given: ValidationInfo) -> str:
    """Take a JSON pointer, or the name of a record where the messages are SenML packs."""
    return place if given.data.get("format") is Format.SENML else json_pointer(place)


def needs_strings(decimal_comma: bool, given: ValidationInfo) -> bool:  # noqa: FBT001 - pydantic's
    """Take a decimal comma only where numbers come as text: JSON's own numbers have a point."""
    if decimal_comma and given.data.get("numbers_as_strings") is False:
        raise ValueError(
            "JSON has no decimal comma, so such a number comes as text; also set "
            "numbers_as_strings = true"
        )
    return decimal_comma
