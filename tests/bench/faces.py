"""What the faces cost: views asked in process, and `status`, on two months of ten sensors."""

from __future__ import annotations

import contextlib
import io
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from curewatch.cli.main import main
from curewatch.clock import system_ms
from curewatch.settings import load_settings
from curewatch.shop.assessment import assess_room
from curewatch.shop.spray_answer import JUDGED_EVERY_MS
from curewatch.storage import Store
from tests.bench.measured import Goal, Row, Section
from tests.bench.scene import DAY_MS, HOUR_MS, MINUTE_MS, Layout, hang_pieces, store_climate
from tests.web_shop import WebShop

if TYPE_CHECKING:
    from collections.abc import Callable

LAYOUT = Layout(rooms=5, sensors=10)
DAYS, PIECES, REPEATS = 60, 20, 5
SPANS = 12  # of five minutes, in which the hours ahead are judged anew
PAGE = "\n[page]\nopen_reading = true\n"
VIEWS = {
    "today": "/",
    "a piece": "/piece/P0",
    "a room": "/room/room0",
    "style sheet": "/look/page.css",
}


def measure() -> Section:
    """Measure by processor time, views and the style sheet turn about."""
    with TemporaryDirectory() as name:
        config = LAYOUT.write_config(Path(name))
        config.write_text(config.read_text() + PAGE)
        settings, now_ms = load_settings(config), system_ms() // MINUTE_MS * MINUTE_MS
        with Store.open(settings.storage.path) as store:
            start_ms = now_ms - DAYS * DAY_MS
            rows = store_climate(store, LAYOUT.sensor_names(), start_ms, now_ms, every_ms=MINUTE_MS)
            last_ms = now_ms - HOUR_MS
            hang_pieces(store, settings, count=PIECES, first_ms=start_ms, last_ms=last_ms)
        with WebShop(settings) as shop:
            round_s = _spent_s(lambda: shop.do(lambda: shop.daemon.round([])))
            first, again = _views(shop)
            judged, between = _rooms(shop, now_ms)
        status = [_spent_s(lambda: _status(config)) for _ in range(REPEATS)]
    per_minute = [
        (spans + 4.0 * minutes) / 5.0 / 60.0 for spans, minutes in zip(judged, between, strict=True)
    ]
    return Section(
        title="The faces",
        what=(
            f"{LAYOUT.rooms} rooms with {LAYOUT.sensors} sensors, {DAYS} days of readings a minute "
            f"({rows:,} rows), {PIECES} pieces under two finishes, one of them a lacquer; by "
            "processor time. The first round judges every piece and room with nothing kept. "
            "A view is asked in the process that serves it, with nothing kept and "
            "again; the style sheet from the same server is its baseline. What would clear a "
            "verdict is among a room's first answer. `status` reads its record from the start. "
            "Every fifth minute the hours ahead of each finish in each room are judged anew, "
            "between only the moment: told as the share of one core that both take."
        ),
        rows=[
            Row("the daemon's first round", [1e3 * round_s], " ms"),
            *(
                Row(f"{view}, nothing kept", [1e3 * s for s in first[view]], " ms")
                for view in VIEWS
            ),
            *(Row(f"{view}, again", [1e3 * s for s in again[view]], " ms") for view in VIEWS),
            Row("verdicts of all rooms, hours ahead anew", [1e3 * s for s in judged], " ms"),
            Row("verdicts of all rooms in between", [1e3 * s for s in between], " ms"),
            Row(
                "share of one core for them",
                [100.0 * share for share in per_minute],
                " %",
                Goal(1.0, unit=" %"),
            ),
            Row("`status`", [1e3 * s for s in status], " ms"),
        ],
    )


def _views(shop: WebShop) -> tuple[dict[str, list[float]], dict[str, list[float]]]:
    """Return what each view takes with nothing kept, once, and again [s]."""
    visitor = shop.stranger()

    def ask(place: str) -> None:
        answer = visitor.get(place)
        assert answer.status_code == 200, answer.text

    first = {view: [_spent_s(lambda place=place: ask(place))] for view, place in VIEWS.items()}  # type: ignore[misc]  # bound now
    again: dict[str, list[float]] = {view: [] for view in VIEWS}
    for _ in range(REPEATS):
        for view, place in VIEWS.items():
            shop.do(shop.daemon.desk.forget)
            again[view].append(_spent_s(lambda place=place: ask(place)))  # type: ignore[misc]  # bound now
    return first, again


def _rooms(shop: WebShop, now_ms: int) -> tuple[list[float], list[float]]:
    """Return what the verdicts of all rooms take, judged anew and in between [s]."""
    facts = shop.daemon.shop

    def judge(at_ms: int) -> None:
        for room in facts.rooms:
            assert assess_room(facts, room, at_ms).sprays

    judged, between = [], []
    begun_ms = now_ms // JUDGED_EVERY_MS * JUDGED_EVERY_MS
    for span in range(SPANS, 0, -1):
        at_ms = begun_ms - span * JUDGED_EVERY_MS
        judged.append(_spent_s(lambda at_ms=at_ms: shop.do(lambda: judge(at_ms))))  # type: ignore[misc]  # bound now
        later_ms = at_ms + MINUTE_MS
        between.append(_spent_s(lambda at_ms=later_ms: shop.do(lambda: judge(at_ms))))  # type: ignore[misc]  # bound now
    return judged, between


def _status(config: Path) -> None:
    with contextlib.redirect_stdout(io.StringIO()):
        assert main(["--config", str(config), "status"]) == 0


def _spent_s(work: Callable[[], object]) -> float:
    begun_s = time.process_time()
    work()
    return time.process_time() - begun_s
