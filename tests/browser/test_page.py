"""What people do at the page, in Debian's Chromium with a real daemon behind it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.bench_shop import BenchShop
from tests.browser.browser import at, come_in
from tests.browser.views import VIEWS

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.broker, pytest.mark.timeout(180)]
LOST_WITHIN_MS = 25_000
BACK_WITHIN_MS = 20_000
NEXT_MINUTE_MS = 75_000  # the air is judged at whole minutes; a second reading in one waits
LEAST_PX = 48
TOUCHED = ":is(button, select, input:not([type=hidden]), nav a, a.tag):not([hidden])"
# Some fields stand there with one choice only: each is made, and everything must be seen once.
MEASURED = """([touched, least]) => {
    const seen = new Set(), small = new Set();
    let width = 0;
    const look = () => {
        width = Math.max(width, document.documentElement.scrollWidth);
        for (const one of document.querySelectorAll(touched)) {
            if (!one.checkVisibility()) continue;
            seen.add(one);
            const ticked = one.matches("[type=checkbox], [type=radio]");  // its label is touched
            const target = ticked ? one.closest("label") : one;
            if (target.getBoundingClientRect().height < least) small.add(one.outerHTML);
        }
    };
    look();
    for (const choice of document.querySelectorAll("main [type=radio]")) {
        choice.checked = true;
        look();
    }
    const unseen = [...document.querySelectorAll(touched)].filter((one) => !seen.has(one));
    return { small: [...small], unseen: unseen.map((one) => one.outerHTML), width };
}"""


def first_alert(page: Page) -> str:
    """Return the id of the first alert that somebody can take on."""
    page.goto("/alerts")
    article = page.locator("article", has=page.get_by_role("button", name="I have it")).first
    found = article.get_attribute("id")
    assert found is not None
    return found


def air_of(page: Page) -> str:
    """Return what is said of the air of the room that reports."""
    return page.locator(".air").last.inner_text()


def test_somebody_gives_the_passphrase_and_takes_an_alert_on(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url) as page:
        page.goto("/alerts")
        expect(page).to_have_url(re.compile(r"/enter\?back=/alerts$"))
        page.get_by_label("Your name").fill("Ada")
        page.get_by_label("The shop's passphrase").fill("not the words")
        page.get_by_role("button", name="Come in").click()
        expect(page.get_by_role("alert")).to_have_text("That is not the passphrase.")
        page.get_by_label("Your name").fill("Ada")
        page.get_by_label("The shop's passphrase").fill("oak and linseed")
        page.get_by_role("button", name="Come in").click()
        expect(page).to_have_url(re.compile(r"/alerts$"))
        alert = first_alert(page)
        page.locator(f"#{alert}").get_by_role("button", name="I have it").click()
        expect(page.locator(f"#{alert} .state")).to_contain_text("with Ada since today")


def test_everything_works_without_script(browser: Browser, shop: BenchShop) -> None:
    with at(browser, shop.url, java_script_enabled=False) as page:
        come_in(page, "Bob")
        alert = first_alert(page)
        page.locator(f"#{alert}").get_by_role("button", name="I have it").click()
        expect(page.locator(f"#{alert} .state")).to_contain_text("with Bob since today")
        page.get_by_role("button", name="Leave").click()
        expect(page.get_by_label("The shop's passphrase")).to_be_visible()


def test_a_reading_shows_up_without_a_reload_and_the_focus_stays(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.evaluate("window.stays = 'yes'")
        before = air_of(page)
        link = page.locator("main .tag").last
        link.focus()
        shop.hear(temp_c=23.4, rh_pct=51.0)
        expect(page.locator(".air").last).not_to_have_text(before, timeout=NEXT_MINUTE_MS)
        assert page.evaluate("window.stays") == "yes"
        assert link.evaluate("link => link === document.activeElement")
        expect(page.locator("#line")).to_have_text("")


def test_a_form_that_is_being_filled_in_is_left_alone_and_that_is_said(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.goto("/alerts")
        page.locator("main select").first.select_option("12")
        shop.somebody_enters()
        expect(page.locator("#line")).to_contain_text("held still while you fill in a form")
        assert page.locator("main select").first.input_value() == "12"


def test_who_is_signed_out_meanwhile_is_shown_the_door(browser: Browser, shop: BenchShop) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.context.clear_cookies()
        shop.somebody_enters()
        expect(page.get_by_label("The shop's passphrase")).to_be_visible()


@pytest.mark.crash
def test_a_lost_connection_is_said_and_so_is_its_return(browser: Browser, tmp_path: Path) -> None:
    with BenchShop(tmp_path) as shop, at(browser, shop.url) as page:
        come_in(page)
        page.wait_for_timeout(500)  # the stream must be open before it can be lost
        shop.daemon.terminate()
        line = page.locator("#line")
        expect(line).to_contain_text("Connection lost, last seen", timeout=LOST_WITHIN_MS)
        expect(page.locator("main")).to_contain_text("The next jobs")  # it is kept, and said old
        shop.daemon.start()
        expect(line).to_have_text("Connected.", timeout=BACK_WITHIN_MS)
        before = air_of(page)
        shop.hear(temp_c=24.1, rh_pct=44.0)
        expect(page.locator(".air").last).not_to_have_text(before, timeout=NEXT_MINUTE_MS)


# ---- keyboard


def test_the_first_stop_of_the_keyboard_leads_past_the_views(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.keyboard.press("Tab")
        skip = page.locator(".skip")
        expect(skip).to_be_focused()
        expect(skip).to_be_in_viewport()
        page.keyboard.press("Enter")
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.closest('main') !== null")


def test_every_stop_of_the_keyboard_can_be_seen(browser: Browser, shop: BenchShop) -> None:
    outline = "getComputedStyle(document.activeElement).outlineStyle"
    with at(browser, shop.url) as page:
        come_in(page)
        page.goto("/alerts")
        stops = page.locator("a[href], button, select, input:not([type=hidden])").count()
        for _ in range(stops):
            page.keyboard.press("Tab")
            where = page.evaluate("document.activeElement.outerHTML.slice(0, 80)")
            assert page.evaluate(outline) == "solid", where
        assert page.evaluate("document.activeElement.textContent") == "Leave"


def test_a_form_is_filled_in_and_sent_by_the_keyboard_alone(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url) as page:
        page.goto("/enter")
        page.get_by_label("Your name").focus()
        page.keyboard.type("Cleo")
        page.keyboard.press("Tab")
        page.keyboard.type("oak and linseed")
        page.keyboard.press("Enter")
        page.wait_for_url("**/")
        page.goto("/alerts")
        rest = page.get_by_role("button", name="Let it rest").first
        number = rest.evaluate("button => button.closest('article').id")
        page.locator(f"#{number} select").focus()
        page.keyboard.press("ArrowDown")
        page.keyboard.press("Tab")  # the button stands behind what it asks
        expect(rest).to_be_focused()
        page.keyboard.press("Enter")
        expect(page.locator(f"#{number} .state")).to_contain_text("rests until")


# ---- sizes


@pytest.mark.parametrize("name", VIEWS)
def test_what_is_touched_is_large_enough_and_nothing_sticks_out(
    browser: Browser, shop: BenchShop, name: str
) -> None:
    with at(browser, shop.url, width=360, has_touch=True) as page:
        come_in(page)
        page.goto(VIEWS[name])
        page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
        found = page.evaluate(MEASURED, [TOUCHED, LEAST_PX])
    assert found == {"small": [], "unseen": [], "width": 360}


def test_the_first_view_is_light(browser: Browser, shop: BenchShop) -> None:
    packed = """() => ["navigation", "resource"].flatMap(kind => performance.getEntriesByType(kind))
        .map(one => [new URL(one.name).pathname, one.encodedBodySize])"""
    with at(browser, shop.url) as page:
        come_in(page)
        page.goto("/", wait_until="load")
        sizes = dict(page.evaluate(packed))
    assert {"/", "/look/page.css", "/look/page.js"} <= set(sizes)
    assert all(sizes[place] > 0 for place in ("/", "/look/page.css", "/look/page.js"))
    assert sum(sizes.values()) < 150_000
