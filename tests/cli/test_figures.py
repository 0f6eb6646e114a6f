"""Every figure that is typed on any command: asked back, insisted on, or refused with a hint."""

from __future__ import annotations

import argparse
import importlib
from typing import TYPE_CHECKING

import pytest

from curewatch.cli.figures import number, whole
from curewatch.cli.frame import Parser
from curewatch.cli.main import COMMANDS

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch

FILL = ("room", "fill", "drying", "--from", "3h ago", "--to", "1h ago", "--why", "a look")
PLAN = ("plan", "--finish", "waterborne", "--coats", "2")
BY = ("finish-by", "2026-12-24", "--finish", "waterborne", "--coats", "2")
WHAT = ("what-if", "--finish", "waterborne")
CHECK = ("check", "--finish", "waterborne")
MIX = ("pot", "mix", "P1", "--finish", "waterborne-crosslinked", "--lot", "L1")
HOT, DRY, PART = "degF", "did you mean 50 %?", "did you mean 50 %?"
ASKED = [
    (("room", "reading", "drying", "--temp-c", "68"), HOT),
    (("room", "reading", "drying", "--temp-c", "21", "--rh-pct", "0.5"), DRY),
    (("room", "reading", "drying", "--surface-c", "66"), HOT),
    ((*FILL, "--temp-c", "66", "--rh-pct", "50"), HOT),
    ((*FILL, "--temp-c", "20", "--rh-pct", "0.5"), DRY),
    (("room", "ahead", "drying", "--temp-c", "68"), HOT),
    (("room", "ahead", "drying", "--rh-pct", "0.5"), DRY),
    (("room", "ahead", "drying", "--heating-off", "--drifts-to-c", "50"), HOT),
    ((*PLAN, "--temp-c", "70", "--rh-pct", "50"), HOT),
    ((*PLAN, "--temp-c", "21", "--rh-pct", "0.5"), DRY),
    ((*BY, "--temp-c", "70", "--rh-pct", "50"), HOT),
    ((*BY, "--temp-c", "21", "--rh-pct", "0.5"), DRY),
    ((*WHAT, "--temp-c", "70"), HOT),
    ((*WHAT, "--rh-pct", "0.5"), DRY),
    ((*WHAT, "--from-temp-c", "70", "--fan"), HOT),
    ((*WHAT, "--from-temp-c", "20", "--from-rh-pct", "0.5", "--fan"), DRY),
    ((*WHAT, "--cabinet-c", "80"), HOT),
    ((*WHAT, "--heater", "70", "--hours", "8:00-18:00"), HOT),
    (("air", "--temp-c", "70", "--rh-pct", "50"), HOT),
    (("air", "--temp-c", "21", "--rh-pct", "0.5"), DRY),
    ((*CHECK, "--temp-c", "70", "--rh-pct", "50"), HOT),
    ((*CHECK, "--temp-c", "21", "--rh-pct", "0.5"), DRY),
    ((*CHECK, "--temp-c", "21", "--rh-pct", "50", "--surface-c", "66"), HOT),
    ((*CHECK, "--temp-c", "21", "--rh-pct", "50", "--liquid-c", "66"), HOT),
    (("piece", "onward", "B1", "--coldest-c", "50"), HOT),
    ((*MIX, "--crosslinker-pct", "0.5"), PART),
    ((*MIX, "--reducer-pct", "0.5"), PART),
    ((*MIX, "--retarder-pct", "0.5"), PART),
]


@pytest.mark.parametrize(("words", "said"), ASKED, ids=[" ".join(row[0]) for row in ASKED])
def test_a_figure_hardly_meant_is_asked_back(
    curewatch: Curewatch, words: tuple[str, ...], said: str
) -> None:
    answer = curewatch(*words, status=2)
    assert said in answer.complaint
    assert "if it is meant so, add --really" in answer.complaint
    insisted = curewatch(*words, "--really", status=None)
    assert "did you mean" not in insisted.complaint


def test_a_reading_that_is_insisted_on_is_stored(curewatch: Curewatch) -> None:
    words = ("room", "reading", "drying", "--temp-c", "48", "--rh-pct", "30", "--json")
    assert curewatch(*words, "--really").plain["stored"] is True


def _options() -> list[tuple[str, argparse.Action]]:
    found: list[tuple[str, argparse.Action]] = []

    def gather(name: str, parser: argparse.ArgumentParser) -> None:
        for action in parser._actions:  # noqa: SLF001 - there is no public way to list options
            if isinstance(action, argparse._SubParsersAction):  # noqa: SLF001 - as above
                for form, sub in action.choices.items():
                    gather(f"{name} {form}", sub)
            else:
                found.append((name, action))

    for command in COMMANDS:
        module = importlib.import_module(f"curewatch.cli.{command.replace('-', '_')}")
        parser = Parser(prog=command)
        module.arguments(parser)
        gather(command, parser)
    return found


def test_no_number_and_no_climate_of_any_command_goes_round_the_question() -> None:
    options = _options()
    assert len(options) > len(COMMANDS)
    for name, action in options:
        assert action.type not in (float, int), f"{name} {action.option_strings}"
        typed = [one for one in action.option_strings if one.endswith(("-c", "rh-pct"))]
        assert not typed or hasattr(action, "sort"), f"{name} {typed}"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("air", "--temp-c", "21,5", "--rh-pct", "50"), "'21,5' is not a number: write 21.5"),
        (("air", "--temp-c", "21C", "--rh-pct", "50"), "in figures, without a unit"),
        (("coat", "B1", "--wet-um", "0,09"), "write 0.09"),
        ((*PLAN[:-1], "2,5"), "'2,5' is not a whole number: write 2.5"),
    ],
)
def test_a_number_that_is_none_says_how_to_write_it(
    curewatch: Curewatch, words: tuple[str, ...], said: str
) -> None:
    assert said in curewatch(*words, status=2).complaint


def test_numbers_are_read() -> None:
    assert (number("-1.5"), whole("12")) == (-1.5, 12)
