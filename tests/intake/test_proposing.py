"""From a message that was heard to a mapping that takes it in: guessed, tried, never made up."""

from __future__ import annotations

import json
from dataclasses import asdict

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.intake.listening import HeardTopic
from curewatch.intake.mapping import mapping_faults
from curewatch.intake.proposing import proposed
from curewatch.intake.shape import MOST_PLACES, shape

NOW_MS = 1_700_000_000_000  # 2023-11-14T22:13:20Z


def heard(
    payload: object, *, topic: str = "shop/loft/climate", retained: bool = False
) -> HeardTopic:
    data = payload if isinstance(payload, bytes) else json.dumps(payload).encode()
    return HeardTopic(topic, data, NOW_MS, 1, retained=retained)


def keys(payload: object, **more: str) -> dict[str, object]:
    """Return what the one proposal sets, beside topic and name."""
    (one,) = proposed(heard(payload, **more), zone="UTC")  # type: ignore[arg-type]  # topics
    assert one.readings
    given = {key: value for key, value in asdict(one.mapping).items() if key[0] != "_"}
    usual = {
        "surface_temperature": None, "air_speed": None, "fan_on": None, "mass": None,
        "temperature": None, "humidity": None, "time": None, "temperature_unit": "C",
        "humidity_unit": "percent", "mass_unit": "g", "air_speed_unit": "m/s",
        "unit_codes": "ucum", "format": "json", "numbers_as_strings": False,
        "decimal_comma": False, "time_zone": "UTC", "sensor": given["sensor"],
        "topic": given["topic"],
    }  # fmt: skip
    return {key: value for key, value in given.items() if value != usual[key]}


@pytest.mark.parametrize(
    ("payload", "expected"),
    [
        (
            {"temperature": 21.4, "humidity": 48, "battery": 97},
            {"temperature": "/temperature", "humidity": "/humidity"},
        ),
        (
            {"air": {"t": 21.4, "rh": 0.48}},
            {"temperature": "/air/t", "humidity": "/air/rh", "humidity_unit": "fraction"},
        ),
        ({"tempF": 70.2}, {"temperature": "/tempF", "temperature_unit": "F"}),
        ({"temp": 70.2}, {"temperature": "/temp", "temperature_unit": "F"}),
        ({"temperature": 294.5}, {"temperature": "/temperature", "temperature_unit": "K"}),
        (
            {"temperature": {"value": 21.4, "unit": "Cel"}},
            {"temperature": "/temperature/value", "temperature_unit": "/temperature/unit"},
        ),
        (
            {"temperature": "21,4", "humidity": "48,2"},
            {
                "temperature": "/temperature",
                "humidity": "/humidity",
                "numbers_as_strings": True,
                "decimal_comma": True,
            },
        ),
        (
            {"t": 21.4, "time": "2023-11-14T22:13:00Z"},
            {"temperature": "/t", "time": "/time"},
        ),
        ({"t": 21.4, "time": 1_600_000_000}, {"temperature": "/t"}),
        ({"t": 21.4, "time": "soon"}, {"temperature": "/t"}),
        ({"wood_temp": 19.5}, {"surface_temperature": "/wood_temp"}),
        ({"weight_kg": 0.12}, {"mass": "/weight_kg", "mass_unit": "kg"}),
        ({"air_speed": 0.4, "fan_on": True}, {"air_speed": "/air_speed", "fan_on": "/fan_on"}),
    ],
)
def test_what_stands_where_is_told_by_name_unit_and_size(
    payload: object, expected: dict[str, object]
) -> None:
    assert keys(payload) == expected


@pytest.mark.parametrize(
    ("topic", "payload", "expected"),
    [
        ("shop/loft/temperature", b"21.4", {"temperature": ""}),
        ("shop/loft/humidity", b"48", {"humidity": ""}),
        ("shop/loft/fan", b"ON", {"fan_on": ""}),
        (
            "shop/loft/temp",
            b"21,4",
            {"temperature": "", "numbers_as_strings": True, "decimal_comma": True},
        ),
    ],
)
def test_a_bare_number_is_told_by_the_topic(
    topic: str, payload: bytes, expected: dict[str, object]
) -> None:
    assert keys(payload, topic=topic) == expected


def test_a_pack_gives_a_sensor_for_each_stem_of_its_names() -> None:
    pack = [
        {"bn": "urn:dev:mac:0a:", "n": "temp", "u": "Cel", "v": 21.4},
        {"n": "rh", "u": "%RH", "v": 48},
        {"n": "p", "u": "Pa", "v": 101_325},
        {"bn": "urn:dev:mac:0b:", "n": "x", "u": "kg", "v": 0.12},
    ]
    first, second = proposed(heard(pack), zone="UTC")
    assert first.mapping.humidity == "urn:dev:mac:0a:rh"
    assert second.mapping.mass == "urn:dev:mac:0b:x"
    assert len(first.readings) == 2


@pytest.mark.parametrize(
    "payload",
    [b"", b"\xff\xfe", {"battery": 97}, {"temperature": 850}, {"temperature": None}, [], 21.4],
)
def test_what_is_not_known_or_gives_no_reading_is_not_proposed(payload: object) -> None:
    assert proposed(heard(payload), zone="UTC") == ()


def test_a_time_that_is_not_used_is_said() -> None:
    (one,) = proposed(heard({"t": 21.4, "ts": 1_600_000_000}), zone="UTC")
    assert "the time at '/ts' is not used" in one.unused[0]


def test_a_message_of_many_places_is_shown_in_part() -> None:
    found = shape(json.dumps(list(range(3 * MOST_PLACES))).encode())
    assert len(found) == MOST_PLACES + 1
    assert found[-1].kind == "more"


_names = st.sampled_from(["t", "rh", "temp", "unit", "time", "v", "\ud800", "a/b", "m"])
_json = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=6) | st.sampled_from(["Cel", "%"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_names, inner, max_size=4),
    max_leaves=8,
)


@given(
    payload=st.binary() | _json.map(lambda value: json.dumps(value).encode()),
    topic=st.text(min_size=1).filter(lambda text: "\0" not in text and not set("+#") & set(text)),
)
def test_whatever_is_heard_can_be_shown_and_what_is_proposed_has_no_fault(
    payload: bytes, topic: str
) -> None:
    for spot in shape(payload):
        assert (spot.at + spot.value).encode() is not None
    for one in proposed(heard(payload, topic=topic), zone="UTC"):
        assert one.readings
        assert mapping_faults(one.mapping) == []
