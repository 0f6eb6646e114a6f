"""What a cold night cost, in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.overnight import Lost, PieceLost
from curewatch.shop.overnight_hours import Stretch
from curewatch.shop.overnight_words import (
    Night,
    coverage_sentence,
    harm_sentence,
    night_sentence,
    piece_sentence,
)
from curewatch.shop.plain_overnight import night_plain
from curewatch.shop.what_if import Range
from curewatch.shop.words import Words
from tests.shop.scene import at_h, finish

WORDS = Words()
NIGHT = Stretch(at_h(18.0), at_h(32.0))


def span_of(low: float, high: float) -> Range:
    """Return a range."""
    return Range(low, (low + high) / 2.0, high)


def night(reference: Range | None, expected: Range | None, covered_h: float = 14.0) -> Night:
    """Return a night in the loft."""
    lost = Lost(ClockName.CURE, covered_h, reference, reference, expected, expected)
    return Night("loft", finish("waterborne"), NIGHT, lost, 8.0, ())


def test_hours_lost_are_said_as_a_range_of_warm_time() -> None:
    said = night_sentence(night(span_of(4.3, 8.2), span_of(2.2, 5.1)), WORDS)
    assert said == (
        "Waterborne, one pack in loft lost 4 to 8 h of 21.0 °C time; against what was to be "
        "expected it lost 2.2 to 5 h."
    )


def test_a_piece_is_not_said_to_be_a_room() -> None:
    piece = replace(night(span_of(4.3, 8.2), None), where="B12", of_piece=True)
    assert night_sentence(piece, WORDS).startswith("Waterborne, one pack on B12 lost 4 to 8 h")
    unseen = replace(night(None, None, 0.0), where="B12", of_piece=True)
    assert "nothing was measured around B12" in night_sentence(unseen, WORDS)


def test_what_is_not_known_is_said() -> None:
    assert "what was to be expected of the room cannot be told" in night_sentence(
        night(span_of(4.0, 8.0), None), WORDS
    )
    assert "nothing was measured in loft" in night_sentence(night(None, None, 0.0), WORDS)
    dose = replace(night(None, None), finish=finish("dose-cured"), lost=None)
    assert "cured by dose" in night_sentence(dose, WORDS)
    assert dose.coverage_pct == 0.0
    assert coverage_sentence(dose).startswith("Readings cover 0 % of the 14 h")


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (-0.1, 0.1, "lost next to nothing"),
        (-0.1, 4.0, "lost 0.0 to 4 h"),
        (-4.0, 0.1, "gained 0.0 to 4 h"),
        (-5.0, -4.0, "gained 4 to 5 h"),
        (-2.0, 4.0, "is anything from 2.0 h gained to 4.0 h lost"),
    ],
)
def test_gains_and_losses_have_their_words(low: float, high: float, said: str) -> None:
    assert f"against what was to be expected it {said}." in night_sentence(
        night(span_of(1.0, 2.0), span_of(low, high)), WORDS
    )


def test_coverage_is_said() -> None:
    assert coverage_sentence(night(span_of(1.0, 2.0), None)) == "All 14 h were measured."
    assert coverage_sentence(night(span_of(1.0, 2.0), None, 10.5)) == (
        "Readings cover 75 % of the 14 h: what the other 3.5 h cost is not known and not counted."
    )


@pytest.mark.parametrize(
    ("bounds", "said"),
    [
        (None, "13 h of 14 h were not measured."),
        ((0.5, 13.2), "; it is somewhere between 30 min and 13 h of 21.0 °C time lost."),
        ((-2.0, 13.2), "; it is somewhere between 2.0 h gained and 13 h of 21.0 °C time lost."),
        ((-5.0, -2.0), "; it is somewhere between 5.0 h gained and 2.0 h gained."),
    ],
)
def test_where_little_was_measured_the_cost_cannot_be_told(
    bounds: tuple[float, float] | None, said: str
) -> None:
    mostly = night(span_of(0.0, 0.1), span_of(0.0, 0.1), 1.0)
    assert mostly.lost is not None
    blind = replace(mostly, lost=replace(mostly.lost, unseen_h=13.0, bounds=bounds))
    sentence = night_sentence(blind, WORDS)
    assert sentence.startswith("What it cost Waterborne, one pack in loft cannot be told: 13 h of")
    assert sentence.endswith(said)
    plain = night_plain(blind, WORDS)
    assert plain["lost_against_reference_h"] is None
    assert plain["lost_against_expected_h"] is None
    assert plain["earned_h"] is not None
    assert plain["lost_bounds_h"] == (
        None if bounds is None else {"low": bounds[0], "high": bounds[1]}
    )


def test_hours_that_nobody_measured_are_said_beside_the_piece() -> None:
    blind = replace(YOUNG, hung_h=14.0, blind_h=2.0, floor_c=None)
    assert piece_sentence(blind, WORDS) == (
        "B12: buffing comes 4 to 8 h later: 2.0 h of the 14 h it hung through were not measured, "
        "and its clock credits them nothing."
    )
    unknown = replace(blind, later_h=None, blind_h=13.0)
    assert "buffing comes cannot be told: 13 h of the 14 h" in piece_sentence(unknown, WORDS)


YOUNG = PieceLost("B12", "waterborne", MilestoneName.BUFF, span_of(4.0, 8.0), True, 9.0, 15.0, 0.0)


def test_a_piece_is_told_of_with_its_harm() -> None:
    said = piece_sentence(YOUNG, WORDS)
    assert said.startswith("B12: buffing comes 4 to 8 h later. It was below 15.0 °C for 9.0 h")
    assert "no later warmth mends that" in said
    warm = replace(YOUNG, chilled_h=0.0)
    assert "and warm enough (above 15.0 °C)" in harm_sentence(warm, WORDS)
    unseen = replace(warm, unseen_h=3.0)
    assert "cannot be told" in harm_sentence(unseen, WORDS)
    assert harm_sentence(replace(YOUNG, young=False, chilled_h=0.0), WORDS) == ""
    assert harm_sentence(replace(YOUNG, floor_c=None), WORDS) == ""


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (0.0, 0.1, "comes no later than was to be expected"),
        (-0.1, 4.0, "comes 0.0 to 4 h later"),
        (-5.0, -4.0, "comes 4 to 5 h sooner"),
        (-2.0, 4.0, "comes anything from 2.0 h sooner to 4.0 h later"),
    ],
)
def test_a_milestone_comes_sooner_or_later(low: float, high: float, said: str) -> None:
    assert said in piece_sentence(replace(YOUNG, later_h=span_of(low, high)), WORDS)


def test_a_piece_with_nothing_to_wait_for_or_no_date() -> None:
    done = replace(YOUNG, next_up=None, later_h=None, floor_c=None)
    assert piece_sentence(done, WORDS) == "B12: nothing is left to wait for."
    unknown = replace(YOUNG, later_h=None, floor_c=None)
    assert piece_sentence(unknown, WORDS) == "B12: how much later buffing comes cannot be told."


def test_plain_data_holds_the_same() -> None:
    given = replace(night(span_of(4.0, 8.0), span_of(2.0, 5.0)), pieces=(YOUNG,))
    plain = night_plain(given, WORDS)
    assert plain["lost_against_reference_h"] == {"low": 4.0, "likely": 6.0, "high": 8.0}
    assert plain["coverage_pct"] == 100.0
    assert plain["pieces"][0]["may_be_harmed"] is True  # type: ignore[index, call-overload] # JSON
    done = replace(given, lost=None, pieces=(replace(YOUNG, next_up=None),))
    assert night_plain(done, WORDS)["covered_h"] is None
