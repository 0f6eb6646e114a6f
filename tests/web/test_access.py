"""Who may look and who may write."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadInput
from curewatch.storage import Store
from curewatch.storage.page_sessions import MOST_SESSIONS
from curewatch.web import access
from curewatch.web.access import (
    FORGIVEN_AFTER_S,
    FREE_TRIES,
    KNOWN_FOR_S,
    LONGEST_WAIT_S,
    MOST_STRANGERS,
    Access,
    NotAllowed,
    Tries,
    WaitFirst,
    form_token,
    is_our_form,
    passphrase_digest,
)
from tests.web_shop import DIGEST, SECRET, WebShop

if TYPE_CHECKING:
    from pathlib import Path

    import httpx


class Hand:
    """A clock's hand that the test moves [s]."""

    def __init__(self) -> None:
        self.at_s = 1000.0

    def __call__(self) -> float:
        """Return where it points."""
        return self.at_s


@pytest.fixture
def hand() -> Hand:
    return Hand()


@pytest.fixture
def door(shop: WebShop, hand: Hand) -> Access:
    return Access(shop.daemon.desk, open_reading=False, now_s=hand)


def token_of(answer: httpx.Response) -> str:
    """Return the token in a page's forms."""
    found = re.search(r'name="token" value="([0-9a-f]+)"', answer.text)
    assert found, answer.text
    return found[1]


# ---- the passphrase


def test_the_digest_tells_nothing_and_is_argon2id(shop: WebShop) -> None:
    assert DIGEST.startswith("$argon2id$")
    assert SECRET not in DIGEST
    assert passphrase_digest(SECRET) != DIGEST  # salted
    assert shop.settings.page.open_reading is False


@pytest.mark.parametrize("bad", ["", "short", "       ", "x" * 201])
def test_what_is_no_passphrase_is_refused_with_what_would_do(bad: str) -> None:
    with pytest.raises(BadInput, match="8 to 200"):
        passphrase_digest(bad)


def test_the_right_passphrase_opens_and_a_wrong_one_does_not(door: Access) -> None:
    cookie = door.enter(SECRET, who="Ada", address="10.0.0.5")
    visitor = door.visitor(cookie)
    assert (visitor.who, visitor.may_write) == ("Ada", True)
    assert door.may_read(visitor)
    with pytest.raises(NotAllowed):
        door.enter("oak and linsee", who="Eve", address="10.0.0.6")
    assert not door.may_read(door.visitor("made up"))
    assert not door.may_read(door.visitor(None))


@pytest.mark.parametrize("typed", [f" {SECRET} ", f"{SECRET}\n"])
def test_what_a_keyboard_adds_by_itself_does_not_count(door: Access, typed: str) -> None:
    assert door.enter(typed, who="", address="10.0.0.5")


def test_a_composed_letter_is_the_same_as_its_parts(shop: WebShop, door: Access) -> None:
    shop.set_passphrase(passphrase_digest("Lein\u00f6l und Eiche"))
    assert door.enter("Leino\u0308l und Eiche", who="", address="10.0.0.5")


def test_without_a_passphrase_nobody_comes_in(tmp_path: Path) -> None:
    with WebShop.at(tmp_path) as bare:
        answer = bare.stranger().get("/enter")
        assert "No passphrase is set" in answer.text
        assert 'type="password"' not in answer.text
        assert bare.stranger().post("/enter", data={"passphrase": ""}).status_code == 422
        assert bare.stranger().post("/enter", data={"passphrase": SECRET}).status_code == 403


def test_a_digest_that_is_none_opens_nothing(shop: WebShop, door: Access) -> None:
    shop.set_passphrase("no digest at all")
    with pytest.raises(NotAllowed):
        door.enter("no digest at all", who="", address="10.0.0.5")


# ---- waiting


def test_every_wrong_one_costs_more_time_and_the_right_one_is_not_even_looked_at(
    door: Access, hand: Hand
) -> None:
    for _ in range(FREE_TRIES):
        with pytest.raises(NotAllowed):
            door.enter("wrong words", who="", address="10.0.0.9")
    waits = []
    for _ in range(12):
        with pytest.raises(WaitFirst) as told:
            door.enter(SECRET, who="", address="10.0.0.9")
        waits.append(told.value.seconds)
        hand.at_s += told.value.seconds
        with pytest.raises(NotAllowed):
            door.enter("wrong words", who="", address="10.0.0.9")
    assert waits[:5] == [1.0, 2.0, 4.0, 8.0, 16.0]
    assert waits[-1] == LONGEST_WAIT_S
    hand.at_s += LONGEST_WAIT_S
    assert door.enter(SECRET, who="", address="10.0.0.9")


def test_others_are_not_kept_waiting_by_one_who_guesses(door: Access) -> None:
    for _ in range(FREE_TRIES):
        with pytest.raises(NotAllowed):
            door.enter("wrong words", who="", address="10.0.0.9")
    assert door.enter(SECRET, who="", address="10.0.0.5")


def test_guessing_from_many_addresses_is_slowed_for_all_together(hand: Hand) -> None:
    tries = Tries(hand)
    for number in range(10 * FREE_TRIES):
        tries.check(f"10.0.0.{number}")
        tries.failed(f"10.0.0.{number}")
    with pytest.raises(WaitFirst):
        tries.check("10.0.9.9")
    hand.at_s += FORGIVEN_AFTER_S
    tries.check("10.0.9.9")


def test_wrong_ones_are_forgiven_after_an_hour_and_by_the_right_one(hand: Hand) -> None:
    tries = Tries(hand)
    for _ in range(FREE_TRIES):
        tries.failed("a")
    with pytest.raises(WaitFirst):
        tries.check("a")
    tries.passed("a")
    tries.check("a")
    for _ in range(FREE_TRIES + 40):
        tries.failed("b")
    hand.at_s += FORGIVEN_AFTER_S
    tries.check("b")
    tries.failed("b")
    tries.check("b")


def test_strangers_do_not_fill_the_memory_and_what_all_did_stays_counted(hand: Hand) -> None:
    tries = Tries(hand)
    for number in range(MOST_STRANGERS + 10):
        tries.failed(str(number))
    assert len(tries._failures) < MOST_STRANGERS  # noqa: SLF001 - it is what must not grow
    with pytest.raises(WaitFirst):
        tries.check("new")


def test_the_page_says_how_long_to_wait(shop: WebShop) -> None:
    stranger = shop.stranger()
    wrong = {"passphrase": "wrong words"}
    answers = [stranger.post("/enter", data=wrong) for _ in range(FREE_TRIES + 1)]
    assert [a.status_code for a in answers] == [403] * FREE_TRIES + [429]
    assert "That is not the passphrase." in answers[0].text
    assert "Too many tries: wait 1 second" in answers[-1].text
    assert answers[-1].headers["retry-after"] == "1"


# ---- the cookie


def test_the_cookie_is_long_lived_and_kept_from_scripts(shop: WebShop) -> None:
    answer = shop.stranger().post("/enter", data={"passphrase": SECRET, "who": "Ada"})
    flags = {part.strip().lower() for part in answer.headers["set-cookie"].split(";")[1:]}
    assert flags == {"httponly", "samesite=lax", "path=/", f"max-age={400 * 86_400}"}


def test_over_tls_the_cookie_never_leaves_it(shop: WebShop) -> None:
    visitor = shop.stranger(base_url="https://localhost")
    answer = visitor.post("/enter", data={"passphrase": SECRET})
    assert "secure" in answer.headers["set-cookie"].lower()


def test_only_a_digest_of_the_cookie_is_kept(shop: WebShop, door: Access) -> None:
    cookie = door.enter(SECRET, who="Ada", address="10.0.0.5")
    with Store.open(shop.settings.storage.path) as other:
        (digest,) = (row[0] for row in other.db.rows("SELECT digest FROM page_session"))
    assert cookie.encode() not in digest
    assert access._digest(cookie) == digest  # noqa: SLF001 - what is compared with it


def test_the_oldest_telephone_falls_out_when_there_are_too_many(shop: WebShop) -> None:
    with Store.open(shop.settings.storage.path) as other:
        for number in range(MOST_SESSIONS + 5):
            other.page_sessions.open(number.to_bytes(4), who=str(number), at_ms=number)
        assert other.page_sessions.who((4).to_bytes(4)) is None
        assert other.page_sessions.who((5).to_bytes(4)) == "5"
        assert other.page_sessions.close_all() == MOST_SESSIONS


def test_leaving_forgets_this_telephone_alone(shop: WebShop) -> None:
    ada, bob = shop.known("Ada"), shop.known("Bob")
    token = token_of(ada.get("/"))
    cookie = ada.cookies["curewatch"]
    assert ada.post("/leave", data={"token": token}).status_code == 303
    assert "curewatch" not in ada.cookies
    ada.cookies["curewatch"] = cookie
    assert ada.get("/").status_code == 303  # what was copied is of no use any more
    assert bob.get("/").status_code == 200


def test_a_new_passphrase_signs_everyone_out_of_the_running_daemon(
    shop: WebShop, door: Access, hand: Hand
) -> None:
    cookie = door.enter(SECRET, who="Ada", address="10.0.0.5")
    assert door.visitor(cookie).may_write
    shop.set_passphrase(passphrase_digest("quite another one"))
    hand.at_s += KNOWN_FOR_S
    assert not door.visitor(cookie).may_write
    with pytest.raises(NotAllowed):
        door.enter(SECRET, who="Ada", address="10.0.0.5")
    assert door.enter("quite another one", who="Ada", address="10.0.0.5")


def test_a_known_cookie_is_not_looked_up_at_every_request(shop: WebShop, door: Access) -> None:
    cookie = door.enter(SECRET, who="Ada", address="10.0.0.5")
    assert door.visitor(cookie).may_write
    shop.rests.set()  # nobody answers now
    assert door.visitor(cookie).may_write
    shop.rests.clear()


# ---- forms


def test_a_form_carries_what_only_the_cookies_owner_can_know(door: Access) -> None:
    mine = door.visitor(door.enter(SECRET, who="", address="a"))
    other = door.visitor(door.enter(SECRET, who="", address="a"))
    assert is_our_form(mine, mine.token)
    assert not is_our_form(mine, other.token)
    assert not is_our_form(mine, "")
    assert not is_our_form(mine, "\u00e4" * 16)
    assert not is_our_form(door.visitor(None), "")
    assert form_token("a") != form_token("b")


@pytest.mark.parametrize("form", ["/alerts/1/seen", "/alerts/1/rest", "/leave"])
def test_no_form_is_taken_without_its_token(shop: WebShop, form: str) -> None:
    known = shop.known()
    answer = known.post(form, data={"token": "0" * 32, "hours": "1"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/enter?back=/")
    assert known.post(form, data={"hours": "1"}).status_code == 422
    assert shop.stranger().post(form, data={"token": "0", "hours": "1"}).status_code == 303


# ---- who may look


def test_a_stranger_is_led_to_the_door_and_back(shop: WebShop) -> None:
    stranger = shop.stranger()
    answer = stranger.get("/alerts?a=1&b=%C3%A4")
    assert answer.headers["location"] == "/enter?back=/alerts%3Fa%3D1%26b%3D%25C3%25A4"
    door = stranger.get(answer.headers["location"])
    assert 'name="back" value="/alerts?a=1&amp;b=%C3%A4"' in door.text
    assert stranger.get("/api/v1/rooms").status_code == 401
    assert stranger.get("/live").status_code == 303


def test_where_reading_is_open_everybody_looks_and_nobody_writes(open_shop: WebShop) -> None:
    stranger = open_shop.stranger()
    page = stranger.get("/alerts")
    assert page.status_code == 200
    assert "<form" not in page.text
    assert "Give the passphrase to log things" in page.text
    assert stranger.get("/api/v1/rooms").status_code == 200
    assert stranger.post("/api/v1/alerts/1/seen").status_code == 401


@pytest.mark.parametrize(
    ("back", "goes"),
    [
        ("/alerts", "/alerts"),
        ("/piece/B 1", "/piece/B%201"),
        ("https://elsewhere.example", "/"),
        ("//elsewhere.example", "/"),
        ("/\\elsewhere.example", "/"),
        ("/a\r\nSet-Cookie: b=c", "/"),
        ("", "/"),
    ],
)
def test_the_door_leads_to_no_other_machine(shop: WebShop, back: str, goes: str) -> None:
    answer = shop.stranger().post("/enter", data={"passphrase": SECRET, "back": back})
    assert answer.headers["location"] == goes
