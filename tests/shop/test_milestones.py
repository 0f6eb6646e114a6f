from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.shop.ahead import ahead_in, law_ahead
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.clocks import Bias
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.laws import law_for, required_h
from curewatch.shop.milestones import Milestone, PieceClocks, milestones
from curewatch.shop.piece import Coat, Stay
from tests.shop.scene import (
    DAY_MS,
    HOUR_MS,
    T0_MS,
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
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.reading import Quantity

    Record = dict[tuple[str, Quantity], Series]

WATERBORNE, NITRO, URETHANE = (
    finish(name) for name in ("waterborne", "nitro-lacquer", "two-part-urethane")
)
READY = [name for name in MilestoneName if name is not MilestoneName.RECOAT_CLOSES]


def clocks_of(
    of: Finish, hung: Piece, now_h: float, rooms: dict[str, Record] | None = None
) -> PieceClocks:
    shop = shop_of({"loft": steady(60.0)} if rooms is None else rooms, finishes=[of], pieces=[hung])
    now_ms = at_h(now_h)
    return PieceClocks(
        hung,
        of,
        book=shop.book,
        rooms=shop.rooms,
        now_ms=now_ms,
        ahead_of=ahead_in(shop, now_ms),
    )


def swinging(days: float, mean_c: float = 19.0, swing_k: float = 6.0) -> Record:
    hours = every(9.0, days * 24.0)
    temp = mean_c + swing_k * np.sin(hours / 24 * 2 * np.pi) - hours / 400
    return readings(hours, temp, 0.5 + 0.2 * np.cos(hours / 24 * 2 * np.pi))


def holed(record: Record, *holes: tuple[float, float]) -> Record:
    found = {}
    for key, (times, values) in record.items():
        keep = np.ones(times.size, dtype=bool)
        for start, stop in holes:
            keep &= (times < at_h(start)) | (times > at_h(stop))
        found[key] = (times[keep], values[keep])
    return found


def stone(clocks: PieceClocks, name: MilestoneName) -> Milestone:
    return next(one for one in milestones(clocks) if one.name is name)


def scanned(clocks: PieceClocks, clock: ClockName, asked_h: float) -> tuple[int | None, int | None]:
    """Find both instants by looking at every minute: the rule, and the rule with its late end."""
    stops = np.arange(clocks.start_ms, clocks.now_ms + 1, MINUTE_MS, dtype=np.float64)
    hours = clocks.hours(clock, stops)
    assert hours is not None
    met = np.flatnonzero(hours.value >= asked_h)
    late = asked_h * (1 + 1.28 * hours.standard_error / np.maximum(hours.value, 1e-12))
    sure = np.flatnonzero(hours.value >= late)
    return tuple(int(stops[found[0]]) if found.size else None for found in (met, sure))  # type: ignore[return-value]


# ---- ready milestones


@pytest.mark.parametrize("of", [WATERBORNE, NITRO, URETHANE], ids=lambda one: one.name)
def test_instants_agree_with_a_scan_of_every_minute(of: Finish) -> None:
    record = holed(swinging(40.0), (30.0, 41.0), (200.0, 201.3))
    hung = piece(of.name, [3.0, 5.0, 8.21])
    clocks = clocks_of(of, hung, 39 * 24.0, {"loft": record})
    reached = 0
    for name in READY:
        found = stone(clocks, name)
        assert found.required_hours is not None
        met, sure = scanned(clocks, found.clock, found.required_hours)
        for instant, minute in ((found.reached_at, met), (found.cautious_at, sure)):
            if minute is None:
                assert instant is None
            else:
                assert instant is not None
                assert minute - MINUTE_MS <= instant <= minute
                reached += 1
    assert reached >= 6


def test_instants_agree_with_a_scan_over_stays_in_several_rooms() -> None:
    rooms = {"loft": swinging(30.0), "oven": steady(30.0, 30.0, 0.3)}
    stays = [
        Stay("loft", T0_MS, at_h(20.0)),
        Stay("oven", at_h(20.0), at_h(31.5)),
        Stay("loft", at_h(40.0), at_h(70.0)),
        Stay("oven", at_h(70.0)),
    ]
    clocks = clocks_of(WATERBORNE, piece("waterborne", [1.0, 2.5], stays=stays), 700.0, rooms)
    for name in READY:
        found = stone(clocks, name)
        assert found.required_hours is not None
        met, sure = scanned(clocks, found.clock, found.required_hours)
        assert met is not None
        assert sure is not None
        assert found.reached_at == pytest.approx(met, abs=MINUTE_MS)
        assert found.cautious_at == pytest.approx(sure, abs=MINUTE_MS)
        assert found.reached_at <= found.cautious_at


def test_an_instant_is_the_same_whenever_one_asks_after_it() -> None:
    record = {"loft": swinging(30.0)}
    hung = piece("waterborne", [1.0, 2.5])
    early, late = (clocks_of(WATERBORNE, hung, now_h, record) for now_h in (200.0, 600.0))
    for name in (MilestoneName.RECOAT_OPENS, MilestoneName.WET_SAND, MilestoneName.BUFF):
        assert stone(early, name).reached_at == stone(late, name).reached_at
        assert stone(early, name).cautious_at == stone(late, name).cautious_at
        assert stone(early, name).reached_at is not None


def test_nothing_is_reached_in_a_gap() -> None:
    hung = piece("waterborne", [0.0])
    record = holed(steady(10.0), (50.0, 90.0))
    found = stone(clocks_of(WATERBORNE, hung, 200.0, {"loft": record}), MilestoneName.WET_SAND)
    assert found.reached_at is not None
    assert found.reached_at >= at_h(90.0)
    assert found.reached_hours == pytest.approx(160.0, abs=0.4)


def test_the_wall_clock_never_carries_a_piece_that_hangs_nowhere() -> None:
    clocks = clocks_of(WATERBORNE, piece("waterborne", [0.0], stays=[]), 900.0)
    for name in READY:
        found = stone(clocks, name)
        assert (found.reached_at, found.eta_at, found.reached_hours) == (None, None, 0.0)


def test_without_any_doubt_the_rule_and_its_late_end_fall_together() -> None:
    hung = piece("waterborne", [0.0])
    shop = shop_of({"loft": steady(9.0)}, pieces=[hung], biases={"loft": Bias(0.0, 0.0)})
    clocks = PieceClocks(hung, WATERBORNE, book=shop.book, rooms=shop.rooms, now_ms=at_h(80.0))
    sand = clocks.ready(MilestoneName.WET_SAND)
    assert sand.cautious_at == sand.reached_at == at_h(60.0)


# ---- what is asked


def test_hours_per_coat_grow_with_the_coats() -> None:
    for coats in (4, 8):
        hung = piece("waterborne", [float(n) for n in range(coats)])
        assert stone(clocks_of(WATERBORNE, hung, 50.0), MilestoneName.BUFF).required_hours == (
            24.0 * coats
        )


def test_buffing_never_comes_before_wet_sanding_nor_full_cure_before_buffing() -> None:
    one = piece("waterborne", [0.0])
    many = piece("waterborne", [float(n) for n in range(30)])
    clocks = clocks_of(WATERBORNE, one, 50.0)
    assert stone(clocks, MilestoneName.WET_SAND).required_hours == 60.0
    assert stone(clocks, MilestoneName.BUFF).required_hours == 60.0
    assert stone(clocks_of(WATERBORNE, many, 50.0), MilestoneName.FULL_CURE).required_hours == 720.0


def test_drying_milestones_grow_with_the_wet_film_of_the_last_coat_and_no_other() -> None:
    def asked(*films: float | None) -> tuple[float | None, ...]:
        coats = [Coat(at_h(12.0 * n), wet_um=film) for n, film in enumerate(films)]
        clocks = clocks_of(WATERBORNE, piece("waterborne", coats), 50.0)
        return tuple(stone(clocks, name).required_hours for name in MilestoneName)

    usual, thick, thick_below = asked(None, None), asked(None, 200.0), asked(200.0, None)
    opens, closes, dry_sand, *cure = range(6)
    assert usual == thick_below
    assert thick[opens] == pytest.approx(usual[opens] * 2)  # type: ignore[operator]
    assert thick[dry_sand] == pytest.approx(usual[dry_sand] * 2)  # type: ignore[operator]
    assert [thick[i] for i in (closes, *cure)] == [usual[i] for i in (closes, *cure)]


def test_nothing_is_asked_of_a_piece_without_coats_nor_of_a_film_cured_by_dose() -> None:
    dose = finish("dose-cured")
    assert required_h(WATERBORNE, MilestoneName.BUFF, ()) is None
    assert required_h(dose, MilestoneName.BUFF, (Coat(T0_MS),)) is None
    assert required_h(NITRO, MilestoneName.RECOAT_CLOSES, (Coat(T0_MS),)) is None


def test_a_film_cured_by_dose_has_no_clock_but_the_wall_s() -> None:
    dose = finish("dose-cured")
    clocks = clocks_of(dose, piece("dose-cured", [0.0]), 100.0)
    for name in READY:
        found = stone(clocks, name)
        assert found.clock is ClockName.DOSE
        assert (found.required_hours, found.reached_hours) == (None, None)
    closes = stone(clocks, MilestoneName.RECOAT_CLOSES)
    assert (closes.reached_at, closes.eta_at) == (None, None)
    assert clocks.reading(ClockName.CURE) is None
    assert clocks.ahead(ClockName.CURE) is None
    assert clocks.reached_at(ClockName.CURE, 1.0) is None
    assert clocks.gaps(lambda _: 1800.0) == ()
    wall = clocks.reading(ClockName.WALL)
    assert wall is not None
    assert wall.effective_hours == 100.0


# ---- ahead


def test_a_date_ahead_takes_the_room_s_outlook_from_now_on() -> None:
    record = swinging(20.0)
    clock_alone = replace(WATERBORNE, film=None)
    hung = piece("waterborne", [0.0] * 8)
    shop = shop_of({"loft": record}, finishes=[clock_alone], pieces=[hung])
    now_ms, law = at_h(100.4), law_for(clock_alone, ClockName.CURE, shop.room("loft"))
    assert law is not None
    clocks = PieceClocks(
        hung,
        clock_alone,
        book=shop.book,
        rooms=shop.rooms,
        now_ms=now_ms,
        ahead_of=ahead_in(shop, now_ms),
    )
    found, cure = stone(clocks, MilestoneName.BUFF), clocks.reading(ClockName.CURE)
    ahead = law_ahead(shop, "loft", law, now_ms)
    assert cure is not None
    assert ahead is not None
    assert found.eta is not None
    assert ahead.start_ms == at_h(99.0)  # the last whole hour whose readings have settled
    have, late_h = cure.effective_hours, 192.0 * (1.0 + 1.28 * cure.relative_error)
    for instant, end, asked in (
        (found.eta.early, "most", 192.0),
        (found.eta.likely, "likely", 192.0),
        (found.eta.late, "least", late_h),
    ):
        assert instant is not None
        earned = getattr(ahead.earned(now_ms, instant), end)
        assert float(earned) == pytest.approx(asked - have, abs=1e-3)
    assert found.eta.early < found.eta.likely < found.eta.late  # type: ignore[operator]
    assert (found.eta_at, found.eta_cautious_at) == (found.eta.likely, found.eta.late)


def test_the_mean_of_the_last_day_leaves_out_hours_nobody_saw() -> None:
    record = holed(steady(10.0), (80.0, 95.0))
    clocks = clocks_of(WATERBORNE, piece("waterborne", [0.0]), 100.0, {"loft": record})
    cure = clocks.reading(ClockName.CURE)
    assert cure is not None
    assert cure.mean_rate == pytest.approx(1.0)


def test_no_date_is_told_where_the_room_earns_next_to_nothing() -> None:
    cold = {"loft": steady(10.0, 5.0)}
    found = stone(
        clocks_of(WATERBORNE, piece("waterborne", [0.0]), 100.0, cold), MilestoneName.BUFF
    )
    assert (found.reached_hours, found.eta_at, found.eta_cautious_at) == (0.0, None, None)


def test_between_the_rule_and_its_late_end_only_the_late_end_lies_ahead() -> None:
    warm = {"loft": steady(20.0, 28.0)}
    hung = piece("waterborne", [0.0])
    reached = stone(clocks_of(WATERBORNE, hung, 480.0, warm), MilestoneName.WET_SAND)
    assert reached.reached_at is not None
    assert reached.cautious_at is not None
    between_h = (reached.reached_at - T0_MS) / HOUR_MS + 0.5
    found = stone(clocks_of(WATERBORNE, hung, between_h, warm), MilestoneName.WET_SAND)
    assert found.reached_at == reached.reached_at
    assert (found.cautious_at, found.eta_at) == (None, None)
    assert found.eta is not None
    assert (found.eta.early, found.eta.likely) == (None, None)
    assert found.eta_cautious_at is not None
    assert found.eta_cautious_at >= reached.cautious_at
    waits = reached.cautious_at - at_h(between_h)
    assert found.eta_cautious_at < reached.cautious_at + 0.5 * waits


# ---- closing


def closing(of: Finish, now_h: float, record: Record, **hung: object) -> Milestone:
    given = piece(of.name, [0.0], **hung)  # type: ignore[arg-type]
    return stone(clocks_of(of, given, now_h, {"loft": record}), MilestoneName.RECOAT_CLOSES)


def test_in_the_cold_a_limit_closes_by_the_wall_clock() -> None:
    found = closing(URETHANE, 10.0, steady(2.0, 12.0))
    assert found.clock is ClockName.WALL
    assert found.reached_at == at_h(4.0)
    assert found.cautious_at == at_h(4.0)


def test_in_the_warm_a_limit_closes_at_the_early_end_of_the_cure_hours() -> None:
    record = swinging(2.0, mean_c=31.0, swing_k=3.0)
    hung = piece(URETHANE.name, [0.3])
    clocks = clocks_of(URETHANE, hung, 24.0, {"loft": record})
    found = stone(clocks, MilestoneName.RECOAT_CLOSES)
    stops = np.arange(clocks.start_ms, clocks.now_ms, MINUTE_MS, dtype=np.float64)
    hours = clocks.hours(ClockName.CURE, stops)
    assert hours is not None
    early = int(stops[np.flatnonzero(hours.fast + 1.28 * hours.standard_error >= 4.0)[0]])
    nominal = int(stops[np.flatnonzero(hours.fast >= 4.0)[0]])
    assert found.clock is ClockName.CURE
    assert found.cautious_at == pytest.approx(early, abs=MINUTE_MS)
    assert found.reached_at == pytest.approx(nominal, abs=MINUTE_MS)
    assert early < nominal < at_h(4.3)


@pytest.mark.parametrize("temp_c", [8.0, 21.0, 30.0])
@pytest.mark.parametrize("hole", [(0.5, 1.5), (0.5, 3.5), (2.0, 30.0)])
def test_a_limit_never_closes_later_because_of_a_gap(
    temp_c: float, hole: tuple[float, float]
) -> None:
    whole = closing(URETHANE, 40.0, steady(2.0, temp_c))
    found = closing(URETHANE, 40.0, holed(steady(2.0, temp_c), hole))
    assert found.cautious_at is not None
    assert whole.cautious_at is not None
    assert found.cautious_at <= whole.cautious_at + 1
    assert found.reached_at == pytest.approx(whole.reached_at, abs=MINUTE_MS)


@pytest.mark.parametrize("coat_h", [24.5, 25.0])
def test_a_coat_laid_in_a_silence_closes_by_the_early_end_of_what_was_last_known(
    coat_h: float,
) -> None:
    """Without a reading since the coat, the last day's relative doubt stands for its own."""
    seen, unseen = (
        stone(
            clocks_of(URETHANE, piece(URETHANE.name, [coat_h]), 72.0, {"loft": record}),
            MilestoneName.RECOAT_CLOSES,
        )
        for record in (steady(4.0, 30.0), holed(steady(4.0, 30.0), (24.0, 90.0)))
    )
    assert unseen.cautious_at is not None
    assert unseen.cautious_at == pytest.approx(seen.cautious_at, abs=2)
    unheard = steady(1.0, 30.0)
    silent = stone(
        clocks_of(URETHANE, piece(URETHANE.name, [coat_h]), 26.0, {"loft": unheard}),
        MilestoneName.RECOAT_CLOSES,
    )
    assert silent.eta_at == pytest.approx(seen.reached_at, abs=MINUTE_MS)
    assert silent.eta_cautious_at is not None
    assert silent.eta_cautious_at < seen.cautious_at  # the room may turn warmer
    assert silent.eta_cautious_at > seen.cautious_at - HOUR_MS // 2


def test_a_gap_carries_the_doubt_of_its_faster_end_and_not_that_of_the_cold_before_it() -> None:
    """Near the floor a tenth of an hour may be worth nothing or all: that doubt is its own."""
    hours = every(10, 48)
    hours = hours[(hours <= 2.0) | (hours >= 8.0)]
    record = readings(hours, np.where(hours < 5.0, 9.1, 21.0), 0.5)
    clocks = clocks_of(URETHANE, piece(URETHANE.name, [1.5]), 40.0, {"loft": record})
    found = stone(clocks, MilestoneName.RECOAT_CLOSES)
    stops = np.array([float(at_h(2.0)), float(at_h(5.0))])
    seen = clocks.hours(ClockName.CURE, stops)
    assert seen is not None
    assert seen.standard_error[0] > seen.value[0]
    assert seen.fast_doubt[1] < 0.05 * seen.fast[1]
    assert found.cautious_at is not None
    assert at_h(5.2) < found.cautious_at <= at_h(5.5)


@pytest.mark.parametrize("now_h", [0.5, 1.0, 2.0, 3.0, 3.9])
def test_a_limit_never_closes_later_because_the_room_turns_cold(now_h: float) -> None:
    hours = every(10, 48)
    cooling = readings(hours, np.where(hours < 1.0, 21.0, 5.0), 0.5)
    found = closing(URETHANE, now_h, cooling)
    assert found.eta_cautious_at is not None
    assert found.eta_cautious_at <= at_h(4.0)
    assert found.eta_at is not None
    assert found.eta_at <= at_h(4.0)


def test_ahead_a_limit_is_told_by_the_room_as_it_has_been() -> None:
    warm = steady(2.0, 30.0)
    told = closing(URETHANE, 1.0, warm)
    been = closing(URETHANE, 40.0, warm)
    assert told.eta is not None
    assert told.eta.early is not None
    assert been.cautious_at is not None
    assert been.cautious_at - HOUR_MS // 2 < told.eta.early < been.cautious_at
    assert told.eta_cautious_at == told.eta.early
    assert told.eta_at == pytest.approx(been.reached_at, abs=3 * MINUTE_MS)
    assert told.eta.late == at_h(4.0)  # by the wall clock at the latest
    assert told.clock is ClockName.CURE
    assert told.reached_at is None


def test_where_a_room_was_never_heard_a_limit_closes_by_the_wall_clock() -> None:
    found = closing(URETHANE, 9.0, {})
    assert (found.clock, found.cautious_at) == (ClockName.WALL, at_h(4.0))


# ---- gaps and coverage


def test_gaps_since_the_last_coat_are_told_with_the_time_in_no_room() -> None:
    stays = [Stay("loft", T0_MS, at_h(50.0)), Stay("loft", at_h(60.0))]
    record = holed(steady(10.0), (20.0, 30.0))
    clocks = clocks_of(WATERBORNE, piece("waterborne", [2.0], stays=stays), 80.0, {"loft": record})
    assert clocks.gaps(lambda _: 1800.0) == (
        (
            pytest.approx(at_h(20.0), abs=10 * MINUTE_MS),
            pytest.approx(at_h(30.0), abs=10 * MINUTE_MS),
        ),
        (at_h(50.0), at_h(60.0)),
    )


def test_the_silence_since_the_newest_reading_is_a_gap_once_it_is_too_long() -> None:
    record = {"loft": steady(1.0)}
    hung = piece("waterborne", [2.0])
    for now_h, expected in ((24.4, ()), (24.6, ((at_h(24.0), at_h(24.6)),))):
        assert clocks_of(WATERBORNE, hung, now_h, record).gaps(lambda _: 1800.0) == expected


def test_a_slow_hygrometer_is_not_a_gap_at_every_moment() -> None:
    record = readings(every(1, 24), 21.0) | readings(every(20, 24), rh_frac=0.5, sensor="dial")
    cut = {key: (t[t <= at_h(9.2)], v[t <= at_h(9.2)]) for key, (t, v) in record.items()}
    clocks = clocks_of(WATERBORNE, piece("waterborne", [2.0]), 9.2, {"loft": cut})
    assert clocks.gaps(lambda _: 1800.0) == ()


def test_a_dead_hygrometer_and_then_a_dead_room_are_one_gap() -> None:
    record = readings(every(1, 9), 21.0) | readings(every(20, 6), rh_frac=0.5, sensor="dial")
    clocks = clocks_of(WATERBORNE, piece("waterborne", [2.0]), 12.0, {"loft": record})
    assert clocks.gaps(lambda _: 1800.0) == ((at_h(6.0), at_h(12.0)),)


def test_a_piece_moved_away_before_now_has_its_open_end_as_a_gap() -> None:
    stays = [Stay("loft", T0_MS, at_h(10.0)), Stay("loft", T0_MS + DAY_MS * 9)]
    clocks = clocks_of(WATERBORNE, piece("waterborne", [2.0], stays=stays), 12.0)
    assert clocks.gaps(lambda _: 1800.0) == ((at_h(10.0), at_h(12.0)),)


def test_a_piece_in_a_room_without_readings_has_one_long_gap() -> None:
    clocks = clocks_of(WATERBORNE, piece("waterborne", [2.0]), 12.0, {"loft": {}})
    assert clocks.gaps(lambda _: 1800.0) == ((at_h(2.0), at_h(12.0)),)


def test_a_reading_tells_what_was_covered_and_what_was_extrapolated() -> None:
    record = holed(steady(3.0, 34.0), (20.0, 30.0))
    clocks = clocks_of(WATERBORNE, piece("waterborne", [0.0]), 40.0, {"loft": record})
    cure = clocks.reading(ClockName.CURE)
    assert cure is not None
    assert cure.covered_h == pytest.approx(30.0, abs=0.4)
    assert cure.beyond_h == pytest.approx(cure.effective_hours)
    assert cure.shares is not None
    assert cure.shares.ea > 0.0


def test_a_finish_without_a_young_film_or_an_opening_asks_for_neither() -> None:
    bare = replace(NITRO, requirements={})
    assert required_h(bare, MilestoneName.RECOAT_OPENS, (Coat(T0_MS),)) is None
    found = stone(clocks_of(bare, piece(bare.name, [0.0]), 9.0), MilestoneName.RECOAT_OPENS)
    assert found.required_hours is None
    assert found.reached_hours == pytest.approx(9.0, rel=1e-6)
