"""A running daemon takes notice of holds, pots and finished pieces that people enter."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.assembly import finish_text
from curewatch.daemon import Daemon
from curewatch.settings import load_settings
from curewatch.shop.alert import AlertKind
from curewatch.shop.batch import Batch
from curewatch.shop.piece import Coat, Outcome, Work, WorkKind
from curewatch.shop.quarantine import Quarantine
from curewatch.storage import Store
from tests.crash.daemon_process import write_config
from tests.test_daemon import START_MS, hang, hours

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curewatch.settings import Settings

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Return a shop's settings; 'now' is the newest reading."""
    return load_settings(write_config(tmp_path, 1, sensors=("s0",), clock="readings"))


@pytest.fixture
def store(settings: Settings) -> Iterator[Store]:
    """Open the daemon's storage."""
    with Store.open(settings.storage.path) as opened:
        yield opened


@pytest.fixture
def people(settings: Settings, store: Store) -> Iterator[Store]:
    """Open the same file as a command would, after the daemon."""
    assert store is not None
    with Store.open(settings.storage.path) as opened:
        yield opened


def told(store: Store) -> set[tuple[AlertKind, str]]:
    return {alert.key for alert in store.alerts.active()}


def test_a_hold_takes_a_piece_off_the_calls_and_its_release_puts_it_back(
    settings: Settings, store: Store, people: Store
) -> None:
    daemon = Daemon(settings, store)
    hours(daemon, 4)
    hang(people, settings, coats=(START_MS,))
    daemon.round([])
    assert (AlertKind.RECOAT_OPEN, "piece:B1") in told(store)
    number = people.quarantines.hold(Quarantine("piece", "B1", "dropped", START_MS), START_MS)
    daemon.round([])
    hours(daemon, 1, start_ms=START_MS + 4 * HOUR_MS)
    assert daemon.watch.pieces_now["B1"].held == "dropped"
    assert (AlertKind.RECOAT_OPEN, "piece:B1") not in told(store)
    people.quarantines.release(number, "a scratch only", who="", at_ms=START_MS)
    daemon.round([])
    hours(daemon, 1, start_ms=START_MS + 5 * HOUR_MS)
    assert daemon.watch.pieces_now["B1"].held is None
    assert (AlertKind.RECOAT_OPEN, "piece:B1") in told(store)


def test_a_pot_past_its_life_is_told_until_it_is_gone(
    settings: Settings, store: Store, people: Store
) -> None:
    daemon = Daemon(settings, store)
    hours(daemon, 1)
    name = "two-part-urethane"  # a pot of it lives an hour
    revision = people.finishes.keep(name, finish_text(settings, name), START_MS)
    people.batches.mix(Batch("P1", name, revision, "L7", START_MS, "drying"), START_MS)
    daemon.round([])
    hours(daemon, 1, start_ms=START_MS + HOUR_MS)
    assert (AlertKind.POT_OVER, "pot:P1") in told(store)
    people.batches.gone("P1", START_MS + 2 * HOUR_MS, START_MS)
    daemon.round([])
    hours(daemon, 1, start_ms=START_MS + 2 * HOUR_MS)
    assert (AlertKind.POT_OVER, "pot:P1") not in told(store)


def test_a_piece_that_left_is_asked_about_and_an_outcome_answers(
    settings: Settings, store: Store, people: Store
) -> None:
    hang(people, settings, coats=(START_MS - 40 * DAY_MS,))
    buff = Work(WorkKind.BUFF, START_MS - 30 * DAY_MS + HOUR_MS)
    people.pieces.work("B1", buff, START_MS)
    people.pieces.leave("B1", START_MS + 1, START_MS)
    daemon = Daemon(settings, store)
    hours(daemon, 0)
    assert not any(kind is AlertKind.FOLLOW_UP for kind, _ in told(store))
    hours(daemon, 1, start_ms=START_MS + HOUR_MS)
    assert told(store) == {(AlertKind.FOLLOW_UP, "follow-up:B1#30")}
    people.pieces.outcome("B1", Outcome(START_MS + HOUR_MS, "fine"), START_MS)
    daemon.round([])
    hours(daemon, 1, start_ms=START_MS + 2 * HOUR_MS)
    assert told(store) == set()


def test_a_coat_from_a_pot_is_judged_where_the_pot_stood(
    settings: Settings, store: Store, people: Store
) -> None:
    daemon = Daemon(settings, store)
    hours(daemon, 4, temp_c=33.0)
    name = "two-part-urethane"
    revision = people.finishes.keep(name, finish_text(settings, name), START_MS)
    people.pieces.hang("U1", name, revision, title="", at_ms=START_MS, entered_ms=START_MS)
    people.batches.mix(Batch("P1", name, revision, "L7", START_MS, "drying"), START_MS)
    laid_ms = (
        START_MS + HOUR_MS * 3 // 4
    )  # an hour and more at 33 degC, three quarters by the sheet
    people.pieces.coat("U1", Coat(laid_ms, pot="P1"), START_MS)
    daemon.round([])
    assert any(
        kind is AlertKind.POT_OVER and who.startswith("piece:U1") for kind, who in told(store)
    )
