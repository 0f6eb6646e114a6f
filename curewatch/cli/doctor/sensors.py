"""Sensors: silent, stuck, refused, never heard, and those no room knows any more."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.assembly import assemble
from curewatch.cli.doctor.finding import Finding, State
from curewatch.keeping import resumed_gate
from curewatch.presences import newcomers_kept
from curewatch.room_feed import RoomFeed
from curewatch.shop.sensor_conditions import sensor_conditions

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curewatch.cli.doctor.finding import Open
    from curewatch.settings import Settings
    from curewatch.shop.room import Sensor
    from curewatch.shop.shop import Shop

AREA = "sensors"
RECENT_MS = 7 * 86_400_000
LOOKED_BACK_MS = 2 * 86_400_000
REFUSED_MS = 86_400_000


def findings(opened: Open) -> Iterator[Finding]:
    """Look at every sensor of the configuration, and at those it does not know."""
    shop = assemble(opened.settings, opened.store, opened.now_ms)
    RoomFeed(opened.store, shop).load(opened.now_ms - LOOKED_BACK_MS)  # to set them side by side
    gate = resumed_gate(opened.store)
    for sensor in shop.sensors:
        since = gate.frozen_since_ms(sensor.id)
        if since is not None:
            shop.frozen_since[sensor.id] = since
        yield from _sensor(opened, shop, sensor)
    yield from _unplaced(opened)
    yield from _refused(opened)


def _sensor(opened: Open, shop: Shop, sensor: Sensor) -> Iterator[Finding]:
    heard = shop.last_heard_ms(sensor.id, opened.now_ms)
    if heard is None:
        yield _never_heard(opened.settings, sensor)
        return
    wrong = sensor_conditions(shop, sensor, opened.now_ms)
    for condition in wrong:
        yield Finding(AREA, State.LOOK, condition.reason, condition.next_action)
    if not wrong:
        when = opened.settings.words().at(heard, opened.now_ms)
        yield Finding(AREA, State.OK, f"sensor {sensor.id} in {sensor.room}: last heard {when}")


def _never_heard(settings: Settings, sensor: Sensor) -> Finding:
    topics = {mapping.sensor: mapping.topic for mapping in settings.mappings()}
    chips = {poll.sensor: poll.kernel for poll in settings.polls()}
    where = topics.get(sensor.id) or f"chip {chips[sensor.id]}"
    what = f"sensor {sensor.id} in {sensor.room} was never heard on {where}"
    fix = "compare its topic with what it publishes, and see the broker's access list"
    if sensor.id in chips:
        fix = "compare its chip with what 'curewatch sensor scan' lists"
    return Finding(AREA, State.LOOK, what, fix)


def _unplaced(opened: Open) -> Iterator[Finding]:
    """Say which sensors were heard lately and hang in no room that is known any more."""
    rooms = opened.settings.rooms()
    placed = {sensor.id for sensor in opened.settings.sensors()}
    for sensor, places in opened.store.places.history().items():  # typed and imported ones too
        if places[-1][1] in rooms:
            placed.add(sensor)
    heard: dict[str, int] = {}
    for (sensor, _), reading in opened.store.readings.latest().items():
        heard[sensor] = max(heard.get(sensor, 0), reading.at_ms)
    for sensor, at_ms in sorted(heard.items()):
        if sensor not in placed and opened.now_ms - at_ms < RECENT_MS:
            when = opened.settings.words().at(at_ms, opened.now_ms)
            yield Finding(
                AREA,
                State.LOOK,
                f"sensor {sensor} was heard {when} and hangs in no room: it counts for nothing",
                f'add a [[sensor]] with id = "{sensor}" and its room, if it was renamed by mistake',
            )

    for one in newcomers_kept(opened.store):
        if opened.now_ms - one.last_ms < RECENT_MS:
            yield Finding(
                AREA,
                State.LOOK,
                f"'{one.name}', of kind {one.kind}, is heard on {one.topic} and has no place: "
                "nothing it says is kept",
                f'add a [[sensor]] with kind = "{one.kind}" that gives it a room',
            )


def _refused(opened: Open) -> Iterator[Finding]:
    """Say what was refused within the last day, worst first."""
    lately = [
        one
        for one in opened.store.rejections.summary()
        if 0 <= opened.now_ms - one.last_ms < REFUSED_MS
    ]
    for one in sorted(lately, key=lambda each: each.count, reverse=True)[:5]:
        yield Finding(
            AREA,
            State.LOOK,
            f"of {one.sensor} {one.count} values were refused so far ({one.reason}), the last "
            f"within a day: {one.detail}",
            "compare its mapping with what it sends: curewatch sensor list",
        )
