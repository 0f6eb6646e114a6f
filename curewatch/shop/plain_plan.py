"""A day plan, and working back from a date, as plain data.

Instants are in UTC; `None` where a thing is not known or never happens.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.plain import eta_plain, instant

if TYPE_CHECKING:
    from curewatch.shop.coat_window import CoatWindow
    from curewatch.shop.day_plan import DayPlan, PlannedCoat
    from curewatch.shop.finish_by import Deadline, FinishBy
    from curewatch.shop.plain import Plain
    from curewatch.shop.plan_cautions import Caution
    from curewatch.shop.pots import Pot


def plan_plain(found: DayPlan) -> Plain:
    """Return a plan.

    `window_opens` and `window_closes` of a coat are those of the recoat window that it opens, for
    the coat after it; `laid_in` is the one it is laid in itself, None for a first coat.
    """
    return {
        "coats": [coat_plain(coat) for coat in found.coats],
        "unplanned": found.unplanned,
        "in_unfit_room": found.unfit,
        "pots": [pot_plain(pot) for pot in found.pots],
        "turns_at": instant(found.turns_ms),
        "last_safe_start": instant(found.last_start_ms),
        "warnings": [caution_plain(caution) for caution in found.cautions],
    }


def coat_plain(coat: PlannedCoat) -> Plain:
    """Return a coat of a plan."""
    return {
        "piece": coat.piece,
        "coat": coat.number,
        "at": instant(coat.at_ms),
        "done_at": instant(coat.done_ms),
        **window_plain(coat.window),
        "laid_in": None if coat.laid_in is None else window_plain(coat.laid_in),
        "scuff_first": coat.scuff,
        "past_middle": coat.past_middle,
        "room_likely_unfit_at": instant(coat.unfit_ms),
    }


def window_plain(window: CoatWindow) -> Plain:
    """Return a recoat window; it closes where a coat may not be laid any more as things are."""
    reopens = None if window.middle is None else window.middle[1]
    return {
        "window_opens": eta_plain(window.opens),
        "window_closes": eta_plain(window.limit),
        "reopens": eta_plain(reopens),
    }


def finish_by_plain(found: FinishBy, deadline: Deadline) -> Plain:
    """Return what working back from a date found."""
    air = found.would_do
    return {
        "verdict": {True: "possible", False: "too-soon", None: "unknown"}[found.possible],
        "deadline": instant(deadline.at_ms),
        "milestone": str(deadline.milestone),
        "last_coat_by": instant(found.last_coat_ms),
        "first_coat_by": instant(found.first_coat_ms),
        "ready_if_begun_now": {**eta_plain(found.if_now), "sure": instant(found.sure_ms)},
        "outlook_ends_first": found.horizon,
        "first_coat_bound_by": found.bound or None,
        "latest": None if found.latest is None else plan_plain(found.latest),
        "ready_with_a_scuff": instant(found.scuffed_ms),
        "would_do": None
        if air is None
        else {"temp_c": air.temp_c, "rh_pct": air.rh_frac * 100.0, "wood_emc_pct": air.emc_pct},
        "searched_to_c": found.searched_to_c,
        "cautions": list(found.cautions),
        **plan_plain(found.plan),
    }


def pot_plain(pot: Pot) -> Plain:
    """Return a pot; it is over at its early end."""
    return {
        "mixed_at": instant(pot.mixed_ms),
        "over_at": instant(pot.over_ms),
        "coats": pot.coats,
    }


def caution_plain(caution: Caution) -> Plain:
    """Return something to be known before one begins."""
    return {
        "kind": caution.kind,
        "piece": caution.piece,
        "coat": caution.coat,
        "words": caution.words,
    }
