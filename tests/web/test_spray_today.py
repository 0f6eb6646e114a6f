"""Which finishes of a room stand together on today, and that it says what the check says."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

from curewatch.shop.spray_terms import Verdict
from curewatch.web.spray_today import answers, together
from curewatch.web.views.room_page import answer_of
from tests.small_shop import HOUR_MS
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from pathlib import Path

    from curewatch.shop.spray_answer import SprayAnswer
    from curewatch.web.desk import Counter


def answer(finish: str, verdict: Verdict, reason: str) -> SprayAnswer:
    binding = SimpleNamespace(reason=reason) if reason else None
    now = SimpleNamespace(finish=finish, sentence=f"{verdict.words}: {reason}")
    made = SimpleNamespace(verdict=verdict, now=now, binding=binding, ahead_decides=False)
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


def _asked(counter: Counter) -> tuple[Verdict, Verdict, Verdict]:
    counter = replace(counter, memo={})
    room = counter.assessment().rooms[0]
    finish = counter.shop.finish_of(counter.shop.pieces["B1"])
    today = answers(counter, room)[0]
    return today.now.verdict, today.verdict, answer_of(counter, room.name, finish).verdict


def test_the_hours_a_coat_needs_count_on_today_as_they_do_in_the_room(tmp_path: Path) -> None:
    with WebShop.at(tmp_path) as shop:
        for left in range(30, -1, -1):  # it cools hour by hour: fit at this moment, soon no longer
            shop.hear(NOW_MS - left * HOUR_MS, hours=1, temp_c=19.0 + 0.8 * left)
        shop.hang("B1")
        now, today, room = shop.app.state.room.desk.ask(_asked)
    assert now is Verdict.FIT
    assert today is room
    assert today is not Verdict.FIT
