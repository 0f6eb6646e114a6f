"""Presence topics: what says that a sensor is gone, that it is there, or neither."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.intake.presence import PresenceMapping

WORD = PresenceMapping("loft", "shop/loft/presence")
MEMBER = PresenceMapping("loft", "shop/loft/presence", "/here", ("false", "0"))


@pytest.mark.parametrize(
    ("mapping", "payload", "gone"),
    [
        (WORD, b"offline", True),
        (WORD, b"Offline\n", True),
        (WORD, b'"gone"', True),
        (WORD, b"online", False),
        (WORD, b"", None),
        (WORD, b"null", None),
        (WORD, b'{"here": false}', False),
        (MEMBER, b'{"here": false}', True),
        (MEMBER, b'{"here": 0}', True),
        (MEMBER, b'{"here": true}', False),
        (MEMBER, b'{"there": true}', None),
        (MEMBER, b"offline", None),
    ],
)
def test_gone_there_or_nothing_said(
    mapping: PresenceMapping, payload: bytes, *, gone: bool | None
) -> None:
    assert mapping.says_gone(payload) is gone


@given(payload=st.binary())
def test_any_bytes_are_an_answer(payload: bytes) -> None:
    assert WORD.says_gone(payload) in (True, False, None)
    assert MEMBER.says_gone(payload) in (True, False, None)
