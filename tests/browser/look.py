"""Pictures of every view, narrow and wide, light and dark: tests.browser.look DIR [VIEW ...]."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.browser.bench_shop import BenchShop
from tests.browser.browser import at, come_in, started
from tests.browser.views import SCHEMES, VIEWS, WIDTHS


def main() -> None:
    """Take them; names given behind DIR choose some views only."""
    if len(sys.argv) < 2:
        raise SystemExit(__doc__)
    folder, wanted = Path(sys.argv[1]), sys.argv[2:] or [*VIEWS]
    folder.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as kept,
        BenchShop(Path(kept)) as shop,
        started() as browser,
    ):
        for width in WIDTHS:
            for scheme in SCHEMES:
                with at(browser, shop.url, width=width, color_scheme=scheme) as page:
                    come_in(page)
                    for name in wanted:
                        page.goto(VIEWS[name])
                        picture = folder / f"{name}-{width}-{scheme}.png"
                        page.screenshot(path=picture, full_page=True)
                        print(picture)  # noqa: T201 - it is a program


if __name__ == "__main__":
    main()
