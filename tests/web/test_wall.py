"""What the wall view tells, to whom, and what it does not do."""

from __future__ import annotations

import re
from functools import partial
from typing import TYPE_CHECKING

from curewatch.shop.piece import Work, WorkKind
from curewatch.storage import Store
from tests.small_shop import HOUR_MS
from tests.web.conftest import OPEN
from tests.web_shop import NOW_MS, SECRET, WebShop

if TYPE_CHECKING:
    from pathlib import Path

    import httpx
    from starlette.testclient import TestClient

BOOTH = '\n[[room]]\nname = "booth"\n[[sensor]]\nid = "b"\nroom = "booth"\ntopic = "b"\n'
BOOTH += 'temperature = "/t"\nhumidity = "/rh"\n'


def looker(shop: WebShop) -> TestClient:
    """Return a tablet that was let in to look only."""
    tablet = shop.stranger()
    asked = {"passphrase": SECRET, "who": "wall", "back": "/wall", "looks": "on"}
    answer = tablet.post("/enter", data=asked)
    assert (answer.status_code, answer.headers["location"]) == (303, "/wall")
    return tablet


def verdicts(answer: httpx.Response) -> list[str]:
    return re.findall(r'class="verdict[^>]*><strong>([^<]+)', answer.text)


def test_the_verdict_of_every_room_and_the_next_jobs_stand_on_the_wall(open_shop: WebShop) -> None:
    open_shop.hang("BARE")
    answer = open_shop.stranger().get("/wall")
    assert verdicts(answer)[0] in ("fit to spray", "fit, little to spare", "do not spray now")
    assert re.search(r"<b>B1</b> [a-z]", answer.text)
    assert "BARE" not in answer.text  # nobody can say when


def test_the_wall_has_nothing_to_write_with(open_shop: WebShop) -> None:
    text = open_shop.known().get("/wall").text
    assert not re.search(r"<(form|input|button|select|textarea)\b", text)
    assert "data-live" in text


def test_a_room_can_be_asked_for_alone(tmp_path: Path) -> None:
    with WebShop.at(tmp_path, BOOTH + OPEN) as shop:
        shop.hear()
        shop.hang("B1", NOW_MS - 24 * HOUR_MS)
        both = shop.stranger().get("/wall").text
        alone = shop.stranger().get("/wall?room=booth").text
        none = shop.stranger().get("/wall?room=attic").text
    assert ">loft</h2>" in both
    assert ">booth</h2>" in both
    assert "nothing was ever heard from here" in both
    assert ">loft</h2>" not in alone
    assert "<b>B1</b>" not in alone  # it hangs in the loft
    assert "No room of that name is here." in none


def test_an_alert_of_another_room_stands_on_its_own_wall_only(tmp_path: Path) -> None:
    with WebShop.at(tmp_path, BOOTH + OPEN) as shop:
        shop.hear()
        shop.hang("WET", NOW_MS - HOUR_MS // 6)
        shop.hear(NOW_MS + HOUR_MS, hours=1, temp_c=4.0)
        loft = shop.stranger().get("/wall?room=loft").text
        booth = shop.stranger().get("/wall?room=booth").text
    assert "Nobody has seen this yet" in loft
    assert "WET" not in booth
    assert "nobody has seen" not in booth  # nor are they counted


def test_a_question_about_a_piece_of_another_room_stands_on_its_own_wall_only(
    tmp_path: Path,
) -> None:
    with WebShop.at(tmp_path, BOOTH + OPEN) as shop:
        shop.hear()
        shop.hang("OLD", NOW_MS - 24 * HOUR_MS)
        with Store.open(shop.settings.storage.path) as other, other.db.transaction():
            other.pieces.work("OLD", Work(WorkKind.BUFF, NOW_MS), NOW_MS)
        shop.hear(NOW_MS + 31 * 24 * HOUR_MS, hours=2)
        loft = shop.stranger().get("/wall?room=loft").text
        booth = shop.stranger().get("/wall?room=booth").text
    assert "<b>Follow-up OLD</b>" in loft
    assert "OLD" not in booth


def test_the_wall_says_that_no_surface_was_measured_as_today_does(open_shop: WebShop) -> None:
    reasons = re.findall(r'class="reason">([^<]+)', open_shop.stranger().get("/wall").text)
    assert reasons
    assert all("surface not measured" in reason.lower() for reason in reasons)


def test_old_air_is_no_verdict(open_shop: WebShop) -> None:
    later_ms = NOW_MS + 9 * HOUR_MS
    open_shop.do(lambda: setattr(open_shop.daemon.clock, "_now_ms", later_ms))
    open_shop.do(open_shop.daemon.desk.changed)
    assert set(verdicts(open_shop.stranger().get("/wall"))) == {"cannot tell"}


def test_everything_moves_a_little_with_time(open_shop: WebShop) -> None:
    clock = open_shop.daemon.clock
    places = set()
    for minutes in range(0, 60, 4):
        later_ms = NOW_MS + minutes * 60_000
        open_shop.do(partial(setattr, clock, "_now_ms", later_ms))
        places |= set(re.findall(r"drift-\d", open_shop.stranger().get("/wall").text))
    assert places == {f"drift-{place}" for place in range(8)}


# ---- the door


def test_a_tablet_let_in_to_look_sees_everything_and_writes_nothing(shop: WebShop) -> None:
    assert shop.stranger().get("/wall").headers["location"] == "/enter?back=/wall"
    tablet = looker(shop)
    assert tablet.get("/wall").status_code == 200
    assert 'name="token"' not in tablet.get("/alerts").text
    assert "Here one may look, and log nothing." in tablet.get("/").text
    for token in ("x", "0" * 32):
        answer = tablet.post("/alerts/1/seen", data={"token": token})
        assert answer.headers["location"].startswith("/enter")
    visitor = tablet.get("/api/v1/visitor").json()
    assert visitor == {"who": "wall", "may_write": False, "token": None}


def test_a_looking_cookie_does_not_become_a_writing_one(shop: WebShop) -> None:
    cookie = looker(shop).cookies["curewatch"]
    bare = shop.stranger()
    bare.cookies.set("curewatch", cookie.removeprefix("look."))
    assert bare.get("/wall").status_code == 303


def test_the_wall_keeps_its_cookie_for_another_400_days(shop: WebShop) -> None:
    assert "Max-Age=34560000" in looker(shop).get("/wall").headers["set-cookie"]
    assert "set-cookie" not in looker(shop).get("/").headers


def test_whoever_comes_from_the_wall_is_asked_to_look_only(shop: WebShop) -> None:
    assert re.search(r'name="looks"[^>]* checked', shop.stranger().get("/enter?back=/wall").text)
    assert not re.search(r'name="looks"[^>]* checked', shop.stranger().get("/enter").text)
    wrong = {"passphrase": "not the words", "back": "/wall"}
    answer = shop.stranger().post("/enter", data=wrong)
    assert not re.search(r'name="looks"[^>]* checked', answer.text)  # as it was sent
