"""A mixed pot as plain data; see `shop.plain` for the rules."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from curewatch.shop.batch import pot_open
from curewatch.shop.plain import instant
from curewatch.shop.standings import LOGGED, MEASURED, WALL, entry, of_figure

if TYPE_CHECKING:
    from curewatch.shop.batch import Batch, PotLife
    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import Plain


AGE: Final = (
    "the longer of the hours on the wall and the cure hours of its room at their early end; "
    "activation energy: "
)


def pot_plain(pot: Batch, life: PotLife, finish: Finish, now_ms: int, *, held: str | None) -> Plain:
    """Return a pot with how it stands at `now_ms` [ms], judged by its finish, and what holds it."""
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
        "held": held,
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
        "standing": pot_standings(finish),
    }


def pot_standings(finish: Finish) -> Plain:
    """Return where the numbers of a pot come from."""
    logged, wall = entry(MEASURED, LOGGED), entry(MEASURED, WALL)
    told: Plain = dict.fromkeys(
        ("id", "finish_revision", "crosslinker_pct", "reducer_pct", "retarder_pct"), logged
    )
    told |= {"wall_h": wall, "aged_h": wall}
    if finish.cure is not None:
        ea = finish.cure.ea_kj_mol
        told["aged_h"] = entry(ea.standing, f"{AGE}{ea.source}")
    if finish.pot_life_h is not None:
        told["life_h"] = of_figure(finish.pot_life_h)
    return told
