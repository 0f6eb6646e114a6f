"""The recoat window that a coat opens, seen from before: each edge early, likely and late.

Limits that close count at their early end and never last longer than the wall clock's hours; a
forbidden middle ends at its late end and never before them. Nothing is moved by cold or by hope.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.ahead import Eta
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.clocks_ahead import at_level
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.laws import required_h
from curewatch.shop.waits import CONFIDENT_Z
from curewatch.shop.window import is_scuffed

if TYPE_CHECKING:
    from curewatch.shop.clocks_ahead import ClockAhead, RoomClocks
    from curewatch.shop.finish import Finish
    from curewatch.shop.milestones import PieceClocks
    from curewatch.shop.piece import Coat

NOT_KNOWN = Eta(None, None, None)


@dataclass(frozen=True, slots=True)
class CoatWindow:
    """When the next coat may be laid.

    Attributes
    ----------
    laid_ms: when the coat that opens it was laid [ms].
    opens: when it is dry enough; all None where no clock answers.
    closes: when the limit passes; None where there is none.
    middle: from when to when a coat would wrinkle the film; None where the finish has no such time.
    scuffed: whether the film is scuffed, which lifts the limit.
    """

    laid_ms: int
    opens: Eta
    closes: Eta | None = None
    middle: tuple[Eta, Eta] | None = None
    scuffed: bool = False

    @property
    def limit(self) -> Eta | None:
        """The first edge after which a coat may not be laid as things are."""
        edges = [] if self.closes is None or self.scuffed else [self.closes]
        if self.middle is not None:
            edges.append(self.middle[0])
        return min(edges, key=_early, default=None)

    def sure_open(self, level: int) -> int | None:
        """Return when it is open with so much confidence [ms]: 50, 80 or 90 in a hundred."""
        return at_level(self.opens, self.laid_ms, level)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch in which a coat may be laid.

    Attributes
    ----------
    start_ms, stop_ms: its ends [ms]; no stop: it does not end.
    scuff: whether the film must be scuffed first.
    past_middle: whether it lies past the forbidden middle.
    """

    start_ms: int
    stop_ms: int | None
    scuff: bool
    past_middle: bool


def stretches(window: CoatWindow, level: int) -> tuple[Stretch, ...]:
    """Return when a coat may be laid, earliest first, with and without a scuff."""
    opens = window.sure_open(level)
    if opens is None:
        return ()
    spans: list[tuple[int, int | None, bool]] = [(opens, None, False)]
    if window.middle is not None:
        first, last = window.middle[0].early, window.middle[1].late
        spans = [(opens, first, False)]
        if last is not None:
            spans.append((max(opens, last), None, True))
    closes = None if window.closes is None or window.scuffed else window.closes.early
    found = []
    for start, stop, past in spans:
        if closes is None:
            found.append(Stretch(start, stop, scuff=False, past_middle=past))
            continue
        found.append(Stretch(start, _first(stop, closes), scuff=False, past_middle=past))
        found.append(Stretch(max(start, closes), stop, scuff=True, past_middle=past))
    return tuple(one for one in found if one.stop_ms is None or one.start_ms < one.stop_ms)


def window_after(finish: Finish, clocks: RoomClocks, coats: tuple[Coat, ...]) -> CoatWindow:
    """Return the window that the last of these coats opens, from the time it is laid on."""
    laid_ms = coats[-1].at_ms
    asked = required_h(finish, MilestoneName.RECOAT_OPENS, coats)
    opens = NOT_KNOWN
    if asked is not None and clocks.drying is not None:
        opens = clocks.drying.by(laid_ms, asked)
    closes_h = required_h(finish, MilestoneName.RECOAT_CLOSES, coats)
    middle = None
    if finish.middle is not None:
        start_h, stop_h = finish.middle.start_h.value, finish.middle.stop_h.value
        wall_ms = laid_ms + stop_h * MS_PER_H
        ends = NOT_KNOWN if clocks.cure is None else clocks.cure.by(laid_ms, stop_h)
        middle = (_closing(clocks.cure, laid_ms, start_h), _not_before(ends, round(wall_ms)))
    return CoatWindow(
        laid_ms,
        opens,
        None if closes_h is None else _closing(clocks.cure, laid_ms, closes_h),
        middle,
    )


def window_now(now: PieceClocks, clocks: RoomClocks) -> CoatWindow:
    """Return the window of a piece's last coat: what its record has earned, and what is ahead."""
    finish, start_ms = now.finish, now.start_ms
    closes_h = required_h(finish, MilestoneName.RECOAT_CLOSES, now.coats)
    middle = None
    if finish.middle is not None:
        begins = _closing_on(now, clocks.cure, finish.middle.start_h.value)
        middle = (begins, _far_side(now, clocks.cure, finish.middle.stop_h.value))
    return CoatWindow(
        start_ms,
        _opening(now, clocks.drying),
        None if closes_h is None else _closing_on(now, clocks.cure, closes_h),
        middle,
        is_scuffed(now),
    )


def _opening(now: PieceClocks, drying: ClockAhead | None) -> Eta:
    stone, at_ms = now.ready(MilestoneName.RECOAT_OPENS), now.now_ms
    asked, have, sure_h = stone.required_hours, stone.reached_hours, stone.late_hours
    if asked is None or have is None or sure_h is None:
        return NOT_KNOWN
    early = likely = stone.reached_at
    if likely is None and drying is not None:
        ahead = drying.by(at_ms, asked - have)
        early, likely = ahead.early, ahead.likely
    late = stone.cautious_at
    if late is None and drying is not None:
        late = drying.ahead.when(at_ms, asked - have, sure_h - have).late
    return Eta(early, likely, late)


def _closing(cure: ClockAhead | None, laid_ms: int, hours: float) -> Eta:
    """Return when a limit closes: by the wall clock, or by the cure clock if that is earlier."""
    wall_ms = round(laid_ms + hours * MS_PER_H)
    ends = NOT_KNOWN if cure is None else cure.by(laid_ms, hours)
    return Eta(
        _first(ends.early, wall_ms), _first(ends.likely, wall_ms), _first(ends.late, wall_ms)
    )


def _closing_on(now: PieceClocks, cure: ClockAhead | None, hours: float) -> Eta:
    """Return when a limit that runs already closes; the nearer of record and outlook counts."""
    closing = now.closes(hours)
    wall_ms = round(now.start_ms + hours * MS_PER_H)
    early, likely = closing.early_ms, closing.nominal_ms
    if cure is not None and early > now.now_ms:
        ahead = cure.by(now.now_ms, closing.left_h)  # what is left at the early end
        early, likely = _first(ahead.early, early), _first(ahead.likely, likely)
    return Eta(early, likely, wall_ms)


def _far_side(now: PieceClocks, cure: ClockAhead | None, hours: float) -> Eta:
    reading, wall_ms = now.reading(ClockName.CURE), round(now.start_ms + hours * MS_PER_H)
    if reading is None or cure is None:
        return NOT_KNOWN
    left_h = hours - reading.effective_hours + CONFIDENT_Z * reading.standard_error
    return _not_before(cure.by(now.now_ms, left_h), wall_ms)


def _not_before(ends: Eta, wall_ms: int) -> Eta:
    early, likely, late = (
        None if one is None else max(one, wall_ms) for one in (ends.early, ends.likely, ends.late)
    )
    return Eta(early, likely, late)


def _first(one: int | None, other: int) -> int:
    return other if one is None else min(one, other)


def _early(edge: Eta) -> int:
    assert edge.early is not None  # noqa: S101 - a limit that closes has all its edges
    return edge.early
