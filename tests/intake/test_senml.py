"""SenML packs: what their records come to, and what no pack may be used for.

The rules are those of RFC 8428, sections 4.1 to 4.6; the packs here are made up.
"""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.intake.decode import decode
from curewatch.intake.mapping import Format, SensorMapping, mapping_faults
from curewatch.intake.senml import PackFault, Record, names, records
from curewatch.shop.reading import Flag, Origin, Quantity, Reading, Rejected, RejectReason

NOW_MS = 1_700_000_000_000
NOW_S = NOW_MS / 1000
LOFT = SensorMapping(
    "loft",
    "shop/packs",
    temperature="urn:dev:mac:01:temp",
    humidity="urn:dev:mac:01:rh",
    format=Format.SENML,
)
SCALE = SensorMapping("scale", "shop/packs", mass="urn:dev:mac:02:m", format=Format.SENML)


def parsed(pack: object) -> object:
    return json.loads(json.dumps(pack), parse_int=float)


def told(
    mapping: SensorMapping, pack: object, *, retained: bool = False, backlog: bool = False
) -> list[Reading | Rejected]:
    data = json.dumps(pack).encode()
    return decode(mapping, data, received_ms=NOW_MS, retained=retained, backlog=backlog)


def values(answers: list[Reading | Rejected]) -> list[tuple[str, float]]:
    return [(a.quantity.word, a.value) for a in answers if isinstance(a, Reading)]


def reasons(answers: list[Reading | Rejected]) -> set[RejectReason]:
    return {a.reason for a in answers if isinstance(a, Rejected)}


def test_base_values_hold_until_others_replace_them() -> None:
    pack = [
        {"bn": "urn:dev:mac:01:", "bt": 1_700_000_000, "bu": "Cel", "n": "temp", "v": 21.5},
        {"n": "rh", "u": "%RH", "v": 48, "t": -2},
        {"bn": "urn:dev:mac:03:", "bv": 20, "n": "temp", "v": 1.5},
    ]
    assert records(parsed(pack)) == [
        Record("urn:dev:mac:01:temp", "Cel", 21.5, 1_700_000_000.0),
        Record("urn:dev:mac:01:rh", "%RH", 48.0, 1_699_999_998.0),
        Record("urn:dev:mac:03:temp", "Cel", 21.5, 1_700_000_000.0),
    ]


def test_a_pack_gives_the_readings_of_the_names_that_are_mapped() -> None:
    pack = [
        {"bn": "urn:dev:mac:01:", "n": "temp", "u": "Cel", "v": 21.5},
        {"n": "rh", "u": "%RH", "v": 48},
        {"n": "pressure", "u": "Pa", "v": 101_325},
        {"n": "state", "vs": "well"},
    ]
    assert told(LOFT, pack) == [
        Reading("loft", Quantity.TEMPERATURE, NOW_MS, 21.5, Origin.ARRIVAL),
        Reading("loft", Quantity.HUMIDITY, NOW_MS, 0.48, Origin.ARRIVAL),
    ]
    assert told(SCALE, pack) == []


@pytest.mark.parametrize(
    ("unit", "sent", "expected"),
    [("%RH", 48.0, 0.48), ("%", 0.48, 0.48), ("/", 0.48, 0.48), ("/100", 48.0, 0.48)],
)
def test_the_per_cent_sign_is_a_ratio_and_percent_of_humidity_is_not(
    unit: str, sent: float, expected: float
) -> None:
    """RFC 8428, section 12.1, note 1 on '%' and '/'; RFC 8798, section 3, on '/100'."""
    answers = told(LOFT, [{"n": "urn:dev:mac:01:rh", "u": unit, "v": sent}])
    ((word, found),) = values(answers)
    assert word == "humidity"
    assert found == pytest.approx(expected)


def test_a_ratio_of_forty_eight_is_refused_with_what_it_looks_like() -> None:
    (answer,) = told(LOFT, [{"n": "urn:dev:mac:01:rh", "u": "%", "v": 48}])
    assert isinstance(answer, Rejected)
    assert answer.reason is RejectReason.OUT_OF_RANGE
    assert "percent" in answer.detail


@pytest.mark.parametrize(
    ("mapping", "name", "unit", "sent", "expected"),
    [
        (LOFT, "urn:dev:mac:01:temp", "K", 293.15, 20.0),
        (SCALE, "urn:dev:mac:02:m", "kg", 0.1205, 120.5),
        (SCALE, "urn:dev:mac:02:m", "g", 120.5, 120.5),
    ],
)
def test_units_of_the_pack_are_told_in_our_own(
    mapping: SensorMapping, name: str, unit: str, sent: float, expected: float
) -> None:
    (answer,) = told(mapping, [{"n": name, "u": unit, "v": sent}])
    assert isinstance(answer, Reading)
    assert answer.value == pytest.approx(expected)


def test_air_speed_and_a_fan_come_in_a_pack_too() -> None:
    mapping = SensorMapping("fan", "shop/packs", air_speed="a", fan_on="f", format=Format.SENML)
    pack = [{"n": "a", "u": "m/s", "v": 0.4}, {"n": "f", "vb": True}]
    assert values(told(mapping, pack)) == [("air_speed", 0.4), ("fan_on", 1.0)]


def test_a_unit_that_fits_no_such_quantity_is_refused_by_name() -> None:
    (answer,) = told(LOFT, [{"n": "urn:dev:mac:01:temp", "u": "Pa", "v": 101_325}])
    assert isinstance(answer, Rejected)
    assert answer.reason is RejectReason.UNKNOWN_UNIT
    assert "'Pa'" in answer.detail
    assert "Cel" in answer.detail


def test_the_unit_set_counts_where_the_pack_says_none() -> None:
    (answer,) = told(
        SensorMapping("x", "t", temperature="n", temperature_unit="F", format=Format.SENML),
        [{"n": "n", "v": 212}],
    )
    assert isinstance(answer, Reading)
    assert answer.value == 100.0


def test_small_times_count_from_now_and_large_ones_are_unix_time() -> None:
    """RFC 8428, section 4.5.3: below 2**28 a time is relative."""
    pack = [
        {"bn": "urn:dev:mac:01:", "n": "temp", "u": "Cel", "v": 20, "t": -600},
        {"n": "temp", "u": "Cel", "v": 21, "t": NOW_S - 60},
        {"n": "temp", "u": "Cel", "v": 22},
    ]
    found = [a for a in told(LOFT, pack) if isinstance(a, Reading)]
    assert [(a.at_ms - NOW_MS, a.origin) for a in found] == [
        (-600_000, Origin.ARRIVAL),
        (-60_000, Origin.OWN_TIME),
        (0, Origin.ARRIVAL),
    ]


def test_what_the_broker_repeats_counts_only_with_unix_time() -> None:
    pack = [
        {"bn": "urn:dev:mac:01:", "n": "temp", "u": "Cel", "v": 20, "t": -600},
        {"n": "rh", "u": "%RH", "v": 48, "t": NOW_S - 60},
    ]
    answers = told(LOFT, pack, retained=True)
    assert reasons(answers) == {RejectReason.RETAINED_REPLAY}
    assert values(answers) == [("humidity", 0.48)]


def test_a_backlog_of_relative_times_is_of_unknown_time() -> None:
    pack = [{"n": "urn:dev:mac:01:temp", "u": "Cel", "v": 20, "t": -600}]
    (answer,) = told(LOFT, pack, backlog=True)
    assert isinstance(answer, Reading)
    assert answer.flags == Flag.TIME_UNKNOWN


@pytest.mark.parametrize(
    ("time_s", "reason"),
    [
        (3600, RejectReason.FUTURE_TIME),
        (NOW_S + 3600, RejectReason.FUTURE_TIME),
        (300_000_000, RejectReason.BAD_TIME),  # 1979: a clock that was never set
        (-1e15, RejectReason.BAD_TIME),
        (1e18, RejectReason.BAD_TIME),
    ],
)
def test_a_time_nobody_can_have_measured_at_is_refused(time_s: float, reason: RejectReason) -> None:
    pack = [{"n": "urn:dev:mac:01:temp", "u": "Cel", "v": 20, "t": time_s}]
    assert reasons(told(LOFT, pack)) == {reason}


@pytest.mark.parametrize(
    "pack",
    [
        {"n": "x", "v": 1},
        ["x"],
        [{"bver": 11, "n": "x", "v": 1}],
        [{"n": "x", "v": 1, "crypt_": True}],
        [{"n": 4, "v": 1}],
        [{"n": "x", "v": "21.4"}],
        [{"n": "x", "t": None, "v": 1}],
        [{"bn": "x", "bt": True, "v": 1}],
        [{"n": "x", "v": math.inf}],
    ],
)
def test_what_is_no_pack_or_must_not_be_used_is_refused_as_a_whole(pack: object) -> None:
    with pytest.raises(PackFault):
        records(parsed(pack))
    assert reasons(told(LOFT, pack)) == {RejectReason.NOT_SENML}


def test_the_version_this_is_written_for_is_read() -> None:
    (record,) = records(parsed([{"bver": 10, "n": "x", "v": 1}]))
    assert record.value == 1.0


def test_text_is_a_number_only_where_that_is_declared() -> None:
    pack = [{"n": "n", "u": "Cel", "vs": "21,4"}]
    plain = SensorMapping("x", "t", temperature="n", format=Format.SENML)
    assert reasons(told(plain, pack)) == {RejectReason.NOT_A_NUMBER}
    declared = SensorMapping(
        "x",
        "t",
        temperature="n",
        format=Format.SENML,
        numbers_as_strings=True,
        decimal_comma=True,
    )
    assert values(told(declared, pack)) == [("temperature", 21.4)]


def test_binary_packs_are_refused_and_not_misread() -> None:
    cbor = bytes.fromhex("81a2006178024014")  # [{"n": "x", "v": ...}] with integer labels
    answers = decode(LOFT, cbor, received_ms=NOW_MS, retained=False)
    assert reasons(answers) == {RejectReason.NOT_TEXT}


def test_names_are_told_once_each() -> None:
    pack = parsed([{"bn": "a", "n": "1", "v": 1}, {"n": "2", "v": 2}, {"n": "1", "v": 3}])
    assert names(records(pack)) == ("a1", "a2")


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"temperature": "/t"}, "temperature"),
        ({"temperature": ""}, "temperature"),
        ({"time": "/t"}, "time"),
        ({"temperature_unit": "/u"}, "temperature_unit"),
    ],
)
def test_a_mapping_of_a_pack_has_names_and_no_pointers(changes: dict[str, str], key: str) -> None:
    given = {"temperature": "n", "format": Format.SENML, **changes}
    (fault,) = mapping_faults(SensorMapping("x", "t", **given))  # type: ignore[arg-type]  # a test's shorthand
    assert fault.startswith(f"sensor.{key}: ")


_labels = st.sampled_from(["n", "u", "v", "vs", "vb", "t", "bn", "bt", "bu", "bv", "bver", "x_"])
_scalars = (
    st.none()
    | st.booleans()
    | st.floats()
    | st.sampled_from(["t", "h", "Cel", "%RH", "%", "K", "21,4"])
    | st.integers(-1000, 2**31)
)
_records = st.dictionaries(_labels, _scalars, max_size=5)
_good = st.fixed_dictionaries(
    {"n": st.sampled_from(["t", "h"]), "v": st.floats(allow_nan=False, allow_infinity=False)},
    optional={
        "u": st.sampled_from(["Cel", "K", "%RH", "%"]),
        "t": st.floats(-1e4, 1e10),
        "bv": st.floats(-1e308, 1e308),
    },
)


@given(
    payload=st.binary()
    | st.lists(_records | _good, max_size=4).map(lambda pack: json.dumps(pack).encode())
    | st.lists(_good, max_size=4).map(lambda pack: json.dumps(pack).encode()),
    retained=st.booleans(),
    backlog=st.booleans(),
    as_strings=st.booleans(),
)
def test_any_pack_gives_readings_or_named_rejections(
    payload: bytes,
    retained: bool,  # noqa: FBT001 - drawn by name
    backlog: bool,  # noqa: FBT001 - drawn by name
    as_strings: bool,  # noqa: FBT001 - drawn by name
) -> None:
    mapping = SensorMapping(
        "x",
        "t",
        temperature="t",
        humidity="h",
        format=Format.SENML,
        numbers_as_strings=as_strings,
        decimal_comma=as_strings,
    )
    for answer in decode(mapping, payload, received_ms=NOW_MS, retained=retained, backlog=backlog):
        if isinstance(answer, Reading):
            assert math.isfinite(answer.value)
            assert 946_684_800_000 <= answer.at_ms <= NOW_MS + 300_000
        else:
            assert answer.detail.encode()
