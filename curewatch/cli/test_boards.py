"""Test boards: compare finishes honestly, on boards judged at equal effective age.

A trial asks a question of boards that hang like any piece. The shop sets a scale of its own, or
measures: gloss units, pencil hardness, rubs. No winner is declared.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.boards import compared, read_score
from curewatch.cli.bench import bench
from curewatch.cli.entry import Forms, at_argument, past_ms
from curewatch.cli.figures import number
from curewatch.cli.show import print_json, say
from curewatch.cli.test_boards_tell import tell_sheet, tell_trial
from curewatch.errors import BadInput
from curewatch.shop.plain import FORMAT
from curewatch.shop.plain_trial import (
    comparison_plain,
    scale_plain,
    score_plain,
    sheet_plain,
    trial_plain,
)
from curewatch.shop.trial import Quality, Scale
from curewatch.shop.trial_comparison import EQUAL_AGE_SHARE
from curewatch.shop.trial_sheets import BOARDS, SAFETY, SHEETS

if TYPE_CHECKING:
    import argparse

    from curewatch.shop.plain import Plain

QUALITIES = [str(quality) for quality in Quality]
UNITS = {"GU": Quality.GLOSS, "pencil": Quality.HARDNESS, "rubs": Quality.RUBS}
LEAST_SHARE_PCT, MOST_SHARE_PCT = 1.0, 100.0


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the forms."""
    forms = Forms(parser)
    start = forms.add("start", _start, "begin a trial with its question")
    start.add_argument("name", metavar="NAME", help="what the trial is called")
    start.add_argument("--question", required=True, metavar="TEXT", help="what it is to answer")
    add = forms.add("add", _add, "add boards: pieces that hang already")
    add.add_argument("name", metavar="NAME", help="the trial")
    add.add_argument("tags", nargs="+", metavar="TAG", help="the boards")
    scale = forms.add("scale", _scale, "set the shop's own scale for a quality")
    scale.add_argument("name", metavar="NAME", help="the trial")
    scale.add_argument("quality", choices=QUALITIES, metavar="QUALITY", help=", ".join(QUALITIES))
    scale.add_argument("--worst", type=number, required=True, metavar="N", help="its worst end")
    scale.add_argument("--best", type=number, required=True, metavar="N", help="its best end")
    scale.add_argument("--words", required=True, metavar="TEXT", help="what the figures mean")
    _score_arguments(forms)
    void = forms.add("void", _void, "void a score by its number")
    void.add_argument("number", metavar="NUMBER", help="the score's number")
    void.add_argument("--why", required=True, metavar="TEXT", help="what was wrong with it")
    shown = forms.add("show", _show, "compare a trial's boards")
    shown.add_argument("name", metavar="NAME", help="the trial")
    shown.add_argument(
        "--equal-age-pct",
        type=number,
        default=EQUAL_AGE_SHARE * 100.0,
        metavar="N",
        help=f"ages that differ by less count as equal (default {EQUAL_AGE_SHARE * 100.0:.0f})",
    )
    forms.add("list", _list, "the trials there are")
    sheet = forms.add("sheet", _sheet, "how a trial is done at the bench")
    sheet.add_argument(
        "quality", nargs="?", choices=QUALITIES, metavar="QUALITY", help=", ".join(QUALITIES)
    )


def _score_arguments(forms: Forms) -> None:
    score = forms.add("score", _score, "enter what was found on a board")
    score.add_argument("tag", metavar="TAG", help="the board")
    score.add_argument("quality", choices=QUALITIES, metavar="QUALITY", help=", ".join(QUALITIES))
    score.add_argument("value", metavar="VALUE", help="a figure, or a pencil such as 2H")
    score.add_argument("--unit", choices=list(UNITS), help="measured in; else the shop's scale")
    score.add_argument("--angle", type=number, metavar="DEG", help="of a gloss meter: 20, 60, 85")
    score.add_argument("--how", default="", metavar="TEXT", help="how the trial was done")
    score.add_argument("--who", default="", metavar="NAME", help="who judged")
    at_argument(score)


def run(args: argparse.Namespace) -> int:
    """Carry the form out."""
    do = args.do
    return int(do(args))


def _start(args: argparse.Namespace) -> int:
    with bench(args) as at:
        at.store.trials.start(args.name, args.question, at.entered_ms)
        trial = at.store.trials.load(args.name)
    if args.json:
        print_json({"format": FORMAT, **trial_plain(trial)})
        return 0
    say(f"Trial {trial.name} is begun: {trial.question}")
    say(f"Next: curewatch test-boards add {trial.name} TAG TAG ...")
    return 0


def _add(args: argparse.Namespace) -> int:
    with bench(args) as at:
        at.store.trials.add(args.name, args.tags, at.entered_ms)
        trial = at.store.trials.load(args.name)
    if args.json:
        print_json({"format": FORMAT, **trial_plain(trial)})
        return 0
    say(f"{trial.name} has {_count(len(trial.boards), 'board')}: {', '.join(trial.boards)}.")
    return 0


def _scale(args: argparse.Namespace) -> int:
    scale = Scale(args.worst, args.best, args.words)
    with bench(args) as at:
        at.store.trials.set_scale(args.name, Quality(args.quality), scale)
    if args.json:
        plain = scale_plain(scale)
        print_json({"format": FORMAT, "trial": args.name, "quality": args.quality, **plain})
        return 0
    say(
        f"{args.quality} in {args.name} goes from {scale.worst:g} (worst) to {scale.best:g} "
        f"(best): {scale.words}"
    )
    return 0


def _score(args: argparse.Namespace) -> int:
    with bench(args) as at:
        score = read_score(
            Quality(args.quality),
            args.value,
            unit=args.unit,
            angle_deg=args.angle,
            at_ms=past_ms(at, args.at),
            how=args.how,
            who=args.who,
        )
        number = at.store.trials.score(args.tag, score, at.entered_ms)
        (kept,) = (one for one in at.store.trials.scores(args.tag) if one.id == number)
        words, now_ms = at.words, at.now_ms
    if args.json:
        print_json({"format": FORMAT, **score_plain(args.tag, kept)})
        return 0
    who = f" by {kept.who}" if kept.who else ""
    say(
        f"{args.tag}: {kept.measure.words} {kept.measure.value_words(kept.value)}{who}, "
        f"{words.at(kept.at_ms, now_ms)} (entry {number})."
    )
    return 0


def _void(args: argparse.Namespace) -> int:
    shown = args.number.removeprefix("#")
    if not shown.isdecimal():
        raise BadInput(f"'{args.number}' is not the number of a score: 'test-boards show' has them")
    with bench(args) as at:
        at.store.trials.void_score(int(shown), args.why, at.entered_ms)
    if args.json:
        voided = {"what": "score", "id": int(shown), "why": args.why}
        print_json({"format": FORMAT, "voided": {**voided}})
        return 0
    say(f"Score {shown} no longer counts: {args.why}")
    say("It stays in the record with the reason.")
    return 0


def _show(args: argparse.Namespace) -> int:
    if not LEAST_SHARE_PCT <= args.equal_age_pct <= MOST_SHARE_PCT:
        raise BadInput(f"--equal-age-pct {args.equal_age_pct:g} cannot be: give 1 to 100")
    with bench(args) as at:
        trial = at.store.trials.load(args.name)
        found, finishes = compared(at, trial, args.equal_age_pct / 100.0)
        words, now_ms = at.words, at.now_ms
    if args.json:
        comparisons = [comparison_plain(one, finishes) for one in found]
        share = args.equal_age_pct
        print_json(
            {
                "format": FORMAT,
                **trial_plain(trial),
                "equal_age_pct": share,
                "finishes": {**finishes},
                "comparisons": [*comparisons],
            }
        )
        return 0
    tell_trial(trial, found, finishes, words=words, now_ms=now_ms)
    return 0


def _list(args: argparse.Namespace) -> int:
    with bench(args) as at:
        trials = at.store.trials.all()
    if args.json:
        print_json({"format": FORMAT, "trials": [trial_plain(trial) for trial in trials]})
        return 0
    if not trials:
        say("No trial is begun: curewatch test-boards start NAME --question TEXT")
    for trial in trials:
        say(f"{trial.name}: {trial.question} ({_count(len(trial.boards), 'board')})")
    return 0


def _sheet(args: argparse.Namespace) -> int:
    chosen = [Quality(args.quality)] if args.quality else list(Quality)
    if args.json:
        sheets: Plain = {str(quality): sheet_plain(SHEETS[quality]) for quality in chosen}
        print_json({"format": FORMAT, "boards": [*BOARDS], "sheets": sheets, "safety": [*SAFETY]})
        return 0
    tell_sheet(chosen)
    return 0


def _count(many: int, what: str) -> str:
    return f"one {what}" if many == 1 else f"{many} {what}s"
