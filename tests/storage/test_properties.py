from __future__ import annotations

import tempfile
from contextlib import contextmanager
from dataclasses import astuple, dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.shop.reading import Flag, Origin, Quantity, Reading
from curewatch.storage import Store
from curewatch.storage.thinning import DAY_MS, GRID_MS

if TYPE_CHECKING:
    from collections.abc import Iterator

DAY_0 = 19_675 * DAY_MS  # 2023-11-14
GAP_MS = 30 * GRID_MS

SENSORS = ["s1", "s2", "s3"]

Key = tuple[str, Quantity, int]
keys = st.tuples(st.sampled_from(SENSORS), st.sampled_from(list(Quantity)), st.integers(0, 40))


@contextmanager
def new_store() -> Iterator[Store]:
    with (
        tempfile.TemporaryDirectory() as folder,
        Store.open(Path(folder) / "shop.db") as store,
    ):
        yield store


@settings(max_examples=60, deadline=None)
@given(
    st.dictionaries(keys, st.floats(-40, 80), min_size=1).flatmap(
        lambda kept: st.tuples(
            st.just(kept), st.lists(st.lists(st.sampled_from(sorted(kept))), max_size=6)
        )
    )
)
def test_any_order_any_repetition_and_any_batches_keep_the_same(
    drawn: tuple[dict[Key, float], list[list[Key]]],
) -> None:
    kept, batches = drawn
    rest = [key for key in kept if not any(key in batch for batch in batches)]
    with new_store() as store:
        added: list[Reading] = []
        for batch in [*batches, rest]:
            result = store.readings.add(Reading(*key, kept[key]) for key in batch)
            assert not result.conflicts
            assert len(result.added) + len(result.duplicates) == len(batch)
            added += result.added
        expected = sorted(
            (Reading(*key, value) for key, value in kept.items()),
            key=lambda r: (r.sensor, r.quantity, r.at_ms),
        )
        assert sorted(added, key=lambda r: (r.sensor, r.quantity, r.at_ms)) == expected
        found = sorted(store.readings.rows(0, 99), key=lambda r: (r.sensor, r.quantity, r.at_ms))
        assert found == expected
        for (sensor, quantity), reading in store.readings.latest().items():
            mine = [r for r in expected if (r.sensor, r.quantity) == (sensor, quantity)]
            assert reading == mine[-1]
        assert sum(store.readings.counts().values()) == len(kept)


@dataclass(frozen=True)
class Add:
    """Readings that arrive together."""

    batch: list[tuple[Key, float]]


@dataclass(frozen=True)
class Void:
    """A span of a sensor's readings that a person voids."""

    sensor: str
    start: int
    span: int
    quantity: Quantity | None

    def hits(self, key: Key) -> bool:
        """Return whether it voids what is kept under `key`."""
        sensor, quantity, at = key
        return (
            sensor == self.sensor
            and self.quantity in (None, quantity)
            and self.start <= at < self.start + self.span
        )


actions = st.one_of(
    st.builds(Add, st.lists(st.tuples(keys, st.sampled_from([1.0, 2.0, 3.0])))),
    st.builds(
        Void,
        st.sampled_from(SENSORS),
        st.integers(0, 40),
        st.integers(1, 20),
        st.none() | st.sampled_from(list(Quantity)),
    ),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(actions, max_size=8))
def test_voiding_and_adding_again_agree_with_a_plain_model(plan: list[Add | Void]) -> None:
    kept: dict[Key, float] = {(s, Quantity.TEMPERATURE, 50): 0.0 for s in SENSORS}
    voided: list[tuple[Key, float]] = []
    with new_store() as store:
        store.readings.add(Reading(*key, value) for key, value in kept.items())
        for action in plan:
            if isinstance(action, Add):
                store.readings.add(Reading(*key, value) for key, value in action.batch)
                for key, value in action.batch:
                    if (key, value) not in voided:
                        kept.setdefault(key, value)
            else:
                hit = [key for key in kept if action.hits(key)]
                span = (action.start, action.start + action.span)
                assert store.readings.void(
                    action.sensor, *span, "why", 99, quantity=action.quantity
                ) == len(hit)
                voided += [(key, kept.pop(key)) for key in hit]
        found = {(r.sensor, r.quantity, r.at_ms): r.value for r in store.readings.rows(0, 99)}
        assert found == kept
        assert store.db.value("SELECT count(*) FROM reading_voided") == len(voided)
        newest: dict[tuple[str, Quantity], int] = {}
        for sensor, quantity, at in kept:
            newest[(sensor, quantity)] = max(at, newest.get((sensor, quantity), 0))
        assert {key: r.at_ms for key, r in store.readings.latest().items()} == newest


silences = st.one_of(
    st.integers(1_000, 20_000),
    st.integers(1_000, 20_000),
    st.integers(20_000, 120_000),
    st.just(10_000),
    st.just(GRID_MS),
    st.integers(GAP_MS - 2_000, 4 * GAP_MS),
)


@settings(max_examples=60, deadline=None)
@given(
    start=st.integers(DAY_0 + DAY_MS - 3 * GAP_MS, DAY_0 + DAY_MS),
    steps=st.lists(silences, min_size=1, max_size=200),
    seed=st.integers(0, 2**32 - 1),
)
def test_thinning_keeps_the_values_at_grid_instants_and_the_edges_of_gaps(
    start: int, steps: list[int], seed: int
) -> None:
    times = start + np.concatenate(([0], np.cumsum(steps)))
    values = np.random.default_rng(seed).uniform(-40.0, 80.0, times.size)
    with new_store() as store:
        store.readings.add(
            Reading("s1", Quantity.TEMPERATURE, int(at), float(value))
            for at, value in zip(times, values, strict=True)
        )
        done = store.readings.thin(DAY_0 + 3 * DAY_MS, lambda _: GAP_MS, at_ms=99)
        after, thinned = store.readings.series("s1", Quantity.TEMPERATURE, 0, 2**42)
        assert store.readings.thin(DAY_0 + 3 * DAY_MS, lambda _: GAP_MS, at_ms=99, from_ms=0) == ()
        kept = store.db.rows(
            "SELECT start_ms, stop_ms, rows_before, rows_after, at_ms FROM thinning"
        )
        assert sorted(kept) == [astuple(one) for one in done]
    assert after.size == times.size + sum(d.rows_after - d.rows_before for d in done)
    assert after.size <= times.size
    assert (after[0], after[-1]) == (times[0], times[-1])
    grid = np.arange(-(-times[0] // GRID_MS), times[-1] // GRID_MS + 1) * GRID_MS
    origin = times[0]
    before_there = np.interp(grid - origin, times - origin, values)
    after_there = np.interp(grid - origin, after - origin, thinned)
    assert np.allclose(after_there, before_there, rtol=0.0, atol=1e-12)
    assert gaps(times) == gaps(after)
    kept = dict(zip(after.tolist(), thinned.tolist(), strict=True))
    for at, value in zip(times.tolist(), values.tolist(), strict=True):
        if any(at in gap for gap in gaps(times)):
            assert kept[at] == value


def gaps(times: np.ndarray[tuple[int, ...], np.dtype[np.int64]]) -> list[tuple[int, int]]:
    return [(int(a), int(b)) for a, b in pairwise(times) if b - a > GAP_MS]


def ten_second_day(store: Store, *, sensor: str = "s1", flags: int = 0, origin: int = 1) -> None:
    store.readings.add(
        Reading(sensor, Quantity.HUMIDITY, at, 0.4 + at % 7 / 100, Origin(origin), flags)
        for at in range(DAY_0, DAY_0 + DAY_MS, 10_000)
    )


def test_a_day_of_ten_second_readings_becomes_its_minutes_and_says_so() -> None:
    with new_store() as store:
        ten_second_day(store)
        (done,) = store.readings.thin(DAY_0 + DAY_MS, lambda _: GAP_MS, at_ms=123)
        assert (done.start_ms, done.stop_ms, done.at_ms) == (DAY_0, DAY_0 + DAY_MS, 123)
        assert (done.rows_before, done.rows_after) == (8640, 1441)  # 1440 minutes and the last
        assert store.readings.counts() == {"s1": 8640}


def test_a_day_that_is_not_over_is_not_thinned() -> None:
    with new_store() as store:
        ten_second_day(store)
        assert store.readings.thin(DAY_0 + DAY_MS - 1, lambda _: GAP_MS, at_ms=1) == ()


def test_a_sensor_whose_gaps_are_shorter_than_a_minute_is_left_alone() -> None:
    with new_store() as store:
        ten_second_day(store)
        assert store.readings.thin(DAY_0 + DAY_MS, lambda _: 30_000.0, at_ms=1) == ()


def test_a_fan_is_on_or_off_after_thinning_as_it_was() -> None:
    with new_store() as store:
        store.readings.add(
            Reading("f1", Quantity.FAN_ON, at, float(at % 3_600_000 >= 1_790_000))
            for at in range(DAY_0 + 4_000, DAY_0 + DAY_MS, 10_000)
        )
        (done,) = store.readings.thin(DAY_0 + DAY_MS, lambda _: GAP_MS, at_ms=1)
        assert done.rows_after < done.rows_before / 5
        times, values = store.readings.series("f1", Quantity.FAN_ON, 0, 2**42)
        assert set(values) == {0.0, 1.0}
        grid = times % 60_000 == 0
        assert np.array_equal(values[grid], times[grid] % 3_600_000 >= 1_800_000)


def test_readings_of_unknown_time_are_not_thinned() -> None:
    with new_store() as store:
        ten_second_day(store, flags=Flag.TIME_UNKNOWN)
        assert store.readings.thin(DAY_0 + DAY_MS, lambda _: GAP_MS, at_ms=1) == ()


def test_thinned_readings_keep_their_flags_and_where_they_come_from() -> None:
    with new_store() as store:
        ten_second_day(store, flags=Flag.FROZEN_PAIR, origin=Origin.IMPORTED)
        store.readings.thin(DAY_0 + DAY_MS, lambda _: GAP_MS, at_ms=1)
        found = {(r.flags, r.origin) for r in store.readings.rows(0, 2**42)}
        assert found == {(Flag.FROZEN_PAIR, Origin.IMPORTED)}


def test_thinning_goes_on_where_it_ended_unless_told_from_where() -> None:
    with new_store() as store:
        ten_second_day(store)
        store.readings.thin(DAY_0 + DAY_MS, lambda _: GAP_MS, at_ms=1)
        ten_second_day(store, sensor="late")
        assert store.readings.thin(DAY_0 + 2 * DAY_MS, lambda _: GAP_MS, at_ms=2) == ()
        (done,) = store.readings.thin(DAY_0 + 2 * DAY_MS, lambda _: GAP_MS, at_ms=3, from_ms=DAY_0)
        assert done.rows_before - done.rows_after == 8640 - 1441


def test_an_empty_store_has_nothing_to_thin() -> None:
    with new_store() as store:
        assert store.readings.thin(5 * DAY_MS, lambda _: GAP_MS, at_ms=1) == ()
