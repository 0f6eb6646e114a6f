"""Checking a sensor by command: into a jar, settled, kept, hung again, taken back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import jsonschema
import numpy as np
import pytest

from curewatch.shop.reading import Origin, Quantity, Reading
from tests.cli.conftest import HOUR_MS, NOW_MS
from tests.shop.test_standings import untold

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch

    Kept = Callable[[], Store]

SCHEMA = Path(__file__).parents[2] / "docs" / "schemas" / "sensor-checks.schema.json"
CALIBRATE = ("sensor", "calibrate", "drying-air")


def hears(kept: Kept, rh: float, *, hours: float = 6.0, rise: float = 0.0) -> None:
    """Keep what the sensor says in the hours before now: humidity that rises at the end."""
    with kept() as store:
        for minute in range(0, round(hours * 60) + 1, 10):
            at_ms = NOW_MS - minute * 60_000
            value = rh - rise * np.log1p(minute / 60.0)
            store.readings.add(
                [
                    Reading("drying-air", Quantity.TEMPERATURE, at_ms, 20.0, Origin.OWN_TIME),
                    Reading("drying-air", Quantity.HUMIDITY, at_ms, float(value), Origin.OWN_TIME),
                ]
            )


def test_without_a_jar_the_steps_and_the_salts_are_said(curewatch: Curewatch, kept: Kept) -> None:
    hears(kept, 0.45)
    said = curewatch(*CALIBRATE)
    assert said.narrow()
    assert "never a solution" in said.flat
    assert "equally warm" in said.flat
    assert "magnesium: magnesium chloride" in said.flat
    told = curewatch(*CALIBRATE, "--json").plain
    assert told["jar"] is None
    assert set(told["salts"]) == {"table", "magnesium", "carbonate", "potassium"}


def test_a_sensor_is_watched_until_it_has_settled_and_then_kept(
    curewatch: Curewatch, kept: Kept
) -> None:
    hears(kept, 0.735)
    said = curewatch(*CALIBRATE, "--salt", "table", "--at", "6h ago", "--who", "ann")
    assert "over table salt since today 6:00" in said.flat
    assert "It says 73.5 %; the salt keeps 75.5 %. Settled." in said.flat
    said = curewatch(*CALIBRATE, "--record", "--note", "jam jar")
    assert "corrected by +2.0 points where it says 73.5 %" in said.flat
    assert "one point says little of the rest" in said.flat
    (check,) = curewatch("sensor", "checks", "--json").plain["checks"]
    assert (check["against"], check["who"], check["note"]) == ("table", "ann", "jam jar")
    assert check["reference"] == pytest.approx(75.479, abs=1e-3)
    assert check["read"] == pytest.approx(73.5)


def test_what_still_drifts_is_not_kept(curewatch: Curewatch, kept: Kept) -> None:
    hears(kept, 0.735, rise=0.02)
    assert (
        "Still drifting, wait." in curewatch(*CALIBRATE, "--salt", "table", "--at", "6h ago").flat
    )
    said = curewatch(*CALIBRATE, "--record", status=2).complaint
    assert "drying-air over table salt: still drifting, wait" in said
    assert curewatch("sensor", "checks", "--json").plain["checks"] == []


def test_a_jar_just_closed_is_too_soon(curewatch: Curewatch, kept: Kept) -> None:
    hears(kept, 0.735)
    assert "Too soon" in curewatch(*CALIBRATE, "--salt", "table", "--at", "2h ago").flat


def test_two_salts_make_a_line_and_uncheck_takes_one_back(curewatch: Curewatch, kept: Kept) -> None:
    hears(kept, 0.735)
    curewatch(*CALIBRATE, "--salt", "table", "--at", "6h ago")
    curewatch(*CALIBRATE, "--record")
    with kept() as store:
        store.readings.void("drying-air", 0, NOW_MS + 1, "jar", NOW_MS, quantity=Quantity.HUMIDITY)
    hears(kept, 0.345, hours=5.9)
    curewatch(*CALIBRATE, "--salt", "magnesium", "--at", "5h ago")
    told = curewatch(*CALIBRATE, "--record", "--json").plain
    points = told["correction"]["points"]
    assert [p["reads"] for p in points] == pytest.approx([34.5, 73.5])
    assert [p["add"] for p in points] == pytest.approx([-1.43, 1.98], abs=0.01)
    assert told["correction"]["error"] < 1.6
    gone = curewatch("sensor", "uncheck", str(told["check"]["id"]), "--why", "salt was dry")
    assert "no longer counts: salt was dry" in gone.flat
    listed = curewatch("sensor", "checks")
    assert "void: salt was dry" in listed.flat
    assert "+2.0 points where it says 73.5 %, known" in listed.flat


def test_a_sensor_too_far_off_is_to_be_replaced(curewatch: Curewatch, kept: Kept) -> None:
    hears(kept, 0.62)
    curewatch(*CALIBRATE, "--salt", "table", "--at", "6h ago")
    said = curewatch(*CALIBRATE, "--record", status=1)
    assert "replace the sensor: it would need +13.5 points" in said.flat
    curewatch(*CALIBRATE, "--renewed")
    assert "new, and not checked yet" in curewatch("sensor", "checks").flat


def test_a_thermometer_beside_it_gives_one_point(curewatch: Curewatch, kept: Kept) -> None:
    hears(kept, 0.45)
    said = curewatch(*CALIBRATE, "--beside", "19.4", "--error", "0.2")
    assert "corrected by -0.6 K where it says 20.0 °C, known to 0.2 K" in said.flat
    assert "needs --error" in curewatch(*CALIBRATE, "--beside", "19.4", status=2).complaint
    unsure = curewatch(*CALIBRATE, "--beside", "19.4", "--error", "5", status=2)
    assert "checks nothing" in unsure.complaint
    said = curewatch(*CALIBRATE, "--beside", "19", "--error", "0.2", "--surface", status=2)
    assert "told its surface temperature 0 times" in said.complaint


def test_a_thermometer_far_from_the_sensor_is_asked_back(curewatch: Curewatch, kept: Kept) -> None:
    hears(kept, 0.45)
    asked = curewatch(*CALIBRATE, "--beside", "68", "--error", "0.2", status=2).complaint
    assert "says 20.0 °C: 48.0 K apart, and more than 2.0 K means replacing" in asked
    assert "Is it in °F?" in asked
    assert "add --really" in asked
    assert curewatch("sensor", "checks", "--json").plain["checks"] == []
    curewatch(*CALIBRATE, "--beside", "22", "--error", "0.2")
    said = curewatch(*CALIBRATE, "--beside", "68", "--error", "0.2", "--really", status=1)
    assert "replace the sensor: it would need +48.0 K" in said.flat


@pytest.mark.parametrize("shows", ["nan", "inf", "-300", "900"])
def test_what_no_thermometer_shows_is_not_kept(
    curewatch: Curewatch, kept: Kept, shows: str
) -> None:
    hears(kept, 0.45)
    said = curewatch(*CALIBRATE, f"--beside={shows}", "--error", "0.2", status=2).complaint
    assert "is mistyped: it can be -40.0 °C to 80.0 °C" in said
    assert curewatch("sensor", "checks", "--json").plain["checks"] == []


def test_a_sensor_hung_again_is_in_no_jar(curewatch: Curewatch, kept: Kept) -> None:
    hears(kept, 0.735)
    curewatch(*CALIBRATE, "--salt", "table", "--at", "6h ago")
    said = curewatch(*CALIBRATE, "--back", "--at", "1h ago").flat
    assert "hangs in its room again since today 11:00; nothing was recorded from this jar." in said
    assert "Its readings count from today 11:30" in said
    assert "never a solution" not in said
    assert "is in no jar" in curewatch(*CALIBRATE).flat
    with kept() as store:
        (jar,) = store.sensor_checks.jars()
    assert jar.stop_ms == NOW_MS - HOUR_MS
    assert "put it over a salt first" in curewatch(*CALIBRATE, "--record", status=2).complaint


def test_a_sensor_hung_again_names_the_check_its_jar_gave(curewatch: Curewatch, kept: Kept) -> None:
    hears(kept, 0.735)
    curewatch(*CALIBRATE, "--salt", "table", "--at", "6h ago")
    curewatch(*CALIBRATE, "--record")
    said = curewatch(*CALIBRATE, "--back").flat
    assert "since today 12:00; check 1 against table salt came from this jar." in said


def test_a_rooms_only_sensor_in_a_jar_is_named_wherever_the_room_is_judged(
    curewatch: Curewatch, kept: Kept
) -> None:
    hears(kept, 0.45)
    before = curewatch("check", "drying", "--finish", "waterborne", "--json").plain
    assert before["temp_c"] is not None
    said = curewatch(*CALIBRATE, "--salt", "table", "--at", "1h ago").flat
    assert "drying has no other sensor for its humidity: no verdict there until it is back." in said
    why = "drying-air is in a jar: the room is not measured"
    told = curewatch("check", "drying", "--finish", "waterborne", "--json", status=30).plain
    assert told["reasons"] == [why]
    for command in (("room", "show", "drying"), ("status",), ("sensor", "list")):
        assert why in curewatch(*command).flat
    curewatch(*CALIBRATE, "--back")
    assert "its readings count from today 12:30" in curewatch("status").flat


def test_what_does_not_go_together_is_refused(curewatch: Curewatch, kept: Kept) -> None:
    hears(kept, 0.45)
    said = curewatch(*CALIBRATE, "--salt", "table", "--note", "x", status=2).complaint
    assert "--note goes with another step" in said
    said = curewatch("sensor", "calibrate", "dryingair", status=2).complaint
    assert "did you mean drying-air?" in said
    assert "not the number" in curewatch("sensor", "uncheck", "x", "--why", "y", status=2).complaint


def test_nothing_checked_is_said(curewatch: Curewatch, kept: Kept) -> None:
    hears(kept, 0.45)
    assert "No sensor was checked yet" in curewatch("sensor", "checks", "drying-air").flat


def test_what_a_sensor_may_be_off_by_and_when_it_is_due_is_told(
    curewatch: Curewatch, kept: Kept
) -> None:
    hears(kept, 0.735)
    curewatch(*CALIBRATE, "--salt", "table", "--at", "6h ago")
    curewatch(*CALIBRATE, "--record")
    told = curewatch("sensor", "checks", "drying-air", "--json").plain
    (sensor,) = told["sensors"]
    assert sensor["humidity_off_pct"] == pytest.approx(2.5)
    assert sensor["temperature_off_k"] == pytest.approx(0.3)
    assert sensor["jar_since"] == "2026-03-05T06:00:00.000Z"
    assert sensor["checked_at"] == "2026-03-05T12:00:00.000Z"
    assert sensor["due_at"] == "2027-03-05T12:00:00.000Z"
    assert sensor["corrections"][0]["points"][0]["reads"] == pytest.approx(73.5)
    assert untold(told) == []
    assert untold(curewatch(*CALIBRATE, "--json").plain) == []


def test_what_is_told_of_checks_keeps_to_its_schema(curewatch: Curewatch, kept: Kept) -> None:
    hears(kept, 0.735)
    curewatch(*CALIBRATE, "--salt", "table", "--at", "6h ago")
    curewatch(*CALIBRATE, "--record")
    curewatch(*CALIBRATE, "--beside", "19.4", "--error", "0.2")
    curewatch("sensor", "uncheck", "1", "--why", "the jar leaked")
    told = curewatch("sensor", "checks", "--json").plain
    assert len(told["checks"]) == 2
    assert len(told["sensors"]) == 2
    jsonschema.validate(told, json.loads(SCHEMA.read_text("utf-8")))
