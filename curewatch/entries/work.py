"""Logging work on a film: what the clocks say of it first, then the entry.

Work on a piece that is not ready at the cautious end of its clock needs a reason; it goes into the
record.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.entries.times import all_or_none
from curewatch.science.film import FURTHEST_H
from curewatch.shop.assessment import assess_piece
from curewatch.shop.deeds import MILESTONE_OF_WORK, work_deed
from curewatch.shop.laws import required_h
from curewatch.shop.milestones import FILM_MILESTONES
from curewatch.shop.piece import WorkKind
from curewatch.shop.waits import need

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from curewatch.opened import Opened
    from curewatch.shop.deeds import Deed
    from curewatch.shop.finish import MilestoneName
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.piece import Piece, Work
    from curewatch.shop.shop import Shop
    from curewatch.shop.sink import SinkBack
    from curewatch.shop.words import Words


@dataclass(frozen=True, slots=True)
class Judged:
    """A piece, what the clocks say of the work on it, and the milestone it waits for.

    `asks_more` says what asks for more hours than its rule does, '' where nothing does; `held` why
    no work should be done on it.
    """

    piece: Piece
    deed: Deed | None
    stone: Milestone | None
    asks_more: str = ""
    held: str | None = None


def judge_work(shop: Shop, pieces: Iterable[Piece], work: Work, now_ms: int) -> list[Judged]:
    """Return what the clocks say of a work on pieces of a shop."""
    name = MILESTONE_OF_WORK.get(work.kind)
    found = []
    for piece in pieces:
        deed = work_deed(piece, shop, work, cautious=True)
        now = assess_piece(shop, piece, max(now_ms, work.at_ms))
        if name is None:
            found.append(Judged(piece, deed, None, held=now.held))
        else:
            more = _asks_more(shop, piece, name, now.sink_back)
            found.append(Judged(piece, deed, now.milestone(name), more, held=now.held))
    return found


def log_work(at: Opened, tags: Sequence[str], work: Work) -> list[int]:
    """Store a work on all pieces or on none; return the numbers."""
    with all_or_none(at, tags):
        return [at.store.pieces.work(tag, work, at.entered_ms) for tag in tags]


def when_ready(words: Words, now_ms: int, one: Judged) -> str:
    """Say when a piece that is not ready for its work will be."""
    stone = one.stone
    if stone is None or (stone.eta is None and stone.cautious_at is None):
        return (
            "When it will be ready cannot be told: the room earns next to nothing, or is not heard."
        )
    if stone.cautious_at is not None:
        return f"It has been ready since {words.at(stone.cautious_at, now_ms)}."
    plan = ", if the room goes as planned" if stone.planned else ""
    if stone.reached_at is not None:
        late = one.asks_more or "with what the hours may be off by it is not"
        sure = words.ahead(stone.eta_cautious_at or now_ms, now_ms)
        return f"The rule itself is met; {late}. Ready {sure} to be sure{plan}."
    assert stone.eta is not None  # noqa: S101 - only then was it not told above
    return f"Expect {words.expect(stone.eta, now_ms)}{plan}."


def stood(one: Judged, work: Work, *, nobody: str) -> str:
    """Say how a work that was logged stood; `nobody` is said where an override has no name."""
    if one.deed is not None:
        by = f" ({work.who})" if work.who else f" ({nobody})"
        return (
            f"{one.deed.reason} Logged anyway: {work.anyway.rstrip('. ')}{by}. "
            f"{one.deed.next_action} You are asked after 7 and 30 days whether it held."
        )
    if not one.piece.coats_until(work.at_ms):
        return "No coat was on it by then, so nothing was judged."
    if work.kind is WorkKind.SCUFF:
        return "A scuff lifts the closing of the recoat window, never a forbidden middle."
    if one.stone is None or one.stone.required_hours is None:
        return "No clock judges this for its finish: test where it does not show."
    return "By its clocks it was ready."


def _asks_more(shop: Shop, piece: Piece, name: MilestoneName, sink: SinkBack | None) -> str:
    """Say what asks for more hours than the rule: the film, what was found here, or both."""
    finish = shop.finish_of(piece)
    rule_h = required_h(finish, name, piece.coats)
    if rule_h is None:
        return ""
    film_h = 0.0
    if sink is not None and name in FILM_MILESTONES:
        film_h = FURTHEST_H if sink.under_tolerance_h is None else sink.under_tolerance_h
    learnt = need(finish, name, piece.coats, rule_h=rule_h, learnt=shop.learnt_of(finish))
    film, found = film_h > rule_h, float(learnt.at(0.0)) > rule_h
    rests = "the film has not come to rest by what is known of it"
    asks = "what was found on earlier pieces asks for more hours"
    return " and ".join([rests] * film + [asks] * found)
