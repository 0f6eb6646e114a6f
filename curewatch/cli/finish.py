"""Finish profiles: which there are, every number of one with where it comes from, a new one."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from curewatch.assembly import finish_now, finish_text, shelf
from curewatch.cli.bench import bench
from curewatch.cli.entry import SAFETY, Forms
from curewatch.cli.figures import whole
from curewatch.cli.finish_fit import panel_arguments
from curewatch.cli.finish_points import points_arguments
from curewatch.cli.show import print_json, say, table
from curewatch.cli.why import add_why, print_why
from curewatch.errors import BadInput
from curewatch.finish_files import (
    describe,
    load_text,
    resolved_text,
    template,
)
from curewatch.finish_plain import finish_plain, pace_of, shelf_plain, shelf_rows
from curewatch.settings import load_settings
from curewatch.shop.pace import pace_now, pace_plain, pace_sentence
from curewatch.shop.plain import FORMAT

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from curewatch.finish_files import FigureRow
    from curewatch.science.learning import Pace
    from curewatch.shop.finish import Finish


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the forms."""
    forms = Forms(parser)
    forms.add("list", _list, "the profiles that come with curewatch, and the shop's own")
    show = forms.add("show", _show, "every number of a profile, with its standing and source")
    show.add_argument("name", metavar="NAME")
    add_why(show)
    show.add_argument(
        "--revision", type=whole, metavar="N", help="as kept for pieces sprayed under it"
    )
    new = forms.add("new", _new, "begin a profile of the shop's own from another one")
    new.add_argument("name", metavar="NAME")
    new.add_argument("--extends", required=True, metavar="BASE", help="the family it belongs to")
    new.add_argument(
        "--write", action="store_true", help="write it where the shop's profiles lie, not print it"
    )
    panel_arguments(forms)
    points_arguments(forms)


def run(args: argparse.Namespace) -> int:
    """Carry out the form."""
    status: int = args.do(args)
    return status


def _list(args: argparse.Namespace) -> int:
    settings = load_settings(args.config)
    if args.json:
        print_json(shelf_plain(settings))
        return 0
    table(
        ["finish", "what it is", "tried whole", "from"],
        [
            (
                name,
                f"cannot be used: {faults}" if finish is None else finish.title,
                "-" if finish is None else ("yes" if finish.tried else "no"),
                "the shop" if own else "curewatch",
            )
            for name, finish, own, faults in shelf_rows(settings)
        ],
    )
    say(
        "All that come with curewatch are generic families; your product's data sheet knows better."
    )
    return 0


def _show(args: argparse.Namespace) -> int:
    finish = _finish(args)
    rows, ours = describe(finish), _pace(args, finish)
    if args.json:
        print_json(finish_plain(finish, pace=ours, revision=args.revision))
        return 0
    revision = "" if args.revision is None else f", revision {args.revision}"
    say(f"{finish.name}{revision}: {finish.title}.")
    say(
        "Tried whole."
        if finish.tried
        else "Nobody has tried this profile whole: put your data sheet's figures in its place."
    )
    say()
    say(finish.summary)
    say()
    say(f"Its drying follows: {finish.drying.law} {finish.drying.solvent}".rstrip() + ".")
    if finish.cure is not None:
        say(pace_sentence(ours))
    say()
    for row in rows:
        say(f"{row.key}: {_figure(row)} - {row.standing}")
        if row.source:
            say(row.source, indent=4)
    say()
    say("When the recoat window was missed:")
    say(finish.missed_window, indent=2)
    say()
    say("Before you spray:")
    for sentence in dict.fromkeys([SAFETY, *finish.safety]):
        say(f"- {sentence}", indent=2)
    if args.why:
        print_why({"pace": pace_plain(ours)})
    return 0


def _finish(args: argparse.Namespace) -> Finish:
    if args.revision is None:
        text = finish_text(load_settings(args.config), args.name)
        return load_text(text, source=args.name)
    with bench(args) as at:
        text = at.store.finishes.text(args.name, args.revision)
    source = f"{args.name} revision {args.revision}"
    return load_text(text, source=source, revision=args.revision)


def _pace(args: argparse.Namespace, finish: Finish) -> Pace:
    """Return what outcomes say of the finish's pace; its prior where the shop keeps nothing yet."""
    settings = load_settings(args.config)
    if not settings.storage.path.exists():
        return pace_now(finish, None)
    with bench(args) as at:
        if args.revision is None:
            finish = finish_now(at.settings, at.store, args.name)
        return pace_of(at.settings, at.store, finish)


def _figure(row: FigureRow) -> str:
    ends = "" if row.low is None or row.high is None else f" ({row.low:g} to {row.high:g})"
    return f"{row.value:g} {row.unit}".rstrip() + ends


def _new(args: argparse.Namespace) -> int:
    settings = load_settings(args.config)
    own = shelf(settings)
    text = template(args.name, args.extends, shelf=own)
    resolved_text(text, source=args.name, shelf=own)  # what is handed out can be used as it is
    path = _written(settings.finishes.directory, args.name, text) if args.write else None
    if args.json:
        told = None if path is None else str(path)
        print_json({"format": FORMAT, "finish": args.name, "path": told, "text": text})
    elif path is None:
        sys.stdout.write(text)
    else:
        say(f"Written to {path}: open it, and set what your data sheet gives.")
        say(f"Then look it over: curewatch finish show {args.name}")
    return 0


def _written(directory: Path | None, name: str, text: str) -> Path:
    if directory is None:
        raise BadInput(
            "the configuration names no place for the shop's own profiles: set [finishes] "
            "directory, or leave --write out and put the printed text into a file"
        )
    path = directory / f"{name}.toml"
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise BadInput(f"{path} is there already and was left alone: choose another name") from None
    except OSError as error:
        raise BadInput(
            f"{path} cannot be written: {error.strerror}; see that this user may write there"
        ) from error
    return path
