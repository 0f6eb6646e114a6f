"""What can go to the bench: what must be coated before when, what is ready, what is coming.

In the order of the earliest honest time, which is the cautious one; times are compared no finer
than they are told. 'Ready' means: go and test where it does not show.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.show import print_json, say, table
from curewatch.shop.assessment import assess
from curewatch.shop.bench_list import bench_list
from curewatch.shop.plain_bench import bench_list_plain

if TYPE_CHECKING:
    import argparse

    from curewatch.shop.bench_list import BenchList, Job
    from curewatch.shop.words import Words


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take nothing of its own."""


def run(args: argparse.Namespace) -> int:
    """Put the pieces in the order of work and say so."""
    with bench(args) as opened:
        shop = opened.shop()
        found = bench_list(assess(shop, opened.now_ms), shop.pieces, opened.words)
        if args.json:
            print_json(bench_list_plain(found))
        else:
            _tell(found, opened.words)
    return 0


def _tell(found: BenchList, words: Words) -> None:
    now_ms = found.at_ms
    say(f"The bench list {words.at(now_ms, now_ms)}.")
    if found.due:
        say()
        say("Must be coated before:")
        table(
            ["before", "piece", "job", "why"],
            [(_limit(job, words, now_ms), job.tag, job.job, job.reason) for job in found.due],
        )
    if found.ready:
        say()
        say("Ready now; test first where it does not show:")
        table(
            ["since", "piece", "job", "why"],
            [(_since(job, words, now_ms), job.tag, job.job, job.reason) for job in found.ready],
        )
    if found.coming:
        say()
        say("Coming, about:")
        table(
            ["early", "likely", "surely", "piece", "job"],
            [_coming(job, words, now_ms) for job in found.coming],
        )
    _tell_rest("Waiting:", found.waiting)
    _tell_rest("Set aside:", found.held)
    if not (found.due or found.ready or found.coming or found.waiting or found.held):
        say("No piece hangs in the shop.")


def _tell_rest(title: str, jobs: tuple[Job, ...]) -> None:
    if jobs:
        say()
        say(title)
        table(["piece", "job", "why"], [(job.tag, job.job, job.reason) for job in jobs])


def _limit(job: Job, words: Words, now_ms: int) -> str:
    """Say a limit to the minute: rounding it up would be the unsafe way."""
    return "-" if job.at_ms is None else words.at(job.at_ms // 60_000 * 60_000, now_ms)


def _since(job: Job, words: Words, now_ms: int) -> str:
    return "-" if job.at_ms is None else words.at(job.at_ms, now_ms)


def _coming(job: Job, words: Words, now_ms: int) -> tuple[str, ...]:
    surely = job.eta.late or job.at_ms
    early, likely, late = (
        "not told" if at_ms is None else words.ahead(at_ms, now_ms).replace("about ", "")
        for at_ms in (job.eta.early, job.eta.likely, surely)
    )
    return early, likely, late, job.tag, job.job
