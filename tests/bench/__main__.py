"""Run the benches: all of them and write docs/bench.md, or those named and only print.

BENCH_FULL=1 takes the start's 90 days of readings instead of 20, which takes minutes longer.
"""

from __future__ import annotations

import importlib
import os
import sys
from pathlib import Path

import pytest

BENCHES = ("ingest", "clocks", "tick", "ahead", "start", "idle", "page", "faces")
PAGE = Path(__file__).parents[2] / "docs" / "bench.md"


def main(wanted: list[str]) -> int:
    """Measure, print, and write the page when nothing was left out."""
    unknown = set(wanted) - set(BENCHES)
    if unknown:
        return complain(f"no bench is called {', '.join(sorted(unknown))}: {', '.join(BENCHES)}")
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # read when numpy is first imported
    load_before = os.getloadavg()[0]
    sections = []
    for name in wanted or BENCHES:
        complain(f"{name} ...")
        try:
            section = importlib.import_module(f"tests.bench.{name}").measure()
        except pytest.skip.Exception as missing:
            return complain(f"{name} cannot be measured: {missing}")
        sections.append(section)
    from tests.bench.report import page  # noqa: PLC0415 - it imports numpy, see above

    text = page(sections, load_before=load_before)
    sys.stdout.write(text)
    if not wanted:
        PAGE.write_text(text, encoding="utf-8")
    return 0


def complain(words: str) -> int:
    """Tell the person who waits; return the exit status of a failure."""
    sys.stderr.write(f"bench: {words}\n")
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
