"""Mixed pots: how long they live, worked by hand beside the clock."""

from __future__ import annotations

from dataclasses import replace
from math import exp, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.shop.batch import UNTOLD_LIFE_MS, Batch, PotLife, pot_age_h, pot_life, pot_open
from curewatch.shop.clocks import Bias
from curewatch.shop.plain_pot import pot_plain, pot_standings
from curewatch.shop.standings import told_at
from tests.shop.scene import DAY_MS, HOUR_MS, at_h, every, finish, readings, shop_of, steady

ACID, URETHANE, NITRO = (finish(n) for n in ("acid-cure", "two-part-urethane", "nitro-lacquer"))
DOSE = finish("dose-cured")
R_J_MOL_K = 8.314462618
CERTAIN = {"loft": Bias(0.0, 0.0)}


def pot(name: str = "acid-cure", mixed_h: float = 0.0, room: str | None = "loft") -> Batch:
    return Batch("P1", name, 1, "L7", at_h(mixed_h), room, crosslinker_pct=5.0)


def arrhenius(ea_kj_mol: float, temp_c: float) -> float:
    """Return the rate against 21 degC from the textbook's formula."""
    inverse = 1.0 / 294.15 - 1.0 / (temp_c + 273.15)
    return exp(ea_kj_mol * 1000.0 / R_J_MOL_K * inverse)


def test_in_the_reference_climate_a_pot_lives_as_its_sheet_says_and_no_longer() -> None:
    life = pot_life(shop_of({"loft": steady(2.0)}, biases=CERTAIN), ACID, pot(), at_h(4.0))
    assert life.life_h == 8.0
    assert life.aged_h == pytest.approx(4.0, abs=1e-6)
    assert (life.over, life.by_room) == (False, True)
    assert life.ends is not None
    assert life.ends.late == at_h(8.0)


def test_ten_degrees_warmer_takes_a_pot_of_eight_hours_down_to_its_early_end() -> None:
    # By hand: Ea 75, band 50 to 100, one standard error 50/sqrt(12) = 14.43 kJ/mol. At 31 degC
    # 1/294.15 - 1/304.15 = 1.11775e-4, so 2.741 effective hours an hour; 3.328 and 2.257 with Ea
    # one error up and down: half of that 0.535; the sensor is taken as right. Early end
    # 2.741 + 1.28 * 0.535 = 3.426 an hour: 8 h of life are over after 2.335 h, likely after 2.919.
    rate = arrhenius(75.0, 31.0)
    band = 50.0 / sqrt(12.0)
    half = (arrhenius(75.0 + band, 31.0) - arrhenius(75.0 - band, 31.0)) / 2.0
    early = rate + 1.28 * half
    assert (rate, half, early) == pytest.approx((2.741, 0.535, 3.426), abs=1e-3)
    shop = shop_of({"loft": steady(1.0, 31.0)}, biases=CERTAIN)
    assert pot_life(shop, ACID, pot(), at_h(2.0)).aged_h == pytest.approx(2.0 * early, rel=1e-6)
    life = pot_life(shop, ACID, pot(), at_h(6.0))
    assert life.over
    assert life.ends is not None
    assert life.ends.early == pytest.approx(at_h(8.0 / early), abs=60_000)
    assert life.ends.likely == pytest.approx(at_h(8.0 / rate), abs=60_000)
    assert life.ends.late == life.ends.likely  # both are known by now


def test_cold_never_makes_a_pot_live_longer_than_its_sheet() -> None:
    life = pot_life(shop_of({"loft": steady(2.0, 5.0)}), ACID, pot(), at_h(9.0))
    assert life.aged_h == 9.0
    assert life.over
    assert life.ends is not None
    assert life.ends.early == life.ends.likely == life.ends.late == at_h(8.0)


def test_a_film_ceiling_of_credit_does_not_save_a_hot_pot() -> None:
    shop = shop_of({"loft": steady(1.0, 45.0)}, biases=CERTAIN)  # the film's ceiling is 35 degC
    aged_h = pot_age_h(shop.book, ACID, "loft", mixed_ms=at_h(0.0), at_ms=at_h(1.0))
    assert aged_h > arrhenius(75.0, 45.0) > arrhenius(75.0, 35.0)


def test_a_silence_counts_as_the_warmer_of_its_ends() -> None:
    hours = np.concatenate([every(10.0, 1.0), every(10.0, 1.0, 4.0)])
    temps = np.where(hours < 2.0, 31.0, 21.0)
    shop = shop_of({"loft": readings(hours, temps, 0.5)}, biases=CERTAIN)
    silent = pot_age_h(shop.book, URETHANE, "loft", mixed_ms=at_h(0.0), at_ms=at_h(4.0))
    warm = shop_of({"loft": steady(1.0, 31.0)}, biases=CERTAIN)
    all_warm = pot_age_h(warm.book, URETHANE, "loft", mixed_ms=at_h(0.0), at_ms=at_h(4.0))
    assert silent == pytest.approx(all_warm, rel=0.25)
    assert silent > 4.0


def test_an_end_still_ahead_is_told_by_the_room_as_it_goes_on() -> None:
    shop = shop_of({"loft": steady(8.0, 26.0)})
    mixed_h = 8 * 24.0 - 1.0
    life = pot_life(shop, ACID, pot(mixed_h=mixed_h), at_h(mixed_h + 1.0))
    assert not life.over
    assert life.ends is not None
    early, likely, late = life.ends.early, life.ends.likely, life.ends.late
    assert early is not None
    assert likely is not None
    assert late is not None
    assert at_h(mixed_h + 1.0) < early < likely <= late <= at_h(mixed_h + 8.0)
    assert likely == pytest.approx(at_h(mixed_h + 8.0 / arrhenius(75.0, 26.0)), abs=0.3 * HOUR_MS)


def test_the_early_end_told_at_the_mixing_is_the_one_told_later() -> None:
    shop = shop_of({"loft": steady(9.0, 31.0)}, biases=CERTAIN)
    told = [
        pot_life(shop, ACID, pot(mixed_h=192.0), at_h(192.0 + after)).ends for after in (0.0, 2.0)
    ]
    assert told[0] is not None
    assert told[1] is not None
    assert told[0].early == pytest.approx(at_h(192.0 + 2.335), abs=3 * 60_000)  # as by hand above
    assert told[1].early == pytest.approx(told[0].early, abs=3 * 60_000)


def test_a_frozen_pot_ages_by_the_wall_alone() -> None:
    assert ACID.cure is not None
    strong = replace(ACID.cure.ea_kj_mol, value=250.0, low=None, high=None)
    coldest = replace(ACID, cure=replace(ACID.cure, ea_kj_mol=strong))
    shop = shop_of({"loft": steady(3.0, -40.0)})
    life = pot_life(shop, coldest, pot(mixed_h=71.0), at_h(72.0))
    assert life.ends is not None
    assert life.ends.early == life.ends.late == at_h(79.0)


@pytest.mark.parametrize("room", [None, "cellar"])
def test_where_nothing_is_heard_the_sheets_hours_count_and_that_is_told(room: str | None) -> None:
    life = pot_life(shop_of({"loft": steady(1.0, 35.0)}), ACID, pot(room=room), at_h(2.0))
    assert (life.by_room, life.aged_h, life.over) == (False, 2.0, False)
    assert life.ends is not None
    assert life.ends.early == at_h(8.0)


def test_a_finish_that_gives_no_pot_life_has_no_end_and_is_open_for_a_day() -> None:
    shop = shop_of({"loft": steady(3.0)})
    mixed = pot("nitro-lacquer")
    life = pot_life(shop, NITRO, mixed, at_h(5.0))
    assert (life.life_h, life.ends, life.over) == (None, None, False)
    assert pot_open(mixed, life, at_h(5.0))
    assert not pot_open(mixed, life, at_h(0.0) + UNTOLD_LIFE_MS)
    assert not pot_life(shop, DOSE, pot("dose-cured"), at_h(1.0)).by_room  # cures by dose


def test_a_pot_is_open_from_its_mixing_until_it_is_over_or_gone() -> None:
    shop, mixed = shop_of({"loft": steady(2.0)}), pot(mixed_h=1.0)

    def is_open(of: Batch, hours: float) -> bool:
        return pot_open(of, pot_life(shop, ACID, of, at_h(hours)), at_h(hours))

    assert [is_open(mixed, h) for h in (0.5, 1.0, 6.0, 9.5)] == [False, True, True, False]
    gone = replace(mixed, gone_ms=at_h(3.0))
    assert [is_open(gone, h) for h in (2.9, 3.0)] == [True, False]
    assert pot_life(shop, ACID, mixed, at_h(0.5)).ends is not None  # not mixed yet: the sheet's


@pytest.mark.parametrize(
    ("part", "value"),
    [
        ("crosslinker", 0.0),
        ("crosslinker", 400.0),
        ("reducer", -1.0),
        ("retarder", 31.0),
    ],
)
def test_shares_no_sheet_asks_for_are_refused(part: str, value: float) -> None:
    shares = {"crosslinker": None, "reducer": None, "retarder": None, part: value}
    with pytest.raises(BadInput, match=f"% {part} is not plausible.*never more than the sheet"):
        replace(
            pot(),
            crosslinker_pct=shares["crosslinker"],
            reducer_pct=shares["reducer"],
            retarder_pct=shares["retarder"],
        )


@given(
    temps=st.lists(st.floats(-10.0, 50.0), min_size=13, max_size=13),
    warmer_k=st.floats(0.0, 10.0),
    now_h=st.floats(0.0, 12.0),
)
@settings(max_examples=40, deadline=None)
def test_warmth_never_lengthens_a_pots_life_and_nothing_lengthens_it_past_its_sheet(
    temps: list[float], warmer_k: float, now_h: float
) -> None:
    def life(added_k: float) -> PotLife:
        hours = every(10.0, 12.0)
        temp_c = np.interp(hours, np.arange(13.0), temps) + added_k
        shop = shop_of({"loft": readings(hours, temp_c, 0.5)}, biases=CERTAIN)
        return pot_life(shop, ACID, pot(), at_h(now_h))

    as_it_was, warmer = life(0.0), life(warmer_k)
    assert warmer.aged_h >= as_it_was.aged_h - 1e-9
    assert as_it_was.aged_h >= now_h - 1e-6
    ends = as_it_was.ends
    assert ends is not None
    early, likely, late = ends.early, ends.likely, ends.late
    assert early is not None
    assert likely is not None
    assert late is not None
    assert at_h(0.0) <= early <= likely + 60_000
    assert likely <= late <= at_h(8.0)
    assert as_it_was.over == (early < at_h(now_h)) or abs(early - at_h(now_h)) <= 60_000


def test_a_pot_as_plain_data_says_where_its_numbers_come_from() -> None:
    shop = shop_of({"loft": steady(1.0)})
    for of, has in ((ACID, {"life_h", "aged_h"}), (NITRO, {"aged_h"}), (DOSE, set[str]())):
        mixed = pot(of.name)
        plain = pot_plain(
            mixed, pot_life(shop, of, mixed, at_h(2.0)), of, at_h(2.0), held="lot L7: froze"
        )
        assert plain["held"] == "lot L7: froze"
        told = pot_standings(of)
        assert plain["standing"] == told
        assert (plain["ends"] is None) == (of.pot_life_h is None)
        from_memory = [key for key in told if (at := told_at(told, key)) and at[0] == "from-memory"]
        assert set(from_memory) == has


def test_a_pot_mixed_days_ago_is_over_when_its_sheet_said() -> None:
    shop = shop_of({"loft": steady(5.0)}, biases=CERTAIN)
    life = pot_life(shop, ACID, pot(), at_h(0.0) + 4 * DAY_MS)
    assert life.ends is not None
    assert life.ends.early is not None
    assert life.ends.early <= at_h(8.0)
