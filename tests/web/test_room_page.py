"""What a room's page shows, and saying what it will be like; from a real daemon."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import pytest

from curewatch.errors import BadInput
from curewatch.shop.piece import Fill
from curewatch.shop.room_plan import RoomPlan
from curewatch.shop.spray import Conditions, spray_check
from curewatch.shop.spray_ahead import SprayAhead, Turns
from curewatch.shop.spray_answer import Job, SprayAnswer
from curewatch.shop.spray_clear import Clear
from curewatch.shop.spray_terms import Verdict
from curewatch.shop.words import Words
from curewatch.storage import Store
from curewatch.web.air_facts import air_facts, chart_of
from curewatch.web.room_past import room_past
from curewatch.web.speech import Speech
from curewatch.web.tried import Trial
from curewatch.web.views.room_lines import lines
from curewatch.web.views.room_page import _number, _temp_c
from curewatch.web.views.room_said import fill_said, hours_said, overlaps, plan_said, tried_said
from tests.shop.scene import finish
from tests.small_shop import HOUR_MS, MINUTE_MS
from tests.web.test_access import token_of
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient


OPEN = "\n[page]\nopen_reading = true\n"


def plans_kept(shop: WebShop) -> tuple[RoomPlan, ...]:
    """Return the plans as another process sees them."""
    with Store.open(shop.settings.storage.path) as other:
        return other.room_plans.all()


def say_plan(known: TestClient, **typed: str) -> tuple[int, str]:
    answer = known.post(
        "/room/loft/plan", data={"token": token_of(known.get("/room/loft")), **typed}
    )
    return answer.status_code, answer.headers.get("location", answer.text)


# ---- what stands there


def test_a_room_is_told_in_words_with_its_verdict_and_the_hours_ahead(shop: WebShop) -> None:
    text = shop.known().get("/room/loft").text
    assert "Air 21.0 °C, 50 %, still." in text
    assert "Dew point 10.2 °C." in text  # Magnus form, WMO-No. 8, annex 4.B
    assert "No piece is measured" in text
    assert re.search(r"<strong>(fit to spray|fit, little to spare|cannot tell)", text)
    assert "Ahead: likely" in text
    assert '<a href="/piece/B1">B1</a>' in text


def test_every_drawing_says_the_same_in_a_sentence(shop: WebShop) -> None:
    text = shop.known().get("/room/loft").text
    drawings = re.findall(r"<svg.*?</svg>", text, re.DOTALL)
    assert len(drawings) == 5  # the air chart and four lines
    ids: list[str] = []
    for drawing in drawings:
        root = ET.fromstring(drawing)  # noqa: S314 - our own drawing
        ids += [one.get("id") or "" for one in root.iter() if one.get("id")]
    assert len(ids) == len(set(ids))
    assert text.count("known for 100 % of the span") == 8  # shown, and kept for the read-out
    assert "too cold: below 18.0 °C." in text


def test_the_span_is_chosen_by_a_plain_link(shop: WebShop) -> None:
    known = shop.known()
    for span, hours in (("24h", 24), ("7d", 7 * 24), ("30d", 30 * 24)):
        text = known.get(f"/room/loft?span={span}").text
        told = re.findall(r'data-read-out="([^"]+)"', text)
        read_out = json.loads(told[0].replace("&#34;", '"'))
        reach_h = (read_out["to"] - read_out["from"]) / HOUR_MS
        assert reach_h == pytest.approx(hours, abs=1.0)
        assert re.search(rf'span={span}#past" aria-current="true"', text)
    whole = known.get("/room/loft?span=whole").text
    assert "known for 100 %" in whole  # it begins with what was first heard
    assert known.get("/room/loft?span=ever").status_code == 422


def test_the_chart_may_be_of_any_profile_and_names_what_may_have_been_meant(shop: WebShop) -> None:
    known = shop.known()
    assert "Air chart, shellac" in known.get("/room/loft?finish=shellac").text
    wrong = known.get("/room/loft?finish=shellak")
    assert wrong.status_code == 404
    assert "did you mean shellac?" in wrong.text
    assert known.get("/room/lift").status_code == 404


def test_links_beside_a_verdict_leave_no_dot_behind_where_they_wrap(shop: WebShop) -> None:
    text = shop.known().get("/room/loft?finish=shellac").text
    beside = [one for one in re.findall(r'<p class="near.*?</p>', text) if "air chart for" in one]
    assert beside
    assert all("·" not in one and 'class="near here"' in one for one in beside)


def test_a_stranger_may_not_look_where_reading_is_closed(shop: WebShop) -> None:
    assert shop.stranger().get("/room/loft").status_code == 303


def test_a_stranger_who_may_look_sees_no_form_and_enters_nothing(open_shop: WebShop) -> None:
    text = open_shop.stranger().get("/room/loft").text
    assert "<form" not in text.partition("</main>")[0]
    assert open_shop.stranger().post("/room/loft/plan", data={"token": "x"}).status_code == 303
    assert plans_kept(open_shop) == ()


def test_a_room_never_heard_says_so_and_draws_no_line(tmp_path: Path) -> None:
    with WebShop.at(tmp_path, OPEN) as silent:
        text = silent.stranger().get("/room/loft?finish=waterborne").text
    assert "Nothing was ever heard from this room." in text
    assert text.count("Nothing is known of this in the span.") == 4
    assert "too cold: below 18.0 °C." in text  # the profile's limits stand without any air


def test_old_air_is_marked_as_old_and_nothing_is_said_ahead_of_it(shop: WebShop) -> None:
    facts = shop.daemon.desk.ask(
        lambda counter: air_facts(counter.shop, "loft", finish("waterborne"), counter.now_ms)
    )
    speech = Speech(shop.settings.words(), NOW_MS)
    young, old = (
        chart_of(replace(facts, fresh=fresh), speech, name="x") for fresh in (True, False)
    )
    assert (young.words["now"], old.words["now"]) == ("now", "last heard")
    assert young.ahead
    assert not old.ahead
    assert "decides nothing any more" in old.description
    assert "In 12 h likely" in young.description
    assert "In 12 h" not in old.description


# ---- saying what it will be like


def test_a_plan_is_entered_shown_and_taken_back(shop: WebShop) -> None:
    known = shop.known()
    status, where = say_plan(known, temp="23,5", rh="45 %", stop="in 8h", why="the stove")
    assert (status, where) == (303, "/room/loft?planned=1#plans")
    (plan,) = plans_kept(shop)
    assert (plan.temp_c, plan.rh_frac, plan.why) == (23.5, 0.45, "the stove")
    assert plan.stop_ms == NOW_MS + 8 * HOUR_MS
    text = known.get("/room/loft?planned=1").text
    assert "kept at 23.5 °C, dried to at most 45 %" in text
    assert "Entered as number 1." in text
    undone = known.post("/room/loft/plan/1/undo", data={"token": token_of(known.get("/room/loft"))})
    assert undone.status_code == 303
    assert plans_kept(shop) == ()
    assert "kept at 23.5" not in known.get("/room/loft").text


def test_the_later_plan_is_said_to_rule_over_the_earlier(shop: WebShop) -> None:
    known = shop.known()
    say_plan(known, temp="23")
    say_plan(known, kind="off", temp="9", start="in 1h")
    text = known.get("/room/loft?planned=2").text
    assert "heating off, drifts to 9.0 °C" in text
    assert "rules over plan 1" in text
    say_plan(known, kind="at-least", temp="19")
    assert "heated to at least 19.0 °C" in known.get("/room/loft").text


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"temp": "warm"}, "is no number"),
        ({}, "say what the room will be like"),
        ({"temp": "500"}, "500 °C"),
        ({"temp": "20", "start": "someday"}, "someday"),
        ({"kind": "off"}, "&#39;Temperature&#39;"),
        ({"kind": "at-least", "rh": "50"}, "goes with &#39;Temperature&#39;"),
    ],
)
def test_what_cannot_be_meant_is_explained_and_enters_nothing(
    shop: WebShop, typed: dict[str, str], told: str
) -> None:
    status, text = say_plan(shop.known(), **typed)
    assert status == 422
    assert told in text
    assert "--" not in text.partition("<main")[2].partition("</main>")[0]  # the page's own words
    assert plans_kept(shop) == ()


def test_a_form_from_elsewhere_enters_nothing(shop: WebShop) -> None:
    answer = shop.known().post("/room/loft/plan", data={"token": "stolen", "temp": "20"})
    assert answer.status_code == 303
    assert plans_kept(shop) == ()


def test_a_shop_in_fahrenheit_types_fahrenheit() -> None:
    assert _temp_c("68", imperial=True) == pytest.approx(20.0)
    assert _temp_c("", imperial=True) is None
    with pytest.raises(BadInput, match="is no number"):
        _number("12..5", "humidity")


# ---- the hours ahead in words


def answer(ahead: SprayAhead | None, *, temp_c: float = 21.0) -> SprayAnswer:
    plain = finish("dose-cured")
    now = spray_check(plain, Conditions(temp_c, 0.5, surface_c=temp_c), Words())
    return SprayAnswer(Job(plain), now, ahead, None, ())


def hours(verdict: Verdict, turns: Turns, limit: str | None = "air-low") -> SprayAhead:
    return SprayAhead(6 * HOUR_MS, False, verdict, turns, limit, (), False, 0)


NEVER = Turns(None, None, None)


@pytest.mark.parametrize(
    ("ahead", "temp_c", "said"),
    [
        (None, 21.0, "the room's air is not known"),
        (hours(Verdict.FIT, NEVER, None), 21.0, "likely to stay so until today 6:00, when a"),
        (
            hours(Verdict.TIGHT, Turns(HOUR_MS, None, None)),
            21.0,
            "until today 6:00, but from about today 1:00 it may turn (too cold).",
        ),
        (
            hours(Verdict.WAIT, Turns(HOUR_MS, 2 * HOUR_MS + 14 * MINUTE_MS, None)),
            21.0,
            "likely so until about today 2:00; from today 1:00 it may turn (too cold).",
        ),
        (hours(Verdict.WAIT, NEVER), 12.0, "until today 6:00: likely no better (too cold)."),
        (hours(Verdict.FIT, NEVER), 12.0, "until today 6:00: likely fit to spray."),
    ],
)
def test_the_hours_ahead_are_said_in_words_of_probability(
    ahead: SprayAhead | None, temp_c: float, said: str
) -> None:
    assert said in hours_said(answer(ahead, temp_c=temp_c), Speech(Words(), 0))


def test_each_change_stands_beside_the_verdict_that_it_gave() -> None:
    tight = Verdict.TIGHT.words
    trial = Trial(
        (
            Clear("measure-surface", None, "", None, "measure the piece itself"),
            Clear("wait", 3.0, "h", Verdict.TIGHT, f"wait: likely from 14:00, then {tight}"),
            Clear("drier", 4.0, "%", Verdict.TIGHT, f"air drier by 4 points: then {tight}"),
            Clear("warmer", 2.0, "K", Verdict.FIT, "room warmer by 2.0 K"),
        ),
        0,
    )
    assert tried_said(trial) == [
        ("measure the piece itself", None),
        ("wait: likely from 14:00", Verdict.TIGHT),
        ("air drier by 4 points", Verdict.TIGHT),
        ("room warmer by 2.0 K", Verdict.FIT),
    ]


def test_a_room_that_is_not_fit_shows_what_was_tried_and_what_each_gave(tmp_path: Path) -> None:
    with WebShop.at(tmp_path, OPEN) as cold:
        cold.hear(temp_c=12.0)
        cold.hang("B1")
        text = cold.stranger().get("/room/loft").text
    assert re.search(r"What would clear it, tried at \d", text)
    assert "Warmth only from what the label and the local code allow" in text
    assert re.search(
        r'<li>room warmer by \d+\.\d K.*?<strong class="mark-(fit|tight)">', text, re.DOTALL
    )


def test_a_room_shows_an_air_chart_for_each_finish_that_is_chosen_by_a_link(
    open_shop: WebShop,
) -> None:
    open_shop.hang("B2", finish="shellac")
    visitor = open_shop.stranger()
    text = visitor.get("/room/loft").text
    assert len(re.findall('<figure class="air-chart"', text)) == 1
    (every,) = re.findall(r'href="(/room/loft\?finish=shellac&amp;finish=waterborne[^"#]*)', text)
    both = visitor.get(every.replace("&amp;", "&")).text
    assert re.findall('<h2 id="chart[^"]*">Air chart, ([a-z-]+)', both) == ["shellac", "waterborne"]
    ids = re.findall(r' id="([^"]+)"', both)
    assert len(ids) == len(set(ids))
    assert "air charts of all" not in both
    assert visitor.get("/room/loft?" + "&".join(["finish=shellac"] * 9)).status_code == 422


def test_plans_and_fills_are_said_as_a_person_would() -> None:
    speech = Speech(Words(), 0)
    fixed = RoomPlan("loft", 0, temp_c=20.0, rh_frac=0.5)
    assert (
        plan_said(fixed, speech)
        == "kept at 20.0 °C, humidity kept at 50 %; always, by the configuration"
    )
    assert overlaps(fixed, [fixed]) == []
    fill = Fill("loft", 0, HOUR_MS, 20.0, 0.5, "the week before")
    assert fill_said(fill, speech) == (
        "today 0:00 to today 1:00: 20.0 °C and 50 % were assumed, because the week before"
    )


def test_lines_are_in_the_shops_units_with_the_finishs_limits_as_edges(shop: WebShop) -> None:
    past = shop.daemon.desk.ask(
        lambda counter: room_past(counter.shop, "loft", NOW_MS - 24 * HOUR_MS, NOW_MS)
    )
    for imperial, unit in ((False, "°C"), (True, "°F")):
        speech = Speech(Words(imperial=imperial), NOW_MS)
        (temp, *others) = lines(past, finish("waterborne"), speech, room="loft")
        assert unit in temp.sentence
        assert f">{unit}</text>" in str(temp.drawing)
        assert [one.drawing is not None for one in others] == [True] * 3
    cold = replace(past, temp_c=past.temp_c - 2.5)  # near enough to the limit for it to be shown
    for named, profile in ((True, finish("waterborne")), (False, None)):
        drawn = lines(cold, profile, Speech(Words(), 0), room="loft")[0].drawing
        assert ("too cold" in str(drawn)) is named


def test_the_dew_limit_speaks_of_a_piece_only_where_one_is_measured(shop: WebShop) -> None:
    past = shop.daemon.desk.ask(
        lambda counter: room_past(counter.shop, "loft", NOW_MS - 24 * HOUR_MS, NOW_MS)
    )
    near = replace(past, rh_frac=past.rh_frac * 0.0 + 0.8)  # 3.6 K over the dew point
    measured = replace(near, surface_c=near.temp_c)
    for one, there, not_there in (
        (near, "near dew (surface not measured)", "piece too near dew"),
        (measured, "piece too near dew", "surface not measured"),
    ):
        drawn = str(lines(one, finish("waterborne"), Speech(Words(), 0), room="loft")[2].drawing)
        assert there in drawn
        assert not_there not in drawn


# ---- the same as an object


def test_the_air_chart_is_served_as_an_object(shop: WebShop) -> None:
    known = shop.known()
    chart = known.get("/api/v1/rooms/loft/air-chart?finish=waterborne").json()
    sides = {edge["side"]: edge["limit"] for edge in chart["edges"]}
    assert sides["left"] == "air-low"
    assert chart["now"]["temp_c"] == pytest.approx(21.0, abs=0.1)
    assert chart["now"]["fresh"] is True
    assert len(chart["trail"]) == 145  # a day by tens of minutes, both ends
    assert [one["at"] for one in chart["trail"]] == sorted(one["at"] for one in chart["trail"])
    assert len(chart["ahead"]) == 4
    assert known.get("/api/v1/rooms/lift/air-chart?finish=waterborne").status_code == 404
    assert known.get("/api/v1/rooms/loft/air-chart?finish=water").status_code == 404
    assert known.get("/api/v1/rooms/loft/air-chart").status_code == 422
    assert shop.stranger().get("/api/v1/rooms/loft/air-chart?finish=shellac").status_code == 401


def test_the_air_chart_of_a_silent_room_has_edges_and_no_air(tmp_path: Path) -> None:
    with WebShop.at(tmp_path, OPEN) as silent:
        chart = silent.stranger().get("/api/v1/rooms/loft/air-chart?finish=shellac").json()
    assert chart["edges"]
    assert (chart["now"], chart["ahead"]) == (None, [])
    assert all(point["temp_c"] is None for point in chart["trail"])
