"""Trials of test boards as plain data; keys as in `plain`: units last, `None` is not known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.plain import instant
from curewatch.shop.reading import Standing
from curewatch.shop.standings import AIR, COVERED, LOGGED, MEASURED, WALL, entry
from curewatch.shop.trial import PENCIL
from curewatch.shop.trial_comparison import warnings

if TYPE_CHECKING:
    from collections.abc import Mapping

    from curewatch.shop.plain import Plain
    from curewatch.shop.trial import Measure, Scale, Score, Trial
    from curewatch.shop.trial_comparison import Cell, Comparison, Occasion, Retained
    from curewatch.shop.trial_history import History
    from curewatch.shop.trial_sheets import Sheet

SCORED = "what people scored on the boards, and the scale they gave"
RATED = "the finish's clock: its rate law over the air that the room's sensors measured"


def trial_plain(trial: Trial) -> Plain:
    """Return a trial without its scores."""
    return {
        "trial": trial.name,
        "question": trial.question,
        "started_at": instant(trial.entered_ms),
        "boards": list(trial.boards),
        "scales": {str(quality): scale_plain(scale) for quality, scale in trial.scales.items()},
    }


def scale_plain(scale: Scale) -> Plain:
    """Return a shop's own scale."""
    return {"worst": scale.worst, "best": scale.best, "words": scale.words}


def score_plain(tag: str, score: Score) -> Plain:
    """Return a score."""
    return {
        "id": score.id,
        "board": tag,
        **measure_plain(score.measure),
        **_value(score.measure, score.value),
        "how": score.how,
        "who": score.who,
        "at": instant(score.at_ms),
    }


def measure_plain(measure: Measure) -> Plain:
    """Return what makes scores comparable."""
    return {
        "quality": str(measure.quality),
        "unit": measure.unit or None,
        "angle_deg": measure.angle_deg,
    }


def comparison_plain(found: Comparison, finishes: Mapping[str, str]) -> Plain:
    """Return what one measure says of a trial's boards; `finishes` by tag."""
    return {
        **measure_plain(found.measure),
        "scale": None if found.scale is None else scale_plain(found.scale),
        "rows": [
            {
                "age_h": row.age_h,
                "boards": [_cell(found, cell) for cell in row.cells],
                "apart": row.apart,
                "judges_apart": row.judges_apart,
                "sentence": row.sentence,
            }
            for row in found.rows
        ],
        "not_compared": [_occasion(found, one) for one in found.unused],
        "retained_gloss": [_retained(one) for one in found.retained],
        "warnings": list(warnings(found, finishes)),
        "standing": {
            **dict.fromkeys(("angle_deg", "scale", "rows"), entry(MEASURED, SCORED)),
            **dict.fromkeys(("not_compared", "retained_gloss"), entry(MEASURED, SCORED)),
        },
    }


def history_plain(history: History) -> Plain:
    """Return what lies behind a score."""
    rh = history.mean_rh_frac
    return {
        "finish": history.finish,
        "coats": history.coats,
        "wall_h": history.wall_h,
        "effective_h": history.effective_h,
        "standard_error_h": history.standard_error_h,
        "coverage_pct": history.coverage_pct,
        "mean_temp_c": history.mean_temp_c,
        "mean_rh_pct": None if rh is None else rh * 100.0,
        "work_since_last_coat": [str(kind) for kind in history.work],
        "why_no_age": history.why_no_age or None,
        "standing": {
            "coats": entry(MEASURED, LOGGED),
            "wall_h": entry(MEASURED, WALL),
            "effective_h": entry(Standing.PHYSICS, RATED),
            "standard_error_h": entry(Standing.PHYSICS, RATED),
            "coverage_pct": entry(MEASURED, COVERED),
            "mean_temp_c": entry(MEASURED, AIR),
            "mean_rh_pct": entry(MEASURED, AIR),
        },
    }


def sheet_plain(sheet: Sheet) -> Plain:
    """Return how a trial is done at the bench."""
    return {
        "title": sheet.title,
        "steps": list(sheet.steps),
        "standards": sheet.standards,
        "caution": sheet.caution,
        "standing": str(Standing.COMMON_PRACTICE),
    }


def _cell(found: Comparison, cell: Cell) -> Plain:
    occasion = {} if cell.occasion is None else _occasion(found, cell.occasion)
    return {"board": cell.tag, "left_out_because": cell.refused or None, **occasion}


def _occasion(found: Comparison, one: Occasion) -> Plain:
    share = None if found.scale is None else found.scale.share(one.value)
    return {
        "board": one.tag,
        "at": instant(one.at_ms),
        **_value(found.measure, one.value),
        "share_of_scale": share,
        "values": list(one.values),
        "judges": one.judges,
        "spread": one.spread,
        "history": history_plain(one.history),
    }


def _retained(one: Retained) -> Plain:
    return {
        "board": one.tag,
        "weeks": one.weeks,
        "share_of_first": one.share,
        "worked_on_since": one.worked,
    }


def _value(measure: Measure, value: float) -> Plain:
    if measure.unit == PENCIL:
        return {"value": value, "pencil": measure.value_words(value)}
    return {"value": value}
