"""Coats: logged alone and together, judged at once, listed, voided."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.storage.lock import daemon_lock
from tests.cli.conftest import HOUR_MS, NOW_MS

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.fixture
def hung(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """Give a shop with waterborne pieces A1, A2, A3 and an urethane B1 in the drying room."""
    climate()
    hang = ("--room", "drying", "--at", "9d ago")
    curewatch("piece", "hang", "A1", "A2", "A3", "--finish", "waterborne", *hang)
    curewatch("piece", "hang", "B1", "--finish", "two-part-urethane", *hang)
    return curewatch


def test_the_first_coat_says_when_the_window_opens_and_closes(hung: Curewatch) -> None:
    said = hung("coat", "A1")
    assert said.narrow()
    assert "A1: coat 1 laid today 12:00 (number 1)." in said.flat
    assert "Too early for the next coat" in said.flat
    assert "Recoat window: opens today about 13:" in said.flat
    assert "closes tomorrow 1" in said.flat


def test_a_coat_too_early_is_logged_and_told_to_trap_haze(hung: Curewatch) -> None:
    hung("coat", "A1", "--at", "2h ago")
    said = hung("coat", "A1", "--at", "1h 30min ago")
    assert "outside the recoat window, 30 min after the coat before" in said.flat
    assert "can trap haze" in said.flat
    (coat,) = hung("coat", "A1", "--at", "1h 10min ago", "--json").plain["coats"]
    assert [deed["kind"] for deed in coat["deeds"]] == ["coat-early"]
    assert coat["coat"] == 3
    assert coat["now"]["window"]["opens_at"] is not None


def test_a_coat_beyond_the_plan_is_told_so(hung: Curewatch) -> None:
    hung("piece", "plan", "A1", "1")
    assert "planned" not in hung("coat", "A1", "--at", "2d ago").flat
    said = hung("coat", "A1", "--at", "1d ago").flat
    assert "1 coat was planned, 2 are on now: coating still counts as done" in said
    assert "curewatch piece plan A1 N" in said
    remarks = hung("coat", "A1", "--json").plain["coats"][0]["remarks"]
    assert remarks[0].startswith("1 coat was planned, 3 are on now")


def test_a_coat_in_the_window_is_told_so(hung: Curewatch) -> None:
    hung("coat", "A1", "--at", "5h ago")
    (coat,) = hung("coat", "A1", "--at", "2h ago", "--json").plain["coats"]
    assert coat["deeds"] == []
    assert coat["stood"].startswith("It came inside the recoat window, 3.0 h after")


def test_a_late_coat_without_a_scuff_may_not_bond_and_with_one_does(hung: Curewatch) -> None:
    hung("coat", "A1", "A2", "--at", "3d ago")
    hung("work", "A2", "scuff", "--at", "3h ago")
    assert "without a scuff, may not bond" in hung("coat", "A1", "--at", "2h ago").flat
    assert "inside the recoat window" in hung("coat", "A2", "--at", "2h ago").flat


def test_a_coat_in_the_forbidden_middle_can_wrinkle(hung: Curewatch, shop_config: Path) -> None:
    figure = '[middle.{key}]\nvalue = {value}\nstanding = "data-sheet"\nsource = "invented"\n'
    text = 'name = "wrinkler"\ntitle = "Wrinkler"\nextends = "two-part-urethane"\n'
    text += figure.format(key="start_h", value=4) + figure.format(key="stop_h", value=16)
    (shop_config.parent / "finishes" / "wrinkler.toml").write_text(text, encoding="utf-8")
    hung("piece", "hang", "W1", "--finish", "wrinkler", "--room", "drying", "--at", "2d ago")
    hung("coat", "W1", "--at", "12h ago")
    assert "inside the forbidden middle can wrinkle" in hung("coat", "W1").flat


def test_a_pot_past_its_life_is_told(hung: Curewatch) -> None:
    said = hung("coat", "B1", "--at", "20min ago", "--mixed-at", "3h ago")
    assert "Sprayed from a pot aged" in said.flat
    assert "number 1" in said.flat


def test_a_pot_that_was_not_told_of_is_asked_for(hung: Curewatch) -> None:
    assert (
        "can be judged when --pot or --mixed-at tells"
        in hung("coat", "B1", "--at", "30min ago").flat
    )
    said = hung("coat", "A1", "--mixed-at", "5min ago")  # no pot life: nothing to judge
    assert "pot" not in said.flat.lower()


def test_a_fresh_pot_is_told_its_end(hung: Curewatch) -> None:
    said = hung("coat", "B1", "--at", "5min ago", "--mixed-at", "15min ago")
    assert "The pot is over today 12:45 at the latest, sooner in warmth." in said.flat


def test_a_window_that_closed_before_it_surely_opened_is_called_none(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(temp_c=18.0)
    hang = ("--room", "drying", "--at", "2d ago")
    curewatch("piece", "hang", "K1", "--finish", "acid-cure", *hang)
    said = curewatch("coat", "K1", "--at", "6h ago")
    assert "Recoat window: none that is sure; it may have closed today 7:00 already." in said.flat
    assert "open since" not in said.flat


def test_a_coat_put_between_others_tells_what_it_changes_for_them(hung: Curewatch) -> None:
    hung("coat", "A1", "--at", "8h ago")
    hung("coat", "A1", "--at", "4h ago")
    said = hung("coat", "A1", "--at", "4h 20min ago")
    assert "A1: coat 2 laid today 7:40 (number 3)." in said.flat
    assert "inside the recoat window" in said.flat
    assert "Coat 3 after 20 min" in said.flat  # the one laid twenty minutes later was too early


def test_a_coat_logged_where_nobody_said_where_it_hung_earns_nothing_and_says_so(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate()
    curewatch("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying", "--at", "1h ago")
    said = curewatch("coat", "A1", "--at", "3h ago")
    assert "curewatch move A1 ROOM --at 2026-03-05T09:00" in said.flat


def test_a_gap_between_two_coats_is_named(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(days=0.125)  # three hours
    curewatch("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying", "--at", "2d ago")
    curewatch("coat", "A1", "--at", "1d ago")
    assert "Readings cover only 12 % of that time" in curewatch("coat", "A1").flat


def test_several_tags_are_one_entry_all_or_none(hung: Curewatch, kept: Callable[[], Store]) -> None:
    said = hung("coat", "A1", "A2", "X9", status=2)
    assert "no piece with the tag 'X9'" in said.complaint
    assert "Nothing was stored for A1, A2, X9" in said.complaint
    with kept() as store:
        assert all(not piece.coats for piece in store.pieces.load_all())
    assert len(hung("coat", "A1", "A2", "A3", "--json").plain["coats"]) == 3


def test_a_piece_named_twice_is_refused(hung: Curewatch, kept: Callable[[], Store]) -> None:
    assert "A1 is named twice" in hung("coat", "A1", "a1", status=2).complaint
    with kept() as store:
        assert store.pieces.load("A1").coats == ()


def test_the_same_coat_entered_twice_is_refused(hung: Curewatch, kept: Callable[[], Store]) -> None:
    hung("coat", "A1", "--at", "yesterday 16:40")
    said = hung("coat", "A1", "--at", "yesterday 16:40", status=2)
    assert "has a coat at that very time already (number 1)" in said.complaint
    with kept() as store:
        assert len(store.pieces.load("A1").coats) == 1


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("A1", "--wet-um", "0.1"), "not possible"),
        (("A1", "--wet-um", "nan"), "not possible"),
        (("A1", "--passes", "0"), "at least one"),
        (("A1", "--at", "2h ago", "--mixed-at", "1h ago"), "mixed after"),
        (("A1", "--at", "noonish"), "is not a time"),
        (("A1", "--why", "because"), "does not take --why"),
        (("void", "1", "--wet-um", "9", "--why", "x"), "does not take --wet-um"),
        (("void", "one", "--why", "x"), "not the number of an entry"),
        (("void", "1"), "needs a reason"),
        (("void", "99", "--why", "x"), "no coat with number 99"),
        (("list",), "takes one tag"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_stored(
    hung: Curewatch, kept: Callable[[], Store], words: tuple[str, ...], complaint: str
) -> None:
    assert complaint in hung("coat", *words, status=2).complaint
    with kept() as store:
        assert store.pieces.load("A1").coats == ()


def test_list_shows_coats_with_their_numbers_and_the_void_ones(hung: Curewatch) -> None:
    assert "No coat is logged" in hung("coat", "list", "A1").flat
    hung("coat", "A1", "--at", "5h ago", "--wet-um", "80", "--passes", "2", "--note", "fog coat")
    hung("coat", "A1", "--at", "3h ago")
    hung("coat", "void", "2", "--why", "only cleaned the gun")
    said = hung("coat", "list", "A1")
    assert said.narrow()
    assert "fog coat" in said.flat
    assert "void: only cleaned the gun" in said.flat
    rows = hung("coat", "list", "A1", "--json").plain["coats"]
    assert [(row["id"], row["void"]) for row in rows] == [(1, None), (2, "only cleaned the gun")]
    assert (rows[0]["wet_um"], rows[0]["passes"]) == (80.0, 2)


def test_a_void_coat_counts_no_more(hung: Curewatch, kept: Callable[[], Store]) -> None:
    hung("coat", "A1", "--at", "5h ago")
    said = hung("coat", "void", "#1", "--why", "wrong piece")
    assert "Coat 1 of A1 (today 7:00) no longer counts: wrong piece" in said.flat
    again = hung("coat", "void", "1", "--why", "wrong piece", status=2)
    assert "void already" in again.complaint
    with kept() as store:
        assert store.pieces.load("A1").coats == ()


def test_voiding_tells_scripts_what_it_was(hung: Curewatch) -> None:
    hung("coat", "A1", "--at", "5h ago")
    voided = hung("coat", "void", "1", "--why", "x", "--json").plain["voided"]
    assert voided == {
        "what": "coat",
        "id": 1,
        "piece": "A1",
        "at": "2026-03-05T07:00:00.000Z",
        "why": "x",
        "coating_reopened": False,
    }


def test_a_coat_is_logged_while_a_daemon_holds_the_database(
    hung: Curewatch, shop_config: Path, kept: Callable[[], Store]
) -> None:
    with daemon_lock(shop_config.parent / "shop.db"), kept() as daemon:
        version = daemon.db.data_version()
        hung("coat", "A1")
        assert daemon.db.data_version() != version  # what the daemon looks at in every round
        assert len(daemon.pieces.load("A1").coats) == 1


def test_an_error_in_answering_says_that_the_coat_is_stored(
    hung: Curewatch, kept: Callable[[], Store]
) -> None:
    with kept() as store:
        store.db.execute("UPDATE finish_revision SET text = 'name = 1' WHERE name = 'waterborne'")
    said = hung("coat", "A1", status=1)
    assert "the coat on A1 is stored; only the answer failed" in said.complaint
    with kept() as store:
        assert len(store.pieces.load("A1").coats) == 1


def test_voiding_a_coat_says_that_a_finished_coating_is_open_again(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(days=3.0)
    curewatch("piece", "hang", "Z1", "--finish", "waterborne", "--room", "drying", "--at", "3d ago")
    for ago in ("2d ago", "1d 20h ago"):
        curewatch("coat", "Z1", "--no-pot", "--at", ago)
    curewatch("piece", "done", "Z1")
    said = curewatch("coat", "void", "2", "--why", "another piece").flat
    assert "Coating of Z1 is open again: 1 of 2 coats on" in said
    assert "curewatch piece plan Z1 1" in said
    told = curewatch("coat", "void", "1", "--why", "neither", "--json").plain["voided"]
    assert told["coating_reopened"] is False  # it was open already


def test_a_coat_too_early_across_a_gap_says_that_readings_are_missing(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(days=2.0, until_ms=NOW_MS - 9 * HOUR_MS)
    climate(days=1.0 / 24.0)
    curewatch("piece", "hang", "Z1", "--finish", "waterborne", "--room", "drying", "--at", "1d ago")
    curewatch("coat", "Z1", "--no-pot", "--at", "9h ago")
    curewatch("coat", "Z1", "--no-pot", "--at", "50min ago")
    said = curewatch("piece", "show", "Z1").flat
    assert "readings are missing for 8.0 h of that time and earn it nothing" in said


def test_a_coat_soon_after_another_is_asked_about_first(
    hung: Curewatch, kept: Callable[[], Store]
) -> None:
    hung("coat", "A1", "--who", "Ada", "--at", "4min ago")
    asked = hung("coat", "A1", "A2", "--who", "Bo", status=2)
    assert asked.complaint == (
        "curewatch: A1 got a coat 4 min ago by Ada. Is this another one? Then add --really; "
        "nothing was stored"
    )
    with kept() as store:
        assert [len(store.pieces.load(tag).coats) for tag in ("A1", "A2")] == [1, 0]
    hung("coat", "A1", "A2", "--who", "Bo", "--really")
    with kept() as store:
        assert [len(store.pieces.load(tag).coats) for tag in ("A1", "A2")] == [2, 1]


def test_a_coat_told_by_two_at_once_with_another_time_is_asked_about(hung: Curewatch) -> None:
    hung("coat", "A1", "--who", "Ada", "--at", "5h ago")
    hung("coat", "A1", "--who", "Ada", "--at", "4h 30min ago")  # her own: she knows both
    asked = hung("coat", "A1", "--who", "Bo", "--at", "4h 10min ago", status=2)
    assert "A1 got a coat 20 min before this one by Ada. Is this" in asked.complaint
    asked = hung("coat", "A1", "--who", "Bo", "--at", "5h 20min ago", status=2)
    assert "A1 got a coat 20 min after this one by Ada. Is this" in asked.complaint
    hung("coat", "A1", "--who", "Bo", "--at", "3h ago")
