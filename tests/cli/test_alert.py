from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.cli.alert import span_ms
from curewatch.errors import BadInput
from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.reading import Urgency
from curewatch.storage.lock import daemon_lock
from tests.cli.conftest import HOUR_MS, NOW_MS

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.fixture
def alerts(climate: StoresClimate, kept: Callable[[], Store]) -> dict[str, int]:
    """Keep one alert of each phase; return their numbers."""
    climate("spray", days=0.1)

    def alert(phase: AlertPhase, **more: int) -> Alert:
        return Alert(
            kind=AlertKind.SENSOR_SILENT,
            subject=f"sensor:{phase}",
            urgency=Urgency.TODAY,
            phase=phase,
            since_ms=NOW_MS - 2 * HOUR_MS,
            reason=f"sensor {phase} in drying is silent: last heard today 9:40.",
            next_action="Look to its battery, its place and the broker.",
            **more,  # type: ignore[arg-type]
        )

    raised = NOW_MS - HOUR_MS
    these = [
        alert(AlertPhase.WATCHING),
        alert(AlertPhase.RAISED, raised_ms=raised),
        alert(AlertPhase.CLEARED, raised_ms=raised, cleared_ms=NOW_MS - HOUR_MS // 2),
    ]
    with kept() as store:
        return {str(a.phase): store.alerts.save(a, at_ms=raised).id for a in these}


def test_only_those_that_stand_are_listed_unless_all_are_asked(
    curewatch: Curewatch, alerts: dict[str, int]
) -> None:
    assert [a["id"] for a in curewatch("alert", "list", "--json").plain] == [alerts["raised"]]
    everything = curewatch("alert", "list", "--all", "--json").plain
    assert {a["phase"]: a["id"] for a in everything} == alerts


def test_an_alert_reads_as_what_why_and_what_next(
    curewatch: Curewatch, alerts: dict[str, int]
) -> None:
    said = curewatch("alert", "list", "--all")
    assert said.narrow()
    number = alerts["raised"]
    assert (
        f"[{number}] to do today: Sensor raised: not heard from (raised today 11:00)" in said.flat
    )
    assert "Next: Look to its battery" in said.flat
    assert "(cleared today 11:30)" in said.flat
    assert "(watching)" in said.flat


def test_a_seen_alert_says_who_has_it_and_when(
    curewatch: Curewatch, alerts: dict[str, int], kept: Callable[[], Store]
) -> None:
    number = str(alerts["raised"])
    said = curewatch("alert", "seen", number, "--by", "Ines")
    assert f"Alert {number} is with Ines now" in said.flat
    with kept() as store:
        alert = store.alerts.get(alerts["raised"])
    assert (alert.phase, alert.seen_by, alert.seen_ms) == (AlertPhase.SEEN, "Ines", NOW_MS)
    assert "(seen by Ines, today 12:00)" in curewatch("alert", "list").flat


def test_who_has_it_is_the_user_unless_told(curewatch: Curewatch, alerts: dict[str, int]) -> None:
    assert curewatch("alert", "seen", str(alerts["raised"]), "--json").plain["seen_by"]


@pytest.mark.parametrize(
    ("words", "until_ms"),
    [
        (("--for", "2h"), NOW_MS + 2 * HOUR_MS),
        (("--until", "tomorrow 9:00"), NOW_MS + 21 * HOUR_MS),
        (("--until", "2026-03-05T14:30:00+01:00"), NOW_MS + HOUR_MS + HOUR_MS // 2),
    ],
)
def test_a_resting_alert_is_put_aside_until_then(
    curewatch: Curewatch,
    alerts: dict[str, int],
    kept: Callable[[], Store],
    words: tuple[str, ...],
    until_ms: int,
) -> None:
    curewatch("alert", "rest", str(alerts["raised"]), *words)
    with kept() as store:
        alert = store.alerts.get(alerts["raised"])
    assert (alert.phase, alert.rest_until_ms) == (AlertPhase.RESTING, until_ms)
    assert "(resting until " in curewatch("alert", "list").flat


@pytest.mark.parametrize("words", [("--for", "0h"), ("--for", "soon"), ("--until", "9:00")])
def test_a_rest_that_is_over_or_none_is_refused(
    curewatch: Curewatch, alerts: dict[str, int], words: tuple[str, ...]
) -> None:
    curewatch("alert", "rest", str(alerts["raised"]), *words, status=2)


def test_a_rest_of_more_than_a_year_is_refused(
    curewatch: Curewatch, alerts: dict[str, int]
) -> None:
    said = curewatch("alert", "rest", str(alerts["raised"]), "--for", "999999999d", status=2)
    assert "a year at most" in said.complaint


def test_alerts_that_are_cleared_or_unknown_cannot_be_taken(
    curewatch: Curewatch, alerts: dict[str, int]
) -> None:
    said = curewatch("alert", "seen", str(alerts["cleared"]), status=2)
    assert "is cleared already" in said.complaint
    assert "no alert with number 999" in curewatch("alert", "seen", "999", status=2).complaint


def test_the_history_tells_every_step_newest_first(
    curewatch: Curewatch, alerts: dict[str, int]
) -> None:
    curewatch("alert", "seen", str(alerts["raised"]))
    steps = curewatch("alert", "history", "--json").plain
    assert steps[0]["phase"] == "seen"
    assert len(steps) == 4
    assert len(curewatch("alert", "history", "--limit", "2", "--json").plain) == 2
    said = curewatch("alert", "history")
    assert said.narrow()
    assert "today 12:00 [2] seen: Sensor raised: not heard from" in said.flat
    curewatch("alert", "history", "--limit", "0", status=2)


def test_all_of_it_works_beside_a_running_daemon(
    curewatch: Curewatch, alerts: dict[str, int], shop_config: Path
) -> None:
    with daemon_lock(shop_config.parent / "shop.db"):
        curewatch("alert", "seen", str(alerts["raised"]))


@pytest.mark.parametrize("where", ["before", "behind"])
def test_json_may_stand_before_or_behind_the_deed(
    curewatch: Curewatch, alerts: dict[str, int], where: str
) -> None:
    words = ("--json", "list") if where == "before" else ("list", "--json")
    assert [a["id"] for a in curewatch("alert", *words).plain] == [alerts["raised"]]


def test_a_quiet_shop_says_so(curewatch: Curewatch) -> None:
    assert "No alert stands; nobody raises any while" in curewatch("alert", "list").flat
    assert curewatch("alert", "history").out == "No alert was ever raised.\n"
    assert curewatch("alert", "list", "--json").plain == []


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("2h", 120), ("30min", 30), ("1d", 1440), ("1d 12h", 2160), ("1.5 h", 90), ("1H30min", 90)],
)
def test_spans_are_read_as_people_write_them(text: str, minutes: int) -> None:
    assert span_ms(text) == minutes * 60_000


@pytest.mark.parametrize("text", ["", "h", "2", "-2h", "2h ago", "0min", "two hours"])
def test_what_is_no_span_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="is not a span"):
        span_ms(text)
