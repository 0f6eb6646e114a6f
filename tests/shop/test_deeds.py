from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.shop.alert import AlertKind
from curewatch.shop.deeds import Deed, deeds, job, work_deed
from curewatch.shop.piece import Coat, Stay, Work, WorkKind
from tests.shop.scene import HOUR_MS, T0_MS, at_h, every, finish, piece, readings, shop_of, steady

if TYPE_CHECKING:
    from curewatch.shop.climate import Series
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.shop.reading import Quantity

    Record = dict[tuple[str, Quantity], Series]

URETHANE, ACID, WATERBORNE = (
    finish(name) for name in ("two-part-urethane", "acid-cure", "waterborne")
)


def found(
    of: Finish, hung: Piece, now_h: float = 900.0, record: Record | None = None
) -> tuple[Deed, ...]:
    rooms = {"loft": steady(40.0) if record is None else record}
    return deeds(hung, shop_of(rooms, finishes=[of], pieces=[hung]), at_h(now_h))


def kinds(of: Finish, hung: Piece, now_h: float = 900.0) -> list[AlertKind]:
    return [deed.kind for deed in found(of, hung, now_h)]


# ---- coats


def test_a_coat_before_the_last_one_dried_can_trap_haze() -> None:
    (deed,) = found(WATERBORNE, piece("waterborne", [0.0, 0.5]))
    assert deed.kind is AlertKind.COAT_EARLY
    assert deed.at_ms == at_h(0.5)
    assert "Coat 2 after 30 min, 0.50 of 1.03 drying hours." in deed.reason
    assert "haze" in deed.next_action


def test_a_coat_inside_its_window_is_no_deed() -> None:
    assert kinds(WATERBORNE, piece("waterborne", [0.0, 2.0, 4.0])) == []
    assert kinds(URETHANE, piece("two-part-urethane", [0.0, 2.0])) == []


def test_a_coat_between_the_rule_and_its_late_end_is_no_deed() -> None:
    assert kinds(URETHANE, piece("two-part-urethane", [0.0, 0.92])) == []


def test_a_coat_in_the_forbidden_middle_can_wrinkle_scuffed_or_not() -> None:
    assert kinds(ACID, piece("acid-cure", [0.0, 10.0])) == [AlertKind.COAT_IN_MIDDLE]
    scuffed = piece("acid-cure", [0.0, 10.0], work=[(WorkKind.SCUFF, 9.0)])
    assert kinds(ACID, scuffed) == [AlertKind.COAT_IN_MIDDLE]


def test_a_coat_after_the_window_closed_may_not_bond_unless_scuffed() -> None:
    late = piece("two-part-urethane", [0.0, 9.0])
    (deed,) = found(URETHANE, late)
    assert deed.kind is AlertKind.COAT_LATE
    assert "without a scuff" in deed.reason
    scuffed = piece("two-part-urethane", [0.0, 9.0], work=[(WorkKind.SCUFF, 8.9)])
    assert kinds(URETHANE, scuffed) == []
    too_late = piece("two-part-urethane", [0.0, 9.0], work=[(WorkKind.SCUFF, 9.1)])
    assert kinds(URETHANE, too_late) == [AlertKind.COAT_LATE]


def test_each_coat_is_judged_by_the_one_before_it_alone() -> None:
    hung = piece("two-part-urethane", [0.0, 2.0, 2.3, 12.0])
    assert [(d.kind, d.at_ms) for d in found(URETHANE, hung)] == [
        (AlertKind.COAT_EARLY, at_h(2.3)),
        (AlertKind.COAT_LATE, at_h(12.0)),
    ]


def test_a_thick_coat_makes_the_next_one_wait_longer() -> None:
    def laid(film: float | None) -> list[AlertKind]:
        coats = [Coat(T0_MS, wet_um=film), Coat(at_h(1.6))]
        return kinds(WATERBORNE, piece("waterborne", coats))

    assert laid(None) == []
    assert laid(200.0) == [AlertKind.COAT_EARLY]


def test_a_film_cured_by_dose_has_no_deeds() -> None:
    dose = finish("dose-cured")
    assert kinds(dose, piece("dose-cured", [0.0, 0.01], work=[(WorkKind.BUFF, 0.02)])) == []


# ---- pots


def pot(mixed_h: float, sprayed_h: float, record: Record | None = None) -> list[AlertKind]:
    coat = Coat(at_h(sprayed_h), mixed_at_ms=at_h(mixed_h))
    hung = piece("two-part-urethane", [coat])
    return [deed.kind for deed in found(URETHANE, hung, record=record)]


def test_a_pot_is_over_after_its_life_on_the_wall_clock_however_cold() -> None:
    cold = readings(every(10, 48), 4.0, 0.5)
    assert pot(1.0, 1.95, cold) == []
    assert pot(1.0, 2.05, cold) == [AlertKind.POT_OVER]


def test_a_pot_is_over_sooner_in_the_warm() -> None:
    warm = readings(every(10, 48), 30.0, 0.5)
    assert pot(1.0, 1.5, warm) == []
    assert pot(1.0, 1.65, warm) == [AlertKind.POT_OVER]


def test_a_silence_never_lengthens_a_pot_s_life() -> None:
    hours = every(10, 48)
    seen = hours[(hours < 1.2) | (hours > 20.0)]
    assert pot(1.0, 1.6, readings(hours, 30.0, 0.5)) == [AlertKind.POT_OVER]
    assert pot(1.0, 1.6, readings(seen, 30.0, 0.5)) == [AlertKind.POT_OVER]
    unseen = hours[(hours < 0.9) | (hours > 20.0)]
    assert pot(1.0, 1.65, readings(unseen, 30.0, 0.5)) == [AlertKind.POT_OVER]


def test_a_pot_s_age_says_its_hours_and_its_early_end() -> None:
    coat = Coat(at_h(3.5), mixed_at_ms=T0_MS)
    (deed,) = found(URETHANE, piece("two-part-urethane", [coat]))
    assert deed.mark == f"pot-{at_h(3.5)}"
    assert "aged 3.6 h at its early end; its life is 60 min" in deed.reason


def test_a_pot_ages_by_the_wall_clock_where_the_piece_hangs_nowhere_known() -> None:
    coat = Coat(at_h(3.5), mixed_at_ms=at_h(2.0))
    hung = piece("two-part-urethane", [coat], stays=[Stay("loft", at_h(5.0))])
    assert [d.kind for d in found(URETHANE, hung)] == [AlertKind.POT_OVER]


def test_a_finish_that_is_not_mixed_and_a_pot_nobody_timed_have_no_age() -> None:
    timed = Coat(at_h(9.0), mixed_at_ms=T0_MS)
    assert kinds(WATERBORNE, piece("waterborne", [timed])) == []
    assert kinds(URETHANE, piece("two-part-urethane", [Coat(at_h(9.0))])) == []


# ---- work


@pytest.mark.parametrize(
    ("kind", "early_h", "ready_h"),
    [
        (WorkKind.DRY_SAND, 1.5, 3.0),
        (WorkKind.WET_SAND, 50.0, 70.0),
        (WorkKind.LEVEL, 50.0, 70.0),
        (WorkKind.BUFF, 70.0, 80.0),
    ],
)
def test_work_before_its_milestone_is_a_deed_and_after_it_is_not(
    kind: WorkKind, early_h: float, ready_h: float
) -> None:
    coats = [0.0, 2.0, 4.0]
    early = piece("waterborne", coats, work=[(kind, 4.0 + early_h)])
    (deed,) = found(WATERBORNE, early)
    assert deed.kind is AlertKind.WORK_EARLY
    assert f"Not ready to {job(kind)}" in deed.reason
    assert "on 3 coats" in deed.reason
    assert kinds(WATERBORNE, piece("waterborne", coats, work=[(kind, 4.0 + ready_h)])) == []


def test_a_scuff_needs_no_milestone() -> None:
    scuffed = piece("waterborne", [0.0], work=[(WorkKind.SCUFF, 0.1)])
    assert kinds(WATERBORNE, scuffed) == []
    assert job(WorkKind.SCUFF) == "scuff"


def test_work_on_a_bare_piece_is_no_deed() -> None:
    assert kinds(WATERBORNE, piece("waterborne", [5.0], work=[(WorkKind.LEVEL, 1.0)])) == []


def test_a_deed_is_judged_as_it_stood_then_not_as_it_stands_now() -> None:
    levelled = piece("waterborne", [0.0], work=[(WorkKind.LEVEL, 20.0)])
    assert kinds(WATERBORNE, levelled, 20.0) == [AlertKind.WORK_EARLY]
    assert kinds(WATERBORNE, levelled, 900.0) == [AlertKind.WORK_EARLY]
    later_coat = replace(levelled, coats=(*levelled.coats, Coat(at_h(30.0))))
    assert kinds(WATERBORNE, later_coat)[-1] is AlertKind.WORK_EARLY


def test_asked_cautiously_work_waits_for_the_late_end_too() -> None:
    record = {"loft": steady(40.0, 28.0)}
    hung = piece("waterborne", [0.0])
    shop = shop_of(record, finishes=[WATERBORNE], pieces=[hung])
    just = next(
        Work(WorkKind.WET_SAND, T0_MS + minute * 60_000)
        for minute in range(3600)
        if work_deed(hung, shop, Work(WorkKind.WET_SAND, T0_MS + minute * 60_000)) is None
    )
    assert work_deed(hung, shop, just, cautious=True) is not None
    later = replace(just, at_ms=just.at_ms + 24 * HOUR_MS)
    assert work_deed(hung, shop, later, cautious=True) is None


def test_what_has_not_happened_yet_is_no_deed() -> None:
    hung = piece("waterborne", [0.0, 0.5, 0.9], work=[(WorkKind.LEVEL, 20.0)])
    assert kinds(WATERBORNE, hung, 0.6) == [AlertKind.COAT_EARLY]


def test_a_voided_entry_leaves_no_trace() -> None:
    hung = piece("two-part-urethane", [0.0, 0.5, 2.0], work=[(WorkKind.LEVEL, 20.0)])
    assert kinds(URETHANE, hung) == [AlertKind.COAT_EARLY, AlertKind.WORK_EARLY]
    mended = replace(hung, coats=(hung.coats[0], hung.coats[2]), work=())
    assert kinds(URETHANE, mended) == []
