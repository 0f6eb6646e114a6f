"""What people do about alerts from the page; the daemon's thread carries it out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.entries import alerts
from curewatch.web.entering import opened

if TYPE_CHECKING:
    from curewatch.shop.alert import Alert
    from curewatch.web.desk import Counter


def take_on(counter: Counter, number: int, who: str) -> Alert:
    """Write that somebody has an alert and return it so.

    Raises
    ------
    BadInput
        When there is no such alert, or it is over.
    """
    alert = alerts.take_on(opened(counter), number, who or "somebody")
    _let_watch_know(counter)
    return alert


def put_to_rest(counter: Counter, number: int, until_ms: int) -> Alert:
    """Let an alert be silent until `until_ms` [ms] and return it so; raises as `take_on` does."""
    alert = alerts.put_to_rest(opened(counter), number, until_ms)
    _let_watch_know(counter)
    return alert


def _let_watch_know(counter: Counter) -> None:
    """Let the watch go on from what storage holds, or it would write over it at its next step.

    It notices by itself only what other processes wrote.
    """
    counter.watch.replace_alerts(counter.store.alerts.active())
