"""The gates after the buff: never more than 'test first', and each with a wait of its own."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.shop.assessment import assess_piece
from curewatch.shop.onward import Gate, GateNow, Pass, onward
from curewatch.shop.piece import Outcome
from curewatch.shop.plain_compare import onward_plain
from curewatch.shop.words import Words
from tests.shop.scene import at_h, finish, piece, shop_of, steady
from tests.shop.test_standings import untold

if TYPE_CHECKING:
    from curewatch.shop.piece import Piece


def gates(  # noqa: PLR0913 - what a test leaves out is the usual
    name: str,
    hours: float,
    *,
    found: tuple[Outcome, ...] = (),
    planned: int | None = 1,
    coldest_c: float | None = 15.0,
    held: str | None = None,
    one: Piece | None = None,
) -> dict[Gate, GateNow]:
    own = one or replace(piece(name, [1.0], planned=planned), outcomes=found)
    shop = shop_of({"loft": steady(100.0)}, finishes=[finish(name)], pieces=[own])
    now = replace(assess_piece(shop, own, at_h(hours)), held=held)
    told = onward(now, own, finish(name), words=Words(), now_ms=at_h(hours), coldest_c=coldest_c)
    assert untold(onward_plain(now, told, now_ms=at_h(hours), coldest_c=coldest_c)) == []
    return {gate.gate: gate for gate in told}


def test_ready_to_buff_is_not_ready_for_its_case() -> None:
    told = gates("waterborne", 120.0)
    assert told[Gate.FIT_UP].verdict is Pass.TEST_FIRST
    assert told[Gate.CASE].verdict is Pass.NOT_YET
    assert told[Gate.SHIP].verdict is Pass.NOT_YET
    assert "Expected" in told[Gate.CASE].reason


def test_hours_alone_never_open_a_gate_without_a_test() -> None:
    told = gates("waterborne", 59.0 * 24.0)
    assert {gate.verdict for gate in told.values()} == {Pass.TEST_FIRST}
    assert all("panel" in told[gate].test for gate in (Gate.FIT_UP, Gate.CASE))


@pytest.mark.parametrize(
    ("finding", "verdict"), [("lint-print", Pass.NOT_YET), ("fine", Pass.TEST_FIRST)]
)
def test_the_last_finding_since_the_last_coat_counts(finding: str, verdict: Pass) -> None:
    found = (Outcome(at_h(1300.0), "fine"), Outcome(at_h(1400.0), finding))
    assert gates("waterborne", 1410.0, found=found)[Gate.FIT_UP].verdict is verdict
    assert gates("waterborne", 1390.0, found=found)[Gate.FIT_UP].verdict is Pass.TEST_FIRST
    before = (Outcome(at_h(0.5), "nail-dent"),)
    assert gates("waterborne", 1410.0, found=before)[Gate.FIT_UP].verdict is Pass.TEST_FIRST


def test_coats_that_may_still_come_a_hold_and_a_bare_piece_open_nothing() -> None:
    assert gates("waterborne", 1400.0, planned=None)[Gate.CASE].verdict is Pass.NOT_YET
    assert gates("waterborne", 1400.0, held="froze")[Gate.FIT_UP].verdict is Pass.NOT_YET
    bare = gates("waterborne", 10.0, one=piece("waterborne", []))
    assert {gate.verdict for gate in bare.values()} == {Pass.UNKNOWN}
    assert gates("dose-cured", 1400.0)[Gate.CASE].verdict is Pass.UNKNOWN


def test_the_road_is_asked_about_and_cold_cracks_brittle_films() -> None:
    late = 59.0 * 24.0
    assert gates("waterborne", late, coldest_c=None)[Gate.SHIP].verdict is Pass.UNKNOWN
    assert gates("waterborne", late, coldest_c=-10.0)[Gate.SHIP].verdict is Pass.TEST_FIRST
    assert gates("nitro-lacquer", late, coldest_c=-10.0)[Gate.SHIP].verdict is Pass.NOT_YET
    old = 99.0 * 24.0
    assert gates("nitro-lacquer", old, coldest_c=-10.0)[Gate.SHIP].verdict is Pass.NOT_YET
    assert gates("nitro-lacquer", old, coldest_c=15.0)[Gate.SHIP].verdict is Pass.TEST_FIRST
    assert gates("nitro-lacquer", old, coldest_c=None)[Gate.SHIP].verdict is Pass.UNKNOWN


def test_a_room_nobody_hears_expects_nothing() -> None:
    own = piece("waterborne", [1.0], planned=1, room="shed")
    shop = shop_of({"loft": steady(2.0)}, finishes=[finish("waterborne")], pieces=[own])
    now = assess_piece(shop, own, at_h(40.0))
    told = onward(now, own, finish("waterborne"), words=Words(), now_ms=at_h(40.0))
    assert {gate.verdict for gate in told} == {Pass.NOT_YET}
    assert all("Expected" not in gate.reason for gate in told)
