"""Who is said to be gone and who is heard without a place: kept with the batch they came in."""

from __future__ import annotations

import logging
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.assembly import assemble, load_heard
from curewatch.errors import StorageError
from curewatch.intake import Arrived, TopicTable
from curewatch.keeping import Keeping
from curewatch.presences import Presences, newcomers_kept
from curewatch.shop.alert import AlertKind
from curewatch.shop.sensor_conditions import sensor_conditions
from tests.small_shop import MINUTE_MS, T0_MS, SmallShop, message

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

CONFIG = """
[[room]]
name = "booth"
[[kind]]
name = "air"
topic = "shop/{id}/climate"
presence = "shop/{id}/presence"
temperature = "/t"
humidity = "/rh"
time = "/at"
[[sensor]]
id = "a1"
room = "booth"
kind = "air"
"""


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[SmallShop]:
    """Open a small shop with a sensor of a kind in its booth."""
    opened = SmallShop.open(tmp_path, config=CONFIG)
    yield opened
    opened.store.close()


def keeping(yard: SmallShop) -> Keeping:
    """Return what keeps messages, as the daemon has it."""
    settings = yard.settings
    return Keeping(
        yard.store,
        yard.shop,
        yard.feed,
        TopicTable(settings.mappings()),
        presences=Presences(
            yard.store,
            yard.shop,
            settings.presences(),
            settings.families(),
            settings.placed(),
        ),
    )


def word(said: bytes, at_ms: int, *, retained: bool = False) -> Arrived:
    one = message(None, topic="shop/a1/presence", payload=said, received_ms=at_ms)
    return replace(one, retained=retained)


def climate(at_ms: int, *, backlog: bool = False, sensor: str = "a1") -> Arrived:
    return message(at_ms, topic=f"shop/{sensor}/climate", received_ms=at_ms + 100, backlog=backlog)


def alerts(yard: SmallShop, now_ms: int) -> list[str]:
    (sensor,) = [sensor for sensor in yard.shop.sensors if sensor.id == "a1"]
    found = sensor_conditions(yard.shop, sensor, now_ms)
    return [one.reason for one in found if one.kind is AlertKind.SENSOR_SILENT]


def test_a_will_makes_the_sensor_silent_at_once(yard: SmallShop) -> None:
    keeper = keeping(yard)
    keeper.keep([climate(T0_MS)], yard.line)
    assert alerts(yard, T0_MS + MINUTE_MS) == []
    assert keeper.keep([word(b"offline", T0_MS + MINUTE_MS)], yard.line) == {"booth"}
    (said,) = alerts(yard, T0_MS + MINUTE_MS)
    assert said.startswith("sensor a1 in booth is gone: the broker was told so")


@pytest.mark.parametrize("back", [word(b"online", T0_MS + 9), climate(T0_MS + 9)])
def test_another_word_or_a_reading_ends_it(yard: SmallShop, back: Arrived) -> None:
    keeper = keeping(yard)
    keeper.keep([word(b"offline", T0_MS)], yard.line)
    assert keeper.keep([back], yard.line) >= {"booth"}
    assert yard.shop.gone == {}
    assert alerts(yard, T0_MS + MINUTE_MS) == []


def test_an_empty_message_says_nothing(yard: SmallShop) -> None:
    keeper = keeping(yard)
    keeper.keep([word(b"offline", T0_MS), word(b"", T0_MS + 9)], yard.line)
    assert yard.shop.gone == {"a1": T0_MS}


def test_what_waited_at_the_broker_does_not_bring_a_sensor_back(yard: SmallShop) -> None:
    keeper = keeping(yard)
    keeper.keep([word(b"offline", T0_MS)], yard.line)
    keeper.keep([climate(T0_MS - 5 * MINUTE_MS, backlog=True)], yard.line)
    assert yard.shop.gone == {"a1": T0_MS}
    keeper.keep([climate(T0_MS + MINUTE_MS, backlog=True)], yard.line)
    assert yard.shop.gone == {}


def test_a_will_that_is_repeated_keeps_its_first_instant(yard: SmallShop) -> None:
    keeper = keeping(yard)
    keeper.keep([word(b"offline", T0_MS)], yard.line)
    keeper.keep([word(b"offline", T0_MS + 99, retained=True)], yard.line)
    assert yard.shop.gone == {"a1": T0_MS}


def test_it_is_known_after_a_restart_and_to_commands(yard: SmallShop) -> None:
    keeping(yard).keep([word(b"offline", T0_MS)], yard.line)
    again = assemble(yard.settings, yard.store, T0_MS)
    load_heard(yard.store, again)
    assert again.gone == {"a1": T0_MS}


def test_a_refusal_in_the_same_batch_does_not_hide_who_went(yard: SmallShop) -> None:
    batch = [word(b"offline", T0_MS), message(T0_MS, topic="shop/loft", payload=b"no json")]
    assert "booth" in keeping(yard).keep(batch, yard.line)


def test_what_could_not_be_committed_is_not_believed(
    yard: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper = keeping(yard)

    def fail(*_: object) -> None:
        raise StorageError("disk full")

    with monkeypatch.context() as broken:
        broken.setattr(yard.store.rejections, "add", fail)
        with pytest.raises(StorageError):
            keeper.keep([word(b"offline", T0_MS)], yard.line)
    assert yard.shop.gone == {}
    assert yard.line.acked == []
    keeper.keep([word(b"offline", T0_MS)], yard.line)
    assert yard.shop.gone == {"a1": T0_MS}


def test_a_sensor_without_a_place_is_told_once_and_nothing_of_it_is_kept(
    yard: SmallShop, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    keeper = keeping(yard)
    keeper.keep([climate(T0_MS, sensor="b7"), climate(T0_MS + 9, sensor="b7")], yard.line)
    keeper.keep([climate(T0_MS + 99, sensor="b7")], yard.line)
    told = [record.message for record in caplog.records if "'b7'" in record.message]
    assert len(told) == 1
    assert "shop/b7/climate" in told[0]
    assert yard.store.readings.latest() == {}
    (new,) = newcomers_kept(yard.store)
    assert (new.kind, new.name, new.topic) == ("air", "b7", "shop/b7/climate")


def test_newcomers_of_a_batch_that_was_not_committed_are_counted_once_and_written_with_it(
    yard: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper, execute = keeping(yard), yard.store.db.execute

    def full(sql: str, *arguments: tuple[object, ...]) -> None:
        if sql == "COMMIT":
            raise StorageError("disk full")
        execute(sql, *arguments)  # type: ignore[arg-type]

    batch = [climate(T0_MS, sensor="b7"), climate(T0_MS + 9, sensor="b7")]
    with monkeypatch.context() as broken:
        broken.setattr(yard.store.db, "execute", full)
        with pytest.raises(StorageError):
            keeper.keep(batch, yard.line)
    assert newcomers_kept(yard.store) == []
    keeper.keep(batch, yard.line)
    (new,) = newcomers_kept(yard.store)
    assert new.messages == 2


def test_newcomers_that_cannot_be_written_hold_up_no_reading(
    yard: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper = keeping(yard)

    def fail(*_: object) -> None:
        raise StorageError("disk full")

    with monkeypatch.context() as broken:
        broken.setattr(yard.store.meta, "set", fail)
        keeper.keep([climate(T0_MS, sensor="b7"), climate(T0_MS)], yard.line)
    assert len(yard.line.acked) == 2
    keeper.keep([climate(T0_MS + 60_000)], yard.line)
    assert [one.name for one in newcomers_kept(yard.store)] == ["b7"]


def test_who_has_a_place_is_no_newcomer(yard: SmallShop) -> None:
    keeping(yard).keep([climate(T0_MS)], yard.line)
    assert newcomers_kept(yard.store) == []


def test_newcomers_of_an_earlier_run_are_forgotten(yard: SmallShop) -> None:
    keeping(yard).keep([climate(T0_MS, sensor="b7")], yard.line)
    keeping(yard)
    assert newcomers_kept(yard.store) == []
