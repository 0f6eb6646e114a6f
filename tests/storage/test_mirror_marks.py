"""How far the mirror is: nothing that is added is ever passed over."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.shop.plain_state import State
from curewatch.shop.reading import Flag, Quantity, Reading
from curewatch.storage import Store
from curewatch.storage.mirror_marks import NONE_YET, Numbers

T0_MS = 1_772_668_800_000


def heard(*seconds: int, flags: int = 0) -> list[Reading]:
    return [
        Reading("rack", Quantity.TEMPERATURE, T0_MS + s * 1000, float(s), flags=flags)
        for s in seconds
    ]


def deliver(store: Store, stop_ms: int | None = None) -> None:
    """Send a whole claim, or up to an instant."""
    claim = store.mirror_marks.claim()
    store.mirror_marks.sent(claim.stop_ms if stop_ms is None else stop_ms, NONE_YET, error=None)


def test_at_first_everything_is_due(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        store.readings.add(heard(1, 2, 3))
        claim = store.mirror_marks.claim()
        assert claim.from_ms <= T0_MS
        assert claim.stop_ms > T0_MS + 3000
        assert store.mirror_marks.behind().rows == 3
        store.mirror_marks.sent(claim.stop_ms, NONE_YET, error=None)
        behind = store.mirror_marks.behind()
        assert (behind.rows, behind.oldest_ms, behind.last_error) == (0, None, None)


def test_a_late_reading_while_a_claim_is_under_way_is_not_passed_over(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        store.readings.add(heard(1, 5))
        claim = store.mirror_marks.claim()
        store.readings.add(heard(3))  # behind the claim's end, perhaps already read past
        store.mirror_marks.sent(claim.stop_ms, NONE_YET, error=None)
        assert store.mirror_marks.behind().oldest_ms == T0_MS + 3000
        assert store.mirror_marks.claim().from_ms == T0_MS + 3000


def test_a_late_reading_after_all_was_sent_sets_the_mark_back(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        store.readings.add(heard(1, 5))
        deliver(store)
        store.readings.add(heard(2))
        assert store.mirror_marks.behind().rows == 2  # that one, and what follows it


def test_a_claim_that_nobody_ended_is_due_again(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        store.readings.add(heard(1, 2))
        store.mirror_marks.claim()
        store.readings.add(heard(0))
    with Store.open(tmp_path / "shop.db") as again:
        assert again.mirror_marks.claim().from_ms <= T0_MS


def test_a_failure_is_told_until_it_is_over(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        store.readings.add(heard(1, 2))
        claim = store.mirror_marks.claim()
        store.mirror_marks.sent(claim.from_ms, NONE_YET, error="away", parked=2)
        behind = store.mirror_marks.behind()
        assert (behind.rows, behind.last_error, behind.parked) == (2, "away", 2)
        deliver(store)
        assert store.mirror_marks.behind().last_error is None


def test_readings_of_unknown_time_are_not_counted(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        store.readings.add(heard(1, flags=Flag.TIME_UNKNOWN))
        assert store.mirror_marks.behind().rows == 0


def test_where_nothing_was_ever_claimed_nothing_is_written(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        store.readings.add(heard(5))
        store.readings.add(heard(1))
        assert store.db.value("SELECT count(*) FROM meta WHERE name LIKE 'mirror%'") == 0


STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("add"), st.lists(st.integers(0, 40), min_size=1, max_size=4)),
        st.tuples(st.just("claim"), st.just([])),
        st.tuples(st.just("read"), st.just([])),
        st.tuples(st.just("crash"), st.just([])),
    ),
    max_size=25,
)


@settings(max_examples=40, deadline=None)
@given(steps=STEPS)
def test_whatever_comes_between_all_rows_arrive(steps: list[tuple[str, list[int]]]) -> None:
    """Rows added between claiming, reading, writing down and crashes are there in the end."""
    with TemporaryDirectory() as folder, Store.open(Path(folder) / "shop.db") as store:
        there: set[int] = set()
        claim = None
        read = False
        for what, seconds in steps:
            if what == "add":
                store.readings.add(heard(*seconds))
            elif what == "crash":
                claim, read = None, False
            elif what == "claim" and claim is None:
                claim = store.mirror_marks.claim()
            elif what == "read" and claim is not None:
                if read:
                    store.mirror_marks.sent(claim.stop_ms, NONE_YET, error=None)
                    claim, read = None, False
                else:
                    rows = store.readings.rows(claim.from_ms, claim.stop_ms)
                    there |= {row.at_ms for row in rows}
                    read = True
        last = store.mirror_marks.claim()
        there |= {row.at_ms for row in store.readings.rows(last.from_ms, last.stop_ms)}
        assert there == {row.at_ms for row in store.readings.rows(0, 1 << 62)}


def stated(store: Store, *seconds: int) -> None:
    store.states.add(State(T0_MS + s * 1000, "room", "loft", {"fresh": True}) for s in seconds)


def test_states_and_voids_are_due_by_their_numbers(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        marks = store.mirror_marks
        assert not marks.due()
        stated(store, 1, 2)
        store.readings.add(heard(1, 2))
        store.readings.void("rack", T0_MS, T0_MS + 1500, "hand on it", T0_MS + 5000)
        assert marks.behind().rows == 4
        marks.sent(marks.claim().stop_ms, Numbers(state=1, void=1), error=None)
        assert marks.due()
        behind = marks.behind()
        assert (behind.rows, behind.oldest_ms) == (1, T0_MS + 2000)
        marks.sent(marks.claim().stop_ms, Numbers(state=2, void=1), error=None)
        assert not marks.due()


def test_all_kinds_are_sent_again_from_a_time_on(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        marks = store.mirror_marks
        stated(store, 1, 2, 3)
        store.readings.add(heard(1, 2, 3))
        marks.sent(marks.claim().stop_ms, Numbers(state=3), error=None)
        marks.again(T0_MS + 2000)
        again = marks.claim()
        assert (again.from_ms, again.after.state) == (T0_MS + 2000, 1)
        marks.sent(again.stop_ms, Numbers(state=3), error=None)
        assert not marks.due()


def test_asking_again_while_a_claim_is_under_way_is_not_forgotten(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        marks = store.mirror_marks
        stated(store, 1, 2)
        claim = marks.claim()
        marks.again(T0_MS)
        marks.sent(claim.stop_ms, Numbers(state=2), error=None)
        assert marks.claim().after.state == 0


def test_another_place_gets_everything_from_the_start(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        marks = store.mirror_marks
        assert not marks.aim("here")
        store.readings.add(heard(1))
        stated(store, 1)
        marks.sent(marks.claim().stop_ms, Numbers(state=1), error=None)
        assert not marks.aim("here")
        assert not marks.due()
        assert marks.aim("there")
        assert marks.behind().rows == 2


def test_a_step_back_asks_for_the_last_of_what_was_sent_only(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        marks = store.mirror_marks
        marks.step_back(5000)
        assert not marks.due()
        store.readings.add(heard(1, 20))
        marks.sent(marks.claim().stop_ms, NONE_YET, error=None)
        marks.step_back(5000)
        assert marks.behind().rows == 1
