"""What people did that a clock would have advised against: coats and work before their time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from curewatch.shop.alert import AlertKind
from curewatch.shop.batch import pot_age_h
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.finish import MilestoneName
from curewatch.shop.gone import quiet_s
from curewatch.shop.milestones import DAY_MS, PieceClocks
from curewatch.shop.piece import WorkKind
from curewatch.shop.sink import sink_back
from curewatch.shop.window import WindowState, recoat_window
from curewatch.shop.words import counted, span

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Coat, Piece, Work
    from curewatch.shop.shop import Shop

MILESTONE_OF_WORK = {
    WorkKind.DRY_SAND: MilestoneName.DRY_SAND,
    WorkKind.WET_SAND: MilestoneName.WET_SAND,
    WorkKind.LEVEL: MilestoneName.WET_SAND,
    WorkKind.BUFF: MilestoneName.BUFF,
}
DEED_SPEAKS_MS = 7 * DAY_MS  # a deed out of time is told for a week, or until someone has seen it
COAT_FAULTS = {
    WindowState.TOO_EARLY: (
        AlertKind.COAT_EARLY,
        "A coat laid before the last one dried can trap haze.",
        "Give this coat longer than usual, and look for haze against a dark ground.",
    ),
    WindowState.IN_MIDDLE: (
        AlertKind.COAT_IN_MIDDLE,
        "A coat laid inside the forbidden middle can wrinkle.",
        "Look for wrinkles now; if there are any, let it harden whole before sanding back.",
    ),
    WindowState.MISSED: (
        AlertKind.COAT_LATE,
        "A coat laid after the window closed, without a scuff, may not bond.",
        "Test the bond on a panel treated the same way before going on.",
    ),
}


@dataclass(frozen=True, slots=True)
class Deed:
    """A coat or work that came before or after its time.

    Attributes
    ----------
    kind: which alert it deserves.
    mark: tells it from the piece's other deeds.
    at_ms: when it was done [ms].
    reason: what was found, with its numbers.
    next_action: what to do now.
    """

    kind: AlertKind
    mark: str
    at_ms: int
    reason: str
    next_action: str


def deeds(piece: Piece, shop: Shop, now_ms: int) -> tuple[Deed, ...]:
    """Return a piece's coats and work up to `now_ms` that the clocks advised against."""
    finish = shop.finish_of(piece)
    rooms = tuple(shop.room(stay.room) for stay in piece.stays)
    facts = (piece, finish, rooms, shop.learnt_of(finish))
    recall = shop.book.deeds.of(piece.tag, facts)
    found: list[Deed] = []
    for number, coat in enumerate(piece.coats_until(now_ms)):
        laid = partial(_coat_deeds, piece, finish, shop, coat)
        found += recall.get(f"coat-{number}", coat.at_ms, laid)
    for number, work in enumerate(piece.work):
        if work.at_ms <= now_ms:
            done = partial(_work_deeds, piece, shop, work)
            found += recall.get(f"work-{number}", work.at_ms, done)
    return tuple(found)


def _coat_deeds(piece: Piece, finish: Finish, shop: Shop, coat: Coat) -> tuple[Deed, ...]:
    both = (_coat_deed(piece, finish, shop, coat), _pot_deed(piece, finish, shop, coat))
    return tuple(deed for deed in both if deed is not None)


def _work_deeds(piece: Piece, shop: Shop, work: Work) -> tuple[Deed, ...]:
    deed = work_deed(piece, shop, work)
    return () if deed is None else (deed,)


def _coat_deed(piece: Piece, finish: Finish, shop: Shop, coat: Coat) -> Deed | None:
    before = tuple(other for other in piece.coats if other.at_ms < coat.at_ms)
    if not before:
        return None
    clocks = PieceClocks(
        replace(piece, coats=before), finish, book=shop.book, rooms=shop.rooms, now_ms=coat.at_ms
    )
    opens = clocks.ready(MilestoneName.RECOAT_OPENS)
    state = recoat_window(clocks, opens, shop.words)
    fault = COAT_FAULTS.get(state.state)
    if fault is None:
        return None
    kind, sentence, action = fault
    numbers = f"coat {len(before) + 1} after {span((coat.at_ms - before[-1].at_ms) / MS_PER_H)}"
    if state.state is WindowState.TOO_EARLY:
        numbers += f", {opens.reached_hours:.2f} of {opens.required_hours:.2f} drying hours"
        unseen_h = (
            sum(stop - start for start, stop in clocks.gaps(partial(quiet_s, shop))) / MS_PER_H
        )
        if unseen_h > 0.0:
            numbers += (
                f"; readings are missing for {span(unseen_h)} of that time and earn it nothing, so "
                "it may have been dry"
            )
    return Deed(kind, f"coat-{coat.at_ms}", coat.at_ms, f"{sentence} {_cap(numbers)}.", action)


def _pot_deed(piece: Piece, finish: Finish, shop: Shop, coat: Coat) -> Deed | None:
    """Judge the pot by the longer of its hours on the wall and its cure hours' early end."""
    if finish.pot_life_h is None or coat.mixed_at_ms is None:
        return None
    room = coat.pot_room or piece.room_at(coat.at_ms)
    aged_h = pot_age_h(shop.book, finish, room, mixed_ms=coat.mixed_at_ms, at_ms=coat.at_ms)
    if aged_h <= finish.pot_life_h.value:
        return None
    return Deed(
        AlertKind.POT_OVER,
        f"pot-{coat.at_ms}",
        coat.at_ms,
        f"Sprayed from a pot aged {span(aged_h)} at its early end; its life is "
        f"{span(finish.pot_life_h.value)}.",
        "Watch this coat for lost gloss and adhesion; mix a fresh pot for the next.",
    )


def work_deed(piece: Piece, shop: Shop, work: Work, *, cautious: bool = False) -> Deed | None:
    """Judge work by the milestone it needs; `cautious` asks for the late end too.

    Returns
    -------
    Deed or None
        None where the piece was ready, or where no clock answers.
    """
    name = MILESTONE_OF_WORK.get(work.kind)
    if name is None or not piece.coats_until(work.at_ms):
        return None
    finish = shop.finish_of(piece)
    clocks = PieceClocks(
        piece,
        finish,
        book=shop.book,
        rooms=shop.rooms,
        now_ms=work.at_ms,
        learnt=shop.learnt_of(finish),
    )
    stand = clocks.ready(name)
    done_at = stand.cautious_at
    if done_at is None and not cautious:  # outcomes may have brought the cautious end first
        done_at = stand.reached_at
    if stand.required_hours is None or stand.reached_hours is None or done_at is not None:
        return None
    asked_h, film = stand.required_hours, sink_back(clocks)
    if stand.reached_at is not None and stand.cautious_hours is not None:
        asked_h = stand.cautious_hours
    by = "" if film is None else f" by {film.lost_if_buffed_now_um:.1f} um, as far as can be told"
    return Deed(
        AlertKind.WORK_EARLY,
        f"work-{work.kind}-{work.at_ms}",
        work.at_ms,
        f"Not ready to {job(work.kind)}: {stand.reached_hours:.1f} of "
        f"{asked_h:.0f} effective hours on {counted(len(clocks.coats), 'coat')}. The film is "
        f"still shrinking{by}; gloss and flatness may go in days to come.",
        "Let it rest its full time before judging the gloss, and expect to level once more.",
    )


def job(kind: WorkKind) -> str:
    """Return a kind of work as a verb."""
    return {
        WorkKind.SCUFF: "scuff",
        WorkKind.DRY_SAND: "dry-sand",
        WorkKind.WET_SAND: "wet-sand",
        WorkKind.LEVEL: "level",
        WorkKind.BUFF: "buff",
    }[kind]


def _cap(text: str) -> str:
    return text[:1].upper() + text[1:]
