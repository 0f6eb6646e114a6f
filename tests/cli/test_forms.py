"""The forms of the bench's commands: their help, and what is no form."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch

PIECE = ("hang", "list", "show", "done", "plan", "leave", "rejudge", "history", "suspects",
         "compare", "onward")  # fmt: skip
JOIN = ("join", "unjoin")
POT = ("mix", "list", "show", "gone", "void")
STOCK = ("add", "move", "gone", "list", "void")
QUARANTINE = ("lot", "pot", "piece", "list", "release")
ROOM = ("list", "show", "reading", "import", "fill", "gaps", "ahead", "seasons",
        "void-fill")  # fmt: skip
FORMS = [
    *((command,) for command in ("coat", "work", "move", "outcome", "piece", "room", "sensor")),
    *(("piece", form) for form in (*PIECE, *JOIN)),
    *(("pot", form) for form in POT),
    *(("stock", form) for form in STOCK),
    *(("quarantine", form) for form in QUARANTINE),
    *(("follow-up", form) for form in ("list", "close")),
    *(("room", form) for form in ROOM),
    *(("sensor", form) for form in ("list", "beside", "salt", "void")),
    ("finish",),
    *(("finish", form) for form in ("list", "show", "new")),
]


@pytest.mark.parametrize("form", FORMS, ids=" ".join)
def test_help_fits_a_plain_terminal(
    curewatch: Curewatch, monkeypatch: pytest.MonkeyPatch, form: tuple[str, ...]
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    said = curewatch(*form, "--help")
    assert said.out.startswith(f"usage: curewatch {' '.join(form)}")
    assert said.narrow()


@pytest.mark.parametrize("command", ["piece", "room", "sensor", "finish"])
def test_a_command_with_forms_asks_for_one(curewatch: Curewatch, command: str) -> None:
    assert "WHAT" in curewatch(command, status=2).err
    assert "invalid choice: 'polish'" in curewatch(command, "polish", status=2).err
