"""Test boards at the bench: from the question to the comparison."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from curewatch.shop.trial import PENCILS
from tests.planning_page import sums, worked

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate

TEXT = (Path(__file__).parents[2] / "docs" / "test-boards.md").read_text(encoding="utf-8")


@pytest.fixture
def trial(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """Return the command in a shop with a trial: boards of two finishes in two rooms."""
    climate("drying", days=12.0, temp_c=21.0)
    climate("spray", days=12.0, temp_c=16.0)
    for tag, finish, room in (
        ("W1", "waterborne", "drying"),
        ("W2", "waterborne", "spray"),
        ("N1", "nitro-lacquer", "drying"),
    ):
        curewatch("piece", "hang", tag, "--finish", finish, "--room", room,
                  "--at", "2026-02-22T13:00")  # fmt: skip
        curewatch("coat", tag, "--at", "2026-02-22T14:00")
    curewatch("test-boards", "start", "haze-1", "--question", "which hazes least")
    curewatch("test-boards", "add", "haze-1", "W1", "W2", "N1")
    return curewatch


def set_scale(curewatch: Curewatch) -> None:
    """Set the shop's scale for haze, on which more is worse."""
    curewatch("test-boards", "scale", "haze-1", "haze", "--worst", "10", "--best", "0",
              "--words", "0 clear, 10 fog")  # fmt: skip


def test_boards_are_compared_with_their_cure_history(trial: Curewatch) -> None:
    set_scale(trial)
    for tag, value, at in (
        ("W1", "2", "2026-02-26T14:00"), ("W1", "3", "2026-02-26T15:00"),
        ("N1", "6", "2026-02-26T14:00"), ("W2", "8", "2026-02-26T14:00"),
    ):  # fmt: skip
        trial("test-boards", "score", tag, "haze", value, "--who", f"j{value}", "--at", at)
    said = trial("test-boards", "show", "haze-1")
    assert "from 10 (worst) to 0 (best): 0 clear, 10 fog" in said.flat
    assert "96 ± " in said.flat
    assert "left out:" in said.flat  # W2 hung at 16 degC: it is younger than its date
    assert "No winner is declared" in said.flat
    assert "Fewer than 3 boards of nitro-lacquer, waterborne" in said.flat
    assert said.narrow()
    plain = trial("test-boards", "show", "haze-1", "--json").plain
    (comparison,) = plain["comparisons"]
    (row,) = comparison["rows"]
    by_tag = {cell["board"]: cell for cell in row["boards"]}
    assert by_tag["W1"]["value"] == 2.5
    assert by_tag["W1"]["share_of_scale"] == 0.75
    assert by_tag["W1"]["history"]["effective_h"] == pytest.approx(96.0, abs=0.2)
    assert by_tag["W1"]["history"]["mean_temp_c"] == pytest.approx(21.0)
    assert by_tag["W2"]["left_out_because"].startswith("ages differ by 4")
    wide = trial("test-boards", "show", "haze-1", "--equal-age-pct", "100", "--json").plain
    assert wide["comparisons"][0]["rows"][0]["boards"][1]["left_out_because"] is None


def test_measured_gloss_and_pencils_need_no_scale(trial: Curewatch) -> None:
    gloss = ("gloss", "--unit", "GU", "--angle", "60")
    for tag, at, value in (("W1", "2026-02-24T14:00", "80"), ("W1", "2026-03-03T14:00", "72")):
        trial("test-boards", "score", tag, *gloss[:1], value, *gloss[1:], "--at", at)
    said = trial("test-boards", "show", "haze-1")
    assert "W1 after 1.0 weeks: 90 % of its first gloss." in said.flat
    assert "not compared" in said.out
    told = trial("test-boards", "score", "W1", "hardness", "2h", "--at", "2026-03-04T14:00")
    assert told.out.startswith("W1: hardness, pencil 2H, yesterday 14:00 (entry ")
    plain = trial("test-boards", "score", "N1", "hardness", "hb", "--how", "750 g", "--json").plain
    assert (plain["pencil"], plain["unit"], plain["how"]) == ("HB", "pencil", "750 g")
    rubs = trial("test-boards", "score", "N1", "rubs", "50", "--unit", "rubs", "--json").plain
    assert rubs["value"] == 50.0


def test_a_score_can_be_voided(trial: Curewatch) -> None:
    number = trial("test-boards", "score", "W1", "rubs", "9", "--unit", "rubs", "--json").plain[
        "id"
    ]
    said = trial("test-boards", "void", f"#{number}", "--why", "wrong board")
    assert "no longer counts: wrong board" in said.out
    assert trial("test-boards", "show", "haze-1", "--json").plain["comparisons"] == []
    again = trial("test-boards", "void", str(number), "--why", "x", status=2)
    assert "void already" in again.complaint
    other = trial("test-boards", "score", "W1", "rubs", "9", "--unit", "rubs", "--json").plain["id"]
    voided = trial("test-boards", "void", str(other), "--why", "x", "--json").plain["voided"]
    assert voided == {"what": "score", "id": other, "why": "x"}


def test_trials_are_listed_and_begun(trial: Curewatch) -> None:
    assert "haze-1: which hazes least (3 boards)" in trial("test-boards", "list").out
    plain = trial("test-boards", "list", "--json").plain
    assert plain["trials"][0]["boards"] == ["W1", "W2", "N1"]
    begun = trial("test-boards", "start", "two", "--question", "which mars", "--json").plain
    assert (begun["trial"], begun["boards"]) == ("two", [])
    assert "one board: W1" in trial("test-boards", "add", "two", "W1").out
    assert trial("test-boards", "add", "two", "N1", "--json").plain["boards"] == ["W1", "N1"]
    assert "Nothing is scored yet" in trial("test-boards", "show", "two").flat
    scale = trial("test-boards", "scale", "two", "mar", "--worst", "0", "--best", "5",
                  "--words", "5 none", "--json").plain  # fmt: skip
    assert (scale["worst"], scale["best"], scale["quality"]) == (0.0, 5.0, "mar")


def test_without_a_trial_the_list_says_how_to_begin(curewatch: Curewatch) -> None:
    assert "curewatch test-boards start" in curewatch("test-boards", "list").flat


def test_the_sheet_says_how_each_trial_is_done(curewatch: Curewatch) -> None:
    said = curewatch("test-boards", "sheet", "hardness")
    assert "Pencil hardness" in said.out
    assert "(from memory)" in said.flat
    assert "Safety" in said.out
    assert "Solvent burns" not in said.flat
    assert said.narrow()
    every = curewatch("test-boards", "sheet")
    assert "Solvent burns" in every.flat
    assert every.narrow()
    plain = curewatch("test-boards", "sheet", "mar", "--json").plain
    assert list(plain["sheets"]) == ["mar"]
    assert plain["sheets"]["mar"]["standing"] == "common-practice"


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("score", "W1", "haze", "7"), "no scale is set for haze"),
        (("score", "W1", "haze", "seven"), "is no figure"),
        (("score", "W1", "gloss", "80", "--unit", "GU"), "need the meter's angle"),
        (("score", "W1", "hardness", "22H"), "there is no pencil"),
        (("score", "W1", "rubs", "9", "--unit", "rubs", "--at", "2100-01-01T08:00"), "lies ahead"),
        (("void", "x", "--why", "y"), "is not the number of a score"),
        (("void", "77", "--why", "y"), "there is no score with number 77"),
        (("show", "nothing"), "there is no trial 'nothing'"),
        (("show", "haze-1", "--equal-age-pct", "0"), "give 1 to 100"),
        (("scale", "haze-1", "haze", "--worst", "1", "--best", "1", "--words", "x"), "a length"),
    ],
)
def test_what_cannot_be_is_refused(
    trial: Curewatch, words: tuple[str, ...], complaint: str
) -> None:
    assert complaint in trial("test-boards", *words, status=2).complaint


@pytest.mark.parametrize(("expression", "said"), sums(TEXT))
def test_the_arithmetic_of_the_page_is_right(expression: str, said: str) -> None:
    places = len(said.partition(".")[2])
    assert abs(worked(expression) - float(said)) <= 0.5000001 * 10.0**-places


def test_the_page_tells_the_order_of_the_pencils() -> None:
    assert len(sums(TEXT)) == 5
    assert " ".join(PENCILS).startswith("6B 5B 4B 3B 2B B HB F H 2H")
    assert "`6B 5B 4B 3B 2B B HB F H 2H ... 9H`" in TEXT
    assert PENCILS[-1] == "9H"


def test_the_commands_of_the_page_are_taken(trial: Curewatch) -> None:
    lines = [line for line in TEXT.splitlines() if line.startswith("curewatch test-boards")]
    forms = set()
    for line in lines:
        words = shlex.split(line, comments=True)[1:]
        forms.add(words[1])
        ended = trial(*words, status=None)
        assert "usage:" not in ended.err, line  # refused for what it says, not for how it is said
    assert forms == {"start", "add", "scale", "sheet", "score", "show", "void"}
