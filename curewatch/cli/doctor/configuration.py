"""Configuration: that it can be read, what in it looks like a slip, and the shop's own finishes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.assembly import finish_now, shelf
from curewatch.cli.doctor.finding import Finding, State, count, faults
from curewatch.cli.doctor.permissions import open_secrets
from curewatch.errors import BadConfig, BadInput

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from curewatch.settings import Settings

AREA = "configuration"


def findings(settings: Settings) -> Iterator[Finding]:
    """Look over what was read."""
    if settings.source is None:
        yield Finding(
            AREA,
            State.LOOK,
            "there is no file; defaults are used, without a room or a sensor",
            "write one after config/curewatch.toml and name it with --config",
        )
    else:
        rooms, sensors = len(settings.rooms()), len(settings.sensors())
        what = f"{settings.source}: {count(rooms, 'room')}, {count(sensors, 'sensor')}"
        fix = "" if rooms else "add a [[room]] and a [[sensor]] to it"
        yield Finding(AREA, State.OK if rooms else State.LOOK, what, fix)
    elsewhere = set(open_secrets(settings))
    for warning in settings.warnings:
        if warning not in elsewhere:
            yield Finding(AREA, State.LOOK, warning, "mend it, or leave it where it is meant")
    yield from _secrets(settings)
    yield from _finishes(settings)


def _secrets(settings: Settings) -> Iterator[Finding]:
    ask: tuple[Callable[[], object], ...] = (
        settings.broker_password,
        settings.notify_urls,
        settings.influx_token,
    )
    for secret in ask:
        try:
            secret()
        except BadConfig as error:
            yield from faults(AREA, error)


def _finishes(settings: Settings) -> Iterator[Finding]:
    try:
        own = sorted(shelf(settings))
    except (BadConfig, BadInput, OSError) as error:
        yield _finish_fault(error)
        return
    for name in own:
        try:
            finish_now(settings, None, name)
        except (BadConfig, BadInput) as error:
            yield _finish_fault(error)
        else:
            yield Finding(AREA, State.OK, f"finish profile {name} of the shop's own can be read")


def _finish_fault(error: Exception) -> Finding:
    said = " ".join(str(error).split())
    return Finding(AREA, State.FAULT, said, "mend the finish profile it names")
