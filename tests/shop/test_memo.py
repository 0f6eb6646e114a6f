from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.shop.climate import MINUTE_MS, merge
from curewatch.shop.deeds import deeds
from curewatch.shop.memo import Latest, Memo, Together
from curewatch.shop.piece import WorkKind
from tests.shop.scene import (
    GAP_S,
    HOUR_MS,
    T0_MINUTE,
    T0_MS,
    at_h,
    block,
    every,
    finish,
    piece,
    readings,
    shop_of,
    steady,
)

if TYPE_CHECKING:
    from collections.abc import Sequence


def test_an_answer_is_worked_out_once_and_again_when_the_record_changes_before_it() -> None:
    memo: Memo[int] = Memo()
    asked: list[str] = []

    def ask(mark: str, until_ms: int, facts: str = "as sprayed") -> int:
        def work_out() -> int:
            asked.append(mark)
            return until_ms

        return memo.of("B12", (facts,)).get(mark, until_ms, work_out)

    assert [ask("early", 10), ask("late", 20), ask("early", 10)] == [10, 20, 10]
    assert asked == ["early", "late"]
    memo.forget_from(21)
    ask("late", 20)
    assert asked == ["early", "late"]
    memo.forget_from(15)
    ask("early", 10)
    ask("late", 20)
    assert asked == ["early", "late", "late"]
    ask("early", 10, facts="mended")
    assert asked[-1] == "early"


@given(
    stops=st.lists(st.floats(1.0, 30.0), min_size=1, max_size=6),
    temps=st.lists(st.floats(12.0, 34.0), min_size=31, max_size=31),
    humid_until=st.floats(0.5, 30.0),
)
def test_remembered_deeds_are_those_found_afresh_however_the_record_grows(
    stops: list[float], temps: list[float], humid_until: float
) -> None:
    """The hygrometer may die early: then hours in its gap are credited after the fact."""
    hours = every(10, 30)
    of = finish("waterborne")
    hung = piece("waterborne", [0.3, 1.4, 9.0, 28.0], work=[(WorkKind.LEVEL, 20.0)])
    air = readings(hours, np.interp(hours, np.arange(31.0), temps))
    record = air | readings(hours[hours <= humid_until], rh_frac=0.5, sensor="dial")
    growing = shop_of({}, finishes=[of], pieces=[hung])
    for stop in sorted(stops):
        here = {k: (t[t <= at_h(stop)], v[t <= at_h(stop)]) for k, (t, v) in record.items()}
        frontier = growing.book.frontier_ms("loft")
        ends = [
            int(t[t <= frontier][-1]) if frontier is not None and (t <= frontier).any() else T0_MS
            for t, _ in record.values()
        ]
        first = T0_MINUTE if frontier is None else min(ends) // MINUTE_MS
        growing.book.splice("loft", merge(here, first_minute=first, longest_gap_s=GAP_S))
        whole = shop_of({}, finishes=[of], pieces=[hung])
        whole.book.splice("loft", block(here))
        for now_h in (stop, stop + 2.0):
            assert deeds(hung, growing, at_h(now_h)) == deeds(hung, whole, at_h(now_h))


@pytest.mark.parametrize("dropped", [True, False])
def test_a_corrected_past_is_judged_anew(*, dropped: bool) -> None:
    hung = piece("waterborne", [0.0, 0.9])
    shop = shop_of({"loft": steady(2.0)}, finishes=[finish("waterborne")], pieces=[hung])
    assert len(deeds(hung, shop, at_h(5.0))) == 1
    if dropped:
        shop.book.drop("loft")
    shop.book.splice("loft", block(steady(2.0, 27.0)))
    assert deeds(hung, shop, at_h(5.0)) == ()
    earlier = readings(every(10, 50, start_h=-2.0), 15.0, 0.8)
    shop.book.splice("loft", block(earlier, first_minute=T0_MINUTE - 2 * HOUR_MS // MINUTE_MS))
    assert len(deeds(hung, shop, at_h(5.0))) == 1


# ---- answers worked out together


def test_many_are_worked_out_in_one_go_and_none_twice() -> None:
    asked: list[list[int]] = []

    def squares(keys: Sequence[int]) -> list[int]:
        asked.append([*keys])
        return [key * key for key in keys]

    kept = Together(squares)
    kept.prepare([3, 4, 3])
    kept.prepare([4, 3])
    assert [kept.of(key) for key in (3, 4, 5)] == [9, 16, 25]
    assert asked == [[3, 4], [5]]


def test_what_is_kept_together_never_outgrows_its_room_and_is_answered_all_the_same() -> None:
    kept: Together[int, int] = Together(lambda keys: [-key for key in keys], most=2)
    kept.prepare(range(5))
    assert len(kept) == 2
    assert [kept.of(key) for key in range(5)] == [0, -1, -2, -3, -4]
    assert len(kept) == 2


def latest(kept: Latest[int], answer: int, *, facts: str = "as sprayed", until_ms: int = 10) -> int:
    return kept.get("loft", "white?", facts=(facts,), until_ms=until_ms, work_out=lambda: answer)


def test_the_newest_answer_holds_while_its_facts_and_its_end_do() -> None:
    kept: Latest[int] = Latest()
    assert [latest(kept, 1), latest(kept, 2)] == [1, 1]
    assert latest(kept, 3, facts="scuffed") == 3
    assert latest(kept, 4, facts="scuffed", until_ms=11) == 4
    assert latest(kept, 5) == 5  # the older one is no longer held


def test_the_newest_answer_goes_with_the_record_that_it_hangs_on() -> None:
    kept: Latest[int] = Latest()
    latest(kept, 1)
    kept.forget_from("loft", 11)
    kept.forget_from("booth", 0)
    assert latest(kept, 2) == 1
    kept.forget_from("loft", 10)
    assert latest(kept, 3) == 3
