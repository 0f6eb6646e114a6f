from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt.client import topic_matches_sub

from curewatch.intake.mapping import (
    SensorMapping,
    TopicTable,
    mapping_faults,
    topic_fault,
    topic_matches,
    zone_named,
)
from curewatch.shop.reading import Quantity

GOOD = SensorMapping("rack", "shop/rack", temperature="/t", humidity="/h")


def test_a_sound_mapping_has_no_faults_and_names_its_quantities() -> None:
    assert mapping_faults(GOOD) == []
    assert GOOD.pointers() == ((Quantity.TEMPERATURE, "/t"), (Quantity.HUMIDITY, "/h"))


@pytest.mark.parametrize(
    ("faulty", "key"),
    [
        (replace(GOOD, sensor=" "), "sensor.id: "),
        (replace(GOOD, topic=""), "sensor.topic: "),
        (replace(GOOD, temperature=None, humidity=None), "sensor: "),
        (replace(GOOD, temperature="t"), "sensor.temperature: "),
        (replace(GOOD, humidity="h"), "sensor.humidity: "),
        (replace(GOOD, mass="m"), "sensor.mass: "),
        (replace(GOOD, mass_unit="lb"), "sensor.mass_unit: 'lb' is not one of 'g', 'mg'"),
        (replace(GOOD, surface_temperature="s"), "sensor.surface_temperature: "),
        (replace(GOOD, time="at"), "sensor.time: "),
        (replace(GOOD, temperature_unit="c"), "sensor.temperature_unit: "),
        (replace(GOOD, humidity_unit="%"), "sensor.humidity_unit: "),
        (replace(GOOD, time_zone="Mars/Olympus"), "sensor.time_zone: "),
        (replace(GOOD, time_zone="Europe"), "sensor.time_zone: "),
        (replace(GOOD, time_zone="../etc"), "sensor.time_zone: "),
        (replace(GOOD, decimal_comma=True), "sensor.decimal_comma: "),
    ],
)
def test_a_fault_is_told_under_its_key(faulty: SensorMapping, key: str) -> None:
    (fault,) = mapping_faults(faulty)
    assert fault.startswith(key)


def test_all_faults_are_told_at_once_under_the_given_path() -> None:
    faulty = replace(GOOD, temperature="t", humidity="h", temperature_unit="X")
    faults = mapping_faults(faulty, where="sensor[3]")
    assert [fault.split(":")[0] for fault in faults] == [
        "sensor[3].temperature",
        "sensor[3].humidity",
        "sensor[3].temperature_unit",
    ]


# MQTT 5.0 (2019), sections 4.7.1.2 and 4.7.1.3: filters named there as valid and as not valid.
@pytest.mark.parametrize(
    "valid", ["sport/tennis/player1/#", "sport/#", "#", "sport/tennis/#", "+", "+/tennis/#"]
)
def test_a_filter_the_standard_calls_valid_is_accepted(valid: str) -> None:
    assert topic_fault(valid) is None


@pytest.mark.parametrize(
    "invalid",
    ["sport/tennis#", "sport/tennis/#/ranking", "sport+", "", "a\0b", "x" * 65536, "$share/a/b"],
)
def test_a_filter_the_standard_calls_invalid_is_refused(invalid: str) -> None:
    assert topic_fault(invalid)


@pytest.mark.parametrize(
    ("topic_filter", "topic", "matches"),
    [
        # MQTT 5.0 (2019), sections 4.7.1.2, 4.7.1.3 and 4.7.2: the examples printed there.
        ("sport/tennis/player1/#", "sport/tennis/player1", True),
        ("sport/tennis/player1/#", "sport/tennis/player1/ranking", True),
        ("sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", True),
        ("sport/#", "sport", True),
        ("sport/tennis/+", "sport/tennis/player1", True),
        ("sport/tennis/+", "sport/tennis/player1/ranking", False),
        ("sport/+", "sport", False),
        ("sport/+", "sport/", True),
        ("+/+", "/finance", True),
        ("/+", "/finance", True),
        ("+", "/finance", False),
        ("#", "$SYS/monitor", False),
        ("+/monitor/Clients", "$SYS/monitor/Clients", False),
        ("$SYS/#", "$SYS/monitor", True),
        ("$SYS/monitor/+", "$SYS/monitor/Clients", True),
    ],
)
def test_topics_match_as_the_standard_says(topic_filter: str, topic: str, matches: bool) -> None:  # noqa: FBT001 - a column of the table
    assert topic_matches(topic_filter, topic) is matches


_level = st.sampled_from(["a", "b", "", "$SYS"])
_topics = st.lists(_level, min_size=1, max_size=4).map("/".join).filter(bool)
_filters = st.tuples(st.lists(_level | st.just("+"), min_size=1, max_size=4), st.booleans()).map(
    lambda parts: "/".join([*parts[0], *(["#"] if parts[1] else [])])
)


@given(topic_filter=_filters.filter(bool), topic=_topics)
def test_topics_match_as_the_client_library_says(topic_filter: str, topic: str) -> None:
    assert topic_matches(topic_filter, topic) == topic_matches_sub(topic_filter, topic)


def test_a_topic_finds_every_mapping_that_reads_it() -> None:
    warm = SensorMapping("rack", "shop/rack/t", temperature="")
    damp = SensorMapping("rack", "shop/rack/h", humidity="")
    every = SensorMapping("any", "shop/#", temperature="/t")
    table = TopicTable([warm, damp, every, replace(damp, sensor="spare")])
    assert table.topics == ("shop/rack/t", "shop/rack/h", "shop/#")
    assert table.for_topic("shop/rack/t") == (warm, every)
    assert [found.sensor for found in table.for_topic("shop/rack/h")] == ["rack", "any", "spare"]
    assert table.for_topic("house/rack") == ()


def test_ever_new_topics_do_not_fill_the_memory() -> None:
    table = TopicTable([SensorMapping("any", "shop/#", temperature="")])
    for number in range(10_000):
        assert len(table.for_topic(f"shop/{number}")) == 1
    assert len(table._known) <= 4096  # noqa: SLF001 - the bound is the behaviour


def test_an_unknown_zone_is_named() -> None:
    with pytest.raises(ValueError, match="Mars/Olympus"):
        zone_named("Mars/Olympus")


def test_a_scale_alone_is_not_in_the_air() -> None:
    scale = SensorMapping("scale", "shop/scale", mass="/m")
    assert scale.pointers() == ((Quantity.MASS, "/m"),)
    assert not scale.in_the_air
    assert replace(scale, temperature="/t").in_the_air
