"""Figures that are typed: what cannot be, what was hardly meant, and what is insisted on."""

from __future__ import annotations

import math

import pytest

from curewatch.errors import BadInput
from curewatch.shop.typed import AIR, CABINET, HUMIDITY, PART, SURFACE, Sort, asked_back


@pytest.mark.parametrize(
    ("value", "sort"),
    [(45.0, AIR), (60.0, SURFACE), (60.0, CABINET), (0.0, HUMIDITY), (1.1, HUMIDITY), (5.0, PART)],
)
def test_a_likely_figure_is_taken(value: float, sort: Sort) -> None:
    assert asked_back(value, sort, option="--it") == value


def test_what_was_not_typed_is_not_asked_about() -> None:
    assert asked_back(None, AIR, option="--temp-c") is None


@pytest.mark.parametrize(
    ("value", "sort", "said"),
    [
        (68.0, AIR, "did you mean 68 degF (20.0 degC)? Give --it 20.0"),
        (61.0, SURFACE, "did you mean 61 degF"),
        (0.45, HUMIDITY, "drier than any shop: did you mean 45 %? Give percent, --it 45"),
        (0.5, PART, "less than any data sheet asks for: did you mean 50 %?"),
    ],
)
def test_a_figure_hardly_meant_is_asked_back(value: float, sort: Sort, said: str) -> None:
    with pytest.raises(BadInput) as caught:
        asked_back(value, sort, option="--it")
    assert said in str(caught.value)
    assert "--really" not in str(caught.value)  # where nobody can say so it is not offered
    with pytest.raises(BadInput, match="if it is meant so, add --really"):
        asked_back(value, sort, option="--it", really=False)
    assert asked_back(value, sort, option="--it", really=True) == value


def test_the_option_in_fahrenheit_is_named_where_there_is_one() -> None:
    with pytest.raises(BadInput, match="Give --temp-f 70"):
        asked_back(70.0, AIR, option="--temp-c", in_f="--temp-f")


@pytest.mark.parametrize("value", [-41.0, 81.0, math.nan, math.inf])
def test_what_cannot_be_is_refused_even_when_insisted_on(value: float) -> None:
    with pytest.raises(BadInput, match=r"cannot be: give -40 to 80 degC"):
        asked_back(value, AIR, option="--temp-c", really=True)
