"""What alerts are called on every face."""

from __future__ import annotations

import pytest

from curewatch.shop.alert import AlertKind
from curewatch.shop.alert_words import JUDGE_GLOSS, SAYS, heading, subject_said


@pytest.mark.parametrize(
    ("subject", "said"),
    [("piece:A12#coat-3", "Piece A12"), ("sensor:loft-air", "Sensor loft-air"), ("shop", "Shop")],
)
def test_a_subject_is_said_as_people_say_it(subject: str, said: str) -> None:
    assert subject_said(subject) == said


def test_every_kind_has_its_words() -> None:
    assert set(SAYS) == set(AlertKind)
    assert len(set(SAYS.values())) == len(SAYS)


@pytest.mark.parametrize(
    ("kind", "reason", "said"),
    [
        (AlertKind.READY_BUFF, "B1: ready to buff, 9 of 8 hours", "ready to buff"),
        (AlertKind.READY_BUFF, f"B1: buffed early: {JUDGE_GLOSS}, 9 of 8 hours", "judge the gloss"),
        (AlertKind.CURED, f"B1: {JUDGE_GLOSS}", "fully cured"),
    ],
)
def test_an_alert_is_headed_by_what_it_asks(kind: AlertKind, reason: str, said: str) -> None:
    assert heading(kind, reason) == said
