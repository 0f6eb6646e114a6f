"""The page of planning says what plans do today: its arithmetic, its commands, its table."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from curewatch.cli.main import main
from tests.planning_page import MARK, PAGE, Example, examples, measured, sums, table, worked

if TYPE_CHECKING:
    from pathlib import Path

TEXT = PAGE.read_text(encoding="utf-8")
SECONDS = 60.0  # by hand to the minute: rounded factors add up


@pytest.mark.parametrize(("expression", "said"), sums(TEXT))
def test_every_line_of_arithmetic_is_right(expression: str, said: str) -> None:
    places = len(said.partition(".")[2])
    assert abs(worked(expression) - float(said)) <= 0.5000001 * 10.0**-places


def test_the_page_has_arithmetic_and_examples() -> None:
    assert len(sums(TEXT)) >= 15
    assert [len(example.facts) for example in examples(TEXT)] == [6, 2, 2, 3]


@pytest.mark.parametrize("example", examples(TEXT), ids=lambda example: example.words[0])
def test_every_command_answers_what_was_worked_out_by_hand(
    example: Example, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config = tmp_path / "curewatch.toml"
    config.write_text('[site]\nname = "page"\ntimezone = "UTC"\n', encoding="utf-8")
    assert main(["--config", str(config), "--json", *example.words]) == 0
    answer = json.loads(capsys.readouterr().out)
    for path, said in example.facts:
        value = answer
        for key in path.split("."):
            value = value[int(key) if key.isdecimal() else key]
        if "T" in said:
            told = datetime.fromisoformat(said).replace(tzinfo=UTC)
            assert abs((datetime.fromisoformat(value) - told).total_seconds()) <= SECONDS, path
        elif said[0].isdecimal():
            assert value == pytest.approx(float(said), abs=0.1), path
        else:
            assert value == said, path


def test_the_table_is_what_the_records_say_today() -> None:
    today = table(measured())
    assert TEXT.partition(MARK)[2].strip() == today.strip(), "run `make planning`"


def test_arithmetic_is_arithmetic_alone() -> None:
    with pytest.raises(ValueError, match="no plain arithmetic"):
        worked("__import__")
