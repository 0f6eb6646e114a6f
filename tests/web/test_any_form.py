"""Whatever is sent as a form is stored, asked about or refused in words; nothing breaks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curewatch.shop.batch import Batch
from tests.small_shop import HOUR_MS
from tests.web.test_piece import Hand, written
from tests.web_shop import NOW_MS

if TYPE_CHECKING:
    from tests.web_shop import WebShop

TEXT = st.text(max_size=40)
NUMBERS = st.one_of(st.integers(), st.floats()).map(str)
SAID = st.one_of(TEXT, NUMBERS, st.sampled_from(("", "now", "2h ago", "4 mil", "99999999999999")))
BUTTONS = st.sampled_from(
    (
        {"deed": "coat"},
        {"deed": "leave"},
        {"deed": "plan"},
        {"deed": "no-more"},
        {"deed": "close"},
        {"deed": "undo"},
        {"deed": "void"},
        {"deed": "hold"},
        {"deed": "release"},
        {"deed": "join"},
        {"deed": "unjoin"},
        {"deed": "rejudge"},
        {"deed": "gone"},
        {"kind": "buff"},
        {"kind": "level"},
        {"to": "loft"},
        {"finding": "fine"},
    )
)
FIELDS = ("at", "ago", "wet", "passes", "pot", "who", "note", "coats", "days", "why", "of")
FIELDS += ("what", "number", "anyway", "tag", "room", "find", "lines", "kind", "to", "finding")
FIELDS += ("onto", "target", "really", "name", "finish", "lot", "crosslinker_pct", "tint")


@pytest.fixture
def hand(shop: WebShop) -> Hand:
    shop.hang("B2", NOW_MS - 3 * HOUR_MS)
    written(shop, "batches.mix", Batch("P1", "waterborne", 1, "L7", NOW_MS - HOUR_MS), NOW_MS)
    return Hand(shop, shop.known("Ada"), "/piece/B1")


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    button=BUTTONS,
    typed=st.dictionaries(st.sampled_from(FIELDS), SAID, max_size=6),
    place=st.sampled_from(("/piece/B1", "/piece/b2", "/hooks", "/piece/new", "/pots", "/pot/P1")),
)
def test_any_form_is_stored_asked_about_or_refused(
    hand: Hand, button: dict[str, str], typed: dict[str, str], place: str
) -> None:
    form = hand.form("/piece/new")
    answer = hand.client.post(place, data={**form, "tag": "B1", **typed, **button})
    assert answer.status_code in (303, 404, 409, 422), answer.text[-300:]  # 404: a pot voided
    if answer.status_code == 303:
        assert hand.client.get(answer.headers["location"]).status_code == 200
