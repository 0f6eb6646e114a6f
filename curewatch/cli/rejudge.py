"""`piece rejudge`: judge a piece by the newest profile of its finish, and say what that changes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.show import print_json, say, table
from curewatch.entries.rejudging import USUAL_WHY, changed, rejudge
from curewatch.shop.assessment import assess_piece
from curewatch.shop.plain import FORMAT, milestone_plain
from curewatch.shop.standings_told import rejudged_standings

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.entries.rejudging import Change
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.finish import Finish
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.plain import PlainValue
    from curewatch.shop.words import Words


def run(args: argparse.Namespace) -> int:
    """Re-judge the piece; say what changed."""
    why = USUAL_WHY if args.why is None else args.why
    with bench(args) as at:
        before = _stand(at, args.tag)
        rejudge(at, args.tag, why)
        after = _stand(at, args.tag)
        rows = changed(before.finish, after.finish)
        if args.json:
            print_json(_plain(before, after, rows))
        else:
            _say(before, after, rows, words=at.words, now_ms=at.now_ms)
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


def _plain(before: Stand, after: Stand, rows: list[Change]) -> PlainValue:
    return {
        "format": FORMAT,
        "piece": after.now.tag,
        "finish": after.finish.name,
        "from_revision": before.finish.revision,
        "to_revision": after.finish.revision,
        "changed": [{"what": what, "before": was, "after": now} for what, was, now in rows],
        "before": [milestone_plain(stone) for stone in before.now.milestones],
        "after": [milestone_plain(stone) for stone in after.now.milestones],
        "standing": rejudged_standings(before.now, after.now),
    }


def _say(
    before: Stand,
    after: Stand,
    rows: list[Change],
    *,
    words: Words,
    now_ms: int,
) -> None:
    tag, revision = after.now.tag, after.finish.revision
    if before.finish.revision == revision:
        say(f"{tag} is judged by the newest profile already: revision {revision}.")
        return
    say(f"{tag}: re-judged under revision {revision}, before that {before.finish.revision}.")
    table([after.finish.name, "before", "now"], rows)
    stones = []
    for old, new in zip(before.now.milestones, after.now.milestones, strict=True):
        said = [_sure(stone, words, now_ms) for stone in (old, new)]
        if said[0] != said[1] or old.required_hours != new.required_hours:
            stones.append((str(new.name), *said))
    if stones:
        table(["milestone, to be sure", "before", "now"], stones)
    else:
        say("No milestone of this piece changes by it.")
    say(f"{after.now.sentence} {after.now.next_action}")


def _sure(stone: Milestone, words: Words, now_ms: int) -> str:
    if stone.cautious_at is not None:
        return words.at(stone.cautious_at, now_ms)
    eta_ms = stone.eta_cautious_at
    return "-" if eta_ms is None else f"expected {words.ahead(eta_ms, now_ms)}"
