"""What the README shows can be typed, and what it points at is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from curewatch.cli.main import COMMANDS, main

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
FENCED = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
LINES = [
    *re.findall(r"`curewatch ([^`\n]+)`", README),
    *re.findall(r"^curewatch ([^\n]+)", "\n".join(FENCED), re.MULTILINE),
]
WORD = re.compile(r"[a-z][a-z-]*")
FORMS = ("piece", "pot", "stock", "quarantine", "follow-up", "room", "sensor", "finish", "alert")
LEAST = 20


def form_of(line: str) -> tuple[str, ...]:
    """Return the command of a line, and its form where it has such."""
    words = line.split()
    found = [word for word in words[: 2 if words[0] in FORMS else 1] if WORD.fullmatch(word)]
    return tuple(found)


SHOWN = sorted({form_of(line) for line in LINES})


@pytest.mark.parametrize("words", SHOWN, ids=" ".join)
def test_every_command_shown_is_one(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert words[0] in COMMANDS
    with pytest.raises(SystemExit) as end:
        main([*words, "--help"])
    assert end.value.code == 0
    assert capsys.readouterr().out.startswith(f"usage: curewatch {' '.join(words)}")


def test_the_daily_commands_are_shown() -> None:
    assert len(SHOWN) >= LEAST
    assert {"check", "plan", "bench-list", "what-if", "lost"} <= {words[0] for words in SHOWN}


def test_every_option_shown_beside_a_command_is_known(capsys: pytest.CaptureFixture[str]) -> None:
    for line in LINES:
        with pytest.raises(SystemExit):
            main([*form_of(line), "--help"])
        told = capsys.readouterr().out
        for option in re.findall(r"--[a-z][a-z0-9-]*", line.partition("#")[0]):
            assert option in told, f"{option} of '{line}'"


def test_every_page_it_points_at_is_there() -> None:
    links = re.findall(r"\]\(([^)#]+)\)", README)
    assert links
    assert [link for link in links if not (ROOT / link).exists()] == []


def test_every_page_of_the_docs_is_pointed_at() -> None:
    pages = {page.name for page in (ROOT / "docs").glob("*.md")}
    reached = set(re.findall(r"docs/([A-Za-z-]+\.md)", README))
    for page in sorted(reached):
        text = (ROOT / "docs" / page).read_text(encoding="utf-8")
        reached |= set(re.findall(r"\]\(([a-z-]+\.md)", text))
    assert pages - reached == set()
