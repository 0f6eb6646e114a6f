"""How a piece stands, in words: its clocks with their doubt, its milestones, its window."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.show import say, table
from curewatch.science.outlook import LONGEST_H
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.sink import NO_FILM_MODEL
from curewatch.shop.standing_said import doubt_sentence
from curewatch.shop.standing_said import (
    window_sentence as window_sentence,  # noqa: PLC0414 - handed on to the commands
)
from curewatch.shop.words import listed, span

if TYPE_CHECKING:
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.words import Words


def say_clocks(now: PieceNow) -> None:
    """Print the clocks since the last coat, and where their doubt comes from."""
    rows = [
        (
            str(name),
            f"{clock.effective_hours:.1f} h",
            f"± {clock.standard_error:.1f} h",
            span(clock.covered_h),
            "-" if clock.mean_rate is None else f"{clock.mean_rate:.2f}",
        )
        for name, clock in now.clocks.items()
    ]
    table(["clock", "since last coat", "doubt", "covered", "hours per hour, 24 h"], rows)
    for name, clock in now.clocks.items():
        if name is not ClockName.WALL:
            say(doubt_sentence(name, clock))
    say()


def say_milestones(now: PieceNow, words: Words, now_ms: int) -> None:
    """Print what each milestone asks, when it was or will be, and when to be sure."""
    table(
        ["milestone", "clock", "asks", "earliest", "by its hours", "to be sure"],
        [milestone_row(stone, words, now_ms) for stone in now.milestones],
    )
    untold = [str(stone.name) for stone in now.milestones if _untold(stone)]
    if untold:
        say(
            f"No time to be sure of {listed(untold)}: it lies beyond the {LONGEST_H / 24:.0f} days "
            "that an outlook reaches, or the room earns next to nothing."
        )
    ahead = [stone for stone in now.milestones if stone.eta is not None]
    if ahead:
        plan = ", and what was planned for it" if any(stone.planned for stone in ahead) else ""
        say(f"What is expected rests on the room's own record{plan}.")
    say()


def _untold(stone: Milestone) -> bool:
    """Whether it asks for hours, and when they are surely met is not told."""
    if stone.name is MilestoneName.RECOAT_CLOSES or stone.required_hours is None:
        return False
    return stone.cautious_at is None and stone.eta_cautious_at is None


def milestone_row(stone: Milestone, words: Words, now_ms: int) -> tuple[str, ...]:
    """Return a milestone as a row of words."""
    asks = "no answer" if stone.required_hours is None else f"{stone.required_hours:.1f} h"
    if stone.required_hours is None and stone.name is MilestoneName.RECOAT_CLOSES:
        asks = "no limit known"
    eta, limit = stone.eta, stone.name is MilestoneName.RECOAT_CLOSES
    doubt_ms = 0
    if eta is not None and eta.early is not None and eta.late is not None:
        doubt_ms = eta.late - eta.early

    def when(been: int | None, ahead: int | None, *, early: bool = False) -> str:
        if been is not None:
            return words.at(been, now_ms)
        if ahead is None:
            return "-"
        # A limit is told to the minute: rounding it up would be the unsafe way.
        if limit:
            return f"expected {words.at(ahead, now_ms)}"
        return f"expected {words.ahead(ahead, now_ms, doubt_ms=doubt_ms, early=early)}"

    early = None if eta is None or limit else eta.early
    return (
        str(stone.name),
        str(stone.clock),
        asks,
        when(None, early, early=True),
        when(stone.reached_at, stone.eta_at),
        when(stone.cautious_at, stone.eta_cautious_at),
    )


def say_sink_back(now: PieceNow, words: Words, now_ms: int) -> None:
    """Print how far the film has still to fall, and when it lies still beside the clock's rule."""
    film = now.sink_back
    if film is None:
        say(NO_FILM_MODEL)
        return
    said = film.sentence
    if film.under_tolerance_at is not None:
        said += f" It came under that {words.at(film.under_tolerance_at, now_ms)}."
    elif film.expected_at is not None:
        said += f" Expected {words.ahead(film.expected_at, now_ms)}."
    say(said)


def say_gaps(now: PieceNow, words: Words, now_ms: int) -> None:
    """Print the stretches without credit, and the share that readings cover."""
    if now.gaps:
        say("Without credit since the last coat:")
        for start, stop in now.gaps:
            hours = span((stop - start) / 3_600_000)
            say(f"{words.at(start, now_ms)} to {words.at(stop, now_ms)} ({hours})", indent=2)
    if now.coverage_pct is not None:
        filled = f" {now.assumed}" if now.assumed else ""
        say(f"Readings cover {now.coverage_pct:.0f} % of the time since the last coat.{filled}")
