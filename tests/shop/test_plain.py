from __future__ import annotations

import json
from dataclasses import replace

import numpy as np

from curewatch.shop.ahead import Eta
from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.assessment import assess
from curewatch.shop.piece import WorkKind
from curewatch.shop.plain import FORMAT, alert_plain, assessment_plain, eta_plain, instant
from curewatch.shop.reading import Quantity, Reading, RejectReason, Urgency
from curewatch.shop.shop import Refusals, Shop
from tests.shop.scene import T0_MS, at_h, every, finish, piece, readings, shop_of


def busy_shop() -> Shop:
    record = readings(every(10, 24), 21.0, 0.5, surface_c=19.0)
    hung = [
        piece("waterborne", [0.0, 0.3], work=[(WorkKind.LEVEL, 9.0)]),
        piece("dose-cured", [0.0], tag="D1"),
        piece("waterborne", [], tag="E1"),
    ]
    shop = shop_of(
        {"loft": record, "cellar": {}},
        finishes=[finish("waterborne"), finish("dose-cured")],
        pieces=hung,
    )
    shop.heard_ms["rack"] = np.array([at_h(2.0)], dtype=np.int64)
    for quantity, value in ((Quantity.TEMPERATURE, 21.5), (Quantity.HUMIDITY, 0.45)):
        shop.heard["rack", quantity] = Reading("rack", quantity, at_h(2.0), value)
    shop.refusals["rack"] = (Refusals(RejectReason.DUPLICATE, 3, at_h(1.5), "twice"),)
    return shop


def test_instants_are_iso_8601_in_utc_with_milliseconds() -> None:
    assert instant(T0_MS) == "2023-11-15T00:00:00.000Z"
    assert instant(T0_MS + 61_007) == "2023-11-15T00:01:01.007Z"
    assert instant(None) is None


def test_an_expected_instant_has_one_shape_whether_it_is_told_or_not() -> None:
    nothing = {"early": None, "likely": None, "late": None}
    assert eta_plain(None) == eta_plain(Eta(None, None, None)) == nothing
    told = eta_plain(Eta(None, T0_MS, T0_MS + 1))
    assert told == {**nothing, "likely": instant(T0_MS), "late": instant(T0_MS + 1)}
    plain = json.loads(json.dumps(assessment_plain(assess(busy_shop(), at_h(20.0)))))
    for one in plain["pieces"]:
        assert all(set(stone["eta"]) == set(nothing) for stone in one["milestones"])


def test_the_whole_shop_is_plain_data_that_any_reader_of_json_takes() -> None:
    plain = assessment_plain(assess(busy_shop(), at_h(20.0)))
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain
    assert plain["format"] == FORMAT


def test_what_is_not_known_is_null_and_never_nought() -> None:
    plain = json.loads(json.dumps(assessment_plain(assess(busy_shop(), at_h(20.0)))))
    loft, cellar = plain["rooms"]
    assert loft["rh_pct"] == 50.0
    assert loft["sensors"][0]["rh_pct"] == 45.0
    assert loft["sensors"][0]["surface_c"] is None
    assert loft["sensors"][0]["rejected"][0]["count"] == 3
    assert [cellar[key] for key in ("climate_at", "temp_c", "rh_pct", "dew_point_c")] == [None] * 4
    coated, dose, bare = plain["pieces"]
    assert coated["clocks"]["cure"]["effective_hours"] > 16.0
    assert coated["clocks"]["wall"]["shares_h"] is None
    assert [deed["kind"] for deed in coated["deeds"]] == ["coat-early", "work-early"]
    assert coated["window"]["state"] == "open"
    assert {stone["required_hours"] for stone in dose["milestones"]} == {None}
    assert (bare["window"], bare["last_coat_at"], bare["milestones"]) == (None, None, [])


def test_a_spray_check_gives_every_reason_and_what_would_clear_it() -> None:
    shop = busy_shop()
    good = json.loads(json.dumps(assessment_plain(assess(shop, at_h(20.0)))))["rooms"][0]["spray"]
    assert [check["finish"] for check in good] == ["dose-cured", "waterborne"]
    assert good[1]["verdict"] == "fit"
    assert (good[1]["binding"], good[1]["reasons"]) == (None, [])
    unheard = json.loads(json.dumps(assessment_plain(assess(shop, at_h(20.0)))))["rooms"][1]
    assert unheard["spray"][1]["verdict"] == "unknown"
    assert "measure the air" in unheard["spray"][1]["what_would_clear_it"]


def test_an_alert_keeps_its_phase_and_its_instants() -> None:
    alert = Alert(
        AlertKind.GAP, "room:loft#gap-1", Urgency.NOTE, AlertPhase.RAISED, T0_MS, "why", "what"
    )
    plain = alert_plain(replace(alert, raised_ms=at_h(1.0), id=4))
    assert (plain["kind"], plain["phase"], plain["urgency"]) == ("gap", "raised", "note")
    assert plain["since"] == "2023-11-15T00:00:00.000Z"
    assert plain["raised_at"] == "2023-11-15T01:00:00.000Z"
    assert (plain["seen_at"], plain["rest_until"], plain["cleared_at"]) == (None, None, None)
