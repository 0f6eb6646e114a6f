from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadInput
from curewatch.shop.room_plan import RoomPlan
from curewatch.storage.voids import void_entry

if TYPE_CHECKING:
    from curewatch.storage import Store

OFF = RoomPlan("booth", 100, 200, 8.0, None, left_alone=True, why="week-end")
DRY = RoomPlan("booth", 50, None, None, 0.45)
LOFT = RoomPlan("loft", 10, 20, 21.0, 0.5)


def test_plans_come_back_as_entered_and_numbered_in_that_order(store: Store) -> None:
    numbers = [store.room_plans.add(plan, 5) for plan in (OFF, DRY, LOFT)]
    found = store.room_plans.all()
    assert [plan.id for plan in found] == numbers == [1, 2, 3]
    assert [(p.room, p.start_ms, p.stop_ms, p.temp_c, p.rh_frac) for p in found] == [
        ("booth", 100, 200, 8.0, None),
        ("booth", 50, None, None, 0.45),
        ("loft", 10, 20, 21.0, 0.5),
    ]
    assert [(plan.left_alone, plan.why) for plan in found] == [
        (True, "week-end"),
        (False, ""),
        (False, ""),
    ]


def test_how_a_plan_is_kept_and_when_it_was_entered_come_back(store: Store) -> None:
    heater = RoomPlan("loft", 10, temp_c=20.0, rh_frac=0.5, temp_at_least=True)
    dryer = RoomPlan("loft", 10, temp_c=20.0, rh_frac=0.5, rh_at_most=True)
    for plan, entered_ms in ((heater, 5), (dryer, 6), (LOFT, 7)):
        store.room_plans.add(plan, entered_ms)
    assert [(p.temp_at_least, p.rh_at_most, p.entered_ms) for p in store.room_plans.all()] == [
        (True, False, 5),
        (False, True, 6),
        (False, False, 7),
    ]


def test_a_room_has_its_own_plans_and_those_that_have_ended_are_left_out(store: Store) -> None:
    for plan in (OFF, DRY, LOFT):
        store.room_plans.add(plan, 5)
    assert [plan.id for plan in store.room_plans.for_room("booth")] == [1, 2]
    assert [plan.id for plan in store.room_plans.for_room("booth", after_ms=199)] == [1, 2]
    assert [plan.id for plan in store.room_plans.for_room("booth", after_ms=200)] == [2]
    assert [plan.id for plan in store.room_plans.all(after_ms=19)] == [1, 2, 3]
    assert [plan.id for plan in store.room_plans.all(after_ms=200)] == [2]
    assert store.room_plans.for_room("nowhere") == ()


def test_a_voided_plan_no_longer_counts_and_is_voided_once_with_a_reason(store: Store) -> None:
    number = store.room_plans.add(OFF, 5)
    with pytest.raises(BadInput, match="voiding a plan of a room needs a reason"):
        store.room_plans.void(number, " ", 6)
    with pytest.raises(BadInput, match=r"no plan of a room with number 9: 'curewatch room ahead"):
        store.room_plans.void(9, "typo", 6)
    store.room_plans.void(number, "heater stays on", 6)
    assert store.room_plans.all() == store.room_plans.for_room("booth") == ()
    with pytest.raises(BadInput, match="void already since 1970-01-01 00:00 UTC: heater stays on"):
        store.room_plans.void(number, "again", 7)
    assert store.db.value("SELECT count(*) FROM room_plan") == 1


@pytest.mark.parametrize(
    ("what", "called"),
    [("stock", "entry of stock"), ("batch", "pot"), ("joining", "joining"), ("score", "score")],
)
def test_the_other_new_kinds_can_be_voided_too(store: Store, what: str, called: str) -> None:
    store.db.execute(
        """
        INSERT INTO piece (tag, finish, revision, title, at_ms, entered_ms)
            VALUES ('A', 'x', 1, '', 1, 1), ('B', 'x', 1, '', 1, 1);
        INSERT INTO stock (finish, lot, part, room, at_ms, note, entered_ms)
            VALUES ('x', 'L', 'finish', 'booth', 1, '', 1);
        INSERT INTO batch (name, finish, revision, lot, mixed_at_ms, crosslinker_lot, thinner,
            tint, note, who, entered_ms) VALUES ('P', 'x', 1, 'L', 1, '', '', '', '', '', 1);
        INSERT INTO joining (part, onto, at_ms, note, entered_ms) VALUES (1, 2, 1, '', 1);
        INSERT INTO score (piece, quality, value, unit, how, who, at_ms, entered_ms)
            VALUES (1, 'haze', 2, '', '', '', 1, 1);
        """
    )
    void_entry(store.db, what, 1, why="typo", at_ms=2)  # type: ignore[arg-type]
    assert store.db.rows("SELECT what, target, why FROM void") == [(what, 1, "typo")]
    with pytest.raises(BadInput, match=f"no {called} with number 2"):
        void_entry(store.db, what, 2, why="typo", at_ms=2)  # type: ignore[arg-type]
