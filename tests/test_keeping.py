from __future__ import annotations

import subprocess
import sys
from collections import Counter
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest

from curewatch.assembly import load_heard
from curewatch.errors import StorageError
from curewatch.keeping import resumed_gate
from curewatch.shop.reading import Flag, Quantity, RejectReason
from curewatch.storage import Store, database
from tests.small_shop import HOUR_MS, MINUTE_MS, T0_MS, FakeLine, SmallShop, message

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from curewatch.intake import Arrived


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[SmallShop]:
    """Open a small shop."""
    opened = SmallShop.open(tmp_path)
    yield opened
    opened.store.close()


def stored(folder: Path) -> list[tuple[int, float]]:
    """Return instants and temperatures as another connection sees them in the file."""
    with Store.open(folder / "shop.db", read_only=True) as other:
        return other.db.rows("SELECT at_ms, value FROM reading WHERE quantity = 1 ORDER BY at_ms")


def refused(yard: SmallShop) -> dict[str, int]:
    counts: Counter[str] = Counter()
    for row in yard.store.rejections.summary():
        counts[row.reason] += row.count
    return dict(counts)


HOLDER = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("BEGIN IMMEDIATE")
print("held", flush=True)
sys.stdin.read()
"""


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


def test_a_message_is_acknowledged_only_once_it_is_in_the_file(
    yard: SmallShop, tmp_path: Path
) -> None:
    seen: list[list[tuple[int, float]]] = []

    class Line(FakeLine):
        def ack(self, messages: Iterable[Arrived]) -> None:
            seen.append(stored(tmp_path))
            super().ack(messages)

    line = Line()
    yard.keeping().keep([message(T0_MS, 20.5, mid=7), message(T0_MS + MINUTE_MS, mid=8)], line)
    assert line.acked == [7, 8]
    assert seen == [[(T0_MS, 20.5), (T0_MS + MINUTE_MS, 21.0)]]


def test_nothing_is_acknowledged_when_the_database_refuses_and_all_is_kept_next_time(
    yard: SmallShop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "BUSY_TIMEOUT_MS", 50)
    yard.store.close()
    yard = SmallShop.open(tmp_path)
    keeping, batch = yard.keeping(), [message(T0_MS, mid=3), message(None, "x", mid=4)]
    with locked(tmp_path), pytest.raises(StorageError, match="locked"):
        keeping.keep(batch, yard.line)
    assert yard.line.acked == []
    assert stored(tmp_path) == []
    assert yard.shop.book.frontier_ms("loft") is None  # nor is it counted
    keeping.keep(batch, yard.line)
    assert yard.line.acked == [3, 4]
    assert stored(tmp_path) == [(T0_MS, 21.0)]
    assert sum(refused(yard).values()) >= 1
    assert str(RejectReason.DUPLICATE) not in refused(yard)
    yard.store.close()


def test_a_spike_is_not_believed_because_its_batch_is_handed_in_again(
    yard: SmallShop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "BUSY_TIMEOUT_MS", 20)
    yard.store.close()
    yard = SmallShop.open(tmp_path)
    keeping = yard.keeping()
    keeping.keep([message(T0_MS, 20.0, mid=1)], yard.line)
    spike = [message(T0_MS + MINUTE_MS, 70.0, mid=2)]
    for _ in range(4):
        with locked(tmp_path), pytest.raises(StorageError):
            keeping.keep(spike, yard.line)
    keeping.keep(spike, yard.line)
    assert stored(tmp_path) == [(T0_MS, 20.0)]
    assert refused(yard)["too-fast"] == 1
    yard.store.close()


def test_a_message_delivered_again_is_counted_and_changes_nothing(
    yard: SmallShop, tmp_path: Path
) -> None:
    keeping = yard.keeping()
    first = message(T0_MS, 20.0, mid=1)
    keeping.keep([first], yard.line)
    came_ms = T0_MS + HOUR_MS
    keeping.keep([message(T0_MS, 20.0, mid=2, received_ms=came_ms)], yard.line)
    assert yard.line.acked == [1, 2]  # or it would come for ever
    assert stored(tmp_path) == [(T0_MS, 20.0)]
    assert refused(yard) == {"duplicate": 2}
    (row, _) = yard.store.rejections.summary()
    assert row.last_ms == came_ms  # when it came, not when it was measured


def test_another_value_for_the_same_instant_is_a_conflict_and_the_first_stays(
    yard: SmallShop, tmp_path: Path
) -> None:
    keeping = yard.keeping()
    keeping.keep([message(T0_MS, 20.0)], yard.line)
    keeping.keep([message(T0_MS, 20.1)], yard.line)
    assert stored(tmp_path) == [(T0_MS, 20.0)]
    assert refused(yard) == {"conflict": 1, "duplicate": 1}


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"\xff\xfe", "not-text"),
        (b"{", "not-json"),
        (b"[]", "bad-time"),
        (b'{"rh": 50, "at": 1772668800}', "missing"),
        (b'{"t": null, "rh": true, "at": 1772668800}', "not-a-number"),
        (b'{"t": NaN, "rh": 50, "at": 1772668800}', "not-a-number"),
        (b'{"t": 21, "rh": 50, "at": "soon"}', "bad-time"),
        (b'{"t": 21, "rh": 50, "at": "1950-01-01T00:00:00Z"}', "bad-time"),
        (b'{"t": 21, "rh": 50, "at": -5}', "bad-time"),
        (b'{"t": 1e300, "rh": 50, "at": 1772668800}', "out-of-range"),
        (b"", "not-json"),
        (b'{"t": ' + b"[" * 5_000 + b"]" * 5_000 + b"}", "not-json"),
        (b'{"t": ' + b"[" * 50_000 + b"]" * 50_000 + b"}", "too-large"),
    ],
)
def test_whatever_comes_is_counted_with_its_reason_and_acknowledged(
    yard: SmallShop, payload: bytes, reason: str
) -> None:
    yard.keeping().keep([message(None, payload=payload, received_ms=T0_MS)], yard.line)
    assert yard.line.acked == [1]
    assert reason in refused(yard)
    assert yard.shop.refusals["rack"]  # the assessment knows at once


def test_a_message_that_belongs_to_no_sensor_is_acknowledged(yard: SmallShop) -> None:
    yard.keeping().keep([message(T0_MS, topic="elsewhere")], yard.line)
    assert yard.line.acked == [1]
    assert refused(yard) == {}


def test_what_is_kept_is_in_the_book_and_among_what_was_heard(yard: SmallShop) -> None:
    keeping = yard.keeping()
    for minute in range(0, 60, 10):
        keeping.keep([message(T0_MS + minute * MINUTE_MS)], yard.line)
    newest = T0_MS + 50 * MINUTE_MS
    assert yard.shop.book.frontier_ms("loft") == newest
    assert yard.shop.last_heard_ms("rack", newest) == newest
    assert yard.shop.heard["rack", Quantity.HUMIDITY].value == 0.5


def test_a_late_reading_names_the_room_whose_past_it_changed(yard: SmallShop) -> None:
    keeping = yard.keeping()
    times = [T0_MS, T0_MS + HOUR_MS]
    assert keeping.keep([message(at) for at in times], yard.line) == set()
    late = message(T0_MS + 30 * MINUTE_MS, 22.0, received_ms=T0_MS + 2 * HOUR_MS)
    assert keeping.keep([late], yard.line) == {"loft"}


def test_a_backlog_without_times_is_kept_whole_and_never_credited(yard: SmallShop) -> None:
    batch = [
        message(
            None,
            topic="shop/bare",
            payload=b"%d" % (20 + n),
            backlog=True,
            received_ms=T0_MS,
            mid=n,
        )
        for n in range(3)
    ]
    yard.keeping().keep(batch, yard.line)
    kept = list(yard.store.readings.rows(0, 2**60))
    assert [reading.value for reading in kept] == [20.0, 21.0, 22.0]  # none lost to one instant
    assert all(reading.flags & Flag.TIME_UNKNOWN for reading in kept)
    assert yard.shop.book.frontier_ms("loft") is None
    assert yard.shop.last_heard_ms("bare", T0_MS + HOUR_MS) is None


def test_a_frozen_pair_is_known_again_at_a_restart(yard: SmallShop, tmp_path: Path) -> None:
    keeping = yard.keeping()
    for minute in range(0, 8 * 60, 10):
        keeping.keep([message(T0_MS + minute * MINUTE_MS)], yard.line)
    assert yard.shop.frozen_since == {"rack": T0_MS}
    yard.store.close()
    again = SmallShop.open(tmp_path)
    again.keeping()  # before any message came
    assert "rack" in again.shop.frozen_since
    later = again.keeping()
    later.keep([message(T0_MS + 8 * HOUR_MS, 21.2)], again.line)
    assert again.shop.frozen_since == {}
    again.store.close()


def test_a_gate_resumed_from_storage_still_refuses_a_jump(yard: SmallShop, tmp_path: Path) -> None:
    yard.keeping().keep([message(T0_MS, 20.0)], yard.line)
    resumed_gate(yard.store)
    yard.keeping().keep([message(T0_MS + MINUTE_MS, 60.0)], yard.line)
    assert stored(tmp_path) == [(T0_MS, 20.0)]


def test_what_the_book_could_not_take_in_is_read_again_next_time(
    yard: SmallShop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeping = yard.keeping()
    keeping.keep([message(T0_MS)], yard.line)

    def broken(_: object) -> set[str]:
        raise StorageError("the disk did not do as told")

    with monkeypatch.context() as bad:
        bad.setattr(yard.feed, "take", broken)
        assert keeping.keep([message(T0_MS + 10 * MINUTE_MS, 25.0, mid=2)], yard.line) == set()
    assert yard.line.acked == [1, 2]  # it is in the file
    assert len(stored(tmp_path)) == 2
    keeping.keep([message(T0_MS + 20 * MINUTE_MS, 21.0, mid=3)], yard.line)
    fresh = SmallShop.open(tmp_path)
    for shop in (yard.shop, fresh.shop):
        climate = shop.book.climates["loft"].last_known(T0_MS + 10 * MINUTE_MS)
        assert climate is not None
        assert climate.temp_c == pytest.approx(25.0)
    assert "duplicate" not in refused(yard)
    fresh.store.close()


def test_a_full_disk_acknowledges_nothing(tmp_path: Path) -> None:
    yard = SmallShop.open(tmp_path)
    pages = yard.store.db.value("PRAGMA page_count")
    yard.store.db.execute(f"PRAGMA max_page_count = {pages}")
    batch = [message(T0_MS + n * 1000, 21.0, 50.0, mid=n) for n in range(2000)]
    with pytest.raises(StorageError, match="disk is full"):
        yard.keeping().keep(batch, yard.line)
    assert yard.line.acked == []
    yard.store.db.execute("PRAGMA max_page_count = 1000000")
    yard.keeping().keep(batch, yard.line)
    assert len(yard.line.acked) == 2000
    yard.store.close()


def test_heard_facts_loaded_from_storage_match_those_kept_along_the_way(yard: SmallShop) -> None:
    keeping = yard.keeping()
    keeping.keep([message(T0_MS + m * MINUTE_MS, 20.0 + m / 10.0) for m in range(5)], yard.line)
    kept = dict(yard.shop.heard)
    load_heard(yard.store, yard.shop)
    assert yard.shop.heard == kept
