"""Waits after failures double up to a ceiling and never end."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from curewatch.outbound.backoff import Backoff


def test_nothing_failed_nothing_to_wait_for() -> None:
    assert Backoff().after_s(0) == 0.0


def test_without_jitter_waits_double_from_five_seconds_to_ten_minutes() -> None:
    backoff = Backoff(jitter_frac=0.0)
    waits = [backoff.after_s(failures) for failures in range(1, 10)]
    assert waits == [5.0, 10.0, 20.0, 40.0, 80.0, 160.0, 320.0, 600.0, 600.0]


def test_the_same_seed_gives_the_same_waits_and_another_gives_others() -> None:
    first, again, other = Backoff.seeded(1), Backoff.seeded(1), Backoff.seeded(2)
    waits = [first.after_s(8) for _ in range(20)]
    assert waits == [again.after_s(8) for _ in range(20)]
    assert waits != [other.after_s(8) for _ in range(20)]
    assert len(set(waits)) == 20


@given(failures=st.integers(1, 10**9), seed=st.integers(0, 100))
def test_a_wait_is_never_shorter_than_four_fifths_nor_longer_than_the_ceiling(
    failures: int, seed: int
) -> None:
    full_s = min(600.0, 5.0 * 2.0 ** min(failures - 1, 10))
    assert 0.8 * full_s <= Backoff.seeded(seed).after_s(failures) <= full_s
