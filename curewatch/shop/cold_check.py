"""Cold check: how far a hard film has cooled of late, by its room or by being carried.

A film that has hardened on wood shrinks faster than the wood when it cools; brittle ones crack.
How fast is too fast is a figure of the profile; nothing published gives it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from curewatch.shop.climate import MINUTE_MS, TEMP, TEMP_COVER

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.climate import Climate
    from curewatch.shop.piece import Stay
    from curewatch.shop.shop import Shop

COOLING_H: Final = 2.0  # shorter falls stay in the skin of the wood (our own choice, no source)
COOLING_MS: Final = round(COOLING_H * 60) * MINUTE_MS


def can_cold_check(now: PieceNow) -> bool:
    """Return whether a piece carries a hard film that may crack in the cold."""
    profile = now.profile
    if now.window is None or now.wet or profile is None:
        return False
    return profile.limits.cold_check_k_h is not None


def felt_falls_k(
    shop: Shop, tags: Iterable[str], *, room: str, climate: Climate, now_ms: int
) -> dict[str, float]:
    """Return how much colder the air of pieces is now than at its warmest in two hours [K].

    It counts the rooms each piece was in; the record of the room is read once for all that have
    hung there all the while.
    """
    since_ms = now_ms - COOLING_MS
    here_c = max(_warmest_c(shop, room, since_ms, now_ms), climate.temp_c)
    falls = {}
    for tag in tags:
        stays = shop.pieces[tag].stays
        carried = stays[-1].start_ms > since_ms or stays[-1].stop_ms is not None
        warmest_c = _carried_c(shop, stays, since_ms, now_ms) if carried else here_c
        falls[tag] = max(warmest_c, climate.temp_c) - climate.temp_c
    return falls


def _carried_c(shop: Shop, stays: Iterable[Stay], since_ms: int, now_ms: int) -> float:
    """Return the warmest air of the rooms a piece was in since an instant [degC]."""
    found = []
    for stay in stays:
        stop_ms = now_ms if stay.stop_ms is None else min(stay.stop_ms, now_ms)
        found.append(_warmest_c(shop, stay.room, max(stay.start_ms, since_ms), stop_ms))
    return max(found)


def _warmest_c(shop: Shop, room: str, start_ms: int, stop_ms: int) -> float:
    """Return the warmest air known of a room in [start, stop); minus infinity where none is."""
    track = shop.book.climates.get(room)
    if track is None:
        return -float("inf")
    first, last = max(track.index(start_ms), 0), min(track.index(stop_ms), track.size)
    if last <= first:
        return -float("inf")
    known = track.row(TEMP, first, last)[track.row(TEMP_COVER, first, last) > 0.0]
    return float(known.max(initial=-float("inf")))
