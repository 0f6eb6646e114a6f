"""What of a piece's hours rests on fills."""

from __future__ import annotations

import numpy as np
import pytest

from curewatch.science.kinetics import CureLaw
from curewatch.shop.assumed import NOTHING, Assumed, assumed, assumed_said, fills_under
from curewatch.shop.book import ClockBook
from curewatch.shop.climate import MINUTE_MS, merge
from curewatch.shop.clocks import RateLaw
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.milestones import Milestone
from curewatch.shop.piece import Fill, Stay
from curewatch.shop.reading import Quantity

HOUR_MS = 60 * MINUTE_MS
T0_MS = 1_700_000_000_000 // HOUR_MS * HOUR_MS
LAW = RateLaw(CureLaw(60.0, humidity_exponent=1.0, reference_temp_c=20.0, reference_rh_frac=0.5))


def book(fills: list[Fill], *, dry: bool = False) -> ClockBook:
    """Return a room at 20 degC, silent from 3 h to 7 h; `dry` has no hygrometer instead."""
    minutes = np.arange(601, dtype=np.int64)
    heard = minutes if dry else minutes[(minutes <= 180) | (minutes >= 420)]
    series = {}
    for quantity, value in ((Quantity.TEMPERATURE, 20.0), (Quantity.HUMIDITY, 0.5)):
        if quantity is Quantity.TEMPERATURE or not dry:
            at_ms = T0_MS + heard * MINUTE_MS
            series["air", quantity] = (at_ms, np.full(at_ms.size, value))
    found = ClockBook()
    first = T0_MS // MINUTE_MS
    found.splice("loft", merge(series, first_minute=first, longest_gap_s=900.0, fills=fills))
    return found


def fill(begin_h: float, end_h: float, number: int = 1) -> Fill:
    start_ms, stop_ms = (T0_MS + round(h * HOUR_MS) for h in (begin_h, end_h))
    return Fill("loft", start_ms, stop_ms, 20.0, 0.5, "a guess.", number)


def of(found: ClockBook, *stays: Stay, begin_h: float = 0.0, end_h: float = 10.0) -> Assumed:
    return assumed(
        found,
        lambda _: LAW,
        stays=stays or (Stay("loft", T0_MS),),
        start_ms=T0_MS + round(begin_h * HOUR_MS),
        stop_ms=T0_MS + round(end_h * HOUR_MS),
    )


def test_a_record_without_fills_rests_on_none() -> None:
    assert of(book([])) == NOTHING


def test_only_what_readings_left_open_rests_on_a_fill() -> None:
    found = of(book([fill(1.0, 9.0)]))
    assert (found.wall_h, found.effective_h) == pytest.approx((4.0, 4.0), abs=0.02)


@pytest.mark.parametrize(
    ("begin_h", "end_h", "hours"),
    [(0.0, 5.0, 2.0), (5.0, 6.5, 1.5), (7.5, 10.0, 0.0), (4.0, 4.0, 0.0)],
)
def test_only_the_piece_time_counts(begin_h: float, end_h: float, hours: float) -> None:
    found = of(book([fill(3.0, 7.0)]), begin_h=begin_h, end_h=end_h)
    assert found.wall_h == pytest.approx(hours, abs=0.02)


def test_the_parts_of_the_time_add_up_to_the_whole() -> None:
    room = book([fill(3.0, 4.5), fill(4.5, 6.0, 2)])
    halves = [of(room, begin_h=0.0, end_h=4.01), of(room, begin_h=4.01, end_h=10.0)]
    whole = of(room)
    assert sum(one.effective_h for one in halves) == pytest.approx(whole.effective_h, abs=1e-6)
    assert whole.wall_h == pytest.approx(3.0, abs=0.02)


def test_a_fill_counts_in_its_own_room_while_the_piece_hung_there() -> None:
    room = book([fill(3.0, 7.0)])
    moved = (Stay("loft", T0_MS, T0_MS + 4 * HOUR_MS), Stay("yard", T0_MS + 4 * HOUR_MS))
    assert of(room, *moved).wall_h == pytest.approx(1.0, abs=0.02)


def test_humidity_filled_in_alone_is_assumed_too() -> None:
    found = of(book([fill(1.0, 9.0)], dry=True))
    assert found.wall_h == pytest.approx(8.0, abs=0.02)


def test_the_fills_a_piece_was_under_are_named_in_order() -> None:
    fills = {"loft": (fill(5.0, 6.0, 2), fill(3.0, 4.0, 1), fill(8.0, 9.0, 3))}
    stays = (Stay("loft", T0_MS, T0_MS + 7 * HOUR_MS), Stay("yard", T0_MS + 7 * HOUR_MS))
    found = fills_under(fills, stays, T0_MS, T0_MS + 10 * HOUR_MS)
    assert [one.id for one in found] == [1, 2]
    assert fills_under(fills, stays, T0_MS + 4 * HOUR_MS, T0_MS + 5 * HOUR_MS) == ()


def stone(
    reached_h: float | None, *, cautious_at: int | None = 1, asks: float | None = 100.0
) -> Milestone:
    """Return a milestone that asks for a hundred hours, 110 at its late end."""
    return Milestone(
        MilestoneName.BUFF, ClockName.CURE, asks, reached_h, 1, cautious_at, late_hours=110.0
    )


def test_what_rests_on_fills_is_said_with_their_reasons() -> None:
    assert assumed_said(0.01, [fill(0.0, 1.0)]) == ""
    assert assumed_said(5.0, []) == "Of these hours 5.0 h rest on a fill; nobody measured them."
    assert assumed_said(30.0, [fill(0.0, 1.0), fill(1.0, 2.0, 2)]) == (
        "Of these hours 30 h rest on fills (number 1: a guess, number 2: a guess); nobody measured "
        "them."
    )


def test_a_fill_that_decides_is_said_to() -> None:
    alone = "the readings alone do not make it ready"
    assert alone in assumed_said(30.0, [], stone(130.0))
    assert alone not in assumed_said(30.0, [], stone(145.0))
    assert alone not in assumed_said(30.0, [], stone(90.0, cautious_at=None))
    assert alone not in assumed_said(30.0, [], stone(None))
    assert alone not in assumed_said(30.0, [], stone(90.0, asks=None))
