from __future__ import annotations

import json
import subprocess
import sys
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from jsonschema import Draft202012Validator, FormatChecker

from curewatch import telling
from curewatch.assembly import load_heard, load_pieces
from curewatch.errors import StorageError
from curewatch.outbound.notify import Delivery, NoticeResult, OutgoingNotice
from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.assessment import assess_piece, assess_room
from curewatch.shop.piece import Work, WorkKind
from curewatch.shop.plain import room_plain
from curewatch.shop.reading import Rejected, RejectReason, Urgency
from curewatch.shop.watch import Watch
from curewatch.storage import database
from curewatch.telling import STANDING, Alarm, Postbox, StateBoard, judged_ms
from tests.small_shop import HOUR_MS, MINUTE_MS, T0_MS, SmallShop

if TYPE_CHECKING:
    from collections.abc import Iterator

DAY_MS = 24 * HOUR_MS
SCHEMAS = Path(__file__).parents[1] / "docs" / "schemas"
TELL = '[notify]\nurls = ["json://127.0.0.1:9/x"]\n'
HOLDER = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("BEGIN IMMEDIATE")
print("held", flush=True)
sys.stdin.read()
"""


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[SmallShop]:
    """Open a small shop that tells people."""
    opened = SmallShop.open(tmp_path, config=TELL)
    yield opened
    opened.store.close()


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Let another process hold the database's write lock."""
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(folder / "shop.db")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert holder.stdout is not None
    assert holder.stdin is not None
    assert holder.stdout.readline() == b"held\n"
    yield
    holder.stdin.close()
    holder.wait(10)
    holder.stdout.close()


def alarm(yard: SmallShop) -> Alarm:
    return Alarm(yard.store, yard.shop, yard.watch, yard.settings)


def silent(yard: SmallShop, sensor: str = "rack") -> Alert | None:
    """Return the alert that a sensor is silent."""
    return next(
        (
            alert
            for alert in yard.store.alerts.active()
            if (alert.kind, alert.subject) == (AlertKind.SENSOR_SILENT, f"sensor:{sensor}")
        ),
        None,
    )


def events(yard: SmallShop, alert: Alert) -> list[str]:
    """Return the notices of an alert by their event's first word, in order."""
    return [
        notice.event.partition(" ")[0]
        for notice in reversed(yard.store.notices.recent(1000))
        if notice.alert_id == alert.id
    ]


# ---- alerts


def test_an_alert_and_its_notice_are_written_together(yard: SmallShop) -> None:
    yard.climate(T0_MS - HOUR_MS, T0_MS + 1)
    bell = alarm(yard)
    bell.bring_to(T0_MS)
    assert silent(yard) is None
    changed = bell.bring_to(T0_MS + 40 * MINUTE_MS)
    alert = silent(yard)
    assert alert is not None
    assert alert in changed
    # 30 min is the longest silence of a sensor that reports every ten: the minute after it
    assert alert.raised_ms == T0_MS + 31 * MINUTE_MS
    (notice,) = (n for n in yard.store.notices.recent() if n.alert_id == alert.id)
    assert notice.title == "Sensor rack: not heard from"
    assert alert.reason in notice.body
    assert notice.next_try_ms == alert.raised_ms


def test_an_alert_that_holds_is_told_once_and_is_cleared_without_a_notice(
    yard: SmallShop,
) -> None:
    yard.climate(T0_MS - HOUR_MS, T0_MS + 1)
    bell = alarm(yard)
    bell.bring_to(T0_MS)
    for minute in range(1, 121):
        bell.bring_to(T0_MS + minute * MINUTE_MS)
    alert = silent(yard)
    assert alert is not None
    assert events(yard, alert) == ["raised"]
    stop_ms = T0_MS + 121 * MINUTE_MS
    yard.climate(stop_ms, stop_ms + 1)
    load_heard(yard.store, yard.shop)
    changed = bell.bring_to(stop_ms)
    assert silent(yard) is None
    assert [(a.id, a.phase) for a in changed if a.id == alert.id] == [
        (alert.id, AlertPhase.CLEARED)
    ]
    assert events(yard, alert) == ["raised"]


def test_a_minute_is_stepped_once_however_often_it_is_asked_for(yard: SmallShop) -> None:
    bell = alarm(yard)
    bell.bring_to(T0_MS + HOUR_MS)
    assert bell.bring_to(T0_MS + HOUR_MS + MINUTE_MS - 1) == []
    assert bell.stepped_ms == T0_MS + HOUR_MS


def test_a_restart_goes_on_where_it_was_and_tells_nothing_twice(
    yard: SmallShop, tmp_path: Path
) -> None:
    alarm(yard).bring_to(T0_MS)
    alarm(yard).bring_to(T0_MS + HOUR_MS)
    alert = silent(yard)
    assert alert is not None
    yard.store.close()
    again = SmallShop.open(tmp_path, config=TELL, now_ms=T0_MS + 2 * HOUR_MS)
    again.shop.began_ms = T0_MS
    bell = alarm(again)
    assert bell.stepped_ms == T0_MS + HOUR_MS
    bell.bring_to(T0_MS + 2 * HOUR_MS)
    assert silent(again) == alert
    assert events(again, alert) == ["raised"]
    again.store.close()


def test_after_days_away_only_the_last_day_is_gone_through(yard: SmallShop) -> None:
    stepped: list[int] = []

    class Counting(Watch):
        def step(self, now_ms: int) -> list[Alert]:
            stepped.append(now_ms)
            return super().step(now_ms)

    yard.watch = Counting(yard.shop)
    bell = alarm(yard)
    bell.bring_to(T0_MS)
    stepped.clear()
    bell.bring_to(T0_MS + 9 * DAY_MS)
    assert (stepped[0], stepped[-1]) == (T0_MS + 8 * DAY_MS, T0_MS + 9 * DAY_MS)
    assert len(stepped) == 1441


def test_a_clock_that_was_set_back_silences_nothing(yard: SmallShop) -> None:
    bell = alarm(yard)
    bell.bring_to(T0_MS + 30 * DAY_MS)  # it had run a month ahead
    for alert in yard.store.alerts.active():
        yard.store.alerts.save(
            replace(alert, phase=AlertPhase.CLEARED, cleared_ms=T0_MS), at_ms=T0_MS
        )
    yard.watch.replace_alerts(())
    yard.shop.began_ms = T0_MS
    bell.bring_to(T0_MS)
    assert bell.stepped_ms == T0_MS
    bell.bring_to(T0_MS + HOUR_MS)
    assert silent(yard) is not None


def test_a_step_that_could_not_be_written_is_taken_again_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "BUSY_TIMEOUT_MS", 20)
    yard = SmallShop.open(tmp_path, config=TELL)
    yard.hang("A1", "waterborne", T0_MS - 10 * HOUR_MS, planned=3)
    yard.climate(T0_MS - 12 * HOUR_MS, T0_MS + 1)
    bell = alarm(yard)
    with locked(tmp_path), pytest.raises(StorageError):
        bell.bring_to(T0_MS)
    assert yard.store.alerts.active() == ()
    refused: list[str] = []

    class Failing:
        """Refuses notices, as a full disk would in the middle of a step."""

        def enqueue(self, *what: object) -> None:
            refused.append(str(what[1]))
            raise StorageError("the disk is full")

    with monkeypatch.context() as full:
        full.setattr(yard.store, "notices", Failing())
        with pytest.raises(StorageError, match="full"):
            bell.bring_to(T0_MS)
    assert refused
    assert yard.store.alerts.active() == ()
    assert bell.stepped_ms is None
    bell.bring_to(T0_MS)
    found = {alert.kind: alert for alert in yard.store.alerts.active()}
    told = next(alert for kind, alert in found.items() if kind.startswith("recoat-"))
    assert told.subject == "piece:A1"
    assert told.id
    assert events(yard, told) == ["raised"]
    yard.store.close()


def test_a_muted_kind_stands_on_the_list_and_is_told_to_nobody(tmp_path: Path) -> None:
    yard = SmallShop.open(tmp_path, config=TELL + 'mute = ["sensor-silent"]\n')
    bell = alarm(yard)
    bell.bring_to(T0_MS)
    bell.bring_to(T0_MS + HOUR_MS)
    assert silent(yard) is not None
    assert yard.store.notices.recent() == ()
    yard.store.close()


def test_without_an_address_no_notice_piles_up(tmp_path: Path) -> None:
    yard = SmallShop.open(tmp_path)
    bell = alarm(yard)
    bell.bring_to(T0_MS)
    bell.bring_to(T0_MS + HOUR_MS)
    assert silent(yard) is not None
    assert yard.store.notices.recent() == ()
    yard.store.close()


def test_what_nobody_has_seen_is_told_again_and_what_someone_has_is_not(tmp_path: Path) -> None:
    yard = SmallShop.open(tmp_path, config=TELL + "repeat_h = 6\n")
    bell = alarm(yard)
    bell.bring_to(T0_MS)
    bell.bring_to(T0_MS + HOUR_MS)
    rack, bare = silent(yard), silent(yard, "bare")
    assert rack is not None
    assert bare is not None
    yard.watch.note(yard.store.alerts.mark_seen(bare.id, "Ines", T0_MS + HOUR_MS))
    bell.bring_to(T0_MS + 14 * HOUR_MS)
    assert events(yard, rack) == ["raised", "repeated", "repeated"]
    assert events(yard, bare) == ["raised"]
    bell.bring_to(T0_MS + 14 * HOUR_MS, again=True)
    assert len(events(yard, rack)) == 3
    yard.store.close()


def test_a_mere_note_is_not_told_again(tmp_path: Path) -> None:
    yard = SmallShop.open(tmp_path, config=TELL + "repeat_h = 1\n")
    yard.hang("A1", "waterborne", T0_MS - 5 * HOUR_MS, planned=3)
    yard.climate(T0_MS - 12 * HOUR_MS, T0_MS + 8 * HOUR_MS)
    bell = alarm(yard)
    bell.bring_to(T0_MS)
    bell.bring_to(T0_MS + 5 * HOUR_MS)
    (opened,) = (a for a in yard.store.alerts.active() if a.subject == "piece:A1")
    assert opened.urgency is Urgency.NOTE
    assert events(yard, opened) == ["raised"]
    yard.store.close()


# ---- notices


@dataclass
class FakeSender:
    """Takes notices, and answers when the test says so."""

    offered: list[OutgoingNotice] = field(default_factory=list)
    answers: list[NoticeResult] = field(default_factory=list)

    def offer(self, notice: OutgoingNotice) -> bool:
        """Take a notice."""
        self.offered.append(notice)
        return True

    def results(self) -> tuple[NoticeResult, ...]:
        """Return what is known since last time."""
        found = tuple(self.answers)
        self.answers.clear()
        return found


def postbox(yard: SmallShop) -> tuple[Postbox, FakeSender]:
    sender = FakeSender()
    return Postbox(yard.store, yard.settings, sender), sender  # type: ignore[arg-type]  # a fake


def enqueued(yard: SmallShop, urgency: Urgency, *, name: str = "x", at_ms: int = T0_MS) -> int:
    """Put a notice of an alert of some urgency in the outbox; return its number."""
    alert = Alert(
        kind=AlertKind.GAP,
        subject=f"room:loft#{name}",
        urgency=urgency,
        phase=AlertPhase.RAISED,
        since_ms=at_ms,
        reason="A reason.",
        next_action="A job.",
        raised_ms=at_ms,
    )
    kept = yard.store.alerts.save(alert)
    number = yard.store.notices.enqueue(kept.id, "raised", "title", "body", at_ms)
    assert number is not None
    return number


def test_a_due_notice_is_offered_until_its_delivery_is_known(yard: SmallShop) -> None:
    box, sender = postbox(yard)
    number = enqueued(yard, Urgency.TODAY)
    box.work(T0_MS - 1)
    assert sender.offered == []
    box.work(T0_MS)
    assert [notice.id for notice in sender.offered] == [number]
    failed = NoticeResult(
        number, (Delivery("json://x", delivered=False, why="refused"),), False, retry_in_s=60.0
    )
    sender.answers, sender.offered = [failed], []
    box.work(T0_MS + 1000)
    assert sender.offered == []
    (kept,) = yard.store.notices.recent()
    assert (kept.tries, kept.error) == (1, "json://x: refused")
    assert kept.next_try_ms == T0_MS + 61_000
    box.work(T0_MS + 61_000)
    assert [notice.id for notice in sender.offered] == [number]
    sender.answers = [NoticeResult(number, (), delivered=True)]
    box.work(T0_MS + 62_000)
    assert yard.store.notices.pending().waiting == 0
    assert yard.store.notices.recent()[0].sent_ms == T0_MS + 62_000


def test_a_delivery_that_could_not_be_written_down_is_written_next_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "BUSY_TIMEOUT_MS", 20)
    yard = SmallShop.open(tmp_path, config=TELL)
    box, sender = postbox(yard)
    number = enqueued(yard, Urgency.NOW)
    box.work(T0_MS)
    sender.answers = [NoticeResult(number, (), delivered=True)]
    with locked(tmp_path), pytest.raises(StorageError):
        box.work(T0_MS + 1)
    sender.offered = []
    box.work(T0_MS + 2)
    assert sender.offered == []  # or people would hear it twice
    assert yard.store.notices.recent()[0].sent_ms == T0_MS + 2
    yard.store.close()


QUIET = TELL + 'quiet_hours = "22:00-07:00"\n'


@pytest.mark.parametrize(
    ("hour", "lets_through", "offered"),
    [
        (23, "now", {"now"}),
        (6, "now", {"now"}),
        (7, "now", {"now", "today", "note"}),
        (21, "now", {"now", "today", "note"}),
        (23, "nothing", set()),
    ],
)
def test_in_quiet_hours_only_what_cannot_wait_goes_out(
    tmp_path: Path, hour: int, lets_through: str, offered: set[str]
) -> None:
    yard = SmallShop.open(tmp_path, config=QUIET + f'quiet_lets_through = "{lets_through}"\n')
    numbers = {enqueued(yard, urgency, name=urgency): str(urgency) for urgency in Urgency}
    box, sender = postbox(yard)
    box.work(T0_MS + hour * HOUR_MS)
    assert {numbers[notice.id] for notice in sender.offered} == offered
    yard.store.close()


def test_many_notices_held_overnight_do_not_hide_an_urgent_one(tmp_path: Path) -> None:
    yard = SmallShop.open(tmp_path, config=QUIET)
    with yard.store.db.transaction():
        for number in range(150):
            enqueued(yard, Urgency.NOTE, name=str(number))
        urgent = enqueued(yard, Urgency.NOW, name="urgent")
    box, sender = postbox(yard)
    box.work(T0_MS + 23 * HOUR_MS)
    assert [notice.id for notice in sender.offered] == [urgent]
    yard.store.close()


def test_without_a_sender_nothing_happens(yard: SmallShop) -> None:
    enqueued(yard, Urgency.NOW)
    Postbox(yard.store, yard.settings, None).work(T0_MS)
    assert yard.store.notices.pending().waiting == 1


# ---- state


def board(yard: SmallShop) -> StateBoard:
    return StateBoard(yard.shop, yard.watch, site="yard", line=yard.line)


ROOM, PIECE = "curewatch/yard/room/loft", "curewatch/yard/piece/A1"


@pytest.fixture
def hung(yard: SmallShop) -> SmallShop:
    """Hang a piece with a coat in a room with a climate, and look at it."""
    yard.hang("A1", "waterborne", T0_MS - 5 * HOUR_MS, planned=3)
    yard.climate(T0_MS - 12 * HOUR_MS, T0_MS + 1)
    alarm(yard).bring_to(T0_MS)
    return yard


def test_rooms_and_pieces_are_published_retained_and_at_least_once(hung: SmallShop) -> None:
    board(hung).tell(T0_MS, generation=1)
    assert [(topic, retain, qos) for topic, _, retain, qos in hung.line.sent] == [
        (ROOM, True, 1),
        (PIECE, True, 1),
    ]


def test_what_has_not_changed_is_not_published_again(hung: SmallShop) -> None:
    said = board(hung)
    said.tell(T0_MS, generation=1)
    hung.line.topics()
    said.tell(T0_MS + 1000, generation=1)
    said.tell(T0_MS + 2000, generation=1)
    assert hung.line.topics() == []
    hung.climate(T0_MS + 5000, T0_MS + 6000, temp_c=22.0)
    said.tell(T0_MS + 6000, generation=1)
    assert hung.line.topics() == [ROOM]


def test_a_piece_is_published_again_when_it_was_looked_at_and_stands_otherwise(
    hung: SmallShop,
) -> None:
    said = board(hung)
    said.tell(T0_MS, generation=1)
    hung.line.topics()
    hung.store.pieces.work("A1", Work(WorkKind.SCUFF, T0_MS), T0_MS)
    load_pieces(hung.store, hung.shop)
    hung.watch.piece_changed("A1")
    alarm(hung).bring_to(T0_MS + MINUTE_MS)
    said.tell(T0_MS + MINUTE_MS, generation=1)
    assert PIECE in hung.line.topics()


def test_on_a_new_connection_everything_is_published_again(hung: SmallShop) -> None:
    said = board(hung)
    said.tell(T0_MS, generation=1)
    hung.line.topics()
    said.tell(T0_MS + 1000, generation=2)
    assert hung.line.topics() == [ROOM, PIECE]


@pytest.mark.parametrize("generation", [1, 2])
def test_a_piece_that_left_is_cleared_even_if_the_line_broke_meanwhile(
    hung: SmallShop, generation: int
) -> None:
    said = board(hung)
    said.tell(T0_MS, generation=1)
    hung.line.sent.clear()
    hung.store.pieces.leave("A1", T0_MS, T0_MS)
    load_pieces(hung.store, hung.shop)
    hung.watch.pieces_changed()
    said.tell(T0_MS + 1000, generation=generation)
    assert (PIECE, "", True, 1) in hung.line.sent
    hung.line.topics()
    said.tell(T0_MS + 2000, generation=generation)
    assert hung.line.topics() == []  # once


def again(yard: SmallShop, site: str = "yard") -> list[tuple[str, str]]:
    """Return topic and payload of what a board says that notes what stands."""
    yard.line.sent.clear()
    said = StateBoard(yard.shop, yard.watch, site=site, line=yard.line, meta=yard.store.meta)
    said.tell(T0_MS, generation=1)
    return [(topic, payload) for topic, payload, *_ in yard.line.sent]


def test_a_piece_that_left_while_nobody_ran_is_cleared_at_the_next_start(hung: SmallShop) -> None:
    assert PIECE in dict(again(hung))
    hung.store.pieces.leave("A1", T0_MS, T0_MS)
    load_pieces(hung.store, hung.shop)
    hung.watch.pieces_changed()
    assert (PIECE, "") in again(hung)
    assert PIECE not in dict(again(hung))  # once


def test_what_stood_under_another_name_of_the_site_is_cleared(hung: SmallShop) -> None:
    again(hung)
    said = again(hung, site="barn")
    assert {(ROOM, ""), (PIECE, "")} <= set(said)
    assert "curewatch/barn/room/loft" in dict(said)


def test_what_stands_is_noted_before_it_is_said(hung: SmallShop) -> None:
    hung.line.down = True
    again(hung)
    hung.line.down = False
    hung.store.pieces.leave("A1", T0_MS, T0_MS)
    load_pieces(hung.store, hung.shop)
    hung.watch.pieces_changed()
    assert (PIECE, "") in again(hung)


def test_what_stands_is_noted_again_where_storage_did_not_take_it(
    hung: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = StateBoard(hung.shop, hung.watch, site="yard", line=hung.line, meta=hung.store.meta)

    def fail(*_: object) -> None:
        raise StorageError("disk full")

    with monkeypatch.context() as broken:
        broken.setattr(hung.store.meta, "set", fail)
        with pytest.raises(StorageError):
            said.tell(T0_MS, generation=0)
    said.tell(T0_MS, generation=0)
    noted = hung.store.meta.get(STANDING)
    assert isinstance(noted, str)
    assert PIECE in noted


def test_without_a_line_nothing_is_lost_but_the_moment(hung: SmallShop) -> None:
    said = board(hung)
    hung.line.down = True
    said.tell(T0_MS, generation=0)
    assert hung.line.sent == []
    hung.line.down = False
    said.tell(T0_MS + 1000, generation=1)
    assert hung.line.topics() == [ROOM, PIECE]


def test_a_message_that_can_never_be_sent_holds_up_no_other(
    hung: SmallShop, caplog: pytest.LogCaptureFixture
) -> None:
    hung.line.never = ROOM
    said = board(hung)
    said.tell(T0_MS, generation=1)
    assert hung.line.topics() == [PIECE]
    said.tell(T0_MS + 1000, generation=1)
    assert caplog.text.count("not tried again") == 1


def test_a_pieces_message_says_when_it_was_looked_at(hung: SmallShop) -> None:
    now = assess_piece(hung.shop, hung.shop.pieces["A1"], T0_MS + 7 * MINUTE_MS)
    assert judged_ms(now) == T0_MS + 7 * MINUTE_MS


# ---- the published schemas


def schema(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((SCHEMAS / f"{name}.schema.json").read_text("utf-8"))
    return found


def matches(name: str, message: dict[str, Any]) -> None:
    """Hold a message to its schema, and the schema's keys to the message's."""
    found = schema(name)
    Draft202012Validator(found, format_checker=FormatChecker()).validate(message)
    same_keys(found, message, found)


def same_keys(part: dict[str, Any], value: object, whole: dict[str, Any]) -> None:
    """Make sure that nothing is published that the schema does not tell of, nor the other way."""
    if "$ref" in part:
        part = whole["$defs"][part["$ref"].rsplit("/", 1)[1]]
    for choice in part.get("anyOf", ()):
        same_keys(choice, value, whole)
    if isinstance(value, dict) and "properties" in part:
        told = {key: one for key, one in part["properties"].items() if not is_sources(key, one)}
        assert set(value) == set(told)
        for key, inner in told.items():
            same_keys(inner, value[key], whole)
    elif isinstance(value, dict) and "additionalProperties" in part:
        for inner in value.values():
            same_keys(part["additionalProperties"], inner, whole)
    elif isinstance(value, list):
        for inner in value:
            same_keys(part["items"], inner, whole)


def is_sources(key: str, part: dict[str, Any]) -> bool:
    """Return whether this says where numbers come from: not in messages, see docs/mqtt.md."""
    return key == "standing" and part.get("type") == "object"


@pytest.mark.parametrize("name", ["room", "piece", "alert", "alerts", "daemon"])
def test_each_schema_is_one(name: str) -> None:
    found = schema(name)
    assert found["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(found)


def published(yard: SmallShop, now_ms: int) -> dict[str, dict[str, Any]]:
    """Return what a fresh board publishes, by topic."""
    yard.line.sent.clear()
    board(yard).tell(now_ms, generation=1)
    return {topic: json.loads(payload) for topic, payload, *_ in yard.line.sent}


@pytest.mark.parametrize(
    "finish",
    [
        *("waterborne", "waterborne-crosslinked", "nitro-lacquer", "acrylic-lacquer"),
        *("two-part-urethane", "acid-cure", "oil-varnish", "shellac", "dose-cured"),
    ],
)
def test_real_messages_match_their_schemas(yard: SmallShop, finish: str) -> None:
    coats = [T0_MS - 60 * HOUR_MS, T0_MS - 59 * HOUR_MS - MINUTE_MS * 40, T0_MS - 50 * HOUR_MS]
    yard.hang("A1", finish, *coats, planned=4)
    yard.hang("A2", finish)
    yard.store.pieces.work("A1", Work(WorkKind.BUFF, T0_MS - 40 * HOUR_MS), T0_MS)
    load_pieces(yard.store, yard.shop)
    yard.climate(T0_MS - 70 * HOUR_MS, T0_MS - 30 * HOUR_MS)
    yard.climate(T0_MS - 20 * HOUR_MS, T0_MS + 1, temp_c=8.0)
    yard.store.rejections.add([Rejected("rack", RejectReason.OUT_OF_RANGE, T0_MS, "99 degC")])
    load_heard(yard.store, yard.shop)
    alarm(yard).bring_to(T0_MS)
    found = published(yard, T0_MS)
    matches("room", found[ROOM])
    matches("piece", found[PIECE])
    matches("piece", found["curewatch/yard/piece/A2"])
    assert found[ROOM]["sensors"][0]["rejected"]
    if finish != "dose-cured":  # no clock answers for it, so nothing is ever out of its time
        assert found[PIECE]["deeds"]


def test_messages_leave_out_where_each_number_comes_from_and_nothing_else(
    hung: SmallShop,
) -> None:
    alarm(hung).bring_to(T0_MS)
    found = published(hung, T0_MS)
    shown = room_plain(assess_room(hung.shop, found[ROOM]["room"], T0_MS))
    assert shown["standing"]
    assert "standing" not in found[ROOM]
    assert "standing" not in found[ROOM]["sensors"][0]
    assert found[ROOM]["spray"][0]["limits"][0]["standing"] in {"data-sheet", "common-practice"}
    assert set(found[ROOM]) == {"format", "at", *shown} - {"standing"}
    assert len(json.dumps(found[PIECE])) < 6_000  # with it, 13,000


def test_rooms_that_take_long_are_told_in_turn_and_none_is_forgotten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(telling, "ROOMS_S", -1.0)  # every room takes longer
    rooms = "".join(f'[[room]]\nname = "{name}"\n' for name in ("attic", "booth"))
    yard = SmallShop.open(tmp_path, config=rooms)
    board = StateBoard(yard.shop, yard.watch, site="yard", line=yard.line)
    told = []
    for minute in range(4):
        board.tell(T0_MS + minute * MINUTE_MS, generation=1)
        told.append(yard.line.topics())
    yard.store.close()
    names = [[topic.rpartition("/")[2] for topic in topics] for topics in told]
    assert names == [["loft"], ["attic"], ["booth"], []]  # the loft's has not changed


def test_a_room_that_was_never_heard_matches_its_schema(yard: SmallShop) -> None:
    yard.hang("A1", "nitro-lacquer", T0_MS - HOUR_MS)
    alarm(yard).bring_to(T0_MS)
    found = published(yard, T0_MS)
    matches("room", found[ROOM])
    matches("piece", found[PIECE])
    assert found[ROOM]["climate_at"] is None


def test_a_message_with_a_wrong_value_does_not_match(hung: SmallShop) -> None:
    message = published(hung, T0_MS)[ROOM]
    for wrong in ({"temp_c": "21"}, {"at": "2026-03-05"}, {"format": 2}):
        assert list(Draft202012Validator(schema("room")).iter_errors({**message, **wrong}))
    del message["fresh"]
    assert list(Draft202012Validator(schema("room")).iter_errors(message))
