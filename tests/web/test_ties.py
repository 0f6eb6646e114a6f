"""Setting aside, joining, re-judging, and a coat told twice, at the page of a piece."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from curewatch.shop.piece import Coat
from curewatch.storage import Store
from tests.small_shop import HOUR_MS, MINUTE_MS
from tests.web.test_piece import Hand, done_in, words_of, written
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SHELF = '\n[finishes]\ndirectory = "finishes"\n'
DERIVED = """\
name = "amber"
title = "Amber"
extends = "waterborne"
[hours.full-cure]
value = {hours}
standing = "learnt-here"
source = "a panel in the window"
"""


@pytest.fixture
def hand(shop: WebShop) -> Hand:
    shop.hang("B2")
    return Hand(shop, shop.known("Ada"), "/piece/B1")


def undone(hand: Hand, text: str) -> str:
    """Press the undo of a page; return the one that follows."""
    of = re.search(r'name="of" value="([^"]+)"', text)
    assert of
    return hand.logs(deed="undo", of=of[1])


# ---- holds


def test_a_piece_is_set_aside_released_and_each_is_undone(hand: Hand) -> None:
    text = hand.logs(deed="hold", why="crazed at the heel")
    assert "piece B1 is set aside: crazed at the heel. It touches B1." in done_in(text)
    assert "Set aside: crazed at the heel" in text
    number = re.search(r'name="number" value="(\d+)">\n<p>crazed', text)
    assert number
    assert "This is needed" in hand.refused(deed="release", number=number[1], why="")
    text = hand.logs(deed="release", number=number[1], why="a scratch in the wax")
    assert "Set aside: crazed" not in text
    text = undone(hand, text)
    assert "Set aside: crazed at the heel (taken back at the page by Ada)" in text
    hand.logs(deed="hold", target="piece B2", why="sanded through")
    with Store.open(hand.shop.settings.storage.path) as other:
        assert [hold.target for hold in other.quarantines.standing()] == ["B1", "B2"]


def test_the_page_of_a_piece_says_its_hold_once_and_in_one_wording(hand: Hand) -> None:
    hand.logs(deed="hold", why="crazed at the heel")
    top = words_of(hand.client.get("/piece/B1").text.partition('class="state"')[0])
    assert top.count("crazed at the heel") == 1
    assert "Set aside: crazed at the heel" in top
    assert "Held" not in top


def test_the_wall_names_what_is_set_aside_in_its_rooms(hand: Hand) -> None:
    for tag in ("B1", "B2"):
        hand.logs(deed="hold", target=f"piece {tag}", why="crazed")
    for place in ("/wall", "/wall?room=loft"):
        text = words_of(hand.client.get(place).text)
        assert "Set aside: B1, B2" in text
        assert "Nothing to do" not in text
    assert "Set aside" not in words_of(hand.client.get("/wall?room=attic").text)


def test_the_wall_names_three_of_many_set_aside_and_counts_the_rest(hand: Hand) -> None:
    hand.shop.hang("B3")
    hand.shop.hang("B4")
    for tag in ("B1", "B2", "B3", "B4"):
        hand.logs(deed="hold", target=f"piece {tag}", why="crazed")
    assert "Set aside: B1, B2, B3 and 1 more" in words_of(hand.client.get("/wall").text)


def test_setting_aside_is_undone(hand: Hand) -> None:
    text = undone(hand, hand.logs(deed="hold", why="crazed"))
    assert "Set aside: " not in text
    assert "crazed" in text  # the record keeps both


# ---- joining


def test_a_piece_is_joined_and_the_joining_undone(hand: Hand) -> None:
    text = hand.logs(deed="join", onto="B2", note="glued")
    assert "B1: joined to B2" in done_in(text)
    assert "It is joined to" in text
    text = undone(hand, text)
    assert "It is joined to" not in text


def test_a_part_that_came_off_is_taken_apart_and_that_is_undone(hand: Hand) -> None:
    hand.logs(deed="join", onto="B2")
    text = hand.logs(deed="unjoin", why="bolts were loose")
    assert "B1 is no longer joined to B2: bolts were loose" in done_in(text)
    text = undone(hand, text)
    assert "It is joined to" in text
    assert "is joined to B2 already" in hand.refused(deed="join", onto="B2")


def test_a_joining_is_taken_back_in_the_record_of_its_part(hand: Hand) -> None:
    text = hand.logs(deed="join", onto="B2")
    number = re.search(
        r'name="what" value="joining"><input type="hidden" name="number" value="(\d+)', text
    )
    assert number
    text = hand.logs(deed="void", what="joining", number=number[1], why="wrong neck")
    assert "joining of B1" in done_in(text)
    assert 'value="joining"' not in hand.client.get("/piece/B2").text


# ---- re-judging


@pytest.fixture
def judged(tmp_path: Path) -> Iterator[Hand]:
    """A shop with a profile of its own, changed since D1 was hung."""
    own = tmp_path / "finishes" / "amber.toml"
    own.parent.mkdir()
    with WebShop.at(tmp_path, SHELF) as opened:
        opened.set_passphrase()
        opened.hear()
        own.write_text(DERIVED.format(hours=400), "utf-8")
        opened.hang("D1", NOW_MS - 20 * HOUR_MS, finish="amber")
        own.write_text(DERIVED.format(hours=460), "utf-8")
        yield Hand(opened, opened.known("Ada"), "/piece/D1")


def test_a_newer_profile_says_what_differs_and_judges_the_piece_on_request(judged: Hand) -> None:
    text = judged.client.get("/piece/D1").text
    assert "Re-judge under revision 2" in text
    assert re.search(r"hours.full-cure.*: 400 h.*, then 460 h", text)
    text = judged.logs(deed="rejudge", why="new sheet")
    assert "D1: re-judged under revision 2, before that 1." in done_in(text)
    assert judged.piece("D1").finish_revision == 2
    assert "Re-judge under" not in text
    text = undone(judged, text)
    assert judged.piece("D1").finish_revision == 1
    assert "Re-judge under revision 2" in text


def test_a_piece_judged_by_the_newest_profile_offers_nothing_and_says_so(hand: Hand) -> None:
    assert "Re-judge under" not in hand.client.get("/piece/B1").text
    assert "judged by the newest profile already" in done_in(hand.logs(deed="rejudge"))


# ---- the same coat twice


def test_a_coat_soon_after_another_is_asked_about_and_logged_when_it_is_another(hand: Hand) -> None:
    written(hand.shop, "pieces.coat", "B2", Coat(NOW_MS - 40_000, who="Bo"), NOW_MS)
    hand.place = "/piece/B2"
    text = hand.refused(409, deed="coat", wet="100")
    assert "B2 got a coat 40 s ago by Bo." in text
    assert "Nothing was logged yet." in text
    assert len(hand.piece("B2").coats) == 1
    form = text.partition('id="twice-title"')[2].partition("</form>")[0]
    again = dict(re.findall(r'name="(\w+)" value="([^"]*)"', form))
    assert (again["really"], again["wet"]) == ("on", "100")
    assert "form" in again
    text = hand.logs(again, deed="coat")
    assert "B2: coat 2 laid" in done_in(text)
    assert [coat.wet_um for coat in hand.piece("B2").coats] == [None, 100.0]


def test_several_coated_at_once_are_asked_about_together_and_each_says_its_window(
    hand: Hand,
) -> None:
    written(hand.shop, "pieces.coat", "B2", Coat(NOW_MS - 5 * MINUTE_MS), NOW_MS)
    hand.place = "/hooks"
    both = {"tag": ["B1", "B2"], "deed": "coat"}
    answer = hand.client.post("/hooks", data={**hand.form(), **both})
    assert answer.status_code == 409
    assert "B2 got a coat 5 min ago." in answer.text
    assert [len(hand.piece(tag).coats) for tag in ("B1", "B2")] == [1, 1]
    answer = hand.client.post("/hooks", data={**hand.form(), **both, "really": "on"})
    assert answer.status_code == 303
    said = done_in(hand.client.get(answer.headers["location"]).text)
    assert re.search(r"B1: It came .* Recoat window: opens .* closes .*B2: It came", said)


# ---- taking back a plan and a hanging


def test_a_plan_of_coats_is_undone(hand: Hand) -> None:
    before = hand.piece().planned_coats
    text = undone(hand, hand.logs(deed="plan", coats="9"))
    assert hand.piece().planned_coats == before
    assert "9 coats planned" in words_of(text)
    undone(hand, hand.logs(deed="no-more"))
    assert hand.piece().planned_coats == before


def test_a_hanging_is_undone_and_the_tag_is_free(hand: Hand) -> None:
    fresh = hand.form("/piece/new")
    typed = {**fresh, "tag": "N1", "finish": "waterborne", "room": "loft"}
    answer = hand.client.post("/piece/new", data=typed)
    hand.place = "/piece/N1"
    text = hand.client.get(answer.headers["location"]).text
    text = undone(hand, text)
    assert "Taken back: N1: hung in loft" in done_in(text)
    assert hand.client.get("/piece/N1").status_code == 404
    again = {**typed, **hand.form("/piece/new"), "finish": "shellac"}
    assert hand.client.post("/piece/new", data=again).status_code == 303


def test_a_hanging_with_a_coat_on_it_is_not_undone(hand: Hand) -> None:
    fresh = hand.form("/piece/new")
    typed = {**fresh, "tag": "N1", "finish": "waterborne", "room": "loft"}
    answer = hand.client.post("/piece/new", data=typed)
    text = hand.client.get(answer.headers["location"]).text
    of = re.search(r'name="of" value="([^"]+)"', text)
    assert of
    hand.place = "/piece/N1"
    hand.logs(deed="coat")
    assert "more than its hanging is entered on it" in hand.refused(deed="undo", of=of[1])
