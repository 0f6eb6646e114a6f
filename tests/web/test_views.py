"""What today, the alerts and the errors show, from a real daemon."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadInput
from curewatch.storage import Store
from curewatch.web.views.alerts import place_of
from tests.small_shop import HOUR_MS, MINUTE_MS
from tests.web.test_access import token_of
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient

    from curewatch.shop.alert import Alert


def alerts_kept(shop: WebShop) -> tuple[Alert, ...]:
    """Return the alerts as another process sees them."""
    with Store.open(shop.settings.storage.path) as other:
        return other.alerts.active()


def act(known: TestClient, number: int, deed: str, **more: str) -> None:
    token = token_of(known.get("/alerts"))
    answer = known.post(f"/alerts/{number}/{deed}", data={"token": token, **more})
    assert (answer.status_code, answer.headers["location"]) == (303, "/alerts")


# ---- today


def test_today_tells_the_air_and_the_verdict_of_each_finish(shop: WebShop) -> None:
    text = shop.known().get("/").text
    assert ">loft</a></h3>" in text
    assert "Air 21.0 °C, 50 %" in text
    assert "dew point 10.2 °C" in text  # 21 degC and 50 % RH: Magnus form, WMO-No. 8, annex 4.B
    assert re.search(r"<strong>(fit|do not|cannot)[a-z ,]+</strong>: waterborne</p>", text)
    assert "surface not measured" in text


def test_today_tells_the_next_jobs_in_the_bench_lists_order(shop: WebShop) -> None:
    shop.hang("FRESH", NOW_MS - HOUR_MS // 2)
    shop.hang("BARE")
    text = shop.known().get("/").text
    order = re.findall(r'href="/piece/(\w+)"', text)
    listed = shop.known().get("/api/v1/pieces").json()["pieces"]
    assert sorted(order) == sorted(piece["piece"] for piece in listed) == ["B1", "BARE", "FRESH"]
    assert order[-1] == "BARE"  # nobody can say when its first coat is due


def test_more_pieces_than_one_looks_at_are_counted(shop: WebShop) -> None:
    for number in range(9):
        shop.hang(f"P{number}", NOW_MS - HOUR_MS)
    text = shop.known().get("/").text
    assert "2 more pieces are on the hooks." in text
    assert len(re.findall(r'href="/piece/', text)) == 8


def test_a_stale_climate_is_said_to_be_old(tmp_path: Path) -> None:
    second = '\n[[room]]\nname = "booth"\n[[sensor]]\nid = "b"\nroom = "booth"\ntopic = "b"\n'
    second += 'temperature = "/t"\nhumidity = "/rh"\n[page]\nopen_reading = true\n'
    with WebShop.at(tmp_path, second) as shop:
        text = shop.stranger().get("/").text
        assert "Nothing was ever heard from this room." in text
        shop.hear(hours=1)
        shop.do(lambda: setattr(shop.daemon.clock, "_now_ms", NOW_MS + 9 * HOUR_MS))
        shop.do(shop.daemon.desk.changed)
        text = shop.stranger().get("/").text
        assert "too old to speak for the air now" in text
        assert "No piece hangs here." in text
        assert "No finish is in use" in text


def test_what_cannot_wait_stands_first_on_today_until_somebody_has_it(shop: WebShop) -> None:
    known = shop.known()
    assert "Alerts nobody has seen: 1" in known.get("/").text
    assert "Nobody has seen these yet" not in known.get("/").text
    shop.hang("WET", NOW_MS - HOUR_MS // 6)
    # 10 degC is below what the profile asks for while a coat is wet; it must last to be raised
    shop.hear(NOW_MS + HOUR_MS, hours=1, temp_c=4.0)
    text = known.get("/").text
    assert text.index("Nobody has seen these yet") < text.index("The rooms")
    for alert in alerts_kept(shop):
        if alert.phase == "raised":
            act(known, alert.id, "seen")
    text = known.get("/").text
    assert "Nobody has seen these yet" not in text
    assert "Alerts nobody has seen" not in text


def test_a_name_that_looks_like_markup_is_shown_as_it_is(shop: WebShop) -> None:
    shop.hang("X1", NOW_MS - HOUR_MS, title="<i>x")
    text = shop.known("<b>Ada").get("/").text
    assert "<i>x" not in text
    assert "<b>Ada" not in text
    assert "&lt;i&gt;x" in text


def test_units_and_clock_follow_the_configuration(tmp_path: Path) -> None:
    config = '\n[page]\nopen_reading = true\nclock = "12"\n'
    with WebShop.at(tmp_path, config) as shop:
        shop.settings.site.__dict__["units"] = "imperial"
        shop.hear(hours=3)
        text = shop.stranger().get("/").text
        assert "70 °F" in text
        assert "today 6:00 am</time>" in text


def test_a_clock_that_is_not_set_is_said_on_every_page(
    open_shop: WebShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    daemon = open_shop.daemon
    monkeypatch.setattr(daemon, "_follows_readings", False)
    monkeypatch.setattr(daemon.clock, "now_ms", lambda: None)
    assert "clock is not set" in open_shop.stranger().get("/").text


# ---- alerts


def test_an_alert_leads_to_what_it_is_about(shop: WebShop) -> None:
    assert re.search(r'<h2[^>]*><a href="/piece/B1">Piece B1: ', shop.known().get("/alerts").text)
    assert place_of("piece:A/1#coat-3") == "/piece/A%2F1"
    assert place_of("follow-up:B1#30") == "/piece/B1"
    assert place_of("room:loft") == "/room/loft"
    assert place_of("sensor:t1") == "/sensors"
    assert place_of("pot:Mon-A") == "/pot/Mon-A"
    assert place_of("clock:") == ""


def test_an_alert_that_is_seen_stays_seen_when_the_watch_goes_on(shop: WebShop) -> None:
    known = shop.known("Ada")
    (alert,) = alerts_kept(shop)
    act(known, alert.id, "seen")
    shop.hear(NOW_MS + 20 * MINUTE_MS, hours=0)
    (kept,) = alerts_kept(shop)
    assert (kept.phase, kept.seen_by) == ("seen", "Ada")
    text = known.get("/alerts").text
    assert "with Ada since <time" in text
    assert f"/alerts/{alert.id}/seen" not in text


def test_an_alert_rests_until_its_hours_are_over(shop: WebShop) -> None:
    known = shop.known("Ada")
    (alert,) = alerts_kept(shop)
    act(known, alert.id, "rest", hours="4")
    (kept,) = alerts_kept(shop)
    assert (kept.phase, kept.rest_until_ms) == ("resting", NOW_MS + 4 * HOUR_MS)
    assert "rests until <time" in known.get("/alerts").text
    shop.hear(NOW_MS + 5 * HOUR_MS, hours=5)
    assert alerts_kept(shop)[0].phase == "raised"


def test_who_gave_no_name_is_told_of_as_somebody(shop: WebShop) -> None:
    known = shop.known("")
    assert "You may write." in known.get("/").text
    (alert,) = alerts_kept(shop)
    act(known, alert.id, "seen")
    assert "with somebody since" in known.get("/alerts").text


def test_what_only_holds_is_watched_and_nothing_can_be_done_about_it(shop: WebShop) -> None:
    def watching() -> None:
        (alert,) = shop.daemon.watch.alerts()
        from dataclasses import replace  # noqa: PLC0415 - used here alone

        shop.daemon.watch.replace_alerts([replace(alert, phase=type(alert.phase)("watching"))])

    shop.do(watching)
    text = shop.known().get("/alerts").text
    assert "watched since" in text
    assert "/rest" not in text


def test_no_alert_is_said_in_words(tmp_path: Path) -> None:
    with WebShop.at(tmp_path, "\n[page]\nopen_reading = true\n") as quiet:
        assert "No alert stands." in quiet.stranger().get("/alerts").text


@pytest.mark.parametrize("number", ["77", "0", "-1", "9" * 30, "one"])
def test_an_alert_that_is_not_there_cannot_be_seen(shop: WebShop, number: str) -> None:
    known = shop.known()
    token = token_of(known.get("/alerts"))
    answer = known.post(f"/alerts/{number}/seen", data={"token": token})
    assert answer.status_code == 422
    assert "That was not done." in answer.text


@pytest.mark.parametrize("hours", ["0", "-4", "100000", "soon", ""])
def test_it_cannot_rest_for_what_is_no_span(shop: WebShop, hours: str) -> None:
    known = shop.known()
    token = token_of(known.get("/alerts"))
    answer = known.post("/alerts/1/rest", data={"token": token, "hours": hours})
    assert answer.status_code == 422
    assert "hours" in answer.text


# ---- errors


def test_a_place_that_is_not_there_says_so_on_a_page(shop: WebShop) -> None:
    answer = shop.known().get("/no<b>where")
    assert answer.status_code == 404
    assert "There is nothing at /no&lt;b&gt;where." in answer.text
    assert shop.known().put("/alerts").status_code == 405
    assert shop.known().get("/look/../app.py").status_code == 404


def test_the_error_page_comes_up_while_the_daemon_is_away(
    shop: WebShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = shop.known()
    monkeypatch.setattr("curewatch.web.desk.Desk.ask.__kwdefaults__", {"patience_s": 0.05})
    shop.rests.set()
    answer = known.get("/alerts")
    assert answer.status_code == 503
    assert "has no time just now" in answer.text
    shop.rests.clear()
    assert known.get("/alerts").status_code == 200


def test_what_the_shop_refuses_is_said_on_a_page(
    open_shop: WebShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(_: object) -> None:
        raise BadInput("no such piece: look at its label")

    monkeypatch.setattr("curewatch.web.views.alerts.look", refuses)
    answer = open_shop.stranger().get("/alerts")
    assert answer.status_code == 422
    assert "no such piece: look at its label" in answer.text


def test_every_page_is_framed_for_those_who_do_not_see_it(open_shop: WebShop) -> None:
    for place in ("/", "/alerts", "/enter", "/nowhere"):
        text = open_shop.stranger().get(place).text
        assert text.count("<h1") == text.count("<main") == text.count("<nav") == 1
        assert '<html lang="en"' in text
        assert '<a class="skip" href="#matter">' in text
        assert "<script>" not in text
        assert " style=" not in text
        assert re.search(r"\son\w+=", text) is None


def test_the_look_is_served_from_here_alone(open_shop: WebShop) -> None:
    stranger = open_shop.stranger()
    text = stranger.get("/").text
    assert re.search(r'(?:src|href)="(?:https?:)?//', text) is None
    for place in re.findall(r'(?:src|href)="(/look/[^"]+)"', text):
        answer = stranger.get(place)
        assert answer.status_code == 200, place
        assert re.search(r"url\((?!data:)|https?://(?!www\.w3\.org)", answer.text) is None, place


# ---- the way through


@pytest.mark.parametrize(
    ("path", "view", "how"),
    [
        ("/", "today", "page"),
        ("/room/loft", "today", "true"),
        ("/hooks", "on the hooks", "page"),
        ("/piece/B1", "on the hooks", "true"),
        ("/shelf/waterborne", "shelf", "true"),
        ("/labels", "on the hooks", "true"),
        ("/nowhere", None, ""),
    ],
)
def test_the_views_row_says_where_one_is_below_a_view_too(
    shop: WebShop, path: str, view: str | None, how: str
) -> None:
    marked = re.findall(r'aria-current="(\w+)">([a-z ]+)</a></li>', shop.known().get(path).text)
    assert marked == ([] if view is None else [(how, view)])
