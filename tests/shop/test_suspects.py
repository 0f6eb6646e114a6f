"""Why did it go white: suspects from records made by hand, each with one thing wrong."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.shop.piece import Coat, Stay
from curewatch.shop.suspects import Suspects, suspects
from curewatch.shop.traces import ORDER, Suspect, Weight
from curewatch.shop.words import Words
from tests.shop.scene import T0_MS, at_h, every, finish, piece, readings, shop_of, steady

if TYPE_CHECKING:
    from curewatch.shop.climate import Series
    from curewatch.shop.piece import Piece
    from curewatch.shop.reading import Quantity
    from curewatch.shop.shop import Shop

    Record = dict[tuple[str, Quantity], Series]

LAID_H = 12.0


def white(
    record: Record, name: str = "nitro-lacquer", *, coats: tuple[float | Coat, ...] = (LAID_H,)
) -> Suspects:
    return asked(record, piece(name, coats))


def asked(record: Record, hung: Piece, *, coat: int | None = None, now_h: float = 40.0) -> Suspects:
    return suspects(shop_with(record, hung), hung, coat, at_h(now_h))


def shop_with(record: Record, hung: Piece) -> Shop:
    return shop_of({"loft": record}, finishes=[finish(hung.finish)], pieces=[hung])


def the(found: Suspects, name: str) -> Suspect:
    return next(one for one in found.found if one.name == name)


def spell(start_h: float, stop_h: float, temp_c: float, rh_frac: float) -> Record:
    """Return two good days (24 degC, 45 %) with one spell of other air in them."""
    hours = every(5, 48)
    inside = (hours >= start_h) & (hours <= stop_h)
    return readings(hours, np.where(inside, temp_c, 24.0), np.where(inside, rh_frac, 0.45))


# ---- what is accused


@pytest.mark.parametrize("name", ["nitro-lacquer", "shellac", "waterborne", "two-part-urethane"])
def test_in_good_air_the_record_looks_clean_and_the_unseen_is_named(name: str) -> None:
    found = white(steady(2.0, 22.0, 0.45), name)
    assert {one.weight for one in found.found} == {Weight.CLEAN}
    assert found.sentence.startswith("The record looks clean")
    assert "what no logger sees" in found.sentence
    assert found.coverage_pct == 100.0
    text = " ".join(found.not_seen)
    for cause in ("air line", "wet wood", "dye or stain"):
        assert cause in text
    assert ("solvent balance" in text) is (name in ("nitro-lacquer", "shellac"))


def test_damp_air_while_a_lacquer_flashes_points_at_blush_first() -> None:
    found = white(spell(LAID_H - 0.5, LAID_H + 0.5, 24.0, 0.93))
    assert found.found[0].name == "blush"
    first = found.found[0]
    assert first.weight is Weight.STRONG
    assert first.value is not None
    assert first.value < 0.0
    assert f"{-first.value:.1f} K below the dew point" in first.reason
    assert "most of all at blush" in found.sentence
    assert "no diagnosis" in found.sentence


def test_damp_air_hours_later_is_not_blush() -> None:
    found = white(spell(LAID_H + 3.0, LAID_H + 5.0, 24.0, 0.9))
    assert the(found, "blush").weight is Weight.CLEAN
    assert the(found, "damp").weight is Weight.STRONG
    assert "2.0 h of it at 80 % or more" in the(found, "damp").reason


def test_what_lies_outside_the_window_accuses_nobody() -> None:
    for start_h, stop_h in ((LAID_H - 4.0, LAID_H - 0.7), (LAID_H + 10.2, LAID_H + 20.0)):
        found = white(spell(start_h, stop_h, 10.0, 0.97))
        assert {one.weight for one in found.found} == {Weight.CLEAN}
    for start_h, stop_h in ((LAID_H - 0.4, LAID_H - 0.2), (LAID_H + 9.0, LAID_H + 9.5)):
        assert the(white(spell(start_h, stop_h, 24.0, 0.97)), "dew").weight is Weight.STRONG


def test_a_cold_night_over_a_wet_waterborne_points_at_the_film() -> None:
    found = white(spell(LAID_H - 1.0, LAID_H + 8.0, 8.0, 0.5), "waterborne")
    film = the(found, "cold-film")
    assert film.weight is Weight.STRONG
    assert film.value is not None
    assert film.value < 8.0
    assert "the wet film cooled itself to" in film.reason
    assert the(found, "cold").weight is Weight.STRONG
    dry = white(spell(LAID_H + 8.0, LAID_H + 9.0, 8.0, 0.5), "waterborne")
    assert the(dry, "cold-film").weight is Weight.CLEAN  # it had formed by then
    assert "blush" not in {one.name for one in found.found}


def test_cold_alone_is_no_strong_suspect_for_a_solvent_film() -> None:
    found = white(steady(2.0, 8.0, 0.3))
    assert the(found, "cold").weight is Weight.SLIGHT
    assert found.sentence.startswith("Nothing in the record speaks strongly; cold may have a part")


def test_a_coat_over_a_wet_one_is_a_suspect_for_both() -> None:
    hung = piece("waterborne", [LAID_H, LAID_H + 0.3, LAID_H + 20.0])
    for number, weight in ((1, Weight.STRONG), (2, Weight.STRONG), (3, Weight.CLEAN)):
        found = asked(steady(2.0, 22.0, 0.45), hung, coat=number)
        assert the(found, "coat-early").weight is weight
    assert "can trap haze" in the(asked(steady(2.0), hung, coat=1), "coat-early").reason


def test_a_cold_piece_is_judged_by_its_own_sensor_and_the_unmeasured_one_is_named() -> None:
    cold = readings(every(5, 48), 22.0, 0.6, surface_c=15.0)
    found = white(cold, "waterborne")
    assert the(found, "dew").weight is Weight.STRONG
    assert "the surface came as near as" in the(found, "dew").reason
    assert not [one for one in found.not_seen if "the piece itself" in one]
    bare = white(steady(2.0, 22.0, 0.6), "waterborne")
    assert "the piece was not measured" in the(bare, "dew").reason
    assert [one for one in bare.not_seen if "the piece itself" in one]


def test_edges_alone_are_a_slight_suspect() -> None:
    found = the(white(steady(2.0, 23.0, 0.57), "shellac"), "blush")
    assert found.value is not None
    assert found.value > 3.0
    assert found.weight is Weight.SLIGHT
    assert "edges would take up" in found.reason


def test_a_coat_s_own_thickness_counts_where_it_was_logged() -> None:
    thin, thick = (
        white(steady(2.0, 24.0, 0.7), coats=(Coat(at_h(LAID_H), wet_um=um),))
        for um in (60.0, 300.0)
    )
    assert the(thin, "blush").value != the(thick, "blush").value
    assert not [one for one in thin.not_seen if "how thick" in one]


# ---- what is not known


def test_without_any_reading_nothing_is_accused_and_nothing_cleared() -> None:
    found = white(readings(every(5, 6), 22.0, 0.5))
    assert found.coverage_pct == 0.0
    assert found.sentence.startswith("Nothing was measured around this coat")
    weights = {one.name: one.weight for one in found.found}
    assert weights.pop("coat-early") is Weight.CLEAN
    assert set(weights.values()) == {Weight.UNKNOWN}


def test_a_piece_in_no_room_is_not_known_either() -> None:
    hung = piece("waterborne", [LAID_H], stays=[])
    found = asked(steady(2.0), hung)
    assert (found.rooms, found.coverage_pct) == ((), 0.0)


def test_without_humidity_only_temperature_is_judged() -> None:
    for name, first in (("nitro-lacquer", "blush"), ("waterborne", "cold-film")):
        found = white(steady(2.0, 22.0, None), name)
        for kind in (first, "dew", "damp"):
            assert the(found, kind).weight is Weight.UNKNOWN
        assert the(found, "cold").weight is Weight.CLEAN
        assert found.sentence == "What is recorded looks clean, but not all of it is recorded."


def test_a_gap_is_told_and_above_all_one_in_the_first_half_hour() -> None:
    hours = every(5, 48)
    early = hours[(hours < LAID_H - 0.2) | (hours > LAID_H + 1.0)]
    late = hours[(hours < LAID_H + 4.0) | (hours > LAID_H + 6.0)]
    first = white(readings(early, 22.0, 0.45))
    assert the(first, "gap").weight is Weight.UNKNOWN
    assert the(first, "blush").weight is Weight.UNKNOWN
    assert "the first half-hour after the coat" in the(first, "gap").reason
    second = white(readings(late, 22.0, 0.45))
    assert "the first half-hour" not in the(second, "gap").reason
    assert "2.2 h of it is not recorded" in the(second, "gap").reason
    assert second.coverage_pct == pytest.approx(100.0 - 100.0 * 13 / 63, abs=0.5)


def test_a_finish_without_a_film_forming_figure_says_that_it_is_missing() -> None:
    of = finish("waterborne")
    hung = piece("waterborne", [LAID_H])
    shop = shop_with(steady(2.0), hung)
    shop.finishes["waterborne", 1] = replace(of, limits=replace(of.limits, film_forming_c=None))
    found = suspects(shop, hung, None, at_h(40.0))
    assert "film-forming temperature was not recorded" in the(found, "cold-film").reason


# ---- which coat, and where


def test_the_last_coat_is_meant_where_none_is_named() -> None:
    hung = piece("waterborne", [LAID_H, LAID_H + 5.0])
    assert asked(steady(2.0), hung).coat == 2
    assert asked(steady(2.0), hung, coat=1).coat_at_ms == at_h(LAID_H)
    assert asked(steady(2.0), hung, now_h=LAID_H + 1.0).coat == 1


@pytest.mark.parametrize("number", [0, 2, -1])
def test_a_coat_that_is_not_there_is_refused(number: int) -> None:
    with pytest.raises(BadInput, match=f"has no coat {number}: give 1 to 1"):
        asked(steady(2.0), piece("waterborne", [LAID_H]), coat=number)


def test_a_piece_without_coats_is_refused_with_a_way_out() -> None:
    with pytest.raises(BadInput, match="curewatch coat B12"):
        asked(steady(2.0), piece("waterborne", []))


def test_the_window_ends_now_while_the_ten_hours_still_run() -> None:
    found = asked(steady(2.0), piece("waterborne", [LAID_H]), now_h=LAID_H + 2.0)
    assert found.stop_ms == at_h(LAID_H + 2.0)
    assert found.coverage_pct == 100.0


def test_a_piece_that_moved_is_followed_from_room_to_room() -> None:
    stays = [Stay("booth", T0_MS, at_h(LAID_H + 2.0)), Stay("loft", at_h(LAID_H + 2.0))]
    hung = piece("waterborne", [LAID_H], stays=stays)
    shop = shop_of(
        {"booth": steady(2.0, 22.0, 0.45), "loft": steady(2.0, 9.0, 0.9)},
        finishes=[finish("waterborne")],
        pieces=[hung],
    )
    found = suspects(shop, hung, None, at_h(40.0))
    assert found.rooms == ("booth", "loft")
    assert the(found, "cold").value == pytest.approx(9.0)
    stayed = replace(hung, stays=(Stay("booth", T0_MS),))
    shop.pieces = {stayed.tag: stayed}
    assert the(suspects(shop, stayed, None, at_h(40.0)), "cold").weight is Weight.CLEAN


# ---- order


@settings(max_examples=15)
@given(
    name=st.sampled_from(["nitro-lacquer", "waterborne", "oil-varnish"]),
    temp=st.floats(5.0, 30.0),
    rh=st.floats(0.2, 0.9),
    more=st.floats(0.0, 0.5),
)
def test_more_humidity_never_clears_a_suspect_and_the_heaviest_come_first(
    name: str, temp: float, rh: float, more: float
) -> None:
    """The wet film is left out: damper air warms it; and so is what humidity does not touch."""
    dry, damp = (white(steady(2.0, temp, min(one, 1.0)), name) for one in (rh, rh + more))
    for kind in {"blush", "dew", "damp"} & {one.name for one in dry.found}:
        assert ORDER[the(damp, kind).weight] <= ORDER[the(dry, kind).weight]
    for found in (dry, damp):
        weights = [ORDER[one.weight] for one in found.found]
        assert weights == sorted(weights)


def test_units_are_the_shop_s_in_every_line() -> None:
    hung = piece("nitro-lacquer", [LAID_H])
    shop = shop_with(steady(2.0, 15.0, 0.9), hung)
    shop.words = Words(imperial=True)
    found = suspects(shop, hung, None, at_h(40.0))
    assert "°F" in the(found, "blush").reason
    assert not [one for one in found.found if "°C" in one.reason or " K " in one.reason]


def test_suspects_are_handed_out_by_weight_in_their_order() -> None:
    found = white(spell(LAID_H - 0.5, LAID_H + 0.5, 24.0, 0.93))
    strong = found.of(Weight.STRONG)
    assert strong[0].name == "blush"
    assert {one.weight for one in strong} == {Weight.STRONG}
    assert found.of(Weight.STRONG, Weight.SLIGHT, Weight.UNKNOWN, Weight.CLEAN) == found.found
    assert found.of() == ()
