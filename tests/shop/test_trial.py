"""What is judged on a test board, and what cannot be a score."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.shop.trial import (
    PENCILS,
    Measure,
    Quality,
    Scale,
    Score,
    pencil_named,
    pencil_place,
)
from curewatch.shop.trial_sheets import SHEETS

GLOSS_60 = Measure(Quality.GLOSS, "GU", 60.0)


def test_a_scale_knows_which_end_is_worse() -> None:
    haze, gloss = Scale(10.0, 0.0, "0 clear, 10 fog"), Scale(0.0, 10.0, "0 flat, 10 mirror")
    assert haze.share(10.0) == 0.0
    assert haze.share(2.0) == pytest.approx(0.8)
    assert gloss.share(2.0) == pytest.approx(0.2)
    for scale in (haze, gloss):
        scale.check(0.0)
        scale.check(10.0)
        with pytest.raises(BadInput, match="off the scale: it goes from 0 to 10"):
            scale.check(10.5)


@pytest.mark.parametrize(
    ("worst", "best", "words", "why"),
    [
        (1.0, 1.0, "x", "give it a length"),
        (math.nan, 1.0, "x", "two numbers"),
        (0.0, math.inf, "x", "two numbers"),
        (0.0, 1.0, " ", "say what the figures mean"),
    ],
)
def test_a_scale_nobody_can_use_is_refused(worst: float, best: float, words: str, why: str) -> None:
    with pytest.raises(BadInput, match=why):
        Scale(worst, best, words)


def test_pencils_are_in_order_and_come_back_by_name() -> None:
    assert [pencil_named(pencil_place(name)) for name in PENCILS] == list(PENCILS)
    hard = [pencil_place(name) for name in ("6B", "B", "HB", "F", "H", "2H", "9H")]
    assert hard == sorted(hard)
    assert pencil_place("1h") == pencil_place("H")
    assert pencil_place(" 1B ") == pencil_place("B")
    assert pencil_named(pencil_place("H") + 0.5) == "H to 2H"
    with pytest.raises(BadInput, match="there is no pencil '10H'"):
        pencil_place("10H")


@pytest.mark.parametrize(
    ("quality", "unit", "angle", "why"),
    [
        (Quality.HAZE, "GU", 60.0, "has no unit here"),
        (Quality.HARDNESS, "rubs", None, "is measured in pencil"),
        (Quality.GLOSS, "GU", None, "need the meter's angle"),
        (Quality.GLOSS, "", 60.0, "need the meter's angle"),
        (Quality.GLOSS, "GU", 45.0, "20, 60 or 85 degrees"),
    ],
)
def test_units_belong_to_their_quality(
    quality: Quality, unit: str, angle: float | None, why: str
) -> None:
    with pytest.raises(BadInput, match=why):
        Measure(quality, unit, angle)


@pytest.mark.parametrize(
    ("measure", "value", "why"),
    [
        (GLOSS_60, 201.0, "cannot be read off a varnish"),
        (GLOSS_60, -1.0, "cannot be read off a varnish"),
        (Measure(Quality.RUBS, "rubs"), 2.5, "count whole ones"),
        (Measure(Quality.RUBS, "rubs"), -1.0, "count whole ones"),
        (Measure(Quality.MAR), math.nan, "a score is a number"),
    ],
)
def test_a_figure_that_cannot_be_is_refused(measure: Measure, value: float, why: str) -> None:
    with pytest.raises(BadInput, match=why):
        Score(measure, value, 0)


def test_a_measure_is_said_with_its_unit() -> None:
    assert GLOSS_60.words == "gloss, GU at 60 degrees"
    assert Measure(Quality.HAZE).words == "haze, the shop's scale"
    assert Measure(Quality.RUBS, "rubs").words == "rubs, rubs"
    assert GLOSS_60.value_words(82.5) == "82.5"
    assert Measure(Quality.HARDNESS, "pencil").value_words(9.0) == "2H"


def test_every_quality_has_its_sheet_marked_from_memory() -> None:
    assert set(SHEETS) == set(Quality)
    for sheet in SHEETS.values():
        assert len(sheet.steps) >= 3
        assert "from memory" in sheet.standards
        assert sheet.caution


@given(
    ends=st.tuples(st.floats(-100.0, 100.0), st.floats(-100.0, 100.0)).filter(
        lambda ends: abs(ends[0] - ends[1]) > 1e-3
    ),
    part=st.floats(0.0, 1.0),
)
def test_the_share_of_a_scale_runs_from_worst_to_best(
    ends: tuple[float, float], part: float
) -> None:
    scale = Scale(*ends, "x")
    value = ends[0] + part * (ends[1] - ends[0])
    assert scale.share(value) == pytest.approx(part, abs=1e-6)
