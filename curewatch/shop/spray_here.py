"""What is known where one wants to spray: a room's newest climate, and how old it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.gone import still_speaks
from curewatch.shop.laws import air_speed_m_s
from curewatch.shop.moving_air import moving_air
from curewatch.shop.spray_terms import Conditions, aged

if TYPE_CHECKING:
    from curewatch.shop.climate import Climate
    from curewatch.shop.shop import Shop


def heard_at(shop: Shop, name: str, now_ms: int) -> tuple[Climate | None, bool]:
    """Return a room's newest climate by `now_ms` [ms], and whether it may still speak for the air.

    None where nothing was ever heard. A stale climate decides nothing.
    """
    track = shop.book.climates.get(name)
    fresh_ms = shop.freshness_s(name) * 1000.0
    climate = None if track is None else track.fresh_at(now_ms, within_ms=fresh_ms)
    if climate is None:
        return None, False
    said = still_speaks(shop, name, climate, within_ms=fresh_ms, now_ms=now_ms)
    return said or climate, said is not None and now_ms - climate.at_ms <= fresh_ms


def here_at(shop: Shop, name: str, now_ms: int) -> Conditions:
    """Return what is known of a room at a moment [ms], its doubt grown by the reading's age."""
    climate, fresh = heard_at(shop, name, now_ms)
    here = conditions_of(shop, name, climate if fresh else None)
    return here if climate is None else aged(here, (now_ms - climate.at_ms) / 1000.0)


def conditions_of(shop: Shop, name: str, climate: Climate | None) -> Conditions:
    """Return a room's climate as the spray check takes it; nothing where it is not known."""
    room = shop.room(name)
    return Conditions(
        temp_c=None if climate is None else climate.temp_c,
        rh_frac=None if climate is None else climate.rh_frac,
        surface_c=None if climate is None else climate.surface_c,
        air_speed_m_s=(
            air_speed_m_s(room.air)
            if climate is None
            else moving_air(shop, name, climate.at_ms).speed_m_s
        ),
        pressure_pa=room.pressure_pa,
        bias=shop.book.bias(
            name,
            None if climate is None else climate.at_ms,
            None if climate is None else climate.rh_frac,
        ),
    )
