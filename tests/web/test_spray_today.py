"""Which finishes of a room stand together on today."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

from curewatch.shop.spray_terms import Verdict
from curewatch.web.spray_today import together

if TYPE_CHECKING:
    from curewatch.shop.spray_answer import SprayAnswer


def answer(finish: str, verdict: Verdict, reason: str) -> SprayAnswer:
    binding = SimpleNamespace(reason=reason) if reason else None
    now = SimpleNamespace(finish=finish)
    sentence = f"{verdict.words}: {reason}"
    made = SimpleNamespace(verdict=verdict, now=now, binding=binding, sentence=sentence)
    return cast("SprayAnswer", made)


def test_finishes_of_one_verdict_and_one_reason_stand_together() -> None:
    said = together(
        [
            answer("lacquer", Verdict.WAIT, "air at 12 °C, at least 18 °C asked"),
            answer("oil", Verdict.FIT, ""),
            answer("shellac", Verdict.WAIT, "air at 12 °C, at least 15 °C asked"),
            answer("waterborne", Verdict.WAIT, "air at 12 °C, at least 18 °C asked"),
        ]
    )
    assert [(one.verdict, one.finishes) for one in said] == [
        (Verdict.WAIT, ("lacquer", "waterborne")),
        (Verdict.FIT, ("oil",)),
        (Verdict.WAIT, ("shellac",)),
    ]
    assert said[0].reason == "air at 12 °C, at least 18 °C asked"
