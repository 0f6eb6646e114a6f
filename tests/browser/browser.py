"""Debian's Chromium, driven from the tests."""

from __future__ import annotations

import os
import shutil
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import sync_playwright

from tests.browser.bench_shop import SECRET

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

HEIGHT = 844
FLAGS = ["--no-sandbox"]  # as root there is none to be had; only our own page is opened


def program() -> str:
    """Return where the browser is; without it the test is skipped, in CI it fails."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        lacking = "no browser here: apt-get install chromium"
        if os.environ.get("CI"):
            pytest.fail(lacking)
        pytest.skip(lacking)
    return found


@contextmanager
def started() -> Iterator[Browser]:
    """Run the browser without a window."""
    path = program()
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=FLAGS)
        yield browser
        browser.close()


@contextmanager
def at(browser: Browser, url: str, *, width: int = 390, **more: Any) -> Iterator[Page]:  # noqa: ANN401 - what the driver's context takes
    """Open a page in a browser that knows nobody; what goes wrong in it is an error here."""
    context = browser.new_context(
        base_url=url, viewport={"width": width, "height": HEIGHT}, locale="en-GB", **more
    )
    context.set_default_timeout(15_000)
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on(
        "console",
        lambda said: wrong.append(said.text) if "Content Security Policy" in said.text else None,
    )
    yield page
    context.close()
    assert wrong == []


def come_in(page: Page, who: str = "Ada") -> None:
    """Give the passphrase."""
    page.goto("/enter")
    page.get_by_label("Your name").fill(who)
    page.get_by_label("The shop's passphrase").fill(SECRET)
    page.get_by_role("button", name="Come in").click()
    page.wait_for_url("**/")
