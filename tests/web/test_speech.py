"""The page's texts in one catalogue, and how it says instants and numbers."""

from __future__ import annotations

import re
import string
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

import curewatch.web
from curewatch.finishes.keys import FIGURES
from curewatch.shop.ahead import Eta
from curewatch.shop.words import Words
from curewatch.web.speech import Speech, catalogue, say

WEB = Path(curewatch.web.__file__).parent
SOURCES = {
    path.relative_to(WEB).as_posix(): path.read_text("utf-8")
    for path in sorted([*WEB.rglob("*.py"), *WEB.rglob("*.html")])
}
ASKED = re.compile(r"""\bsay\(\s*(["'])([\w.-]+)\1\s*[,)]""")
BEGUN = re.compile(
    r"""\bsay\(\s*f?(["'])([\w-]+\.[\w.-]*)(?:\1\s*~|\{)"""
)  # the rest is a variable
SECTION = re.compile(
    r"""\bin_page_words\(.*,\s*"(\w+)"\)"""
)  # options of a command, as fields here
QUOTED = re.compile(r"""(["'])([\w-]+\.[\w.-]+)\1""")
NOW_MS = round(datetime(2026, 7, 1, 12, 0, tzinfo=UTC).timestamp() * 1000)
HOUR_MS = 3_600_000
ZONE = ZoneInfo("America/New_York")  # 8:00 there
METRIC = Speech(Words(ZONE), NOW_MS)
IMPERIAL = Speech(Words(ZONE, imperial=True), NOW_MS, twelve_hours=True)


def test_every_text_that_is_asked_for_stands_in_the_catalogue() -> None:
    asked = {(key, name) for name, text in SOURCES.items() for _, key in ASKED.findall(text)}
    assert len(asked) > 30
    assert [(key, name) for key, name in sorted(asked) if key not in catalogue()] == []


def test_every_text_of_the_catalogue_is_asked_for() -> None:
    everything = "\n".join(SOURCES.values())
    used = {key for _, key in ASKED.findall(everything)} | {
        key for _, key in QUOTED.findall(everything)
    }
    begun = tuple(
        [prefix for _, prefix in BEGUN.findall(everything)]
        + [f"{section}." for section in SECTION.findall(everything)]
    )
    assert [k for k in catalogue() if k not in used and not k.startswith(begun)] == []


def test_no_text_is_empty_and_every_gap_has_a_name() -> None:
    for key, text in catalogue().items():
        assert text.strip(), key
        gaps = [name for _, name, _, _ in string.Formatter().parse(text) if name is not None]
        assert all(name.isidentifier() for name in gaps), key


def test_what_is_put_into_a_gap_is_escaped_unless_it_is_markup() -> None:
    assert say("today.due", at="<b>") == "by <b>"  # plain: the template escapes it
    told = METRIC.say("alerts.raised", at=METRIC.when(NOW_MS))
    assert told == 'raised <time datetime="2026-07-01T12:00:00.000Z">today 8:00</time>'
    assert hasattr(told, "__html__")
    named = METRIC.say("alerts.seen_by", who="<Ada>", at=METRIC.when(NOW_MS))
    assert "&lt;Ada&gt;" in named


def test_instants_are_told_on_the_shops_wall_clock() -> None:
    assert METRIC.when(NOW_MS + 6 * HOUR_MS).striptags() == "today 14:00"
    assert IMPERIAL.when(NOW_MS + 6 * HOUR_MS).striptags() == "today 2:00 pm"
    assert IMPERIAL.ahead(NOW_MS + 6 * HOUR_MS).striptags() == "today about 2:00 pm"
    assert METRIC.when(None) == METRIC.ahead(None) == "cannot be told"


@pytest.mark.parametrize(
    ("hour", "said"),
    [(0, "12:05 am"), (1, "1:05 am"), (11, "11:05 am"), (12, "12:05 pm"), (23, "11:05 pm")],
)
def test_twelve_hours_have_their_halves(hour: int, said: str) -> None:
    at_ms = round(datetime(2026, 7, 1, hour, 5, tzinfo=ZONE).timestamp() * 1000)
    assert IMPERIAL.clock(at_ms) == said
    assert METRIC.clock(at_ms) == f"{hour}:05"


def test_microns_in_the_shops_sentences_carry_their_letter() -> None:
    assert METRIC.sentence("it falls 1.3 um, by um.") == "it falls 1.3 µm, by µm."
    assert METRIC.sentence("two umbrellas") == "two umbrellas"


def test_units_in_the_shops_sentences_are_the_shops() -> None:
    said = "5 K over 21 degC, 15 to 45 degC, -4 to -2 degC, 100 um, 15 to 2000 um, 30 kJ/mol/K"
    assert METRIC.sentence(said) == (
        "5 K over 21 °C, 15 to 45 °C, -4 to -2 °C, 100 µm, 15 to 2000 µm, 30 kJ/mol/K"
    )
    assert IMPERIAL.sentence(said) == (
        "9 °F over 70 °F, 59 to 113 °F, 25 to 28 °F, 3.9 mil, 0.59 to 79 mil, 30 kJ/mol/K"
    )
    assert METRIC.sentence("did you mean 68 degF (20.0 degC)?") == ("did you mean 68 °F (20.0 °C)?")
    hot = "48.9 degC is hotter than any place: did you mean 48.9 degF (9.4 degC)? Give 9.4"
    assert IMPERIAL.sentence(hot) == "120 °F is hotter than any place."
    film = "not possible: give 15 to 2000 um (4 mil are 102 um)"
    assert METRIC.sentence(film) == "not possible: give 15 to 2000 µm (4 mil are 102 µm)"
    assert IMPERIAL.sentence(film) == "not possible: give 0.59 to 79 mil"


def test_a_source_names_other_figures_by_what_they_mean() -> None:
    said = METRIC.source("chosen together with film.transfer_um_h so that; see shop.unknown_key.")
    assert "film.transfer_um_h" not in said
    assert FIGURES["film.transfer_um_h"].meaning in said
    assert "shop.unknown_key" in said


def test_clocks_in_the_shops_sentences_are_told_alike_and_mixing_ratios_stay() -> None:
    sentence = "It closed today 17:11, the pot was mixed 4:1 and 125:30 is no clock."
    assert METRIC.sentence(sentence) == sentence
    assert IMPERIAL.sentence(sentence) == sentence.replace("17:11", "5:11 pm")
    assert IMPERIAL.sentence(None) == ""


def test_what_is_expected_comes_with_its_ends() -> None:
    eta = Eta(NOW_MS + HOUR_MS, NOW_MS + 2 * HOUR_MS, NOW_MS + 3 * HOUR_MS)
    said = IMPERIAL.expect(eta)
    assert "10:00 am" in said
    assert "at the earliest" in said
    assert METRIC.expect(Eta(None, None, None)) == "cannot be told"
    known = METRIC.expect(Eta(None, None, None), NOW_MS + HOUR_MS)
    assert known.striptags() == "today about 9:00"


def test_numbers_are_told_in_the_shops_units_and_what_is_not_measured_is_said() -> None:
    assert (METRIC.temp(21.0), IMPERIAL.temp(21.0)) == ("21.0 °C", "70 °F")
    assert (METRIC.kelvin(3.0), IMPERIAL.kelvin(3.0)) == ("3.0 K", "5.4 °F")
    assert (METRIC.film(100.0), IMPERIAL.film(100.0)) == ("100 µm (3.9 mil)", "3.9 mil (100 µm)")
    assert METRIC.rh(0.5) == "50 %"
    assert METRIC.temp(None) == METRIC.kelvin(None) == METRIC.rh(None) == "not measured"


def test_the_hour_the_clocks_are_changed_is_told_as_the_wall_clock_shows_it() -> None:
    # 2026-11-01 06:00 UTC: clocks go back from 2:00 to 1:00 in New York (IANA time zone database)
    before = round(datetime(2026, 11, 1, 5, 30, tzinfo=UTC).timestamp() * 1000)
    assert METRIC.clock(before) == METRIC.clock(before + HOUR_MS) == "1:30"
    assert METRIC.when(before) != METRIC.when(before + HOUR_MS)  # datetime= tells them apart
