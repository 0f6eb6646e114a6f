"""A day at the gun: windows are kept, the gun is in one place, the night is pointed out."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import pairwise
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.shop.ahead import Eta
from curewatch.shop.clocks_ahead import Kept, at_level, given_clocks, room_clocks
from curewatch.shop.coat_window import NOT_KNOWN, stretches, window_after, window_now
from curewatch.shop.day_plan import Ask, DayPlan, Hook, plan
from curewatch.shop.finish import MilestoneName
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.piece import Coat, WorkKind
from curewatch.shop.room import Room
from curewatch.shop.room_plan import RoomPlan
from curewatch.shop.shop_hours import ShopHours
from curewatch.shop.words import Words
from tests.shop.scene import DAY_MS, HOUR_MS, T0_MS, at_h, finish, piece, shop_of, steady

if TYPE_CHECKING:
    from curewatch.shop.clocks_ahead import RoomClocks
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece

MINUTE_MS = 60_000
LOFT = Room("loft", air="gentle")
NIGHT = ShopHours(6 * 60, 22 * 60, UTC)
DAY = ShopHours(8 * 60, 18 * 60, UTC)
NAMES = (
    "waterborne",
    "waterborne-crosslinked",
    "nitro-lacquer",
    "acrylic-lacquer",
    "two-part-urethane",
    "acid-cure",
    "oil-varnish",
    "shellac",
)


def kept(of: Finish, temp_c: float = 21.0, rh_frac: float = 0.5) -> RoomClocks:
    return given_clocks(of, LOFT, temp_c=temp_c, rh_frac=rh_frac)


def hook(name: str, tag: str = "B12", temp_c: float = 21.0, rh_frac: float = 0.5) -> Hook:
    of = finish(name)
    return Hook(tag, of, kept(of, temp_c, rh_frac))


def ask(coats: int = 3, start_h: float = 8.0, **more: object) -> Ask:
    return replace(Ask(coats, at_h(start_h), NIGHT, Words()), **more)  # type: ignore[arg-type]


def kinds(found: DayPlan) -> list[str]:
    return [caution.kind for caution in found.cautions]


def minutes(found: DayPlan) -> list[float]:
    return [(coat.at_ms - at_h(8.0)) / MINUTE_MS for coat in found.coats]


def test_a_coat_waits_until_the_window_before_it_is_surely_open() -> None:
    found = plan([hook("nitro-lacquer")], ask(3))
    for before, after in pairwise(found.coats):
        assert after.laid_in == before.window
        sure = before.window.opens.late
        assert sure is not None
        assert sure <= after.at_ms < sure + 5 * MINUTE_MS
        assert after.at_ms % (5 * MINUTE_MS) == 0
    assert [coat.number for coat in found.coats] == [1, 2, 3]
    assert found.unplanned == 0
    assert found.pots == ()


def test_less_sure_means_sooner() -> None:
    starts = [plan([hook("shellac")], ask(2, level=level)).coats[1].at_ms for level in (50, 80, 90)]
    assert starts == sorted(starts)
    assert len(set(starts)) == 3


def test_the_gun_goes_round_in_the_order_of_the_pieces_and_is_cleaned_after_each_round() -> None:
    pieces = [hook("waterborne", tag) for tag in ("B12", "N7", "B13")]
    found = plan(pieces, ask(2, coat_min=30.0, clean_min=20.0))
    assert [coat.piece for coat in found.coats] == ["B12", "N7", "B13"] * 2
    assert minutes(found) == [0.0, 30.0, 60.0, 110.0, 140.0, 170.0]


def test_a_later_piece_waits_for_the_gun_not_for_its_window_alone() -> None:
    found = plan([hook("waterborne", "A"), hook("waterborne", "B")], ask(2, coat_min=90.0))
    assert minutes(found) == [0.0, 90.0, 180.0, 270.0]


def test_what_cannot_be_laid_before_a_window_closes_is_not_planned_and_the_reason_is_said() -> None:
    found = plan([hook("acid-cure")], ask(2))
    assert len(found.coats) == 1
    assert found.unplanned == 1
    (refused,) = [one for one in found.cautions if one.kind == "not-planned"]
    assert (refused.piece, refused.coat) == ("B12", 2)
    assert "may close" in refused.words
    assert "--scuff plans that" in refused.words
    assert "no-sure-window" not in kinds(found)  # there are some minutes, too few for a coat


def test_a_piece_that_is_given_up_does_not_hold_the_others_up() -> None:
    found = plan([hook("acid-cure", "A"), hook("acid-cure", "B")], ask(3))
    assert [coat.piece for coat in found.coats] == ["A", "B"]
    assert kinds(found).count("not-planned") == 2
    assert found.unplanned == 4


def test_with_a_scuff_a_closed_window_is_no_bar_but_the_middle_is() -> None:
    found = plan([hook("acid-cure")], ask(2, scuff=True, keep_hours=True, night=DAY))
    second = found.coats[1]
    middle = found.coats[0].window.middle
    assert middle is not None
    assert middle[0].early is not None
    assert second.scuff
    assert not second.past_middle  # between the closing and the middle a scuffed film takes a coat
    assert second.done_ms <= middle[0].early
    assert "scuff-first" in kinds(found)


def test_past_the_middle_a_coat_waits_for_its_far_side_at_the_late_end() -> None:
    found = plan([hook("oil-varnish")], ask(2))
    middle = found.coats[0].window.middle
    assert middle is not None
    assert middle[1].late is not None
    assert found.coats[1].past_middle
    assert found.coats[1].at_ms >= middle[1].late >= found.coats[0].done_ms + 72 * HOUR_MS
    assert "waits-out-middle" in kinds(found)
    assert "another-day" in kinds(found)


def test_a_window_that_closes_at_night_is_pointed_out_for_the_last_coat_alone() -> None:
    found = plan([hook("waterborne-crosslinked")], ask(2, start_h=17.0))
    assert [one.coat for one in found.cautions if one.kind == "closes-at-night"] == [2]
    assert "at night" in next(o.words for o in found.cautions if o.kind == "closes-at-night")
    by_day = plan([hook("waterborne-crosslinked")], ask(2))
    assert "closes-at-night" not in kinds(by_day)


def test_a_middle_with_an_end_at_night_is_pointed_out() -> None:
    late = plan([hook("acid-cure")], ask(1, start_h=21.0))
    assert "middle-at-night" in kinds(late)
    early = plan([hook("acid-cure")], ask(1, start_h=9.0))
    assert "middle-at-night" not in kinds(early)


def test_a_middle_whose_far_side_cannot_be_told_is_pointed_out() -> None:
    of = finish("oil-varnish")
    cold = plan([Hook("B12", of, kept(of, 2.0))], ask(1))
    said = next(one.words for one in cold.cautions if one.kind == "middle-at-night")
    assert "a time that cannot be told" in said


def test_a_window_that_may_close_before_it_is_surely_open_is_no_sure_window() -> None:
    damp = plan([hook("waterborne-crosslinked", temp_c=30.0)], ask(1))
    assert "no-sure-window" not in kinds(damp)
    short = finish("acid-cure")
    asked = dict(short.requirements)
    opens = asked[MilestoneName.RECOAT_OPENS]
    asked[MilestoneName.RECOAT_OPENS] = replace(opens, hours=replace(opens.hours, value=1.2))
    slow = replace(short, requirements=asked)
    found = plan([Hook("B12", slow, kept(slow))], ask(1))
    assert "no-sure-window" in kinds(found)


def test_without_hours_a_coat_at_night_is_pointed_out_with_hours_it_waits_for_the_morning() -> None:
    free = plan([hook("nitro-lacquer")], ask(2, start_h=21.5))
    assert "at-night" in kinds(free)
    kept_hours = plan([hook("nitro-lacquer")], ask(2, start_h=17.5, night=DAY, keep_hours=True))
    assert kept_hours.coats[0].at_ms == at_h(17.5)
    assert kept_hours.coats[1].at_ms == at_h(32.0)
    assert "another-day" in kinds(kept_hours)
    assert "at-night" not in kinds(kept_hours)


def test_a_coat_longer_than_the_day_is_refused() -> None:
    with pytest.raises(BadInput, match="longer than the shop is open"):
        plan([hook("shellac")], ask(1, coat_min=700.0, night=DAY, keep_hours=True))


def test_so_many_coats_a_day_and_the_next_in_the_morning() -> None:
    found = plan([hook("nitro-lacquer")], ask(5, per_day=2, night=DAY, keep_hours=True))
    days = [(coat.at_ms - T0_MS) // DAY_MS for coat in found.coats]
    assert days == [0, 0, 1, 1, 2]
    assert found.coats[2].at_ms == at_h(32.0)


def test_the_last_safe_start_leaves_time_to_dry_before_the_day_turns() -> None:
    found = plan([hook("waterborne")], ask(1, night=DAY, keep_hours=True))
    assert found.turns_ms == at_h(18.0)
    assert found.last_start_ms is not None
    of = finish("waterborne")
    for start_ms, dry in (
        (found.last_start_ms, True),
        (found.last_start_ms + 2 * MINUTE_MS, False),
    ):
        sure = window_after(of, kept(of), (Coat(start_ms + 10 * MINUTE_MS),)).opens.late
        assert sure is not None
        assert (sure <= at_h(18.0)) is dry
    late = plan([hook("waterborne")], ask(1, start_h=17.3, night=DAY, keep_hours=True))
    assert late.last_start_ms is None
    assert "past-last-start" in kinds(late)
    assert plan([hook("waterborne")], ask(1)).turns_ms is None


def test_a_coat_after_the_last_safe_start_is_pointed_out() -> None:
    found = plan([hook("waterborne")], ask(9, night=DAY, keep_hours=True))
    said = [one.coat for one in found.cautions if one.kind == "past-last-start"]
    last = found.last_start_ms
    assert last is not None
    expected = [c.number for c in found.coats if last < c.at_ms < at_h(18.0)]
    assert said == expected
    assert said


def test_no_coat_is_laid_when_the_room_is_not_fit_to_spray() -> None:
    def until_noon(from_ms: int) -> int | None:
        return T0_MS + (from_ms - T0_MS) // DAY_MS * DAY_MS + 12 * HOUR_MS

    free = plan([hook("waterborne")], ask(4, start_h=8.0, fit_until=until_noon))
    assert free.turns_ms == at_h(12.0)
    today = [coat for coat in free.coats if coat.at_ms < at_h(12.0)]
    assert 0 < len(today) < 4
    for coat in today:  # dry, not only laid, before it turns
        assert coat.window.opens.late is not None
        assert coat.window.opens.late <= at_h(12.0)
    assert all(coat.at_ms >= at_h(24.0) for coat in free.coats[len(today) :])
    hours = ask(4, start_h=9.0, fit_until=until_noon, night=DAY, keep_hours=True)
    daily = plan([hook("nitro-lacquer")], hours)
    assert daily.turns_ms == at_h(12.0)
    assert daily.unplanned == 0
    assert daily.coats[-1].at_ms >= at_h(32.0)
    never = plan([hook("nitro-lacquer")], replace(hours, fit_until=lambda _: 0))
    assert never.coats == ()
    assert "at any time that could be found" in never.cautions[0].words
    after = plan(
        [hook("nitro-lacquer")], ask(2, fit_until=lambda ms: None if ms <= at_h(8.0) else 0)
    )
    assert "likely not fit from then on" in after.cautions[0].words


def test_why_a_coat_is_not_planned_is_what_bars_it() -> None:
    def refused(found: DayPlan) -> str:
        return next(one.words for one in found.cautions if one.kind == "not-planned")

    urethane = hook("two-part-urethane")
    overnight = ask(2, start_h=17.0, night=DAY, keep_hours=True)
    assert "nobody is there in between" in refused(plan([urethane], overnight))
    slow = ask(2, coat_min=60.0, clean_min=200.0)
    assert "the gun is not free by then" in refused(plan([urethane], slow))
    assert "too short for a coat" in refused(plan([urethane], ask(2, coat_min=240.0)))
    barred = ask(2, fit_until=lambda ms: None if ms <= at_h(8.0) else at_h(9.0))
    assert "the room is likely not fit in between" in refused(plan([urethane], barred))
    damp = finish("acid-cure")
    asked = dict(damp.requirements)
    opens = asked[MilestoneName.RECOAT_OPENS]
    asked[MilestoneName.RECOAT_OPENS] = replace(opens, hours=replace(opens.hours, value=1.2))
    none = replace(damp, requirements=asked)
    assert "before it is surely open" in refused(plan([Hook("B12", none, kept(none))], ask(2)))


def test_a_window_that_closed_before_the_start_is_said_to_have_closed() -> None:
    of = finish("two-part-urethane")
    laid = (Coat(at_h(8.0)),)
    old = Hook("B12", of, kept(of), laid, window_after(of, kept(of), laid))
    found = plan([old], ask(1, start_h=48.0))
    said = next(one.words for one in found.cautions if one.kind == "not-planned")
    assert "its window has closed, yesterday 11:" in said.replace("Wed 15 Nov", "yesterday")
    assert "no time between" not in said
    assert "--scuff plans that" in said


def test_a_coat_begun_too_late_to_be_on_before_the_window_closes_is_said_to_be() -> None:
    of = finish("two-part-urethane")
    laid = (Coat(at_h(8.0)),)
    open_now = Hook("B12", of, kept(of), laid, window_after(of, kept(of), laid))
    found = plan([open_now], ask(1, start_h=11.8))
    assert found.coats == ()
    said = next(one.words for one in found.cautions if one.kind == "not-planned")
    assert "before a coat begun today 11:48 is on" in said
    assert len(plan([open_now], ask(1, start_h=11.5)).coats) == 1


def test_a_room_that_warms_in_the_forenoon_is_sprayed_in_from_then() -> None:
    """Nothing is put off to another day that a later hour of this one allows."""
    ten = ask(1, start_h=8.0, night=DAY, keep_hours=True)
    found = plan(
        [hook("nitro-lacquer")],
        replace(ten, fit_until=lambda ms: None if ms >= at_h(10.0) else ms),
    )
    assert found.coats[0].at_ms == at_h(10.0)
    assert found.turns_ms == at_h(18.0)


def test_a_finish_cured_by_dose_needs_the_room_while_it_is_sprayed() -> None:
    found = plan([hook("dose-cured")], ask(1, fit_until=lambda _: at_h(8.5)))
    assert found.coats[0].unfit_ms is None
    late = plan([hook("dose-cured")], ask(1, fit_until=lambda ms: max(at_h(8.1), ms)))
    assert late.coats == ()


def test_what_nobody_can_tell_so_far_ahead_is_pointed_out() -> None:
    far = ask(1, start_h=100.0, fit_until=lambda _: None, now_ms=at_h(8.0))
    assert kinds(plan([hook("nitro-lacquer")], far)) == ["at-night", "fit-far-ahead"]
    near = replace(far, start_ms=at_h(34.0))
    assert "fit-far-ahead" not in kinds(plan([hook("nitro-lacquer")], near))
    typed = replace(far, fit_until=None)
    assert "fit-far-ahead" not in kinds(plan([hook("nitro-lacquer")], typed))


def test_a_finish_cured_by_dose_gets_its_first_coat_and_no_time_for_the_next() -> None:
    found = plan([hook("dose-cured")], ask(2))
    assert len(found.coats) == 1
    assert found.coats[0].window.opens.late is None
    assert "no clock answers" in next(o.words for o in found.cautions if o.kind == "not-planned")


def test_a_pot_is_over_at_its_early_end_and_the_next_coat_gets_a_fresh_one() -> None:
    found = plan([hook("two-part-urethane", "A"), hook("two-part-urethane", "B")], ask(2))
    assert [pot.coats for pot in found.pots] == [2, 2]
    for pot in found.pots:
        assert pot.over_ms < pot.mixed_ms + HOUR_MS  # its life at the sheet, and no longer
    assert kinds(found).count("pot-over") == 1
    warm = plan([hook("two-part-urethane", temp_c=30.0)], ask(1))
    assert warm.pots[0].over_ms < found.pots[0].over_ms


def test_a_pot_that_is_mixed_already_counts_from_then() -> None:
    mixed = at_h(7.2)
    found = plan(
        [hook("two-part-urethane", "A"), hook("two-part-urethane", "B")], ask(1, mixed_ms=mixed)
    )
    assert [pot.coats for pot in found.pots] == [1, 1]
    assert found.pots[0].mixed_ms == mixed


def test_a_pot_that_stands_already_is_over_when_its_room_s_record_says() -> None:
    asked = ask(1, mixed_ms=at_h(7.8), pot_over=lambda mixed_ms: mixed_ms + 12 * MINUTE_MS)
    found = plan([hook("two-part-urethane")], asked)
    assert found.pots[0].over_ms == at_h(7.8) + 12 * MINUTE_MS
    assert kinds(found).count("pot-over") == 1
    assert found.pots[1].over_ms > found.pots[1].mixed_ms + 30 * MINUTE_MS  # the fresh one's own


def test_a_pot_ages_by_the_law_of_a_closed_pot_as_pots_at_the_bench_do() -> None:
    of = finish("two-part-urethane")
    assert of.cure is not None
    hot = of.cure.upper_limit_c.value + 10.0
    capped, free = kept(of, hot).cure, kept(of, hot).pot
    assert capped is not None
    assert free is not None
    assert free.likely_h(T0_MS, at_h(1.0)) > capped.likely_h(T0_MS, at_h(1.0))
    (pot,) = plan([Hook("B12", of, kept(of, hot))], ask(1)).pots
    assert pot.over_ms == free.by(pot.mixed_ms, 1.0).early
    assert kept(finish("waterborne")).pot is None


def test_a_coat_longer_than_a_pot_lives_is_pointed_out() -> None:
    found = plan([hook("two-part-urethane")], ask(1, coat_min=90.0))
    assert kinds(found).count("pot-too-short") == 1
    assert "pot-over" not in kinds(found)


def test_a_pot_without_a_cure_clock_lives_by_the_wall() -> None:
    lamp = replace(finish("dose-cured"), pot_life_h=finish("acid-cure").pot_life_h)
    found = plan([Hook("B12", lamp, kept(lamp))], ask(1))
    assert found.pots[0].over_ms == found.pots[0].mixed_ms + 8 * HOUR_MS


def window_of(hung: Piece, hours: float, *, temp_c: float = 21.0):  # type: ignore[no-untyped-def]  # noqa: ANN201 - CoatWindow
    of = finish(hung.finish)
    shop = shop_of({"loft": steady(20.0, temp_c)}, finishes=[of], pieces=[hung], rooms=[LOFT])
    now = at_h(hours)
    clocks = room_clocks(shop, "loft", of, now)
    assert clocks is not None
    past = PieceClocks(hung, of, book=shop.book, rooms=shop.rooms, now_ms=now)
    return window_now(past, clocks), past


def test_what_is_on_already_counts_by_its_record() -> None:
    hung = piece("waterborne", [240.0])
    for hours, past in ((240.4, False), (243.0, True)):
        window, clocks = window_of(hung, hours)
        stone = clocks.ready(MilestoneName.RECOAT_OPENS)
        assert window.laid_ms == at_h(240.0)
        assert window.opens.early <= window.opens.likely <= window.opens.late
        assert (window.opens.late == stone.cautious_at) is past
        assert (window.opens.likely == stone.reached_at) is past
        assert window.closes is not None
        assert window.closes.early <= window.closes.late == at_h(264.0)


def test_a_rule_just_met_is_sure_only_after_its_doubt() -> None:
    hung = piece("waterborne", [240.0])
    window, clocks = window_of(hung, 243.0)
    met = window.opens.likely + 60_000 - T0_MS
    window, clocks = window_of(hung, met / HOUR_MS)
    stone = clocks.ready(MilestoneName.RECOAT_OPENS)
    assert stone.reached_at is not None
    assert stone.cautious_at is None
    assert window.opens.early == window.opens.likely == stone.reached_at
    assert window.opens.late > at_h(met / HOUR_MS)


def test_a_closed_window_stays_closed_and_a_scuff_opens_it() -> None:
    gone, _ = window_of(piece("waterborne", [240.0]), 270.0)
    assert gone.limit is not None
    assert gone.limit.early < at_h(270.0)
    assert not [one for one in stretches(gone, 90) if not one.scuff and one.stop_ms is None]
    scuffed = piece("waterborne", [240.0], work=[(WorkKind.SCUFF, 269.0)])
    window, _ = window_of(scuffed, 270.0)
    assert window.limit is None
    assert [one.scuff for one in stretches(window, 90)] == [False]


def test_the_far_side_of_a_running_middle_is_never_before_the_wall_clock() -> None:
    window, _ = window_of(piece("oil-varnish", [240.0]), 260.0, temp_c=35.0)
    assert window.middle is not None
    assert window.middle[1].early == at_h(312.0)
    assert window.middle[0].early is not None
    assert window.middle[0].early < at_h(242.0)


def test_a_dose_cured_piece_has_no_window_that_could_be_told() -> None:
    of = finish("dose-cured")
    lamp = replace(of, middle=finish("acid-cure").middle)
    hung = piece("dose-cured", [240.0])
    shop = shop_of({"loft": steady(20.0)}, finishes=[lamp], pieces=[hung])
    clocks = room_clocks(shop, "loft", lamp, at_h(250.0))
    assert clocks is not None
    past = PieceClocks(hung, lamp, book=shop.book, rooms=shop.rooms, now_ms=at_h(250.0))
    window = window_now(past, clocks)
    assert window.opens.late is None
    assert stretches(window, 90) == ()
    assert window.middle is not None
    assert window.middle[1].late is None


def test_a_room_never_heard_has_no_clocks_ahead() -> None:
    of = finish("waterborne")
    assert room_clocks(shop_of({}, rooms=[LOFT]), "loft", of, at_h(1.0)) is None


def test_a_room_that_earned_nothing_has_the_doubt_of_the_reference_climate() -> None:
    of = finish("waterborne")
    shop = shop_of({"loft": steady(20.0, 2.0)}, finishes=[of], rooms=[LOFT])
    cold = room_clocks(shop, "loft", of, at_h(470.0))
    assert cold is not None
    assert cold.cure is not None
    usual = kept(of).cure
    assert usual is not None
    assert cold.cure.doubt_rel == pytest.approx(usual.doubt_rel)
    frozen = kept(of, 2.0).cure
    assert frozen is not None
    assert frozen.doubt_rel == 0.0
    assert frozen.likely_h(T0_MS, at_h(48.0)) == 0.0


def test_between_likely_and_late_lies_four_times_in_five() -> None:
    of = finish("shellac")
    when = kept(of).drying.by(T0_MS, 2.0)  # type: ignore[union-attr]
    assert when.likely is not None
    assert when.late is not None
    assert when.likely < (at_level(when, T0_MS, 80) or 0) < when.late
    assert at_level(when, when.likely, 80) == when.late  # no wait left to spread
    unknown = replace(when, late=None)
    assert at_level(unknown, T0_MS, 80) is None
    assert at_level(unknown, T0_MS, 50) == when.likely


def test_a_shop_day_must_end_after_it_begins() -> None:
    with pytest.raises(BadInput, match="8:00-18:00"):
        ShopHours(600, 600, UTC)


climates = st.tuples(st.floats(10.0, 34.0), st.floats(0.2, 0.8))
asks = st.builds(
    lambda coats, start, coat, clean, keep, scuff, per_day: ask(
        coats,
        start,
        coat_min=coat,
        clean_min=clean,
        keep_hours=keep,
        night=DAY if keep else NIGHT,
        scuff=scuff,
        per_day=per_day,
    ),
    st.integers(1, 4),
    st.floats(0.0, 24.0),
    st.floats(1.0, 60.0),
    st.floats(0.0, 30.0),
    st.booleans(),
    st.booleans(),
    st.none() | st.integers(1, 3),
)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(NAMES), climates, asks, st.integers(1, 3))
def test_no_coat_before_its_window_is_surely_open_nor_after_its_early_close(
    name: str, climate: tuple[float, float], asked: Ask, pieces: int
) -> None:
    hooks = [hook(name, f"P{n}", *climate) for n in range(pieces)]
    found = plan(hooks, asked)
    for coat in found.coats:
        assert not asked.keep_hours or DAY.is_open(coat.at_ms)
        if coat.laid_in is None:
            continue
        sure, middle = coat.laid_in.opens.late, coat.laid_in.middle
        assert sure is not None
        assert coat.at_ms >= sure
        if coat.laid_in.closes is not None and not coat.scuff:
            assert coat.laid_in.closes.early is not None
            assert coat.done_ms <= coat.laid_in.closes.early
        if middle is not None:
            begins, ends = middle[0].early, middle[1].late
            assert begins is not None
            assert coat.done_ms <= begins or (ends is not None and coat.at_ms >= ends)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(NAMES), climates, asks, st.integers(1, 4))
def test_one_gun_is_never_in_two_places(
    name: str, climate: tuple[float, float], asked: Ask, pieces: int
) -> None:
    found = plan([hook(name, f"P{n}", *climate) for n in range(pieces)], asked)
    assert all(before.done_ms <= after.at_ms for before, after in pairwise(found.coats))
    assert len(found.coats) + found.unplanned == asked.coats * pieces


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(NAMES), climates, asks, st.integers(1, 3))
def test_more_coats_never_end_earlier(
    name: str, climate: tuple[float, float], asked: Ask, pieces: int
) -> None:
    hooks = [hook(name, f"P{n}", *climate) for n in range(pieces)]
    fewer, more = plan(hooks, asked), plan(hooks, replace(asked, coats=asked.coats + 1))
    assert more.coats[: len(fewer.coats)] == fewer.coats or fewer.unplanned
    assert more.coats[-1].done_ms >= fewer.coats[-1].done_ms


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(NAMES), climates, asks, st.floats(0.5, 8.0))
def test_a_colder_room_never_makes_the_last_coat_earlier(
    name: str, climate: tuple[float, float], asked: Ask, colder_k: float
) -> None:
    """Where no limit that closes stood in the way: a colder room may widen a narrow window."""
    free = replace(
        finish(name),
        middle=None,
        requirements={
            key: value
            for key, value in finish(name).requirements.items()
            if key is not MilestoneName.RECOAT_CLOSES
        },
    )
    warm = plan([Hook("B12", free, kept(free, *climate))], asked)
    cold = plan([Hook("B12", free, kept(free, climate[0] - colder_k, climate[1]))], asked)
    assert len(cold.coats) <= len(warm.coats)
    for mild, chilly in zip(warm.coats, cold.coats, strict=False):
        assert chilly.at_ms >= mild.at_ms


def test_where_the_far_side_of_the_middle_cannot_be_told_nothing_lies_beyond_it() -> None:
    of = finish("acid-cure")
    window = window_after(of, kept(of), (Coat(at_h(8.0)),))
    assert window.middle is not None
    endless = replace(window, middle=(window.middle[0], NOT_KNOWN))
    assert [one.past_middle for one in stretches(window, 90)] == [False, False, True]
    assert [one.past_middle for one in stretches(endless, 90)] == [False, False]


def test_a_coat_while_the_room_is_likely_not_fit_is_pointed_out_or_not_planned() -> None:
    turns = ask(3, start_h=9.0, fit_until=lambda ms: max(at_h(11.0), ms))
    told = plan([hook("waterborne")], replace(turns, keep_fit=False))
    assert told.unplanned == 0
    said = {one.coat: one.words for one in told.cautions if one.kind == "not-fit"}
    assert list(said) == [2, 3]
    assert [coat.unfit_ms for coat in told.coats] == [None, at_h(11.0), told.coats[2].at_ms]
    assert "today 11:00, before this coat is surely dry" in said[2]
    assert "surely dry" not in said[3]
    assert told.unfit == 2
    assert told.turns_ms == at_h(11.0)
    kept_fit = plan([hook("waterborne")], turns)
    assert len(kept_fit.coats) == 1
    assert kept_fit.unfit == 0
    assert "not-fit" not in kinds(kept_fit)


def test_a_plan_for_a_warmer_room_has_the_doubt_of_that_warmth() -> None:
    of = finish("two-part-urethane")
    doubts = []
    for plans in (
        (),
        (RoomPlan("loft", at_h(0.0), at_h(1.0), temp_c=35.0),),  # over long ago
        (RoomPlan("loft", at_h(470.0), None, temp_c=35.0),),
        (RoomPlan("loft", at_h(470.0), None, rh_frac=0.3),),
    ):
        shop = shop_of({"loft": steady(20.0)}, finishes=[of], rooms=[LOFT])
        shop.plans = {"loft": plans}
        clocks = room_clocks(shop, "loft", of, at_h(479.0))
        assert clocks is not None
        assert clocks.cure is not None
        doubts.append(clocks.cure.doubt_rel)
    none, over, warmer, drier = doubts
    assert none == over == pytest.approx(drier)
    assert warmer > 2.0 * none


def test_the_shop_opens_by_the_wall_clock_on_both_sides_of_a_change() -> None:
    vienna = ShopHours(8 * 60, 18 * 60, ZoneInfo("Europe/Vienna"))
    before, after = (
        datetime.fromtimestamp(vienna.opening(date(2026, 3, day)) / 1000, tz=UTC)
        for day in (28, 29)
    )
    assert (before.hour, after.hour) == (7, 6)
    late = vienna.closing(date(2026, 3, 28)) - 5 * MINUTE_MS
    assert vienna.first_fit(late, 10 * MINUTE_MS) == vienna.opening(date(2026, 3, 29))
    assert vienna.next_morning(late) == vienna.opening(date(2026, 3, 29))


def test_in_a_climate_that_earns_nothing_only_what_is_earned_already_has_a_time() -> None:
    still = Kept(0.0)
    assert still.when(T0_MS, 0.0, 1.0) == Eta(T0_MS, T0_MS, None)
    assert still.when(T0_MS, -1.0).late == T0_MS
    assert Kept(0.5).when(T0_MS, 1.0, 2.0) == Eta(at_h(2.0), at_h(2.0), at_h(4.0))


def test_a_stretch_ends_at_the_early_end_of_a_limit_and_begins_at_the_late_end_of_a_middle() -> (
    None
):
    of = finish("two-part-urethane")
    window = window_after(of, kept(of, 30.0), (Coat(at_h(8.0)),))
    assert window.closes is not None
    assert window.closes.early is not None
    assert window.closes.likely is not None
    assert window.closes.early < window.closes.likely
    plain, scuffed = stretches(window, 90)
    assert (plain.start_ms, plain.stop_ms) == (window.opens.late, window.closes.early)
    assert (scuffed.start_ms, scuffed.stop_ms) == (window.closes.early, None)
    varnish = finish("acid-cure")
    for temp_c in (18.0, 30.0):  # its far side is the cure clock's in the cold, its near in warmth
        between = window_after(varnish, kept(varnish, temp_c), (Coat(at_h(8.0)),))
        assert between.middle is not None
        begins, ends = between.middle
        assert (temp_c > 21.0) == (begins.early < begins.likely)  # type: ignore[operator]
        assert (temp_c < 21.0) == (ends.likely < ends.late)  # type: ignore[operator]
        found = stretches(between, 90)
        assert {one.stop_ms for one in found if one.scuff and not one.past_middle} == {begins.early}
        assert {one.start_ms for one in found if one.past_middle} == {ends.late}


def test_a_limit_that_runs_closes_at_its_early_end_in_the_record_too() -> None:
    hung = piece("two-part-urethane", [240.0])
    running, past = window_of(hung, 241.0, temp_c=28.0)
    assert running.closes is not None
    assert at_h(241.0) < running.closes.early < running.closes.likely < at_h(244.0)
    assert running.closes.late == at_h(244.0)
    gone, past = window_of(hung, 244.5, temp_c=28.0)
    closing = past.closes(4.0)
    assert gone.closes is not None
    assert gone.closes.early == closing.early_ms < closing.nominal_ms == gone.closes.likely
