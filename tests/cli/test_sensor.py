"""Sensors: last heard, what was refused and why, readings voided."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING

import pytest

from curewatch.assembly import gone_key
from curewatch.intake.families import Newcomer
from curewatch.presences import NEWCOMERS
from curewatch.shop.reading import Quantity, Reading, Rejected, RejectReason
from tests.cli.conftest import HOUR_MS, NOW_MS

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch, StoresClimate

VOID = ("--from", "3h ago", "--to", "1h ago", "--why", "hung over the heater")


def swinging(hour: float) -> float:
    """Return a temperature that never repeats [degC]."""
    return 20.0 + hour / 100.0


def test_list_shows_configured_sensors_first_and_those_never_heard(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("drying", days=0.5, temp_c=swinging)
    curewatch("room", "reading", "spray", "--temp-c", "20", "--rh-pct", "40")
    said = curewatch("sensor", "list")
    assert said.narrow()
    sensors = curewatch("sensor", "list", "--json").plain["sensors"]
    assert [(s["sensor"], s["room"], s["configured"]) for s in sensors] == [
        ("spray-air", "spray", True),
        ("drying-air", "drying", True),
        ("typed-spray", "spray", False),
    ]
    assert sensors[0]["last_heard_at"] is None
    assert sensors[1]["last_heard_at"] == "2026-03-05T12:00:00.000Z"
    assert sensors[1]["taken_in"] == 2 * 73
    assert sensors[1]["frozen_since"] is None


def test_list_tells_who_is_gone_who_has_no_place_and_how_the_air_moves(
    curewatch: Curewatch, climate: StoresClimate, kept: Callable[[], Store]
) -> None:
    climate("drying", days=0.5, temp_c=swinging)
    new = Newcomer("air", "b7", "shop/b7/climate", NOW_MS - HOUR_MS, NOW_MS, 3)
    with kept() as store:
        store.meta.set(gone_key("drying-air"), NOW_MS - HOUR_MS)
        store.meta.set(NEWCOMERS, json.dumps([asdict(new)]))
        store.readings.add(
            [
                Reading("spray-air", Quantity.AIR_SPEED, NOW_MS, 0.4),
                Reading("spray-air", Quantity.FAN_ON, NOW_MS, 1.0),
            ]
        )
    said = curewatch("sensor", "list")
    assert said.narrow()
    assert "drying-air is gone: the broker was told so today 11:00." in said.flat
    assert "Heard without a place: 'b7', of kind air, last today 12:00 on shop/b7" in said.flat
    assert "runs" in said.flat.split()
    answer = curewatch("sensor", "list", "--json").plain
    first, second = answer["sensors"]
    assert (first["air_speed_m_s"], first["fan_on"], first["gone_since"]) == (0.4, True, None)
    assert second["gone_since"] == "2026-03-05T11:00:00.000Z"
    assert answer["without_place"][0]["name"] == "b7"


def test_list_says_what_was_refused_and_why(
    curewatch: Curewatch, climate: StoresClimate, kept: Callable[[], Store]
) -> None:
    climate("drying", days=0.5, temp_c=swinging)
    with kept() as store:
        refusal = Rejected(
            "drying-air", RejectReason.NOT_JSON, NOW_MS - HOUR_MS, "it says '<html>'"
        )
        store.rejections.add([refusal, refusal])
    said = curewatch("sensor", "list")
    assert "drying-air: refused 2 times as not-json, last today 11:00:" in said.flat
    assert "it says '<html>'" in said.flat
    sensors = curewatch("sensor", "list", "--json").plain["sensors"]
    assert sensors[1]["rejected"][0]["count"] == 2


def test_a_pair_that_never_moves_is_named(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate("drying", days=0.5)
    assert "same pair for six hours" in curewatch("sensor", "list").flat
    sensors = curewatch("sensor", "list", "--json").plain["sensors"]
    assert sensors[1]["frozen_since"] is not None


def test_voided_readings_earn_nothing_and_the_daemon_is_told(
    curewatch: Curewatch, climate: StoresClimate, kept: Callable[[], Store]
) -> None:
    climate("drying", days=1.0)
    hang = ("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying")
    curewatch(*hang, "--at", "20h ago")
    curewatch("coat", "A1", "--at", "10h ago")
    plain = curewatch("sensor", "void", "drying-air", *VOID, "--json").plain
    assert plain["voided"] == 2 * 12  # two quantities, every ten minutes, the end left out
    shown = curewatch("piece", "show", "A1", "--json").plain
    assert shown["clocks"]["cure"]["covered_hours"] == pytest.approx(10.0 - 2.0 - 1 / 6, abs=1e-6)
    with kept() as store:
        (touch,) = store.touched.since(0)[1]
        assert (touch.sensor, touch.from_ms) == ("drying-air", NOW_MS - 3 * HOUR_MS)


def test_one_quantity_can_be_voided_alone(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate("drying", days=1.0)
    said = curewatch("sensor", "void", "drying-air", *VOID, "--quantity", "humidity")
    assert "12 readings from today 9:00 until before today 11:00 voided" in said.flat


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("attic", *VOID), "no reading of a sensor 'attic'"),
        (("drying-air", "--from", "1h ago", "--to", "3h ago", "--why", "x"), "is empty"),
        (("drying-air", "--from", "9d ago", "--to", "8d ago", "--why", "x"), "nothing was voided"),
        (("drying-air", "--from", "3h ago", "--to", "1h ago", "--why", " "), "needs a reason"),
    ],
)
def test_what_cannot_be_voided_is_refused_and_nothing_changed(
    curewatch: Curewatch,
    climate: StoresClimate,
    kept: Callable[[], Store],
    words: tuple[str, ...],
    complaint: str,
) -> None:
    climate("drying", days=1.0)
    assert complaint in curewatch("sensor", "void", *words, status=2).complaint
    with kept() as store:
        assert store.db.value("SELECT count(*) FROM reading_void") == 0
        assert store.touched.last_id() == 0
