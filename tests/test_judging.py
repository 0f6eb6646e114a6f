"""What outcomes amounted to is kept, and goes when the past it rests on is changed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.assembly import load_paces, load_pieces
from curewatch.judging import judge_all
from curewatch.shop.findings import Says
from curewatch.shop.piece import Fill, Outcome, Work, WorkKind
from curewatch.shop.reading import Origin, Quantity, Reading
from curewatch.shop.shop import Shop
from curewatch.storage import Store
from tests.small_shop import HOUR_MS, MINUTE_MS, T0_MS, SmallShop

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curewatch.shop.pace import Judged

DAY_MS = 24 * HOUR_MS
COAT_MS, LEVEL_MS = T0_MS, T0_MS + 5 * DAY_MS
LOOK_MS = T0_MS + 6 * DAY_MS
GAP = (T0_MS + DAY_MS, T0_MS + 4 * DAY_MS)


def air(start_ms: int, stop_ms: int, temp_c: float = 21.0) -> list[Reading]:
    return [
        Reading("rack", quantity, at_ms, value, Origin.OWN_TIME)
        for at_ms in range(start_ms, stop_ms, 10 * MINUTE_MS)
        for quantity, value in ((Quantity.TEMPERATURE, temp_c), (Quantity.HUMIDITY, 0.5))
    ]


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[SmallShop]:
    """Give a shop where P1 was levelled after five days and looked at a day later."""
    opened = SmallShop.open(tmp_path)
    opened.hang("P1", "waterborne", COAT_MS, planned=1)
    store = opened.store
    store.readings.add(air(T0_MS - DAY_MS, GAP[0]) + air(GAP[1], T0_MS + 9 * DAY_MS))
    store.pieces.work("P1", Work(WorkKind.LEVEL, LEVEL_MS), LOOK_MS)
    store.pieces.outcome("P1", Outcome(LOOK_MS, "grain-back"), LOOK_MS)
    yield opened
    store.close()


def judged(yard: SmallShop) -> Judged:
    load_pieces(yard.store, yard.shop)
    return yard.shop.judged["P1"]


def row(yard: SmallShop) -> int | None:
    found = yard.store.db.value("SELECT id FROM judged WHERE said IS NOT NULL")
    return None if found is None else int(found)


def test_an_outcome_is_judged_once_and_then_remembered_by_every_process(yard: SmallShop) -> None:
    first = judged(yard)
    kept = row(yard)
    assert kept is not None
    other = Shop(rooms=yard.shop.rooms, sensors=yard.shop.sensors)
    load_pieces(yard.store, other)
    assert other.judged["P1"] == first
    assert row(yard) == kept


def test_readings_after_it_leave_what_was_found_alone(yard: SmallShop) -> None:
    judged(yard)
    kept = row(yard)
    yard.store.readings.add(air(T0_MS + 9 * DAY_MS, T0_MS + 10 * DAY_MS))
    judged(yard)
    assert row(yard) == kept


def test_late_readings_that_close_a_gap_make_the_finding_speak(yard: SmallShop) -> None:
    (before,) = judged(yard).said
    assert before.says is Says.NOTHING  # most of its hours were not heard
    yard.store.readings.add(air(*GAP))
    assert row(yard) is None
    (after,) = judged(yard).said
    assert after.says is Says.TOO_EARLY
    assert after.finding is not None
    assert yard.shop.paces


def test_corrected_readings_move_the_hours_it_speaks_of(yard: SmallShop) -> None:
    store = yard.store
    store.readings.add(air(*GAP))
    (warm,) = judged(yard).said
    store.readings.void("rack", *GAP, "it hung over the heater", LOOK_MS)
    assert row(yard) is None
    store.readings.add(air(GAP[0] + MINUTE_MS, GAP[1], temp_c=18.0))
    (cold,) = judged(yard).said
    assert warm.finding is not None
    assert cold.finding is not None
    assert cold.finding.ratio < 0.9 * warm.finding.ratio


def test_a_filled_gap_teaches_nothing_but_makes_it_look_again(yard: SmallShop) -> None:
    judged(yard)
    fill = yard.store.fills.add(Fill("loft", *GAP, 21.0, 0.5, "as the days around"), LOOK_MS)
    assert row(yard) is None
    assert judged(yard).said[0].says is Says.NOTHING  # hours that nobody measured are no lesson
    assert row(yard) is not None
    yard.store.fills.void(fill, "nobody knows", LOOK_MS)
    assert row(yard) is None


def test_a_sensor_hung_elsewhere_or_a_reading_flagged_makes_it_look_again(yard: SmallShop) -> None:
    judged(yard)
    assert row(yard) is not None
    yard.store.places.place("bare", "loft", T0_MS)
    assert row(yard) is None
    judged(yard)
    yard.store.db.execute("UPDATE reading SET flags = 2 WHERE at_ms = ?", (COAT_MS,))
    assert row(yard) is None


def test_another_outcome_or_another_room_is_another_case(yard: SmallShop) -> None:
    yard.store.readings.add(air(*GAP))
    assert len(judged(yard).said) == 1
    kept = row(yard)
    yard.store.pieces.outcome("P1", Outcome(LOOK_MS + HOUR_MS, "fine"), LOOK_MS + HOUR_MS)
    assert len(judged(yard).said) == 2
    assert row(yard) != kept
    kept = row(yard)
    windy = {"loft": replace(yard.shop.rooms["loft"], air="fan")}
    judge_all(yard.store, replace(yard.shop, rooms=windy), yard.shop.pieces.values())
    assert row(yard) != kept


def test_deleting_what_is_kept_loses_nothing(yard: SmallShop) -> None:
    yard.store.readings.add(air(*GAP))
    first = judged(yard)
    yard.store.db.execute("DELETE FROM judged")
    assert judged(yard) == first
    assert row(yard) is not None


def test_years_later_an_outcome_still_speaks(yard: SmallShop) -> None:
    store = yard.store
    store.readings.add(air(*GAP))
    first = judged(yard)
    store.readings.add(air(T0_MS + 900 * DAY_MS, T0_MS + 900 * DAY_MS + HOUR_MS))
    store.db.execute("DELETE FROM judged")
    assert judged(yard) == first


def test_what_comes_in_while_it_is_judged_leaves_nothing_stale_behind(yard: SmallShop) -> None:
    store = yard.store
    number = store.judged.begin("P1", "now", start_ms=COAT_MS, stop_ms=LOOK_MS)
    assert store.judged.all() == {}
    store.readings.add(air(*GAP))
    store.judged.complete({number: "[]"})
    assert store.judged.all() == {}
    number = store.judged.begin("P1", "now", start_ms=COAT_MS, stop_ms=LOOK_MS)
    later = store.judged.begin("P1", "then", start_ms=COAT_MS, stop_ms=LOOK_MS)
    store.judged.complete({number: "[]"})
    assert store.judged.all() == {}
    store.judged.complete({later: "[]"})
    assert store.judged.all() == {"P1": ("then", "[]")}


def test_where_nothing_can_be_written_it_is_judged_all_the_same(
    yard: SmallShop, tmp_path: Path
) -> None:
    expected = judged(yard)
    yard.store.db.execute("DELETE FROM judged")
    with Store.open(tmp_path / "shop.db", read_only=True) as store:
        shop = Shop(rooms=yard.shop.rooms, sensors=yard.shop.sensors)
        load_pieces(store, shop)
        load_paces(store, shop)
    assert shop.judged["P1"] == expected
    assert row(yard) is None


def test_pieces_far_apart_are_judged_as_they_would_be_alone(yard: SmallShop) -> None:
    store, far_ms = yard.store, T0_MS + 900 * DAY_MS
    store.readings.add(air(*GAP))
    alone = judged(yard)
    yard.hang("P2", "waterborne", COAT_MS + DAY_MS, planned=1)
    yard.hang("P3", "waterborne", far_ms, planned=1)
    store.readings.add(air(far_ms - HOUR_MS, far_ms + 2 * DAY_MS))
    store.pieces.outcome("P2", Outcome(LOOK_MS + DAY_MS, "thumbprint"), LOOK_MS + DAY_MS)
    store.pieces.outcome("P3", Outcome(far_ms + DAY_MS, "thumbprint"), far_ms + DAY_MS)
    store.db.execute("DELETE FROM judged")
    load_pieces(store, yard.shop)
    assert yard.shop.judged["P1"] == alone
    assert [yard.shop.judged[tag].said[0].says for tag in ("P2", "P3")] == [Says.TOO_EARLY] * 2
