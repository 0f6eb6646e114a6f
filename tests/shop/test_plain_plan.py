"""A day plan, and working back from a date, as plain data."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.shop.day_plan import plan
from curewatch.shop.finish import MilestoneName
from curewatch.shop.finish_by import Deadline
from curewatch.shop.plain import eta_plain, instant
from curewatch.shop.plain_plan import (
    caution_plain,
    coat_plain,
    finish_by_plain,
    plan_plain,
    pot_plain,
    window_plain,
)
from tests.shop.scene import DAY_MS, at_h, finish
from tests.shop.test_day_plan import ask, hook
from tests.shop.test_working_back import START_MS, work_back

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain

BUFF = MilestoneName.BUFF


def worked_back(name: str, days: float, temp_c: float = 21.0) -> Plain:
    found = work_back(finish(name), days, air=(temp_c, 0.5))
    return finish_by_plain(found, Deadline(START_MS + round(days * DAY_MS), BUFF))


def test_a_coat_is_laid_in_the_window_that_the_coat_before_it_opened() -> None:
    first, second = (coat_plain(coat) for coat in plan([hook("nitro-lacquer")], ask(2)).coats)
    assert first["laid_in"] is None
    laid_in = second["laid_in"]
    assert isinstance(laid_in, dict)
    assert laid_in == {key: first[key] for key in laid_in}
    assert (first["at"], first["done_at"]) == (instant(at_h(8.0)), instant(at_h(8.0) + 600_000))


def test_a_window_with_a_forbidden_middle_says_when_it_opens_again() -> None:
    window = plan([hook("nitro-lacquer")], ask(1)).coats[0].window
    unknown = eta_plain(None)
    assert window_plain(replace(window, middle=None))["reopens"] == unknown
    middle = (window.opens, replace(window.opens, late=at_h(90.0)))
    assert window_plain(replace(window, middle=middle))["reopens"] == eta_plain(middle[1])
    assert eta_plain(middle[1]) != unknown


def test_a_plan_tells_its_coats_its_pots_and_what_was_left_out() -> None:
    found = plan([hook("two-part-urethane")], ask(2, coat_min=240.0))
    plain = plan_plain(found)
    assert plain["unplanned"] == 1
    assert plain["coats"] == [coat_plain(coat) for coat in found.coats]
    assert plain["pots"] == [pot_plain(pot) for pot in found.pots]
    assert len(found.pots) == 1
    warnings = plain["warnings"]
    assert isinstance(warnings, list)
    assert caution_plain(found.cautions[0]) in warnings
    assert "not-planned" in [one["kind"] for one in warnings if isinstance(one, dict)]


def test_a_pot_is_over_at_its_early_end() -> None:
    (pot,) = plan([hook("two-part-urethane")], ask(1)).pots
    assert pot_plain(pot) == {
        "mixed_at": instant(pot.mixed_ms),
        "over_at": instant(pot.over_ms),
        "coats": 1,
    }


@pytest.mark.parametrize(
    ("name", "days", "verdict"),
    [
        ("nitro-lacquer", 60.0, "possible"),
        ("nitro-lacquer", 0.5, "too-soon"),
        ("dose-cured", 30.0, "unknown"),
    ],
)
def test_the_verdict_of_a_date_is_one_word(name: str, days: float, verdict: str) -> None:
    assert worked_back(name, days)["verdict"] == verdict


def test_a_date_that_can_be_met_says_the_latest_plan() -> None:
    found = work_back(finish("nitro-lacquer"), 60.0)
    plain = finish_by_plain(found, Deadline(START_MS + 60 * DAY_MS, BUFF))
    assert found.latest is not None
    assert plain["latest"] == plan_plain(found.latest)
    assert plain["coats"] == [coat_plain(coat) for coat in found.plan.coats]
    assert plain["latest"] != plan_plain(found.plan)
    assert plain["would_do"] is None
    assert worked_back("nitro-lacquer", 0.5)["latest"] is None


def test_a_room_too_cold_for_a_date_says_the_air_that_would_do_in_percent() -> None:
    found = work_back(finish("waterborne"), 30.0, air=(5.0, 0.6))
    air = found.would_do
    assert air is not None
    told = finish_by_plain(found, Deadline(START_MS + 30 * DAY_MS, BUFF))["would_do"]
    assert told == {
        "temp_c": air.temp_c,
        "rh_pct": 100.0 * air.rh_frac,
        "wood_emc_pct": air.emc_pct,
    }
    assert 1.0 < 100.0 * air.rh_frac < 60.0
