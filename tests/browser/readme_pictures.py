"""The README's pictures, taken of the demo's shop: python -m tests.browser.readme_pictures."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

from tests.browser.browser import at, started

PICTURES = Path(__file__).parents[2] / "docs" / "pictures"
PORT = 8497
LONGEST_S = 900.0  # a busy machine plays slowly
# The demo ends at midnight; nobody asks for the day's plan then.
PLAN = "ask=plan&finish=waterborne&coats=3&room={room}&start=tomorrow+8:00"
VIEWS = {
    "today": ("/", "light"),
    "piece": ("/piece/{piece}", "light"),
    "room": ("/room/{room}", "dark"),
    "spray-day": ("/spray-day?" + PLAN + "#answer", "dark"),
}


def main() -> None:
    """Play the demo, show its shop, take the pictures."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as kept:
        words = ["demo", "--keep", f"{kept}/shop", "--page", str(PORT)]
        demo = subprocess.Popen(
            [sys.executable, "-m", "curewatch", *words], stdout=subprocess.DEVNULL
        )
        try:
            url = f"http://127.0.0.1:{PORT}"
            names = _names(url)
            with started() as browser:
                for name, (place, scheme) in VIEWS.items():
                    with at(
                        browser,
                        url,
                        width=390,
                        color_scheme=scheme,
                        device_scale_factor=1.5,
                        reduced_motion="reduce",
                    ) as page:
                        page.set_default_timeout(LONGEST_S * 1000.0)
                        page.goto(place.format(**names))
                        page.screenshot(path=PICTURES / f"{name}.png")
        finally:
            demo.terminate()
            demo.wait(20.0)


def _names(url: str) -> dict[str, str]:
    """Wait for the page; return a piece with a film still to come and its room."""
    until_s = time.monotonic() + LONGEST_S
    while True:
        try:
            with urllib.request.urlopen(f"{url}/api/v1/pieces") as answer:  # noqa: S310 - our own page
                pieces = json.load(answer)["pieces"]
                break
        except urllib.error.URLError:
            if time.monotonic() > until_s:
                raise
            time.sleep(0.5)
    told = max(pieces, key=lambda piece: piece["coats"])
    return {"piece": told["piece"], "room": told["room"] or ""}


if __name__ == "__main__":
    main()
