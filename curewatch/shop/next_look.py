"""When a piece's standing can change next, so that nobody looks at it sooner for nothing.

Every bound takes the fastest climate a room can have from here on: a look may come too soon,
never too late. What hangs on the wall clock is due by `at_ms`; what hangs on readings is due when
the room's record reaches `frontier_ms`, or whenever the record of a room in `unsettled` moves.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from curewatch.shop.ahead import SETTLES_MS, law_ahead
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.clocks import MS_PER_H, RateLaw
from curewatch.shop.deeds import DEED_SPEAKS_MS
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.hourly import HOUR_MS
from curewatch.shop.laws import law_for
from curewatch.shop.waits import CONFIDENT_Z
from curewatch.shop.window import LONGEST_LAST_CALL_MS, WindowState

if TYPE_CHECKING:
    from curewatch.shop.ahead import LawAhead
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.piece_clocks import ClockReading
    from curewatch.shop.shop import Shop
    from curewatch.shop.window import RecoatWindow

LONGEST_UNSEEN_MS = 6 * 3_600_000  # dates ahead drift with the room: look again by then
DOUBT_SHRINKS = 2.0  # a standard error may shrink while hours grow: allow for it
LEAST_SEEN_H = 1e-9  # fewer hours are rounding
DOUBT_GROWS = 1.5  # and it may grow
LARGE_DOUBT = 0.4  # relative standard error that no rate near the fastest exceeds
HALVINGS = 12  # of a day: down to half a minute
FOR_EVER_MS = 2**62
NEVER_MS = -(2**62)


@dataclass(frozen=True, slots=True)
class NextLook:
    """When a piece's standing can change next.

    Attributes
    ----------
    at_ms: by the wall clock [ms].
    frontier_ms: when the record of the room it is in has come so far [ms].
    unsettled: rooms whose record ends before something that was done to the piece there, with
        where it ends [ms]; any reading of theirs can change what is known of that.
    """

    at_ms: int
    frontier_ms: int
    unsettled: tuple[tuple[str, int | None], ...] = ()

    @classmethod
    def of(cls, now: PieceNow, piece: Piece, shop: Shop, now_ms: int) -> NextLook:
        """Return the earliest instant at which anything about the piece can be otherwise."""
        ahead = [now_ms + LONGEST_UNSEEN_MS, *_planned(piece)]
        ahead += [deed.at_ms + DEED_SPEAKS_MS for deed in now.deeds]
        due_ms = FOR_EVER_MS
        if now.wood is not None:
            ahead.append(now.wood.stale_ms)
            due_ms = now.wood.next_ms
        elif now.room is not None:
            due_ms = 0  # any record of its room will tell of its wood
        if now.last_coat_at is not None and now.window is not None:
            finish = shop.finish_of(piece)
            frontier = shop.book.frontier_ms(now.room or "")
            known_ms = NEVER_MS if frontier is None else min(frontier, now_ms)
            if finish.young_h is not None:
                ahead.append(now.last_coat_at + round(finish.young_h.value * MS_PER_H))
            due_ms = min(due_ms, known_ms + _soonest_ready_ms(now, finish, shop))
            if not now.coating_done:
                edges, wait_ms, fresh_ms = _window(now, now.window, finish, shop, now_ms)
                ahead += [*edges, now_ms + wait_ms]
                due_ms = min(due_ms, known_ms + wait_ms, fresh_ms)
        at_ms = min(at for at in ahead if at > now_ms)
        return cls(at_ms, due_ms, tuple(_unsettled(now, piece, shop, now_ms)))


def _planned(piece: Piece) -> list[int]:
    """Return the instants of what people entered, which may lie ahead in a replay."""
    found = [coat.at_ms for coat in piece.coats] + [work.at_ms for work in piece.work]
    found += [stay.start_ms for stay in piece.stays]
    found += [stay.stop_ms for stay in piece.stays if stay.stop_ms is not None]
    return found if piece.left_ms is None else [*found, piece.left_ms]


def _unsettled(
    now: PieceNow, piece: Piece, shop: Shop, now_ms: int
) -> list[tuple[str, int | None]]:
    """Return the rooms whose record does not surely reach what happened to the piece in them.

    That is a coat, work, a move, or the passing of a window's edge, which what was taken for the
    time since the newest reading may have brought too soon.
    """
    done = [coat.at_ms for coat in piece.coats] + [work.at_ms for work in piece.work]
    if now.window is not None and now.window.passed_at is not None:
        done.append(now.window.passed_at)
    found = []
    for stay in piece.stays:
        if stay.start_ms > now_ms:
            continue
        last = [at for at in done if stay.start_ms <= at <= now_ms]
        if stay.stop_ms is not None and stay.stop_ms <= now_ms:
            last = [at for at in last if at < stay.stop_ms] + [stay.stop_ms]
        frontier = shop.book.frontier_ms(stay.room)
        if last and (frontier is None or frontier < max(last) + SETTLES_MS):
            found.append((stay.room, frontier))
    return found


def _soonest_ready_ms(now: PieceNow, finish: Finish, shop: Shop) -> int:
    """Return how much record it takes at least before a ready milestone can be passed [ms]."""
    ready = [stone for stone in now.milestones if stone.name is not MilestoneName.RECOAT_CLOSES]
    waits = [(stone.clock, stone.required_hours) for stone in ready if stone.reached_at is None]
    waits += [(stone.clock, stone.cautious_hours) for stone in ready if stone.cautious_at is None]
    late = [(stone.clock, stone.late_hours) for stone in ready if stone.cautious_at is None]
    film = now.sink_back
    if film is not None and film.under_tolerance_at is None:
        waits.append((ClockName.CURE, film.under_tolerance_h))
    cure = now.clocks.get(ClockName.CURE)
    if finish.middle is not None and cure is not None and not now.coating_done:
        far_h = finish.middle.stop_h.value
        late_h = far_h * (1.0 + CONFIDENT_Z * cure.relative_error)
        waits.append((ClockName.CURE, far_h))
        late.append((ClockName.CURE, late_h))
    soonest = FOR_EVER_MS
    for (clock, asked), doubtful in [*((w, False) for w in waits), *((w, True) for w in late)]:
        reading = now.clocks.get(clock)
        law = law_for(finish, clock, shop.room(now.room or ""))
        if asked is None or reading is None or law is None:
            continue
        have_h = reading.effective_hours
        if asked <= have_h:
            continue
        shrinks = 1.0
        if doubtful:  # what doubt asks for melts while hours are earned
            melts = CONFIDENT_Z * reading.relative_error * asked / max(have_h, LEAST_SEEN_H)
            shrinks = max(DOUBT_SHRINKS, 1.0 + melts)
        left_h = (asked - have_h) / shrinks
        soonest = min(soonest, max(round(left_h / _fastest(law) * MS_PER_H), MINUTE_MS))
    return soonest


def _window(
    now: PieceNow, window: RecoatWindow, finish: Finish, shop: Shop, now_ms: int
) -> tuple[list[int], int, int]:
    """Return the window's edges [ms], and how soon a warmer room could bring one [ms].

    Last comes to where the room's record must reach for the next outlook, which may bring one too.
    """
    edges = [at for at in (window.closes_at, window.reopens_at, window.opens_at) if at is not None]
    cure = now.clocks.get(ClockName.CURE)
    law = law_for(finish, ClockName.CURE, shop.room(now.room or ""))
    if window.closes_at is None or window.state is WindowState.MISSED:
        return edges, FOR_EVER_MS // 2, FOR_EVER_MS
    if window.state is WindowState.CLOSING:
        return edges, MINUTE_MS, FOR_EVER_MS  # a cooling room may still lift the last call
    last_call_ms = 0
    if window.surely_open_at is not None:
        quarter = max(window.closes_at - window.surely_open_at, 0) // 4
        last_call_ms = min(LONGEST_LAST_CALL_MS, quarter)
        edges.append(window.closes_at - last_call_ms)
    assert cure is not None  # noqa: S101 - what closes has a cure clock
    assert law is not None  # noqa: S101 - likewise
    if now.room is None:
        return edges, FOR_EVER_MS // 2, FOR_EVER_MS
    ahead = law_ahead(shop, now.room, law, now_ms)
    if ahead is None or ahead.first_hour:  # the next reading may say something else altogether
        return edges, MINUTE_MS, FOR_EVER_MS
    wait_h = _soonest_closing_h(
        ahead,
        cure,
        _fastest(law),
        left_h=window.left_h or 0.0,
        last_call_ms=last_call_ms,
        now_ms=now_ms,
    )
    fresh_ms = ahead.start_ms + HOUR_MS + SETTLES_MS
    return edges, max(round(wait_h * MS_PER_H), MINUTE_MS), fresh_ms


def _soonest_closing_h(
    ahead: LawAhead,
    cure: ClockReading,
    fastest: float,
    *,
    left_h: float,
    last_call_ms: int,
    now_ms: int,
) -> float:
    """Return for how long no climate can bring the last call, while this outlook stands [h].

    A closing ahead is the hours left over what the outlook says the room earns at most, both at
    their early end. After t hours of the fastest climate fewer hours are left.
    """
    seen = cure.effective_hours > 0.0
    doubt = DOUBT_GROWS * cure.relative_error + LARGE_DOUBT if seen else 1.0
    early = 1.0 + CONFIDENT_Z * min(doubt, 1.0)
    spends = (1.0 + CONFIDENT_Z * LARGE_DOUBT) * fastest

    def too_far(hours: float) -> bool:
        until_ms = now_ms + last_call_ms + hours * MS_PER_H
        return left_h - spends * hours > early * ahead.gained(now_ms, until_ms)

    low, high = 0.0, 24.0
    if not too_far(low):
        return 0.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if too_far(middle) else (low, middle)
    return low


@lru_cache(maxsize=1024)
def _fastest(law: RateLaw) -> float:
    return law.fastest
