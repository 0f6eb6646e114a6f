"""Playing the fortnight: sensors send, the daemon watches, people enter what they do."""

from __future__ import annotations

import time
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Protocol

from curewatch.demo.broker import DemoBroker
from curewatch.demo.daemon_process import DaemonProcess
from curewatch.demo.scenario import DAY_MS, START_MS, Rub, Scenario, configuration
from curewatch.errors import CurewatchError
from curewatch.storage import Store
from curewatch.telling import STEPPED

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from curewatch.demo.scenario import Doing, Message

LOOK_S = 0.01
STALLED_S = 600.0  # the longest the daemon may stand still
REFUSED = 20  # what 'work' answers when a piece is not ready


class Stage(Protocol):
    """What the play needs from whoever stages it."""

    def type(self, words: Sequence[str]) -> tuple[int, str]:
        """Run one command as a person types it; return its exit status and what it said."""

    def reached(self, at_ms: int) -> None:
        """Take note of how far the daemon has come [ms]."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A command a person typed, and what it said."""

    at_ms: int
    words: tuple[str, ...]
    status: int
    said: str


@dataclass(frozen=True, slots=True)
class Played:
    """What the play came to: the shop's configuration, and what people typed."""

    config: Path
    messages: int
    seconds: float
    answers: tuple[Answer, ...]


def play(scenario: Scenario, folder: Path, stage: Stage) -> Played:
    """Play the scenario in an empty folder; the daemon has ended when this returns.

    Raises
    ------
    TransportError
        The broker is not installed or does not answer.
    DaemonError
        The daemon ended or stood still.
    """
    begun = time.monotonic()
    config = folder / "shop.toml"
    with DemoBroker(folder / "broker.log") as broker:
        config.write_text(configuration(broker.port))
        with DaemonProcess(config, folder / "daemon.log") as daemon, _store(folder) as store:
            theatre = _Theatre(broker, daemon, store, stage)
            for messages, doings in scenes(scenario):
                theatre.send(messages)
                for doing in doings:
                    theatre.enter(doing)
            daemon.end()
        return Played(config, broker.published, time.monotonic() - begun, tuple(theatre.answers))


def scenes(scenario: Scenario) -> Iterator[tuple[tuple[Message, ...], tuple[Doing, ...]]]:
    """Yield what is sent up to each moment at which people do something or a day ends."""
    ends = {doing.at_ms for doing in scenario.doings}
    ends |= {START_MS + (day + 1) * DAY_MS for day in range(scenario.days)}
    doings = {at: tuple(mine) for at, mine in groupby(scenario.doings, key=lambda d: d.at_ms)}
    sent = 0
    for end in sorted(ends):
        first = sent
        while sent < len(scenario.messages) and scenario.messages[sent].at_ms <= end:
            sent += 1
        yield scenario.messages[first:sent], doings.get(end, ())


class _Theatre:
    """Broker, daemon and database of one performance."""

    def __init__(
        self, broker: DemoBroker, daemon: DaemonProcess, store: Store, stage: Stage
    ) -> None:
        self._broker = broker
        self._daemon = daemon
        self._store = store
        self._stage = stage
        self.answers: list[Answer] = []

    def send(self, messages: Sequence[Message]) -> None:
        """Publish messages and wait until the daemon has kept and judged them."""
        if not messages:
            return
        self._broker.publish(messages)
        last_ms = messages[-1].at_ms
        known_ms, moved_s = None, time.monotonic()
        while known_ms is None or known_ms < last_ms:
            self._daemon.check()
            stepped = self._store.meta.get(STEPPED)
            if isinstance(stepped, int) and stepped != known_ms:
                known_ms, moved_s = stepped, time.monotonic()
                self._stage.reached(stepped)
            elif time.monotonic() - moved_s > STALLED_S:
                raise self._daemon.failure(f"the daemon stood still for {STALLED_S:.0f} s")
            else:
                time.sleep(LOOK_S)

    def enter(self, doing: Doing) -> None:
        """Type the command; where it refuses work that is wanted anyway, say why and insist."""
        words = doing.words()
        status = self._type(doing, words)
        if isinstance(doing, Rub) and doing.anyway and status == REFUSED:
            status = self._type(doing, [*words, "--anyway", doing.anyway])
        if status != 0:
            raise CurewatchError(
                f"a command of the demo failed with status {status}: "
                f"{' '.join(self.answers[-1].words)}: {self.answers[-1].said}"
            )

    def _type(self, doing: Doing, words: list[str]) -> int:
        status, said = self._stage.type(words)
        self.answers.append(Answer(doing.at_ms, tuple(words), status, said))
        return status


def _store(folder: Path) -> Store:
    return Store.open(folder / "shop.db")
