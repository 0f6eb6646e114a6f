"""How a trial's comparison and the bench sheets are printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.boards import (
    COLUMNS,
    NO_WINNER,
    UNUSED_COLUMNS,
    cell_said,
    measure_said,
    retained_said,
    unused_said,
)
from curewatch.cli.show import say, table
from curewatch.shop.trial_comparison import warnings
from curewatch.shop.trial_sheets import BOARDS, SAFETY, SHEETS
from curewatch.shop.words import span

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from curewatch.shop.trial import Quality, Trial
    from curewatch.shop.trial_comparison import Comparison, Row
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
        say(NO_WINNER)


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
    say(measure_said(found))
    for row in found.rows:
        _tell_row(row, found, words)
    if found.unused:
        table(UNUSED_COLUMNS, [unused_said(one, found, words, now_ms) for one in found.unused])
    for kept in found.retained:
        say(retained_said(kept))
    for line in warnings(found, finishes):
        say(f"- {line}")


def _tell_row(row: Row, found: Comparison, words: Words) -> None:
    say()
    say(f"At about {span(row.age_h)} of effective age:")
    cells = [cell_said(cell, found, words) for cell in row.cells]
    table(COLUMNS, cells)
    say(row.sentence)
