from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.climate import MINUTE_MS, merge
from curewatch.shop.finish import MilestoneName
from curewatch.shop.piece import Stay, WorkKind
from curewatch.shop.reading import Urgency
from curewatch.shop.room_plan import RoomPlan
from curewatch.shop.watch import Watch, owner
from curewatch.shop.words import Words
from tests.shop.scene import (
    HOUR_MS,
    T0_MINUTE,
    T0_MS,
    at_h,
    block,
    every,
    finish,
    piece,
    readings,
    shop_of,
    steady,
)

if TYPE_CHECKING:
    from curewatch.shop.piece import Piece
    from curewatch.shop.shop import Shop

K, P = AlertKind, AlertPhase


def shop_with(*pieces: Piece, days: float = 20.0, temp_c: float = 21.0) -> Shop:
    finishes = [finish(name) for name in ("waterborne", "two-part-urethane", "nitro-lacquer")]
    shop = shop_of({"loft": steady(days, temp_c)}, finishes=finishes, pieces=pieces)
    shop.heard_ms["rack"] = np.arange(T0_MS, at_h(days * 24) + 1, 10 * MINUTE_MS)
    return shop


def run(watch: Watch, start_h: float, stop_h: float, step_min: int = 5) -> list[tuple[float, K, P]]:
    told = []
    for now_ms in range(at_h(start_h), at_h(stop_h), step_min * MINUTE_MS):
        told += [
            ((now_ms - T0_MS) / HOUR_MS, alert.kind, alert.phase) for alert in watch.step(now_ms)
        ]
    return told


def test_a_piece_s_window_and_milestones_are_told_as_they_come() -> None:
    watch = Watch(shop_with(piece("two-part-urethane", planned=2)))
    told = run(watch, 0.0, 90.0)
    assert [(kind, phase) for _, kind, phase in told] == [
        (K.RECOAT_OPEN, P.RAISED),
        (K.RECOAT_CLOSING, P.RAISED),
        (K.RECOAT_OPEN, P.CLEARED),
        (K.RECOAT_MISSED, P.RAISED),
        (K.RECOAT_CLOSING, P.CLEARED),
    ]
    assert told[0][0] == pytest.approx(0.95, abs=0.1)
    assert told[3][0] == pytest.approx(3.95, abs=0.1)
    assert {alert.kind for alert in watch.alerts()} == {K.RECOAT_MISSED}  # a coat is planned


def test_a_piece_is_looked_at_far_less_often_than_every_minute() -> None:
    watch = Watch(shop_with(piece("waterborne", [0.0, 2.0, 4.0], planned=3)))
    looks = 0
    for now_ms in range(T0_MS, at_h(20 * 24), MINUTE_MS):
        watch.looked = set()
        watch.step(now_ms)
        looks += len(watch.looked)
    assert looks < 20 * 24 * 60 / 30


def test_what_a_person_enters_is_looked_at_with_the_next_step() -> None:
    hung = piece("two-part-urethane", planned=2)
    shop = shop_with(hung)
    watch = Watch(shop)
    run(watch, 0.0, 6.0)
    assert {alert.kind for alert in watch.alerts()} == {K.RECOAT_MISSED}
    shop.pieces["B12"] = replace(hung, work=piece("", work=[(WorkKind.SCUFF, 5.9)]).work)
    watch.piece_changed("B12")
    assert [(a.kind, a.phase) for a in watch.step(at_h(6.0))] == [
        (K.RECOAT_OPEN, P.RAISED),
        (K.RECOAT_MISSED, P.CLEARED),
    ]
    watch.piece_changed("nobody's")
    assert watch.step(at_h(6.1)) == []


def test_a_corrected_past_is_looked_at_in_every_room_the_piece_was_in() -> None:
    stays = [Stay("loft", T0_MS, at_h(30.0)), Stay("oven", at_h(30.0))]
    hung = piece("waterborne", [0.0], stays=stays, planned=1)
    shop = shop_with(hung)
    shop.book.splice("oven", block(steady(20.0)))
    watch = Watch(shop)
    run(watch, 0.0, 50.0, 30)
    warm = readings(every(10, 480), np.where(every(10, 480) < 29.0, 31.0, 21.0), 0.5)
    shop.book.splice("loft", block(warm))
    watch.room_rewritten("loft")
    watch.looked = set()
    assert [alert.kind for alert in watch.step(at_h(50.0))] == [K.READY_WET_SAND]
    assert watch.looked == {"B12"}
    watch.looked = set()
    watch.room_rewritten("cellar")
    watch.step(at_h(50.1))
    assert watch.looked == set()


def test_the_far_side_of_a_forbidden_middle_opens_to_a_scuffed_film_at_its_minute() -> None:
    hung = piece("acid-cure", planned=2, work=[(WorkKind.SCUFF, 20.0)])
    shop = shop_with(hung)
    shop.finishes["acid-cure", 1] = finish("acid-cure")
    told = run(Watch(shop), 2.5, 80.0)
    assert [(kind, phase) for _, kind, phase in told] == [
        (K.RECOAT_MISSED, P.RAISED),
        (K.RECOAT_OPEN, P.RAISED),
        (K.RECOAT_MISSED, P.CLEARED),
    ]
    assert told[1][0] == pytest.approx(24.8, abs=0.5)


def test_a_film_cured_by_dose_is_watched_without_a_word() -> None:
    shop = shop_with(piece("dose-cured", planned=2))
    shop.finishes["dose-cured", 1] = finish("dose-cured")
    watch = Watch(shop)
    assert run(watch, 0.0, 30.0) == []
    assert watch.pieces_now["B12"].coats == 1


def test_pieces_that_come_and_go_are_noticed() -> None:
    hung = piece("two-part-urethane", planned=2)
    shop = shop_with()
    watch = Watch(shop)
    assert watch.step(at_h(1.0)) == []
    shop.pieces["B12"] = hung
    watch.pieces_changed()
    assert [alert.kind for alert in watch.step(at_h(2.0))] == [K.RECOAT_OPEN]
    assert set(watch.pieces_now) == {"B12"}
    del shop.pieces["B12"]
    watch.pieces_changed()
    assert watch.pieces_now == {}
    assert [(a.kind, a.phase) for a in watch.step(at_h(2.1))] == [(K.RECOAT_OPEN, P.CLEARED)]
    assert watch.step(at_h(2.2)) == []


def test_a_piece_that_has_left_the_shop_says_nothing_more() -> None:
    hung = replace(piece("two-part-urethane", planned=2), left_ms=at_h(3.0))
    watch = Watch(shop_with(hung))
    told = run(watch, 0.0, 90.0)
    assert [(kind, phase) for _, kind, phase in told] == [
        (K.RECOAT_OPEN, P.RAISED),
        (K.RECOAT_OPEN, P.CLEARED),
    ]
    assert told[1][0] == 3.0


def test_a_room_s_wet_work_is_told_after_its_hold_time_and_cleared_when_dry() -> None:
    hours = every(10, 48)
    shop = shop_with(piece("waterborne", planned=1))
    shop.book.splice("loft", block(readings(hours, np.where(hours < 5.0, 17.0, 21.0), 0.5)))
    told = run(Watch(shop), 0.0, 8.0)
    room = [(h, phase) for h, kind, phase in told if kind is K.WET_WORK_CLIMATE]
    assert [phase for _, phase in room] == [P.WATCHING, P.RAISED, P.CLEARED]
    assert room[1][0] - room[0][0] == pytest.approx(10 / 60)
    assert 2.0 < room[2][0] < 4.0


def test_a_silent_sensor_is_told_and_cleared_when_it_speaks() -> None:
    shop = shop_with()
    shop.heard_ms["rack"] = np.array([T0_MS, at_h(5.0)], dtype=np.int64)
    watch = Watch(shop)
    told = [(kind, phase) for _, kind, phase in run(watch, 0.0, 5.2)]
    assert told == [(K.SENSOR_SILENT, P.RAISED), (K.SENSOR_SILENT, P.CLEARED)]


# ---- alerts that people or storage have moved


def told_alert(kind: K, subject: str, phase: P, **changes: int) -> Alert:
    made = Alert(kind, subject, Urgency.TODAY, phase, at_h(1.0), "as it was", "as said")
    return replace(made, **changes)  # type: ignore[arg-type]


def test_a_watch_goes_on_from_the_alerts_it_is_given() -> None:
    hung = piece("two-part-urethane", planned=2)
    raised = told_alert(K.RECOAT_OPEN, "piece:B12", P.RAISED, raised_ms=at_h(1.0))
    watch = Watch(shop_with(hung), [raised])
    assert watch.step(at_h(2.0)) == []
    assert watch.alerts() == [raised]


def test_an_alert_about_something_no_longer_there_is_cleared() -> None:
    left = told_alert(K.RECOAT_OPEN, "piece:Z9", P.RAISED, raised_ms=at_h(1.0))
    watch = Watch(shop_with(), [left])
    assert [(a.subject, a.phase) for a in watch.step(at_h(2.0))] == [("piece:Z9", P.CLEARED)]
    assert watch.alerts() == []


def test_a_seen_alert_is_not_told_again() -> None:
    watch = Watch(shop_with(piece("two-part-urethane", planned=2)))
    run(watch, 0.0, 2.0)
    (alert,) = watch.alerts()
    watch.note(replace(alert, phase=P.SEEN, seen_ms=at_h(2.0)))
    assert run(watch, 2.0, 2.9) == []
    assert [a.phase for a in watch.alerts()] == [P.SEEN]


def test_a_resting_alert_of_a_piece_speaks_again_at_the_minute() -> None:
    watch = Watch(shop_with(piece("waterborne", planned=2)))
    run(watch, 0.0, 2.0)
    (alert,) = watch.alerts()
    watch.note(replace(alert, phase=P.RESTING, rest_until_ms=at_h(4.0)))
    assert run(watch, 2.0, 6.0, 1) == [(4.0, K.RECOAT_OPEN, P.RAISED)]


def test_a_watch_takes_alerts_in_anew_when_people_moved_them() -> None:
    watch = Watch(shop_with(piece("waterborne", planned=2)))
    run(watch, 0.0, 2.0)
    (alert,) = watch.alerts()
    watch.replace_alerts([replace(alert, phase=P.SEEN)])
    assert [a.phase for a in watch.alerts()] == [P.SEEN]
    watch.replace_alerts([])
    assert watch.alerts() == []


def test_a_subject_belongs_to_what_stands_before_its_mark() -> None:
    assert owner("piece:B12#coat-7") == "piece:B12"
    assert owner("room:loft") == "room:loft"


# ---- rooms that come late


def test_a_window_called_missed_in_a_silence_is_open_again_when_cooler_readings_come() -> None:
    """The last known warmth goes on in a silence, so a limit may be called too soon, never late."""
    hours = every(20, 24)
    whole = readings(hours, np.where(hours < 1.2, 30.0, 14.0), 0.5)
    early = {key: (t[t <= at_h(1.0)], v[t <= at_h(1.0)]) for key, (t, v) in whole.items()}
    shop = shop_with(piece("two-part-urethane", planned=2))
    shop.book.drop("loft")
    shop.book.splice("loft", block(early))
    watch = Watch(shop)
    run(watch, 0.0, 2.6, 1)
    assert {alert.kind for alert in watch.alerts()} == {K.RECOAT_MISSED}
    shop.book.splice("loft", block(whole, first_minute=T0_MINUTE + 60))
    assert (K.RECOAT_MISSED, P.CLEARED) in {(a.kind, a.phase) for a in watch.step(at_h(2.6))}


def test_a_room_s_first_readings_bring_its_pieces_to_life() -> None:
    shop = shop_with(piece("waterborne", room="cellar", planned=2))
    shop.rooms["cellar"] = replace(shop.rooms["loft"], name="cellar")
    watch = Watch(shop)
    assert run(watch, 0.0, 2.0) == []
    shop.book.splice("cellar", block(steady(20.0)))
    assert [alert.kind for alert in watch.step(at_h(2.0))] == [K.RECOAT_OPEN]


def test_the_record_of_a_room_a_piece_has_left_still_counts_when_it_comes() -> None:
    """The loft's readings arrive hours late: what the piece earned there was not known."""
    stays = [Stay("loft", T0_MS, at_h(2.0)), Stay("oven", at_h(2.0))]
    hung = piece("waterborne", [0.0], stays=stays, planned=2)
    shop = shop_with()
    shop.pieces["B12"] = hung
    shop.rooms["oven"] = replace(shop.rooms["loft"], name="oven")
    loft = steady(20.0)
    early = {key: (t[t <= at_h(0.5)], v[t <= at_h(0.5)]) for key, (t, v) in loft.items()}
    shop.book.drop("loft")
    shop.book.splice("loft", block(early))
    shop.book.splice("oven", block(readings(every(10, 480), 21.0, 1.0)))
    watch = Watch(shop)
    assert K.RECOAT_OPEN not in {kind for _, kind, _ in run(watch, 0.0, 5.0)}
    late = merge(loft, first_minute=T0_MINUTE + 30, longest_gap_s=1800.0)
    shop.book.splice("loft", late)
    assert K.RECOAT_OPEN in {alert.kind for alert in watch.step(at_h(5.0))}


def test_what_is_planned_for_a_room_is_looked_at_with_the_next_step() -> None:
    shop = shop_with(piece("waterborne", planned=1))
    watch = Watch(shop)
    watch.step(at_h(30.0))
    warm = RoomPlan("loft", at_h(31.0), temp_c=30.0)
    attic: dict[str, tuple[RoomPlan, ...]] = {"attic": (warm,)}
    loft: dict[str, tuple[RoomPlan, ...]] = {"loft": (warm,)}
    for plans, told in ((loft, 1), (attic, 1), ({}, 0), (loft, 1)):
        watch.looked = set()
        shop.plans = plans
        watch.step(at_h(30.0))
        assert len(watch.looked) == told
        stone = watch.pieces_now["B12"].milestone(MilestoneName.BUFF)
        assert stone is not None
        assert stone.planned == ("loft" in plans)
    watch.looked = set()
    shop.plans = {**shop.plans, **attic}
    watch.step(at_h(30.0))
    assert watch.looked == set()


def test_soon_after_the_shop_s_day_has_turned_every_piece_is_looked_at() -> None:
    """Sentences speak of today and tomorrow: what is published must not stay there for hours."""
    tags = [f"B{n}" for n in range(12)]
    shop = shop_with(*(piece("waterborne", tag=tag, planned=1) for tag in tags))
    shop.words = Words(zone=ZoneInfo("Asia/Kolkata"))  # its day turns at 18:30 UTC
    watch = Watch(shop)
    for now_ms in range(at_h(40.0), at_h(42.5), 5 * MINUTE_MS):
        watch.step(now_ms)
    watch.looked = set()
    for now_ms in range(at_h(42.5), at_h(42.5) + 10 * MINUTE_MS, MINUTE_MS):
        watch.step(now_ms)
    assert watch.looked == set(tags)
