"""Sensors of one kind: whose message it is, and who is noticed without having a place."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.intake.families import MOST_NEWCOMERS, Family, Newcomers, family_fault

LEVEL = Family("air", "shop/{id}/climate")
PACK = Family("packs", "shop/packs", ("urn:dev:mac:{id}:temp", "urn:dev:mac:{id}:rh"))


@pytest.mark.parametrize(
    ("topic", "names"),
    [
        ("shop/a1/climate", ("a1",)),
        ("shop/a 1/climate", ("a 1",)),
        ("shop//climate", ()),
        ("shop/a1/b/climate", ()),
        ("shop/a1/state", ()),
        ("shop/" + "x" * 201 + "/climate", ()),
    ],
)
def test_the_name_stands_in_its_level(topic: str, names: tuple[str, ...]) -> None:
    assert LEVEL.filter == "shop/+/climate"
    assert LEVEL.heard_in(topic, b"") == names


def test_the_name_may_be_a_part_of_a_level_and_wildcards_may_stand_beside_it() -> None:
    family = Family("air", "+/dev-{id}/#")
    assert family.filter == "+/+/#"
    assert family.heard_in("shop/dev-7/x/y", b"") == ("7",)
    assert family.heard_in("shop/other-7/x", b"") == ()


def test_the_name_may_stand_in_the_records_of_a_pack() -> None:
    pack = [
        {"bn": "urn:dev:mac:0a:", "n": "temp", "v": 21},
        {"n": "rh", "v": 48},
        {"bn": "urn:dev:mac:0b:", "n": "temp", "v": 20},
        {"bn": "urn:else:", "n": "temp", "v": 20},
    ]
    assert PACK.heard_in("shop/packs", json.dumps(pack).encode()) == ("0a", "0b")
    assert PACK.heard_in("shop/other", json.dumps(pack).encode()) == ()
    assert PACK.heard_in("shop/packs", b"no pack") == ()


@pytest.mark.parametrize("topic", ["shop/{id}/{id}", "", "shop/{id}#", "shop/+{id}/x"])
def test_a_topic_that_will_not_do_is_a_fault(topic: str) -> None:
    assert family_fault(topic)


def test_who_has_a_place_is_no_newcomer_and_the_others_are_told_once() -> None:
    heard = Newcomers([LEVEL], [("air", "a1")])
    assert heard.take("shop/a1/climate", b"", 1000) == []
    (new,) = heard.take("shop/b2/climate", b"", 2000)
    assert (new.kind, new.name, new.topic) == ("air", "b2", "shop/b2/climate")
    assert heard.take("shop/b2/climate", b"", 5000) == []
    (known,) = heard.everyone()
    assert (known.first_ms, known.last_ms, known.messages) == (2000, 5000, 2)


def test_no_flood_of_names_fills_the_memory() -> None:
    heard = Newcomers([LEVEL], [])
    for number in range(3 * MOST_NEWCOMERS):
        heard.take(f"shop/n{number}/climate", b"", number)
    assert len(heard.everyone()) == MOST_NEWCOMERS


@given(topic=st.text(), payload=st.binary() | st.text().map(str.encode))
def test_whatever_comes_is_a_name_or_none(topic: str, payload: bytes) -> None:
    for family in (LEVEL, PACK, Family("any", "{id}/#")):
        for name in family.heard_in(topic, payload):
            assert 0 < len(name) <= 200
            assert "/" not in name
