"""Checking a sensor on the page, with a real daemon behind it."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.shop.climate import RH, RH_COVER
from curewatch.shop.reading import Origin, Quantity, Reading
from tests.small_shop import HOUR_MS, MINUTE_MS
from tests.web_shop import NOW_MS

if TYPE_CHECKING:
    from httpx import Response
    from starlette.testclient import TestClient

    from tests.web_shop import WebShop

PLACE = "/sensors/rack"


def plain(text: str) -> str:
    """Return a page's words alone."""
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", text)))


def blank(client: TestClient) -> dict[str, str]:
    """Return what a form of the page carries unseen."""
    text = client.get(PLACE).text
    found = (re.search(rf'name="{name}" value="([^"]+)"', text) for name in ("token", "key"))
    return {one[0].split('"')[1]: one[1] for one in found if one is not None}


def answered(client: TestClient, what: str, **fields: str) -> Response:
    """Send one of the page's forms; return the answer."""
    form = {**blank(client), **fields}
    answer: Response = client.post(f"{PLACE}/{what}", data=form, follow_redirects=False)
    return answer


def sent(client: TestClient, what: str, **fields: str) -> int:
    """Send one of the page's forms; return the status it is answered with."""
    return int(answered(client, what, **fields).status_code)


def hears(shop: WebShop, rh: float) -> None:
    """Let the sensor say one humidity for the six hours before now."""

    def keep() -> None:
        new = [
            Reading("rack", quantity, NOW_MS - minute * MINUTE_MS + 1, value, Origin.OWN_TIME)
            for minute in range(5, 361, 10)
            for quantity, value in ((Quantity.TEMPERATURE, 20.0), (Quantity.HUMIDITY, rh))
        ]
        shop.store.readings.add(new, announce=True)
        shop.daemon.feed.reload("loft", NOW_MS - 100 * HOUR_MS)

    shop.do(lambda: shop.store.readings.void("rack", 0, NOW_MS + HOUR_MS, "jar", NOW_MS))
    shop.do(keep)


def test_a_sensor_that_was_never_checked_shows_the_steps(shop: WebShop) -> None:
    text = plain(shop.known().get(PLACE).text)
    assert "Its humidity was not checked yet." in text
    assert "4 hours at least" in text
    assert "never a solution" in text
    assert "equally warm" in text
    assert "magnesium chloride, 33 %" in text
    assert "Checks and corrections" in plain(shop.known().get("/sensors").text)


def test_a_sensor_nobody_configured_is_not_there(shop: WebShop) -> None:
    assert shop.known().get("/sensors/rak").status_code == 404


def test_a_check_is_kept_once_it_has_settled_and_corrects_the_room(shop: WebShop) -> None:
    client = shop.known()
    hears(shop, 0.735)
    assert sent(client, "jar", salt="table", at="5h ago") == 303
    text = plain(client.get(PLACE).text)
    assert "It says 73.5 %; the salt keeps 75.5 %." in text
    assert "It has settled: keep the check." in text
    assert "is of no room" in text
    assert "Its room is loft. It is in a jar." in text
    assert sent(client, "keep") == 303
    text = plain(client.get(PLACE).text)
    assert "Where it says 73.5 %, 2.0 points are added." in text
    assert "a second salt narrows the doubt" in text
    assert "against table salt, which kept 75.5 %, it said 73.5 %" in text
    assert "It counts corrected: 75 %. What it says above is raw" in plain(
        client.get("/sensors").text
    )
    told = client.get("/api/v1/sensors").json()["sensors"]
    (rack,) = [one for one in told if one["sensor"] == "rack"]
    assert rack["corrections"][0]["off"] == pytest.approx(1.98, abs=0.01)
    assert sent(client, "hang") == 303
    assert "Checked" in plain(client.get(PLACE).text)


def test_a_jar_leaves_its_room_unmeasured_on_every_page_until_readings_count(
    shop: WebShop,
) -> None:
    client = shop.known()
    hears(shop, 0.5)
    why = "rack is in a jar: the room is not measured"
    assert why not in plain(client.get("/room/loft").text)
    answer = answered(client, "jar", salt="table", at="5h ago")
    text = plain(client.get(answer.headers["location"]).text)
    assert "loft has no other sensor for its humidity: no verdict there until it is back." in text
    for page in ("/", "/room/loft"):
        assert why in plain(client.get(page).text)
    answer = answered(client, "hang")
    assert "Its readings count from" in plain(client.get(answer.headers["location"]).text)
    assert "rack is back from the jar" in plain(client.get("/room/loft").text)


def test_a_check_taken_back_leaves_the_room_as_it_was(shop: WebShop) -> None:
    client = shop.known()

    def track() -> list[float]:
        climate = shop.daemon.shop.book.climates["loft"]
        known = climate.row(RH_COVER) > 0.0
        return [float(v) for v in climate.row(RH)[known]]

    hears(shop, 0.735)
    client.get(PLACE)
    before = shop.do(track)
    assert sent(client, "jar", salt="table", at="5h ago") == 303
    assert sent(client, "keep") == 303
    client.get(PLACE)
    in_jar = shop.do(track)
    assert len(in_jar) < len(before)
    shop.do(lambda: shop.store.sensor_checks.take_out("rack", 0, NOW_MS))
    client.get(PLACE)
    number = shop.do(lambda: shop.store.sensor_checks.all()[-1].id)
    assert sent(client, f"checks/{number}/undo", why="the salt was dry") == 303
    assert "Taken back: the salt was dry" in plain(client.get(PLACE).text)
    assert shop.do(track) == before


def test_a_sensor_that_has_not_settled_is_not_kept(shop: WebShop) -> None:
    client = shop.known()
    hears(shop, 0.735)
    assert sent(client, "jar", salt="table") == 303
    assert "It has settled" not in plain(client.get(PLACE).text)
    assert sent(client, "keep") == 422


def test_a_thermometer_beside_it_and_a_new_sensor(shop: WebShop) -> None:
    client = shop.known()
    hears(shop, 0.5)
    assert sent(client, "beside", shows="19,5", error="0.2") == 303
    assert "Where it says 20.0 °C, 0.5 K are taken away." in plain(client.get(PLACE).text)
    assert sent(client, "beside", shows="warm", error="0.2") == 422
    assert sent(client, "renew") == 303
    text = plain(client.get(PLACE).text)
    assert "a new sensor" in text
    assert "are taken away" not in text


def test_a_form_sent_again_enters_its_check_once(shop: WebShop) -> None:
    client = shop.known()
    hears(shop, 0.5)
    form = {**blank(client), "shows": "19.5", "error": "0.2"}
    answers = [client.post(f"{PLACE}/beside", data=form, follow_redirects=False) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [303, 303]
    assert answers[0].headers["location"] == answers[1].headers["location"]
    assert len(shop.do(shop.store.sensor_checks.all)) == 1
    assert "The check is kept." in plain(client.get(answers[0].headers["location"]).text)


def test_a_form_without_a_key_is_none_of_ours(shop: WebShop) -> None:
    client = shop.known()
    hears(shop, 0.5)
    assert sent(client, "beside", key="", shows="19.5", error="0.2") == 422
    assert shop.do(shop.store.sensor_checks.all) == ()


def test_what_was_typed_stands_again_after_a_fault(shop: WebShop) -> None:
    client = shop.known()
    hears(shop, 0.5)
    text = answered(client, "beside", shows="warm", error="0.25").text
    assert 'value="warm"' in text
    assert 'value="0.25"' in text
    assert "warm is no number" in plain(text)
    text = answered(client, "jar", salt="carbonate", at="one day").text
    assert '<option value="carbonate" selected>' in text
    assert 'value="one day"' in text
    assert 'id="jar-at-fault"' in text


@pytest.mark.parametrize(("units", "asked"), [("metric", "°F"), ("imperial", "°C")])
def test_a_thermometer_typed_in_the_other_unit_is_asked_back(
    shop: WebShop, units: str, asked: str
) -> None:
    client = shop.known()
    hears(shop, 0.5)
    shop.settings.site.__dict__["units"] = units
    shows = "68" if units == "metric" else "20"
    answer = answered(client, "beside", shows=shows, error="0.2")
    assert answer.status_code == 422
    assert f"Is it in {asked}?" in plain(answer.text)
    assert f'value="{shows}"' in answer.text
    assert 'name="really"' in answer.text
    assert shop.do(shop.store.sensor_checks.all) == ()
    assert sent(client, "beside", shows=shows, error="0.2", really="on") == 303
    assert len(shop.do(shop.store.sensor_checks.all)) == 1


def test_another_sensors_check_is_not_taken_back_from_here(shop: WebShop) -> None:
    client = shop.known()
    hears(shop, 0.5)
    assert sent(client, "beside", shows="19.5", error="0.2") == 303
    theirs = replace(shop.do(shop.store.sensor_checks.all)[0], sensor="another", id=0)
    (number,) = shop.do(lambda: shop.store.sensor_checks.add([theirs], NOW_MS))
    answer = answered(client, f"checks/{number}/undo", why="mine")
    assert answer.status_code == 422
    assert f"Check {number} is none of rack" in plain(answer.text)
    assert shop.do(shop.store.sensor_checks.voids) == {}


def test_nobody_writes_who_may_not(shop: WebShop) -> None:
    client = shop.known()
    where = f"{PLACE}/jar"
    answer = client.post(where, data={"token": "x", "salt": "table"}, follow_redirects=False)
    assert answer.headers["location"].startswith("/enter")
    assert shop.do(shop.store.sensor_checks.jars) == ()


@pytest.mark.parametrize("what", ["jar", "keep", "hang", "beside", "renew", "checks/1/undo"])
def test_a_clock_that_is_not_set_lets_nothing_be_entered(
    shop: WebShop, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    client = shop.known()
    hears(shop, 0.735)
    assert sent(client, "beside", shows="19.5", error="0.2") == 303
    assert sent(client, "jar", salt="table", at="5h ago") == 303
    monkeypatch.setattr(shop.daemon, "_follows_readings", False)
    monkeypatch.setattr(shop.daemon.clock, "now_ms", lambda: None)
    kept = shop.store.sensor_checks

    def there() -> tuple[object, ...]:
        return kept.all(), kept.jars()

    before = shop.do(there)
    assert sent(client, what, salt="table", shows="19.4", error="0.2") == 422
    assert shop.do(there) == before
