from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.science import evaporation, kinetics
from curewatch.shop.book import ClockBook
from curewatch.shop.clocks import Bias, RateLaw
from curewatch.shop.elapsed import Hours, elapsed
from curewatch.shop.piece import Stay
from tests.shop.scene import T0_MINUTE, at_h, block, every, readings

if TYPE_CHECKING:
    from curewatch.shop.climate import Floats, Series
    from curewatch.shop.reading import Quantity

    Key = tuple[str, Quantity]

CURE = kinetics.CureLaw(55.0, 0.3, lower_limit_c=15.0, upper_limit_c=32.0)
EA_SE = 13.0
LAW = RateLaw(CURE, EA_SE)
STILL = evaporation.AIR_SPEED_M_S["still"]


def hours_of(
    rooms: dict[str, dict[Key, Series]],
    stays: list[Stay],
    *,
    biases: dict[str, Bias] | None = None,
    law: RateLaw = LAW,
    stops_h: tuple[float, ...] = (48.0,),
    start_h: float = 0.0,
) -> Hours:
    book = ClockBook(biases)
    for room, series in rooms.items():
        book.splice(room, block(series))
    stops = np.array([float(at_h(h)) for h in stops_h])
    return elapsed(book, lambda _: law, stays=stays, start_ms=at_h(start_h), stops_ms=stops)


def swinging(mean_c: float, swing_k: float, days: float = 3.0) -> tuple[Floats, Floats, Floats]:
    hours = every(7.0, 24 * days)
    temp = mean_c + swing_k * np.sin(hours / 24 * 2 * np.pi)
    return hours, temp, 0.5 + 0.2 * np.cos(hours / 24 * 2 * np.pi)


def plain_hours(mean_c: float, swing_k: float, *, temp_k: float = 0.0, rh: float = 0.0) -> float:
    """Sum the rate law by itself, second by second, over the shifted climate."""
    hours, temp, rh_frac = swinging(mean_c, swing_k)
    fine = np.arange(0.0, 48.0, 10.0 / 3600) + 5.0 / 3600
    rate = kinetics.rate(
        np.interp(fine, hours, temp) + temp_k,
        np.clip(np.interp(fine, hours, rh_frac) + rh, 0.0, 1.0),
        CURE,
    )
    return float(rate.sum() * 10.0 / 3600)


@pytest.mark.parametrize(("mean_c", "swing_k"), [(21.0, 4.0), (15.3, 0.5), (14.6, 0.2)])
def test_the_standard_error_is_what_the_same_sums_at_both_ends_say_even_at_the_floor(
    mean_c: float, swing_k: float
) -> None:
    room = readings(*swinging(mean_c, swing_k))
    bias = Bias(0.3, 0.025)
    found = hours_of({"loft": room}, [Stay("loft", at_h(0.0))], biases={"loft": bias})
    by_temp = (
        plain_hours(mean_c, swing_k, temp_k=0.3) - plain_hours(mean_c, swing_k, temp_k=-0.3)
    ) / 2
    by_rh = (plain_hours(mean_c, swing_k, rh=0.025) - plain_hours(mean_c, swing_k, rh=-0.025)) / 2
    assert found.temp[0] == pytest.approx(by_temp, rel=1e-3)
    assert found.rh[0] == pytest.approx(abs(by_rh), rel=1e-3)
    assert found.value[0] == pytest.approx(plain_hours(mean_c, swing_k), rel=1e-3)


def test_at_the_floor_a_derivative_would_claim_certainty_that_is_not_there() -> None:
    room = readings(every(10, 72), 14.9, 0.5)
    found = hours_of({"loft": room}, [Stay("loft", at_h(0.0))])
    slope = 55_000.0 / 8.314 / (273.15 + 14.9) ** 2
    derivative = float(found.value[0]) * slope * 0.3
    assert found.temp[0] > 3.0 * derivative


def test_stays_under_different_sensors_add_in_quadrature_and_the_law_s_doubt_linearly() -> None:
    warm, cool = readings(every(10, 72), 24.0, 0.5), readings(every(10, 72), 19.0, 0.4)
    stays = [Stay("oven", at_h(0.0), at_h(20.0)), Stay("loft", at_h(20.0))]
    biases = {"oven": Bias(0.5, 0.03), "loft": Bias(0.2, 0.02)}
    rooms = {"oven": warm, "loft": cool}
    both = hours_of(rooms, stays, biases=biases)
    first = hours_of(rooms, stays[:1], biases=biases)
    second = hours_of(rooms, stays[1:], biases=biases)
    assert both.value[0] == pytest.approx(first.value[0] + second.value[0])
    assert both.temp[0] == pytest.approx(np.hypot(first.temp[0], second.temp[0]))
    assert both.rh[0] == pytest.approx(np.hypot(first.rh[0], second.rh[0]))
    assert first.ea[0] > 0.5
    assert second.ea[0] > 0.5
    signed = first.ea[0] - second.ea[0]  # one room above, one below the reference
    assert both.ea[0] == pytest.approx(abs(signed))


def test_two_stays_in_one_room_share_its_sensor_s_bias() -> None:
    room = {"loft": readings(every(10, 72), 24.0, 0.5)}
    broken = [Stay("loft", at_h(0.0), at_h(10.0)), Stay("loft", at_h(10.0))]
    whole = hours_of(room, [Stay("loft", at_h(0.0))])
    parted = hours_of(room, broken)
    assert parted.temp[0] == pytest.approx(whole.temp[0])
    assert parted.standard_error[0] == pytest.approx(whole.standard_error[0])


def test_the_standard_error_takes_all_shares_together() -> None:
    found = hours_of({"loft": readings(*swinging(22.0, 4.0))}, [Stay("loft", at_h(0.0))])
    shares = found.shares()
    assert found.standard_error[0] == pytest.approx(
        (shares.temp**2 + shares.rh**2 + shares.ea**2 + shares.air**2) ** 0.5
    )
    assert shares.ea > shares.temp > 0.0
    assert shares.air == 0.0


def test_moving_air_is_the_largest_doubt_of_a_drying_clock() -> None:
    law = RateLaw(evaporation.WaterDrying(air_speed_m_s=STILL * 3))
    shares = hours_of(
        {"loft": readings(every(10, 72), 21.0, 0.5)}, [Stay("loft", at_h(0.0))], law=law
    ).shares()
    assert shares.air > max(shares.temp, shares.rh)


def test_time_in_no_room_or_in_an_unheard_one_earns_nothing() -> None:
    room = {"loft": readings(every(10, 72), 21.0, 0.5)}
    stays = [
        Stay("loft", at_h(0.0), at_h(10.0)),
        Stay("cellar", at_h(10.0), at_h(20.0)),
        Stay("loft", at_h(30.0)),
    ]
    found = hours_of(room, stays, stops_h=(5.0, 15.0, 25.0, 35.0))
    np.testing.assert_allclose(found.value, [5.0, 10.0, 10.0, 15.0], rtol=1e-9)
    np.testing.assert_allclose(found.covered, [5.0, 10.0, 10.0, 15.0], rtol=1e-9)


def test_a_piece_that_hangs_nowhere_has_earned_nothing() -> None:
    found = hours_of({}, [], stops_h=(5.0, 15.0))
    assert found.value.tolist() == [0.0, 0.0]
    assert found.standard_error.tolist() == [0.0, 0.0]


def test_hours_count_from_the_coat_and_never_from_before() -> None:
    room = {"loft": readings(every(10, 72), 21.0, 0.5)}
    stays = [Stay("loft", at_h(0.0), at_h(2.0)), Stay("loft", at_h(2.0))]
    found = hours_of(room, stays, start_h=4.0, stops_h=(3.0, 4.0, 9.0))
    np.testing.assert_allclose(found.value, [0.0, 0.0, 5.0], rtol=0, atol=1e-9)


def test_a_room_s_record_may_begin_after_its_clock_was_first_asked_for() -> None:
    book = ClockBook()
    stay = [Stay("loft", at_h(0.0))]
    stops = np.array([float(at_h(48.0))])

    def total() -> float:
        return float(
            elapsed(book, lambda _: LAW, stays=stay, start_ms=at_h(0.0), stops_ms=stops).value[0]
        )

    assert total() == 0.0
    assert book.frontier_ms("loft") is None
    book.splice("loft", block(readings(every(10, 48), 21.0, 0.5)))
    assert total() == pytest.approx(48.0)
    earlier = readings(every(10, 60, start_h=-12.0), 21.0, 0.5)
    book.splice("loft", block(earlier, first_minute=T0_MINUTE - 720))
    assert total() == pytest.approx(48.0)
