from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.shop.ahead import ahead_in
from curewatch.shop.finish import Finish, ForbiddenMiddle, MilestoneName, Requirement
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.piece import WorkKind
from curewatch.shop.window import RecoatWindow, WindowState, recoat_window
from curewatch.shop.words import Words
from tests.shop.scene import (
    HOUR_MS,
    at_h,
    every,
    finish,
    piece,
    readings,
    shop_of,
    steady,
)

if TYPE_CHECKING:
    from curewatch.shop.climate import Series
    from curewatch.shop.reading import Quantity

    Record = dict[tuple[str, Quantity], Series]

URETHANE, ACID, WATERBORNE = (
    finish(name) for name in ("two-part-urethane", "acid-cure", "waterborne")
)
SCUFF, BUFF = WorkKind.SCUFF, WorkKind.BUFF


def hours(of: Finish, name: MilestoneName, value: float) -> Finish:
    figure = replace(of.requirements[name].hours, value=value)
    return replace(of, requirements={**of.requirements, name: Requirement(figure)})


def window_at(
    of: Finish,
    now_h: float,
    record: Record | None = None,
    *,
    work: tuple[tuple[WorkKind, float], ...] = (),
) -> RecoatWindow:
    hung = piece(of.name, [0.0], work=work)
    rooms = {"loft": steady(30.0) if record is None else record}
    shop = shop_of(rooms, finishes=[of], pieces=[hung])
    now_ms = at_h(now_h)
    clocks = PieceClocks(
        hung,
        of,
        book=shop.book,
        rooms=shop.rooms,
        now_ms=now_ms,
        ahead_of=ahead_in(shop, now_ms),
    )
    return recoat_window(clocks, clocks.ready(MilestoneName.RECOAT_OPENS), Words())


def states(of: Finish, *now_h: float, work: tuple[tuple[WorkKind, float], ...] = ()) -> list[str]:
    return [str(window_at(of, h, work=work).state) for h in now_h]


# ---- open and shut


def test_a_window_goes_from_too_early_through_open_and_closing_to_missed() -> None:
    assert states(URETHANE, 0.1, 0.8, 0.92, 1.2, 2.0, 3.5, 3.8, 4.01, 40.0) == [
        "too-early",
        "too-early",
        "opening",
        "open",
        "open",
        "closing",
        "closing",
        "missed",
        "missed",
    ]


def test_a_window_is_open_only_once_the_late_end_of_its_opening_has_passed() -> None:
    opening = window_at(URETHANE, 0.92)
    assert opening.opens_at == at_h(0.9)
    assert opening.state is WindowState.OPENING
    assert "cautious end is not" in opening.sentence


def test_before_it_opens_a_window_says_when_it_will() -> None:
    early = window_at(URETHANE, 0.5)
    assert early.opens_at == pytest.approx(at_h(0.9), abs=1000)
    assert "0.5 of 0.9 drying hours" in early.sentence
    assert "the window opens today about 1:00" in early.next_action


def test_in_a_room_that_earns_nothing_no_opening_is_promised() -> None:
    wet = readings(every(10, 48), 21.0, 1.0)
    early = window_at(WATERBORNE, 20.0, wet)
    assert early.state is WindowState.TOO_EARLY
    assert early.opens_at is None
    assert early.next_action == "Wait: the room earns no hours."


@pytest.mark.parametrize("rooms", [{}, {"loft": {}}])
def test_in_a_room_never_heard_the_sensors_are_the_next_step(rooms: dict[str, Record]) -> None:
    of = URETHANE
    hung = piece(of.name, [0.0])
    shop = shop_of(rooms, finishes=[of], pieces=[hung])
    now_ms = at_h(0.5)
    clocks = PieceClocks(
        hung,
        of,
        book=shop.book,
        rooms=shop.rooms,
        now_ms=now_ms,
        ahead_of=ahead_in(shop, now_ms),
    )
    early = recoat_window(clocks, clocks.ready(MilestoneName.RECOAT_OPENS), Words())
    unheard = "Wait: the room earns no hours; no sensor heard: curewatch sensor list"
    assert early.next_action == unheard


def test_a_piece_in_no_room_is_not_sent_to_the_sensors() -> None:
    hung = replace(piece(URETHANE.name, [0.0]), stays=())
    shop = shop_of({"loft": steady(30.0)}, finishes=[URETHANE], pieces=[hung])
    now_ms = at_h(0.5)
    clocks = PieceClocks(
        hung,
        URETHANE,
        book=shop.book,
        rooms=shop.rooms,
        now_ms=now_ms,
        ahead_of=ahead_in(shop, now_ms),
    )
    early = recoat_window(clocks, clocks.ready(MilestoneName.RECOAT_OPENS), Words())
    assert early.next_action == "Wait: the room earns no hours."


@pytest.mark.parametrize(("of", "begin_h"), [(WATERBORNE, 18.0), (URETHANE, 2.0)])
def test_the_last_call_comes_in_the_last_quarter_and_at_most_two_hours_before(
    of: Finish, begin_h: float
) -> None:
    seen = set()
    for now_h in np.arange(begin_h, begin_h + 5.0, 0.25):
        window = window_at(of, float(now_h))
        assert window.closes_at is not None
        assert window.surely_open_at is not None
        left, whole = (
            window.closes_at - at_h(float(now_h)),
            window.closes_at - window.surely_open_at,
        )
        if left > 0:
            last_call = left <= min(2 * HOUR_MS, whole // 4)
            assert window.state == ("closing" if last_call else "open")
            seen.add(window.state)
    assert len(seen) == 2


def test_the_last_call_names_the_minute_and_the_next_job() -> None:
    last = window_at(URETHANE, 3.8)
    assert last.closes_at is not None
    assert "last call Wed 15 Nov 3:" in last.sentence
    assert last.next_action.endswith("or plan to scuff.")


def test_a_missed_window_says_by_how_much_and_what_the_trade_does() -> None:
    missed = window_at(URETHANE, 8.0)
    assert missed.state is WindowState.MISSED
    assert "Recoat window missed: it closed Wed 15 Nov" in missed.sentence
    assert missed.next_action == URETHANE.missed_window


def test_in_the_cold_a_window_may_close_before_it_ever_opened() -> None:
    cold = readings(every(10, 48), 4.0, 0.5)
    assert window_at(URETHANE, 2.0, cold).state is WindowState.TOO_EARLY
    assert window_at(URETHANE, 4.1, cold).state is WindowState.MISSED


def test_a_window_that_may_close_before_it_is_sure_to_be_open_says_so() -> None:
    cool = readings(every(10, 480), 4.0, 0.5)
    early = window_at(URETHANE, 1.0, cool)
    assert early.state is WindowState.TOO_EARLY
    assert (
        "No sure window: it may close Wed 15 Nov 4:00, before it is sure to be open."
        in early.sentence
    )
    assert "No sure window" not in window_at(URETHANE, 0.5).sentence


def test_a_finish_that_never_closes_stays_open() -> None:
    late = window_at(finish("nitro-lacquer"), 500.0)
    assert (late.state, late.closes_at) == (WindowState.OPEN, None)
    assert late.sentence == "Recoat window open, no limit known."


def test_a_film_cured_by_dose_has_no_answer() -> None:
    dose = window_at(finish("dose-cured"), 5.0)
    assert dose.state is WindowState.UNKNOWN
    assert (dose.opens_at, dose.closes_at, dose.reopens_at) == (None, None, None)
    assert "data sheet" in dose.next_action


# ---- scuffs


def test_a_scuff_reopens_a_window_that_has_closed() -> None:
    scuffed = window_at(URETHANE, 8.0, work=((SCUFF, 7.0),))
    assert (scuffed.state, scuffed.closes_at) == (WindowState.OPEN, None)
    assert "after the scuff" in scuffed.sentence


@pytest.mark.parametrize("kind", [WorkKind.DRY_SAND, WorkKind.WET_SAND, WorkKind.LEVEL])
def test_all_that_abrades_keys_the_film_like_a_scuff(kind: WorkKind) -> None:
    assert window_at(URETHANE, 8.0, work=((kind, 7.0),)).state is WindowState.OPEN


def test_a_buffed_film_is_not_keyed() -> None:
    assert window_at(URETHANE, 8.0, work=((BUFF, 7.0),)).state is WindowState.MISSED


@pytest.mark.parametrize("when_h", [-1.0, 0.0, 9.0])
def test_a_scuff_before_the_coat_or_still_to_come_opens_nothing(when_h: float) -> None:
    assert window_at(URETHANE, 8.0, work=((SCUFF, when_h),)).state is WindowState.MISSED


# ---- the forbidden middle

# acid-cure's generic figures leave minutes before the closing: a wider window shows every state
TWO_SIDED = hours(ACID, MilestoneName.RECOAT_CLOSES, 1.7)
MIDDLE = ACID.middle
assert MIDDLE is not None


def test_a_finish_with_a_forbidden_middle_is_coated_early_or_late_never_between() -> None:
    assert states(TWO_SIDED, 0.3, 1.2, 1.75, 3.0, 20.0) == [
        "too-early",
        "open",
        "missed",
        "in-middle",
        "in-middle",
    ]


def test_without_a_scuff_the_far_side_is_still_a_missed_window() -> None:
    assert states(TWO_SIDED, 60.0) == ["missed"]
    assert states(TWO_SIDED, 60.0, work=((SCUFF, 50.0),)) == ["open"]


def test_past_the_middle_it_says_since_when_and_asks_for_a_scuff_and_a_test_board() -> None:
    past = window_at(TWO_SIDED, 60.0)
    assert past.reopens_at is not None
    since = Words().dated(past.reopens_at, at_h(60.0))
    assert past.sentence == f"Past the far side of the forbidden middle since {since}."
    assert past.next_action.startswith("Scuff, try a test board first")
    scuffed = window_at(TWO_SIDED, 60.0, work=((SCUFF, 50.0),))
    assert scuffed.sentence.endswith(", and scuffed.")
    assert scuffed.next_action.startswith("Try a test board first")
    oil = window_at(finish("oil-varnish"), 200.0)
    assert oil.next_action.startswith("Scuff, try a test board first")


def test_between_the_closing_and_the_middle_the_far_side_ahead_is_told() -> None:
    missed = window_at(TWO_SIDED, 1.75)
    assert missed.reopens_at is not None
    ahead = Words().ahead(missed.reopens_at, at_h(1.75))
    assert missed.next_action.endswith(f"The far side of the middle: {ahead}.")
    cold = readings(every(10, 96), 2.0, 0.5)
    assert window_at(TWO_SIDED, 1.9, cold).next_action.endswith("a time that cannot be told.")


def test_a_scuff_does_not_open_the_middle() -> None:
    inside = window_at(TWO_SIDED, 10.0, work=((SCUFF, 9.0),))
    assert inside.state is WindowState.IN_MIDDLE
    assert "can wrinkle" in inside.sentence
    assert "scuff" in inside.next_action


def test_before_the_middle_a_scuffed_film_closes_where_the_middle_begins() -> None:
    scuffed = window_at(TWO_SIDED, 1.75, work=((SCUFF, 1.73),))
    assert scuffed.state is WindowState.CLOSING
    assert scuffed.closes_at == pytest.approx(at_h(2.0), abs=0.2 * HOUR_MS)


def test_the_far_side_is_the_later_of_the_wall_and_the_late_end_of_the_cure_hours() -> None:
    stop_h = MIDDLE.stop_h.value
    warm = readings(every(10, 96), 30.0, 0.5)
    assert window_at(TWO_SIDED, 5.0, warm).reopens_at == at_h(stop_h)
    assert window_at(TWO_SIDED, 30.0, warm).reopens_at == at_h(stop_h)
    cool = readings(every(10, 240), 16.0, 0.5)
    told, been = (window_at(TWO_SIDED, h, cool) for h in (30.0, 200.0))
    assert told.state is WindowState.IN_MIDDLE
    assert been.reopens_at is not None
    assert been.reopens_at > at_h(stop_h + 4)
    assert told.reopens_at is not None  # by the late end of what the room may earn
    assert been.reopens_at < told.reopens_at < been.reopens_at + 15 * HOUR_MS


def test_in_a_room_that_earns_nothing_the_far_side_cannot_be_told() -> None:
    cold = readings(every(10, 96), 2.0, 0.5)
    inside = window_at(TWO_SIDED, 50.0, cold)
    assert (inside.state, inside.reopens_at) == (WindowState.IN_MIDDLE, None)
    assert "a time that cannot be told" in inside.next_action


def test_the_middle_begins_at_the_early_end_of_the_cure_hours() -> None:
    warm = readings(every(10, 96), 30.0, 0.5)
    begins = window_at(TWO_SIDED, 0.1, warm).closes_at
    assert begins is not None
    assert begins < at_h(1.2)
    assert window_at(TWO_SIDED, 1.5, warm).state is WindowState.IN_MIDDLE


def test_an_oil_with_its_opening_on_the_far_side_goes_from_too_early_to_open() -> None:
    assert states(finish("oil-varnish"), 1.0, 10.0, 60.0, 200.0) == [
        "too-early",
        "in-middle",
        "in-middle",
        "open",
    ]


def test_the_window_of_a_middle_without_other_limits_closes_where_the_middle_begins() -> None:
    requirements = {
        name: asked
        for name, asked in ACID.requirements.items()
        if name is not MilestoneName.RECOAT_CLOSES
    }
    of = replace(
        ACID,
        requirements=requirements,
        middle=ForbiddenMiddle(
            replace(MIDDLE.start_h, value=5.0), replace(MIDDLE.stop_h, value=24.0)
        ),
    )
    opened = window_at(of, 3.0)
    assert opened.state is WindowState.OPEN
    assert opened.closes_at is not None
    assert at_h(4.0) < opened.closes_at < at_h(5.0)
    assert states(of, 5.1, 23.0) == ["in-middle", "in-middle"]
