"""The page's first view on loopback: what is sent, when something is seen, when it answers."""

from __future__ import annotations

import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import httpx

from tests.bench.measured import Goal, Row, Section, ratios, seconds
from tests.browser.bench_shop import SECRET, BenchShop
from tests.browser.browser import at, come_in, started

if TYPE_CHECKING:
    from playwright.sync_api import Browser

REPEATS = 9
ASKED = 40  # times in a repeat
MOST_KB, MOST_MS = 150.0, 300.0
PAINTED = "performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? null"
SENT = """["navigation", "resource"].flatMap(kind => performance.getEntriesByType(kind))
    .reduce((sum, one) => sum + one.transferSize, 0)"""


def measure() -> Section:
    """Measure with a browser that knows nothing yet, and with a plain client turn about."""
    with TemporaryDirectory() as name, BenchShop(Path(name)) as shop, started() as browser:
        views = [first_view(browser, shop) for _ in range(REPEATS + 1)][1:]
        with httpx.Client(base_url=shop.url) as client:
            client.post("/enter", data={"passphrase": SECRET})
            turns = [
                (took_s(client, "/"), took_s(client, "/look/page.css")) for _ in range(REPEATS + 1)
            ][1:]
    page, file = ([turn[which] for turn in turns] for which in (0, 1))
    return Section(
        title="The page",
        what=(
            "The view 'today' of a shop with two rooms, six pieces and twelve days of readings, "
            "served by `curewatch run` to Chromium without a window on the same machine. Sent is "
            "what the browser took off the line for all parts of the first view, its store empty; "
            "first content is its own first-contentful-paint from the start of that visit. Then a "
            f"plain client asks {ASKED} times one after another for the view, and for the style "
            "sheet from the same server as the baseline."
        ),
        rows=[
            Row("sent", [kb for kb, _ in views], " kB", Goal(MOST_KB, unit=" kB")),
            Row("first content", [ms for _, ms in views], " ms", Goal(MOST_MS, unit=" ms")),
            Row(
                "an answer over a file", ratios(page, file), "", None, seconds(page), seconds(file)
            ),
        ],
    )


def first_view(browser: Browser, shop: BenchShop) -> tuple[float, float]:
    """Return what a first visit sends [kB] and when it shows something [ms]."""
    with at(browser, shop.url) as known:
        come_in(known)
        cookies = known.context.cookies()
    with at(browser, shop.url) as page:
        page.context.add_cookies(cookies)
        page.goto("/", wait_until="load")
        while (painted_ms := page.evaluate(PAINTED)) is None:
            page.wait_for_timeout(20)  # the policy of the page lets nobody else look for it
        return float(page.evaluate(SENT)) / 1000.0, float(painted_ms)


def took_s(client: httpx.Client, place: str) -> float:
    """Return how long one answer takes [s]."""
    begun_s = time.perf_counter()
    for _ in range(ASKED):
        assert client.get(place).status_code == 200
    return (time.perf_counter() - begun_s) / ASKED
