"""Pots: entered, listed, shown, used up; coats laid from them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.fixture
def hung(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """Give a shop with an acid-cured A1 and a waterborne W1 in the drying room, at 31 degC."""
    climate(days=3.0, temp_c=31.0)
    climate("spray", days=3.0)
    for tag, finish in (("A1", "acid-cure"), ("W1", "waterborne")):
        curewatch("piece", "hang", tag, "--finish", finish, "--room", "drying", "--at", "2d ago")
    return curewatch


def mix(curewatch: Curewatch, name: str = "P1", at: str = "2h ago", room: str = "drying") -> None:
    curewatch(
        *("pot", "mix", name, "--finish", "acid-cure", "--lot", "L7", "--room", room),
        *("--crosslinker-pct", "10", "--crosslinker-lot", "C3", "--at", at, "--who", "ann"),
    )


def test_a_pot_mixed_says_how_long_it_lives_and_the_caution_once(hung: Curewatch) -> None:
    said = hung(
        *("pot", "mix", "P1", "--finish", "acid-cure", "--lot", "L7", "--room", "drying"),
        *("--crosslinker-pct", "10", "--reducer-pct", "15", "--thinner", "slow", "--tint", "2 g"),
    )
    assert said.narrow()
    assert (
        "Pot P1: acid-cure, lot L7, 10 % crosslinker, 15 % reducer (slow), tint 2 g, mixed today "
        "12:00."
    ) in said.flat
    assert "It lives until today 14:1" in said.flat  # 8 h at 31 degC: 2.9 likely, less early
    assert "likely until today 14:5" in said.flat
    assert said.flat.count("their catalyst is corrosive") == 1
    assert "Never mix in more of anything than the data sheet says" in said.flat


def test_a_coat_names_its_pot_and_takes_its_mixing_and_room(hung: Curewatch) -> None:
    mix(hung, at="4h ago")
    (coat,) = hung("coat", "A1", "--pot", "p1", "--who", "bo", "--json").plain["coats"]
    assert (coat["pot"], coat["mixed_at"], coat["who"]) == ("P1", "2026-03-05T08:00:00.000Z", "bo")
    assert [deed["kind"] for deed in coat["deeds"]] == ["pot-over"]  # 4 h at 31 degC are 11 to 14
    assert "P1" in hung("piece", "history", "A1").flat
    assert "bo" in hung("piece", "history", "A1").flat
    assert "pot P1. bo" in hung("coat", "list", "A1").flat


def test_a_pot_that_stood_in_a_cooler_room_than_the_piece_is_judged_there(
    hung: Curewatch,
) -> None:
    mix(hung, at="4h ago", room="spray")
    (coat,) = hung("coat", "A1", "--pot", "P1", "--json").plain["coats"]
    assert coat["deeds"] == []
    assert "Pot P1 lives until today" in coat["remarks"][0]


def test_a_coat_without_its_pot_is_asked_for_it_and_never_blocked(hung: Curewatch) -> None:
    mix(hung, at="1h ago")
    asked = hung("coat", "A1", "--at", "30min ago")
    assert "1 pot is open for acid-cure: P1. Was it from that?" in asked.flat
    assert "pot" not in hung("coat", "A1", "--no-pot", "--at", "20min ago").flat
    assert "is open for" not in hung("coat", "W1").flat
    hung("pot", "gone", "P1", "--at", "10min ago")
    assert "is open for" not in hung("coat", "A1", "--at", "5min ago").flat
    mix(hung, "P2", at="50min ago")
    mix(hung, "P3", at="50min ago")
    assert "2 pots are open for acid-cure: P2 and P3" in hung("coat", "A1", "--really").flat


def test_a_pot_of_another_finish_or_one_gone_by_then_is_refused(hung: Curewatch) -> None:
    mix(hung)
    assert "holds acid-cure, and W1 is judged by waterborne" in (
        hung("coat", "W1", "--pot", "P1", status=2).complaint
    )
    hung("pot", "gone", "P1", "--at", "1h ago")
    assert "was gone today 11:00, before this coat" in (
        hung("coat", "A1", "--pot", "P1", status=2).complaint
    )
    assert "no pot 'P9'" in hung("coat", "A1", "--pot", "P9", status=2).complaint
    assert hung("piece", "show", "A1", "--json").plain["coats"] == 0
    assert "not allowed with" in hung("coat", "A1", "--pot", "P1", "--no-pot", status=2).err


def test_a_pot_said_to_be_gone_by_mistake_stands_again(hung: Curewatch) -> None:
    mix(hung)
    hung("pot", "gone", "P1")
    assert "Pot P1 is not gone: it stood behind the door" in (
        hung("pot", "back", "p1", "--why", "it stood behind the door").flat
    )
    assert hung("pot", "show", "P1", "--json").plain["gone_at"] is None
    told = hung("pot", "gone", "P1", "--json").plain
    assert told["gone_at"] == "2026-03-05T12:00:00.000Z"
    assert hung("pot", "back", "P1", "--why", "no", "--json").plain["gone_at"] is None


def test_open_pots_are_listed_and_the_others_on_request(hung: Curewatch) -> None:
    assert "No pot is open." in hung("pot", "list").flat
    mix(hung, "old", at="1d ago")
    mix(hung, "fresh", at="1h ago")
    mix(hung, "used", at="1h ago")
    hung("pot", "gone", "used")
    said = hung("pot", "list")
    assert said.narrow()
    assert "fresh" in said.out
    assert "old" not in said.out
    assert "used" not in said.out
    everyone = hung("pot", "list", "--all")
    assert "over yesterday" in everyone.flat
    assert "gone today" in everyone.flat
    pots = hung("pot", "list", "--all", "--json").plain["pots"]
    assert [(pot["pot"], pot["open"], pot["over"]) for pot in pots] == [
        ("old", False, True),
        ("fresh", True, False),
        ("used", False, False),
    ]
    assert pots[1]["aged_h"] > 2.7  # an hour at 31 degC, early end
    assert pots[1]["ends"]["early"] < pots[1]["ends"]["likely"]


def test_a_pot_shows_its_coats_and_pieces(hung: Curewatch) -> None:
    mix(hung, at="3h ago")
    assert "No coat is logged from it." in hung("pot", "show", "P1").flat
    hung("coat", "A1", "--pot", "P1", "--at", "2h ago")
    said = hung("pot", "show", "P1")
    assert "1 coat laid from it, on A1." in said.flat
    assert "Over since today" in said.flat
    assert "Do not spray from it; mix a fresh one." in said.flat
    assert hung("pot", "show", "P1", "--json").plain["pieces"] == [{"piece": "A1", "coats": 1}]
    hung("pot", "gone", "P1")
    assert "It is gone since today 12:00" in hung("pot", "show", "P1").flat


def test_a_pot_whose_room_is_not_told_says_that_warmth_is_not_counted(hung: Curewatch) -> None:
    said = hung("pot", "mix", "P1", "--finish", "acid-cure", "--lot", "L7", "--note", "thick")
    assert "It lives until today 20:00 at its early end (8.0 h left)" in said.flat
    assert "Nobody said where it stands" in said.flat
    assert "Note: thick" in hung("pot", "show", "P1").flat
    plain = hung("pot", "mix", "P2", "--finish", "nitro-lacquer", "--lot", "L9")
    assert "Its finish gives no pot life" in plain.flat
    assert "no life given" in hung("pot", "list").flat


def test_bad_pots_are_refused_with_what_to_do(hung: Curewatch) -> None:
    mixing = ("pot", "mix", "P1", "--finish", "acid-cure", "--lot", "L7")
    assert "no room 'attic'" in hung(*mixing, "--room", "attic", status=2).complaint
    assert "400 % crosslinker is not plausible" in (
        hung(*mixing, "--crosslinker-pct", "400", status=2).complaint
    )
    assert "lies ahead" in hung(*mixing, "--at", "2100-01-01", status=2).complaint
    assert "no spaces" in hung("pot", "mix", "a b", *mixing[3:], status=2).complaint
    assert "pots" in hung("pot", "list", "--json").plain


def test_a_voided_pot_no_longer_counts_and_its_coats_have_none(hung: Curewatch) -> None:
    mix(hung, at="4h ago")
    hung("coat", "A1", "--pot", "P1")
    said = hung("pot", "void", "P1", "--why", "wrong lot")
    assert "Pot P1 no longer counts: wrong lot" in said.flat
    assert "Coats on A1 were logged from it" in said.flat
    assert "no pot 'P1'" in hung("pot", "show", "P1", status=2).complaint
    assert hung("piece", "show", "A1", "--json").plain["deeds"] == []
    mix(hung, "P2")
    assert hung("pot", "void", "P2", "--why", "spilt", "--json").plain["voided"]["pot"] == "P2"
    mix(hung, "P3")
    assert hung("pot", "gone", "P3", "--json").plain["pot"] == "P3"
    assert hung("pot", "mix", "P4", "--finish", "acid-cure", "--lot", "1", "--json").plain["open"]
