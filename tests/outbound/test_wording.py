"""A notice says what, why, what next and since when, in plain short lines."""

from __future__ import annotations

from dataclasses import replace
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from curewatch.outbound.wording import LONGEST_BODY, LONGEST_TITLE, notice_text
from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.reading import Urgency
from curewatch.shop.words import Words

NOW_MS = 1_736_510_400_000  # 2025-01-10 12:00 UTC
WORDS = Words(zone=ZoneInfo("Europe/Berlin"))
ALERT = Alert(
    kind=AlertKind.WET_WORK_CLIMATE,
    subject="room:booth",
    urgency=Urgency.NOW,
    phase=AlertPhase.RAISED,
    since_ms=NOW_MS - 600_000,
    reason="8.1 °C, below the 10.0 °C that waterborne needs",
    next_action="Warm the room before anything else is sprayed.",
    raised_ms=NOW_MS - 300_000,
)


def test_a_raised_alert_is_told_with_one_reason_and_one_next_action() -> None:
    title, body = notice_text(ALERT, WORDS, now_ms=NOW_MS)
    assert title == "Room booth: air outside the finish's limits, with wet work in it"
    assert body.splitlines() == [
        "8.1 °C, below the 10.0 °C that waterborne needs",
        "Next: Warm the room before anything else is sprayed.",
        "Raised today 12:55.",
    ]


def test_one_that_was_never_raised_is_told_by_when_it_began() -> None:
    _, body = notice_text(replace(ALERT, raised_ms=None), WORDS, now_ms=NOW_MS)
    assert body.endswith("Raised today 12:50.")


def test_a_cleared_alert_is_told_as_over() -> None:
    over = replace(ALERT, phase=AlertPhase.CLEARED, cleared_ms=NOW_MS - 60_000)
    title, body = notice_text(over, WORDS, now_ms=NOW_MS)
    assert title.startswith("Over: Room booth")
    assert body == "Over since today 12:59. It was: 8.1 °C, below the 10.0 °C that waterborne needs"
    assert "today 13:00" in notice_text(replace(over, cleared_ms=None), WORDS, now_ms=NOW_MS)[1]


@given(
    reason=st.text(max_size=900),
    next_action=st.text(max_size=900),
    name=st.text(max_size=200),
    kind=st.sampled_from(AlertKind),
    phase=st.sampled_from(AlertPhase),
)
def test_whatever_stands_in_an_alert_a_notice_is_short_and_keeps_its_lines(
    reason: str, next_action: str, name: str, kind: AlertKind, phase: AlertPhase
) -> None:
    alert = replace(
        ALERT,
        reason=reason,
        next_action=next_action,
        subject=f"piece:{name}",
        kind=kind,
        phase=phase,
    )
    title, body = notice_text(alert, WORDS, now_ms=NOW_MS)
    assert len(title) <= LONGEST_TITLE
    assert len(body) <= LONGEST_BODY
    assert len(body.splitlines()) == (1 if phase is AlertPhase.CLEARED else 3)
    assert title.isprintable()
    assert body.replace("\n", "").isprintable()


def test_a_long_reason_does_not_crowd_out_the_next_action() -> None:
    _, body = notice_text(replace(ALERT, reason="word " * 200), WORDS, now_ms=NOW_MS)
    reason, next_action, raised = body.splitlines()
    assert reason.endswith("…")
    assert next_action == f"Next: {ALERT.next_action}"
    assert raised == "Raised today 12:55."
