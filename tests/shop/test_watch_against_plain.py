"""The watch looks at a piece only when something can have changed; a plain model always looks."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.assessment import PieceNow, assess_piece
from curewatch.shop.climate import MINUTE_MS, merge
from curewatch.shop.conditions import piece_conditions
from curewatch.shop.decide import decide
from curewatch.shop.piece import Coat, Piece, Stay, Work, WorkKind
from curewatch.shop.reading import Quantity
from curewatch.shop.room import Room
from curewatch.shop.room_conditions import room_conditions
from curewatch.shop.room_plan import RoomPlan
from curewatch.shop.sensor_conditions import sensor_conditions
from curewatch.shop.watch import Watch, owner, room_work
from tests.shop.scene import HOUR_MS, T0_MS, at_h, every, finish, readings, shop_of

if TYPE_CHECKING:
    from curewatch.shop.climate import Series
    from curewatch.shop.conditions import Condition
    from curewatch.shop.shop import Shop

    Record = dict[tuple[str, Quantity], Series]
    Key = tuple[AlertKind, str]
    Told = tuple[AlertKind, str, AlertPhase, int | None, int]

NAMES = ("waterborne", "two-part-urethane", "acid-cure", "nitro-lacquer", "oil-varnish")


class PlainWatch:
    """Assesses every piece and every room at every step, and keeps the alerts by their owner."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.alerts: dict[str, dict[Key, Alert]] = {}

    def step(self, now_ms: int) -> list[Alert]:
        """Look at everything; return the alerts whose phase changed."""
        shop, changed = self.shop, list[Alert]()
        here: dict[str, list[PieceNow]] = {}
        for tag, piece in shop.pieces.items():
            now = assess_piece(shop, piece, now_ms)
            gone = piece.left_ms is not None and piece.left_ms <= now_ms
            told = self.alerts.get(f"piece:{tag}", {})
            said = [] if gone else piece_conditions(now, piece, now_ms, told=told)
            changed += self.decide(f"piece:{tag}", said, now_ms)
            if not gone:
                here.setdefault(now.room or "", []).append(now)
        for who in [one for one in self.alerts if one.startswith("piece:")]:
            if who.removeprefix("piece:") not in shop.pieces:
                changed += self.decide(who, [], now_ms)
        for room in shop.rooms:
            told = self.alerts.get(f"room:{room}", {})
            work = room_work(here.get(room, []))
            found = room_conditions(shop, room, now_ms=now_ms, work=work, told=told)
            changed += self.decide(f"room:{room}", found, now_ms)
        for sensor in shop.sensors:
            heard = sensor_conditions(shop, sensor, now_ms)
            changed += self.decide(f"sensor:{sensor.id}", heard, now_ms)
        return changed

    def decide(self, who: str, conditions: list[Condition], now_ms: int) -> list[Alert]:
        """Decide what is said of one owner."""
        changed = decide(self.alerts.get(who, {}), conditions, now_ms)
        for alert in changed:
            self.note(alert)
        return changed

    def note(self, alert: Alert) -> None:
        """Take an alert in as it now stands."""
        mine = self.alerts.setdefault(owner(alert.subject), {})
        if alert.phase is AlertPhase.CLEARED:
            mine.pop(alert.key, None)
        else:
            mine[alert.key] = alert


class Scenario:
    """A random shop: rooms with nights, spells, gaps and late batches; people coat and move."""

    def __init__(self, seed: int, days: float, step_min: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.days = days
        self.step_ms = step_min * MINUTE_MS
        rooms = {name: self.record(name) for name in ("loft", "oven")}
        self.sent: dict[str, list[tuple[int, Record]]] = {
            room: self.batches(record) for room, record in rooms.items()
        }
        self.known: dict[str, Record] = {room: {} for room in rooms}
        empty: dict[str, Record] = {
            room: {key: (t[:0], v[:0]) for key, (t, v) in record.items()}
            for room, record in rooms.items()
        }
        self.shop = shop_of(empty, finishes=[finish(name) for name in NAMES])
        self.shop.book = type(self.shop.book)()
        self.shop.rooms["oven"] = Room("oven", air=str(self.rng.choice(["still", "fan"])))
        self.shop.began_ms = T0_MS
        self.fast, self.slow = Watch(self.shop), PlainWatch(self.shop)
        self.planned = self.plans_of()
        self.events = sorted(
            (self.events_of(tag) for tag in ("A", "B")), key=lambda pair: pair[0][0]
        )

    def record(self, room: str) -> Record:
        """Return a room's whole record: day and night, a warm or a cold spell, silences."""
        rng = self.rng
        hours = every(float(rng.choice([2, 5, 10, 15])), self.days * 24)
        hours = hours + rng.uniform(0, 0.01)
        swing = rng.uniform(0, 8) * np.sin(hours / 24 * 2 * np.pi)
        spell = rng.uniform(-8, 8) * (np.abs(hours - rng.uniform(0, self.days * 24)) < 8)
        temp = rng.uniform(12, 28) + swing + spell + rng.normal(0, 0.1, hours.size)
        rh = np.clip(rng.uniform(0.3, 0.75) - swing * 0.03 + rng.normal(0, 0.01, hours.size), 0, 1)
        keep = np.ones(hours.size, dtype=bool)
        for _ in range(rng.integers(0, 3)):
            start = rng.uniform(0, self.days * 24)
            keep &= (hours < start) | (hours > start + rng.uniform(0.2, 9))
        with_surface = rng.random() < 0.3
        made = readings(hours[keep], temp[keep], rh[keep], sensor=f"{room}-rack")
        if with_surface:
            made |= readings(hours[keep], surface_c=temp[keep] - 1, sensor=f"{room}-touch")
        if rng.random() < 0.3:
            half = hours < rng.uniform(0, self.days * 24)
            key = (f"{room}-rack", Quantity.HUMIDITY)
            made[key] = readings(hours[keep & half], rh_frac=rh[keep & half])[
                "rack", Quantity.HUMIDITY
            ]
        return made

    def batches(self, record: Record) -> list[tuple[int, Record]]:
        """Cut a record into batches with the instant each arrives [ms], some of them late."""
        rng = self.rng
        found: list[tuple[int, Record]] = []
        start = T0_MS - HOUR_MS
        while start < at_h(self.days * 24):
            stop = start + round(float(rng.choice([0.1, 0.5, 3.0]) * rng.uniform(0.2, 1) * HOUR_MS))
            part = {
                key: (t[(t >= start) & (t < stop)], v[(t >= start) & (t < stop)])
                for key, (t, v) in record.items()
            }
            late = rng.exponential(6.0) if rng.random() < 0.08 else rng.uniform(0, 0.2)
            found.append((stop + round(late * HOUR_MS), part))
            start = stop
        return sorted(found, key=lambda one: one[0])

    def events_of(self, tag: str) -> tuple[tuple[int, Piece], ...]:
        """Return what a piece's entries look like from each instant [ms] on."""
        rng = self.rng
        name = str(rng.choice(NAMES))
        begin = rng.uniform(0, 20)
        gaps = rng.choice([0.3, 0.8, 1.2, 2.0, 3.5, 5.0, 20.0, 30.0], size=rng.integers(1, 5))
        coats = [begin, *(begin + np.cumsum(gaps))]
        planned = len(coats) if rng.random() < 0.6 else None
        moved = rng.uniform(0, self.days * 24)
        rooms = list(rng.permutation(["loft", "oven"]))
        entries: list[tuple[float, Coat | Work | Stay]] = [
            (h, Coat(at_h(h), wet_um=float(rng.choice([80, 100, 180])), mixed_at_ms=at_h(h - 0.9)))
            for h in coats
        ]
        for kind in (WorkKind.SCUFF, WorkKind.LEVEL, WorkKind.BUFF):
            if rng.random() < 0.5:
                when = rng.uniform(begin, self.days * 24)
                entries.append((when, Work(kind, at_h(when))))
        entries.append((0.0, Stay(str(rooms[0]), T0_MS, at_h(moved))))
        entries.append((moved, Stay(str(rooms[1]), at_h(moved))))
        made = Piece(tag, name, planned_coats=planned)
        if rng.random() < 0.2:
            made = replace(made, left_ms=at_h(rng.uniform(begin, self.days * 24)))
        found = []
        ahead = rng.random() < 0.3  # a replay knows what is to come
        for when, entry in sorted(entries, key=lambda pair: pair[0]):
            match entry:
                case Coat():
                    made = replace(made, coats=(*made.coats, entry))
                case Work():
                    made = replace(made, work=(*made.work, entry))
                case Stay():
                    made = replace(made, stays=(*made.stays, entry))
            backdated = rng.uniform(0, 3) if rng.random() < 0.2 else 0.0
            found.append((at_h(0.0 if ahead else when + backdated), made))
        return tuple(sorted(found, key=lambda pair: pair[0]))

    def plans_of(self) -> list[tuple[int, dict[str, tuple[RoomPlan, ...]]]]:
        """Return what is planned for the rooms from each instant [ms] on; now and then nothing."""
        rng, found = self.rng, []
        for when in np.sort(rng.uniform(0.0, self.days * 24.0, size=rng.integers(0, 5))):
            start = when + rng.uniform(-3.0, 12.0)
            stop = None if rng.random() < 0.3 else at_h(start + rng.uniform(0.5, 30.0))
            temp = float(rng.uniform(4.0, 32.0))
            room = str(rng.choice(["loft", "oven"]))
            plan = RoomPlan(room, at_h(start), stop, temp_c=temp, left_alone=rng.random() < 0.3)
            found.append((at_h(when), {room: (plan,)} if rng.random() < 0.8 else {}))
        return found

    def deliver(self, now_ms: int) -> None:
        """Take in what has arrived, as the feed of the daemon does."""
        for room, batches in self.sent.items():
            while batches and batches[0][0] <= now_ms:
                _, part = batches.pop(0)
                self.take(room, part)

    def take(self, room: str, part: Record) -> None:
        """Bring the book up to date with one batch."""
        known, starts = self.known[room], list[int]()
        for key, (times, values) in part.items():
            if not times.size:
                continue
            held = known.get(key, (times[:0], values[:0]))
            place = int(held[0].searchsorted(times[0]))
            starts.append(int(held[0][place - 1]) if place else int(times[0]))
            order = np.argsort(np.concatenate((held[0], times)), kind="stable")
            known[key] = (
                np.concatenate((held[0], times))[order],
                np.concatenate((held[1], values))[order],
            )
            self.shop.heard_ms[key[0]] = np.unique(
                np.concatenate((self.shop.heard_ms.get(key[0], times), times))
            )
        if not starts:
            return
        frontier = self.shop.book.frontier_ms(room)
        first = (
            T0_MS - HOUR_MS if frontier is None else max(min(*starts, frontier), T0_MS - HOUR_MS)
        )
        block = merge(
            known,
            first_minute=first // MINUTE_MS,
            longest_gap_s=self.shop.longest_gap_s(room),
        )
        self.shop.book.splice(room, block)
        if frontier is not None and first < frontier - 10 * MINUTE_MS:
            self.fast.room_rewritten(room)

    def enter(self, now_ms: int) -> None:
        """Let people's entries of the last minutes in; nobody tells the watch of plans."""
        while self.planned and self.planned[0][0] <= now_ms:
            self.shop.plans = self.planned.pop(0)[1]
        for versions in self.events:
            then = [piece for at, piece in versions if at <= now_ms]
            if then and self.shop.pieces.get(then[-1].tag) != then[-1]:
                fresh = then[-1].tag not in self.shop.pieces
                self.shop.pieces[then[-1].tag] = then[-1]
                if fresh:
                    self.fast.pieces_changed()
                else:
                    self.fast.piece_changed(then[-1].tag)

    def rest(self, now_ms: int) -> None:
        """Let somebody put an alert aside now and then."""
        raised = [a for a in self.fast.alerts() if a.phase is AlertPhase.RAISED]
        if raised and self.rng.random() < 0.02:
            alert = raised[self.rng.integers(len(raised))]
            until = now_ms + round(self.rng.uniform(0.2, 9) * HOUR_MS)
            put_aside = replace(alert, phase=AlertPhase.RESTING, rest_until_ms=until)
            self.fast.note(put_aside)
            self.slow.note(put_aside)

    def run(self) -> int:
        """Step both watches over the days; return how many alerts were told."""
        told = 0
        for now_ms in range(T0_MS, at_h(self.days * 24), self.step_ms):
            self.deliver(now_ms)
            self.enter(now_ms)
            quick, plain = (sorted(map(shown, w.step(now_ms))) for w in (self.fast, self.slow))
            assert quick == plain, f"{(now_ms - T0_MS) / HOUR_MS:.3f} h after the scene begins"
            told += len(quick)
            self.rest(now_ms)
        return told


def shown(alert: Alert) -> Told:
    return (alert.kind, alert.subject, alert.phase, alert.raised_ms or 0, alert.since_ms)


@settings(max_examples=5)
@given(seed=st.integers(0, 2**32 - 1), step_min=st.sampled_from([4, 7, 15]))
def test_the_watch_says_the_same_as_looking_at_every_piece_at_every_step(
    seed: int, step_min: int
) -> None:
    assert Scenario(seed, 3.0, step_min).run() >= 0


def test_minute_by_minute_over_a_day_the_watch_says_the_same_and_has_something_to_say() -> None:
    assert Scenario(11, 1.5, 1).run() > 4
