"""A table that is stacked on a narrow screen stays a table for who hears it."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser.browser import at, come_in
from tests.browser.views import VIEWS

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

    from tests.browser.bench_shop import BenchShop

pytestmark = [pytest.mark.broker, pytest.mark.timeout(180)]
TABLED = ("finish", "piece", "plan", "what-if", "record")
ROLES = ("table", "row", "columnheader", "rowheader", "cell")
IN_THE_PAGE = """() => ({
    table: document.querySelectorAll("table").length,
    row: document.querySelectorAll("tr").length,
    columnheader: document.querySelectorAll("thead th").length,
    rowheader: document.querySelectorAll("tbody th").length,
    cell: document.querySelectorAll("td").length,
})"""

STACKED = """() => {
    const parts = [...document.querySelectorAll("table, thead, tbody, tr, th, td")]
        .filter((part) => !getComputedStyle(part).display.startsWith("table"));
    const mute = parts.filter((part) => !part.hasAttribute("role"));
    return { parts: parts.length, mute: mute.map((part) => part.outerHTML.slice(0, 80)) };
}"""


def heard(page: Page) -> Counter[str]:
    """Count the table's parts in the tree that the browser hands to a screen reader."""
    session = page.context.new_cdp_session(page)
    nodes: list[dict[str, Any]] = session.send("Accessibility.getFullAXTree")["nodes"]
    roles = (node["role"]["value"] for node in nodes if not node["ignored"])
    return Counter({"gridcell": "cell"}.get(role, role) for role in roles)


@pytest.mark.parametrize("width", [390, 1280])
def test_every_table_is_heard_as_one(browser: Browser, shop: BenchShop, width: int) -> None:
    with at(browser, shop.url, width=width) as page:
        come_in(page)
        for name in TABLED:
            page.goto(VIEWS[name])
            page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
            there, told = page.evaluate(IN_THE_PAGE), heard(page)
            assert there["table"] > 0, name
            assert {role: told[role] for role in ROLES} == there, name


def test_every_part_that_is_no_table_to_the_eye_says_what_it_is(
    browser: Browser, shop: BenchShop
) -> None:
    # Some browsers take a table's parts for plain boxes once they are laid out as such.
    with at(browser, shop.url, width=390) as page:
        come_in(page)
        for name in TABLED:
            page.goto(VIEWS[name])
            page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
            stacked = page.evaluate(STACKED)
            assert stacked["parts"] > 0, name
            assert stacked["mute"] == [], name
