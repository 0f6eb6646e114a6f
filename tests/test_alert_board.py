"""Alerts on MQTT: events in order and at least once, and the list of those that stand."""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from jsonschema import Draft202012Validator

from curewatch import alert_board
from curewatch.alert_board import MOST_LISTED, AlertBoard
from curewatch.errors import TransportError
from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.reading import Urgency
from curewatch.storage import Store

if TYPE_CHECKING:
    from collections.abc import Iterator

T0_MS = 1_772_668_800_000
MINUTE_MS = 60_000
SCHEMAS = Path(__file__).parents[1] / "docs" / "schemas"


@dataclass
class Post:
    """A message that the test lets arrive."""

    settled: bool


@dataclass
class Line:
    """A line that keeps what it was given, may be down, and acknowledges when it is told."""

    sent: list[tuple[str, dict[str, Any], bool]] = field(default_factory=list)
    posts: list[Post] = field(default_factory=list)
    down: bool = False
    never: str = ""
    acknowledges: bool = True

    def publish(self, topic: str, payload: str, *, retain: bool, qos: int) -> Post:
        """Take a message."""
        assert qos == 1
        if self.down:
            raise TransportError("no connection", retry=True)
        if topic == self.never:
            raise TransportError("cannot be published", retry=False)
        self.sent.append((topic, json.loads(payload), retain))
        self.posts.append(Post(self.acknowledges))
        return self.posts[-1]

    def events(self) -> list[tuple[str, str]]:
        """Return subject and phase of every event so far, and forget them."""
        found = [(m["subject"], m["phase"]) for topic, m, _ in self.sent if topic.endswith("alert")]
        self.sent.clear()
        return found


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "shop.db") as opened:
        yield opened


def raised(
    store: Store, name: str, urgency: Urgency = Urgency.TODAY, at_ms: int = T0_MS, **facts: object
) -> Alert:
    alert = Alert(
        kind=AlertKind.SURFACE_DEW,
        subject=name,
        urgency=urgency,
        phase=AlertPhase.RAISED,
        since_ms=at_ms - MINUTE_MS,
        reason="a surface near the dew point",
        next_action="warm it",
        raised_ms=at_ms,
    )
    return store.alerts.save(replace(alert, **facts), at_ms=at_ms)  # type: ignore[arg-type]


def board(store: Store, line: Line) -> AlertBoard:
    return AlertBoard(store, site="yard", line=line)


def matches(name: str, message: dict[str, Any]) -> None:
    schema = json.loads((SCHEMAS / f"{name}.schema.json").read_text("utf-8"))
    Draft202012Validator(schema).validate(message)


def test_every_phase_an_alert_comes_to_is_an_event_in_its_order(store: Store) -> None:
    line = Line()
    said = board(store, line)
    alert = raised(store, "room:loft")
    store.alerts.mark_seen(alert.id, "Ada", T0_MS + 1)
    store.alerts.rest(alert.id, T0_MS + 9, T0_MS + 2)
    store.alerts.save(replace(alert, phase=AlertPhase.CLEARED, cleared_ms=T0_MS + 3))
    said.tell(T0_MS + 4, generation=1)
    events = [message for topic, message, _ in line.sent if topic == "curewatch/yard/alert"]
    assert [event["phase"] for event in events] == ["raised", "seen", "resting", "cleared"]
    assert [event["at"][-5:] for event in events] == [".000Z", ".001Z", ".002Z", ".003Z"]
    for event in events:
        matches("alert", event)
    assert not any(retain for topic, _, retain in line.sent if topic.endswith("/alert"))


def test_what_is_only_watched_and_what_has_another_reason_calls_nobody(store: Store) -> None:
    line = Line()
    said = board(store, line)
    raised(store, "room:a", phase=AlertPhase.WATCHING, raised_ms=None)
    alert = raised(store, "room:b")
    store.alerts.save(replace(alert, reason="nearer"), at_ms=T0_MS + 1)
    said.tell(T0_MS, generation=1)
    assert line.events() == [("room:b", "raised")]


def test_an_event_is_told_once_and_not_again_after_a_restart(store: Store) -> None:
    line = Line()
    said = board(store, line)
    raised(store, "room:loft")
    said.tell(T0_MS, generation=1)
    said.tell(T0_MS, generation=1)  # takes notice that it arrived
    assert line.events() == [("room:loft", "raised")]
    board(store, line).tell(T0_MS, generation=1)
    assert line.events() == []


def test_what_happened_while_nobody_ran_is_told_at_the_next_start(store: Store) -> None:
    line = Line()
    board(store, line)
    raised(store, "room:loft")
    board(store, line).tell(T0_MS, generation=1)
    assert line.events() == [("room:loft", "raised")]


def test_the_past_of_a_shop_that_never_told_is_left_alone(store: Store) -> None:
    raised(store, "room:loft")
    line = Line()
    board(store, line).tell(T0_MS, generation=1)
    assert line.events() == []


def test_an_event_that_the_broker_did_not_take_is_told_on_the_next_connection(
    store: Store,
) -> None:
    line = Line(acknowledges=False)
    said = board(store, line)
    raised(store, "room:a")
    said.tell(T0_MS, generation=1)
    said.tell(T0_MS, generation=1)
    assert line.events() == [("room:a", "raised")]
    said.tell(T0_MS, generation=2)
    assert line.events() == [("room:a", "raised")]
    board(store, line).tell(T0_MS, generation=1)  # killed meanwhile
    assert line.events() == [("room:a", "raised")]


def test_while_the_line_is_down_events_wait(store: Store) -> None:
    line = Line(down=True)
    said = board(store, line)
    raised(store, "room:a")
    said.tell(T0_MS, generation=0)
    raised(store, "room:b")
    line.down = False
    said.tell(T0_MS, generation=1)
    assert line.events() == [("room:a", "raised"), ("room:b", "raised")]


def test_of_very_many_that_waited_the_newest_are_told(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(alert_board, "MOST_WAITING", 2)
    line = Line()
    said = board(store, line)
    for number in range(5):
        raised(store, f"room:{number}")
    said.tell(T0_MS, generation=1)
    assert line.events() == [("room:3", "raised"), ("room:4", "raised")]


def test_many_are_told_a_few_at_a_time(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alert_board, "AT_ONCE", 2)
    line = Line()
    said = board(store, line)
    for number in range(3):
        raised(store, f"room:{number}")
    said.tell(T0_MS, generation=1)
    assert len(line.events()) == 2
    said.tell(T0_MS, generation=1)
    assert line.events() == [("room:2", "raised")]


def test_an_event_that_can_never_be_sent_holds_up_no_other(
    store: Store, caplog: pytest.LogCaptureFixture
) -> None:
    line = Line(never="curewatch/yard/alert")
    said = board(store, line)
    raised(store, "room:a")
    said.tell(T0_MS, generation=1)
    said.tell(T0_MS, generation=1)
    assert [topic for topic, *_ in line.sent] == ["curewatch/yard/alerts"]
    assert caplog.text.count("not tried again") == 1


def listed(line: Line) -> dict[str, Any]:
    return [message for topic, message, _ in line.sent if topic.endswith("/alerts")][-1]


def test_the_list_is_retained_and_says_whom_the_most_urgent_calls(store: Store) -> None:
    line = Line()
    said = board(store, line)
    said.tell(T0_MS, generation=1)
    assert (listed(line)["call"], listed(line)["standing"]) == ("quiet", 0)
    matches("alerts", listed(line))
    raised(store, "pot:P1", Urgency.NOTE)
    urgent = raised(store, "room:loft", Urgency.NOW)
    raised(store, "room:watched", phase=AlertPhase.WATCHING, raised_ms=None)
    said.tell(T0_MS, generation=1)
    told = listed(line)
    assert (told["call"], told["standing"]) == ("now", 2)
    assert told["raised"] == {"now": 1, "today": 0, "note": 1}
    assert [alert["subject"] for alert in told["alerts"]] == ["room:loft", "pot:P1"]
    matches("alerts", told)
    store.alerts.mark_seen(urgent.id, "Ada", T0_MS + 1)
    said.tell(T0_MS, generation=1)
    told = listed(line)
    assert (told["call"], told["standing"]) == ("note", 2)
    assert all(retain for topic, _, retain in line.sent if topic.endswith("/alerts"))


def test_the_list_is_said_again_on_a_new_connection_and_else_when_it_changes(
    store: Store,
) -> None:
    line = Line()
    said = board(store, line)
    for generation, minute in ((1, 0), (1, 1), (2, 1)):
        said.tell(T0_MS + minute * MINUTE_MS, generation=generation)
    assert len(line.sent) == 2


def test_a_very_long_list_is_cut_and_its_length_told(store: Store) -> None:
    line = Line()
    said = board(store, line)
    for number in range(MOST_LISTED + 5):
        raised(store, f"room:{number}")
    said.tell(T0_MS, generation=1)
    told = listed(line)
    assert (len(told["alerts"]), told["standing"]) == (MOST_LISTED, MOST_LISTED + 5)


@pytest.mark.parametrize("name", ["alert", "alerts"])
def test_the_schemas_know_every_kind_of_alert(name: str) -> None:
    schema = json.loads((SCHEMAS / f"{name}.schema.json").read_text("utf-8"))
    part = schema["$defs"]["alert"] if name == "alerts" else schema
    assert set(part["properties"]["kind"]["enum"]) == set(AlertKind)
    assert set(part["properties"]["urgency"]["enum"]) == set(Urgency)
