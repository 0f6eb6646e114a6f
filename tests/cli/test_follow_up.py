"""Follow-ups: listed, answered, closed; an outcome's two steps; overrides with their person."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.fixture
def buffed(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """Give A1 buffed anyway 35 days ago, and A2 that left the shop 31 days ago."""
    climate(days=45.0)
    hang = ("--finish", "acid-cure", "--room", "drying", "--at", "40d ago", "--coats", "1")
    curewatch("piece", "hang", "A1", "A2", *hang, "--title", "tenor")
    curewatch("coat", "A1", "A2", "--at", "39d ago", "--no-pot")
    said = curewatch(
        *("work", "A1", "buff", "--anyway", "show on Friday", "--who", "ann", "--at", "35d ago")
    )
    assert "Logged anyway: show on Friday (ann)." in said.flat
    assert "You are asked after 7 and 30 days whether it held." in said.flat
    curewatch("piece", "leave", "A2", "--at", "31d ago")
    return curewatch


def test_questions_are_listed_and_answered_by_an_outcome(buffed: Curewatch) -> None:
    said = buffed("follow-up", "list")
    assert said.narrow()
    assert "did it hold?" in said.flat
    rows = buffed("follow-up", "list", "--json").plain["follow_ups"]
    assert [(row["piece"], row["days"], row["anyway"]) for row in rows] == [
        ("A1", 30, "show on Friday"),
        ("A2", 30, ""),
    ]
    buffed("outcome", "A1", "grain-back", "--who", "bo")
    rows = buffed("follow-up", "list", "--json").plain["follow_ups"]
    assert [row["piece"] for row in rows] == ["A2"]  # it left, and is asked about all the same
    entries = buffed("piece", "history", "A1", "--json").plain["entries"]
    told = {entry["what"]: entry["facts"] for entry in entries}
    assert (told["work"]["anyway"], told["work"]["who"]) == ("show on Friday", "ann")
    assert told["outcome"]["who"] == "bo"
    assert "(bo)" in buffed("piece", "show", "A1").flat
    shown = buffed("piece", "show", "A1", "--json").plain
    assert (shown["work"][0]["who"], shown["outcomes"][0]["who"]) == ("ann", "bo")


def test_a_question_nobody_can_answer_is_closed_with_its_reason(buffed: Curewatch) -> None:
    said = buffed("follow-up", "close", "A2", "--days", "30", "--why", "sold abroad")
    assert "A2: the question after 30 days is closed: sold abroad" in said.flat
    assert "A2" not in buffed("follow-up", "list").out
    assert "sold abroad" in buffed("piece", "history", "A2").flat
    closed = buffed("follow-up", "close", "A1", "--days", "30", "--why", "x", "--json").plain
    assert (closed["piece"], closed["closed_days"]) == ("A1", 30)
    assert "No finished piece waits" in buffed("follow-up", "list").flat
    close = ("follow-up", "close", "A1", "--why", "x", "--days")
    assert "no question is asked then; one of 7, 30, 90, 180" in (
        buffed(*close, "31", status=2).complaint
    )
    assert "not asked about 90 days now" in buffed(*close, "90", status=2).complaint


def test_without_a_finding_those_that_fit_are_listed(buffed: Curewatch) -> None:
    said = buffed("outcome", "A1")
    assert said.narrow()
    assert "A1, buffed: what did you find?" in said.flat
    assert "1 fine: looked for faults, found none" in said.flat
    assert "Log it: curewatch outcome A1 FINDING" in said.flat
    plain = buffed("outcome", "A2", "--json").plain
    assert (plain["stage"], plain["findings"][1]["finding"]) == ("out of the shop", "gloss-lost")


class Terminal(io.StringIO):
    """A terminal on which one line is typed."""

    def isatty(self) -> bool:
        """Say that it is one."""
        return True


@pytest.mark.parametrize(
    ("typed", "logged"), [("2\n", "gloss-lost"), ("thumbprint\n", "thumbprint"), ("\n", None)]
)
def test_on_a_terminal_a_number_or_a_word_logs_it(
    buffed: Curewatch, monkeypatch: pytest.MonkeyPatch, typed: str, logged: str | None
) -> None:
    monkeypatch.setattr("sys.stdin", Terminal(typed))
    said = buffed("outcome", "A1", "--who", "bo")
    found = buffed("piece", "show", "A1", "--json").plain["outcomes"]
    assert [(each["finding"], each["who"]) for each in found] == (
        [(logged, "bo")] if logged else []
    )
    assert ("Nothing was logged." in said.flat) == (logged is None)


@pytest.mark.parametrize("typed", ["0\n", "99\n", "soft\n"])
def test_on_a_terminal_what_is_no_finding_is_refused(
    buffed: Curewatch, monkeypatch: pytest.MonkeyPatch, typed: str
) -> None:
    monkeypatch.setattr("sys.stdin", Terminal(typed))
    assert "is none of them" in buffed("outcome", "A1", status=2).complaint
