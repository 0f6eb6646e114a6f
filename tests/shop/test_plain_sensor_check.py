"""Checks of sensors and what corrects them, as plain data: percent for people."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.shop.calibration import DAY_MS, Check, Jar, corrections
from curewatch.shop.plain import instant
from curewatch.shop.plain_sensor_check import (
    check_plain,
    correction_plain,
    sensor_trust_plain,
    settling_plain,
    trusted_plain,
)
from curewatch.shop.reading import Quantity, Reading
from curewatch.shop.room import Room, Sensor
from curewatch.shop.salt_jar import Settling, Stage
from curewatch.shop.shop import Shop
from curewatch.shop.trust import Trust, jar_spans
from curewatch.shop.trust_conditions import off_by
from tests.shop.test_standings import untold

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain

HUMIDITY, TEMPERATURE = Quantity.HUMIDITY, Quantity.TEMPERATURE
NOW = 20_000 * DAY_MS
HUNG = NOW - 400 * DAY_MS
CHECKED = NOW - 10 * DAY_MS
H1 = Sensor("h1", "loft", measures=frozenset({TEMPERATURE, HUMIDITY}))
H2, SCALE = Sensor("h2", "booth"), Sensor("scale", "loft", air=False)


def salt(against: str, reference: float, read: float, number: int) -> Check:
    return Check(
        "h1", HUMIDITY, against, reference, 0.008, read, 0.006, 20.0, CHECKED, CHECKED, CHECKED,
        "Ada", "in the loft", number,
    )  # fmt: skip


SALTS = (salt("table", 0.755, 0.715, 1), salt("magnesium", 0.331, 0.311, 2))
WARM = Check(
    "h1", TEMPERATURE, "thermometer", 20.0, 0.1, 19.5, 0.05, None, CHECKED, CHECKED, CHECKED
)


def shop_with(*checks: Check, jars: tuple[Jar, ...] = ()) -> Shop:
    trust = Trust(corrections(checks), jar_spans(jars), {"h1": HUNG})
    return Shop({"loft": Room("loft"), "booth": Room("booth")}, (H1, H2, SCALE), trust=trust)


def names(plain: Plain, part: str, key: str) -> list[object]:
    rows = plain[part]
    assert isinstance(rows, list)
    return [row[key] for row in rows if isinstance(row, dict)]


def test_humidity_is_told_in_percent_and_warmth_in_degrees() -> None:
    humid, warm = check_plain(SALTS[0]), check_plain(WARM)
    assert humid["unit"] == "%"
    keys = ("reference", "reference_error", "read", "read_error")
    assert [humid[key] for key in keys] == pytest.approx([75.5, 0.8, 71.5, 0.6])
    assert warm["unit"] == "degC"
    assert [warm[key] for key in keys] == [20.0, 0.1, 19.5, 0.05]


def test_a_void_check_keeps_its_reason() -> None:
    assert check_plain(WARM)["void_why"] is None
    assert check_plain(WARM, void_why="the jar was open")["void_why"] == "the jar was open"


@pytest.mark.parametrize("check", [SALTS[0], WARM])
def test_every_number_of_a_check_says_where_it_comes_from(check: Check) -> None:
    assert untold(check_plain(check)) == []


def test_a_correction_tells_what_is_added_at_each_point() -> None:
    (made,) = corrections(SALTS)["h1", HUMIDITY]
    plain = correction_plain(made, HUMIDITY)
    points = plain["points"]
    assert isinstance(points, list)
    told = [(p["reads"], p["add"]) for p in points if isinstance(p, dict)]
    assert told == [pytest.approx((31.1, 2.0)), pytest.approx((71.5, 4.0))]
    assert plain["off"] == pytest.approx(4.0)
    assert plain["checked_at"] == instant(CHECKED)
    assert untold(plain) == []


def test_a_thermometer_s_correction_is_in_degrees() -> None:
    (made,) = corrections([WARM])["h1", TEMPERATURE]
    plain = correction_plain(made, TEMPERATURE)
    assert plain["points"] == [{"reads": 19.5, "add": 0.5}]
    assert plain["unit"] == "degC"


def test_a_sensor_without_a_check_is_told_as_its_sheet_says() -> None:
    shop = shop_with()
    plain = sensor_trust_plain(shop, H1, NOW)
    assert plain["humidity_off_pct"] == 100.0 * off_by(shop, H1, HUMIDITY, NOW, None)
    assert plain["temperature_off_k"] == off_by(shop, H1, TEMPERATURE, NOW, None)
    assert (plain["corrections"], plain["checked_at"], plain["jar_since"]) == ([], None, None)
    assert untold(plain) == []


def test_what_a_sensor_does_not_measure_is_not_told() -> None:
    probe = replace(H1, measures=frozenset({TEMPERATURE}))
    plain = sensor_trust_plain(shop_with(), probe, NOW)
    assert [key for key in plain if "_off_" in key] == ["temperature_off_k"]


def test_two_salts_narrow_the_doubt_of_what_it_says_now() -> None:
    shop = shop_with(*SALTS)
    unheard = sensor_trust_plain(shop, H1, NOW)["humidity_off_pct"]
    shop.heard["h1", HUMIDITY] = Reading("h1", HUMIDITY, NOW, 0.5)
    plain = sensor_trust_plain(shop, H1, NOW)
    corrected = shop.trust.value("h1", HUMIDITY, NOW, 0.5)
    assert corrected > 0.52
    assert plain["humidity_off_pct"] == 100.0 * off_by(shop, H1, HUMIDITY, NOW, corrected)
    assert isinstance(unheard, float)
    assert isinstance(plain["humidity_off_pct"], float)
    assert plain["humidity_off_pct"] < unheard
    assert names(plain, "corrections", "quantity") == [HUMIDITY.word]
    assert plain["checked_at"] == instant(CHECKED)


def test_a_sensor_in_its_jar_says_since_when() -> None:
    shop = shop_with(jars=(Jar("h1", "table", NOW - 3_600_000),))
    assert sensor_trust_plain(shop, H1, NOW)["jar_since"] == instant(NOW - 3_600_000)


def test_the_whole_shop_tells_its_air_sensors_and_every_check_void_ones_too() -> None:
    plain = trusted_plain(shop_with(*SALTS), NOW, SALTS, {2: "typed wrong"})
    assert names(plain, "sensors", "sensor") == ["h1", "h2"]
    assert names(plain, "checks", "void_why") == [None, "typed wrong"]


def test_one_sensor_tells_its_own_checks_alone() -> None:
    plain = trusted_plain(shop_with(*SALTS), NOW, SALTS, {}, sensor="h2")
    assert names(plain, "sensors", "sensor") == ["h2"]
    assert plain["checks"] == []


def test_what_is_seen_in_a_jar_is_told_in_percent_and_nothing_where_nothing_is() -> None:
    seen = Settling(Stage.SETTLED, 0.748, 0.001, -0.0005, 20.5, 0.755, 40)
    plain = settling_plain(seen)
    told = [plain[key] for key in ("reads_pct", "scatter_pct", "moved_pct", "keeps_pct")]
    assert told == pytest.approx([74.8, 0.1, -0.05, 75.5])
    assert (plain["stage"], plain["temp_c"], plain["count"]) == (Stage.SETTLED.value, 20.5, 40)
    assert untold(plain) == []
    assert settling_plain(Settling(Stage.SETTLED))["reads_pct"] is None
