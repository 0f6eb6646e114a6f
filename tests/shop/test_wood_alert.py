"""Wood that still moves is told while there is work that would show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.shop.alert import AlertKind, AlertPhase
from curewatch.shop.assessment import PieceNow, assess, assess_piece
from curewatch.shop.bench_list import Group, Job, bench_list
from curewatch.shop.climate import merge
from curewatch.shop.conditions import Condition, piece_conditions
from curewatch.shop.piece import Stay, WorkKind
from curewatch.shop.reading import Urgency
from curewatch.shop.watch import Watch
from tests.shop.scene import HOUR_MS, T0_MINUTE, at_h, every, finish, piece, readings, shop_of
from tests.shop.test_watch_against_plain import PlainWatch

if TYPE_CHECKING:
    from curewatch.shop.climate import Series
    from curewatch.shop.piece import Piece
    from curewatch.shop.reading import Quantity

    Record = dict[tuple[str, Quantity], Series]

COAT_H = 24 * 24.0
NOW_H = COAT_H + 4 * 24.0 + 1
KEY = (AlertKind.WOOD_MOVING, "piece:B12")


def record(after: float, *, days: float = 60.0) -> Record:
    """Return a room at 60 %, and so much from the first coat on."""
    hours = every(20.0, days * 24.0)
    return readings(hours, 20.0, np.where(hours < COAT_H, 0.6, after))


def found(
    hung: Piece, now_h: float = NOW_H, *, after: float = 0.4, told: bool = False
) -> list[Condition]:
    shop = shop_of({"loft": record(after)}, finishes=[finish(hung.finish)], pieces=[hung])
    now = assess_piece(shop, hung, at_h(now_h))
    said = piece_conditions(now, hung, at_h(now_h), told={KEY} if told else ())
    return [one for one in said if one.kind is KEY[0]]


def test_wood_still_moving_is_told_with_what_it_will_do() -> None:
    (one,) = found(piece("waterborne", [COAT_H], planned=1))
    assert one.key == KEY
    assert one.urgency is Urgency.TODAY
    assert "points to lose" in one.reason
    assert "glue lines will print" in one.next_action


def test_wood_at_rest_is_not_told() -> None:
    assert found(piece("waterborne", [COAT_H], planned=1), after=0.6) == []


def test_what_is_told_holds_until_well_inside_the_limit() -> None:
    hung = piece("waterborne", [COAT_H], planned=1)
    within = COAT_H + 25 * 24.0 + 1  # between 0.8 and 1 point is left by then
    assert found(hung, within, after=0.3) == []
    assert found(hung, within, after=0.3, told=True)


@pytest.mark.parametrize(
    ("work", "planned", "told"),
    [
        ((), 1, True),  # levelling lies ahead
        ((WorkKind.LEVEL,), 1, True),  # buffing does
        ((WorkKind.LEVEL, WorkKind.BUFF), 1, False),
        ((WorkKind.LEVEL, WorkKind.BUFF), None, False),
        ((WorkKind.LEVEL, WorkKind.BUFF), 3, False),
    ],
)
def test_it_is_told_while_there_is_work_that_would_show_it(
    work: tuple[WorkKind, ...], planned: int | None, *, told: bool
) -> None:
    done = [(kind, COAT_H + 24.0 + n) for n, kind in enumerate(work)]
    assert bool(found(piece("waterborne", [COAT_H], work=done, planned=planned))) is told


def test_a_finish_that_is_not_buffed_is_told_while_coats_may_come() -> None:
    assert found(piece("dose-cured", [COAT_H]))
    assert found(piece("dose-cured", [COAT_H], planned=1)) == []


def test_a_bare_piece_is_told_before_its_first_coat() -> None:
    assert found(piece("waterborne", [], stays=[Stay("loft", at_h(COAT_H))]))


def answers(hung: Piece, now_h: float = NOW_H) -> tuple[PieceNow, Job, Condition]:
    """Return what status, bench list and alert say of a piece in a room that went dry."""
    shop = shop_of({"loft": record(0.4)}, finishes=[finish(hung.finish)], pieces=[hung])
    all_now = assess(shop, at_h(now_h))
    listed = bench_list(all_now, shop.pieces, shop.words)
    jobs = [*listed.due, *listed.ready, *listed.coming, *listed.waiting]
    (alert,) = found(hung, now_h)
    return all_now.pieces[0], jobs[0], alert


def test_status_bench_list_and_alert_give_one_answer_to_moving_wood() -> None:
    status, job, alert = answers(piece("nitro-lacquer", [COAT_H], planned=6))
    assert alert.next_action.startswith("Wait with coats, levelling and buffing")
    assert status.next_action.startswith(alert.next_action)
    assert status.next_action.endswith("By the film alone: Lay the next coat.")
    assert "The wood under it still moves: about " in status.sentence
    assert (job.group, job.job, job.action) == (Group.COMING, "next coat", status.next_action)
    assert status.wood is not None
    assert job.eta.likely == status.next_at
    assert status.next_at == status.wood.judged_at + round((status.wood.settles_h or 0) * HOUR_MS)
    assert (job.eta.early or 0) < (job.eta.likely or 0) < (job.eta.late or 0) == job.at_ms


def test_a_window_that_closes_outranks_the_wood_and_that_is_said() -> None:
    status, job, alert = answers(piece("waterborne", [COAT_H, NOW_H - 10.0], planned=6))
    assert alert.next_action.startswith("The recoat window closes and outranks the wood: lay the")
    assert status.next_action == f"Lay the next coat. {alert.next_action}"
    assert (job.group, job.job, job.action) == (Group.DUE, "next coat", status.next_action)
    assert status.window is not None
    assert status.next_at == status.window.closes_at
    missed = answers(piece("waterborne", [COAT_H], planned=6))[0]
    assert missed.next_action.startswith("Wait with coats")
    last = answers(piece("waterborne", [COAT_H, NOW_H - 10.0], planned=2))[0]
    assert last.next_action.startswith("Wait with coats")


def test_before_the_first_coat_the_wood_is_the_next_thing_to_wait_for() -> None:
    bare = piece("waterborne", [], stays=[Stay("loft", at_h(COAT_H))])
    status, job, alert = answers(bare)
    assert status.next_action == (
        f"{alert.next_action} By the film alone: Log the first one: curewatch coat B12"
    )
    assert job.action == status.next_action


def test_the_watch_tells_it_when_a_plain_model_that_always_looks_does() -> None:
    """Two pieces, one moved; the record comes in batches, once with a silence of four days."""
    hours = every(20.0, 60 * 24.0)
    rh = np.interp(hours, [0, 500, 620, 800, 1200, 1300], [0.6, 0.6, 0.35, 0.35, 0.5, 0.62])
    keep = (hours < 900) | (hours > 996)
    loft = readings(hours[keep], 20.0, rh[keep])
    shed = readings(hours, 16.0, np.full(hours.size, 0.7), sensor="touch")
    stays = [Stay("loft", at_h(560.0), at_h(1010.3)), Stay("shed", at_h(1010.3))]
    hung = [
        piece("dose-cured", [600.2, 648.0], planned=3),
        piece("dose-cured", [590.0], tag="N1", stays=stays),
        piece("waterborne", [], tag="E1", stays=[Stay("loft", at_h(560.0))]),
    ]
    shop = shop_of(
        {"loft": {}, "shed": {}},
        finishes=[finish("waterborne"), finish("dose-cured")],
        pieces=hung,
    )
    fast, slow = Watch(shop), PlainWatch(shop)
    raised = set()
    for now_h in np.arange(570.0, 1400.0, 1.5):
        if now_h % 9 == 0:
            for room, whole in (("loft", loft), ("shed", shed)):
                known = {
                    k: (t[t <= at_h(now_h)], v[t <= at_h(now_h)]) for k, (t, v) in whole.items()
                }
                shop.book.drop(room)
                shop.book.splice(room, merge(known, first_minute=T0_MINUTE, longest_gap_s=1800.0))
        ours, plain = fast.step(at_h(now_h)), slow.step(at_h(now_h))
        wood = [(a.subject, a.phase, a.reason) for a in ours if a.kind is KEY[0]]
        assert wood == [(a.subject, a.phase, a.reason) for a in plain if a.kind is KEY[0]]
        raised |= {(subject, phase) for subject, phase, _ in wood}
    tags = {subject for subject, phase in raised if phase is AlertPhase.RAISED}
    assert tags == {"piece:B12", "piece:N1", "piece:E1"}
    assert AlertPhase.CLEARED in {phase for _, phase in raised}
