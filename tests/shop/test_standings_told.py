"""Where the numbers of the smaller answers come from."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.cli.air import air_plain
from curewatch.shop.assessment import assess_piece
from curewatch.shop.finish import MilestoneName
from curewatch.shop.plain import milestone_plain
from curewatch.shop.reading import Standing
from curewatch.shop.standings import COUNTED, KEY, MEASURED, entry, piece_standings, told_at
from curewatch.shop.standings_told import (
    TYPED,
    ahead_standings,
    air_standings,
    counts_standings,
    law_standing,
    plan_standings,
    rejudged_standings,
    suspects_standings,
)
from tests.shop.scene import at_h, finish
from tests.shop.test_standings import hung_shop, untold

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain

BUFF = MilestoneName.BUFF


def test_every_number_of_a_typed_air_says_where_it_comes_from() -> None:
    told = air_standings()
    assert untold({**air_plain(21.0, 50.0, pressure_pa=101_325.0, air="still"), KEY: told}) == []
    assert {place for place in told if told_at(told, place) == (TYPED, "as typed")} == {
        "temp_c",
        "rh_pct",
    }


def test_the_days_ahead_are_learnt_and_what_was_planned_is_typed() -> None:
    told = ahead_standings()
    ahead, plans = told_at(told, "ahead.0.temp_c"), told_at(told, "plans.0.temp_c")
    assert ahead is not None
    assert plans is not None
    assert (ahead[0], plans[0]) == (str(Standing.LEARNT_HERE), TYPED)


@pytest.mark.parametrize("place", ["coat", "coverage_pct", "suspects.dew.value", "clean.dew.value"])
def test_what_is_told_of_a_white_coat_was_measured(place: str) -> None:
    found = told_at(suspects_standings(), place)
    assert found is not None
    assert found[0] == MEASURED
    assert found[1]


def test_a_piece_judged_anew_says_its_hours_by_either_revision() -> None:
    shop = hung_shop("waterborne")
    before = assess_piece(shop, shop.pieces["B12"], at_h(30 * 24.0))
    of = finish("waterborne")
    asked = dict(of.requirements)
    hours = replace(asked[BUFF].hours, standing=Standing.LEARNT_HERE, source="rubbed out here")
    asked[BUFF] = replace(asked[BUFF], hours=hours)
    shop.finishes["waterborne", 1] = replace(of, requirements=asked)
    after = assess_piece(shop, shop.pieces["B12"], at_h(30 * 24.0))
    told = rejudged_standings(before, after)
    place = f"{BUFF}.required_hours"
    assert told[f"before.{place}"] == piece_standings(before)[f"milestones.{place}"]
    assert told_at(told, f"after.{place}") == (str(hours.standing), "rubbed out here")
    rows: Plain = {
        name: [milestone_plain(stone) for stone in now.milestones]
        for name, now in (("before", before), ("after", after))
    }
    assert untold({"from_revision": 1, "to_revision": 2, **rows, KEY: told}) == []
    assert not [place for place in told if "clocks" in place]


def test_a_finish_cured_by_dose_has_no_clock_to_answer_for_its_hours() -> None:
    assert "no clock answers" in str(law_standing(finish("dose-cured")))
    warm = finish("waterborne")
    assert warm.cure is not None
    assert warm.cure.ea_kj_mol.source in str(law_standing(warm))


def test_what_would_make_a_plan_possible_goes_by_the_finish_s_law() -> None:
    told = plan_standings(finish("waterborne"))
    assert told["would_do"] == law_standing(finish("waterborne"))
    assert told_at(told, "sure_pct") == (TYPED, "as it was asked for, else as usual")
    assert told_at(told, "coats.0.coat") == (MEASURED, "counted in the plan")


def test_what_was_counted_says_so_at_each_place_named() -> None:
    assert counts_standings("alerts", "notices") == {
        "alerts": entry(MEASURED, COUNTED),
        "notices": entry(MEASURED, COUNTED),
    }
