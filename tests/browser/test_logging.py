"""Logging at a telephone, in Debian's Chromium with a real daemon behind it: two taps, and undo."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from curewatch.settings import load_settings
from curewatch.storage import Store
from tests.browser.browser import at, come_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

    from curewatch.shop.piece import Piece
    from tests.browser.bench_shop import BenchShop

pytestmark = [pytest.mark.broker, pytest.mark.timeout(180)]
LEAST_PX = 48
SERIOUS = ("serious", "critical")
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


def stored(shop: BenchShop, tag: str) -> Piece:
    """Return a piece as another process sees it."""
    settings = load_settings(shop.folder / "curewatch.toml")
    with Store.open(settings.storage.path) as store:
        return store.pieces.load(tag)


def tap(page: Page, words: str) -> None:
    """Tap one of the big buttons that open a form."""
    page.locator(".tap > summary", has_text=words).click()


@pytest.mark.parametrize("script", [True, False])
def test_a_coat_is_logged_in_two_taps_and_taken_back_in_one(
    browser: Browser, shop: BenchShop, *, script: bool
) -> None:
    before = len(stored(shop, "E5").coats)
    with at(browser, shop.url, java_script_enabled=script, has_touch=True) as page:
        come_in(page)
        page.goto("/piece/E5")
        tap(page, "Coat laid now")
        page.get_by_role("button", name="Log the coat").click()
        expect(page.locator("#done")).to_contain_text(f"E5: coat {before + 1} laid today")
        assert len(stored(shop, "E5").coats) == before + 1
        assert stored(shop, "E5").coats[-1].who == "Ada"
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("#done")).to_contain_text("Taken back: E5: coat")
        assert len(stored(shop, "E5").coats) == before
        expect(page.locator(".history .void").first).to_contain_text(
            "taken back at the page by Ada"
        )


def test_a_piece_is_moved_in_two_taps_and_shown_where_it_hangs(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.goto("/piece/F2")
        tap(page, "Moved to")
        page.get_by_role("button", name="drying-loft").click()
        expect(page.locator("#done")).to_contain_text("F2: in drying-loft from today")
        expect(page.locator("main")).to_contain_text("Hangs in drying-loft.")
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("main")).to_contain_text("Hangs in booth.")


def test_what_was_found_is_logged_in_two_taps(browser: Browser, shop: BenchShop) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.goto("/piece/D1")
        tap(page, "What I found")
        page.get_by_role("button", name="a fingernail leaves a mark").click()
        expect(page.locator("#done")).to_contain_text("D1: a fingernail leaves a mark, today")
        assert [one.finding for one in stored(shop, "D1").outcomes] == ["nail-dent"]
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("#done")).to_contain_text("Taken back")
        assert stored(shop, "D1").outcomes == ()


@pytest.mark.parametrize("script", [True, False])
def test_work_before_its_time_asks_why_and_goes_into_the_record(
    browser: Browser, shop: BenchShop, *, script: bool
) -> None:
    with at(browser, shop.url, java_script_enabled=script) as page:
        come_in(page, "Bob")
        page.goto("/piece/A12")
        tap(page, "Work done")
        page.get_by_role("button", name="Buffed").click()
        expect(page.get_by_role("heading", name="Not ready to buff")).to_be_visible()
        assert stored(shop, "A12").work == ()
        page.get_by_label("Why buff all the same?").fill("a sample for the customer")
        page.get_by_role("button", name="Log it all the same").click()
        expect(page.locator("#done")).to_contain_text("a sample for the customer (Bob)")
        (work,) = stored(shop, "A12").work
        assert (work.anyway, work.who) == ("a sample for the customer", "Bob")
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("#done")).to_contain_text("Taken back")


def test_two_fast_taps_on_one_button_log_one_coat(browser: Browser, shop: BenchShop) -> None:
    before = len(stored(shop, "E5").coats)
    with at(browser, shop.url) as page:
        come_in(page)
        page.goto("/piece/E5")
        tap(page, "Coat laid now")
        page.get_by_role("button", name="Log the coat").dblclick()
        expect(page.locator("#done")).to_contain_text("laid today")
        assert len(stored(shop, "E5").coats) == before + 1
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("#done")).to_contain_text("Taken back")
        assert len(stored(shop, "E5").coats) == before


def test_several_are_ticked_and_get_one_coat(browser: Browser, shop: BenchShop) -> None:
    before = {tag: len(stored(shop, tag).coats) for tag in ("C7", "D1")}
    with at(browser, shop.url) as page:
        come_in(page)
        page.goto("/hooks")
        for tag in before:
            page.locator(f'.tick input[value="{tag}"]').check()
        page.get_by_role("link", name="Log something for those ticked").click()
        tap(page, "A coat on these")
        page.get_by_role("button", name="Log the coat on all ticked").click()
        expect(page.locator("#done")).to_contain_text("A coat laid today")
        assert {tag: len(stored(shop, tag).coats) - 1 for tag in before} == before
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("#done")).to_contain_text("Taken back")
        assert {tag: len(stored(shop, tag).coats) for tag in before} == before


def test_a_form_with_a_fault_keeps_what_was_typed_while_the_shop_goes_on(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.goto("/piece/B3")
        tap(page, "Coat laid now")
        page.get_by_label("Wet film").fill("thick")
        page.get_by_role("button", name="Log the coat").click()
        fault = page.locator("#coat-wet-fault")
        expect(fault).to_contain_text("is no film thickness")
        shop.somebody_enters()
        expect(page.locator("#line")).to_contain_text("held still")
        expect(page.get_by_label("Wet film")).to_have_value("thick")
        expect(fault).to_be_visible()


def test_the_label_leads_a_stranger_through_the_door_and_back(
    browser: Browser, shop: BenchShop
) -> None:
    with at(browser, shop.url) as page:
        page.goto("/piece/B3")
        expect(page).to_have_url(re.compile(r"/enter\?back=/piece/B3$"))
        page.get_by_label("Your name").fill("Cleo")
        page.get_by_label("The shop's passphrase").fill("oak and linseed")
        page.get_by_role("button", name="Come in").click()
        expect(page).to_have_url(re.compile(r"/piece/B3$"))
        expect(page.locator("h1")).to_contain_text("B3")


def test_axe_finds_nothing_serious_in_faults_questions_and_answers(
    browser: Browser, shop: BenchShop
) -> None:
    found = []
    with at(browser, shop.url) as page:
        come_in(page)
        for state in ("fault", "unready", "done"):
            page.goto("/piece/A12" if state == "unready" else "/piece/F2")
            if state == "unready":
                tap(page, "Work done")
                page.get_by_role("button", name="Buffed").click()
                expect(page.locator(".unready")).to_be_visible()
            else:
                tap(page, "Coat laid now")
                page.get_by_label("Wet film").fill("thick" if state == "fault" else "4 mil")
                page.get_by_role("button", name="Log the coat").click()
                expect(page.locator("#coat-wet-fault, #done").first).to_be_visible()
            response = Axe().run(page, options=RULES).response
            assert response["passes"], state
            found += [
                (state, one["id"], [node["html"][:120] for node in one["nodes"]])
                for one in response["violations"]
                if one["impact"] in SERIOUS or one["id"] == "color-contrast"
            ]
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("#done")).to_contain_text("Taken back")
    assert found == []


@pytest.mark.parametrize("place", ["/hooks", "/piece/B3", "/piece/A12", "/piece/new"])
def test_nothing_is_wider_than_a_narrow_telephone_and_all_targets_are_large(
    browser: Browser, shop: BenchShop, place: str
) -> None:
    with at(browser, shop.url, width=360) as page:
        come_in(page)
        page.goto(place)
        for one in page.locator("main details").all():
            one.evaluate("one => one.open = true")
        beyond = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert page.evaluate(beyond) <= 0
        small = page.evaluate(
            "least => [...document.querySelectorAll('main :is(button, select, summary, "
            "input:not([type=hidden]):not([type=checkbox]))')]"
            ".filter(one => one.checkVisibility() && one.getBoundingClientRect().height < least)"
            ".map(one => one.outerHTML.slice(0, 90))",
            LEAST_PX,
        )
        assert small == []
