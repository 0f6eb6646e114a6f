"""Labels with a QR mark for hangers and cases, and words for rack hooks, on common label grids.

The mark opens the piece's page on a telephone, a rack hook's the pieces on the hooks; the address
comes from [page] names or host, or from --address. Sheets are called by their geometry; print one
on plain paper first, at full size.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.figures import whole
from curewatch.cli.files import write_new
from curewatch.cli.show import print_json, say
from curewatch.errors import BadInput
from curewatch.records.labels import ADVICE, GRIDS, grid_named, hook_label, piece_label, sheets
from curewatch.records.pdf import MISSING, can_make_pdf, pdf_bytes
from curewatch.shop.plain import FORMAT
from curewatch.web.papers import labels_html, only_here, page_base

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.records.labels import Grid, Label


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what is printed, and on what."""
    parser.add_argument("tags", nargs="*", metavar="TAG", help="pieces")
    parser.add_argument("--all", action="store_true", help="every piece that hangs")
    parser.add_argument(
        "--hook", action="append", default=[], metavar="TEXT", help="words for a rack hook"
    )
    parser.add_argument(
        "--grid", default="a4-3x7", metavar="NAME", help=f"{', '.join(GRIDS)} (a4-3x7)"
    )
    parser.add_argument(
        "--skip", type=whole, default=0, metavar="N", help="labels of the first sheet already used"
    )
    parser.add_argument("--address", metavar="URL", help="where the page is, http://...")
    parser.add_argument("--svg", type=Path, metavar="FILE", help="write sheets as SVG")
    parser.add_argument("--pdf", type=Path, metavar="FILE", help="write sheets as PDF")
    parser.add_argument("--force", action="store_true", help="write over files that are there")


def run(args: argparse.Namespace) -> int:
    """Draw the sheets and write them."""
    if args.svg is None and args.pdf is None:
        raise BadInput("say where the sheets go: --svg FILE or --pdf FILE")
    if args.pdf is not None and not can_make_pdf():
        raise BadInput(MISSING)
    if args.all and args.tags:
        raise BadInput("name tags, or give --all: one of the two")
    if args.address is not None and not args.address.startswith(("http://", "https://")):
        raise BadInput(f"--address {args.address}: write it whole, such as http://bench.local:8480")
    grid = grid_named(args.grid)
    with bench(args) as at:
        base = args.address or page_base(at.settings)
        here_alone = args.address is None and only_here(at.settings)
        labels = [*_pieces(args, at, base), *(hook_label(words, base) for words in args.hook)]
    drawn = sheets(labels, grid, skip=args.skip)
    written = _write(args, drawn, grid)
    if args.json:
        plain = {"labels": len(labels), "sheets": len(drawn), "grid": grid.name, "address": base}
        print_json({"format": FORMAT, **plain, "files": [str(path) for path in written]})
        return 0
    count = "one label" if len(labels) == 1 else f"{len(labels)} labels"
    say(f"{count}, {grid.words}: {', '.join(map(str, written))}.")
    say(f"The marks lead to {base}")
    if here_alone:
        say(
            "The page listens on this computer alone: the marks lead nowhere on a telephone until "
            "[page] host opens it, or --address says where it will be."
        )
    say("Print at full size, on plain paper first, and hold it against the labels.")
    for line in ADVICE:
        say(line)
    return 0


def _pieces(args: argparse.Namespace, at: Bench, base: str) -> list[Label]:
    if args.all:
        pieces = [p for p in at.store.pieces.load_all() if p.left_ms is None]
    else:
        pieces = [at.store.pieces.load(tag) for tag in args.tags]
    return [piece_label(piece.tag, piece.title, base) for piece in pieces]


def _write(args: argparse.Namespace, drawn: tuple[str, ...], grid: Grid) -> list[Path]:
    """Write the files; several sheets of SVG are numbered."""
    written: list[Path] = []
    if args.svg is not None:
        for number, sheet in enumerate(drawn, start=1):
            path = args.svg
            if len(drawn) > 1:
                path = path.with_name(f"{path.stem}-{number}{path.suffix}")
            write_new(path, sheet.encode(), force=args.force)
            written.append(path)
    if args.pdf is not None:
        write_new(args.pdf, pdf_bytes(labels_html(drawn, grid.page)), force=args.force)
        written.append(args.pdf)
    return written
