"""Why did this one sink and that one not; still soft, is it the batch or the shop: side by side.

One piece beside others of its finish: its own pot and lots first, then its room. A difference is a
place to look, never a cause: there are always too few pieces, and most of what matters (filler,
wood, hands) is not recorded. Nobody is blamed.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING, Final

from curewatch.shop.build import the_build
from curewatch.shop.findings import Says
from curewatch.shop.piece import WorkKind
from curewatch.shop.proof import says_of
from curewatch.shop.trial_history import LEAST_COVERED_PCT, history
from curewatch.shop.waits import CONFIDENT_Z
from curewatch.shop.what_if import Range
from curewatch.shop.wood_history import wood_now
from curewatch.shop.words import counted

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from curewatch.shop.batch import Batch
    from curewatch.shop.build import Build
    from curewatch.shop.piece import Piece
    from curewatch.shop.shop import Shop
    from curewatch.shop.trial_history import History
    from curewatch.shop.wood_history import WoodNow

ALIKE: Final = 2.0
"""Films this many times as old on the wall, or as young, are no match (our own rule)."""
FEW: Final = 10
"""Fewer pieces than this show nothing by themselves (our own rule)."""
MOST: Final = 12
WOOD_DOUBT_POINTS: Final = 1.0
"""What the moisture of wood under a film is off by (from memory)."""
TEMP_DOUBT_K: Final = 0.5
FINISHING: Final = (WorkKind.BUFF, WorkKind.LEVEL)
NOT_SEEN: Final = (
    "filler and sealer under the finish",
    "the wood: its species, its pores, how dry it was before it came here",
    "how hard it was sanded, and how hot the buff ran",
    "what nobody entered",
)


@dataclass(frozen=True, slots=True)
class Beside:
    """
    One of the pieces that are compared.

    Attributes
    ----------
    tag : str
        Which.
    shares : tuple of str
        What it shares with the piece asked about: 'pot', 'lot', 'room'.
    judged : str
        What its numbers speak of: 'buff', 'level' or 'now'.
    at_ms : int
        That instant [ms].
    history : History
        What lies behind it then.
    effective_h : Range or None
        Effective hours of cure then, with both ends [h].
    build : Build or None
        Its film then.
    wood : WoodNow or None
        Its wood then.
    findings : tuple of str
        Everything that was found on it, in order.
    lots : tuple of str
        Lots of its pots; none where no pot was named.
    """

    tag: str
    shares: tuple[str, ...]
    judged: str
    at_ms: int
    history: History
    effective_h: Range | None
    build: Build | None
    wood: WoodNow | None
    findings: tuple[str, ...]
    lots: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Hint:
    """A place to look: `says` is 'differs', 'alike' or 'unknown'."""

    about: str
    says: str
    text: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """The piece asked about, the others, and what differs."""

    asked: Beside
    others: tuple[Beside, ...]
    hints: tuple[Hint, ...]
    sentence: str

    @property
    def small(self) -> bool:
        """Whether there are too few pieces to show anything by themselves."""
        return len(self.others) < FEW


def companions(
    piece: Piece, others: Iterable[Piece], pots: Mapping[str, Batch], now_ms: int
) -> tuple[Piece, ...]:
    """Return the pieces to compare one with: of its finish, those that share most with it first."""
    same = [
        one for one in others if one.finish == piece.finish and one.tag != piece.tag and one.coats
    ]

    def nearness(one: Piece) -> tuple[int, int]:
        return -len(_shares(piece, one, pots, now_ms)), -one.coats[-1].at_ms

    return tuple(sorted(same, key=nearness)[: MOST - 1])


def compare(
    shop: Shop, piece: Piece, others: Sequence[Piece], pots: Mapping[str, Batch], now_ms: int
) -> Comparison:
    """
    Set a piece beside others.

    Parameters
    ----------
    shop : Shop
        The facts, with the record of every room they hung in.
    piece : Piece
        The one asked about.
    others : sequence of Piece
        What it is set beside.
    pots : mapping
        Mixed pots by name.
    now_ms : int
        The moment [ms].
    """
    asked = _beside(shop, piece, (), pots, now_ms)
    rows = tuple(
        _beside(shop, one, _shares(piece, one, pots, now_ms), pots, now_ms) for one in others
    )
    hints = (
        _wall(asked),
        _hours(asked, rows),
        _build(asked, rows),
        _wood(asked, rows),
        _warmth(asked, rows),
        _mates(asked, rows),
    )
    return Comparison(asked, rows, hints, _sentence(rows, hints))


def _shares(piece: Piece, one: Piece, pots: Mapping[str, Batch], now_ms: int) -> tuple[str, ...]:
    mine, its = ({coat.pot for coat in p.coats if coat.pot} for p in (piece, one))
    rooms = [{stay.room for stay in p.stays if stay.start_ms <= now_ms} for p in (piece, one)]
    told = {
        "pot": mine & its,
        "lot": set(_lots(piece, pots)) & set(_lots(one, pots)),
        "room": rooms[0] & rooms[1],
    }
    return tuple(name for name, shared in told.items() if shared)


def _lots(piece: Piece, pots: Mapping[str, Batch]) -> tuple[str, ...]:
    found = [pots[coat.pot] for coat in piece.coats if coat.pot in pots]
    lots = [lot for pot in found for lot in (pot.lot, pot.crosslinker_lot) if lot]
    return tuple(dict.fromkeys(lots))


def _beside(
    shop: Shop, piece: Piece, shares: tuple[str, ...], pots: Mapping[str, Batch], now_ms: int
) -> Beside:
    end_ms = now_ms if piece.left_ms is None else min(piece.left_ms - 1, now_ms)
    deed = next(
        (
            work
            for kind in FINISHING
            for work in reversed(piece.work)
            if work.kind is kind and work.at_ms <= end_ms
        ),
        None,
    )
    judged, at_ms = ("now", end_ms) if deed is None else (str(deed.kind), deed.at_ms)
    behind = history(shop, piece, at_ms)
    return Beside(
        tag=piece.tag,
        shares=shares,
        judged=judged,
        at_ms=at_ms,
        history=behind,
        effective_h=_ends(behind),
        build=the_build(piece, shop.finish_of(piece), at_ms, shop.words),
        wood=wood_now(shop, piece, at_ms),
        findings=tuple(o.finding for o in piece.outcomes if o.at_ms <= now_ms),
        lots=_lots(piece, pots),
    )


def _ends(behind: History) -> Range | None:
    """Return effective hours with both ends; None where they are not known well enough."""
    age, covered = behind.effective_h, behind.coverage_pct
    if age is None or covered is None or covered < LEAST_COVERED_PCT:
        return None
    off = CONFIDENT_Z * (behind.standard_error_h or 0.0)
    return Range(max(age - off, 0.0), age, age + off)


def _against(about: str, mine: Range | None, its: Sequence[Range | None], unit: str) -> Hint:
    """Say whether a range lies outside those of the others."""
    known = [one for one in its if one is not None]
    if mine is None or not known:
        return Hint(about, "unknown", f"{about}: not known of both sides.")
    middle = median(one.likely for one in known)
    said = f"{about}: {mine.likely:.0f} {unit} ({mine.low:.0f} to {mine.high:.0f}) beside "
    said += f"{middle:.0f} {unit} in the middle of {counted(len(known), 'other')}"
    if mine.high < min(one.low for one in known):
        return Hint(about, "differs", f"{said}: less than any of them, beyond doubt of both.")
    if mine.low > max(one.high for one in known):
        return Hint(about, "differs", f"{said}: more than any of them, beyond doubt of both.")
    return Hint(about, "alike", f"{said}: no clear difference.")


def _wall(asked: Beside) -> Hint:
    """Say what its time on the wall was worth."""
    hours, wall_h = asked.effective_h, asked.history.wall_h
    if hours is None or wall_h is None:
        return Hint("wall", "unknown", f"time on the wall: {asked.history.why_no_age}.")
    said = f"time on the wall: {wall_h:.0f} h were worth {hours.low:.0f} to {hours.high:.0f} h"
    if hours.high < wall_h:
        return Hint("wall", "differs", f"{said}: its room explains part of a wait.")
    return Hint("wall", "alike", f"{said}: its room explains no wait.")


def _like(asked: Beside, row: Beside) -> bool:
    """Whether two are judged at the same stage and at ages on the wall that are alike."""
    mine, its = asked.history.wall_h, row.history.wall_h
    if mine is None or its is None or row.judged != asked.judged:
        return False
    return asked.judged != "now" or mine / ALIKE <= its <= mine * ALIKE


def _hours(asked: Beside, rows: Sequence[Beside]) -> Hint:
    its = [row.effective_h for row in rows if _like(asked, row)]
    name = "effective hours" if asked.judged == "now" else f"effective hours at the {asked.judged}"
    return _against(name, asked.effective_h, its, "h")


def _build(asked: Beside, rows: Sequence[Beside]) -> Hint:
    mine, *its = (None if row.build is None else row.build.film_um for row in (asked, *rows))
    return _against("build", mine, its, "um")


def _wood(asked: Beside, rows: Sequence[Beside]) -> Hint:
    mine, *its = (_moved(row.wood) for row in (asked, *rows))
    return _against("wood moved since the first coat", mine, its, "points")


def _moved(wood: WoodNow | None) -> Range | None:
    moved = None if wood is None else wood.since_first_coat_points
    return None if moved is None else _about(moved, WOOD_DOUBT_POINTS)


def _warmth(asked: Beside, rows: Sequence[Beside]) -> Hint:
    means = [row.history.mean_temp_c for row in (asked, *rows)]
    mine, *its = (None if mean is None else _about(mean, TEMP_DOUBT_K) for mean in means)
    return _against("mean temperature since the last coat", mine, its, "degC")


def _about(value: float, off: float) -> Range:
    return Range(value - off, value, value + off)


def _mates(asked: Beside, rows: Sequence[Beside]) -> Hint:
    """Say what was found on the pieces of the same pot or lot."""
    if not asked.lots:
        return Hint("lot", "unknown", "lot: its coats name no pot, so no batch-mate can be found.")
    mates = [row for row in rows if {"pot", "lot"} & set(row.shares)]
    early = [row.tag for row in mates if _last_says(row) is Says.TOO_EARLY]
    fine = [row.tag for row in mates if _last_says(row) is Says.FINE]
    said = (
        f"lot {', '.join(asked.lots)}: of {counted(len(mates), 'batch-mate')} {len(fine)} last "
        f"found fine, {len(early)} too soft or sunk, the others not looked at."
    )
    if not fine and not early:
        return Hint("lot", "unknown", said)
    return Hint(
        "lot", "differs" if _last_says(asked) is not _common(fine, early) else "alike", said
    )


def _last_says(row: Beside) -> Says | None:
    return says_of(row.findings[-1]) if row.findings else None


def _common(fine: Sequence[str], early: Sequence[str]) -> Says:
    return Says.FINE if len(fine) > len(early) else Says.TOO_EARLY


def _sentence(rows: Sequence[Beside], hints: Sequence[Hint]) -> str:
    if not rows:
        return "There is nothing of the same finish to compare it with: nothing can be told."
    differs = [hint.about for hint in hints if hint.says == "differs"]
    few = (
        f"{counted(len(rows), 'piece')} beside it: too few to show a cause. "
        if len(rows) < FEW
        else ""
    )
    if not differs:
        return f"{few}Nothing that is recorded sets it clearly apart; that clears neither."
    return f"{few}What sets it apart: {', '.join(differs)}. A difference is a place to look."
