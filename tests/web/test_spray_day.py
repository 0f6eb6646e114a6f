"""Spray day: plans, dates worked back from and what-ifs, each at an address of its own."""

from __future__ import annotations

import re
from datetime import UTC, timedelta
from typing import TYPE_CHECKING

import pytest
from icalendar import Calendar
from starlette.datastructures import QueryParams

from curewatch.opened import Opened
from curewatch.planning import PlanWish, planned
from curewatch.planning.said import COLUMNS, coat_row
from curewatch.shop.day_plan import plan
from curewatch.storage import Store
from curewatch.web.draw.day import DayCoat, DayLine, DayWindow, day
from curewatch.web.draw.scale import Frame
from curewatch.web.forms import Typed
from curewatch.web.views.spray_day import plan_wish
from tests.small_shop import HOUR_MS
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from starlette.testclient import TestClient

PLAN = (
    "/spray-day?ask=plan&finish=waterborne&coats=2&piece=B1&opens=07:00&closes=20:00"
    "&coat_min=15&scuff=on"
)


@pytest.fixture
def visitor(open_shop: WebShop) -> TestClient:
    """Somebody who only looks."""
    return open_shop.stranger()


def test_the_forms_stand_there_before_anything_is_asked(visitor: TestClient) -> None:
    page = visitor.get("/spray-day")
    assert page.status_code == 200
    assert 'value="B1"' in page.text
    assert "<svg" not in page.text


def test_a_plan_on_the_page_is_the_plan_of_the_command(
    open_shop: WebShop, visitor: TestClient
) -> None:
    wish = PlanWish("waterborne", 2, pieces="B1", day="07:00-20:00", coat_min=15.0, scuff=True)
    with Store.open(open_shop.settings.storage.path) as store:
        opened = Opened(open_shop.settings, store, NOW_MS, NOW_MS)
        known, ask = planned(wish, open_shop.settings, opened)
        rows = [coat_row(coat, ask) for coat in plan(known.hooks, ask).coats]
    assert len(rows) == 2
    page = visitor.get(PLAN)
    assert page.status_code == 200
    body = page.text.partition("<tbody")[2].partition("</tbody>")[0]
    found = [
        tuple(re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", line))
        for line in re.findall(r"<tr[ >].*?</tr>", body)
    ]
    assert found == rows
    assert "<svg" in page.text
    assert known.basis in page.text


def test_what_cannot_be_meant_stands_at_its_field_and_what_was_typed_stays(
    visitor: TestClient,
) -> None:
    page = visitor.get("/spray-day?ask=plan&finish=waterborne&coats=900&coat_min=15")
    assert page.status_code == 422
    assert re.search(r'id="f-coats-fault" role="alert">[^<]*give 1 to 60', page.text)
    assert 'value="900" aria-invalid="true" aria-describedby="f-coats-fault"' in page.text
    assert "--coats" not in page.text


def test_half_a_day_is_no_day(visitor: TestClient) -> None:
    page = visitor.get("/spray-day?ask=plan&finish=waterborne&coats=1&opens=08:00")
    assert page.status_code == 422
    assert 'id="f-day-fault"' in page.text


@pytest.mark.parametrize("name", ["coats", "coat_min", "temp_c", "per_day"])
def test_letters_in_a_field_of_numbers_are_pointed_out_there(
    visitor: TestClient, name: str
) -> None:
    page = visitor.get("/spray-day", params={"ask": "plan", "finish": "waterborne", name: "many"})
    assert page.status_code == 422
    assert f'id="f-{name}-fault"' in page.text


def test_the_calendar_holds_the_coats_of_the_plan(visitor: TestClient) -> None:
    answer = visitor.get(PLAN.replace("/spray-day?", "/spray-day.ics?"))
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/calendar")
    events = Calendar.from_ical(answer.text).walk("VEVENT")
    coats = [event for event in events if str(event["summary"]).startswith("Coat ")]
    assert len(coats) == 2
    assert coats[0]["dtend"].dt - coats[0]["dtstart"].dt == timedelta(minutes=15)


def test_a_date_far_off_can_be_met_and_tomorrow_cannot(visitor: TestClient) -> None:
    ask = "/spray-day?ask=finish-by&finish=waterborne&coats=2&goal=buff&piece=B1&scuff=on"
    far = visitor.get(f"{ask}&date=2026-04-25")
    assert "Last coat on by" in far.text
    soon = visitor.get(f"{ask}&date=2026-03-07")
    assert "It cannot be done" in soon.text
    assert "would do it" in soon.text


def test_a_date_that_is_none_is_said(visitor: TestClient) -> None:
    page = visitor.get("/spray-day?ask=finish-by&finish=waterborne&coats=2")
    assert page.status_code == 422
    assert 'id="f-date-fault"' in page.text


@pytest.mark.parametrize(
    "change",
    [
        "change=climate&temp_c=27",
        "change=cabinet&cabinet_c=32",
        "change=heater&heater=24&on_from=08:00&on_to=18:00",
    ],
)
def test_a_what_if_is_answered_as_a_range_with_its_air(visitor: TestClient, change: str) -> None:
    page = visitor.get(f"/spray-day?ask=what-if&finish=waterborne&room=loft&{change}")
    assert page.status_code == 200
    assert re.search(r"x[\d.]+ to x[\d.]+", page.text)
    assert "Air as it is: 21.0" in page.text


def test_a_plans_line_begins_with_its_coat_and_a_what_ifs_does_not(visitor: TestClient) -> None:
    change = visitor.get("/spray-day?ask=what-if&piece=B1&change=cabinet&cabinet_c=32&room=loft")
    assert '<table class="stack" ' in change.text
    assert '<table class="stack in-line" ' in visitor.get(PLAN).text


def test_a_piece_of_no_name_has_no_column_for_it(visitor: TestClient) -> None:
    page = visitor.get(
        "/spray-day?ask=finish-by&finish=waterborne&coats=2&date=2026-06-01&room=loft"
    )
    heads = re.findall(r'role="columnheader">([^<]+)', page.text)
    assert heads == [name for name in COLUMNS if name != "piece"]
    assert "If it is begun at once" in page.text
    assert 'data-head="piece"' not in page.text
    assert "piece, coat" not in page.text


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("finish=waterborne&change=other_finish&other_finish=shellac&coats=4", "instead, 4 coats"),
        ("finish=waterborne&change=fewer_coats&fewer_coats=2&coats=6", "4 coats instead of 6"),
        ("piece=B1&change=fewer_coats&fewer_coats=1&coats=3", "2 coats instead of 3"),
    ],
)
def test_another_stack_is_compared_from_its_last_coat(
    visitor: TestClient, change: str, said: str
) -> None:
    page = visitor.get(f"/spray-day?ask=what-if&room=loft&{change}")
    assert page.status_code == 200
    assert said in page.text
    assert "from the last coat to" in page.text
    assert page.text.count('role="rowheader"') >= 1


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ("piece=B1&change=other_finish&other_finish=shellac&coats=4", "other_finish"),
        ("finish=waterborne&change=other_finish&other_finish=shellac", "coats"),
        ("finish=waterborne&change=fewer_coats&coats=3", "fewer_coats"),
        ("finish=waterborne&change=fewer_coats&fewer_coats=3&coats=3", "fewer_coats"),
        ("finish=waterborne&change=fewer_coats&fewer_coats=x&coats=3", "fewer_coats"),
        ("finish=waterborne&change=paint", "change"),
    ],
)
def test_a_stack_that_cannot_be_is_pointed_out(
    visitor: TestClient, change: str, field: str
) -> None:
    page = visitor.get(f"/spray-day?ask=what-if&room=loft&{change}")
    assert page.status_code == 422
    assert f'id="w-{field}-fault"' in page.text


def test_heat_that_no_room_sensor_sees_is_credited_with_nothing(visitor: TestClient) -> None:
    page = visitor.get("/spray-day?ask=what-if&piece=B1&change=lamp&room=loft")
    assert page.status_code == 200
    assert "heat lamp or hair dryer" in page.text


def test_a_shop_in_fahrenheit_and_mil_types_them(open_shop: WebShop) -> None:
    open_shop.settings.site.__dict__["units"] = "imperial"
    visitor = open_shop.stranger()
    ask = "/spray-day?ask=what-if&finish=waterborne&room=loft&change=cabinet&cabinet_c="
    assert "In a cabinet at 90 °F" in visitor.get(f"{ask}90").text
    refused = visitor.get(f"{ask}300")
    assert refused.status_code == 422
    assert "300 °F cannot be: give -40 to 176 °F" in refused.text
    assert "degC" not in refused.text
    thin = visitor.get("/spray-day?ask=plan&finish=waterborne&coats=2&room=loft&wet_um=0.01")
    assert thin.status_code == 422
    assert not re.search(r"\d um\b|\d µm", thin.text)
    typed = Typed(QueryParams("finish=waterborne&wet_um=4"))
    assert plan_wish(typed, imperial=True).wet_um == pytest.approx(101.6)


def test_a_fan_is_asked_about_without_a_number(visitor: TestClient) -> None:
    page = visitor.get("/spray-day?ask=what-if&piece=B1&change=fan&room=loft")
    assert page.status_code == 200
    assert "With a fan on" in page.text


def test_a_change_without_its_number_is_pointed_out(visitor: TestClient) -> None:
    page = visitor.get("/spray-day?ask=what-if&finish=waterborne&room=loft&change=cabinet")
    assert page.status_code == 422
    assert 'id="w-cabinet_c-fault"' in page.text


def test_a_start_at_which_the_room_is_not_fit_is_crossed_out() -> None:
    quarter = HOUR_MS // 4
    coats = (
        DayCoat("1", NOW_MS, NOW_MS + quarter, "coat 1"),
        DayCoat("2", NOW_MS + HOUR_MS, NOW_MS + HOUR_MS + quarter, "coat 2", fit=False),
    )
    frame = Frame("day", "a day", UTC)
    drawn = str(day(frame, [DayLine("B1", coats)], start_ms=NOW_MS, stop_ms=NOW_MS + 2 * HOUR_MS))
    assert len(re.findall(r'<rect [^>]*class="laid"', drawn)) == 1
    assert len(re.findall(r'<rect [^>]*class="unfit"', drawn)) == 1
    assert len(re.findall(r'<line [^>]*class="unfit"', drawn)) == 1


def test_the_drawing_hatches_nights_and_what_is_closed() -> None:
    coats = (DayCoat("1", NOW_MS, NOW_MS + HOUR_MS // 4, "coat 1"),)
    window = DayWindow(
        NOW_MS + HOUR_MS, NOW_MS + 2 * HOUR_MS, NOW_MS + 9 * HOUR_MS, NOW_MS + 5 * HOUR_MS, "open"
    )
    frame = Frame("day", "a day", UTC)
    drawn = str(
        day(
            frame,
            [DayLine("B1", coats, (window,))],
            start_ms=NOW_MS,
            stop_ms=NOW_MS + 9 * HOUR_MS,
            nights=[(NOW_MS + 6 * HOUR_MS, NOW_MS + 20 * HOUR_MS)],
        )
    )
    night = re.search(r'<rect x="([\d.]+)"[^>]*class="night"', drawn)
    closed = re.search(r'<rect x="([\d.]+)"[^>]*class="closed"', drawn)
    assert night is not None
    assert closed is not None
    assert float(night[1]) == pytest.approx(10.0 + 380.0 * 6 / 9, abs=0.1)
    assert float(closed[1]) == pytest.approx(10.0 + 380.0 * 5 / 9, abs=0.1)
