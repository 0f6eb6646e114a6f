"""What names a command is told without it."""

from __future__ import annotations

import pytest

from curewatch.web.plainly import without_commands


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("Wait; the window opens about 16:00.", "Wait; the window opens about 16:00."),
        ("Log the first one: curewatch coat A.1", "Log the first one."),
        (
            (
                "B1 has a coat at that very time already (number 3): give this one its own time, "
                "or void that one: curewatch coat void 3 --why ..."
            ),
            (
                "B1 has a coat at that very time already (number 3): give this one its own time, "
                "or void that one."
            ),
        ),
        (
            "void that one: curewatch coat void 3 --why .... Nothing was stored for A1, A2",
            "void that one. Nothing was stored for A1, A2.",
        ),
        (
            "B1 left the shop today 9:00: if it is back, say so first: curewatch move B1 ROOM",
            "B1 left the shop today 9:00: if it is back, say so first.",
        ),
        (
            "there is no alert with number 9: 'curewatch alert list' shows them",
            "there is no alert with number 9.",
        ),
        (
            "look at the tag, or hang it first: 'curewatch piece hang TAG --finish NAME'",
            "look at the tag, or hang it first.",
        ),
        (
            (
                "Look, and log what you find: curewatch outcome B1 FINDING; if nobody can look: "
                "curewatch follow-up close B1 --days 30 --why ..."
            ),
            "Look, and log what you find; if nobody can look, close the question.",
        ),
        (
            "Do no more work on it, until it is released: curewatch quarantine list",
            "Do no more work on it, until it is released.",
        ),
    ],
)
def test_a_sentence_ends_where_its_command_begins(said: str, told: str) -> None:
    assert without_commands(said) == told
