"""How a trial's comparison and the bench sheets are printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.show import say, table
from curewatch.shop.trial_comparison import warnings
from curewatch.shop.trial_sheets import BOARDS, SAFETY, SHEETS
from curewatch.shop.words import percent, span

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from curewatch.shop.trial import Quality, Trial
    from curewatch.shop.trial_comparison import Cell, Comparison, Occasion, Row
    from curewatch.shop.words import Words


def tell_trial(
    trial: Trial,
    found: Sequence[Comparison],
    finishes: Mapping[str, str],
    *,
    words: Words,
    now_ms: int,
) -> None:
    """Print a trial: its boards, and for every measure the boards at equal age."""
    say(f"{trial.name}: {trial.question}")
    boards = [f"{tag} ({finishes[tag]})" for tag in trial.boards]
    say(f"Boards: {', '.join(boards) or 'none yet'}.")
    if not found:
        say("Nothing is scored yet: curewatch test-boards score TAG QUALITY VALUE")
    for comparison in found:
        say()
        _tell_measure(comparison, finishes, words, now_ms)
    if found:
        say()
        say(
            "No winner is declared: a trial of a few boards says what these boards did, in this "
            "shop, at these ages."
        )


def tell_sheet(qualities: Sequence[Quality]) -> None:
    """Print how trials are done at the bench."""
    say("Boards and judges (common practice)")
    for line in BOARDS:
        say(f"- {line}")
    for quality in qualities:
        sheet = SHEETS[quality]
        say()
        say(f"{sheet.title} (common practice)")
        for number, step in enumerate(sheet.steps, start=1):
            say(f"{number}. {step}")
        say(f"Mind: {sheet.caution}")
        say(f"Standards: {sheet.standards}")
    say()
    say("Safety")
    for line in SAFETY:
        say(f"- {line}")


def _tell_measure(
    found: Comparison, finishes: Mapping[str, str], words: Words, now_ms: int
) -> None:
    measure = found.measure
    scale = ""
    if found.scale is not None:
        scale = (
            f" from {found.scale.worst:g} (worst) to {found.scale.best:g} (best): "
            f"{found.scale.words}"
        )
    said = measure.words
    say(f"{said[0].upper()}{said[1:]}{scale}")
    for row in found.rows:
        _tell_row(row, found, words)
    if found.unused:
        rows = [
            (
                one.tag,
                measure.value_words(one.value),
                words.at(one.at_ms, now_ms),
                _age(one),
            )
            for one in found.unused
        ]
        table(["not compared", "score", "when", "effective age"], rows)
    for kept in found.retained:
        share = "cannot be told" if kept.share is None else f"{kept.share * 100.0:.0f} %"
        worked = " (worked on in between: not the same surface)" if kept.worked else ""
        say(f"{kept.tag} after {kept.weeks:.1f} weeks: {share} of its first gloss{worked}.")
    for line in warnings(found, finishes):
        say(f"- {line}")


def _tell_row(row: Row, found: Comparison, words: Words) -> None:
    say()
    say(f"At about {span(row.age_h)} of effective age:")
    cells = [_cell(cell, found, words) for cell in row.cells]
    table(["board", "score", "judges", "effective age", "film", "air since last coat"], cells)
    say(row.sentence)


def _cell(cell: Cell, found: Comparison, words: Words) -> tuple[str, ...]:
    one = cell.occasion
    if one is None:
        return (cell.tag, "-", "-", cell.refused, "", "")
    if cell.refused:
        return (cell.tag, f"left out: {cell.refused}", "", _age(one), "", "")
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
        _age(one),
        f"coats: {history.coats}{work}",
        f"{temp}, {rh}{covered}",
    )


def _age(one: Occasion) -> str:
    history = one.history
    if history.effective_h is None:
        return f"not known: {history.why_no_age}"
    error = history.standard_error_h or 0.0
    return f"{history.effective_h:.0f} ± {error:.0f} h"
