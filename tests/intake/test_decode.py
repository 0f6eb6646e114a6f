import json
import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.intake.decode import LARGEST_PAYLOAD, decode
from curewatch.intake.mapping import SensorMapping
from curewatch.intake.units import UnitCodes
from curewatch.shop.reading import Flag, Origin, Quantity, Reading, Rejected, RejectReason

NOW_MS = 1_700_000_000_000  # 2023-11-14T22:13:20Z
PAIR = SensorMapping("rack", "shop/rack", temperature="/t", humidity="/h")
TIMED = replace(PAIR, time="/at")
BARE = SensorMapping("probe", "shop/probe", temperature="")


def one(mapping: SensorMapping, payload: object, **more: bool) -> Reading | Rejected:
    """Decode a message for a mapping of one quantity."""
    data = payload if isinstance(payload, bytes) else json.dumps(payload).encode()
    (answer,) = decode(
        mapping,
        data,
        received_ms=NOW_MS,
        retained=more.get("retained", False),
        backlog=more.get("backlog", False),
    )
    return answer


def value(answer: Reading | Rejected) -> float:
    assert isinstance(answer, Reading), answer
    return answer.value


def reason(answer: Reading | Rejected) -> RejectReason:
    assert isinstance(answer, Rejected), answer
    assert answer.received_ms == NOW_MS
    return answer.reason


def at(text: object, **changes: object) -> Reading | Rejected:
    mapping = replace(TIMED, humidity=None, **changes)  # type: ignore[arg-type]  # a test's shorthand
    return one(mapping, {"t": 21, "at": text})


def test_a_message_gives_both_its_readings_stamped_on_arrival() -> None:
    answers = decode(PAIR, b'{"t": 21.5, "h": 48}', received_ms=NOW_MS, retained=False)
    assert answers == [
        Reading("rack", Quantity.TEMPERATURE, NOW_MS, 21.5, Origin.ARRIVAL),
        Reading("rack", Quantity.HUMIDITY, NOW_MS, 0.48, Origin.ARRIVAL),
    ]


def test_a_bare_number_is_the_whole_message() -> None:
    assert value(one(BARE, b" 21.4\n")) == 21.4
    assert value(one(BARE, b"\xef\xbb\xbf-3")) == -3.0


@pytest.mark.parametrize(
    ("unit", "sent", "expected_c"),
    [
        ("C", 21.0, 21.0),
        ("F", 185.0, 85.0),
        ("F", 32.0, 0.0),
        ("F", -40.0, -40.0),
        ("K", 273.15, 0),
    ],
)
def test_temperatures_come_out_in_celsius(unit: str, sent: float, expected_c: float) -> None:
    # Fahrenheit: 32 and -40 by definition; 185 F is a probe's power-on value and must stay exact.
    assert value(one(replace(BARE, temperature_unit=unit), sent)) == expected_c


@pytest.mark.parametrize(
    ("unit", "sent", "expected_g"),
    [
        ("g", 120.5, 120.5),
        ("mg", 120500.0, 120.5),
        ("kg", 0.1205, 0.1205e3),
        ("oz", 16.0, 453.59237),
    ],
)
def test_a_mass_comes_out_in_grams(unit: str, sent: float, expected_g: float) -> None:
    """Sixteen avoirdupois ounces are the pound of 453.59237 g (NIST SP 811, B.8)."""
    scale = SensorMapping("scale", "shop/scale", mass="/m", mass_unit=unit)
    answer = one(scale, {"m": sent})
    assert isinstance(answer, Reading)
    assert answer.quantity is Quantity.MASS
    assert answer.value == pytest.approx(expected_g, rel=1e-12)


def test_the_surface_has_the_same_unit() -> None:
    mapping = SensorMapping("s", "s", surface_temperature="/s", temperature_unit="F")
    answer = one(mapping, {"s": 68})
    assert isinstance(answer, Reading)
    assert answer.quantity is Quantity.SURFACE_TEMPERATURE
    assert answer.value == pytest.approx(20.0, abs=1e-12)


@pytest.mark.parametrize(
    ("unit", "sent", "fraction"),
    [
        ("percent", 0, 0.0),
        ("percent", 45, 0.45),
        ("percent", 100, 1.0),
        ("percent", 100.5, 1.0),
        ("fraction", 0.45, 0.45),
        ("fraction", 0.005, 0.005),
        ("fraction", 1.004, 1.0),
    ],
)
def test_humidity_comes_out_as_a_fraction_and_never_above_one(
    unit: str, sent: float, fraction: float
) -> None:
    mapping = SensorMapping("d", "d", humidity="", humidity_unit=unit)
    assert value(one(mapping, sent)) == pytest.approx(fraction, abs=1e-15)


@pytest.mark.parametrize(
    ("unit", "sent", "hint"),
    [
        ("fraction", 45, "unit to 'percent'"),
        ("percent", 0.45, "unit to 'fraction'"),
        ("percent", 100.6, "outside"),
        ("percent", -1, "outside"),
        ("fraction", -0.1, "outside"),
        ("fraction", 300, "outside"),
    ],
)
def test_an_impossible_humidity_is_refused_and_mixed_units_are_named(
    unit: str, sent: float, hint: str
) -> None:
    answer = one(SensorMapping("d", "d", humidity="", humidity_unit=unit), sent)
    assert reason(answer) is RejectReason.OUT_OF_RANGE
    assert isinstance(answer, Rejected)
    assert hint in answer.detail


@pytest.mark.parametrize(
    ("payload", "expected"),
    [
        (b"true", RejectReason.NOT_A_NUMBER),
        (b"null", RejectReason.NOT_A_NUMBER),
        (b"NaN", RejectReason.NOT_A_NUMBER),
        (b"-Infinity", RejectReason.NOT_A_NUMBER),
        (b"1e999", RejectReason.NOT_A_NUMBER),
        (b"9" * 5000, RejectReason.NOT_A_NUMBER),
        (b'"21.4"', RejectReason.NOT_A_NUMBER),
        (b"[21.4]", RejectReason.NOT_A_NUMBER),
        (b'{"value": 21.4}', RejectReason.NOT_A_NUMBER),
        (b"", RejectReason.NOT_JSON),
        (b"unavailable", RejectReason.NOT_JSON),
        (b"21,4", RejectReason.NOT_JSON),
        (b"[" * 60_000, RejectReason.NOT_JSON),
        (b"\xff\xfe2\x001\x00", RejectReason.NOT_TEXT),
        (b"1" * (LARGEST_PAYLOAD + 1), RejectReason.TOO_LARGE),
    ],
)
def test_what_is_not_a_number_is_refused_with_its_reason(
    payload: bytes, expected: RejectReason
) -> None:
    assert reason(one(BARE, payload)) is expected


def test_a_part_that_is_missing_does_not_cost_the_other() -> None:
    kept, refused = decode(PAIR, b'{"t": 21.5}', received_ms=NOW_MS, retained=False)
    assert isinstance(kept, Reading)
    assert reason(refused) is RejectReason.MISSING
    assert refused.quantity is Quantity.HUMIDITY


def test_strings_are_numbers_only_where_declared() -> None:
    declared = replace(BARE, numbers_as_strings=True)
    assert value(one(declared, b'" 21.4 "')) == 21.4
    assert value(one(declared, b"+21.4")) == 21.4  # not JSON, but text
    for text in ("21,4", "unavailable", "", "nan", "1_0", "٢١", "0x10", "21.4 C", "1.2.3"):
        assert reason(one(declared, text)) is RejectReason.NOT_A_NUMBER


def test_a_decimal_comma_is_read_only_where_declared() -> None:
    declared = replace(BARE, numbers_as_strings=True, decimal_comma=True)
    assert value(one(declared, b"21,4")) == 21.4
    assert value(one(declared, b'"21,4"')) == 21.4
    assert value(one(declared, b'"21.4"')) == 21.4
    assert reason(one(declared, b'"1.234,5"')) is RejectReason.NOT_A_NUMBER


def test_text_that_is_no_json_is_refused_where_a_member_is_wanted() -> None:
    declared = replace(PAIR, humidity=None, numbers_as_strings=True)
    assert reason(one(declared, b"21,4")) is RejectReason.NOT_JSON


@pytest.mark.parametrize(
    "text",
    [
        "2023-11-14T22:10:00Z",
        "2023-11-14t22:10z",
        "2023-11-14 22:10:00+00:00",
        "2023-11-14T23:10:00+0100",
        "2023-11-14T22:10:00.000Z",
        "2023-11-14T22:10",
        1_699_999_800,
        1_699_999_800.0,
        1_699_999_800_000,
    ],
)
def test_one_instant_is_read_in_every_form(text: object) -> None:
    answer = at(text)
    assert isinstance(answer, Reading), answer
    assert (answer.at_ms, answer.origin) == (1_699_999_800_000, Origin.OWN_TIME)


def test_a_time_without_offset_is_read_in_the_declared_zone() -> None:
    answer = at("2023-11-14T23:10:00", time_zone="Europe/Berlin")
    assert isinstance(answer, Reading)
    assert answer.at_ms == 1_699_999_800_000


def test_in_the_doubled_hour_the_passage_nearer_to_the_arrival_is_meant() -> None:
    # Summer time ended in Berlin on 2023-10-29 at 01:00Z; 02:30 was 00:30Z and again 01:30Z.
    mapping = replace(TIMED, humidity=None, time_zone="Europe/Berlin")
    payload = b'{"t": 21, "at": "2023-10-29T02:30:00"}'
    for passage_ms in (1_698_539_400_000, 1_698_543_000_000):
        (answer,) = decode(mapping, payload, received_ms=passage_ms + 2000, retained=False)
        assert isinstance(answer, Reading)
        assert answer.at_ms == passage_ms


def test_unix_time_as_text_is_read_only_where_declared() -> None:
    assert reason(at("1699999800")) is RejectReason.BAD_TIME
    answer = at("1699999800", numbers_as_strings=True)
    assert isinstance(answer, Reading)
    assert answer.at_ms == 1_699_999_800_000


@pytest.mark.parametrize(
    "text",
    [
        *(
            "yesterday",
            "",
            "2023-11-14",
            "2023-13-01T00:00",
            "2023-11-14T25:00",
            "14/11/2023 22:10",
        ),
        *(True, None, {}, [], -5, 0, 946_684_799, "1999-12-31T23:59:59Z", 1e14, 1.7e18, math.nan),
        *("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00x"),
    ],
)
def test_an_unreadable_time_is_bad(text: object) -> None:
    assert reason(at(text)) is RejectReason.BAD_TIME


def test_a_missing_time_is_bad_for_every_quantity() -> None:
    answers = decode(TIMED, b'{"t": 21, "h": 50}', received_ms=NOW_MS, retained=False)
    assert [reason(answer) for answer in answers] == [RejectReason.BAD_TIME] * 2


def test_a_time_ahead_of_arrival_is_refused_beyond_five_minutes() -> None:
    assert isinstance(at(NOW_MS + 300_000), Reading)
    assert reason(at(NOW_MS + 300_001)) is RejectReason.FUTURE_TIME
    assert reason(at("9999-12-31T23:59:59Z")) is RejectReason.FUTURE_TIME


def test_a_retained_message_counts_only_with_a_time_of_its_own() -> None:
    assert reason(one(BARE, 21, retained=True)) is RejectReason.RETAINED_REPLAY
    (answer, _) = decode(
        TIMED, b'{"t": 21, "h": 50, "at": 1699999800}', received_ms=NOW_MS, retained=True
    )
    assert answer == Reading("rack", Quantity.TEMPERATURE, 1_699_999_800_000, 21.0)


def test_a_backlog_without_times_is_kept_as_of_unknown_time() -> None:
    waited = one(BARE, 21, backlog=True)
    assert waited == Reading(
        "probe", Quantity.TEMPERATURE, NOW_MS, 21.0, Origin.ARRIVAL, Flag.TIME_UNKNOWN
    )
    (own, _) = decode(
        TIMED, b'{"t":21,"h":50,"at":1699999800}', received_ms=NOW_MS, retained=False, backlog=True
    )
    assert isinstance(own, Reading)
    assert own.flags == 0


def test_a_refusal_can_be_stored_whatever_was_sent() -> None:
    answer = one(BARE, rb'"\ud800\u0000 and much more than forty characters of it, on and on"')
    assert isinstance(answer, Rejected)
    assert answer.detail.encode()
    assert len(answer.detail) < 120


NESTED = SensorMapping(
    "x",
    "t",
    temperature="/air/0/value",
    humidity="/air/1/value",
    temperature_unit="/air/0/unit",
    humidity_unit="/air/1/unit",
)


@pytest.mark.parametrize(
    ("temp", "temp_unit", "expected_c"),
    [(68.0, "[degF]", 20.0), (293.15, "K", 20.0), (20.0, "Cel", 20.0), (20.0, "\u00b0C", 20.0)],
)
def test_the_unit_is_taken_from_the_message_where_it_says_so(
    temp: float, temp_unit: str, expected_c: float
) -> None:
    sent = {"air": [{"value": temp, "unit": temp_unit}, {"value": 48, "unit": "%"}]}
    first, second = decode(NESTED, json.dumps(sent).encode(), received_ms=NOW_MS, retained=False)
    assert value(first) == pytest.approx(expected_c)
    assert value(second) == 0.48


def test_a_per_cent_sign_is_percent_in_ucum_and_a_ratio_in_senml() -> None:
    mapping = replace(PAIR, temperature=None, humidity_unit="/u")
    sent = {"h": 0.48, "u": "%"}
    assert reason(one(mapping, sent)) is RejectReason.OUT_OF_RANGE
    assert value(one(replace(mapping, unit_codes=UnitCodes.SENML), sent)) == 0.48


@pytest.mark.parametrize("unit", ["C", "%", "", None, 4, ["Cel"], {"Cel": 1}])
def test_a_unit_that_is_not_known_refuses_the_value_by_name(unit: object) -> None:
    mapping = replace(PAIR, humidity=None, temperature_unit="/u")
    answer = one(mapping, {"t": 21.4, "u": unit})
    assert reason(answer) is RejectReason.UNKNOWN_UNIT
    assert reason(one(mapping, {"t": 21.4})) is RejectReason.UNKNOWN_UNIT


@pytest.mark.parametrize(
    ("unit", "sent", "expected_m_s"),
    [("m/s", 0.5, 0.5), ("km/h", 1.8, 0.5), ("ft/min", 100.0, 0.508)],
)
def test_air_speed_comes_out_in_metres_a_second(
    unit: str, sent: float, expected_m_s: float
) -> None:
    """A foot is 0.3048 m (NIST SP 811, B.8), so 100 ft/min are 0.508 m/s."""
    mapping = SensorMapping("vane", "shop/vane", air_speed="/v", air_speed_unit=unit)
    answer = one(mapping, {"v": sent})
    assert answer.quantity is Quantity.AIR_SPEED
    assert value(answer) == pytest.approx(expected_m_s)


@pytest.mark.parametrize(
    ("sent", "expected"),
    [
        (b"ON", 1.0),
        (b"off", 0.0),
        (b"true", 1.0),
        (b"false", 0.0),
        (b'"On"', 1.0),
        (b"1", 1.0),
        (b"0", 0.0),
        (b"35.5", 1.0),
    ],
)
def test_a_fan_runs_or_stands(sent: bytes, expected: float) -> None:
    answer = one(SensorMapping("fan", "shop/fan", fan_on=""), sent)
    assert answer.quantity is Quantity.FAN_ON
    assert value(answer) == expected


@pytest.mark.parametrize("sent", [b"maybe", b"-1", b"null", b"[]", b"NaN", b'""'])
def test_a_fan_that_says_neither_is_refused(sent: bytes) -> None:
    mapping = SensorMapping("fan", "shop/fan", fan_on="")
    assert reason(one(mapping, sent)) is RejectReason.NOT_A_NUMBER


def test_a_number_too_large_for_its_unit_is_refused() -> None:
    mapping = SensorMapping("scale", "t", mass="", mass_unit="kg")
    assert reason(one(mapping, b"1e308")) is RejectReason.NOT_A_NUMBER


_keys = st.sampled_from(["t", "h", "at", "0"])
_json = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_keys, inner, max_size=3),
    max_leaves=8,
)
_pointer = st.sampled_from([None, "", "/t", "/h", "/at", "/t/0", "/0"])
_mappings = st.builds(
    SensorMapping,
    sensor=st.just("s"),
    topic=st.just("s"),
    temperature=_pointer,
    humidity=_pointer,
    surface_temperature=_pointer,
    mass=_pointer,
    fan_on=_pointer,
    temperature_unit=st.sampled_from([*"CFK", "/h", "/at"]),
    humidity_unit=st.sampled_from(["percent", "fraction", "/t"]),
    mass_unit=st.sampled_from(["kg", "oz"]),
    time=_pointer,
    time_zone=st.sampled_from(["UTC", "Europe/Berlin", "Australia/Lord_Howe"]),
    numbers_as_strings=st.booleans(),
    decimal_comma=st.booleans(),
)
_times = st.datetimes().map(str) | st.floats() | st.integers(0, 2_000_000_000)
_messages = st.fixed_dictionaries({}, optional={"t": _json, "h": _json, "at": _times | _json})


@given(
    mapping=_mappings,
    payload=st.binary() | (_json | _messages).map(lambda value: json.dumps(value).encode()),
    retained=st.booleans(),
    backlog=st.booleans(),
)
def test_any_bytes_give_one_reading_or_one_named_rejection_for_each_quantity(
    mapping: SensorMapping,
    payload: bytes,
    retained: bool,  # noqa: FBT001 - drawn by name
    backlog: bool,  # noqa: FBT001 - drawn by name
) -> None:
    answers = decode(mapping, payload, received_ms=NOW_MS, retained=retained, backlog=backlog)
    assert [answer.quantity for answer in answers] == [q for q, _ in mapping.pointers()]
    for answer in answers:
        if isinstance(answer, Reading):
            assert math.isfinite(answer.value)
            assert 946_684_800_000 <= answer.at_ms <= NOW_MS + 300_000
        else:
            assert answer.detail
            assert answer.detail.encode()
