"""What would have been said over a logger's file: clocks, milestones, gaps and alerts.

Times without an offset are read in --zone (the file's and the coats' alike).
"""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.assembly import finish_now
from curewatch.cli.figures import number
from curewatch.cli.show import print_json, say, table
from curewatch.cli.standing import milestone_row, say_sink_back
from curewatch.errors import BadInput
from curewatch.intake import read_log
from curewatch.replay import Job, Replay, hindcasts, replay, with_clock_law
from curewatch.science.evaporation import AIR_SPEED_M_S
from curewatch.science.outlook_past import ORIGIN_EVERY_H
from curewatch.settings import Settings, load_settings
from curewatch.shop.piece import Coat
from curewatch.shop.words import Words, counted, span
from curewatch.times import instant_ms, zone_of

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence
    from datetime import tzinfo

    from curewatch.science.outlook import Hindcast

KNOWN = ((10.0, "known well"), (25.0, "fairly known"), (float("inf"), "hardly known"))
"""Error of the hours foreseen [%] up to which a room is so (our own scale)."""
GAIN = 0.95  # an error this share of the simple rules' is a gain worth the word
FEW_WINDOWS = 10


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the record, the finish and its coats."""
    parser.add_argument("file", type=Path, metavar="FILE.csv", help="the logger's file")
    parser.add_argument("--time", required=True, metavar="COL", help="column of the time")
    parser.add_argument("--temp", required=True, metavar="COL", help="column of the temperature")
    parser.add_argument("--rh", required=True, metavar="COL", help="column of relative humidity")
    parser.add_argument("--surface", metavar="COL", help="column of the piece's temperature")
    parser.add_argument("--temp-unit", default="C", choices=["C", "F", "K"])
    parser.add_argument("--rh-unit", default="auto", choices=["auto", "percent", "fraction"])
    parser.add_argument("--zone", help="IANA zone of times without an offset (default UTC)")
    parser.add_argument("--finish", required=True, metavar="NAME")
    parser.add_argument(
        "--coat",
        action="append",
        default=[],
        metavar="TIME[@WET_UM]",
        help="when a coat was laid, and its wet film [um]; once for each coat",
    )
    parser.add_argument("--longest-gap-min", type=number, metavar="N", help="silence still bridged")
    parser.add_argument("--until", metavar="TIME", help="judge at this moment (default: the end)")
    parser.add_argument("--air", default="still", choices=list(AIR_SPEED_M_S))
    parser.add_argument(
        "--hindcast",
        metavar="HOURS,...",
        help="how well outlooks over so many hours would have served, e.g. 24,72",
    )
    parser.add_argument(
        "--clock-law",
        metavar="KEY=VALUE,...",
        help="another cure law, e.g. ea_kj_mol=55,humidity_exponent=0.3,reference_temp_c=21,"
        "reference_rh_pct=50; lifts the profile's temperature limits",
    )


def run(args: argparse.Namespace) -> int:
    """Replay the record and print what was found."""
    if args.longest_gap_min is not None and not args.longest_gap_min > 0.0:
        raise BadInput(f"--longest-gap-min {args.longest_gap_min:g}: give a number above nought")
    zone = zone_of(args.zone)
    settings = load_settings(args.config) if args.config is not None else Settings()
    finish = finish_now(settings, None, args.finish)
    if args.clock_law is not None:
        finish = with_clock_law(finish, args.clock_law)
    log = read_log(
        args.file,
        time=args.time,
        temp=args.temp,
        rh=args.rh,
        surface=args.surface,
        zone=args.zone,
        temp_unit=args.temp_unit,
        rh_unit=args.rh_unit,
    )
    end_ms = int(log.times_ms[-1])
    coats = sorted((coat_of(text, zone, end_ms) for text in args.coat), key=lambda c: c.at_ms)
    job = Job(
        log=log,
        finish=finish,
        coats=tuple(coats),
        air=args.air,
        longest_gap_s=None if args.longest_gap_min is None else args.longest_gap_min * 60.0,
        until_ms=None if args.until is None else instant_ms(args.until, zone=zone, now_ms=end_ms),
        words=Words(zone=zone),
    )
    hindcast = None if args.hindcast is None else hindcasts(job, horizons_of(args.hindcast))
    found = replay(job)
    if args.json:
        answer = found.plain()
        if hindcast is not None:
            answer["hindcast"] = [asdict(row) for row in hindcast]
        print_json(answer)
    else:
        _tell(found)
        _tell_hindcast(hindcast or ())
    return 0


def horizons_of(text: str) -> tuple[int, ...]:
    """Return the horizons [h] of '24,72'."""
    try:
        return tuple(int(part) for part in text.split(","))
    except ValueError:
        raise BadInput(f"--hindcast {text!r}: give whole hours, such as 24,72") from None


def _tell_hindcast(rows: Sequence[Hindcast]) -> None:
    if not rows:
        return
    say()
    say(
        "How well the outlook would have known this room (errors of effective hours; the band "
        "should hold four times in five):"
    )
    shown = [
        (f"{row.horizon_h} h", str(row.n), *(_pct(value) for value in _figures(row)))
        for row in rows
    ]
    table(["ahead", "outlooks", "band held", "error", "as now", "as last 24 h"], shown)
    for row in rows:
        say(known_sentence(row))


def known_sentence(row: Hindcast) -> str:
    """Say in a sentence how well a room is known so far ahead."""
    held, error, *simple = _figures(row)
    ahead = f"{row.horizon_h} h ahead"
    if held is None or error is None or None in simple:
        return f"{ahead}: the record is too short to say how well this room is known."
    how = next(word for most, word in KNOWN if error <= most)
    best = min(one for one in simple if one is not None)
    beside = "no better than" if error > GAIN * best else "better than"
    windows = max(row.n * ORIGIN_EVERY_H // row.horizon_h, 1)
    few = (
        ""
        if windows >= FEW_WINDOWS
        else f" Only {counted(windows, 'window')} apart: that is little."
    )
    return (
        f"{ahead} this room is {how}: the hours come out within about {error:.0f} % of those "
        f"foreseen, {beside} supposing that it goes on as it is ({best:.0f} %); early and late "
        f"held {held:.0f} times in 100.{few}"
    )


def _figures(row: Hindcast) -> tuple[float | None, ...]:
    return row.coverage_80_pct, row.rmse_pct, row.rmse_as_now_pct, row.rmse_mean_24h_pct


def _pct(value: float | None) -> str:
    return "too short" if value is None else f"{value:.0f} %"


def coat_of(text: str, zone: tzinfo, now_ms: int) -> Coat:
    """Return the coat that 'TIME' or 'TIME@WET_UM' describes."""
    when, at, wet = text.rpartition("@") if "@" in text else (text, "", "")
    try:
        wet_um = float(wet) if at else None
    except ValueError:
        raise BadInput(f"--coat {text!r}: {wet!r} is not a wet film in um") from None
    return Coat(instant_ms(when, zone=zone, now_ms=now_ms), wet_um=wet_um)


def _tell(found: Replay) -> None:
    piece, words, now_ms = found.piece, found.job.words, found.until_ms
    log = found.job.log
    say(
        f"{found.job.finish.title}, {counted(piece.coats, 'coat')}; {log.times_ms.size} rows, "
        f"{len(log.skipped)} skipped, {len(found.rejected)} readings refused. "
        f"Judged {words.at(now_ms, now_ms)}, {words.local(now_ms):%d %b %Y}."
    )
    say()
    say(piece.sentence)
    say(piece.next_action)
    say()
    clocks = [
        (
            str(name),
            f"{clock.effective_hours:.1f} h",
            f"± {clock.standard_error:.1f} h",
            span(clock.covered_h),
        )
        for name, clock in piece.clocks.items()
    ]
    table(["clock", "since last coat", "standard error", "covered"], clocks)
    table(
        ["milestone", "clock", "asks", "earliest", "reached", "to be sure"],
        [milestone_row(stone, words, now_ms) for stone in piece.milestones],
    )
    say_sink_back(piece, words, now_ms)
    say()
    if piece.gaps:
        say("Without credit:")
        for start, stop in piece.gaps:
            say(f"{words.at(start, now_ms)} to {words.at(stop, now_ms)}", indent=2)
        say(f"Readings cover {piece.coverage_pct or 0.0:.1f} % of the time since the last coat.")
        say()
    if found.alerts:
        say("Said on the way:")
        for alert in found.alerts:
            when = words.at(alert.raised_ms or now_ms, now_ms)
            say(f"{when}  {alert.reason} {alert.next_action}", indent=2)
