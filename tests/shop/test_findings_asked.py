"""Which findings are offered first, by how far a piece has come."""

from __future__ import annotations

from dataclasses import replace

from curewatch.cli.outcome import FINDINGS
from curewatch.shop.findings_asked import BARE, BUFFED, DRYING, LEVELLED, findings_for
from curewatch.shop.piece import Piece, WorkKind
from tests.shop.scene import at_h, piece


def test_the_stage_is_what_was_done_since_the_last_coat() -> None:
    worked = piece(
        "acid-cure",
        [0.0, 10.0],
        work=[(WorkKind.BUFF, 5.0), (WorkKind.LEVEL, 20.0), (WorkKind.BUFF, 30.0)],
    )
    assert findings_for(worked, at_h(12.0)) == ("coats on, not levelled yet", DRYING)
    assert findings_for(worked, at_h(20.0)) == ("levelled", LEVELLED)
    assert findings_for(worked, at_h(40.0)) == ("buffed", BUFFED)
    left = replace(worked, left_ms=at_h(25.0))
    assert findings_for(left, at_h(24.0))[0] == "levelled"
    assert findings_for(left, at_h(26.0)) == ("out of the shop", BUFFED)
    assert findings_for(Piece("A1", "acid-cure"), at_h(1.0)) == ("no coat on it yet", BARE)


def test_every_finding_offered_is_one_and_each_is_offered_once() -> None:
    for offered in (BARE, DRYING, LEVELLED, BUFFED):
        assert set(offered) <= set(FINDINGS)
        assert len(set(offered)) == len(offered)
    assert set(DRYING) | set(LEVELLED) | set(BUFFED) == set(FINDINGS)
