"""Working back from a date: the last coat, the first, or what climate would do it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.science import humid_air
from curewatch.shop.clocks_ahead import given_clocks, room_clocks
from curewatch.shop.day_plan import Ask, Hook, plan
from curewatch.shop.finish import MilestoneName
from curewatch.shop.finish_by import Deadline, FinishBy, RoomAir, finish_by, ready_after, warmest_c
from curewatch.shop.laws import required_h
from curewatch.shop.piece import Coat
from curewatch.shop.reading import Standing
from curewatch.shop.room import Room
from curewatch.shop.shop_hours import ShopHours
from curewatch.shop.words import Words
from tests.shop.scene import DAY_MS, HOUR_MS, at_h, finish, shop_of, steady

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.finish import Finish

DAY = ShopHours(8 * 60, 18 * 60, UTC)
LOFT = Room("loft", air="gentle")
BUFF, CURED = MilestoneName.BUFF, MilestoneName.FULL_CURE
START_MS = at_h(8.0)


def hooks_of(of: Finish, temp_c: float = 21.0, rh_frac: float = 0.5, tags: str = "B") -> list[Hook]:
    clocks = given_clocks(of, LOFT, temp_c=temp_c, rh_frac=rh_frac)
    return [Hook(tag, of, clocks) for tag in tags]


def ask(coats: int = 3, **more: object) -> Ask:
    usual = Ask(coats, START_MS, DAY, Words(), keep_hours=True)
    return replace(usual, **more)  # type: ignore[arg-type]


def work_back(
    of: Finish,
    days: float,
    *,
    asked: Ask | None = None,
    goal: MilestoneName = BUFF,
    air: tuple[float, float] = (21.0, 0.5),
    tags: str = "B",
) -> FinishBy:
    return finish_by(
        hooks_of(of, *air, tags=tags),
        asked or ask(),
        Deadline(START_MS + round(days * DAY_MS), goal),
        air=RoomAir(*air),
        rehang=lambda temp_c, rh_frac: hooks_of(of, temp_c, rh_frac, tags=tags),
    )


def ready(hook: Hook, done_ms: Sequence[int], goal: MilestoneName = BUFF) -> int | None:
    return ready_after(hook, tuple(Coat(at) for at in done_ms), Deadline(0, goal)).late


def test_the_last_coat_is_the_latest_that_is_surely_ready_in_time() -> None:
    of, days = finish("nitro-lacquer"), 60.0
    found = work_back(of, days)
    (hook,) = hooks_of(of)
    assert found.possible
    assert found.last_coat_ms is not None
    due = START_MS + round(days * DAY_MS)
    on_time, too_late = (ready(hook, [found.last_coat_ms + minutes * 60_000]) for minutes in (0, 2))
    assert on_time is not None
    assert too_late is not None
    assert on_time <= due < too_late


def test_the_first_coat_leaves_time_for_all_the_others() -> None:
    found = work_back(finish("nitro-lacquer"), 60.0, asked=ask(6, per_day=2))
    assert found.first_coat_ms is not None
    assert found.last_coat_ms is not None
    planned = plan(
        hooks_of(finish("nitro-lacquer")), ask(6, per_day=2, start_ms=found.first_coat_ms)
    )
    assert planned.coats[-1].done_ms <= found.last_coat_ms
    days = {(coat.at_ms - at_h(0.0)) // DAY_MS for coat in planned.coats}
    assert len(days) == 3
    whole = work_back(finish("nitro-lacquer"), 60.0, asked=ask(6))
    assert whole.first_coat_ms is not None
    assert whole.first_coat_ms > found.first_coat_ms


def test_more_confidence_means_an_earlier_last_coat() -> None:
    lasts = [
        work_back(finish("nitro-lacquer"), 60.0, asked=ask(level=level)).last_coat_ms or 0
        for level in (50, 80, 90)
    ]
    assert lasts[0] > lasts[1] > lasts[2]


def test_full_cure_asks_for_more_time_than_buffing() -> None:
    buffed = work_back(finish("waterborne"), 60.0)
    cured = work_back(finish("waterborne"), 60.0, goal=CURED)
    assert buffed.last_coat_ms is not None
    assert cured.last_coat_ms is not None
    assert cured.last_coat_ms < buffed.last_coat_ms


def test_too_soon_says_when_and_the_coolest_room_that_would_do() -> None:
    of, days = finish("nitro-lacquer"), 25.0
    found = work_back(of, days, air=(18.0, 0.5))
    assert found.possible is False
    assert found.last_coat_ms is None
    assert found.sure_ms is not None
    assert found.sure_ms > START_MS + round(days * DAY_MS)
    air = found.would_do
    assert air is not None
    there = work_back(of, days, air=(air.temp_c, air.rh_frac))
    cooler = RoomAir(18.0, 0.5).heated_to(air.temp_c - 0.5)
    assert there.possible
    assert work_back(of, days, air=(cooler.temp_c, cooler.rh_frac)).possible is False


def test_heated_air_keeps_its_water_and_dries_the_wood() -> None:
    cool = RoomAir(18.0, 0.45)
    warm = cool.heated_to(32.0)
    before, after = (
        float(humid_air.vapour_pressure_pa(air.temp_c, air.rh_frac)) for air in (cool, warm)
    )
    assert after == pytest.approx(before)
    assert warm.rh_frac == pytest.approx(0.20, abs=0.01)  # trade table: 18 degC 45 % to 32 degC
    assert cool.emc_pct > warm.emc_pct == pytest.approx(4.2, abs=0.15)  # the same table


def test_a_hot_dry_room_comes_with_its_cautions() -> None:
    of = finish("nitro-lacquer")
    found = work_back(of, 8.5, air=(18.0, 0.5))
    assert found.would_do is not None
    assert found.would_do.temp_c > of.limits.temp_high_c.value
    said = " ".join(found.cautions)
    assert "below the 6 to 8 %" in said
    assert "warmer than the 30.0 °C" in said
    mild = work_back(of, 25.0, air=(18.0, 0.5))
    assert "below the 6 to 8 %" not in " ".join(mild.cautions)
    assert "warmer than" not in " ".join(mild.cautions)
    assert "glue lines" in mild.cautions[0]


def test_where_nothing_would_do_that_is_said_with_how_warm_was_tried() -> None:
    found = work_back(finish("nitro-lacquer"), 3.0)
    assert found.possible is False
    assert found.would_do is None
    assert found.searched_to_c == 38.0
    hot = work_back(finish("waterborne"), 1.0, air=(33.0, 0.5))
    assert hot.would_do is None
    assert hot.searched_to_c == 32.0  # more warmth earns no more


def test_without_a_room_no_climate_is_looked_for() -> None:
    of = finish("nitro-lacquer")
    found = finish_by(hooks_of(of), ask(), Deadline(START_MS + DAY_MS, BUFF))
    assert found.possible is False
    assert found.searched_to_c is None


def test_a_cold_room_cannot_do_it_and_a_warmer_one_would() -> None:
    found = work_back(finish("waterborne"), 30.0, air=(5.0, 0.6))
    assert found.possible is False
    assert found.would_do is not None
    assert found.would_do.temp_c >= finish("waterborne").cure.lower_limit_c.value - 1.0  # type: ignore[union-attr]


def test_a_finish_cured_by_dose_cannot_be_told() -> None:
    for coats in (1, 2):
        found = work_back(finish("dose-cured"), 30.0, asked=ask(coats))
        assert found.possible is None
        assert found.searched_to_c is None
    assert warmest_c(hooks_of(finish("dose-cured"))) is None


def test_no_coat_at_all_is_not_possible() -> None:
    never = work_back(finish("nitro-lacquer"), 30.0, asked=ask(fit_until=lambda _: 0))
    assert never.possible is False
    assert never.sure_ms is None


def test_of_several_pieces_the_last_one_decides() -> None:
    one = work_back(finish("nitro-lacquer"), 60.0, asked=ask(2, coat_min=60.0))
    three = work_back(finish("nitro-lacquer"), 60.0, asked=ask(2, coat_min=60.0), tags="BCD")
    assert one.sure_ms is not None
    assert three.sure_ms is not None
    assert three.sure_ms > one.sure_ms
    assert three.first_coat_ms is not None
    assert one.first_coat_ms is not None
    assert three.first_coat_ms < one.first_coat_ms


def test_a_film_that_is_known_here_decides_the_likely_time_too() -> None:
    of = finish("waterborne")
    assert of.film is not None
    slow = replace(of.film.diffusivity_um2_h, value=5.0)
    here = replace(slow, standing=Standing.LEARNT_HERE)
    transfer = replace(of.film.transfer_um_h, standing=Standing.LEARNT_HERE)
    advised = replace(of, film=replace(of.film, diffusivity_um2_h=slow))
    decided = replace(of, film=replace(of.film, diffusivity_um2_h=here, transfer_um_h=transfer))
    laid = (Coat(START_MS), Coat(START_MS + HOUR_MS))
    whens = [
        ready_after(hooks_of(each)[0], laid, Deadline(0, BUFF)) for each in (of, advised, decided)
    ]
    rule, advice, film = whens
    assert rule.likely == advice.likely
    assert (advice.late or 0) > (rule.late or 0)
    assert (film.likely or 0) > (rule.likely or 0)
    asked = required_h(of, BUFF, laid)
    assert asked is not None
    assert rule.likely == pytest.approx(laid[-1].at_ms + asked * HOUR_MS, abs=60_000)


def test_an_outlook_ends_and_that_is_said() -> None:
    of = finish("nitro-lacquer")
    shop = shop_of({"loft": steady(30.0)}, finishes=[of], rooms=[LOFT])
    now = at_h(29.5 * 24.0)
    clocks = room_clocks(shop, "loft", of, now)
    assert clocks is not None
    hooks = [Hook("B", of, clocks)]
    asked = replace(ask(2), start_ms=now)
    far = finish_by(hooks, asked, Deadline(now + 120 * DAY_MS, BUFF))
    assert far.possible
    assert far.horizon
    near = finish_by(hooks, asked, Deadline(now + 45 * DAY_MS, BUFF))
    assert near.possible
    assert not near.horizon
    never = finish_by(hooks, asked, Deadline(now + 300 * DAY_MS, CURED))
    assert never.possible is None  # longer than the outlook reaches


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(["waterborne", "nitro-lacquer", "two-part-urethane"]),
    st.floats(16.0, 30.0),
    st.floats(0.5, 6.0),
    st.floats(20.0, 60.0),
    st.integers(1, 3),
)
def test_a_colder_room_never_allows_a_later_last_coat(
    name: str, temp_c: float, colder_k: float, days: float, coats: int
) -> None:
    asked = ask(coats, keep_hours=False)
    warm = work_back(finish(name), days, asked=asked, air=(temp_c, 0.5))
    cold = work_back(finish(name), days, asked=asked, air=(temp_c - colder_k, 0.5))
    if cold.possible:
        assert warm.possible
        assert (cold.last_coat_ms or 0) <= (warm.last_coat_ms or 0) + 60_000


@settings(max_examples=25, deadline=None)
@given(st.floats(20.0, 60.0), st.floats(0.0, 20.0), st.integers(1, 4))
def test_a_later_date_never_asks_for_an_earlier_coat(days: float, more: float, coats: int) -> None:
    soon = work_back(finish("waterborne"), days, asked=ask(coats))
    later = work_back(finish("waterborne"), days + more, asked=ask(coats))
    if soon.possible:
        assert later.possible
        assert (later.last_coat_ms or 0) >= (soon.last_coat_ms or 0) - 60_000
        assert (later.first_coat_ms or 0) >= (soon.first_coat_ms or 0) - 60_000


def test_a_start_is_sought_on_every_morning_of_the_last_week() -> None:
    """From a start in the afternoon the window closes before the next morning, a day later not."""
    of = finish("two-part-urethane")
    found = work_back(of, 30.0, asked=ask(3))
    assert found.latest is not None
    assert found.first_coat_ms == found.latest.coats[0].at_ms
    assert found.latest.unplanned == 0
    assert found.last_coat_ms is not None
    assert found.last_coat_ms - found.first_coat_ms < 2 * DAY_MS


def test_what_else_bounds_the_first_coat_is_said() -> None:
    def turned(ms: int) -> int | None:
        return max(at_h(18.0), ms)  # and never fit again

    found = work_back(finish("nitro-lacquer"), 60.0, asked=ask(1, fit_until=turned))
    assert found.possible
    assert "not fit to spray for long enough" in found.bound
    assert found.latest is not None
    assert found.last_coat_ms == found.latest.coats[-1].done_ms
    dry = found.latest.coats[-1].window.opens.late
    assert dry is not None
    assert dry <= at_h(18.0)
    assert not found.horizon
    free = work_back(finish("nitro-lacquer"), 60.0, asked=ask(1))
    assert free.bound == ""


def test_a_scuff_is_tried_where_a_window_closes() -> None:
    of = finish("acid-cure")
    found = work_back(of, 60.0, asked=ask(2))
    assert found.possible is False
    assert found.scuffed_ms is not None
    assert found.searched_to_c is None
    scuffed = work_back(of, 60.0, asked=ask(2, scuff=True))
    assert scuffed.sure_ms == found.scuffed_ms
    never = work_back(of, 60.0, asked=ask(2, fit_until=lambda _: 0))
    assert never.scuffed_ms is None
