"""`piece rejudge`: judge a piece by the newest profile of its finish, and say what that changes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.assembly import finish_text
from curewatch.cli.bench import bench
from curewatch.cli.show import print_json, say, table
from curewatch.finish_files import describe
from curewatch.shop.assessment import assess_piece
from curewatch.shop.plain import FORMAT, milestone_plain
from curewatch.shop.standings_told import rejudged_standings

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.finish_files import FigureRow
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.finish import Finish
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.plain import PlainValue
    from curewatch.shop.words import Words

USUAL_WHY = "to the newest profile on the shelf"


def run(args: argparse.Namespace) -> int:
    """Re-judge the piece; say what changed."""
    why = USUAL_WHY if args.why is None else args.why
    with bench(args) as at:
        piece = at.store.pieces.load(args.tag)
        text = finish_text(at.settings, piece.finish)
        before = _stand(at, piece.tag)
        with at.store.db.transaction():
            newest = at.store.finishes.keep(piece.finish, text, at.entered_ms)
            if newest != piece.finish_revision:
                at.store.pieces.rejudge(piece.tag, newest, why, at.entered_ms)
        after = _stand(at, piece.tag)
        changed = _changed(before.finish, after.finish)
        if args.json:
            print_json(_plain(before, after, changed))
        else:
            _say(before, after, changed, words=at.words, now_ms=at.now_ms)
    return 0


@dataclass(frozen=True, slots=True)
class Stand:
    """A piece as it stands under one revision of its finish."""

    now: PieceNow
    finish: Finish


def _stand(at: Bench, tag: str) -> Stand:
    shop = at.shop([tag])
    (piece,) = shop.pieces.values()
    return Stand(assess_piece(shop, piece, at.now_ms), shop.finish_of(piece))


def _changed(before: Finish, after: Finish) -> list[tuple[str, str, str]]:
    """Return what differs between two revisions: what, before, after."""
    old, new = ({row.key: row for row in describe(finish)} for finish in (before, after))
    rows = [
        (key, _figure(old.get(key)), _figure(new.get(key)))
        for key in dict.fromkeys([*old, *new])
        if old.get(key) != new.get(key)
    ]
    rows += [
        (name, "as it was", "reworded" if name != "tried" else str(after.tried))
        for name in ("title", "summary", "missed_window", "safety", "tried")
        if getattr(before, name) != getattr(after, name)
    ]
    return rows


def _figure(row: FigureRow | None) -> str:
    if row is None:
        return "not given"
    ends = "" if row.low is None or row.high is None else f" ({row.low:g} to {row.high:g})"
    return f"{row.value:g} {row.unit}".strip() + f"{ends}, {row.standing}"


def _plain(before: Stand, after: Stand, changed: list[tuple[str, str, str]]) -> PlainValue:
    return {
        "format": FORMAT,
        "piece": after.now.tag,
        "finish": after.finish.name,
        "from_revision": before.finish.revision,
        "to_revision": after.finish.revision,
        "changed": [{"what": what, "before": was, "after": now} for what, was, now in changed],
        "before": [milestone_plain(stone) for stone in before.now.milestones],
        "after": [milestone_plain(stone) for stone in after.now.milestones],
        "standing": rejudged_standings(before.now, after.now),
    }


def _say(
    before: Stand,
    after: Stand,
    changed: list[tuple[str, str, str]],
    *,
    words: Words,
    now_ms: int,
) -> None:
    tag, revision = after.now.tag, after.finish.revision
    if before.finish.revision == revision:
        say(f"{tag} is judged by the newest profile already: revision {revision}.")
        return
    say(f"{tag}: re-judged under revision {revision}, before that {before.finish.revision}.")
    table([after.finish.name, "before", "now"], changed)
    rows = []
    for old, new in zip(before.now.milestones, after.now.milestones, strict=True):
        said = [_sure(stone, words, now_ms) for stone in (old, new)]
        if said[0] != said[1] or old.required_hours != new.required_hours:
            rows.append((str(new.name), *said))
    if rows:
        table(["milestone, to be sure", "before", "now"], rows)
    else:
        say("No milestone of this piece changes by it.")
    say(f"{after.now.sentence} {after.now.next_action}")


def _sure(stone: Milestone, words: Words, now_ms: int) -> str:
    if stone.cautious_at is not None:
        return words.at(stone.cautious_at, now_ms)
    eta_ms = stone.eta_cautious_at
    return "-" if eta_ms is None else f"expected {words.ahead(eta_ms, now_ms)}"
