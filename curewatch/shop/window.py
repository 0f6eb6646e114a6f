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
UNHEARD = "no sensor heard: curewatch sensor list"
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
    scuff_first: whether a coat may be laid now, but on a scuffed film only.
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
    scuff_first: bool = False


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
    def past_middle(self) -> bool:
        """Whether a forbidden middle has passed over the film as it is."""
        return self.middle_stop is not None and self.now >= self.middle_stop

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
    ahead, reading = clocks.ahead(ClockName.CURE), clocks.reading(ClockName.CURE)
    if ahead is None or reading is None:
        return None
    left_h = float(need.at(reading.relative_error)) - reading.effective_hours
    late = ahead.when(clocks.now_ms, left_h).late
    return None if late is None else max(wall, late, clocks.now_ms + MINUTE_MS)


def _judge(edges: _Edges, clocks: PieceClocks, opens: Milestone, words: Words) -> RecoatWindow:
    """Return the window in the state that comes first of those that hold."""
    now, close = edges.now, edges.next_close
    if edges.in_middle:
        state, said = WindowState.IN_MIDDLE, _in_middle(edges, clocks, words)
    elif close is not None and now >= close:
        state, said = WindowState.MISSED, _missed(edges, close, clocks, words)
    elif opens.reached_at is None:
        state, said = WindowState.TOO_EARLY, _too_early(edges, clocks, opens, words)
    elif edges.surely_open is None:
        state, said = WindowState.OPENING, _opening(edges, opens, words)
    else:
        state, said = _open(edges, words)
    return RecoatWindow(
        state,
        edges.opens,
        close,
        edges.middle_stop,
        *said,
        surely_open_at=edges.surely_open,
        left_h=min((one.left_h for one in edges.ahead), default=None),
        passed_at=edges.passed(state),
        scuff_first=not edges.scuffed
        and edges.surely_open is not None
        and (edges.past_middle or (state is WindowState.MISSED and clocks.finish.middle is None)),
    )


def _missed(edges: _Edges, close: int, clocks: PieceClocks, words: Words) -> tuple[str, str]:
    if edges.past_middle:
        return _far(edges, words)
    shut = (
        f"Recoat window missed: it closed {words.dated(close, edges.now)}, counted at its early "
        "end."
    )
    if clocks.finish.middle is None:
        return shut, clocks.finish.missed_window
    far = "a time that cannot be told"
    if edges.middle_stop is not None:
        far = words.ahead(edges.middle_stop, edges.now)
    return shut, f"{clocks.finish.missed_window} The far side of the middle: {far}."


def _far(edges: _Edges, words: Words) -> tuple[str, str]:
    """Say that the film is past its forbidden middle, at the late end of that."""
    assert edges.middle_stop is not None  # noqa: S101 - it has passed
    since = words.dated(edges.middle_stop, edges.now)
    said = f"Past the far side of the forbidden middle since {since}"
    if edges.scuffed:
        return f"{said}, and scuffed.", "Try a test board first, then lay the next coat."
    return f"{said}.", "Scuff, try a test board first, then lay the next coat."


def _in_middle(edges: _Edges, clocks: PieceClocks, words: Words) -> tuple[str, str]:
    far = "a time that cannot be told"
    if edges.middle_stop is not None:
        far = words.ahead(edges.middle_stop, edges.now)
    title = clocks.finish.title.lower()
    return (
        f"In the forbidden middle of {title}: a coat now can wrinkle the film.",
        f"Wait until {far}, scuff, and try a test panel first.",
    )


def _too_early(
    edges: _Edges, clocks: PieceClocks, opens: Milestone, words: Words
) -> tuple[str, str]:
    unsure = _no_sure_window(edges, opens, words)
    sentence = f"Too early for the next coat: {_drying(opens)}.{unsure}"
    if edges.opens is None:
        if clocks.in_unheard_room():
            return sentence, f"Wait: the room earns no hours; {UNHEARD}"
        return sentence, "Wait: the room earns no hours."
    when = words.ahead(edges.opens, edges.now)
    plan = ", if the room goes as planned" if opens.planned else ""
    return sentence, f"Wait; the window opens {when}{plan}."


def _opening(edges: _Edges, opens: Milestone, words: Words) -> tuple[str, str]:
    unsure = _no_sure_window(edges, opens, words)
    return (
        f"The recoat rule is just met ({_drying(opens)}), its cautious end is not.{unsure}",
        "Wait a little, or test with a fingertip where it does not show.",
    )


def _open(edges: _Edges, words: Words) -> tuple[WindowState, tuple[str, str]]:
    now, close, sure = edges.now, edges.next_close, edges.surely_open
    if close is None and edges.past_middle:
        return WindowState.OPEN, _far(edges, words)
    if close is None:
        why = " after the scuff" if edges.scuffed else ""
        said = (f"Recoat window open{why}, no limit known.", "Lay the next coat.")
        return WindowState.OPEN, said
    until = words.dated(close, now)
    if sure is not None and close - now <= min(LONGEST_LAST_CALL_MS, (close - sure) // 4):
        said = (
            f"Recoat window closing: last call {until}.",
            f"Lay the next coat before {until}, or plan to scuff.",
        )
        return WindowState.CLOSING, said
    return WindowState.OPEN, (f"Recoat window open until {until}.", "Lay the next coat.")


def _no_sure_window(edges: _Edges, opens: Milestone, words: Words) -> str:
    """Say where a window may close before it is sure to be open; '' where it will not."""
    close, sure = edges.next_close, opens.eta_cautious_at
    if close is None or (sure is not None and sure < close):
        return ""
    when = words.dated(close, edges.now)
    return f" No sure window: it may close {when}, before it is sure to be open."


def _drying(opens: Milestone) -> str:
    return f"{opens.reached_hours or 0.0:.1f} of {opens.required_hours or 0.0:.1f} drying hours"
