"""Why did it go white: `piece suspects` replays the record around a coat and lists suspects."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.cli.bench import bench
from curewatch.cli.entry import SAFETY
from curewatch.cli.figures import whole
from curewatch.cli.show import print_json, say
from curewatch.room_feed import RoomFeed
from curewatch.shop.haze import will_it_clear
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.standings_told import suspects_standings
from curewatch.shop.suspects import LEAD_MS, Suspects, suspects
from curewatch.shop.traces import Suspect, Weight
from curewatch.shop.words import span

if TYPE_CHECKING:
    import argparse

    from curewatch.cli.bench import Bench
    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import Plain, PlainValue

HOUR_MS = 3_600_000
SAID = {Weight.STRONG: "past its limit", Weight.SLIGHT: "may have a part"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add which coat."""
    parser.add_argument(
        "--coat", type=whole, metavar="N", help="which coat, counted from 1 (default: the last)"
    )


def run(args: argparse.Namespace) -> int:
    """List what may have turned a coat white."""
    with bench(args) as at:
        shop = at.shop([args.tag], rooms=[])
        (piece,) = shop.pieces.values()
        if piece.coats:
            rooms = {stay.room for stay in piece.stays} & set(shop.rooms)
            RoomFeed(at.store, shop).load(piece.coats[0].at_ms - LEAD_MS, sorted(rooms))
        found = suspects(shop, piece, args.coat, at.now_ms)
        finish = shop.finish_of(piece)
        if args.json:
            print_json(_plain(found, finish))
        else:
            _tell(found, finish, at)
    return 0


def _plain(found: Suspects, finish: Finish) -> Plain:
    return {
        "format": FORMAT,
        "piece": found.tag,
        "finish": finish.name,
        "coat": found.coat,
        "coat_at": instant(found.coat_at_ms),
        "from": instant(found.start_ms),
        "to": instant(found.stop_ms),
        "rooms": list(found.rooms),
        "coverage_pct": found.coverage_pct,
        "sentence": found.sentence,
        "next_action": found.next_action,
        "suspects": _rows(found.of(Weight.STRONG, Weight.SLIGHT)),
        "unknown": _rows(found.of(Weight.UNKNOWN)),
        "clean": _rows(found.of(Weight.CLEAN)),
        "not_seen": list(found.not_seen),
        "will_it_clear": _haze(finish),
        "safety": [SAFETY],
        "standing": suspects_standings(),
    }


def _haze(finish: Finish) -> Plain:
    haze = will_it_clear(finish)
    return {
        "verdict": str(haze.clears),
        "sentence": haze.sentence,
        "trial": haze.trial,
        "when": None,
        "not_told": haze.not_told,
        "standing": str(haze.standing),
    }


def _rows(found: tuple[Suspect, ...]) -> list[PlainValue]:
    return [
        {
            "suspect": one.name,
            "weight": str(one.weight),
            "reason": one.reason,
            "unit": one.unit,
            "value": one.value,
            "limit": one.limit,
        }
        for one in found
    ]


def _tell(found: Suspects, finish: Finish, at: Bench) -> None:
    words, now_ms = at.words, at.now_ms
    where = f" in {' and '.join(found.rooms)}" if found.rooms else " in no room anybody named"
    say(
        f"{found.tag}, coat {found.coat} of {finish.title}, laid "
        f"{words.at(found.coat_at_ms, now_ms)}{where}."
    )
    say(found.sentence)
    say()
    for place, one in enumerate(found.of(Weight.STRONG, Weight.SLIGHT), start=1):
        say(f"{place}. {one.name} ({SAID[one.weight]}): {one.reason}.", indent=2)
    for weight, head in (
        (Weight.UNKNOWN, "Cannot be told:"),
        (Weight.CLEAN, "Looks clean:"),
    ):
        rows = found.of(weight)
        if rows:
            say(head)
        for one in rows:
            say(f"- {one.name}: {one.reason}.", indent=2)
    say("No logger sees:")
    for unseen in found.not_seen:
        say(f"- {unseen}.", indent=2)
    say()
    hours = span((found.stop_ms - found.start_ms) / HOUR_MS)
    say(
        f"Looked at {hours} of record, {words.at(found.start_ms, now_ms)} to "
        f"{words.at(found.stop_ms, now_ms)}; readings cover {found.coverage_pct:.0f} % of it."
    )
    say(found.next_action)
    haze = will_it_clear(finish)
    say(f"Will it go away? {haze.sentence} {haze.not_told} {haze.trial}")
    say()
    say(SAFETY)
