"""No verdict gets better when a hazard gets worse: pieces, bench list, gates, holds, questions.

The spray check, pots and a change's range have theirs beside their own tests.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from curewatch.shop.assessment import PieceNow, assess, assess_piece
from curewatch.shop.bench_list import bench_list
from curewatch.shop.clocks import Bias
from curewatch.shop.follow_up import due
from curewatch.shop.laws import READY_MILESTONES
from curewatch.shop.onward import Pass, onward
from curewatch.shop.piece import Coat, Outcome, Piece, Work, WorkKind
from curewatch.shop.words import Words
from tests.shop.scene import DAY_MS, at_h, every, finish, piece, readings, shop_of

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats
    from curewatch.shop.shop import Shop

NEVER: Final = 2**62
MINUTE_MS: Final = 60_000
CANCELS: Final = 0.02  # of the time since the last coat
HOURS: Final = every(20.0, 12 * 24.0)
FAMILIES = st.sampled_from(
    ["waterborne", "nitro-lacquer", "two-part-urethane", "acid-cure", "oil-varnish", "shellac"]
)
BETTER: Final = (Pass.TEST_FIRST, Pass.UNKNOWN, Pass.NOT_YET)  # best first


@dataclass(frozen=True, slots=True)
class Room:
    """A room with a night: how warm by day [degC], how much it falls [K], how humid."""

    day_c: float
    falls_k: float
    rh: float

    def temps(self) -> Floats:
        """Return its temperatures at the scene's instants."""
        night = 0.5 - 0.5 * np.cos(2.0 * np.pi * HOURS / 24.0)
        return np.asarray(self.day_c - self.falls_k * night)


ROOMS = st.builds(Room, st.floats(16.0, 27.0), st.floats(0.0, 8.0), st.floats(0.35, 0.7))
COATS = st.lists(st.floats(1.0, 60.0), min_size=1, max_size=3, unique=True).map(sorted)
MOMENTS = st.floats(62.0, 286.0)


def shop(
    room: Room,
    *pieces: Piece,
    bias: Bias | None = None,
    silent_h: tuple[float, float] = (0.0, 0.0),
) -> Shop:
    """Return a shop with one room; between two hours nothing is heard of it."""
    heard = (silent_h[0] > HOURS) | (silent_h[1] < HOURS)
    record = readings(HOURS[heard], room.temps()[heard], room.rh)
    return shop_of(
        {"loft": record},
        finishes=[finish(name) for name in {one.finish for one in pieces}],
        pieces=pieces,
        biases={"loft": Bias() if bias is None else bias},
    )


def hung(name: str, coats: list[float], *, wet_um: float = 80.0, tag: str = "B12") -> Piece:
    """Return a piece with these coats, and no more to come."""
    laid = [Coat(at_h(hour), wet_um=wet_um) for hour in coats]
    return piece(name, laid, tag=tag, planned=len(laid))


def sure(now: PieceNow) -> dict[str, int]:
    """Return since when each ready milestone is sure [ms]; never where it is not."""
    return {
        str(stone.name): NEVER if stone.cautious_at is None else stone.cautious_at
        for stone in now.milestones
        if stone.name in READY_MILESTONES
    }


def reached(now: PieceNow) -> dict[str, int]:
    """Return since when each ready milestone has its hours [ms]; never where it has not."""
    return {
        str(stone.name): NEVER if stone.reached_at is None else stone.reached_at
        for stone in now.milestones
        if stone.name in READY_MILESTONES
    }


def never_sooner(better: PieceNow, worse: PieceNow) -> None:
    """No milestone is reached sooner under the worse hazard; a minute is lost to the grid.

    Its sure end may come a little sooner: doubts of hours warmer and colder than the reference
    partly cancel, so hours that are missing may take doubt away with them.
    """
    good, bad = reached(better), reached(worse)
    assert all(bad[name] >= good[name] - MINUTE_MS for name in good), (good, bad)
    good, bad, laid = sure(better), sure(worse), better.last_coat_at
    assert laid is not None
    assert all(
        bad[name] >= good[name] - max(MINUTE_MS, CANCELS * (good[name] - laid)) for name in good
    ), (good, bad)


def closing(now: PieceNow) -> int:
    """Return when the window closes [ms]."""
    window = now.window
    return NEVER if window is None or window.closes_at is None else window.closes_at


@given(FAMILIES, COATS, ROOMS, st.floats(0.2, 8.0), MOMENTS)
def test_a_colder_room_makes_nothing_ready_sooner(
    name: str, coats: list[float], room: Room, colder_k: float, hour: float
) -> None:
    one, now_ms = hung(name, coats), at_h(hour)
    warm = assess_piece(shop(room, one), one, now_ms)
    cold = assess_piece(shop(replace(room, day_c=room.day_c - colder_k), one), one, now_ms)
    never_sooner(warm, cold)


@given(FAMILIES, COATS, ROOMS, st.floats(0.2, 8.0), MOMENTS)
def test_a_warmer_room_closes_no_window_later(
    name: str, coats: list[float], room: Room, warmer_k: float, hour: float
) -> None:
    one, now_ms = hung(name, coats), at_h(hour)
    mild = assess_piece(shop(room, one), one, now_ms)
    warm = assess_piece(shop(replace(room, day_c=room.day_c + warmer_k), one), one, now_ms)
    assert closing(warm) <= closing(mild) + MINUTE_MS


@given(FAMILIES, COATS, ROOMS, st.floats(0.0, 250.0), st.floats(1.0, 60.0), MOMENTS)
def test_a_gap_makes_nothing_ready_sooner(
    name: str, coats: list[float], room: Room, start_h: float, length_h: float, hour: float
) -> None:
    one, now_ms = hung(name, coats), at_h(hour)
    whole = assess_piece(shop(room, one), one, now_ms)
    gap = assess_piece(shop(room, one, silent_h=(start_h, start_h + length_h)), one, now_ms)
    never_sooner(whole, gap)


@given(FAMILIES, COATS, st.floats(16.0, 30.0), st.floats(5.0, 200.0), st.floats(1.0, 60.0))
def test_a_gap_in_a_steady_room_closes_no_window_later(
    name: str, coats: list[float], temp_c: float, start_h: float, length_h: float
) -> None:
    one, now_ms, room = hung(name, coats), at_h(280.0), Room(temp_c, 0.0, 0.5)
    whole = assess_piece(shop(room, one), one, now_ms)
    gap = assess_piece(shop(room, one, silent_h=(start_h, start_h + length_h)), one, now_ms)
    assert closing(gap) <= closing(whole) + MINUTE_MS


@given(FAMILIES, COATS, ROOMS, st.floats(1.0, 4.0), MOMENTS)
def test_a_sensor_that_may_err_more_is_believed_less(
    name: str, coats: list[float], room: Room, times: float, hour: float
) -> None:
    one, now_ms = hung(name, coats), at_h(hour)
    wide = Bias(Bias().temp_k * times, min(Bias().rh_frac * times, 0.2))
    usual = assess_piece(shop(room, one), one, now_ms)
    doubt = assess_piece(shop(room, one, bias=wide), one, now_ms)
    never_sooner(usual, doubt)
    assert closing(doubt) <= closing(usual) + MINUTE_MS


@given(FAMILIES, COATS, ROOMS, st.floats(0.1, 60.0), MOMENTS)
def test_later_coats_make_nothing_ready_sooner(
    name: str, coats: list[float], room: Room, later_h: float, hour: float
) -> None:
    late = [coat + later_h for coat in coats]  # nearer together they dry longer, so all of them
    assume(late[-1] < hour)
    now_ms = at_h(hour)
    first, second = hung(name, coats), hung(name, late)
    never_sooner(
        assess_piece(shop(room, first), first, now_ms),
        assess_piece(shop(room, second), second, now_ms),
    )


@given(FAMILIES, COATS, ROOMS, st.floats(1.05, 2.5), MOMENTS)
def test_thicker_coats_make_nothing_ready_sooner_and_leave_no_less_to_fall(
    name: str, coats: list[float], room: Room, times: float, hour: float
) -> None:
    thin, thick = hung(name, coats), hung(name, coats, wet_um=80.0 * times)
    now_ms = at_h(hour)
    one = assess_piece(shop(room, thin), thin, now_ms)
    other = assess_piece(shop(room, thick), thick, now_ms)
    never_sooner(one, other)
    if one.sink_back is not None and other.sink_back is not None:
        assert other.sink_back.remaining_um >= one.sink_back.remaining_um - 1e-9


@given(FAMILIES, COATS, ROOMS, st.floats(0.2, 8.0), MOMENTS, st.floats(-20.0, 20.0))
def test_no_gate_after_the_buff_opens_by_cold(
    name: str, coats: list[float], room: Room, colder_k: float, hour: float, road_c: float
) -> None:
    one, now_ms = hung(name, coats), at_h(hour)
    cold_room = replace(room, day_c=room.day_c - colder_k)

    def gates(where: Room, coldest_c: float, held: str | None = None) -> list[int]:
        now = replace(assess_piece(shop(where, one), one, now_ms), held=held)
        told = onward(now, one, finish(name), words=Words(), now_ms=now_ms, coldest_c=coldest_c)
        return [BETTER.index(gate.verdict) for gate in told]

    best = gates(room, road_c)
    for worse in (
        gates(cold_room, road_c),
        gates(room, road_c - colder_k),
        gates(room, road_c, held="froze"),
    ):
        assert all(bad >= good for bad, good in zip(worse, best, strict=True))


@given(FAMILIES, st.floats(-40.0, 40.0), st.floats(0.1, 40.0))
def test_a_colder_road_sends_no_piece_sooner(name: str, road_c: float, colder_k: float) -> None:
    one, now_ms = hung(name, [1.0]), at_h(280.0)
    now = assess_piece(shop(Room(21.0, 0.0, 0.5), one), one, now_ms)
    stones = tuple(replace(stone, cautious_at=now_ms) for stone in now.milestones)
    old = replace(now, milestones=stones)  # its hours are in

    def sent(coldest_c: float | None) -> int:
        told = onward(old, one, finish(name), words=Words(), now_ms=now_ms, coldest_c=coldest_c)
        return BETTER.index(told[-1].verdict)

    assert sent(road_c - colder_k) >= sent(road_c)
    assert sent(None) >= BETTER.index(Pass.UNKNOWN)


@given(FAMILIES, COATS, ROOMS, st.floats(0.1, 60.0), MOMENTS)
def test_the_bench_list_never_puts_the_later_coated_of_two_first(
    name: str, coats: list[float], room: Room, later_h: float, hour: float
) -> None:
    late = [coat + later_h for coat in coats]
    assume(late[-1] < hour)
    pieces = (hung(name, late, tag="B-late"), hung(name, coats, tag="A-early"))
    facts = shop(room, *pieces)
    found = bench_list(assess(facts, at_h(hour)), facts.pieces, facts.words)
    for group in (found.ready, found.coming):
        at = {job.tag: job.at_ms for job in group if job.job == group[0].job}
        if len(at) == len(pieces) and None not in at.values():
            assert [job.tag for job in group] == [
                "A-early",
                "B-late",
            ]  # told alike they go by their tags
    ready, coming = ({job.tag for job in group} for group in (found.ready, found.coming))
    same_job = {job.job for job in (*found.ready, *found.coming)}
    if len(same_job) == 1:  # a piece further on may be coming to a later job
        assert not ("B-late" in ready and "A-early" in coming)


@given(FAMILIES, COATS, ROOMS, MOMENTS)
def test_a_hold_takes_a_piece_off_the_work_and_nothing_else_onto_it(
    name: str, coats: list[float], room: Room, hour: float
) -> None:
    pieces = (hung(name, coats, tag="HELD"), hung(name, coats, tag="FREE"))
    facts = shop(room, *pieces)
    free = bench_list(assess(facts, at_h(hour)), facts.pieces, facts.words)
    facts.held["HELD"] = "lot L7: froze"
    stopped = bench_list(assess(facts, at_h(hour)), facts.pieces, facts.words, held=facts.held)
    for group in ("due", "ready", "coming", "waiting"):
        before = [job.tag for job in getattr(free, group)]
        after = [job.tag for job in getattr(stopped, group)]
        assert "HELD" not in after
        assert after == [tag for tag in before if tag != "HELD"]
    assert "HELD" in {job.tag for job in stopped.held}


@given(
    st.lists(st.integers(0, 220), max_size=5),
    st.integers(0, 5),
    st.integers(1, 220),
    st.booleans(),
)
def test_fewer_looks_and_work_done_anyway_never_ask_less(
    looks: list[int],
    left_out: int,
    now_day: int,
    anyway: bool,  # noqa: FBT001 - a case's fact
) -> None:
    now_ms = at_h(0.0) + now_day * DAY_MS
    found = tuple(Outcome(at_h(0.0) + day * DAY_MS, "fine") for day in sorted(looks))
    buffed = replace(
        piece("waterborne", [0.0]), work=(Work(WorkKind.BUFF, at_h(1.0)),), outcomes=found
    )
    asked = {one.days for one in due(buffed, now_ms)}
    fewer = replace(buffed, outcomes=found[:left_out])
    assert asked <= {one.days for one in due(fewer, now_ms)}
    if anyway:
        hasty = replace(buffed, work=(Work(WorkKind.BUFF, at_h(1.0), anyway="show"),))
        assert asked <= {one.days for one in due(hasty, now_ms)}
