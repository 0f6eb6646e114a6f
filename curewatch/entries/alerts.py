"""Taking an alert on, and letting it rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.errors import BadInput

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.shop.alert import Alert

LONGEST_REST_MS = 366 * 86_400_000


def take_on(at: Opened, number: int, by: str) -> Alert:
    """Store that `by` has an alert, and return it so; raises BadInput where it is over."""
    return at.store.alerts.mark_seen(number, by, at.now_ms)


def put_to_rest(at: Opened, number: int, until_ms: int) -> Alert:
    """Store that an alert rests until `until_ms` [ms], and return it so.

    Raises
    ------
    BadInput
        When it is over, or the time has been or is too far ahead.
    """
    if until_ms - at.now_ms > LONGEST_REST_MS:
        raise BadInput("an alert rests for a year at most: say 'curewatch alert seen' instead")
    return at.store.alerts.rest(number, until_ms, at.now_ms)
