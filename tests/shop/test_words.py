from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from curewatch.shop.words import Words, listed, percent, span
from tests.shop.scene import T0_MS, at_h

WORDS = Words()


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (0.5, "30 min"),
        (1.9, "114 min"),
        (2.0, "2.0 h"),
        (9.94, "9.9 h"),
        (30.0, "30 h"),
        (71.9, "72 h"),
        (96.0, "4.0 days"),
        (-0.5, "-30 min"),
    ],
)
def test_a_span_is_said_as_a_person_would(hours: float, said: str) -> None:
    assert span(hours) == said


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (14.5, "today 14:30"),
        (-1.0, "yesterday 23:00"),
        (25.1, "tomorrow 1:06"),
        (100.0, "Sun 19 Nov 4:00"),
        (9000.0, "Sun 24 Nov 2024 0:00"),
    ],
)
def test_an_instant_is_said_to_the_minute(hours: float, said: str) -> None:
    assert WORDS.at(at_h(hours), at_h(10.0)) == said


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (3.05, "today about 3:15"),
        (20.1, "today about 21:00"),
        (50.0, "Fri 17 Nov about 2:00"),
        (80.0, "Sat 18 Nov morning"),
        (90.0, "Sat 18 Nov afternoon"),
    ],
)
def test_an_expected_instant_is_said_no_finer_than_it_can_be_known(hours: float, said: str) -> None:
    assert WORDS.ahead(at_h(hours), T0_MS) == said


def test_instants_are_said_on_the_shop_s_wall_clock() -> None:
    assert Words(zone=ZoneInfo("Europe/Berlin")).at(at_h(23.5), at_h(23.0)) == "today 0:30"


def test_units_are_the_shop_s() -> None:
    imperial = Words(imperial=True)
    assert (WORDS.temp(21.0), imperial.temp(21.0)) == ("21.0 °C", "70 °F")
    assert (WORDS.kelvin(3.0), imperial.kelvin(3.0)) == ("3.0 K", "5.4 °F")
    assert (WORDS.film(100.0), imperial.film(100.0)) == ("100 µm (3.9 mil)", "3.9 mil (100 µm)")
    assert percent(0.505) == "50 %"


def test_names_are_joined_for_a_sentence_and_cut_after_a_handful() -> None:
    assert listed([]) == ""
    assert listed(["b"]) == "b"
    assert listed(["b", "a"]) == "a and b"
    assert listed(["c", "b", "a"]) == "a, b and c"
    assert listed(str(n) for n in range(8)) == "0, 1, 2, 3, 4, 5 and 2 more"
