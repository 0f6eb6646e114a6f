"""What a haze may do, and what a test at the bench proves."""

from __future__ import annotations

import re

import pytest

from curewatch.finish_files import shipped_names
from curewatch.shop.findings import MEANINGS, Says
from curewatch.shop.haze import NO_TIME, Clears, will_it_clear
from curewatch.shop.proof import Reach, proof_of, proof_plain, says_of
from tests.shop.scene import finish


@pytest.mark.parametrize("name", shipped_names())
def test_no_haze_is_promised_away_and_no_time_is_given(name: str) -> None:
    haze = will_it_clear(finish(name))
    assert haze.not_told == NO_TIME
    assert "panel" in haze.trial
    assert not re.search(r"\d", haze.sentence + haze.trial)
    assert {str(clears) for clears in Clears} == {"may-clear", "often-stays", "unknown"}


def test_families_differ_in_what_a_haze_may_do() -> None:
    assert will_it_clear(finish("nitro-lacquer")).clears is Clears.MAY_CLEAR
    assert will_it_clear(finish("waterborne")).clears is Clears.OFTEN_STAYS
    assert will_it_clear(finish("two-part-urethane")).clears is Clears.OFTEN_STAYS
    assert will_it_clear(finish("dose-cured")).clears is Clears.UNKNOWN


@pytest.mark.parametrize("finding", MEANINGS)
def test_a_passed_test_proves_the_surface_and_nothing_below(finding: str) -> None:
    passed = MEANINGS[finding].says is Says.FINE
    assert (proof_of(finding) is Reach.SURFACE) == passed


def test_a_failed_test_speaks_of_the_film_and_a_late_look_of_the_work() -> None:
    assert proof_of("nail-dent") is Reach.FILM
    assert proof_of("gloss-lost") is Reach.FINISHED
    assert proof_of("hums") is Reach.NOTHING
    assert says_of("hums") is Says.NOTHING
    assert "By itself it shortens no wait" in str(proof_plain("fine")["sentence"])
