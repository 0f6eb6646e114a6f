"""Reading values off a drawing: by pointer, finger and arrow keys, also on a renewed page."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.browser import at, come_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

    from tests.browser.bench_shop import BenchShop

pytestmark = [pytest.mark.broker, pytest.mark.timeout(180)]
NEXT_MINUTE_MS = 75_000  # a page that had not got the reading yet renews itself with the next
AT_REST = re.compile("known for [0-9]+ % of the span")
AIR_TOLD = re.compile(r"^\w+ \d\d:\d\d: air \d+\.\d °C, piece ")
TOLD = re.compile(r"^\w+ \d\d:\d\d: air \d+\.\d °C, piece \d+\.\d °C$")


def first_drawing(page: Page) -> tuple[Locator, Locator]:
    """Open a room and return its first line drawing and what is read off it."""
    come_in(page)
    page.goto("/room/drying-loft")
    figure = page.locator("figure", has=page.locator("svg[data-read-out]")).first
    drawing = figure.locator("svg")
    drawing.scroll_into_view_if_needed()
    return drawing, figure.locator("output")


def middle(drawing: Locator) -> tuple[float, float]:
    box = drawing.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_the_pointer_reads_values_and_leaves_the_sentence_when_it_goes(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url, width=1280) as page:
        drawing, told = first_drawing(page)
        expect(told).to_have_text(AT_REST)
        page.mouse.move(*middle(drawing))
        expect(told).to_have_text(TOLD)
        expect(drawing.locator(".read-line")).to_have_count(1)
        page.mouse.move(2, 2)
        expect(told).to_have_text(AT_REST)
        expect(drawing.locator(".read-line")).to_have_count(0)


def test_a_finger_reads_values(browser: Browser, shop: BenchShop) -> None:
    with at(browser, shop.url, has_touch=True) as page:
        drawing, told = first_drawing(page)
        page.touchscreen.tap(*middle(drawing))
        expect(told).to_have_text(TOLD)


def test_the_arrow_keys_walk_along_the_line(browser: Browser, shop: BenchShop) -> None:
    with at(browser, shop.url) as page:
        drawing, told = first_drawing(page)
        drawing.focus()
        page.keyboard.press("Home")
        first = told.inner_text()
        page.keyboard.press("ArrowRight")
        second = told.inner_text()
        page.keyboard.press("ArrowLeft")
        assert first != second
        expect(told).to_have_text(first)
        page.keyboard.press("Escape")
        expect(told).to_have_text(AT_REST)


def test_it_reads_on_when_the_page_has_renewed_itself(browser: Browser, shop: BenchShop) -> None:
    with at(browser, shop.url) as page:
        shop.hear(temp_c=21.7, rh_pct=52.0)
        drawing, told = first_drawing(page)
        drawing.focus()
        page.keyboard.press("Home")
        drawing.evaluate("(one) => one.setAttribute('data-old', '')")
        shop.somebody_enters()
        expect(page.locator("svg[data-old]")).to_have_count(0)
        expect(told).to_have_text(TOLD)
        expect(drawing).to_be_focused()
        first = told.inner_text()
        page.keyboard.press("End")  # what it reads there is of all who let sensors report of late
        expect(told).to_have_text(AIR_TOLD, timeout=NEXT_MINUTE_MS)
        expect(told).not_to_have_text(first)


def test_without_script_the_sentence_and_the_words_stay(browser: Browser, shop: BenchShop) -> None:
    with at(browser, shop.url, java_script_enabled=False) as page:
        _, told = first_drawing(page)
        expect(told).to_have_text(AT_REST)
        page.get_by_text("The same in words").click()
        expect(page.locator("li", has_text="too warm: above")).to_be_visible()
