"""The history of a piece in words, in the order in which things were so."""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING

import pytest

from curewatch.cli.entry_said import entered_said, entry_said
from curewatch.shop.words import Words
from curewatch.storage.history import Entry
from curewatch.storage.voids import Void
from tests.cli.conftest import HOUR_MS, NOW_MS

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate

WORDS = Words(zone=UTC)


@pytest.mark.parametrize(
    ("what", "facts", "said"),
    [
        ("hang", {"finish": "oil", "revision": 2, "title": "lute"}, "oil, revision 2, lute"),
        ("move", {"room": "loft"}, "into loft"),
        ("coat", {"wet_um": 90.0, "passes": 2, "pot": "P1", "who": "Ann", "note": ""},
         "90 µm (3.5 mil) wet, 2 passes, pot P1, by Ann"),
        ("coat", {"wet_um": None, "passes": 1, "mixed_at_ms": NOW_MS - HOUR_MS, "note": "thin"},
         "mixed today 11:00, thin"),
        ("work", {"kind": "buff", "anyway": "a show", "who": "Bo"}, "buff, anyway: a show, by Bo"),
        ("outcome", {"finding": "fine", "note": "no smell"}, "fine, no smell"),
        ("plan", {"coats": 1}, "1 coat in all"),
        ("rejudge", {"revision": 3, "why": "typo"}, "by revision 3, typo"),
        ("join", {"onto": "BODY", "part": "", "note": "glued"}, "onto BODY, glued"),
        ("join", {"onto": "", "part": "NECK"}, "with its part NECK"),
        ("hold", {"what": "batch", "target": "P1", "why": "lumps"}, "pot P1, lumps"),
        ("release", {"target": "P1", "why": "strained"}, "P1, strained"),
        ("follow-up closed", {"days": 30}, "not looked at, days after it was finished: 30"),
        ("leave", {}, ""),
    ],
)  # fmt: skip
def test_facts_are_said_in_words(what: str, facts: dict[str, str | int | None], said: str) -> None:
    entry = Entry(what, 1, NOW_MS, NOW_MS, {**facts})
    assert entry_said(entry, WORDS, NOW_MS) == said


def test_what_is_void_and_what_was_entered_late_is_marked() -> None:
    entry = Entry("move", 1, NOW_MS - 5 * HOUR_MS, NOW_MS, {"room": "loft"}, Void("typo", NOW_MS))
    assert entry_said(entry, WORDS, NOW_MS) == "VOID. into loft"
    assert entered_said(entry, WORDS, NOW_MS) == "today 12:00, late"
    soon = Entry("move", 1, NOW_MS - HOUR_MS // 2, NOW_MS)
    assert entered_said(soon, WORDS, NOW_MS) == "today 12:00"


def test_a_history_is_told_by_when_it_was_so(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(days=4.0)
    curewatch(
        *("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying", "--at", "3d ago")
    )
    curewatch("coat", "A1", "--wet-um", "90", "--no-pot", "--at", "1d ago")
    curewatch("coat", "A1", "--wet-um", "70", "--no-pot", "--at", "2d ago")
    said = curewatch("piece", "history", "A1")
    assert said.narrow()
    assert said.flat.index("70 µm") < said.flat.index("90 µm")
    assert "wet um" not in said.flat
    assert "late" in said.flat
