"""No serious finding of axe-core on any view, narrow or wide, light or dark."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.browser import at, come_in
from tests.browser.views import SCHEMES, VIEWS, WIDTHS

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from tests.browser.bench_shop import BenchShop

pytestmark = [pytest.mark.broker, pytest.mark.timeout(180)]
SERIOUS = ("serious", "critical")
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("known", [False, True], ids=["stranger", "known"])
def test_axe_finds_nothing_serious(
    browser: Browser, shop: BenchShop, width: int, scheme: str, *, known: bool
) -> None:
    found = []
    with at(browser, shop.url, width=width, color_scheme=scheme) as page:
        if known:
            come_in(page)
        for name, place in VIEWS.items():
            page.goto(place)
            page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
            response = Axe().run(page, options=RULES).response
            assert response["passes"], name  # it has looked
            found += [
                (name, one["id"], one["impact"], [node["html"][:120] for node in one["nodes"]])
                for one in response["violations"]
                if one["impact"] in SERIOUS or one["id"] == "color-contrast"
            ]
    assert found == []


def test_axe_does_find_what_is_wrong(browser: Browser, shop: BenchShop) -> None:
    with at(browser, shop.url) as page:
        page.goto("/enter")
        page.evaluate(
            "document.querySelector('[name=passphrase]').closest('label').innerHTML = "
            "'<input name=\"passphrase\">'"
        )
        found = {one["id"] for one in Axe().run(page, options=RULES).response["violations"]}
    assert "label" in found
