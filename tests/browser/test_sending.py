"""Forms and lost connections, and a pot mixed at a telephone, in Debian's Chromium."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.bench_shop import BenchShop
from tests.browser.browser import at, come_in
from tests.browser.test_logging import stored, tap

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser, Route

pytestmark = [pytest.mark.broker, pytest.mark.timeout(180)]


@pytest.mark.crash
def test_a_coat_sent_while_the_daemon_is_down_stays_in_its_form_and_is_sent_again_by_hand(
    browser: Browser, tmp_path: Path
) -> None:
    with BenchShop(tmp_path) as shop, at(browser, shop.url) as page:
        come_in(page)
        page.goto("/piece/F2")
        tap(page, "Coat laid now")
        page.get_by_label("Wet film").fill("4 mil")
        shop.daemon.kill()
        button = page.get_by_role("button", name="Log the coat")
        button.click()
        said = page.locator("#tap-coat .unsent")
        expect(said).to_contain_text("Connection lost, not stored; try again.")
        expect(page.get_by_label("Wet film")).to_have_value("4 mil")
        shop.daemon.start()
        expect(page.locator("#line")).not_to_contain_text("lost", timeout=60_000)
        assert stored(shop, "F2").coats == ()  # nothing is sent by itself
        expect(page.get_by_label("Wet film")).to_have_value("4 mil")
        button.click()
        expect(page.locator("#done")).to_contain_text("F2: coat 1 laid today")
        (coat,) = stored(shop, "F2").coats
        assert coat.wet_um == pytest.approx(4 * 25.4)


def test_a_form_that_was_answered_though_the_answer_got_lost_is_entered_once(
    browser: Browser, shop: BenchShop
) -> None:
    before = len(stored(shop, "D1").coats)
    with at(browser, shop.url) as page:
        come_in(page)
        page.goto("/piece/D1")
        tap(page, "Coat laid now")
        lost = {"yet": False}

        def lose_the_answer(route: Route) -> None:
            if route.request.method == "POST" and not lost["yet"]:
                lost["yet"] = True
                route.fetch(max_redirects=0)  # it arrives
                route.abort()  # the answer does not
            else:
                route.continue_()

        page.route("**/piece/D1", lose_the_answer)
        button = page.get_by_role("button", name="Log the coat")
        button.click()
        expect(page.locator("#tap-coat .unsent")).to_be_visible()
        assert len(stored(shop, "D1").coats) == before + 1
        button.click()
        expect(page.locator("#done")).to_contain_text("laid today")
        assert len(stored(shop, "D1").coats) == before + 1
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("#done")).to_contain_text("Taken back")


def test_who_is_signed_out_while_typing_loses_nothing(browser: Browser, shop: BenchShop) -> None:
    with at(browser, shop.url) as page:
        come_in(page)
        page.goto("/piece/new")
        page.get_by_label("Tag").fill("N7")
        page.get_by_label("What it is").fill("an invented lute")
        page.context.clear_cookies()
        page.get_by_role("button", name="Hang it").click()
        expect(page.locator(".unsent")).to_contain_text("You are signed out here")
        come_in(page.context.new_page(), "Bob")
        page.get_by_role("button", name="Hang it").click()
        expect(page.locator("#done")).to_contain_text("N7: hung")
        assert stored(shop, "N7").title == "an invented lute"
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("#done")).to_contain_text("Taken back: N7: hung")


@pytest.mark.parametrize("script", [True, False])
def test_a_coat_somebody_else_logged_just_now_is_asked_about_first(
    browser: Browser, shop: BenchShop, *, script: bool
) -> None:
    before = len(stored(shop, "C7").coats)
    with at(browser, shop.url) as ada, at(browser, shop.url, java_script_enabled=script) as bob:
        for page, who in ((ada, "Ada"), (bob, "Bob")):
            come_in(page, who)
            page.goto("/piece/C7")
            tap(page, "Coat laid now")
        ada.get_by_role("button", name="Log the coat").click()
        expect(ada.locator("#done")).to_contain_text("laid today")
        bob.get_by_role("button", name="Log the coat").click()
        expect(bob.get_by_role("heading", name="The same coat twice?")).to_be_visible()
        expect(bob.locator(".unready")).to_contain_text("ago by Ada.")
        assert len(stored(shop, "C7").coats) == before + 1
        bob.get_by_role("button", name="It is another one: log it").click()
        expect(bob.locator("#done")).to_contain_text("laid today")
        assert [coat.who for coat in stored(shop, "C7").coats[before:]] == ["Ada", "Bob"]
        for page in (bob, ada):
            page.locator("#done").get_by_role("button", name="Undo").click()
            expect(page.locator("#done")).to_contain_text("Taken back")
    assert len(stored(shop, "C7").coats) == before


@pytest.mark.parametrize("script", [True, False])
def test_a_pot_is_mixed_a_coat_laid_from_it_and_both_taken_back(
    browser: Browser, shop: BenchShop, *, script: bool
) -> None:
    name = "scripted" if script else "plain"
    with at(browser, shop.url, java_script_enabled=script) as page:
        come_in(page)
        page.goto("/pots?finish=two-part-urethane")
        page.get_by_label("Lot on the can").fill("K32")
        page.get_by_label("Name on the pot").fill(name)
        page.get_by_role("button", name="It is mixed").click()
        expect(page.locator("#done")).to_contain_text(f"Pot {name}: two-part-urethane, lot K32")
        page.goto("/piece/G4")
        tap(page, "Coat laid now")
        page.get_by_role("button", name="Log the coat").click()
        expect(page.locator("#done")).to_contain_text(f"from pot {name}")
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("#done")).to_contain_text("Taken back")
        page.goto(f"/pot/{name}")
        page.get_by_role("button", name="Used up or thrown away").click()
        expect(page.locator("#done")).to_contain_text(f"Pot {name}: gone today")
        expect(page.locator(".verdict")).to_contain_text("It is gone since")


@pytest.mark.parametrize("place", ["/pots", "/pot/can-2", "/piece/G4"])
def test_the_forms_of_pots_fit_a_narrow_telephone_with_everything_open(
    browser: Browser, shop: BenchShop, place: str
) -> None:
    with at(browser, shop.url, width=360) as page:
        come_in(page)
        page.goto(place)
        for one in page.locator("main details").all():
            one.evaluate("one => one.open = true")
        beyond = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert page.evaluate(beyond) <= 0
