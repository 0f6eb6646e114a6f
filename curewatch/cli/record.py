"""A piece's record for the customer or the warranty file, told coat by coat.

What was sprayed when, from which pot, in which air, how old the film was at each stage of work,
gaps, and what was done all the same. Also of a piece that left. With no option the page's words are
summed up here; --html and --pdf write the whole document, --csv a table, --json everything.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.files import write_new
from curewatch.cli.show import print_json, say, table
from curewatch.errors import BadInput
from curewatch.records import record_of
from curewatch.records.pdf import MISSING, can_make_pdf, pdf_bytes
from curewatch.records.plain import record_csv, record_plain
from curewatch.shop.words import percent, span
from curewatch.web.papers import care_html, record_html

if TYPE_CHECKING:
    import argparse

    from curewatch.records import Record
    from curewatch.shop.record import RecordFacts
    from curewatch.shop.trial_history import History
    from curewatch.shop.words import Words


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the piece and where its record goes."""
    parser.add_argument("tag", metavar="TAG", help="the piece, also one that left")
    parser.add_argument("--html", type=Path, metavar="FILE", help="write it as one HTML document")
    parser.add_argument("--pdf", type=Path, metavar="FILE", help="write it as PDF")
    parser.add_argument("--csv", type=Path, metavar="FILE", help="write it as a table")
    parser.add_argument(
        "--care", action="store_true", help="the care card instead, with --html or --pdf"
    )
    parser.add_argument("--force", action="store_true", help="write over a file that is there")


def run(args: argparse.Namespace) -> int:
    """Gather the record and hand it out."""
    if args.pdf is not None and not can_make_pdf():
        raise BadInput(MISSING)
    if args.care and args.html is None and args.pdf is None:
        raise BadInput("--care is written to a file: add --html FILE or --pdf FILE")
    with bench(args) as at:
        found, settings = record_of(at, args.tag), at.settings
        words = at.words
    page = care_html(found, settings, alone=True) if args.care else record_html(found, settings)
    written: list[Path] = []
    if args.html is not None:
        write_new(args.html, page.encode(), force=args.force)
        written.append(args.html)
    if args.pdf is not None:
        write_new(args.pdf, pdf_bytes(page), force=args.force)
        written.append(args.pdf)
    if args.csv is not None:
        write_new(args.csv, record_csv(found).encode(), force=args.force)
        written.append(args.csv)
    if args.json:
        print_json(record_plain(found))
    elif written:
        say(f"The record of {found.facts.piece.tag} is in {', '.join(map(str, written))}.")
    else:
        _tell(found, words)
    return 0


def _tell(found: Record, words: Words) -> None:
    for number, facts in enumerate(found.all):
        if number:
            say()
        title = f", {facts.piece.title}" if facts.piece.title else ""
        say(f"{facts.piece.tag}{title}: {facts.finish.title}, revision {facts.finish.revision}")
        if not facts.coats:
            say("No coat is logged.")
            continue
        table(
            ["coat", "when", "pot", "air: mean", "coldest", "dampest", "covered", "cure before"],
            _coats(facts, found, words),
        )
        for stage in facts.stages:
            entry = stage.entry
            what = getattr(entry, "kind", None) or getattr(entry, "finding", "")
            say(f"- {words.at(entry.at_ms, found.now_ms)}: {what}. {_age(stage.age)}")
        for start, stop in facts.gaps:
            ends = f"{words.at(start, found.now_ms)} to {words.at(stop, found.now_ms)}"
            say(f"- no readings from {ends}")
    say()
    say(f"Times are local: {found.zone}. The whole document: --html FILE or --pdf FILE.")


def _coats(facts: RecordFacts, found: Record, words: Words) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for coat in facts.coats:
        air = coat.air
        known = air.mean_temp_c is not None and air.coldest_c is not None
        rows.append(
            (
                str(coat.number),
                words.at(coat.coat.at_ms, found.now_ms),
                coat.coat.pot or "-",
                words.temp(air.mean_temp_c) if air.mean_temp_c is not None else "?",
                words.temp(air.coldest_c) if known and air.coldest_c is not None else "?",
                "?" if air.dampest_rh_frac is None else percent(air.dampest_rh_frac),
                f"{air.coverage_pct:.0f} %",
                "-" if coat.cure_h is None else span(coat.cure_h),
            )
        )
    return rows


def _age(age: History) -> str:
    if age.effective_h is None or age.standard_error_h is None:
        return f"How old the film was cannot be told: {age.why_no_age}."
    return f"The film was {age.effective_h:.0f} ± {age.standard_error_h:.0f} effective hours old."
