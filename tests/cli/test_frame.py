"""What every command shares: help that fits, and errors for people and for scripts."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from curewatch.cli.main import COMMANDS
from curewatch.cli.show import table

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_help_fits_a_plain_terminal_and_keeps_its_paragraphs(
    curewatch: Curewatch, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    said = curewatch(*filter(None, [command]), "--help")
    assert said.narrow()
    assert said.out.startswith(f"usage: curewatch{' ' if command else ''}{command}")


def test_a_commands_text_keeps_its_paragraphs(
    curewatch: Curewatch, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    said = curewatch("backup", "--help")
    assert "\nname.\n\nA copy on the same disk is no backup" in said.out


@pytest.mark.parametrize(
    ("words", "status", "kind", "message"),
    [
        (("piece", "show", "A9"), 2, "input", "there is no piece with the tag 'A9'"),
        (("check",), 2, "input", "the following arguments are required: --finish"),
        (("piece", "polish"), 2, "input", "invalid choice: 'polish'"),
        (
            ("room", "show", "drying", "twice"),
            2,
            "input",
            "'curewatch room show' does not take 'twice'",
        ),
        (("restore", "none.db"), 1, "storage", "there is no such file"),
        ((), 2, "input", "which command?"),
        (("--loud",), 2, "input", "--loud is not known"),
        (("roam",), 2, "input", "invalid choice: 'roam'"),
    ],
)
def test_with_json_an_error_is_an_object_and_is_said_to_people_too(
    curewatch: Curewatch, words: tuple[str, ...], status: int, kind: str, message: str
) -> None:
    said = curewatch("--json", *words, status=status)
    assert said.plain["format"] == 1
    assert said.plain["error"]["kind"] == kind
    assert message in said.plain["error"]["message"]
    assert message in said.complaint
    spoken = curewatch(*words, status=status)
    assert (spoken.out, spoken.err) == ("", said.err)


def test_faults_of_the_configuration_are_a_list(curewatch: Curewatch, shop_config: Path) -> None:
    shop_config.write_text("[site]\nname = 3\n[room]\n")
    error = curewatch("--json", "piece", "list", status=2).plain["error"]
    assert error["kind"] == "configuration"
    assert len(error["faults"]) == 2


def test_the_frame_alone_loads_no_numbers_library() -> None:
    # Threads of a linear algebra library would idle beside the daemon; `main` sees to it first.
    code = "import sys, curewatch.cli.main; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("plan", "--finish", "waterborne", "--coats", "2", "--start", "fri", "9:00"),
            "'9:00' stands alone: put the whole time in quotes, such as 'fri 9:00'",
        ),
        (("piece", "leave", "N1", "--why", "sold"), "'curewatch piece leave' takes no --why;"),
        (
            ("piece", "plan", "N1", "3", "or", "4"),
            "does not take 'or 4'; words that belong together",
        ),
        (("air", "--temp-c", "20", "--rh-pct", "50", "--why=x"), "'curewatch air' takes no --why;"),
    ],
)
def test_words_left_over_are_said_with_a_hint(
    curewatch: Curewatch, words: tuple[str, ...], said: str
) -> None:
    complaint = curewatch(*words, status=2).complaint
    assert "unrecognized" not in complaint
    assert said in complaint


def test_a_table_breaks_no_word_where_its_longest_words_fit(
    capsys: pytest.CaptureFixture[str],
) -> None:
    columns = ["milestone", "clock", "asks", "earliest", "by its hours", "to be sure"]
    when = "expected Sat 12 Dec 2026 afternoon"
    rows = [("recoat-closes", "drying", "no limit known", when, when, when)]
    table(columns, rows)
    said = capsys.readouterr().out
    assert max(len(line) for line in said.splitlines()) <= 80
    for word in ("recoat-closes", "milestone", "afternoon", "expected"):
        assert word in said
    table(["finish"], [("two-part-urethane" * 9,)])  # longer than any line: it has to break
    assert max(len(line) for line in capsys.readouterr().out.splitlines()) <= 80
    table(["a", "b"], [])
    assert "a" in capsys.readouterr().out


def test_what_lies_beyond_the_outlook_is_said_to(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying", temp_c=12.0)
    curewatch("piece", "hang", "B1", "--finish", "nitro-lacquer", "--room", "drying")
    curewatch("coat", "B1", "--at", "2026-03-04T08:00")
    said = curewatch("piece", "show", "B1")
    assert "it lies beyond the 60 days that an outlook reaches, or the room earns" in said.flat
    assert "No time to be sure of " in said.flat
    assert "full-cure" in said.out
