"""What a gap may have earned: between the slowest hour before and the faster of its ends."""

from __future__ import annotations

import numpy as np
import pytest

from curewatch.shop.silence import Silence, silence
from tests.shop.scene import at_h, every, finish, readings, shop_of


def gap(
    before_c: float,
    after_c: float | None,
    *,
    name: str = "nitro-lacquer",
    rh: float | None = 0.5,
    room: str = "loft",
) -> Silence:
    """Return what ten hours without readings may have earned: from hour 48 on."""
    hours = every(10.0, 48.0)
    temps = np.where(hours < 24.0, 18.0, before_c)
    if after_c is not None:
        more = every(10.0, 10.0, start_h=58.0)
        hours, temps = (
            np.concatenate((hours, more)),
            np.concatenate((temps, np.full(more.size, after_c))),
        )
    shop = shop_of({"loft": readings(hours, temps, rh)})
    return silence(shop, room, finish(name), (at_h(48.0), at_h(58.0)))


def test_the_ends_are_those_of_the_law_and_the_credit_is_nothing() -> None:
    found = gap(21.0, 15.0)
    assert found.earned_h is not None
    worst = 10.0 * np.exp(90e3 / 8.314462618 * (1.0 / 294.15 - 1.0 / 288.15))
    assert found.earned_h.low == pytest.approx(worst, rel=1e-6)
    assert found.earned_h.high == pytest.approx(10.0, rel=1e-6)
    mid = 0.5 * (10.0 + 10.0 * np.exp(65e3 / 8.314462618 * (1.0 / 294.15 - 1.0 / 288.15)))
    assert found.earned_h.likely == pytest.approx(mid, rel=1e-6)


def test_a_cold_hour_of_the_week_before_lowers_the_low_end() -> None:
    found = gap(21.0, 21.0)
    assert found.earned_h is not None
    cold = 10.0 * np.exp(90e3 / 8.314462618 * (1.0 / 294.15 - 1.0 / 291.15))
    assert found.earned_h.low == pytest.approx(cold, rel=1e-4)


def test_what_cannot_be_bounded_is_not_known() -> None:
    assert gap(21.0, None).earned_h is None
    assert "not ended" in gap(21.0, None).why
    assert "nothing was heard" in gap(21.0, 21.0, room="shed").why
    assert "humidity" in gap(21.0, 21.0, name="waterborne", rh=None).why
    assert "no clock" in gap(21.0, 21.0, name="dose-cured").why


def test_without_a_week_before_the_ends_stand_alone() -> None:
    shop = shop_of({"loft": readings([0.0, 0.1, 10.0, 10.1], 21.0, 0.5)})
    found = silence(shop, "loft", finish("nitro-lacquer"), (at_h(0.1), at_h(10.0)))
    assert found.earned_h is not None
    assert found.earned_h.low == pytest.approx(9.9, rel=1e-6)
