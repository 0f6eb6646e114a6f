"""A day is planned, a date asked for and a what-if tried, with script and without."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.browser import at, come_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from tests.browser.bench_shop import BenchShop

pytestmark = [pytest.mark.broker, pytest.mark.timeout(180)]


@pytest.mark.parametrize("script", [True, False], ids=["script", "no-script"])
def test_a_day_is_planned_and_its_answer_has_an_address(
    browser: Browser, shop: BenchShop, *, script: bool
) -> None:
    with at(browser, shop.url, java_script_enabled=script) as page:
        come_in(page)
        page.goto("/spray-day")
        page.get_by_label("Finish").first.select_option("waterborne")
        page.get_by_label("Coats more on every piece").fill("2")
        page.get_by_label(re.compile("F2 chest lid")).check()
        page.get_by_role("button", name="Plan the day").click()
        expect(page).to_have_url(re.compile(r"ask=plan"))
        expect(page.get_by_role("heading", name="The plan")).to_be_visible()
        expect(page.locator("tbody tr")).to_have_count(2)
        expect(page.locator("svg.drawing")).to_be_visible()
        expect(page.get_by_label("Coats more on every piece")).to_have_value("2")
        again = page.url
        page.goto("/")
        page.goto(again)
        expect(page.locator("tbody tr")).to_have_count(2)
        with page.expect_download() as taken:
            page.get_by_role("link", name=re.compile("calendar")).click()
        assert taken.value.suggested_filename == "spray-day-waterborne.ics"


def test_what_cannot_be_meant_is_said_at_its_field(browser: Browser, shop: BenchShop) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.goto("/spray-day?ask=plan&finish=waterborne&coats=900")
        field = page.get_by_label("Coats more on every piece")
        expect(field).to_have_attribute("aria-invalid", "true")
        expect(page.locator("#f-coats-fault")).to_contain_text("give 1 to 60")


def test_a_what_if_is_answered_as_a_range(browser: Browser, shop: BenchShop) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.goto("/spray-day")
        page.get_by_label("A piece on the hooks").select_option("B3")
        page.get_by_label("a warm cabinet").check()
        page.get_by_label("Cabinet [°C]").fill("32")
        page.get_by_role("button", name="Ask").click()
        expect(page.locator(".verdict")).to_contain_text(re.compile(r"x[\d.]+ to x[\d.]+"))


def test_only_the_fields_of_the_chosen_change_stand_there(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url, java_script_enabled=False) as page:
        come_in(page)
        page.goto("/spray-day")
        cabinet, coats = page.get_by_label("Cabinet [°C]"), page.get_by_label("Coats it is to get")
        expect(cabinet).to_be_hidden()
        expect(coats).to_be_hidden()
        page.get_by_label("fewer coats").check()
        expect(cabinet).to_be_hidden()
        page.get_by_label("So many coats fewer").fill("2")
        coats.fill("6")
        page.get_by_label("Room").last.select_option("booth")
        page.get_by_role("button", name="Ask").click()
        expect(page.locator(".verdict")).to_contain_text("4 coats instead of 6")
