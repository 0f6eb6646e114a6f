"""Pieces: hung, listed, shown, planned, taken down, re-judged, and their whole history."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.shop.finish import MilestoneName

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch, StoresClimate

OWN = """
name = "{name}"
title = "Shop clear"
extends = "waterborne"

[hours.wet-sand]
value = {hours}
standing = "data-sheet"
source = "an invented sheet"
"""


@pytest.fixture
def hung(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """Give a shop where A1 has hung in the drying room for nine days of steady climate."""
    climate()
    curewatch("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying", "--at", "9d ago")
    return curewatch


def test_hanging_keeps_the_finish_as_a_revision_and_says_what_comes_next(
    curewatch: Curewatch, kept: Callable[[], Store], climate: StoresClimate
) -> None:
    climate()
    said = curewatch(
        *("piece", "hang", "A1", "--finish", "nitro-lacquer", "--room", "drying"),
        *("--title", "guitar back", "--coats", "4"),
    )
    assert "A1: hung in drying" in said.flat
    assert "Nitrocellulose lacquer, 4 coats planned" in said.flat
    assert "curewatch coat A1" in said.flat
    with kept() as store:
        piece = store.pieces.load("A1")
        assert (piece.finish, piece.finish_revision, piece.planned_coats) == ("nitro-lacquer", 1, 4)
        assert 'name = "nitro-lacquer"' in store.finishes.text("nitro-lacquer", 1)


def test_hanging_without_a_room_says_that_it_earns_nothing(curewatch: Curewatch) -> None:
    said = curewatch("piece", "hang", "A1", "--finish", "shellac")
    assert "earns no hours yet: curewatch move A1 ROOM" in said.flat
    assert "Nobody has tried this profile whole" in said.flat


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("A1", "--finish", "waterborne", "--room", "dryng"), "did you mean drying? Configured"),
        (("A1", "--finish", "waterborn"), "did you mean waterborne"),
        (("void", "--finish", "waterborne"), "it is a word of the commands"),
        (("List", "--finish", "waterborne"), "it is a word of the commands"),
        (("A 1", "--finish", "waterborne"), "cannot be a tag"),
        (("A1", "--finish", "waterborne", "--at", "2100-01-01"), "lies ahead"),
        (("A1", "--finish", "waterborne", "--at", "1926-03-01"), "check the year"),
        (("A1", "--finish", "waterborne", "--coats", "0"), "at least one"),
    ],
)
def test_what_cannot_be_hung_is_refused_with_a_way_out(
    curewatch: Curewatch,
    climate: StoresClimate,
    kept: Callable[[], Store],
    words: tuple[str, ...],
    complaint: str,
) -> None:
    climate(days=0.1)
    said = curewatch("piece", "hang", *words, status=2)
    assert complaint in said.complaint
    with kept() as store:
        assert store.pieces.load_all(left=True) == ()


def test_several_are_hung_together_or_not_at_all(
    hung: Curewatch, kept: Callable[[], Store]
) -> None:
    said = hung("piece", "hang", "A2", "A1", "--finish", "waterborne", status=2)
    assert "there is a piece A1 already" in said.complaint
    assert "Nothing was stored for A2, A1" in said.complaint
    with kept() as store:
        assert [piece.tag for piece in store.pieces.load_all()] == ["A1"]


def test_list_says_how_each_piece_stands(hung: Curewatch) -> None:
    hung("coat", "A1", "--at", "10min ago")
    said = hung("piece", "list")
    assert "A1" in said.out
    assert "Too early for the next coat" in said.flat
    assert said.narrow()
    (piece,) = hung("piece", "list", "--json").plain["pieces"]
    assert piece["piece"] == "A1"
    assert piece["window"]["state"] == "too-early"


def test_an_empty_list_says_how_to_hang_one(curewatch: Curewatch) -> None:
    assert "curewatch piece hang TAG --finish NAME --room ROOM" in curewatch("piece", "list").flat


def test_show_tells_sentence_clocks_milestones_window_entries_and_safety(hung: Curewatch) -> None:
    for ago in ("8d ago", "7d 22h ago"):
        hung("coat", "A1", "--at", ago, "--wet-um", "90", "--note", "front")
    hung("piece", "done", "A1")
    hung("outcome", "A1", "fine")
    said = hung("piece", "show", "A1")
    assert said.narrow()
    assert "Ready to wet-sand since" in said.flat
    assert "± " in said.flat
    assert "doubt comes from what the thermometers may be off by" in said.flat
    for name in MilestoneName:
        assert name in said.out
    assert "coat 2" in said.out
    assert "90 µm" in said.out
    assert "no gas detector" in said.flat
    plain = hung("piece", "show", "A1", "--json").plain
    assert plain["coats"] == len(plain["coats_laid"]) == 2
    assert plain["stays"] == [
        {"id": 1, "room": "drying", "from": "2026-02-24T12:00:00.000Z", "to": None}
    ]
    assert plain["outcomes"][0]["finding"] == "fine"
    assert plain["clocks"]["cure"]["effective_hours"] == pytest.approx(190.0, abs=0.2)
    assert plain["safety"]


def test_show_names_gaps_and_coverage(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(days=1.0)  # the record begins a day ago, the coat lies two days back
    curewatch(
        *("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying", "--at", "3d ago")
    )
    curewatch("coat", "A1", "--at", "2d ago")
    said = curewatch("piece", "show", "A1")
    assert "Without credit since the last coat:" in said.flat
    assert "Tue 3 Mar 12:00 to yesterday 12:00 (24 h)" in said.flat
    assert "Readings cover 50 % of the time" in said.flat


def test_an_unknown_tag_is_met_with_the_nearest(hung: Curewatch) -> None:
    assert "did you mean A1" in hung("piece", "show", "A11", status=2).complaint


def test_done_plans_the_coats_there_are(hung: Curewatch) -> None:
    assert "no coat is logged" in hung("piece", "done", "A1", status=2).complaint
    hung("coat", "A1", "--at", "5d ago")
    assert "coating done with 1 coat;" in hung("piece", "done", "A1").flat
    assert hung("piece", "show", "A1", "--json").plain["coating_done"] is True


def test_plan_may_be_raised_again(hung: Curewatch) -> None:
    hung("coat", "A1", "--at", "5d ago")
    assert "1 of 3 coats are on" in hung("piece", "plan", "A1", "3").flat
    answer = hung("piece", "plan", "A1", "2", "--json").plain
    assert (answer["planned_coats"], answer["coats"]) == (2, 1)
    assert "at least one" in hung("piece", "plan", "A1", "0", status=2).complaint


def test_a_plan_that_opens_the_coating_again_says_so(hung: Curewatch) -> None:
    for at in ("5d ago", "4d ago"):
        hung("coat", "A1", "--at", at)
    assert "coating done with 2 coats; from here" in hung("piece", "plan", "A1", "2").flat
    again = hung("piece", "plan", "A1", "4").flat
    assert again == "A1: coating is open again, and sanding and buffing wait: 2 of 4 coats are on."
    answer = hung("piece", "plan", "A1", "3", "--json").plain
    assert (answer["planned_before"], answer["told"]) == (4, "2 of 3 coats are on.")


def test_a_plan_of_fewer_coats_than_are_on_says_how_many_too_many(hung: Curewatch) -> None:
    for at in ("5d ago", "4d ago", "3d ago"):
        hung("coat", "A1", "--at", at)
    done = hung("piece", "plan", "A1", "2").flat
    assert "coating done with 3 coats, 1 more than planned now; from here it waits" in done
    assert "coating stays done with 3 coats, 2 more" in hung("piece", "plan", "A1", "1").flat


def test_a_piece_that_left_is_listed_on_request_and_shown_as_it_stood(hung: Curewatch) -> None:
    hung("coat", "A1", "--at", "5d ago")
    hung("piece", "leave", "A1", "--at", "1d ago")
    assert hung("piece", "list", "--json").plain["pieces"] == []
    assert "left the shop" in hung("piece", "list", "--left").flat
    left = hung("piece", "list", "--left", "--json").plain["left"]
    assert left[0]["left_at"] == "2026-03-04T12:00:00.000Z"
    shown = hung("piece", "show", "A1", "--json").plain
    assert shown["clocks"]["cure"]["effective_hours"] == pytest.approx(96.0, abs=0.2)
    assert "this is how it stood then" in hung("piece", "show", "A1").flat
    assert "left the shop" in hung("piece", "leave", "A1", status=2).complaint
    assert "left the shop" in hung("coat", "A1", status=2).complaint


def test_leaving_before_a_later_move_is_refused(hung: Curewatch, kept: Callable[[], Store]) -> None:
    hung("move", "A1", "spray", "--at", "1d ago")
    said = hung("piece", "leave", "A1", "--at", "2d ago", status=2)
    assert "came into spray after that" in said.complaint
    with kept() as store:
        assert store.pieces.load("A1").left_ms is None


def test_history_shows_voided_entries_with_why(hung: Curewatch) -> None:
    hung("coat", "A1", "--at", "5d ago", "--note", "too thin")
    hung("coat", "void", "1", "--why", "was another piece")
    said = hung("piece", "history", "A1")
    assert said.narrow()
    assert "VOID." in said.flat
    assert "coat 1 was voided" in said.flat
    assert "was another piece" in said.flat
    entries = hung("piece", "history", "A1", "--json").plain["entries"]
    assert [entry["what"] for entry in entries] == ["hang", "move", "coat"]
    assert entries[2]["void"]["why"] == "was another piece"
    assert entries[2]["facts"]["note"] == "too thin"


def test_rejudging_says_what_changed(
    curewatch: Curewatch, climate: StoresClimate, shop_config: Path
) -> None:
    climate()
    own = shop_config.parent / "finishes" / "shop-clear.toml"
    own.write_text(OWN.format(name="shop-clear", hours=60), encoding="utf-8")
    curewatch(
        *("piece", "hang", "A1", "--finish", "shop-clear", "--room", "drying", "--at", "6d ago")
    )
    curewatch("coat", "A1", "--at", "5d ago")
    curewatch("piece", "done", "A1")
    assert "newest profile already" in curewatch("piece", "rejudge", "A1").flat

    own.write_text(OWN.format(name="shop-clear", hours=200), encoding="utf-8")
    assert "Ready to wet-sand" in curewatch("piece", "show", "A1").flat  # as it was sprayed under
    said = curewatch("piece", "rejudge", "A1", "--why", "new sheet of May")
    assert said.narrow()
    assert "re-judged under revision 2, before that 1" in said.flat
    assert "hours.wet-sand" in said.out
    assert "Not ready to wet-sand" in said.flat
    last = curewatch("piece", "history", "A1", "--json").plain["entries"][-1]
    assert last["facts"] == {"revision": 2, "why": "new sheet of May"}
    assert curewatch("piece", "show", "A1", "--json").plain["finish_revision"] == 2


def test_rejudging_tells_scripts_the_figures(
    curewatch: Curewatch, climate: StoresClimate, shop_config: Path
) -> None:
    climate()
    own = shop_config.parent / "finishes" / "shop-clear.toml"
    own.write_text(OWN.format(name="shop-clear", hours=60), encoding="utf-8")
    curewatch("piece", "hang", "A1", "--finish", "shop-clear", "--room", "drying")
    own.write_text(OWN.format(name="shop-clear", hours=72), encoding="utf-8")
    plain = curewatch("piece", "rejudge", "A1", "--json").plain
    assert (plain["from_revision"], plain["to_revision"]) == (1, 2)
    assert plain["changed"] == [
        {"what": "hours.wet-sand", "before": "60 h, data-sheet", "after": "72 h, data-sheet"}
    ]


def test_the_configuration_may_be_named_behind_the_form(hung: Curewatch, shop_config: Path) -> None:
    said = hung("piece", "list", "--config", str(shop_config), "--json")
    assert said.plain["pieces"][0]["piece"] == "A1"


def test_without_a_database_one_is_made_and_said(curewatch: Curewatch, shop_config: Path) -> None:
    (shop_config.parent / "shop.db").unlink()
    answer = curewatch("piece", "list")
    assert "made" in answer.complaint
    assert (shop_config.parent / "shop.db").is_file()


def test_by_the_systems_clock_nothing_is_entered_ahead_of_it(
    curewatch: Curewatch, shop_config: Path
) -> None:
    text = shop_config.read_text(encoding="utf-8")
    shop_config.write_text(text.replace('"readings"', '"system"'), encoding="utf-8")
    hang = ("piece", "hang", "A1", "--finish", "waterborne", "--at")
    assert "lies ahead" in curewatch(*hang, "tomorrow 23:59", status=2).complaint
    curewatch(*hang, "now")
