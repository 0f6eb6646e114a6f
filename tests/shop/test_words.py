from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from curewatch.shop.ahead import Eta
from curewatch.shop.words import Words, counted, listed, percent, span
from tests.shop.scene import HOUR_MS, T0_MS, at_h

WORDS = Words()
OPEN, SURE = "how late it may get cannot be told", "tomorrow about 2:00 to be sure"


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


def test_what_is_read_later_is_said_by_its_date() -> None:
    assert WORDS.dated(at_h(14.5), at_h(10.0)) == "Wed 15 Nov 14:30"
    assert WORDS.dated(at_h(9000.0), at_h(10.0)) == "Sun 24 Nov 2024 0:00"


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


def test_the_wider_the_doubt_the_coarser_an_expected_instant_is_said() -> None:
    at_ms, now_ms = at_h(20.1), at_h(10.0)
    assert WORDS.ahead(at_ms, now_ms) == "today about 20:15"
    assert WORDS.ahead(at_ms, now_ms, doubt_ms=4 * HOUR_MS) == "today about 21:00"
    assert WORDS.ahead(at_ms, now_ms, doubt_ms=13 * HOUR_MS) == "Wed 15 Nov afternoon"
    assert WORDS.ahead(at_ms, now_ms, early=True) == "today about 20:00"


@pytest.mark.parametrize(
    ("ends", "said"),
    [
        ((20.0, 22.3, 25.2), ["today about 23:00; today about 20:00 at the earliest,", SURE]),
        ((20.1, 20.1, 20.15), ["today about 20:15; today about 20:00 at the earliest"]),
        ((20.25, 20.25, 20.25), ["today about 20:15"]),
        ((40.0, 90.0, None), ["Sat 18 Nov afternoon; Thu 16 Nov afternoon at the earliest,", OPEN]),
        ((90.0, None, None), ["no likely time, Sat 18 Nov afternoon at the earliest,", OPEN]),
        ((90.0, 95.0, 130.0), ["Sat 18 Nov afternoon; Mon 20 Nov morning to be sure"]),
    ],
)
def test_an_expectation_names_its_ends_as_far_as_they_differ_and_can_be_told(
    ends: tuple[float, float | None, float | None], said: list[str]
) -> None:
    eta = Eta(*(None if h is None else at_h(h) for h in ends))
    assert WORDS.expect(eta, at_h(10.0)) == " ".join(said)


def test_the_next_day_begins_at_the_shop_s_midnight_also_when_clocks_are_moved() -> None:
    berlin = Words(zone=ZoneInfo("Europe/Berlin"))
    assert WORDS.next_day_ms(at_h(10.0)) == at_h(24.0)
    assert WORDS.next_day_ms(at_h(24.0)) == at_h(48.0)
    before = round(datetime(2026, 3, 29, 0, 30, tzinfo=berlin.zone).timestamp() * 1000)
    assert berlin.next_day_ms(before) - before == 22.5 * HOUR_MS


def test_one_is_counted_as_one() -> None:
    assert [counted(n, "coat") for n in (0, 1, 2)] == ["0 coats", "1 coat", "2 coats"]


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
