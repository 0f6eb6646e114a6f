"""The page of what-if and of cold nights says what the commands answer today."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.planning_page import Example, examples, sums, worked

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate

PAGE = Path(__file__).parents[2] / "docs" / "what-if.md"
TEXT = PAGE.read_text(encoding="utf-8")
DAYS = 12.0
ROUNDING = 1.5  # of the last place by hand: rounded factors add up
NIGHT_H = 0.15  # the room falls and rises within one reading of ten minutes


def cold_night(hour: float) -> float:
    """Return 21 degC but for 12 degC from 20:00 to 6:00 of the night before noon of 'now'."""
    return 12.0 if 6.0 < DAYS * 24.0 - hour <= 16.0 else 21.0


@pytest.mark.parametrize(("expression", "said"), sums(TEXT))
def test_every_line_of_arithmetic_is_right(expression: str, said: str) -> None:
    places = len(said.partition(".")[2])
    assert abs(worked(expression) - float(said)) <= 0.5000001 * 10.0**-places


def test_the_page_has_arithmetic_and_examples() -> None:
    assert len(sums(TEXT)) >= 25
    assert [len(example.facts) for example in examples(TEXT)] == [3, 5, 4, 4, 5]


@pytest.mark.parametrize("example", examples(TEXT), ids=lambda example: example.words[0])
def test_every_command_answers_what_was_worked_out_by_hand(
    example: Example, curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(days=DAYS, temp_c=cold_night)
    answer = curewatch(*example.words, "--json").plain
    for path, said in example.facts:
        value = answer
        for key in path.split("."):
            value = value[int(key) if key.isdecimal() else key]
        places = len(said.partition(".")[2])
        error = NIGHT_H if example.words[0] == "lost" else ROUNDING * 10.0**-places
        assert value == pytest.approx(float(said), abs=error), path
