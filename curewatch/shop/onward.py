"""Can it be fitted up, cased, shipped: the gates that come after the buff.

Each is a wait of its own. A film that buffs well still takes the weave of a case's lining, and
hardened lacquer that bore the shop's winter cracks in a van. No gate ever says more than 'test
first'.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Final

from curewatch.shop.findings import Says
from curewatch.shop.finish import MilestoneName
from curewatch.shop.proof import says_of

if TYPE_CHECKING:
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.finish import Finish
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.piece import Piece
    from curewatch.shop.words import Words

COLD_ROAD_C: Final = 5.0
"""Below this hardened brittle films were seen to crack on the way (common practice, no source)."""
COLDEST_C, WARMEST_C = -60.0, 60.0


class Gate(StrEnum):
    """What is to be done with a finished piece."""

    FIT_UP = "fit-up"  # hardware, strings, straps
    CASE = "case"
    SHIP = "ship"


class Pass(StrEnum):
    """Whether a gate is open; `TEST_FIRST` is the most that hours can say."""

    TEST_FIRST = "test-first"
    NOT_YET = "not-yet"
    UNKNOWN = "unknown"


ASKS: Final = {
    Gate.FIT_UP: MilestoneName.BUFF,
    Gate.CASE: MilestoneName.FULL_CURE,
    Gate.SHIP: MilestoneName.FULL_CURE,
}
TEST: Final = {
    Gate.FIT_UP: "On a panel of the same age: a screw's washer and a strap under load over night "
    "leave no print. Clamp and string with felt between.",
    Gate.CASE: "On a panel of the same age: a piece of the case's lining under a weight for a day "
    "leaves no weave. A warm case prints sooner.",
    Gate.SHIP: "Pack as for a case, and tell the customer: no straps or stands of rubber or vinyl "
    "yet, and a cold parcel stays closed over night before it is opened.",
}
"""Common practice, no source."""


@dataclass(frozen=True, slots=True)
class GateNow:
    """A gate as it stands: its verdict, why, the milestone it waits for, and the test it asks."""

    gate: Gate
    verdict: Pass
    reason: str
    waits_for: Milestone | None
    test: str


def onward(
    now: PieceNow,
    piece: Piece,
    finish: Finish,
    *,
    words: Words,
    now_ms: int,
    coldest_c: float | None = None,
) -> tuple[GateNow, ...]:
    """
    Return the gates after the buff as they stand.

    Parameters
    ----------
    now, piece, finish
        The piece, as it stands and as entered, and its profile.
    words : Words
        How things are said.
    now_ms : int
        The moment [ms].
    coldest_c : float, optional
        The coldest it will get on the way [degC], as a person forecasts it.
    """
    found = []
    for gate, name in ASKS.items():
        stone = now.milestone(name)
        verdict, reason = _by_hours(now, piece, stone, now_ms, words)
        if gate is Gate.SHIP and verdict is not Pass.NOT_YET:
            verdict, reason = _by_road(finish, coldest_c, verdict, reason=reason, words=words)
        found.append(GateNow(gate, verdict, reason, stone, TEST[gate]))
    return tuple(found)


def _by_hours(
    now: PieceNow, piece: Piece, stone: Milestone | None, now_ms: int, words: Words
) -> tuple[Pass, str]:
    """Judge a gate by its milestone and by what was found since the last coat."""
    if now.held is not None:
        return Pass.NOT_YET, f"It is held: {now.held}"
    if stone is None or stone.required_hours is None:
        return Pass.UNKNOWN, "No clock answers for it: go by the product's sheet, and test."
    coated_ms = piece.coats_until(now_ms)[-1].at_ms
    looked = [o for o in piece.outcomes if coated_ms <= o.at_ms <= now_ms]
    if looked and says_of(looked[-1].finding) is Says.TOO_EARLY:
        return Pass.NOT_YET, f"The last that was found on it is {looked[-1].finding}."
    if not now.coating_done:
        return Pass.NOT_YET, "Nobody has said that its coats are done; the next one starts it anew."
    if stone.cautious_at is None:
        told = (stone.required_hours, stone.cautious_hours, stone.late_hours)
        asked = max(hours for hours in told if hours is not None)
        when = "" if stone.eta is None else f" Expected {words.expect(stone.eta, now_ms)}."
        has = stone.reached_hours or 0.0
        return Pass.NOT_YET, f"It has {has:.0f} h of the {asked:.0f} h that are sure.{when}"
    return Pass.TEST_FIRST, "Its hours are in, to be sure as well. Hours are no test."


def _by_road(
    finish: Finish, coldest_c: float | None, verdict: Pass, *, reason: str, words: Words
) -> tuple[Pass, str]:
    """Judge the way by its coldest hour."""
    if coldest_c is None:
        return Pass.UNKNOWN, f"{reason} How cold it gets on the way is not said: --coldest-c T"
    brittle = finish.limits.cold_check_k_h is not None
    if brittle and coldest_c < COLD_ROAD_C:
        return (
            Pass.NOT_YET,
            (
                f"At {words.temp(coldest_c)} on the way a film of this family may crack: wait for "
                "milder days, or send it warm and let it warm up closed."
            ),
        )
    return verdict, f"{reason} {words.temp(coldest_c)} on the way, if the forecast holds."
