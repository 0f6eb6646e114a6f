"""Looking ahead: a room's outlook once an hour, the spray check over the hours, a piece's look."""

from __future__ import annotations

import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from curewatch.assembly import assemble, record_start_ms
from curewatch.room_feed import RoomFeed
from curewatch.shop.ahead import law_ahead
from curewatch.shop.assessment import assess_piece
from curewatch.shop.finish import ClockName
from curewatch.shop.laws import law_for
from curewatch.shop.memo import NEVER_MS
from curewatch.shop.spray import spray_check
from curewatch.shop.spray_answer import Job, room_answer
from curewatch.shop.spray_here import conditions_of
from curewatch.storage import Store
from tests.bench.measured import Goal, Row, Section, ratios
from tests.bench.scene import DAY_MS, HOUR_MS, MINUTE_MS, Layout, hang_pieces, store_climate

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.shop.shop import Shop

LAYOUT = Layout(rooms=1, sensors=1)
DAYS, REPEATS = 60, 5
NOW_MS = 1_760_000_040_000 // HOUR_MS * HOUR_MS + 10 * MINUTE_MS
ROOM = "room0"
HOUR_S = 3600.0


def measure() -> Section:
    """Measure in one room with two months of readings, by processor time, turn about."""
    with TemporaryDirectory() as name:
        settings = LAYOUT.settings(Path(name))
        with Store.open(settings.storage.path) as store:
            start_ms = NOW_MS - DAYS * DAY_MS
            store_climate(store, LAYOUT.sensor_names(), start_ms, NOW_MS, every_ms=MINUTE_MS)
            hang_pieces(
                store, settings, count=2, first_ms=NOW_MS - 2 * DAY_MS, last_ms=NOW_MS - DAY_MS
            )
            shop = assemble(settings, store, NOW_MS)
            RoomFeed(store, shop).load(record_start_ms(shop.pieces.values(), NOW_MS))
            works = works_of(shop)
            taken: dict[str, list[float]] = {what: [] for what in works}
            for repeat in range(REPEATS + 1):
                for what, (times, work) in works.items():
                    each_s = spent_s(work, times)
                    if repeat:  # the first fills what is kept
                        taken[what].append(each_s)
    outlook, check, now, piece = taken.values()
    return Section(
        title="Looking ahead",
        what=(
            f"One room with {DAYS} days of readings a minute and two pieces, by processor time. An "
            "outlook is worked out once an hour for each law in use in a room; between, it is read "
            "off. The spray check looks over the hours until the last coat has flashed, and tries "
            "what would clear it; its baseline is the check of this moment alone. A look is one "
            "piece assessed, outlooks and clocks at hand."
        ),
        rows=[
            Row("outlook of a room and a law", [1e3 * s for s in outlook], " ms"),
            Row(
                "share of one core for twenty rooms of four laws, by it",
                [100.0 * 80 * s / HOUR_S for s in outlook],
                " %",
                Goal(1.0, unit=" %"),
            ),
            Row("spray check over the hours ahead", [1e3 * s for s in check], " ms"),
            Row("the same over the check of this moment", ratios(check, now)),
            Row("a look at a piece", [1e3 * s for s in piece], " ms"),
        ],
    )


def works_of(shop: Shop) -> dict[str, tuple[int, Callable[[], object]]]:
    """Return what is measured, and how often in one repeat."""
    piece = shop.pieces["P0"]
    finish = shop.finish_of(piece)
    law = law_for(finish, ClockName.CURE, shop.room(ROOM))
    climate = shop.book.climates[ROOM].last_known(NOW_MS)
    assert law is not None
    here = conditions_of(shop, ROOM, climate)
    assert here.temp_c is not None

    def outlook() -> None:
        shop.book.aheads.forget_from(ROOM, NEVER_MS)
        found = law_ahead(shop, ROOM, law, NOW_MS)
        assert found is not None
        assert not found.first_hour

    def check() -> None:
        answer = room_answer(shop, ROOM, Job(finish), here=here, now_ms=NOW_MS)
        assert answer.ahead is not None

    return {
        "outlook": (5, outlook),
        "check": (2, check),
        "now": (20, lambda: spray_check(finish, here, shop.words, exact=True)),
        "piece": (20, lambda: assess_piece(shop, piece, NOW_MS)),
    }


def spent_s(work: Callable[[], object], times: int) -> float:
    """Return the processor time that one of so many runs takes [s]."""
    begun_s = time.process_time()
    for _ in range(times):
        work()
    return (time.process_time() - begun_s) / times
