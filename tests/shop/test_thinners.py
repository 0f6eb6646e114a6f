"""The shipped thinners."""

import pytest

from curewatch.errors import BadInput
from curewatch.shop.reading import Standing
from curewatch.shop.thinners import (
    ALCOHOL,
    LACQUER_THINNERS,
    THINNERS,
    USUAL,
    thinner_for,
    thinner_named,
)


def test_a_thinner_is_found_by_its_name() -> None:
    assert [thinner_named(name).blend.name for name in THINNERS] == list(THINNERS)
    assert list(LACQUER_THINNERS) == ["fast", "medium", "slow", "retarded"]


def test_an_unknown_name_is_refused_with_the_names_that_are_known() -> None:
    with pytest.raises(BadInput, match=r"'quick' is not known.*fast, medium, slow, retarded"):
        thinner_named("quick")


def test_shellac_is_dissolved_in_alcohol_and_lacquer_in_the_usual_blend() -> None:
    assert thinner_for("ethanol") is ALCOHOL
    assert thinner_for("n-butyl acetate") is USUAL
    assert thinner_for(None) is USUAL


def test_no_mixture_claims_to_come_from_a_data_sheet() -> None:
    assert {thinner.standing for thinner in LACQUER_THINNERS.values()} == {Standing.FROM_MEMORY}
    assert ALCOHOL.standing is Standing.COMMON_PRACTICE
    assert all(thinner.source for thinner in THINNERS.values())
