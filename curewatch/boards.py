"""Test boards, entered and compared: what the command and the page share."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.trial import OWN_SCALE, PENCIL, Measure, Quality, Score, pencil_place
from curewatch.shop.trial_comparison import EQUAL_AGE_SHARE, Comparison, compare, measures_in
from curewatch.shop.trial_history import History, history
from curewatch.shop.words import percent

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.shop.trial import Trial
    from curewatch.shop.trial_comparison import Cell, Occasion, Retained
    from curewatch.shop.words import Words

NO_WINNER = (
    "No winner is declared: a trial of a few boards says what these boards did, in this shop, at "
    "these ages."
)
COLUMNS = ("board", "score", "judges", "effective age", "film", "air since last coat")
UNUSED_COLUMNS = ("not compared", "score", "when", "effective age")


def read_score(  # noqa: PLR0913 - a score is that much, all of it typed
    quality: Quality,
    value: str,
    *,
    unit: str | None = None,
    angle_deg: float | None = None,
    at_ms: int,
    how: str = "",
    who: str = "",
) -> Score:
    """Return the score that was typed; 'hardness 2H' needs no unit.

    Raises
    ------
    BadInput
        When it is no figure, or does not fit its unit.
    """
    chosen = unit or (PENCIL if _is_pencil(value, quality) else OWN_SCALE)
    measure = Measure(quality, chosen, angle_deg)
    figure = pencil_place(value) if chosen == PENCIL else _number(value)
    return Score(measure, figure, at_ms, how, who)


def compared(
    opened: Opened, trial: Trial, equal_age: float = EQUAL_AGE_SHARE
) -> tuple[tuple[Comparison, ...], dict[str, str]]:
    """Return what each measure says of a trial's boards, and the boards' finishes by tag."""
    shop = opened.shop(tags=trial.boards)
    scores = {tag: opened.store.trials.scores(tag) for tag in trial.boards}

    def history_of(tag: str, at_ms: int) -> History:
        return history(shop, shop.pieces[tag], at_ms)

    found = tuple(
        compare(
            measure,
            scores,
            scale=trial.scales.get(measure.quality),
            history_of=history_of,
            equal_age=equal_age,
        )
        for measure in measures_in(scores)
    )
    return found, {tag: shop.pieces[tag].finish for tag in trial.boards}


def measure_said(found: Comparison) -> str:
    """Say what is compared, and on which scale."""
    scale = ""
    if found.scale is not None:
        scale = (
            f" from {found.scale.worst:g} (worst) to {found.scale.best:g} (best): "
            f"{found.scale.words}"
        )
    said = found.measure.words
    return f"{said[0].upper()}{said[1:]}{scale}"


def unused_said(one: Occasion, found: Comparison, words: Words, now_ms: int) -> tuple[str, ...]:
    """Say a score that stands in no row."""
    value, when = found.measure.value_words(one.value), words.at(one.at_ms, now_ms)
    return (one.tag, value, when, age_said(one))


def retained_said(kept: Retained) -> str:
    """Say how much of its first gloss a board has kept."""
    share = "cannot be told" if kept.share is None else f"{kept.share * 100.0:.0f} %"
    worked = " (worked on in between: not the same surface)" if kept.worked else ""
    return f"{kept.tag} after {kept.weeks:.1f} weeks: {share} of its first gloss{worked}."


def cell_said(cell: Cell, found: Comparison, words: Words) -> tuple[str, ...]:
    """Say one board of a row in the columns' order."""
    one = cell.occasion
    if one is None:
        return (cell.tag, "-", "-", cell.refused, "", "")
    if cell.refused:
        return (cell.tag, f"left out: {cell.refused}", "", age_said(one), "", "")
    spread = "" if one.spread is None else f", {one.spread:.3g} apart"
    judges = f"{len(one.values)} values{spread}" if len(one.values) > 1 else "one value"
    history = one.history
    work = "".join(f", {kind}" for kind in history.work)
    temp = "?" if history.mean_temp_c is None else words.temp(history.mean_temp_c)
    rh = "?" if history.mean_rh_frac is None else percent(history.mean_rh_frac)
    covered = "" if history.coverage_pct is None else f", {history.coverage_pct:.0f} % covered"
    return (
        cell.tag,
        found.measure.value_words(one.value),
        judges,
        age_said(one),
        f"coats: {history.coats}{work}",
        f"{temp}, {rh}{covered}",
    )


def age_said(one: Occasion) -> str:
    """Say how old the film really was."""
    history = one.history
    if history.effective_h is None:
        return f"not known: {history.why_no_age}"
    error = history.standard_error_h or 0.0
    return f"{history.effective_h:.0f} ± {error:.0f} h"


def _is_pencil(value: str, quality: Quality) -> bool:
    """Return whether 'hardness 2H' was typed: a pencil needs no --unit."""
    return quality is Quality.HARDNESS and value.strip()[-1:].upper() in ("B", "H", "F")


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise BadInput(f"'{text}' is no figure: write a number such as 7 or 82.5") from None
