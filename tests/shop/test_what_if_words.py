"""How a what-if is said, and what must be said beside it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curewatch.planning.what_if_said import ends_said
from curewatch.shop.ahead import Eta
from curewatch.shop.finish import ClockName, Figure, MilestoneName
from curewatch.shop.plain_what_if import what_if_plain
from curewatch.shop.reading import Standing
from curewatch.shop.room import Room
from curewatch.shop.what_if import Air, Range, heated, on_schedule, speeds
from curewatch.shop.what_if_cautions import Kind, cautions
from curewatch.shop.what_if_piece import NOTHING, Gain, StackHours
from curewatch.shop.what_if_words import (
    WhatIf,
    air_words,
    gain_sentence,
    hours_range,
    sentence,
    speed_sentence,
    times,
    why_no_ratio,
)
from curewatch.shop.words import Words
from tests.shop.scene import finish

WORDS = Words()
LOFT = Room("loft")
CURE, DRYING = ClockName.CURE, ClockName.DRYING
BUFF = MilestoneName.BUFF


def answer(  # noqa: PLR0913 - what a test leaves out is the usual
    name: str,
    before: Air,
    after: Air,
    *,
    kind: Kind = Kind.CLIMATE,
    source: str = "measured",
    room_after: Room = LOFT,
    stacks: tuple[StackHours, ...] = (),
) -> WhatIf:
    """Return a what-if."""
    own = finish(name)
    found = speeds(own, before, after, room=LOFT, room_after=room_after)
    if source == "reference":
        found = {clock: replace(speed, against_room=None) for clock, speed in found.items()}
    said = cautions(own, kind, before=before, after=after, speeds=found, words=WORDS)
    return WhatIf(own, kind, "So", source, "loft", None, before, after, None, found, said,
                  stacks=stacks)  # fmt: skip


def about(given: WhatIf) -> list[str]:
    """Return what the cautions are about."""
    return [caution.about for caution in given.cautions]


AIR = Air.of(18.0, 0.45)


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (1.28, 2.09, "x1.3 to x2.1"),
        (0.333, 0.62, "x0.33 to x0.62"),
        (2.16, 10.91, "x2.2 to x11"),
        (1.41, 1.42, "about x1.4"),
    ],
)
def test_a_factor_is_said_as_a_range(low: float, high: float, said: str) -> None:
    assert times(Range(low, (low + high) / 2, high)) == said


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (4.2, 7.9, "4 to 8 h"),
        (0.2, 0.5, "12 to 30 min"),
        (0.2, 0.201, "about 12 min"),
        (50.0, 61.0, "50 to 61 h"),
        (48.0, 84.0, "2.0 to 3.5 days"),
        (8.0, 84.0, "8 to 84 h"),
        (2.0, 2.04, "about 2.0 h"),
        (1.2, 30.0, "1.2 to 30 h"),
    ],
)
def test_hours_are_said_no_finer_than_they_can_be_known(low: float, high: float, said: str) -> None:
    assert hours_range(Range(low, low, high)) == said
    assert hours_range(Range(high, high, low)) == said


def test_the_sentence_gives_both_comparisons() -> None:
    given = answer("waterborne", AIR, heated(AIR, 27.0))
    assert sentence(given) == (
        "So: it would cure x1.7 to x2.9 as fast as now; x1.5 to x2.2 of the reference climate."
    )
    assert why_no_ratio(given, CURE) is None


def test_why_there_is_no_comparison_is_said() -> None:
    bare = answer("waterborne", Air.of(21.0, 0.5), Air.of(27.0, 0.5), source="reference")
    assert why_no_ratio(bare, CURE) == "no room was named"
    cold = answer("waterborne", Air.of(8.0, 0.5), Air.of(21.0, 0.5))
    assert sentence(cold).endswith("against the air as it is: the air as it is earns nothing.")
    deaf = answer("waterborne", Air.of(None, None), Air.of(21.0, 0.5))
    assert why_no_ratio(deaf, CURE) == "the air is not known"
    dose = answer("dose-cured", AIR, heated(AIR, 27.0))
    assert why_no_ratio(dose, CURE) == "this finish is cured by dose, not by hours"
    assert "cannot be told: it is cured by dose" in sentence(dose)
    assert about(dose)[-2:] == ["wood", "dry-wood"]
    assert "dose" in about(dose)


def test_air_that_is_not_known_or_earns_nothing_is_said_so() -> None:
    deaf = answer("waterborne", AIR, Air.of(None, None))
    assert sentence(deaf) == "So: how fast it would cure cannot be told: the air is not known."
    cold = answer("waterborne", AIR, heated(AIR, 5.0))
    assert sentence(cold) == "So: it would not cure at all: such an hour earns nothing."
    assert "floor" in about(cold)
    assert air_words(Air.of(None, None), WORDS) == "not known"
    assert air_words(Air.of(20.0, None), WORDS) == "20.0 °C"


def test_a_fan_answers_for_drying_and_not_where_a_finish_only_cures() -> None:
    fan = Room("loft", air="fan")
    wet = answer("waterborne", AIR, AIR, kind=Kind.FAN, room_after=fan)
    assert sentence(wet).startswith("So: it would dry x")
    assert "fan" in about(wet)
    assert "flash" not in about(wet)
    two_part = answer("two-part-urethane", AIR, AIR, kind=Kind.FAN, room_after=fan)
    assert "a fan does not speed this finish" in sentence(two_part)


def test_heat_brings_its_cautions() -> None:
    warm = answer("waterborne", AIR, heated(AIR, 42.0), kind=Kind.CABINET)
    assert about(warm) == [
        "flash", "safety", "cap", "spraying", "wood", "dry-wood", "glue", "humidity-sign", "recoat",
    ]  # fmt: skip
    said = {caution.about: caution for caution in warm.cautions}
    assert "nothing above 32.0 °C" in said["cap"].text
    assert "over-temperature cut-out" in said["safety"].text
    assert said["dry-wood"].standing is Standing.COMMON_PRACTICE
    mild = answer("waterborne", AIR, heated(AIR, 20.0))
    assert "cap" not in about(mild)
    assert "dry-wood" not in about(mild)
    assert "glue" not in about(mild)


def test_a_cabinet_no_warmer_than_the_room_keeps_its_safety_words() -> None:
    same = answer("waterborne", AIR, AIR, kind=Kind.CABINET)
    assert "safety" in about(same)
    assert "wood" not in about(same)
    assert "recoat" not in about(same)


def test_the_recoat_window_is_named_only_where_the_finish_has_one() -> None:
    open_ended = finish("shellac")
    assert MilestoneName.RECOAT_CLOSES not in open_ended.requirements
    assert "recoat" not in about(answer("shellac", AIR, heated(AIR, 27.0)))


def test_humidity_has_the_sign_of_the_family() -> None:
    texts = {
        name: " ".join(one.text for one in answer(name, AIR, heated(AIR, 24.0)).cautions)
        for name in ("nitro-lacquer", "waterborne", "two-part-urethane")
    }
    assert "hardly a rate" in texts["nitro-lacquer"]
    assert "rules the drying" in texts["waterborne"]
    assert "Humidity" not in texts["two-part-urethane"]


def test_a_moisture_cured_finish_is_slowed_by_dry_air() -> None:
    own = finish("two-part-urethane")
    assert own.cure is not None
    figure = Figure(-0.5, Standing.DATA_SHEET)
    moist = replace(own, cure=replace(own.cure, humidity_exponent=figure))
    dry = Air.of(21.0, 0.2)
    found = speeds(moist, Air.of(21.0, 0.5), dry, room=LOFT, room_after=LOFT)
    ratio = found[CURE].against_room
    assert ratio is not None
    assert ratio.high < 1.0
    said = cautions(moist, Kind.CLIMATE, before=AIR, after=dry, speeds=found, words=WORDS)
    assert "drier air slows it" in said[-1].text


def test_water_that_must_come_or_go_is_named() -> None:
    drier = answer("waterborne", AIR, Air.of(27.0, 0.15))
    wetter = answer("waterborne", AIR, Air.of(27.0, 0.5))
    texts = [
        next(one.text for one in given.cautions if one.about == "humidity")
        for given in (drier, wetter)
    ]
    assert "would have to be dried" in texts[0]
    assert "would have to be given water" in texts[1]
    assert "26 %" in texts[0]
    assert "humidity" not in about(answer("waterborne", AIR, heated(AIR, 27.0)))
    assert "humidity" not in about(answer("waterborne", Air.of(None, None), Air.of(27.0, 0.5)))
    damp = answer("waterborne", Air.of(21.0, 0.8), heated(Air.of(21.0, 0.8), 10.0))
    assert "saturated" in about(damp)


def test_a_heaters_day_is_not_asked_where_its_water_went() -> None:
    day = Air(np.array([12.0, 16.0]), np.array([0.6, 0.5]))
    heat = on_schedule(day, 21.0, [True, False])
    given = answer("waterborne", day, heat, kind=Kind.HEATER)
    assert "safety" in about(given)
    assert "humidity" not in about(given)


def test_wood_whose_air_has_no_humidity_is_unknown() -> None:
    deaf = answer("waterborne", Air.of(18.0, None), Air.of(27.0, None))
    assert "cannot be told" in next(one.text for one in deaf.cautions if one.about == "wood")
    from_nothing = answer("waterborne", Air.of(18.0, None), Air.of(27.0, 0.3))
    text = next(one.text for one in from_nothing.cautions if one.about == "wood")
    assert text.startswith("Wood left in this air goes to 6.")


def gain(low: float, high: float) -> Gain:
    """Return a gain of so many hours."""
    nothing = Eta(None, None, None)
    return Gain(BUFF, 24.0, nothing, nothing, Range(low, (low + high) / 2.0, high))


def test_days_saved_are_said_as_sooner_or_later() -> None:
    assert gain_sentence(gain(8.0, 12.0)) == "buffing: 8 to 12 h sooner"
    assert gain_sentence(gain(-12.0, -8.0)) == "buffing: 8 to 12 h later"
    assert gain_sentence(gain(-12.0, 0.0)) == "buffing: 0.0 to 12 h later"
    assert gain_sentence(gain(-1.0, 4.0)) == "buffing: between 60 min later and 4.0 h sooner"
    assert gain_sentence(replace(gain(1.0, 2.0), saved_h=None)) == "buffing: cannot be told"


def test_nothing_saved_is_not_said_as_a_span() -> None:
    assert gain_sentence(gain(0.0, 0.001)) == "buffing: no sooner and no later"
    soon = replace(gain(0.0, 0.0), left_h=0.02)
    assert gain_sentence(soon) == "buffing: at once either way"
    assert ends_said(NOTHING, WORDS, 0) == "-"
    assert ends_said(Eta(None, None, 86_400_000), WORDS, 0).startswith("not told; not told; ")


def test_an_outlook_that_is_not_the_air_of_now_is_named() -> None:
    said = gain_sentence(replace(gain(8.0, 17.0), pace=0.8))
    assert said == (
        "buffing: 8 to 17 h sooner (kept so, against the room's outlook, whose hours are likely "
        "worth x0.80 of one now)"
    )
    assert "(" not in gain_sentence(replace(gain(8.0, 17.0), pace=1.02))
    assert "(" not in gain_sentence(replace(gain(8.0, 17.0), pace=0.8, saved_h=None))


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (24.0, 40.0, "buffing comes 24 to 40 h sooner, counted from the last coat."),
        (-40.0, -24.0, "buffing comes 24 to 40 h later, counted from the last coat."),
        (0.0, 0.0, "buffing comes no sooner and no later, counted from the last coat."),
        (-5.0, 40.0, "buffing comes anything from 5.0 h later to 40 h sooner, counted from"),
    ],
)
def test_stacks_are_compared_at_the_buff(low: float, high: float, said: str) -> None:
    wet = StackHours(MilestoneName.WET_SAND, None, None, Range(1.0, 1.0, 1.0))
    buff = StackHours(BUFF, None, None, Range(low, (low + high) / 2.0, high))
    given = answer("waterborne", AIR, AIR, kind=Kind.FEWER_COATS, stacks=(wet, buff))
    assert said in sentence(given)


def test_stacks_without_a_buff_are_compared_at_what_there_is() -> None:
    wet = StackHours(MilestoneName.WET_SAND, None, None, Range(20.0, 20.0, 30.0))
    given = answer("waterborne", AIR, AIR, kind=Kind.OTHER_FINISH, stacks=(wet,))
    assert "wet sanding comes 20 to 30 h sooner" in sentence(given)
    none = answer("waterborne", AIR, AIR, kind=Kind.OTHER_FINISH)
    assert sentence(none) == "So: how long it would take cannot be told."


def test_plain_data_holds_the_same_numbers() -> None:
    given = replace(answer("waterborne", AIR, heated(AIR, 27.0)), gains=(gain(8.0, 12.0),))
    plain = what_if_plain(given)
    speed = given.speeds[CURE].against_room
    assert speed is not None
    assert plain["rate"]["against_room"]["low"] == speed.low  # type: ignore[index, call-overload] # JSON
    assert plain["sentence"] == sentence(given)
    assert plain["milestones"][0]["saved_h"] == {"low": 8.0, "likely": 10.0, "high": 12.0}  # type: ignore[index, call-overload] # JSON
    stacks = (StackHours(BUFF, None, None, None),)
    stacked = what_if_plain(replace(given, stacks=stacks))
    assert stacked["from_last_coat"] == [
        {"milestone": "buff", "as_it_is_h": None, "then_h": None, "saved_h": None}
    ]


def test_plain_data_of_a_finish_cured_by_dose_has_no_rate() -> None:
    plain = what_if_plain(answer("dose-cured", Air.of(18.0, None), Air.of(27.0, None)))
    assert plain["rate"] is None
    assert plain["activation_energy_kj_mol"] is None
    assert plain["to"] == {"temp_c": 27.0, "rh_pct": None}


def test_speeds_of_drying_are_said_too() -> None:
    given = answer("waterborne", AIR, heated(AIR, 27.0))
    assert speed_sentence(given, DRYING).startswith("It would dry x2.1 to x2.2 as fast as now")


def test_sun_and_lamps_are_credited_with_nothing_that_no_probe_measures() -> None:
    blind = answer("waterborne", AIR, Air.of(None, None), kind=Kind.LAMP)
    assert about(blind)[:3] == ["surface", "flash", "safety"]
    assert "credited with nothing" in speed_sentence(blind, CURE)
    assert why_no_ratio(blind, CURE) == (
        "no surface probe measures what the piece gets, so it is credited with nothing"
    )
    seen = answer("waterborne", AIR, heated(AIR, 30.0), kind=Kind.LAMP)
    assert seen.speeds[CURE].against_room is not None
    assert about(seen)[0] == "surface"
    deaf = answer("waterborne", Air.of(None, None), Air.of(None, None))
    assert "the air is not known" in speed_sentence(deaf, CURE)
