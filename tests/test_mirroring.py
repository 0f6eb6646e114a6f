"""The mirror in the daemon's thread: what it claims, when it tries again, what it writes down."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pytest

from curewatch import mirroring
from curewatch.errors import TransportError
from curewatch.mirroring import LINES, STATES, Courier, Mirror, Progress
from curewatch.outbound.backoff import FIRST_S, Backoff
from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.plain_state import State
from curewatch.shop.reading import Flag, Quantity, Reading, Urgency
from curewatch.storage import Store
from curewatch.storage.mirror_marks import Claim, Numbers

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

T0_MS = 1_772_668_800_000
FAR_MS = T0_MS + 10_000_000_000
EVERY_S = 60.0


@dataclass
class Server:
    """Keeps what it is sent; may be away after so many writes, or refuse the odd row."""

    away_after: int | None = None
    refused: int = 0
    writes: list[list[str]] = field(default_factory=list)

    def write(self, lines: Sequence[str]) -> int:
        """Take lines."""
        if self.away_after is not None and len(self.writes) >= self.away_after:
            raise TransportError("the server is away", retry=True)
        self.writes.append(list(lines))
        return self.refused


@dataclass
class Hand:
    """A courier that the test moves, and a clock's hand [s]."""

    taken: list[Claim] = field(default_factory=list)
    came: list[Progress] = field(default_factory=list)
    at_s: float = 0.0

    def start(self) -> None:
        """Do nothing yet."""

    def stop(self) -> None:
        """Do nothing more."""

    def take(self, claim: Claim) -> None:
        """Note a claim."""
        self.taken.append(claim)

    def progress(self) -> Progress | None:
        """Return what the test put there."""
        return self.came.pop(0) if self.came else None


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "shop.db") as opened:
        yield opened


def hear(store: Store, rows: int, *, first: int = 0, flags: int = 0) -> None:
    store.readings.add(
        Reading("rack", Quantity.TEMPERATURE, T0_MS + second * 1000, 20.0, flags=flags)
        for second in range(first, first + rows)
    )


def courier(tmp_path: Path, server: Server) -> Courier:
    return Courier(tmp_path / "shop.db", "yard", server)


def mirror(store: Store, hand: Hand) -> Mirror:
    return Mirror(
        store,
        hand,  # type: ignore[arg-type]  # moves as the courier does
        place="here",
        every_s=EVERY_S,
        backoff=Backoff(jitter_frac=0.0),
        monotonic_s=lambda: hand.at_s,
    )


def test_a_claim_is_sent_in_writes_of_so_many_lines(store: Store, tmp_path: Path) -> None:
    hear(store, 2 * LINES + 5)
    server = Server()
    came = courier(tmp_path, server).send(Claim(0, FAR_MS))
    assert came == Progress(FAR_MS)
    assert [len(lines) for lines in server.writes] == [LINES, LINES, 5]


def test_an_end_in_the_middle_says_how_far_it_came(store: Store, tmp_path: Path) -> None:
    hear(store, 3 * LINES)
    came = courier(tmp_path, Server(away_after=2)).send(Claim(0, FAR_MS))
    assert came.until_ms == T0_MS + (2 * LINES - 1) * 1000  # that instant is sent once more
    assert (came.whole, came.error) == (False, "the server is away")


def test_a_long_claim_ends_early_and_the_rest_follows(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mirroring, "WRITES", 2)
    hear(store, 5 * LINES)
    server = Server()
    came = courier(tmp_path, server).send(Claim(0, FAR_MS))
    assert (came.whole, came.error) == (False, None)
    while not came.whole:
        came = courier(tmp_path, server).send(Claim(came.until_ms, FAR_MS))
    times = {line.rpartition(" ")[2] for lines in server.writes for line in lines}
    assert len(times) == 5 * LINES


def test_readings_of_unknown_time_are_left_out(store: Store, tmp_path: Path) -> None:
    hear(store, 3)
    hear(store, 4, first=10, flags=Flag.TIME_UNKNOWN)
    server = Server()
    courier(tmp_path, server).send(Claim(0, FAR_MS))
    assert [len(lines) for lines in server.writes] == [3]


def test_steps_of_alerts_are_sent_in_order_once(store: Store, tmp_path: Path) -> None:
    alert = Alert(
        kind=AlertKind.SENSOR_SILENT,
        subject="sensor:rack",
        urgency=Urgency.TODAY,
        phase=AlertPhase.WATCHING,
        since_ms=T0_MS,
        reason="silent",
        next_action="look",
    )
    kept = store.alerts.save(alert)
    store.alerts.mark_seen(kept.id, "Ada", T0_MS + 60_000)
    server = Server()
    came = courier(tmp_path, server).send(Claim(0, 0))
    phases = [line.partition(" ")[0].rpartition("phase=")[2] for line in server.writes[0]]
    assert phases == ["watching", "seen"]
    courier(tmp_path, server).send(Claim(0, 0, came.after))
    assert len(server.writes) == 1


def test_refused_rows_are_counted(store: Store, tmp_path: Path) -> None:
    hear(store, 3)
    assert courier(tmp_path, Server(refused=2)).send(Claim(0, FAR_MS)).parked == 2


def test_one_claim_is_under_way_at_a_time(store: Store) -> None:
    hear(store, 3)
    hand = Hand()
    mine = mirror(store, hand)
    mine.work()
    hand.at_s = 10 * EVERY_S
    mine.work()
    assert len(hand.taken) == 1


def test_what_is_done_is_written_down_and_rests(store: Store) -> None:
    hear(store, 3)
    hand = Hand()
    mine = mirror(store, hand)
    mine.work()
    hand.came.append(Progress(hand.taken[0].stop_ms))
    mine.work()
    assert store.mirror_marks.behind().rows == 0
    hear(store, 1, first=9)
    hand.at_s = EVERY_S - 1.0
    mine.work()
    assert len(hand.taken) == 1
    hand.at_s = EVERY_S
    mine.work()
    assert len(hand.taken) == 2


def test_where_nothing_is_new_nothing_is_claimed(store: Store) -> None:
    hear(store, 3)
    hand = Hand()
    mine = mirror(store, hand)
    mine.work()
    hand.came.append(Progress(hand.taken[0].stop_ms))
    mine.work()
    hand.at_s = EVERY_S
    mine.work()
    assert len(hand.taken) == 1
    hear(store, 1, first=9)
    hand.at_s = 2 * EVERY_S - 1.0
    mine.work()
    assert len(hand.taken) == 1  # it has just looked
    hand.at_s = 2 * EVERY_S
    mine.work()
    assert len(hand.taken) == 2


def test_what_is_left_of_a_long_claim_follows_at_once(store: Store) -> None:
    hear(store, 3)
    hand = Hand()
    mine = mirror(store, hand)
    mine.work()
    hand.came.append(Progress(T0_MS + 1000, whole=False))
    mine.work()
    assert [claim.from_ms for claim in hand.taken[1:]] == [T0_MS + 1000]


def test_failures_wait_longer_each_time_and_keep_what_is_due(
    store: Store, caplog: pytest.LogCaptureFixture
) -> None:
    hear(store, 3)
    hand = Hand()
    mine = mirror(store, hand)
    mine.work()
    for wait_s in (FIRST_S, 2 * FIRST_S, 4 * FIRST_S):
        hand.came.append(Progress(0, whole=False, error="away"))
        claims = len(hand.taken)
        mine.work()
        hand.at_s += wait_s - 0.5
        mine.work()
        assert len(hand.taken) == claims
        hand.at_s += 0.5
        mine.work()
        assert len(hand.taken) == claims + 1
    behind = store.mirror_marks.behind()
    assert (behind.rows, behind.last_error) == (3, "away")
    assert caplog.text.count("away") == 1  # said once


def test_the_end_writes_down_what_came(store: Store) -> None:
    hear(store, 3)
    hand = Hand()
    mine = mirror(store, hand)
    mine.work()
    hand.came.append(Progress(hand.taken[0].stop_ms))
    mine.stop()
    assert store.mirror_marks.behind().rows == 0


def test_the_thread_sends_and_ends(store: Store, tmp_path: Path) -> None:
    hear(store, 3)
    server = Server()
    mine = Mirror(store, courier(tmp_path, server), place="here", every_s=EVERY_S)
    mine.start()
    mine.work()
    mine.stop()  # the claim that was handed over is sent first, or is due again
    assert store.mirror_marks.behind().rows == (0 if server.writes else 3)


def test_withdrawals_and_states_are_sent_once_and_in_order(store: Store, tmp_path: Path) -> None:
    hear(store, 3)
    store.readings.void("rack", T0_MS, T0_MS + 1, "hand on it", T0_MS + 9000)
    store.states.add(
        State(T0_MS + second, "room", "loft", {"fresh": True}) for second in range(STATES + 1)
    )
    server = Server()
    came = courier(tmp_path, server).send(Claim(FAR_MS, 0))
    voids, states = server.writes
    assert [line.partition(",")[0] for line in voids] == ["curewatch_void"]
    assert len(states) == STATES
    assert not came.whole
    came = courier(tmp_path, server).send(Claim(FAR_MS, 0, came.after))
    assert (came.whole, came.after) == (True, Numbers(state=STATES + 1, void=1))
    assert [len(lines) for lines in server.writes[2:]] == [1]


def test_an_end_among_the_states_does_not_send_the_alerts_again(
    store: Store, tmp_path: Path
) -> None:
    store.states.add([State(T0_MS, "room", "loft", {"fresh": True})])
    store.readings.add([Reading("rack", Quantity.TEMPERATURE, T0_MS, 20.0)])
    store.readings.void("rack", T0_MS, T0_MS + 1, "hand on it", T0_MS)
    came = courier(tmp_path, Server(away_after=1)).send(Claim(0, FAR_MS))
    assert (came.after, came.until_ms) == (Numbers(void=1), 0)


def test_a_server_that_asks_for_time_gets_it(store: Store) -> None:
    hear(store, 3)
    hand = Hand()
    mine = mirror(store, hand)
    mine.work()
    hand.came.append(Progress(0, whole=False, error="busy", wait_s=300.0))
    mine.work()
    hand.at_s = 299.0
    mine.work()
    assert len(hand.taken) == 1
    hand.at_s = 300.0
    mine.work()
    assert len(hand.taken) == 2


def test_after_a_failure_the_last_minutes_claims_are_sent_again(store: Store) -> None:
    """A server that was killed may have lost what it said it had taken."""
    hand = Hand()
    mine = mirror(store, hand)
    for second in (0, 1, 2):
        hear(store, 1, first=second)
        mine.work()
        hand.came.append(Progress(hand.taken[-1].stop_ms))
        mine.work()
        hand.at_s += EVERY_S  # when the third has come, the first is settled
    hear(store, 1, first=3)
    mine.work()
    hand.came.append(Progress(hand.taken[-1].from_ms, whole=False, error="gone"))
    mine.work()
    hand.at_s += EVERY_S
    mine.work()
    assert hand.taken[-1].from_ms == hand.taken[1].from_ms
    assert hand.taken[1].from_ms > hand.taken[0].from_ms


def test_another_place_is_sent_everything(store: Store) -> None:
    hear(store, 3)
    for place, rows in (("here", 3), ("there", 3)):
        hand = Hand()
        mine = Mirror(store, hand, place=place, every_s=EVERY_S)  # type: ignore[arg-type]  # as above
        mine.start()
        mine.work()
        assert store.mirror_marks.behind().rows == rows
        hand.came.append(Progress(hand.taken[0].stop_ms))
        mine.work()
        assert store.mirror_marks.behind().rows == 0
