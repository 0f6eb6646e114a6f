"""The tablet on the wall, in Debian's Chromium: it fits, turns, and says when it is cut off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.browser import at, come_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from tests.browser.bench_shop import BenchShop

pytestmark = [pytest.mark.broker, pytest.mark.timeout(180)]
TABLET, PANEL = {"width": 1280, "height": 800}, {"width": 800, "height": 480}
FOOT = "document.documentElement.scrollHeight - innerHeight"
LOST_AFTER_MS = 21_000
LOW, TURNS = {"width": 1024, "height": 360}, 30
SHOWN = """(() => {
  const bars = [...document.querySelectorAll(".wall-top, .line.lost")];
  const held = Math.max(...bars.map((it) => it.getBoundingClientRect().bottom));
  return [...document.querySelectorAll(".whose, .verdict, .reason, .jobs li, .wall-jobs p")].map(
    (it) => it.getBoundingClientRect()
  ).filter(({ height }) => height > 0).map(({ top, bottom }) =>
    [top < held - 1, top >= held - 1 && bottom <= innerHeight + 1]);
})()"""  # of each entry: whether the upper edge cuts or hides it, and whether it shows whole


def test_a_tablets_wall_needs_no_turning_and_its_verdicts_are_large(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.set_viewport_size(TABLET)
        page.goto("/wall")
        assert page.evaluate("document.documentElement.scrollHeight") <= TABLET["height"]
        for verdict in page.locator(".verdict").all():
            size = verdict.evaluate("it => parseFloat(getComputedStyle(it).fontSize)")
            assert size >= 60.0  # [px]: letters of 8 mm where the screen is 22 cm wide


def test_a_wall_longer_than_its_screen_turns_until_somebody_touches_it(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.set_viewport_size(PANEL)
        page.clock.install()
        page.goto("/wall")
        page.clock.run_for(LOST_AFTER_MS)  # nothing moves any more but what turns
        assert page.evaluate(FOOT) > 0
        places = {page.evaluate("scrollY")}
        for _ in range(3):
            page.clock.run_for(12_000)
            places.add(page.evaluate("scrollY"))
        assert len(places) > 1
        page.keyboard.press("Shift")
        stood = page.evaluate("scrollY")
        page.clock.run_for(100_000)
        assert page.evaluate("scrollY") == stood
        page.clock.run_for(33_000)  # one turn behind the two minutes
        assert page.evaluate("scrollY") != stood


def test_a_turn_starts_at_an_entry_that_was_not_whole_before(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.set_viewport_size(LOW)
        page.route("**/live", lambda route: route.abort())  # so that nothing but the turning moves
        page.clock.install()
        page.goto("/wall")
        page.clock.run_for(LOST_AFTER_MS)
        expect(page.locator("#line")).to_contain_text("Connection lost, last seen")
        page.evaluate("scrollTo(0, 0)")
        seen: set[int] = set()
        for _ in range(TURNS):
            seen |= {place for place, (_, whole) in enumerate(page.evaluate(SHOWN)) if whole}
            page.clock.run_for(12_000)
            shown = page.evaluate(SHOWN)
            assert {place for place, (cut, _) in enumerate(shown) if cut} <= seen
            if page.evaluate("scrollY") == 0:
                break
        assert seen == set(range(len(shown)))


def test_a_wall_that_is_cut_off_says_so_and_shows_no_verdict_any_more(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.set_viewport_size(TABLET)
        page.route("**/live", lambda route: route.abort())
        page.clock.install()
        page.goto("/wall")
        verdict = page.locator(".verdict").first
        expect(verdict.locator("strong")).to_be_visible()
        page.clock.run_for(LOST_AFTER_MS)
        expect(page.locator("#line")).to_contain_text("Connection lost, last seen")
        expect(page.locator("#line")).to_be_in_viewport()
        expect(verdict.locator("strong")).to_be_hidden()
        shown = verdict.evaluate("it => getComputedStyle(it, '::after').content")
        assert shown == '"cannot tell"'
