from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from curewatch.demo import climate, scenario
from curewatch.demo.play import scenes
from curewatch.demo.scenario import Carry, Hang, Rub, Scenario, Spray
from curewatch.finish_files import load_text, shipped_text
from curewatch.science import humid_air
from curewatch.shop.piece import WorkKind


@pytest.fixture(scope="module")
def played() -> Scenario:
    return Scenario()


def test_the_same_fortnight_comes_out_every_time(played: Scenario) -> None:
    assert Scenario() == played


def test_the_fortnight_is_short_enough_for_the_embedded_broker(played: Scenario) -> None:
    assert 10_000 < len(played.messages) <= scenario.MOST_MESSAGES


def test_messages_are_in_order_and_no_sensor_speaks_twice_at_once(played: Scenario) -> None:
    keys = [(message.at_ms, message.topic) for message in played.messages]
    assert keys == sorted(set(keys))
    assert keys[0][0] == scenario.START_MS
    assert scenario.STOP_MS - keys[-1][0] == climate.STEP_MIN * scenario.MINUTE_MS


def test_the_air_stays_within_what_rooms_can_be(played: Scenario) -> None:
    sane = [m for m in played.messages if m.temp_c != scenario.WAKING_C]
    temps = np.array([m.temp_c for m in sane])
    humidities = np.array([m.rh_pct for m in sane])
    dew_c = np.asarray(humid_air.dew_point_c(temps, humidities / 100.0))
    assert len(played.messages) - len(sane) == 1
    assert temps.min() > 5.0
    assert temps.max() < 25.0
    assert humidities.min() > 25.0
    assert humidities.max() < 98.0
    assert np.all(dew_c < temps)


def test_the_air_is_warmer_by_day_than_by_night(played: Scenario) -> None:
    topic = scenario.SENSORS[0].topic
    mine = [m for m in played.messages if m.topic == topic]
    hours = np.array([(m.at_ms - scenario.START_MS) / scenario.HOUR_MS % 24 for m in mine])
    temps = np.array([m.temp_c for m in mine])
    by_day, by_night = temps[(hours > 12) & (hours < 18)], temps[(hours > 2) & (hours < 6)]
    assert by_day.mean() - by_night.mean() > 2.0


def in_room(played: Scenario, room: str, span: climate.Span) -> list[scenario.Message]:
    topics = {sensor.topic for sensor in scenario.SENSORS if sensor.room == room}
    return [
        m
        for m in played.messages
        if m.topic in topics
        and span.start_h <= (m.at_ms - scenario.START_MS) / scenario.HOUR_MS < span.stop_h
        and m.temp_c != scenario.WAKING_C
    ]


def test_only_the_cold_night_goes_below_what_a_waterborne_film_needs(played: Scenario) -> None:
    finish = load_text(shipped_text("waterborne"), source="waterborne", revision=1)
    assert finish.cure is not None
    floor_c = finish.cure.lower_limit_c.value
    start, stop = scenario.COLD_NIGHT.start_h, scenario.COLD_NIGHT.stop_h
    cold = in_room(played, scenario.LOFT, scenario.COLD_NIGHT)
    before = in_room(played, scenario.LOFT, climate.Span(0.0, start))
    after = in_room(played, scenario.LOFT, climate.Span(stop + 3.0, 24.0 * scenario.DAYS))
    assert min(m.temp_c for m in cold) < floor_c - 3.0
    assert min(m.temp_c for m in before + after) > floor_c + 1.0


def test_the_humid_spell_is_too_wet_to_spray_in_and_the_rest_is_not(played: Scenario) -> None:
    finish = load_text(shipped_text("waterborne"), source="waterborne", revision=1)
    stop_pct = finish.limits.rh_stop_pct.value
    span = scenario.HUMID_SPELL
    room = scenario.SPRAY_ROOM
    assert max(m.rh_pct for m in in_room(played, room, span)) > stop_pct + 3.0
    before = in_room(played, room, climate.Span(0.0, span.start_h))
    after = in_room(played, room, climate.Span(span.stop_h + 8.0, 24.0 * scenario.DAYS))
    assert max(m.rh_pct for m in before + after) < stop_pct


def test_one_sensor_dies_for_a_day_and_wakes_with_its_power_on_value(played: Scenario) -> None:
    (dying,) = [sensor for sensor in scenario.SENSORS if sensor.dead is not None]
    mine = [m for m in played.messages if m.topic == dying.topic]
    silences = [(b.at_ms - a.at_ms, b) for a, b in pairwise(mine)]
    longest, first_again = max(silences, key=lambda one: one[0])
    step_ms = climate.STEP_MIN * scenario.MINUTE_MS
    assert longest == scenario.DAY_MS + step_ms
    assert first_again.temp_c == scenario.WAKING_C
    assert sum(silence > step_ms for silence, _ in silences) == 1
    assert sum(sensor.room == dying.room for sensor in scenario.SENSORS) == 2


def coats_of(played: Scenario, tag: str) -> list[int]:
    return [d.at_ms for d in played.doings if isinstance(d, Spray) and d.tag == tag]


def work_of(played: Scenario, tag: str) -> list[Rub]:
    return [d for d in played.doings if isinstance(d, Rub) and d.tag == tag]


def longest_wait_h(played: Scenario, tag: str) -> float:
    coats = coats_of(played, tag)
    return max(b - a for a, b in pairwise(coats)) / scenario.HOUR_MS


def test_every_piece_gets_the_coats_that_are_planned(played: Scenario) -> None:
    assert len(played.pieces) == 6
    for tag, hung in played.pieces.items():
        assert len(coats_of(played, tag)) == hung.planned_coats
    assert {hung.finish for hung in played.pieces.values()} == {"waterborne", "nitro-lacquer"}


def test_one_piece_is_done_by_the_book(played: Scenario) -> None:
    assert len(coats_of(played, "body-8")) == 8
    assert coats_of(played, "body-8")[-1] - coats_of(played, "body-8")[0] < 2 * scenario.DAY_MS
    assert [rub.kind for rub in work_of(played, "body-8")] == [WorkKind.WET_SAND, WorkKind.BUFF]


def test_one_window_is_missed_and_nobody_scuffs(played: Scenario) -> None:
    assert longest_wait_h(played, "door-4") > 40.0
    assert work_of(played, "door-4") == []


def test_one_coat_follows_within_an_hour_in_the_humid_spell(played: Scenario) -> None:
    first, second, _ = coats_of(played, "tray-3")
    assert second - first == scenario.HOUR_MS
    hours = (second - scenario.START_MS) / scenario.HOUR_MS
    assert scenario.HUMID_SPELL.start_h < hours < scenario.HUMID_SPELL.stop_h


def test_one_piece_is_buffed_before_the_calendar_allows_it(played: Scenario) -> None:
    (buffed,) = [rub for rub in work_of(played, "neck-6") if rub.kind is WorkKind.BUFF]
    coats = coats_of(played, "neck-6")
    assert buffed.anyway
    assert buffed.at_ms - coats[-1] < len(coats) * scenario.DAY_MS


def test_one_piece_hangs_fresh_in_the_cold_night(played: Scenario) -> None:
    (carried,) = [d for d in played.doings if isinstance(d, Carry) and d.tag == "shelf-2"]
    hours = (carried.at_ms - scenario.START_MS) / scenario.HOUR_MS
    assert carried.room == scenario.LOFT
    assert 0.0 < scenario.COLD_NIGHT.start_h - hours < 1.0


def test_doings_are_in_order_and_every_piece_is_hung_first(played: Scenario) -> None:
    times = [doing.at_ms for doing in played.doings]
    assert times == sorted(times)
    known: set[str] = set()
    for doing in played.doings:
        assert isinstance(doing, Hang) != (doing.tag in known)
        known.add(doing.tag)


def test_scenes_send_every_message_once_and_never_one_from_the_future(played: Scenario) -> None:
    sent: list[scenario.Message] = []
    done: list[scenario.Doing] = []
    for messages, doings in scenes(played):
        sent += messages
        done += doings
        for doing in doings:
            assert sent[-1].at_ms == doing.at_ms  # the daemon has come exactly so far
    assert tuple(sent) == played.messages
    assert tuple(done) == played.doings
