from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadInput
from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.piece import Fill
from curewatch.shop.reading import Quantity, Rejected, RejectReason, Urgency

if TYPE_CHECKING:
    from curewatch.storage import Store

ALERT = Alert(
    AlertKind.SURFACE_DEW,
    "room:booth",
    Urgency.NOW,
    AlertPhase.WATCHING,
    since_ms=100,
    reason="2.1 K above the dew point",
    next_action="warm the pieces",
)


def test_rejections_are_counted_by_sensor_quantity_and_reason(store: Store) -> None:
    def rejected(at: int, detail: str, quantity: Quantity | None = None) -> Rejected:
        return Rejected("s1", RejectReason.OUT_OF_RANGE, at, detail, quantity)

    store.rejections.add([rejected(20, "200"), rejected(30, "300"), rejected(10, "100")])
    store.rejections.add([rejected(25, "250"), rejected(5, "rh", Quantity.HUMIDITY)])
    store.rejections.add([Rejected("s2", RejectReason.NOT_JSON, 7, "{")])
    store.rejections.add([])
    whole, humidity = store.rejections.summary("s1")
    assert (whole.quantity, whole.count, whole.first_ms, whole.last_ms, whole.detail) == (
        None,
        4,
        10,
        30,
        "300",
    )
    assert (humidity.quantity, humidity.count) == (Quantity.HUMIDITY, 1)
    assert [row.sensor for row in store.rejections.summary()] == ["s1", "s1", "s2"]


def test_fills_of_a_room_come_in_order_and_can_be_voided(store: Store) -> None:
    later = store.fills.add(Fill("booth", 50, 60, 20.0, 0.5, "heater was on"), 99)
    store.fills.add(Fill("booth", 10, 20, 18.0, 0.6, "as the night before"), 99)
    store.fills.add(Fill("loft", 10, 20, 18.0, 0.6, "same"), 99)
    assert [fill.start_ms for fill in store.fills.for_room("booth")] == [10, 50]
    assert store.fills.for_room("booth")[1] == Fill(
        "booth", 50, 60, 20.0, 0.5, "heater was on", later
    )
    store.fills.void(later, "it was off", 100)
    assert [fill.start_ms for fill in store.fills.for_room("booth")] == [10]
    assert [(t.room, t.from_ms) for t in store.touched.since(0)[1]] == [
        ("booth", 50),
        ("booth", 10),
        ("loft", 10),
        ("booth", 50),
    ]


def test_a_fill_needs_a_range_and_a_reason(store: Store) -> None:
    with pytest.raises(BadInput, match="is empty: give its start before its end"):
        store.fills.add(Fill("booth", 10, 10, 20.0, 0.5, "why"), 99)
    with pytest.raises(BadInput, match="needs a reason"):
        store.fills.add(Fill("booth", 10, 20, 20.0, 0.5, " "), 99)


def test_a_finish_gets_a_new_revision_only_when_its_text_differs(store: Store) -> None:
    keep = store.finishes.keep
    assert [keep("oil", text, 5) for text in ("a", "a", "b", "b", "a")] == [1, 1, 2, 2, 3]
    assert keep("shellac", "a", 6) == 1
    assert store.finishes.text("oil", 2) == "b"
    assert store.finishes.latest("oil") == (3, "a")
    assert store.finishes.latest("wax") is None
    assert [(f.name, f.revision, f.at_ms) for f in store.finishes.all()] == [
        ("oil", 1, 5),
        ("oil", 2, 5),
        ("oil", 3, 5),
        ("shellac", 1, 6),
    ]


def test_a_revision_that_was_never_kept_is_named(store: Store) -> None:
    store.finishes.keep("oil", "a", 5)
    with pytest.raises(BadInput, match="no revision 2 of the finish 'oil': kept are 1"):
        store.finishes.text("oil", 2)
    with pytest.raises(BadInput, match="none was ever kept; 'curewatch finish list'"):
        store.finishes.text("wax", 1)


def test_a_sensors_place_is_written_only_when_it_changes(store: Store) -> None:
    told = [("booth", 10), ("booth", 20), ("loft", 30), ("loft", 40), ("booth", 50)]
    assert [store.places.place("s1", *place) for place in told] == [True, False, True, False, True]
    assert store.places.place("s1", "cellar", 35)
    assert store.places.place("s1", "yard", 35)
    assert store.places.place("s2", "loft", 5)
    assert store.places.history() == {
        "s1": ((10, "booth"), (30, "loft"), (35, "yard"), (50, "booth")),
        "s2": ((5, "loft"),),
    }


def test_an_alert_goes_through_its_life_with_a_step_for_each_phase(store: Store) -> None:
    watching = store.alerts.save(ALERT)
    raised = store.alerts.save(replace(watching, phase=AlertPhase.RAISED, raised_ms=200))
    assert raised.id == watching.id > 0
    store.alerts.rest(raised.id, 900, 300)
    assert store.alerts.active() == (replace(raised, phase=AlertPhase.RESTING, rest_until_ms=900),)
    seen = store.alerts.mark_seen(raised.id, "Ann", 400)
    assert (seen.seen_by, seen.seen_ms, seen.rest_until_ms) == ("Ann", 400, None)
    store.alerts.save(replace(seen, phase=AlertPhase.CLEARED, cleared_ms=500))
    assert store.alerts.active() == ()
    assert [(e.phase, e.at_ms) for e in store.alerts.history()] == [
        (AlertPhase.CLEARED, 500),
        (AlertPhase.SEEN, 400),
        (AlertPhase.RESTING, 300),
        (AlertPhase.RAISED, 200),
        (AlertPhase.WATCHING, 100),
    ]
    assert [e.at_ms for e in store.alerts.history(limit=2, since_ms=300)] == [500, 400]


def test_the_same_again_is_no_step_and_a_new_reason_is_one(store: Store) -> None:
    alert = store.alerts.save(ALERT)
    store.alerts.save(alert)
    store.alerts.save(replace(alert, reason="1.4 K above the dew point"), at_ms=150)
    assert [(e.at_ms, e.reason) for e in store.alerts.history()] == [
        (150, "1.4 K above the dew point"),
        (100, "2.1 K above the dew point"),
    ]


def test_one_subject_has_one_active_alert_of_a_kind(store: Store) -> None:
    first = store.alerts.save(ALERT)
    assert store.alerts.save(replace(ALERT, reason="again")).id == first.id
    store.alerts.save(replace(first, phase=AlertPhase.CLEARED, cleared_ms=500))
    assert store.alerts.save(replace(ALERT, since_ms=600)).id != first.id


def test_an_alert_seen_by_saving_it_takes_the_time_it_says(store: Store) -> None:
    store.alerts.save(replace(ALERT, phase=AlertPhase.SEEN, seen_ms=130, seen_by="Ann"))
    assert store.alerts.history()[0].at_ms == 130
    with pytest.raises(BadInput, match="is resting but not since when"):
        store.alerts.save(replace(ALERT, phase=AlertPhase.RESTING, rest_until_ms=900))
    with pytest.raises(BadInput, match="is raised but not since when"):
        store.alerts.save(replace(ALERT, phase=AlertPhase.RAISED))


def test_what_cannot_be_seen_or_rested_says_why(store: Store) -> None:
    with pytest.raises(BadInput, match="no alert with number 7: 'curewatch alert list'"):
        store.alerts.mark_seen(7, "Ann", 1)
    alert = store.alerts.save(ALERT)
    with pytest.raises(BadInput, match="still to come"):
        store.alerts.rest(alert.id, 100, 100)
    store.alerts.save(replace(alert, phase=AlertPhase.CLEARED, cleared_ms=500))
    with pytest.raises(BadInput, match=r"alert 1 \(surface-dew, room:booth\) is cleared already"):
        store.alerts.mark_seen(alert.id, "Ann", 600)


def test_a_notice_is_told_once_for_each_step_of_an_alert(store: Store) -> None:
    number = store.notices.enqueue(1, "raised", "title", "body", 100)
    assert number is not None
    assert store.notices.enqueue(1, "raised", "other", "other", 200) is None
    assert (store.notices.enqueue(1, "cleared", "title", "body", 300) or 0) > number
    assert [n.event for n in store.notices.due(250)] == ["raised"]
    assert [n.event for n in store.notices.due(300, limit=1)] == ["raised"]
    assert [n.event for n in store.notices.recent()] == ["cleared", "raised"]
    assert len(store.notices.recent(1)) == 1


def test_a_notice_stays_due_until_it_is_sent_or_given_up(store: Store) -> None:
    first = store.notices.enqueue(1, "raised", "title", "body", 100)
    second = store.notices.enqueue(2, "raised", "title", "body", 110)
    third = store.notices.enqueue(3, "raised", "title", "body", 120)
    assert first is not None
    assert second is not None
    assert third is not None
    store.notices.failed(first, "no route", 500)
    store.notices.failed(second, "bad address", None)
    assert [n.id for n in store.notices.due(499)] == [third]
    (waiting,) = [n for n in store.notices.due(500) if n.id == first]
    assert (waiting.tries, waiting.error, waiting.next_try_ms) == (1, "no route", 500)
    pending = store.notices.pending()
    assert (pending.waiting, pending.failing, pending.given_up, pending.oldest_ms) == (1, 1, 1, 100)
    store.notices.sent(first, 510)
    store.notices.failed(first, "late answer", 900)
    store.notices.sent(third, 511)
    assert store.notices.due(10**6) == ()
    assert store.notices.pending().oldest_ms is None
    done = store.notices.recent()[-1]
    assert (done.sent_ms, done.next_try_ms, done.error) == (510, None, "")
