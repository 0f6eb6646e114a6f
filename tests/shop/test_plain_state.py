from __future__ import annotations

from dataclasses import replace

import pytest

from curewatch.shop.ahead import Eta
from curewatch.shop.assessment import Assessment, PieceNow, RoomNow, assess
from curewatch.shop.finish import MilestoneName
from curewatch.shop.piece import WorkKind
from curewatch.shop.plain_state import piece_state, room_state
from curewatch.shop.spray import Verdict
from tests.shop.scene import at_h, every, finish, piece, readings, shop_of

NOW_MS = at_h(20.0)


def shop_now(surface_c: float = 19.0) -> Assessment:
    hung = [
        piece("waterborne", [0.0, 0.3], work=[(WorkKind.LEVEL, 9.0)]),
        piece("waterborne", [], tag="E1"),
    ]
    record = readings(every(10, 24), 21.0, 0.5, surface_c=surface_c)
    return assess(
        shop_of({"loft": record, "cellar": {}}, finishes=[finish("waterborne")], pieces=hung),
        NOW_MS,
    )


def loft(surface_c: float = 19.0) -> RoomNow:
    return shop_now(surface_c).rooms[0]


def coated() -> PieceNow:
    return shop_now().pieces[0]


def test_a_room_says_what_its_assessment_says() -> None:
    room = loft()
    state = room_state(room, NOW_MS)
    assert (state.at_ms, state.kind, state.name) == (NOW_MS, "room", "loft")
    assert room.climate is not None
    assert state.facts["temperature_c"] == room.climate.temp_c
    assert state.facts["humidity_frac"] == room.climate.rh_frac
    assert state.facts["surface_temperature_c"] == 19.0
    assert state.facts["surface_over_dew_k"] == pytest.approx(room.surface_over_dew_k, abs=1e-6)
    (answer,) = room.sprays
    dew = next(limit for limit in answer.now.limits if limit.name == "surface-over-dew-point")
    (told,) = [state.facts["spray"]]
    assert isinstance(told, dict)
    assert told.keys() == {"waterborne"}
    one = told["waterborne"]
    assert isinstance(one, dict)
    assert one["verdict"] == answer.verdict.value
    assert one["dew_margin_k"] == pytest.approx(dew.margin, abs=1e-6)
    assert ("binding" in one) == (answer.binding is not None)


def test_a_stale_room_has_no_climate_and_cannot_be_told() -> None:
    state = room_state(shop_now().rooms[1], NOW_MS)
    spray = state.facts.pop("spray")
    assert state.facts == {"fresh": False, "coverage_24h_frac": 0.0}
    assert isinstance(spray, dict)
    (one,) = spray.values()
    assert isinstance(one, dict)
    assert (one["verdict"], one["caution"]) == ("unknown", 2)
    assert "dew_margin_k" not in one
    assert "binding" in one


def test_a_room_that_is_fit_has_no_limit_that_binds() -> None:
    (one,) = [each.now for each in loft(surface_c=22.0).sprays if each.verdict is Verdict.FIT]
    told = room_state(loft(surface_c=22.0), NOW_MS).facts["spray"]
    assert isinstance(told, dict)
    facts = told[one.finish]
    assert isinstance(facts, dict)
    assert (facts["verdict"], facts["caution"]) == ("fit", 0)
    assert "binding" not in facts


def test_a_piece_says_what_its_assessment_says() -> None:
    now = coated()
    facts = piece_state(now, NOW_MS).facts
    for clock, reading in now.clocks.items():
        hours = facts[f"{clock.value}_h"]
        assert hours == pytest.approx(reading.effective_hours, abs=1e-6)
    assert now.window is not None
    assert facts["window"] == now.window.state.value
    told = [stone for stone in now.milestones if stone.required_hours is not None]
    assert told
    for stone in told:
        name = stone.name.value.replace("-", "_")
        assert facts[f"{name}_reached"] == (stone.cautious_at is not None)
        assert facts.get(f"{name}_reached_ms") == stone.cautious_at
        assert facts.get(f"{name}_likely_ms") == stone.eta_at
    assert any(key.endswith("_late_ms") for key in facts)


def test_what_cannot_be_told_has_no_fact() -> None:
    now = coated()
    untold = next(stone for stone in now.milestones if stone.name is MilestoneName.BUFF)
    stones = (replace(untold, required_hours=None), replace(untold, eta=Eta(None, 5, None)))
    facts = piece_state(replace(now, milestones=stones), NOW_MS).facts
    assert "buff_early_ms" not in facts
    assert facts["buff_likely_ms"] == 5


def test_a_piece_without_a_coat_has_no_clocks() -> None:
    facts = piece_state(shop_now().pieces[1], NOW_MS).facts
    assert facts["coats"] == 0
    assert not any(key.endswith("_h") for key in facts)
    assert "window" not in facts


def test_figures_are_no_part_of_what_is_said() -> None:
    room, now = loft(), coated()
    assert room.climate is not None
    warmer = replace(room, climate=replace(room.climate, temp_c=21.3), surface_over_dew_k=8.0)
    assert room_state(room, NOW_MS).said == room_state(warmer, NOW_MS + 1).said
    assert room_state(room, NOW_MS).said != room_state(loft(surface_c=8.0), NOW_MS).said
    later = replace(now, next_at=5, coverage_pct=3.0)
    assert piece_state(now, NOW_MS).said == piece_state(later, NOW_MS).said
    assert piece_state(now, NOW_MS).said != piece_state(replace(now, wet=not now.wet), 0).said
