"""How often the hours ahead held: spans told along a real climate, against what the air then did.

Record: tests/data/greensboro-typical-year.csv (TMY3, National Renewable Energy Laboratory): an
open shed's air, which is harder to foresee than a shop's. What was to come is not looked at.
"""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

import numpy as np

from curewatch.shop.room import Room
from curewatch.shop.spray import Conditions, Verdict, spray_check
from curewatch.shop.spray_answer import Job, room_look
from curewatch.shop.words import Words
from tests.shop.scene import at_h, finish, readings, shop_of

RECORD = Path(__file__).parents[1] / "data" / "greensboro-typical-year.csv"
FIRST_DAY, DAYS = 200, 80  # from the middle of July
EVERY_DAYS = 2


def spans(name: str) -> Counter[tuple[Verdict, bool]]:
    """Return how many spans of each verdict, told when now was a go, held to their end."""
    with RECORD.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    rows = rows[FIRST_DAY * 24 : (FIRST_DAY + DAYS) * 24]
    temps = np.array([float(row["dry_bulb_c"]) for row in rows])
    humid = np.array([float(row["rh_pct"]) for row in rows]) / 100.0
    hours = np.arange(temps.size, dtype=np.float64)
    shop = shop_of(
        {"shed": readings(hours, temps, humid)}, rooms=[Room("shed", longest_gap_s=7200.0)]
    )
    track, found = shop.book.climates["shed"], Counter[tuple[Verdict, bool]]()
    for start in (day * 24 + hour for day in range(10, DAYS - 2, EVERY_DAYS) for hour in (9, 14)):
        now = track.at(at_h(start))
        assert now is not None
        here = Conditions(now.temp_c, now.rh_frac)
        told = room_look(shop, "shed", Job(finish(name)), here=here, now_ms=at_h(start)).answer
        if told.ahead is None or not told.now.verdict.is_go:
            continue
        then = [track.at(hour.at_ms) for hour in told.ahead.hours]
        held = all(
            one is not None
            and spray_check(
                finish(name), Conditions(one.temp_c, one.rh_frac), Words()
            ).verdict.is_go
            for one in then
        )
        found[told.ahead.verdict, held] += 1
    return found


def test_spans_called_fit_held_and_those_called_do_not_spray_mostly_turned() -> None:
    """Nine in ten is what a band of eight in ten with one bad end promises."""
    for name in ("two-part-urethane", "waterborne"):
        found = spans(name)
        fit, wait = (
            (found[verdict, True], found[verdict, False]) for verdict in (Verdict.FIT, Verdict.WAIT)
        )
        tight = found[Verdict.TIGHT, True] + found[Verdict.TIGHT, False]
        assert sum(fit) >= 8
        assert fit[1] <= 0.1 * sum(fit)
        assert sum(wait) >= 3
        assert wait[1] > 0.5 * sum(wait)
        assert found[Verdict.TIGHT, False] < 0.5 * tight
