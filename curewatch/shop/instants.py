"""Instants as plain data tell them."""

from __future__ import annotations

from datetime import UTC, datetime


def instant(at_ms: int | None) -> str | None:
    """Return an instant [ms] as ISO 8601 in UTC with milliseconds."""
    if at_ms is None:
        return None
    moment = datetime.fromtimestamp(at_ms / 1000, tz=UTC)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
