"""A mixed pot as plain data; see `shop.plain` for the rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.batch import pot_open
from curewatch.shop.plain import instant

if TYPE_CHECKING:
    from curewatch.shop.batch import Batch, PotLife
    from curewatch.shop.plain import Plain


def pot_plain(pot: Batch, life: PotLife, now_ms: int) -> Plain:
    """Return a pot with how it stands at `now_ms` [ms]."""
    ends = life.ends
    return {
        "pot": pot.name,
        "id": pot.id,
        "finish": pot.finish,
        "finish_revision": pot.revision,
        "lot": pot.lot,
        "mixed_at": instant(pot.mixed_at_ms),
        "room": pot.room,
        "crosslinker_pct": pot.crosslinker_pct,
        "crosslinker_lot": pot.crosslinker_lot,
        "reducer_pct": pot.reducer_pct,
        "retarder_pct": pot.retarder_pct,
        "thinner": pot.thinner,
        "tint": pot.tint,
        "note": pot.note,
        "who": pot.who,
        "gone_at": instant(pot.gone_ms),
        "open": pot_open(pot, life, now_ms),
        "over": life.over,
        "life_h": life.life_h,
        "wall_h": life.wall_h,
        "aged_h": life.aged_h,
        "warmth_counted": life.by_room,
        "ends": None
        if ends is None
        else {
            "early": instant(ends.early),
            "likely": instant(ends.likely),
            "late": instant(ends.late),
        },
    }
