"""States kept for the mirror: at once when a word changes, figures every so often."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from curewatch import stating
from curewatch.shop.finish import MilestoneName
from curewatch.shop.plain_state import State
from curewatch.stating import StateKeeper
from curewatch.storage.states import DAY_MS, KEPT_MS, MOST_ROWS
from tests.small_shop import HOUR_MS, MINUTE_MS, T0_MS, SmallShop

if TYPE_CHECKING:
    from collections.abc import Iterator

MIRROR = """
[influx]
url = "http://127.0.0.1:9"
org = "yard"
bucket = "shop"
token_file = "token"
states_every_min = 30
"""
PAGE = (Path(__file__).parents[1] / "docs" / "influx.md").read_text("utf-8")
NOW_MS = T0_MS + 24 * HOUR_MS


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[SmallShop]:
    (tmp_path / "token").write_text("invented", "utf-8")
    (tmp_path / "token").chmod(0o600)
    opened = SmallShop.open(tmp_path, config=MIRROR, now_ms=NOW_MS)
    opened.climate(T0_MS, NOW_MS + 1)
    opened.hang("B1", "waterborne", T0_MS + 2 * HOUR_MS)
    opened.watch.step(NOW_MS)
    yield opened
    opened.store.close()


def keeper(yard: SmallShop) -> StateKeeper:
    return StateKeeper(yard.store, yard.watch, yard.settings)


def kept(yard: SmallShop, after: int = 0) -> list[tuple[str, int]]:
    return [(one.name, one.at_ms) for _, one in yard.store.states.after(after, 1000)]


def test_rooms_and_pieces_are_kept_at_first_and_then_every_so_often(yard: SmallShop) -> None:
    states = keeper(yard)
    states.work(NOW_MS)
    states.work(NOW_MS + 4_000)
    states.work(NOW_MS + 5 * MINUTE_MS)
    assert kept(yard) == [("loft", NOW_MS), ("B1", NOW_MS)]
    half = NOW_MS + 30 * MINUTE_MS
    yard.climate(NOW_MS, half + 1)
    states.work(half)
    assert kept(yard, 2) == [("loft", half), ("B1", half)]


def test_a_verdict_that_changes_is_kept_in_its_minute(yard: SmallShop) -> None:
    states = keeper(yard)
    states.work(NOW_MS)
    yard.climate(NOW_MS + 10 * MINUTE_MS, NOW_MS + 10 * MINUTE_MS + 1, temp_c=2.0)
    states.work(NOW_MS + 10 * MINUTE_MS)
    ((_, cold),) = yard.store.states.after(2, 10)
    assert (cold.name, cold.facts["temperature_c"]) == ("loft", 2.0)


def test_a_piece_is_kept_when_a_word_about_it_changes(yard: SmallShop) -> None:
    states = keeper(yard)
    states.work(NOW_MS)
    yard.watch.piece_changed("B1")
    yard.watch.step(NOW_MS + MINUTE_MS)  # looked at, and stands as before
    states.work(NOW_MS + MINUTE_MS)
    assert len(kept(yard)) == 2
    yard.hang("B2", "waterborne", NOW_MS)
    yard.watch.step(NOW_MS + 2 * MINUTE_MS)
    states.work(NOW_MS + 2 * MINUTE_MS)
    assert kept(yard, 2) == [("B2", NOW_MS + 2 * MINUTE_MS)]


def test_a_full_shop_is_judged_a_few_at_a_time(
    yard: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stating, "AT_ONCE", 2)
    for tag in ("B2", "B3", "B4"):
        yard.hang(tag, "waterborne", T0_MS + 2 * HOUR_MS)
    yard.watch.step(NOW_MS)
    states = keeper(yard)
    for second in (0, 1, 2):
        states.work(NOW_MS + second * 1000)
    names = [name for name, _ in kept(yard)]
    assert names[0] == "loft"
    assert sorted(names[1:]) == ["B1", "B2", "B3", "B4"]
    assert len({at_ms for _, at_ms in kept(yard)}) == 2


def test_of_many_rooms_a_few_are_judged_in_each_round(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stating, "ROOMS_AT_ONCE", 2)
    (tmp_path / "token").write_text("invented", "utf-8")
    (tmp_path / "token").chmod(0o600)
    rooms = "".join(f'[[room]]\nname = "{name}"\n' for name in ("cellar", "hall"))
    many = SmallShop.open(tmp_path, config=MIRROR + rooms, now_ms=NOW_MS)
    states = keeper(many)
    states.work(NOW_MS)
    assert [name for name, _ in kept(many)] == ["loft", "cellar"]
    states.work(NOW_MS + 1000)
    states.work(NOW_MS + 2000)
    assert [name for name, _ in kept(many)] == ["loft", "cellar", "hall"]
    many.store.close()


def test_old_states_go_once_a_day(yard: SmallShop) -> None:
    states = keeper(yard)
    states.work(NOW_MS)
    states.work(NOW_MS + KEPT_MS + MINUTE_MS)
    assert {at_ms for _, at_ms in kept(yard)} == {NOW_MS + KEPT_MS + MINUTE_MS}


def test_without_a_mirror_nothing_is_kept(tmp_path: Path) -> None:
    plain = SmallShop.open(tmp_path)
    keeper(plain).work(NOW_MS)
    assert kept(plain) == []
    plain.store.close()


def test_what_was_kept_for_a_mirror_that_was_given_up_goes_with_its_time(tmp_path: Path) -> None:
    plain = SmallShop.open(tmp_path)
    plain.store.states.add([State(NOW_MS, "room", "loft", {"fresh": True})])
    states = keeper(plain)
    states.work(NOW_MS)
    assert kept(plain) == [("loft", NOW_MS)]
    states.work(NOW_MS + KEPT_MS + DAY_MS)
    assert kept(plain) == []
    plain.store.close()


def test_every_fact_that_is_kept_stands_on_its_page(yard: SmallShop) -> None:
    keeper(yard).work(NOW_MS)
    named = set(re.findall(r"`([a-z0-9_<>.]+)`", PAGE))
    stones = {stone.value.replace("-", "_") for stone in MilestoneName}
    missing = set()
    for _, state in yard.store.states.after(0, 10):
        spray = state.facts.pop("spray", {})
        assert isinstance(spray, dict)
        for facts in (state.facts, *spray.values()):
            assert isinstance(facts, dict)
            for key in facts:
                stone = next((name for name in stones if key.startswith(name)), None)
                rest = key if stone is None else key.removeprefix(stone)
                known = {key, f"<milestone>{rest}", f"...{rest}", "..." + key[key.find("_") :]}
                if not known & named:
                    missing.add(key)
    assert missing == set()


def test_the_page_says_for_how_long_states_are_kept() -> None:
    assert f"{KEPT_MS // DAY_MS} days" in PAGE
    assert f"more than {MOST_ROWS:,}" in PAGE
