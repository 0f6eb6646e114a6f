"""A what-if as plain data; keys as in `plain`: units last, `None` is not known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.finish import ClockName
from curewatch.shop.plain import FORMAT, eta_plain, instant
from curewatch.shop.standings_told import what_if_standings
from curewatch.shop.what_if import ea_band
from curewatch.shop.what_if_words import gain_sentence, sentence, why_no_ratio

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain
    from curewatch.shop.what_if import Air, Range
    from curewatch.shop.what_if_piece import Gain, StackHours
    from curewatch.shop.what_if_words import WhatIf


def what_if_plain(answer: WhatIf) -> Plain:
    """Return a what-if and its answer."""
    cure = answer.finish.cure
    band = None if cure is None else ea_band(answer.finish)
    return {
        "format": FORMAT,
        "finish": answer.finish.name,
        "what": str(answer.kind),
        "asked": answer.asked,
        "sentence": sentence(answer),
        "from": {
            "source": answer.source,
            "room": answer.room,
            "at": instant(answer.at_ms),
            "known_pct": answer.known_pct,
            **air_plain(answer.before),
        },
        "to": air_plain(answer.after),
        "rate": _rate(answer, ClockName.CURE),
        "drying_rate": _rate(answer, ClockName.DRYING),
        "wood_emc_pct": {
            "as_it_is": answer.before.mean_emc_pct(),
            "then": answer.after.mean_emc_pct(),
        },
        "activation_energy_kj_mol": None
        if cure is None or band is None
        else {
            "low": band[0],
            "likely": cure.ea_kj_mol.value,
            "high": band[1],
            "standing": str(cure.ea_kj_mol.standing),
        },
        "cautions": [
            {"about": one.about, "text": one.text, "standing": str(one.standing)}
            for one in answer.cautions
        ],
        "piece": answer.piece,
        "milestones": [gain_plain(gain) for gain in answer.gains],
        "from_last_coat": [_stack(stack) for stack in answer.stacks],
        "standing": what_if_standings(answer.finish, answer.source),
    }


def air_plain(air: Air) -> Plain:
    """Return a climate, or the mean of a sequence of them."""
    rh = air.mean_rh_frac()
    return {"temp_c": air.mean_temp_c(), "rh_pct": None if rh is None else rh * 100.0}


def range_plain(found: Range | None) -> Plain | None:
    """Return a range."""
    if found is None:
        return None
    return {"low": found.low, "likely": found.likely, "high": found.high}


def gain_plain(gain: Gain) -> Plain:
    """Return what a what-if does to one milestone of a piece."""
    return {
        "milestone": str(gain.name),
        "hours_left": gain.left_h,
        "as_it_is": eta_plain(gain.as_it_is),
        "then": eta_plain(gain.then),
        "saved_h": range_plain(gain.saved_h),
        "outlook_pace": gain.pace,
        "sentence": gain_sentence(gain),
    }


def _rate(answer: WhatIf, clock: ClockName) -> Plain | None:
    speed = answer.speeds.get(clock)
    if speed is None:
        return None
    return {
        "against_reference": range_plain(speed.against_reference),
        "against_room": range_plain(speed.against_room),
        "why_not_against_room": why_no_ratio(answer, clock),
        "as_it_is": range_plain(speed.as_it_is),
    }


def _stack(stack: StackHours) -> Plain:
    return {
        "milestone": str(stack.name),
        "as_it_is_h": range_plain(stack.as_it_is),
        "then_h": range_plain(stack.then),
        "saved_h": range_plain(stack.saved_h),
    }
