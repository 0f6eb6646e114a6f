"""On the hooks: the order of need, finding pieces, and logging one thing for several."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from curewatch.shop.assessment import assess
from curewatch.shop.batch import Batch
from curewatch.shop.bench_list import bench_list
from curewatch.storage import Store
from tests.small_shop import HOUR_MS, MINUTE_MS
from tests.web.test_piece import ROOMS, Hand, done_in, words_of, written
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import httpx

    from curewatch.shop.piece import Piece

DAY_MS = 24 * HOUR_MS


@pytest.fixture
def rack(tmp_path: Path) -> Iterator[WebShop]:
    """A shop with five pieces in need of different things."""
    with WebShop.at(tmp_path, ROOMS) as opened:
        opened.set_passphrase()
        opened.hear()
        opened.hang("B1", NOW_MS - DAY_MS, title="offset body, alder")
        opened.hang("B2", NOW_MS - 3 * HOUR_MS, title="neck, maple")
        opened.hang("B3", NOW_MS - MINUTE_MS, title="chest lid")
        opened.hang("X4", title="a bare board")
        yield opened


@pytest.fixture
def hand(rack: WebShop) -> Hand:
    return Hand(rack, rack.known("Ada"), "/hooks")


def tags_in(text: str) -> list[str]:
    """Return the tags of the list in their order."""
    return re.findall(r'class="tag" href="/piece/(\w+)"', text)


def send(hand: Hand, *tags: str, **typed: str) -> httpx.Response:
    return hand.client.post("/hooks", data={**hand.form(), "tag": [*tags], **typed})


def pieces(hand: Hand) -> dict[str, Piece]:
    with Store.open(hand.shop.settings.storage.path) as other:
        return {piece.tag: piece for piece in other.pieces.load_all()}


def test_pieces_stand_in_the_bench_lists_order_under_words(hand: Hand) -> None:
    text = hand.client.get("/hooks").text
    shop = hand.shop.daemon.shop
    listed = hand.shop.do(
        lambda: bench_list(assess(shop, NOW_MS), shop.pieces, shop.words, held=shop.held)
    )
    groups = (listed.due, listed.ready, listed.coming, listed.waiting, listed.held)
    assert tags_in(text) == [job.tag for group in groups for job in group]
    assert len(tags_in(text)) == 4
    said = words_of(text)
    assert "Nothing to do, or nothing can be told X4" in re.sub(r"tick X4 ", "", said)
    assert "1 of 6 coats" in said


def test_a_room_and_letters_narrow_the_list_by_plain_addresses(hand: Hand) -> None:
    hand.client.post("/piece/B2", data={**hand.form("/piece/B2"), "to": "booth"})
    assert tags_in(hand.client.get("/hooks?room=booth").text) == ["B2"]
    assert tags_in(hand.client.get("/hooks?find=ALDER").text) == ["B1"]
    assert sorted(tags_in(hand.client.get("/hooks?find=b").text)) == ["B1", "B2", "B3", "X4"]
    assert tags_in(hand.client.get("/hooks?find=b3&room=loft").text) == ["B3"]
    nothing = hand.client.get("/hooks?find=zz&room=booth").text
    assert "No piece like that hangs here." in nothing
    text = hand.client.get("/hooks?find=b").text
    assert 'href="/hooks?room=booth&amp;find=b"' in text
    assert 'type="search" value="b"' in text


def test_hundreds_of_pieces_are_shown_sixty_at_a_time(hand: Hand) -> None:
    for number in range(70):
        with Store.open(hand.shop.settings.storage.path) as other:
            other.pieces.hang(
                f"M{number}",
                "waterborne",
                1,
                title="",
                at_ms=NOW_MS,
                entered_ms=NOW_MS,
                room="loft",
            )
    hand.shop.do(lambda: hand.shop.daemon.round([]))
    text = hand.client.get("/hooks").text
    assert len(tags_in(text)) == 60
    assert "Show all 74" in text
    whole = hand.client.get("/hooks?lines=all").text
    assert len(tags_in(whole)) == 74
    assert "Show all" not in whole


def test_a_coat_on_all_that_are_ticked_is_one_entry_with_one_undo(hand: Hand) -> None:
    answer = send(hand, "B1", "B2", deed="coat", ago="10", wet="90", find="b")
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/hooks?find=b&done=")
    text = hand.client.get(answer.headers["location"]).text
    assert done_in(text).startswith("A coat laid today 5:50 on B1 and B2, 90 µm (3.5 mil) wet")
    assert [len(pieces(hand)[tag].coats) for tag in ("B1", "B2", "B3")] == [2, 2, 1]
    of = re.search(r'name="of" value="([^"]+)"', text)
    assert of
    answer = hand.client.post("/hooks", data={**hand.form(), "deed": "undo", "of": of[1]})
    assert answer.status_code == 303
    assert [len(pieces(hand)[tag].coats) for tag in ("B1", "B2", "B3")] == [1, 1, 1]


def test_moves_and_work_go_for_all_that_are_ticked(hand: Hand) -> None:
    text = hand.client.get(send(hand, "B1", "X4", to="booth").headers["location"]).text
    assert done_in(text).startswith("B1 and X4: in booth from today 6:00 on.")
    assert {pieces(hand)[tag].room_at(NOW_MS) for tag in ("B1", "X4")} == {"booth"}
    text = hand.client.get(send(hand, "B1", "B2", kind="scuff").headers["location"]).text
    assert done_in(text).startswith("B1 and B2: scuffed today 6:00")
    assert [len(pieces(hand)[tag].work) for tag in ("B1", "B2")] == [1, 1]


def test_work_before_its_time_names_the_pieces_and_goes_on_with_a_reason(hand: Hand) -> None:
    answer = send(hand, "B1", "B2", "X4", kind="buff")
    assert answer.status_code == 409
    text = answer.text
    assert "<strong>B1</strong>: Not ready to buff" in text
    assert "<strong>X4</strong>" not in text  # nothing is judged where no coat is
    assert {len(piece.work) for piece in pieces(hand).values()} == {0}
    block = re.search(r'class="unready".*?</section>', text, re.DOTALL)
    assert block
    sent = dict(re.findall(r'name="(\w+)" value="([^"]*)"', block[0]))
    tags = re.findall(r'name="tag" value="([^"]*)"', block[0])
    assert tags == ["B1", "B2", "X4"]
    answer = hand.client.post("/hooks", data={**sent, "tag": tags, "anyway": "sample boards"})
    assert answer.status_code == 303
    assert [pieces(hand)[tag].work[0].anyway for tag in tags] == ["sample boards"] * 3


def test_one_piece_that_cannot_be_keeps_all_from_being_entered(hand: Hand) -> None:
    pot = Batch("P1", "shellac", 1, "L", NOW_MS - HOUR_MS, "loft")
    hand.shop.hang("S1", finish="shellac")
    written(hand.shop, "batches.mix", pot, NOW_MS)
    answer = send(hand, "S1", "B1", deed="coat", pot="P1")
    assert answer.status_code == 422
    assert "Nothing was stored for S1, B1" in answer.text
    assert [len(pieces(hand)[tag].coats) for tag in ("S1", "B1")] == [0, 1]
    assert re.search(r'value="S1" checked', answer.text)  # what was ticked stays ticked


def test_without_a_tick_nothing_is_entered_and_that_is_said(hand: Hand) -> None:
    answer = send(hand, deed="coat")
    assert answer.status_code == 422
    assert "No piece is ticked" in answer.text


def test_what_is_of_one_piece_alone_is_not_entered_for_two(hand: Hand) -> None:
    answer = send(hand, "B1", "B2", deed="plan", coats="3")
    assert answer.status_code == 422
    assert "for one piece alone" in answer.text
    answer = send(hand, deed="coat", of="something")
    assert "No piece is ticked" in answer.text


def test_bad_input_stays_as_typed_with_its_fault_beside_it(hand: Hand) -> None:
    answer = send(hand, "B1", deed="coat", wet="thick")
    assert answer.status_code == 422
    assert 'id="bulk-wet-fault"' in answer.text
    assert 'value="thick"' in answer.text


def test_a_stranger_can_tick_nothing(hand: Hand) -> None:
    before = pieces(hand)
    data = {**hand.form(), "tag": ["B1"], "deed": "coat"}
    answer = hand.shop.stranger().post("/hooks", data=data)
    assert answer.headers["location"].startswith("/enter")
    assert pieces(hand) == before


def test_an_empty_shop_says_so_and_offers_to_hang_a_piece(tmp_path: Path) -> None:
    with WebShop.at(tmp_path) as shop:
        shop.set_passphrase()
        text = shop.known().get("/hooks").text
        assert "No piece hangs here." in text
        assert 'href="/piece/new"' in text
        assert 'class="bulk"' not in text
