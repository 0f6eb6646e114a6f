import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.shop.gate import HOUR_MS, MINUTE_MS, GateLimits, QualityGate, SensorFacts
from curewatch.shop.reading import Flag, Quantity, Reading, Rejected, RejectReason

T0_MS = 1_700_000_000_000
TEMPERATURE, HUMIDITY, SURFACE, MASS, AIR_SPEED, FAN_ON = Quantity


def warm(minute: float, value: float, *, sensor: str = "rack", flags: int = 0) -> Reading:
    return Reading(sensor, TEMPERATURE, T0_MS + round(minute * MINUTE_MS), value, flags=flags)


def damp(minute: float, value: float, *, flags: int = 0) -> Reading:
    return Reading("rack", HUMIDITY, T0_MS + round(minute * MINUTE_MS), value, flags=flags)


def surface(minute: float, value: float) -> Reading:
    return Reading("rack", SURFACE, T0_MS + round(minute * MINUTE_MS), value)


def outcome(answer: Reading | Rejected) -> str:
    return "kept" if isinstance(answer, Reading) else answer.reason.value


def run(gate: QualityGate, readings: list[Reading]) -> list[str]:
    return [outcome(gate.admit(reading)) for reading in readings]


@pytest.mark.parametrize("value", [-39.9, 0.0, 21.0, 80.0])
def test_a_temperature_a_shop_can_have_is_kept(value: float) -> None:
    reading = warm(0, value)
    assert QualityGate().admit(reading) is reading


@pytest.mark.parametrize(
    ("reading", "expected"),
    [
        (warm(0, -40.0), RejectReason.OUT_OF_RANGE),
        (warm(0, 80.1), RejectReason.OUT_OF_RANGE),
        (surface(0, 120.1), RejectReason.OUT_OF_RANGE),
        (damp(0, -0.01), RejectReason.OUT_OF_RANGE),
        (damp(0, 1.01), RejectReason.OUT_OF_RANGE),
        (warm(0, math.nan), RejectReason.NOT_A_NUMBER),
        (damp(0, math.inf), RejectReason.NOT_A_NUMBER),
        (warm(0, 85.0), RejectReason.POWER_ON_VALUE),
        (surface(0, 85.0), RejectReason.POWER_ON_VALUE),
        (surface(0, -127.0), RejectReason.DISCONNECTED_VALUE),
        (warm(0, (-196.6 - 32) / 9 * 5), RejectReason.DISCONNECTED_VALUE),
    ],
)
def test_a_value_that_cannot_be_is_refused_with_its_reason(
    reading: Reading, expected: RejectReason
) -> None:
    answer = QualityGate().admit(reading, received_ms=7)
    assert isinstance(answer, Rejected)
    assert (answer.reason, answer.received_ms, answer.quantity) == (expected, 7, reading.quantity)


def test_a_rejection_carries_the_value_and_its_own_instant_when_no_arrival_is_given() -> None:
    answer = QualityGate().admit(warm(1, 93.25))
    assert isinstance(answer, Rejected)
    assert "93.25" in answer.detail
    assert answer.received_ms == T0_MS + MINUTE_MS


def test_eighty_five_is_believed_of_a_surface_that_was_nearly_there() -> None:
    gate = QualityGate()
    assert run(gate, [surface(0, 81.0), surface(2, 85.0)]) == ["kept", "kept"]
    assert run(gate, [surface(90, 70.0), surface(180, 85.0)]) == ["kept", "power-on-value"]


def test_a_scale_may_jump_as_it_likes_within_what_it_weighs() -> None:
    grams = [0.0, 412.0, 418.5, 85.0, -127.0, -6.2, 100_000.0]
    scale = [
        Reading("scale", MASS, T0_MS + place * 1000, value) for place, value in enumerate(grams)
    ]
    assert run(QualityGate(), scale) == ["kept"] * len(grams)
    heavy = QualityGate().admit(Reading("scale", MASS, T0_MS, 100_001.0))
    assert isinstance(heavy, Rejected)
    assert heavy.reason is RejectReason.OUT_OF_RANGE
    assert "100001 g is more than a panel's scale weighs" in heavy.detail
    nothing = QualityGate().admit(Reading("scale", MASS, T0_MS, math.nan))
    assert outcome(nothing) == RejectReason.NOT_A_NUMBER.value


def test_a_scale_at_rest_is_no_frozen_sensor() -> None:
    gate = QualityGate()
    still = [Reading("scale", MASS, T0_MS + n * HOUR_MS, 120.0) for n in range(10)]
    assert all(gate.admit(reading) == reading for reading in still)
    assert gate.frozen_since_ms("scale") is None


def test_noughts_in_one_message_are_a_sensor_that_is_not_there() -> None:
    answers = QualityGate().admit_all([warm(0, 0.0), damp(0, 0.0)])
    assert [outcome(answer) for answer in answers] == ["disconnected-value"] * 2


def test_noughts_of_one_instant_on_two_topics_are_seen_at_the_second() -> None:
    assert run(QualityGate(), [warm(0, 0.0), damp(0, 0.0)]) == ["kept", "disconnected-value"]
    assert run(QualityGate(), [damp(0, 0.0), warm(0, 0.0)]) == ["kept", "disconnected-value"]


def test_freezing_point_alone_is_a_temperature() -> None:
    answers = QualityGate().admit_all([warm(0, 0.0), damp(0, 0.8), surface(0, 0.0)])
    assert [outcome(answer) for answer in answers] == ["kept"] * 3


def test_rejections_of_the_same_message_are_handed_through() -> None:
    refused = Rejected("rack", RejectReason.MISSING, 1, "nothing at '/h'", HUMIDITY)
    assert QualityGate().admit_all([warm(0, 21.0), refused]) == [warm(0, 21.0), refused]


def test_a_room_changes_three_kelvin_in_a_minute_and_no_more() -> None:
    assert run(QualityGate(), [warm(0, 21.1), warm(1, 24.1)]) == ["kept", "kept"]
    assert run(QualityGate(), [warm(0, 21.1), warm(1, 24.2)]) == ["kept", "too-fast"]
    assert run(QualityGate(), [warm(0, 21.1), warm(10, 50.0)]) == ["kept", "kept"]
    assert run(QualityGate(), [damp(0, 0.5), damp(1, 0.71)]) == ["kept", "too-fast"]


def test_readings_seconds_apart_are_judged_as_if_a_minute_apart() -> None:
    assert run(QualityGate(), [warm(0, 21.0), warm(0.1, 23.9)]) == ["kept", "kept"]
    assert run(QualityGate(), [warm(0, 21.0), warm(0.1, 24.1)]) == ["kept", "too-fast"]


def test_a_spike_costs_itself_alone() -> None:
    readings = [warm(0, 21.0), warm(1, 60.0), warm(2, 21.1), warm(3, 60.0), warm(4, 21.2)]
    assert run(QualityGate(), readings) == ["kept", "too-fast", "kept", "too-fast", "kept"]


def test_an_opened_door_is_believed_when_three_readings_agree() -> None:
    readings = [warm(0, 21.0), warm(1, 9.0), warm(2, 8.0), warm(3, 7.5), warm(4, 7.0)]
    assert run(QualityGate(), readings) == ["kept", "too-fast", "too-fast", "kept", "kept"]


def test_a_wrong_first_value_does_not_shut_the_good_ones_out() -> None:
    readings = [warm(0, 60.0), warm(1, 21.0), warm(2, 21.1), warm(3, 21.2)]
    assert run(QualityGate(), readings) == ["kept", "too-fast", "too-fast", "kept"]


def test_readings_that_leap_about_never_agree() -> None:
    readings = [warm(0, 21.0), *(warm(minute, 60.0 + 10 * (minute % 2)) for minute in range(1, 9))]
    assert run(QualityGate(), readings) == ["kept"] + ["too-fast"] * 8


def test_a_repeated_delivery_does_not_count_as_agreement() -> None:
    readings = [warm(0, 21.0), warm(1, 40.0), warm(1, 40.0), warm(1, 40.0), warm(2, 21.0)]
    assert run(QualityGate(), readings) == ["kept", *["too-fast"] * 3, "kept"]


def test_a_late_reading_without_neighbours_is_held_to_the_range_and_changes_nothing() -> None:
    gate = QualityGate()
    gate.admit(warm(10, 21.0))
    before = gate.facts("rack", TEMPERATURE)
    assert run(gate, [warm(5, 60.0), warm(10, 21.0), warm(10, 33.0)]) == ["kept"] * 3
    assert run(gate, [warm(4, 99.0)]) == ["out-of-range"]
    assert gate.facts("rack", TEMPERATURE) == SensorFacts(
        before.last_at_ms, before.last_value, before.unchanged_since_ms, 1
    )


def test_a_late_reading_is_refused_only_where_it_contradicts_both_neighbours() -> None:
    gate = QualityGate()
    run(gate, [warm(0, 21.0), warm(2, 21.5), warm(4, 27.0)])
    late = [warm(1, 40.0), warm(1, 21.2), warm(3, 26.0), warm(1.5, 40.0), warm(2, 40.0)]
    assert run(gate, late) == ["too-fast", "kept", "kept", "too-fast", "kept"]


def test_a_spike_delivered_again_after_a_restart_is_refused_again() -> None:
    batch = [warm(0, 21.0), warm(1, 60.0), warm(2, 21.1)]
    gate = QualityGate()
    kept = [reading for reading in batch if outcome(gate.admit(reading)) == "kept"]
    assert run(QualityGate.resume(kept), batch) == ["kept", "too-fast", "kept"]


def test_the_look_back_does_not_grow_without_end() -> None:
    gate = QualityGate()
    run(gate, [warm(minute, 21.0) for minute in range(2000)])
    assert len(gate._lines["rack", TEMPERATURE].lately) <= 512  # noqa: SLF001 - the bound is the behaviour
    assert run(gate, [warm(1998.5, 60.0), warm(0.5, 60.0)]) == ["too-fast", "kept"]


def test_a_reading_of_unknown_time_is_kept_and_changes_nothing() -> None:
    gate = QualityGate()
    assert run(gate, [warm(0, 21.0), warm(1, 60.0, flags=Flag.TIME_UNKNOWN)]) == ["kept", "kept"]
    assert gate.facts("rack", TEMPERATURE).last_value == 21.0


def test_facts_tell_the_newest_value_and_the_run_of_refusals() -> None:
    gate = QualityGate()
    assert gate.facts("rack", TEMPERATURE) == SensorFacts(None, None, None, 0)
    run(gate, [warm(0, 93.0)])
    assert gate.facts("rack", TEMPERATURE) == SensorFacts(None, None, None, 1)
    run(gate, [warm(1, 21.0), warm(2, 21.0), warm(3, 93.0), warm(4, 93.0)])
    assert gate.facts("rack", TEMPERATURE) == SensorFacts(
        T0_MS + 2 * MINUTE_MS, 21.0, T0_MS + MINUTE_MS, 2
    )


def pairs(minutes: range, temp_c: float = 21.0, rh_frac: float = 0.5) -> list[Reading]:
    return [
        reading for minute in minutes for reading in (warm(minute, temp_c), damp(minute, rh_frac))
    ]


def test_a_pair_is_marked_frozen_after_six_hours_and_kept() -> None:
    gate = QualityGate()
    answers = [gate.admit(reading) for reading in pairs(range(0, 361, 10))]
    assert all(isinstance(answer, Reading) for answer in answers)
    marked = [a for a in answers if isinstance(a, Reading) and a.flags & Flag.FROZEN_PAIR]
    assert [(a.at_ms, a.quantity) for a in marked] == [(T0_MS + 6 * HOUR_MS, HUMIDITY)]
    assert gate.frozen_since_ms("rack") == T0_MS


def test_half_an_hour_of_the_same_pair_is_a_quiet_room() -> None:
    gate = QualityGate()
    run(gate, pairs(range(31)))
    assert gate.frozen_since_ms("rack") is None


def test_a_pair_thaws_at_the_first_other_value() -> None:
    gate = QualityGate()
    run(gate, pairs(range(0, 421, 10)))
    assert gate.frozen_since_ms("rack") == T0_MS
    answer = gate.admit(damp(430, 0.51))
    assert isinstance(answer, Reading)
    assert answer.flags == 0
    assert gate.frozen_since_ms("rack") is None


def test_a_handful_of_equal_pairs_hours_apart_are_no_frozen_sensor() -> None:
    gate = QualityGate()
    run(gate, pairs(range(0, 481, 120)))  # five pairs over eight hours
    assert gate.frozen_since_ms("rack") is None


def test_a_steady_temperature_alone_is_no_frozen_pair() -> None:
    gate = QualityGate()
    run(gate, [warm(minute, 21.0) for minute in range(0, 600, 10)])
    assert gate.frozen_since_ms("rack") is None
    gate.admit(damp(600, 2.0))
    assert gate.frozen_since_ms("rack") is None


def test_a_surface_is_not_part_of_the_pair() -> None:
    gate = QualityGate()
    run(gate, pairs(range(0, 421, 10)))
    answer = gate.admit(surface(421, 21.0))
    assert isinstance(answer, Reading)
    assert answer.flags == 0


def test_a_gate_resumed_with_the_newest_readings_goes_on_where_it_was() -> None:
    gate = QualityGate.resume([warm(5, 25.0), warm(0, 21.0)])
    assert run(gate, [warm(6, 60.0), warm(6, 25.5)]) == ["too-fast", "kept"]


def test_a_gate_resumed_with_marked_readings_knows_the_pair_is_frozen() -> None:
    gate = QualityGate.resume(
        [
            warm(600, 21.0, flags=Flag.FROZEN_PAIR),
            damp(600, 0.5, flags=Flag.FROZEN_PAIR),
            warm(700, 30.0, flags=Flag.TIME_UNKNOWN),
        ]
    )
    answer = gate.admit(warm(610, 21.0))
    assert isinstance(answer, Reading)
    assert answer.flags == Flag.FROZEN_PAIR


@pytest.mark.parametrize(
    ("quantity", "value", "kept"),
    [
        (AIR_SPEED, 0.0, True),
        (AIR_SPEED, 20.0, True),
        (AIR_SPEED, 20.1, False),
        (AIR_SPEED, -0.1, False),
        (FAN_ON, 0.0, True),
        (FAN_ON, 1.0, True),
        (FAN_ON, 2.0, False),
    ],
)
def test_air_moves_and_a_fan_runs_within_what_can_be(
    quantity: Quantity, value: float, *, kept: bool
) -> None:
    answer = QualityGate().admit(Reading("vane", quantity, T0_MS, value))
    assert isinstance(answer, Reading) is kept
    if isinstance(answer, Rejected):
        assert answer.reason is RejectReason.OUT_OF_RANGE


def test_air_may_begin_to_move_at_once() -> None:
    gate = QualityGate()
    speeds = [Reading("vane", AIR_SPEED, T0_MS + n, 10.0 * n) for n in range(3)]
    assert run(gate, speeds) == ["kept"] * 3


_stream = st.lists(
    st.builds(
        Reading,
        sensor=st.sampled_from(["a", "b"]),
        quantity=st.sampled_from(Quantity),
        at_ms=st.integers(0, 40).map(lambda minute: T0_MS + 10 * minute * MINUTE_MS),
        value=st.sampled_from([0.0, 0.5, 1.0, 21.0, 24.0, 60.0, 85.0, -127.0]),
        flags=st.sampled_from([0, Flag.TIME_UNKNOWN]),
    ),
    max_size=60,
)


@given(readings=_stream)
def test_every_reading_is_kept_as_it_is_but_for_a_mark_or_refused_by_name(
    readings: list[Reading],
) -> None:
    gate = QualityGate()
    for reading in readings:
        answer = gate.admit(reading)
        if isinstance(answer, Reading):
            assert (answer.at_ms, answer.value) == (reading.at_ms, reading.value)
            assert answer.flags | Flag.FROZEN_PAIR == reading.flags | Flag.FROZEN_PAIR
        else:
            assert answer.detail


@given(readings=_stream, repeat=st.integers(0, 59))
def test_a_message_delivered_twice_changes_no_later_answer(
    readings: list[Reading], repeat: int
) -> None:
    once, twice = QualityGate(), QualityGate()
    for number, reading in enumerate(readings):
        first = twice.admit(reading)
        if number == repeat:
            twice.admit(reading)
        assert outcome(once.admit(reading)) == outcome(first)


@given(readings=_stream)
def test_a_gate_resumed_with_all_it_kept_judges_the_next_alike(readings: list[Reading]) -> None:
    steady = QualityGate(GateLimits(agreeing=10_000))
    kept = [a for a in map(steady.admit, readings) if isinstance(a, Reading)]
    resumed = QualityGate.resume(kept, limits=GateLimits(agreeing=10_000))
    probe = warm(500, 22.0, sensor="a")
    assert outcome(steady.admit(probe)) == outcome(resumed.admit(probe))
