"""Taking back, whatever it was: each entry's opposite, and what cannot be taken back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.entries import pots
from curewatch.entries.holds import hold, release
from curewatch.entries.joining import join, unjoin
from curewatch.entries.undo import take_back
from curewatch.errors import BadInput
from curewatch.opened import Opened
from curewatch.settings import load_settings
from curewatch.shop.quarantine import Quarantine
from curewatch.storage import Store
from tests.cli.conftest import NOW_MS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.cli.conftest import Curewatch


@pytest.fixture
def at(curewatch: Curewatch, shop_config: Path) -> Iterator[Opened]:
    """A shop with pieces A1 and A2 and a pot P1."""
    curewatch("piece", "hang", "A1", "A2", "--finish", "acid-cure", "--room", "drying")
    curewatch(
        "pot", "mix", "P1", "--finish", "acid-cure", "--lot", "L7", "--at", "2026-03-05T11:00"
    )
    settings = load_settings(shop_config)
    with Store.open(settings.storage.path) as store:
        yield Opened(settings, store, NOW_MS, NOW_MS)


def test_a_pot_is_taken_back_and_one_gone_stands_again(at: Opened) -> None:
    pots.gone(at, "P1", NOW_MS)
    take_back(at, ("gone", "P1"), "not empty", who="")
    assert at.store.batches.get("P1").gone_ms is None
    take_back(at, ("pot", "P1"), "never mixed", who="")
    with pytest.raises(BadInput, match="no pot 'P1'"):
        at.store.batches.get("P1")


def test_a_hold_is_released_and_a_release_holds_again_for_its_own_reason(at: Opened) -> None:
    found, number = hold(at, Quarantine("piece", "a1", "crazed", NOW_MS, "Ada"))
    assert found.target == "A1"
    release(at, number, "looked again", who="Bo")
    take_back(at, ("release", number), "taken back", who="Bo")
    (again,) = at.store.quarantines.standing()
    assert (again.target, again.why, again.who) == ("A1", "crazed (taken back)", "Bo")
    take_back(at, ("hold", again.id), "taken back", who="Ada")
    assert at.store.quarantines.standing() == ()
    with pytest.raises(BadInput, match="no hold with number 99"):
        take_back(at, ("release", 99), "taken back", who="")


def test_joining_and_taking_apart_are_each_undone(at: Opened) -> None:
    joined = join(at, "a1", "A2", NOW_MS)
    take_back(at, ("joining", joined.number), "wrong neck", who="")
    assert at.store.joinings.all() == ()
    number = join(at, "A1", "A2", NOW_MS).number
    unjoin(at, "A1", "came off")
    take_back(at, ("unjoin", number), "it did not", who="")
    assert [(one.part, one.onto) for one in at.store.joinings.all()] == [("A1", "A2")]


def test_a_plan_of_coats_and_a_re_judging_leave_what_was_before(at: Opened) -> None:
    number = at.store.pieces.plan_coats("A1", 4, NOW_MS)
    take_back(at, ("plan", number), "three", who="")
    assert at.store.pieces.load("A1").planned_coats is None
    number = at.store.pieces.rejudge("A1", 2, "new sheet", NOW_MS)
    take_back(at, ("rejudge", number), "the old one", who="")
    assert at.store.pieces.load("A1").finish_revision == 1


def test_a_piece_hung_by_mistake_is_voided_by_command_and_its_tag_is_free(
    curewatch: Curewatch, at: Opened
) -> None:
    said = curewatch("piece", "void", "a1", "--why", "wrong finish")
    assert "A1 no longer counts: wrong finish" in said.flat
    assert "no piece with the tag 'A1'" in curewatch("piece", "show", "A1", status=2).complaint
    told = curewatch("piece", "void", "A2", "--why", "no", "--json").plain["voided"]
    assert told == {"what": "piece", "piece": "A2", "why": "no"}
    curewatch("piece", "hang", "A1", "--finish", "shellac")
    assert at.store.pieces.load("A1").finish == "shellac"


def test_the_free_name_of_a_pot_is_the_day_and_the_next_letter(at: Opened) -> None:
    assert pots.free_name(at) == "0305-a"
    pots.mix(at, pots.NewPot("0305-A", "acid-cure", "L7", NOW_MS))
    assert pots.free_name(at) == "0305-b"
