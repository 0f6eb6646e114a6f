"""Mixed pots at the page: mixed, standing, chosen for a coat, gone, taken back, set aside."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from curewatch.shop.stock import StockEntry
from curewatch.storage import Store
from tests.small_shop import HOUR_MS
from tests.web.test_piece import Hand, done_in, words_of, written
from tests.web_shop import NOW_MS

if TYPE_CHECKING:
    from curewatch.shop.batch import Batch
    from tests.web_shop import WebShop


@pytest.fixture
def hand(shop: WebShop) -> Hand:
    shop.hang("C1", finish="acid-cure")
    return Hand(shop, shop.known("Ada"), "/pots")


def mixed(hand: Hand, **typed: str) -> str:
    """Mix the pot P1 at the page and return what follows."""
    usual = {"name": "P1", "finish": "acid-cure", "lot": "L7", "room": "loft"}
    return hand.logs(**{**usual, **typed})


def pots(hand: Hand) -> list[Batch]:
    """Return the pots as another process sees them."""
    with Store.open(hand.shop.settings.storage.path) as other:
        return list(other.batches.all())


def undone(hand: Hand, text: str) -> str:
    """Press the undo of a page; return the one that follows."""
    of = re.search(r'name="of" value="([^"]+)"', text)
    place = re.search(r'action="([^"]+)"><input type="hidden" name="token"[^>]*>[^>]*>', text)
    assert of
    assert place
    answer = hand.client.post(hand.place, data={**hand.form(), "deed": "undo", "of": of[1]})
    assert answer.status_code == 303, answer.text
    return hand.client.get(answer.headers["location"]).text


def test_a_pot_is_mixed_and_says_how_long_it_lives(hand: Hand) -> None:
    text = mixed(hand, ago="30", crosslinker_pct="10", crosslinker_lot="C3")
    (pot,) = pots(hand)
    assert (pot.name, pot.lot, pot.room, pot.who) == ("P1", "L7", "loft", "Ada")
    assert (pot.crosslinker_pct, pot.mixed_at_ms) == (10.0, NOW_MS - HOUR_MS // 2)
    assert "Pot P1: acid-cure, lot L7, 10 % crosslinker (lot C3), mixed" in done_in(text)
    assert re.search(r"It lives until .* left\): aged", words_of(text))
    assert "Never mix in more of anything than the data sheet says" in text


def test_pots_that_stand_are_listed_with_what_is_left_and_the_others_below(hand: Hand) -> None:
    mixed(hand)
    mixed(hand, name="old", at="3d ago")
    text = hand.client.get("/pots").text
    standing, _, over = text.partition('id="over"')
    assert re.search(r"P1 .* h left: over", words_of(standing))
    assert "/pot/old" in over
    assert "/pot/old" not in standing


def test_the_name_offered_for_a_pot_is_free(hand: Hand) -> None:
    offered = re.search(r'name="name" value="([^"]+)"', hand.client.get("/pots").text)
    assert offered
    mixed(hand, name=offered[1])
    again = re.search(r'name="name" value="([^"]+)"', hand.client.get("/pots").text)
    assert again
    assert again[1] != offered[1]


def test_a_share_hardly_meant_is_asked_back_and_stored_when_it_is_insisted_on(hand: Hand) -> None:
    asked = hand.refused(name="P1", finish="acid-cure", lot="L7", crosslinker_pct="0.5")
    assert pots(hand) == []
    assert "did you mean 50 %" in asked
    assert "if it is meant so, add &#39;The figures are meant as they are typed&#39;" in asked
    assert "--" not in words_of(asked).partition("Mixed pots")[2]
    assert 'name="really"' in asked
    assert 'value="0.5"' in asked
    mixed(hand, crosslinker_pct="0.5", really="on")
    assert [pot.crosslinker_pct for pot in pots(hand)] == [0.5]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": "two words"}, "cannot be a pot"),
        ({"lot": ""}, "This is needed"),
        ({"reducer_pct": "much"}, "much is no number"),
        ({"at": "2099-01-01 9:00"}, "lies ahead"),
        ({"room": "attic"}, "there is no room"),
    ],
)
def test_what_cannot_be_stands_at_its_field_and_nothing_is_lost(
    hand: Hand, typed: dict[str, str], said: str
) -> None:
    usual = {"name": "P1", "finish": "acid-cure", "lot": "L7", "tint": "2 g amber"}
    text = hand.refused(**{**usual, **typed})
    assert said in text
    assert 'value="2 g amber"' in text
    assert pots(hand) == []


def test_mixing_is_taken_back(hand: Hand) -> None:
    text = mixed(hand)
    hand.place = "/pot/P1"
    text = undone(hand, text)
    assert "Taken back: Pot P1" in done_in(text)
    assert "No pot stands mixed." in text
    assert pots(hand) == []


def test_a_pot_used_up_is_gone_and_stands_again_when_that_is_taken_back(hand: Hand) -> None:
    mixed(hand, ago="60")
    hand.place = "/pot/P1"
    text = hand.logs(deed="gone", ago="10")
    assert [pot.gone_ms for pot in pots(hand)] == [NOW_MS - HOUR_MS // 6]
    assert "It is gone since" in text
    undone(hand, text)
    assert [pot.gone_ms for pot in pots(hand)] == [None]
    assert "was mixed after that" in hand.refused(deed="gone", at="2d ago")


def test_a_pot_entered_by_mistake_is_voided_with_a_reason(hand: Hand) -> None:
    mixed(hand, ago="10")
    hand.place = "/piece/C1"
    hand.logs(deed="coat", pot="P1")
    hand.place = "/pot/P1"
    assert "C1" in hand.client.get("/pot/P1").text
    text = hand.logs(deed="void", why="wrong lot")
    assert "Coats on C1 were logged from it: no pot is known of them now." in done_in(text)
    assert pots(hand) == []
    assert hand.client.get("/pot/P1").status_code == 404


def test_a_coat_takes_the_newest_pot_unless_another_is_chosen(hand: Hand) -> None:
    mixed(hand, name="older", ago="60")
    mixed(hand, name="newer", ago="30")
    hand.place = "/piece/C1"
    text = hand.client.get("/piece/C1").text
    offered = re.findall(r'<option value="(\w+)"( selected)?>(\w+, [^<]* left)', text)
    assert [(name, bool(chosen)) for name, chosen, _ in offered] == [
        *[("newer", True), ("older", False)],
    ]
    hand.logs(deed="coat", pot="older")
    assert [coat.pot for coat in hand.piece("C1").coats] == ["older"]


def test_where_no_pot_stands_a_coat_of_a_mixed_finish_leads_to_mixing(hand: Hand) -> None:
    assert 'href="/pots?finish=acid-cure"' in hand.client.get("/piece/C1").text
    assert "/pots?finish" not in hand.client.get("/piece/B1").text
    text = hand.client.get("/pots?finish=acid-cure").text
    assert '<option value="acid-cure" selected>' in text


def test_everything_from_a_pot_or_its_lot_is_set_aside_and_released(hand: Hand) -> None:
    mixed(hand, ago="10")
    hand.place = "/piece/C1"
    hand.logs(deed="coat", pot="P1")
    hand.place = "/pot/P1"
    text = hand.logs(deed="hold", target="lot L7", why="froze in the van")
    assert "It touches C1." in done_in(text)
    assert "Set aside, lot L7: froze in the van" in text
    with Store.open(hand.shop.settings.storage.path) as other:
        (hold,) = other.quarantines.standing()
    assert "Release lot L7" in text
    hand.logs(deed="release", number=str(hold.id), why="panel is clear")
    with Store.open(hand.shop.settings.storage.path) as other:
        assert other.quarantines.standing() == ()
    assert "A lot, a pot or a piece can be set aside." in hand.refused(
        deed="hold", target="shelf 3", why="x"
    )
    assert "This is needed" in hand.refused(deed="hold", target="lot L7", why="")


def set_aside(hand: Hand, name: str, target: str, why: str) -> str:
    """Set a pot or its lot aside on the pot's page; return that page."""
    place, hand.place = hand.place, f"/pot/{name}"
    text = hand.logs(deed="hold", target=target, why=why)
    hand.place = place
    return text


@pytest.mark.parametrize("target", ["batch P1", "lot L7", "lot C3"])
def test_a_pot_set_aside_is_not_offered_and_says_why_where_it_is_listed(
    hand: Hand, target: str
) -> None:
    mixed(hand, crosslinker_pct="10", crosslinker_lot="C3")
    text = words_of(set_aside(hand, "P1", target, "froze in the van"))
    assert 0 < text.index("froze in the van") < text.index("It lives until")
    for place in ("/pots", "/", "/spray-day"):
        text = words_of(hand.client.get(place).text)
        assert re.search(r"do not spray from these P1 Set aside: [^.]*froze in the van", text)
        assert not re.search(r"h left: over", text)
    assert "No pot stands mixed." not in hand.client.get("/pots").text


def test_a_pot_set_aside_that_is_over_says_so_first(hand: Hand) -> None:
    mixed(hand, name="old", at="3d ago")
    set_aside(hand, "old", "batch old", "lumps in it")
    over = words_of(hand.client.get("/pots").text.partition('id="over"')[2])
    assert re.search(r"Set aside: pot old: lumps in it\.? Over since", over)


def test_a_coat_never_takes_a_pot_set_aside_unless_somebody_says_so(hand: Hand) -> None:
    mixed(hand, name="fine", ago="60", lot="L8")
    mixed(hand, name="bad", ago="30")
    set_aside(hand, "bad", "lot L7", "froze")
    for known, chosen in (("fine", "fine"), ("", "")):
        text = hand.client.get("/piece/C1").text
        field = text.partition('id="coat-pot"')[2].partition("</select>")[0]
        assert re.findall(r'value="(\w*)" selected', field) == [chosen]
        assert '<option value="bad">bad, set aside</option>' in field
        if known:
            set_aside(hand, known, "batch fine", "dust")
    assert "/pots?finish=acid-cure" in text  # mix one
    text = hand.client.get("/hooks").text
    assert 'value="bad"' not in text
    hand.place = "/piece/C1"
    hand.logs(deed="coat", pot="bad")
    assert [coat.pot for coat in hand.piece("C1").coats] == ["bad"]


def test_a_pot_just_mixed_from_a_lot_set_aside_says_so_at_once(hand: Hand) -> None:
    mixed(hand, ago="60")
    set_aside(hand, "P1", "lot L7", "froze in the van")
    text = words_of(mixed(hand, name="P2", lot="l7"))
    assert 0 < text.index("Set aside, lot L7: froze in the van") < text.index("It lives until")


def test_what_is_wrong_with_a_lot_is_said_on_its_pot(hand: Hand) -> None:
    entry = StockEntry("acid-cure", "L7", "finish", "loft", NOW_MS - 9 * HOUR_MS, None, 1)
    written(hand.shop, "stock.add", entry, NOW_MS)
    assert "Lot L7 was past its date" in mixed(hand)


def test_strangers_may_look_where_reading_is_open_and_never_mix(shop: WebShop) -> None:
    visitor = shop.stranger()
    assert visitor.get("/pots").status_code == 303
    assert visitor.post("/pots", data={"name": "P1"}).status_code == 303
    assert visitor.post("/pot/P1", data={"deed": "gone"}).status_code == 303


def test_a_pot_that_is_not_there_names_the_nearest(hand: Hand) -> None:
    mixed(hand, name="Monday")
    answer = hand.client.get("/pot/Mondy")
    assert answer.status_code == 404
    assert "did you mean Monday?" in answer.text


def test_a_button_of_no_meaning_is_answered_in_words(hand: Hand) -> None:
    mixed(hand)
    hand.place = "/pot/P1"
    assert "What shall be logged?" in hand.refused(deed="")
    assert "There is nothing to take back" in hand.refused(deed="undo", of="")


def test_pots_that_stand_are_told_on_today_and_on_spray_day(hand: Hand) -> None:
    assert "Pots to spray from" not in hand.client.get("/").text
    mixed(hand)
    for place in ("/", "/spray-day"):
        text = hand.client.get(place).text
        assert "Pots to spray from" in text
        assert re.search(r"P1 Acid.*? h left: over", words_of(text))


def test_a_plan_and_a_what_if_with_figures_hardly_meant_are_asked_back_and_insisted_on(
    hand: Hand,
) -> None:
    plan = "/spray-day?ask=plan&finish=waterborne&coats=1&temp_c=60&rh_pct=40"
    asked = hand.client.get(plan)
    assert asked.status_code == 422
    assert "did you mean 60 degF" in asked.text or "did you mean 60 °F" in asked.text
    assert 'name="really"' in asked.text
    assert "did you mean" not in hand.client.get(f"{plan}&really=on").text
    what_if = "/spray-day?ask=what-if&finish=waterborne&room=loft&change=cabinet&cabinet_c=70"
    assert 'id="w-really"' in hand.client.get(what_if).text
    assert "did you mean" not in hand.client.get(f"{what_if}&really=on").text


def test_a_room_said_to_be_unlikely_is_asked_back_and_insisted_on(hand: Hand) -> None:
    token = hand.form()["token"]
    asked = hand.client.post("/room/loft/plan", data={"token": token, "temp": "50"})
    assert asked.status_code == 422
    assert "The figures are meant as they are typed" in asked.text
    plan = {"token": token, "temp": "50", "really": "on"}
    assert hand.client.post("/room/loft/plan", data=plan).status_code == 303
