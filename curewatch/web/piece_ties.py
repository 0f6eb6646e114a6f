"""Setting a piece aside and releasing it, joining it and taking it apart, re-judging it."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from curewatch.entries.holds import hold, release, touched
from curewatch.entries.joining import join, unjoin
from curewatch.entries.rejudging import USUAL_WHY, rejudge
from curewatch.errors import BadInput
from curewatch.shop.quarantine import SAID, Quarantine
from curewatch.shop.words import listed
from curewatch.web.entering import Done
from curewatch.web.piece_entry import count_of, stop_at_faults, when_ms
from curewatch.web.speech import say

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.opened import Opened
    from curewatch.shop.quarantine import What
    from curewatch.web.piece_entry import Entry


def _hold(entry: Entry, at: Opened) -> Done:
    what, _, target = (entry.typed.text("target") or f"piece {entry.only}").partition(" ")
    return hold_it(entry, at, what, target)


def hold_it(entry: Entry, at: Opened, what: str, target: str) -> Done:
    """Set a lot, a pot or a piece aside, for the reason that was typed."""
    at_ms, why = when_ms(entry, at), entry.typed.needed("why")
    stop_at_faults(entry.typed)
    if what not in SAID:
        raise BadInput(say("ties.no_such_hold"))
    asked = Quarantine(cast("What", what), target, why, at_ms, entry.by)
    found, number = hold(at, asked)
    tags = touched(at, found)
    said = say(
        "ties.held_said",
        what=say(f"ties.{found.what}"),
        target=found.target,
        why=found.why,
        touches=say("ties.touches", tags=listed(tags)) if tags else say("ties.touches_none"),
    )
    return Done(said, (("hold", number),))


def release_it(entry: Entry, at: Opened) -> Done:
    """Lift a hold, for what was found."""
    number, why = count_of(entry.typed, "number"), entry.typed.needed("why")
    stop_at_faults(entry.typed)
    lifted = release(at, number or 0, why, who=entry.by)
    said = say("ties.released_said", what=say(f"ties.{lifted.what}"), target=lifted.target, why=why)
    return Done(said, (("release", lifted.id),))


def _join(entry: Entry, at: Opened) -> Done:
    at_ms, onto = when_ms(entry, at), entry.typed.needed("onto")
    stop_at_faults(entry.typed)
    done = join(at, entry.only, onto, at_ms, note=entry.typed.text("note") or "")
    said = say("ties.joined_said", part=done.part, onto=done.onto, at=at.words.at(at_ms, at.now_ms))
    if done.elsewhere:
        said += f" {say('ties.elsewhere', part=done.part, room=done.elsewhere)}"
    return Done(said, (("joining", done.number),))


def _unjoin(entry: Entry, at: Opened) -> Done:
    why = entry.typed.needed("why")
    stop_at_faults(entry.typed)
    undone = unjoin(at, entry.only, why)
    said = say("ties.unjoined_said", part=undone.part, onto=undone.onto, why=why)
    return Done(said, (("unjoin", undone.id),))


def _rejudge(entry: Entry, at: Opened) -> Done:
    done = rejudge(at, entry.only, entry.typed.text("why") or USUAL_WHY)
    if not done.number:
        return Done(say("ties.newest_already", tag=done.tag, revision=done.after.revision))
    said = say(
        "ties.rejudged_said",
        tag=done.tag,
        revision=done.after.revision,
        before=done.before.revision,
    )
    return Done(said, (("rejudge", done.number),))


TIES: dict[str, Callable[[Entry, Opened], Done]] = {
    "hold": _hold,
    "release": release_it,
    "join": _join,
    "unjoin": _unjoin,
    "rejudge": _rejudge,
}
