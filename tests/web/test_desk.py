"""Questions from other threads, answered in the daemon's."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import pytest

from curewatch.assembly import load_pieces
from curewatch.errors import BadInput, StorageError
from curewatch.shop.piece import Coat
from curewatch.web.desk import LONGEST_LINE, Counter, Desk
from tests.small_shop import MINUTE_MS, SmallShop
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from curewatch.shop.shop import Shop
    from curewatch.storage import Store


@pytest.fixture
def counter(tmp_path: Path) -> Iterator[Counter]:
    shop = SmallShop.open(tmp_path)
    yield Counter(shop.store, shop.shop, shop.watch, shop.settings, NOW_MS, NOW_MS)
    shop.store.close()


@pytest.fixture
def crowd() -> Iterator[ThreadPoolExecutor]:
    with ThreadPoolExecutor(4) as pool:
        yield pool


def wait_until(holds: Callable[[], bool]) -> None:
    for _ in range(2000):
        if holds():
            return
        threading.Event().wait(0.005)
    pytest.fail("waited in vain")


def test_a_question_is_answered_in_the_thread_that_serves(
    counter: Counter, crowd: ThreadPoolExecutor
) -> None:
    woken = threading.Event()
    desk = Desk(woken.set)
    answer = crowd.submit(desk.ask, lambda at: (threading.current_thread(), at.now_ms))
    assert woken.wait(5.0)
    assert desk.waiting
    assert desk.serve(counter) is False
    assert answer.result(5.0) == (threading.current_thread(), NOW_MS)
    assert not desk.waiting


def test_what_a_question_raises_is_raised_where_it_was_asked(
    counter: Counter, crowd: ThreadPoolExecutor
) -> None:
    desk = Desk()

    def refuses(_: Counter) -> None:
        raise BadInput("no such piece")

    answer = crowd.submit(desk.ask, refuses)
    wait_until(lambda: desk.waiting)
    desk.serve(counter)
    with pytest.raises(BadInput, match="no such piece"):
        answer.result(5.0)


@pytest.mark.parametrize("fails", [False, True])
def test_a_deed_is_taken_in_before_the_next_question_is_answered(
    counter: Counter, crowd: ThreadPoolExecutor, *, fails: bool
) -> None:
    desk = Desk()

    def deed(_: Counter) -> str:
        if fails:
            raise BadInput("half done")
        return "done"

    entered = crowd.submit(desk.enter, deed)
    wait_until(lambda: desk.waiting)
    asked = crowd.submit(desk.ask, lambda _: "looked")
    wait_until(lambda: desk._line.qsize() == 2)  # noqa: SLF001 - both must stand in the line
    assert desk.serve(counter) is True
    assert not asked.done()
    assert desk.serve(counter) is False
    assert asked.result(5.0) == "looked"
    assert (entered.exception(5.0) is not None) is fails


def test_the_whole_shop_is_worked_out_once_until_something_changes(
    counter: Counter, crowd: ThreadPoolExecutor
) -> None:
    desk = Desk()

    def ask() -> object:
        answer = crowd.submit(desk.ask, lambda at: at.assessment())
        wait_until(lambda: desk.waiting)
        desk.serve(counter)
        return answer.result(5.0)

    first = ask()
    assert ask() is first
    desk.changed()
    second = ask()
    assert second is not first
    entering = crowd.submit(desk.enter, lambda _: None)
    wait_until(lambda: desk.waiting)
    desk.serve(counter)
    entering.result(5.0)
    assert ask() is not second


def test_without_a_clock_nothing_is_remembered(counter: Counter) -> None:
    lost = Counter(
        counter.store, counter.shop, counter.watch, counter.settings, NOW_MS, NOW_MS, False
    )
    assert lost.assessment() is not lost.assessment()
    assert counter.assessment() is counter.assessment()


def test_a_daemon_that_has_no_time_is_said_and_the_question_is_dropped(counter: Counter) -> None:
    desk = Desk()
    done = []
    with pytest.raises(StorageError, match="no time just now"):
        desk.enter(done.append, patience_s=0.01)
    desk.serve(counter)
    assert done == []  # who was told that it was not done finds it not done


def test_a_deed_begun_too_late_is_to_be_looked_for_before_it_is_entered_again(
    counter: Counter, crowd: ThreadPoolExecutor
) -> None:
    desk = Desk()
    begun, go_on = threading.Event(), threading.Event()

    def slow(_: Counter) -> None:
        begun.set()
        go_on.wait(5.0)

    serving = threading.Thread(
        target=lambda: (wait_until(lambda: desk.waiting), desk.serve(counter))
    )
    serving.start()
    entering = crowd.submit(desk.enter, slow, patience_s=0.3)
    assert begun.wait(5.0)
    with pytest.raises(StorageError, match="look whether the entry is there"):
        entering.result(5.0)
    asking = crowd.submit(desk.ask, lambda _: None, patience_s=0.01)
    with pytest.raises(StorageError) as told:
        asking.result(5.0)
    assert "entry" not in str(told.value)
    go_on.set()
    serving.join(5.0)


def test_a_line_that_is_full_sends_people_away_at_once(counter: Counter) -> None:
    desk = Desk()
    people = [
        threading.Thread(target=lambda: desk.ask(lambda _: None)) for _ in range(LONGEST_LINE)
    ]
    for one in people:
        one.start()
    wait_until(lambda: desk._line.qsize() == LONGEST_LINE)  # noqa: SLF001 - it must be full
    with pytest.raises(StorageError, match="too many ask"):
        desk.ask(lambda _: None)
    desk.serve(counter)
    for one in people:
        one.join(5.0)


def test_who_waits_when_the_daemon_ends_is_told_so_and_so_is_who_comes_later(
    crowd: ThreadPoolExecutor,
) -> None:
    desk = Desk()
    waiting = crowd.submit(desk.ask, lambda _: None)
    gone = crowd.submit(desk.ask, lambda _: None, patience_s=0.01)
    with pytest.raises(StorageError, match="no time"):
        gone.result(5.0)
    wait_until(lambda: desk.waiting)
    desk.close()
    with pytest.raises(StorageError, match="is ending"):
        waiting.result(5.0)
    with pytest.raises(StorageError, match="is ending"):
        desk.ask(lambda _: None)


def test_no_number_of_a_state_comes_again_after_a_restart() -> None:
    first = Desk()
    first.changed()
    threading.Event().wait(0.005)
    assert Desk().generation > first.generation


def test_a_minute_raises_the_number_of_the_state_once_and_readings_in_it_do_not(
    open_shop: WebShop,
) -> None:
    desk, later_ms = open_shop.daemon.desk, NOW_MS + 20 * MINUTE_MS
    before = desk.generation
    open_shop.hear(later_ms, hours=0)
    assert desk.generation > before
    before = desk.generation
    for second in range(1, 60, 7):
        open_shop.hear(later_ms + 1000 * second, hours=0)
    assert desk.generation == before
    open_shop.hear(later_ms + 60_000, hours=0)
    assert desk.generation == before + 1


def test_who_asks_sees_a_reading_that_stirred_no_open_page(open_shop: WebShop) -> None:
    def heard(counter: Counter) -> int | None:
        return counter.assessment().rooms[0].sensors[0].last_heard_at

    desk, later_ms = open_shop.daemon.desk, NOW_MS + 20 * MINUTE_MS
    open_shop.hear(later_ms, hours=0, temp_c=21.0)
    told = desk.generation
    assert desk.ask(heard) == later_ms
    open_shop.hear(later_ms + 40_000, hours=0)
    assert desk.ask(heard) == later_ms + 40_000
    assert desk.generation == told


def test_a_deed_stirs_open_pages_at_once(open_shop: WebShop) -> None:
    desk = open_shop.daemon.desk
    before = desk.generation
    open_shop.hang("B7")
    assert desk.generation == before + 1


def test_two_hundred_questions_from_many_threads_are_each_answered_once(shop: WebShop) -> None:
    with ThreadPoolExecutor(16) as pool:
        answers = [
            pool.submit(shop.daemon.desk.ask, lambda at, n=n: (n, len(at.shop.pieces)))
            for n in range(200)
        ]
        assert [answer.result(10.0) for answer in answers] == [(n, 1) for n in range(200)]


def test_what_was_entered_is_taken_in_later_when_the_database_fails_meanwhile(
    shop: WebShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    fails = [True]

    def loads_badly(store: Store, into: Shop) -> None:
        if fails.pop():
            fails.append(False)
            raise StorageError("the card cannot be read")
        load_pieces(store, into)

    monkeypatch.setattr("curewatch.daemon.load_pieces", loads_badly)
    coat = Coat(NOW_MS - MINUTE_MS)
    desk = shop.daemon.desk
    desk.enter(lambda at: at.store.pieces.coat("B1", coat, at.entered_ms))
    assert len(desk.ask(lambda at: at.shop.pieces["B1"].coats)) == 2


def test_what_another_process_entered_is_taken_in_later_too(
    shop: WebShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise StorageError("the card cannot be read")

    with monkeypatch.context() as broken:
        broken.setattr("curewatch.daemon.load_pieces", fails)
        shop.hang("B2")
        assert shop.do(lambda: "B2" in shop.daemon.shop.pieces) is False
    shop.do(lambda: shop.daemon.round([]))
    assert shop.do(lambda: "B2" in shop.daemon.shop.pieces) is True
