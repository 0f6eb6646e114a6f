"""The recoat window of a piece: too early, open, closing, in the forbidden middle, missed."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.laws import required_h
from curewatch.shop.piece import WorkKind
from curewatch.shop.waits import Need

if TYPE_CHECKING:
    from curewatch.shop.milestones import Closing, Milestone, PieceClocks
    from curewatch.shop.words import Words

HOUR_MS = 60 * MINUTE_MS
LONGEST_LAST_CALL_MS = 2 * HOUR_MS
ABRADES = (WorkKind.SCUFF, WorkKind.DRY_SAND, WorkKind.WET_SAND, WorkKind.LEVEL)


class WindowState(StrEnum):
    """Where a piece stands in its recoat window."""

    UNKNOWN = "unknown"
    TOO_EARLY = "too-early"
    OPENING = "opening"  # the rule is met, its late end is not
    OPEN = "open"
    CLOSING = "closing"
    IN_MIDDLE = "in-middle"  # a coat now would wrinkle the film
    MISSED = "missed"


@dataclass(frozen=True, slots=True)
class RecoatWindow:
    """The window at a moment.

    Attributes
    ----------
    state: where the piece stands.
    opens_at: nominal opening [ms], been or expected.
    closes_at: early end of the closing [ms]; None where it does not close.
    reopens_at: far side of a forbidden middle [ms], None where there is none ahead.
    sentence: the state with its reason.
    next_action: what to do.
    surely_open_at: late end of the opening [ms], None if it has not come.
    left_h: cure hours left before `closes_at` at its early end [h].
    passed_at: the edge that was passed last, into a missed window or a middle [ms].
    """

    state: WindowState
    opens_at: int | None
    closes_at: int | None
    reopens_at: int | None
    sentence: str
    next_action: str
    surely_open_at: int | None = None
    left_h: float | None = None
    passed_at: int | None = None


def recoat_window(clocks: PieceClocks, opens: Milestone, words: Words) -> RecoatWindow:
    """Return a piece's recoat window as it stands now.

    A scuff lifts the closing limit (the bond is then mechanical), never the forbidden middle.
    """
    if opens.required_hours is None or opens.reached_hours is None:
        return RecoatWindow(
            WindowState.UNKNOWN,
            None,
            None,
            None,
            "No clock answers for this finish: its film is cured by dose, not by the hour.",
            "Follow the data sheet and try a test panel.",
        )
    edges = _Edges.of(clocks, opens)
    return _judge(edges, clocks, opens, words)


@dataclass(frozen=True, slots=True)
class _Edges:
    """The instants that bound a window [ms]."""

    now: int
    opens: int | None
    surely_open: int | None
    closes: Closing | None
    middle_start: Closing | None
    middle_stop: int | None
    scuffed: bool

    @classmethod
    def of(cls, clocks: PieceClocks, opens: Milestone) -> _Edges:
        asked = required_h(clocks.finish, MilestoneName.RECOAT_CLOSES, clocks.coats)
        middle = clocks.finish.middle
        scuffed = is_scuffed(clocks)
        return cls(
            now=clocks.now_ms,
            opens=opens.reached_at or opens.eta_at,
            surely_open=opens.cautious_at,
            closes=None if asked is None else clocks.closes(asked),
            middle_start=None if middle is None else clocks.closes(middle.start_h.value),
            middle_stop=None if middle is None else _far_side(clocks, middle.stop_h.value),
            scuffed=scuffed,
        )

    @property
    def in_middle(self) -> bool:
        """Whether a coat now would wrinkle."""
        if self.middle_start is None or self.now < self.middle_start.early_ms:
            return False
        return self.middle_stop is None or self.now < self.middle_stop

    @property
    def ahead(self) -> list[Closing]:
        """The edges after which a coat may not be laid as things are."""
        found = [] if self.closes is None or self.scuffed else [self.closes]
        if self.middle_start is not None and self.now < self.middle_start.early_ms:
            found.append(self.middle_start)
        return found

    @property
    def next_close(self) -> int | None:
        """The next of them."""
        return min((one.early_ms for one in self.ahead), default=None)

    def passed(self, state: WindowState) -> int | None:
        """Return the edge that brought a state about."""
        if state is WindowState.IN_MIDDLE and self.middle_start is not None:
            return self.middle_start.early_ms
        return self.next_close if state is WindowState.MISSED else None


def is_scuffed(clocks: PieceClocks) -> bool:
    """Whether the film is scuffed as it stands; a buff after the scuff takes the key away."""
    since = [w for w in clocks.piece.work if clocks.start_ms < w.at_ms <= clocks.now_ms]
    last = {True: 0, False: 0}
    for work in since:
        abrades = work.kind in ABRADES
        last[abrades] = max(last[abrades], work.at_ms)
    return last[True] > last[False]


def _far_side(clocks: PieceClocks, stop_h: float) -> int | None:
    """Return when a forbidden middle ends: wall hours and the late end of cure hours [ms]."""
    wall = round(clocks.start_ms + stop_h * HOUR_MS)
    reached = clocks.reached_at(ClockName.CURE, stop_h)
    need = Need(stop_h)
    cautious = None if reached is None else clocks.cautious_at(ClockName.CURE, need, reached)
    if cautious is not None:
        return max(wall, cautious)
    rate = clocks.mean_rate(ClockName.CURE)
    reading = clocks.reading(ClockName.CURE)
    if not rate or reading is None:
        return None
    left_h = max(stop_h - reading.effective_hours + reading.standard_error, 0.0)
    return max(wall, round(clocks.now_ms + left_h / rate * HOUR_MS), clocks.now_ms + MINUTE_MS)


def _judge(  # noqa: PLR0911 - one return a state reads as the table it is
    edges: _Edges, clocks: PieceClocks, opens: Milestone, words: Words
) -> RecoatWindow:
    now, finish = edges.now, clocks.finish

    def window(state: WindowState, sentence: str, action: str) -> RecoatWindow:
        return RecoatWindow(
            state,
            edges.opens,
            edges.next_close,
            edges.middle_stop,
            sentence,
            action,
            edges.surely_open,
            min((one.left_h for one in edges.ahead), default=None),
            edges.passed(state),
        )

    if edges.in_middle:
        far = (
            "a time that cannot be told"
            if edges.middle_stop is None
            else (words.ahead(edges.middle_stop, now))
        )
        return window(
            WindowState.IN_MIDDLE,
            f"In the forbidden middle of {finish.title.lower()}: a coat now can wrinkle the film.",
            f"Wait until {far}, scuff, and try a test panel first.",
        )
    close = edges.next_close
    if close is not None and now >= close:
        return window(
            WindowState.MISSED,
            f"Recoat window missed: it closed {words.at(close, now)}, counted at its early end.",
            finish.missed_window,
        )
    asked = f"{opens.reached_hours or 0.0:.1f} of {opens.required_hours or 0.0:.1f} drying hours"
    if opens.reached_at is None:
        when = "cannot be told" if edges.opens is None else words.ahead(edges.opens, now)
        return window(
            WindowState.TOO_EARLY,
            f"Too early for the next coat: {asked}.",
            f"Wait; the window opens {when}." if edges.opens else "Wait: the room earns no hours.",
        )
    if edges.surely_open is None:
        return window(
            WindowState.OPENING,
            f"The recoat rule is just met ({asked}), its cautious end is not.",
            "Wait a little, or test with a fingertip where it does not show.",
        )
    if close is None:
        why = " after the scuff" if edges.scuffed else ""
        return window(
            WindowState.OPEN, f"Recoat window open{why}, no limit known.", "Lay the next coat."
        )
    until = words.at(close, now)
    if close - now <= min(LONGEST_LAST_CALL_MS, (close - edges.surely_open) // 4):
        return window(
            WindowState.CLOSING,
            f"Recoat window closing: last call {until}.",
            f"Lay the next coat before {until}, or plan to scuff.",
        )
    return window(WindowState.OPEN, f"Recoat window open until {until}.", "Lay the next coat.")
