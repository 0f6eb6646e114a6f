"""The daemon's incremental state against a slow plain model, whatever people and sensors do."""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from curewatch.assembly import assemble, finish_text, record_start_ms
from curewatch.daemon import Daemon
from curewatch.finish_files import load_text
from curewatch.intake import Arrived
from curewatch.room_feed import RoomFeed
from curewatch.settings import load_settings
from curewatch.shop.assessment import assess
from curewatch.shop.laws import cure_law
from curewatch.shop.piece import Coat, Fill, Work, WorkKind
from curewatch.shop.plain import assessment_plain
from curewatch.shop.reading import Origin, Quantity, Reading
from curewatch.storage import Store
from tests.crash.daemon_process import CONFIG
from tests.machine.plain_model import MINUTE_MS, PlainPiece, PlainRoom

START_MS = 1_760_000_000_000
GAP_MS = 30 * MINUTE_MS
SENSORS = {"a1": "drying", "a2": "drying", "b1": "spray"}
TEMPS = st.integers(1800, 2080).map(lambda t: t / 100)
HUMIDITIES = st.integers(4200, 5800).map(lambda h: h / 100)


def configuration(folder: Path) -> Path:
    """Write a shop of two rooms and three sensors; nothing listens at its broker."""
    text = CONFIG.format(
        site="machine", folder=folder, port=1, protocol="5", clock="readings", window=0.05
    )
    text += '[[room]]\nname = "spray"\nlongest_gap_min = 30\n'
    for name, room in SENSORS.items():
        text += f'[[sensor]]\nid = "{name}"\nroom = "{room}"\ntopic = "shop/{name}"\n'
        text += 'temperature = "/t"\nhumidity = "/h"\ntime = "/at"\n'
    path = folder / "shop.toml"
    path.write_text(text)
    return path


class ShopMachine(RuleBasedStateMachine):
    """People enter and void; sensors report early, late, twice and wrongly; power fails."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.settings = load_settings(configuration(self.folder))
        self.store = Store.open(self.settings.storage.path)
        self.people = Store.open(self.settings.storage.path)  # another connection, as a command's
        self.daemon = Daemon(self.settings, self.store)
        self.rooms = {name: PlainRoom(GAP_MS) for name in ("drying", "spray")}
        self.pieces: dict[str, PlainPiece] = {}
        self.sent: list[tuple[str, int, float, float]] = []
        self.voided: set[tuple[str, int]] = set()
        self.now_ms = START_MS
        text = finish_text(self.settings, "waterborne")
        self.people.finishes.keep("waterborne", text, START_MS)
        law = cure_law(load_text(text, source="waterborne"))
        assert law is not None
        self.law = law.law

    def teardown(self) -> None:
        """Leave nothing behind."""
        self.people.close()
        self.store.close()
        shutil.rmtree(self.folder)

    def send(self, sensor: str, at_ms: int, temp_c: float, rh_pct: float) -> None:
        """Deliver one message to the daemon, as the broker would."""
        payload = json.dumps({"t": temp_c, "h": rh_pct, "at": at_ms}).encode()
        arrived = Arrived(1, 1, 1, f"shop/{sensor}", payload, False, 0.0, at_ms + 1000, False)
        self.daemon.round([arrived])

    def learn(self, sensor: str, at_ms: int, temp_c: float, rh_pct: float) -> None:
        """Tell the plain model."""
        room = self.rooms[SENSORS[sensor]]
        room.temp.setdefault(sensor, {})[at_ms] = temp_c
        room.rh.setdefault(sensor, {})[at_ms] = rh_pct / 100.0
        self.sent.append((sensor, at_ms, temp_c, rh_pct))
        self.now_ms = max(self.now_ms, at_ms)

    def known(self, sensor: str, at_ms: int) -> bool:
        """Return whether a sensor's reading at an instant stands."""
        return at_ms in self.rooms[SENSORS[sensor]].temp.get(sensor, {})

    @initialize()
    def first_readings(self) -> None:
        """Every sensor reports once."""
        for number, sensor in enumerate(SENSORS):
            self.report(sensor, 5 + number, 20.0, 50.0)

    @rule(
        sensor=st.sampled_from(sorted(SENSORS)),
        after_s=st.integers(20, 50 * 60),
        temp_c=TEMPS,
        rh_pct=HUMIDITIES,
    )
    def report(self, sensor: str, after_s: int, temp_c: float, rh_pct: float) -> None:
        """A sensor reports: soon, or after a silence too long to bridge."""
        at_ms = self.now_ms + after_s * 1000
        self.send(sensor, at_ms, temp_c, rh_pct)
        self.learn(sensor, at_ms, temp_c, rh_pct)

    @rule(
        sensor=st.sampled_from(sorted(SENSORS)),
        before_s=st.integers(1, 12 * 3600),
        temp_c=TEMPS,
        rh_pct=HUMIDITIES,
    )
    def report_late(self, sensor: str, before_s: int, temp_c: float, rh_pct: float) -> None:
        """A reading comes late, between or before others."""
        at_ms = max(self.now_ms - before_s * 1000, START_MS)
        if not self.known(sensor, at_ms) and (sensor, at_ms) not in self.voided:
            self.send(sensor, at_ms, temp_c, rh_pct)
            self.learn(sensor, at_ms, temp_c, rh_pct)

    @precondition(lambda self: self.sent)
    @rule(choice=st.integers(0, 10**6), wrong=st.booleans())
    def report_again(self, choice: int, wrong: bool) -> None:  # noqa: FBT001 - hypothesis passes it
        """A message comes twice, or again with another value: the first stays."""
        sensor, at_ms, temp_c, rh_pct = self.sent[choice % len(self.sent)]
        if (sensor, at_ms) not in self.voided:
            self.send(sensor, at_ms, temp_c + (0.01 if wrong else 0.0), rh_pct)

    @precondition(lambda self: self.sent)
    @rule(choice=st.integers(0, 10**6), temp_c=st.integers(2090, 2180).map(lambda t: t / 100))
    def correct(self, choice: int, temp_c: float) -> None:
        """A person voids a reading and types what was true."""
        sensor, at_ms, _, _ = self.sent[choice % len(self.sent)]
        room = self.rooms[SENSORS[sensor]]
        if (sensor, at_ms) in self.voided or not self.known(sensor, at_ms):
            return
        self.voided.add((sensor, at_ms))
        self.people.readings.void(
            sensor, at_ms, at_ms + 1, "held in a hand", at_ms, quantity=Quantity.TEMPERATURE
        )
        typed = Reading(sensor, Quantity.TEMPERATURE, at_ms, temp_c, Origin.TYPED)
        self.people.readings.add([typed], announce=True)
        room.temp[sensor][at_ms] = temp_c

    @rule(
        room=st.sampled_from(["drying", "spray"]),
        start_s=st.integers(0, 8 * 3600),
        length_s=st.integers(600, 3 * 3600),
    )
    def fill(self, room: str, start_s: int, length_s: int) -> None:
        """A person fills a stretch with an assumed climate; readings go before it."""
        start = START_MS + start_s // 60 * MINUTE_MS
        stop = start + length_s // 60 * MINUTE_MS
        if stop > self.now_ms or self.rooms[room].fills:
            return
        self.people.fills.add(Fill(room, start, stop, 19.0, 0.5, "thermostat held"), self.now_ms)
        self.rooms[room].fills.append((start, stop, 19.0, 0.5))

    @rule(room=st.sampled_from(["drying", "spray"]), before_s=st.integers(0, 6 * 3600))
    def hang(self, room: str, before_s: int) -> None:
        """A person hangs a piece, perhaps some time ago."""
        if len(self.pieces) < 3:
            tag, at_ms = f"P{len(self.pieces)}", max(self.now_ms - before_s * 1000, START_MS)
            self.people.pieces.hang(
                tag, "waterborne", 1, title="", at_ms=at_ms, entered_ms=at_ms, planned_coats=9
            )
            piece = self.pieces[tag] = PlainPiece(tag)
            piece.moves[self.people.pieces.move(tag, room, at_ms, at_ms)] = (at_ms, room)

    @precondition(lambda self: self.pieces)
    @rule(
        choice=st.integers(0, 10**6),
        before_s=st.integers(0, 5 * 3600),
        room=st.sampled_from(["drying", "spray"]),
        deed=st.sampled_from(["coat", "move", "scuff", "void-coat", "void-move"]),
    )
    def do(self, choice: int, before_s: int, room: str, deed: str) -> None:
        """A person coats, moves or works a piece, or takes an entry back."""
        tag = sorted(self.pieces)[choice % len(self.pieces)]
        piece, at_ms = self.pieces[tag], max(self.now_ms - before_s * 1000, START_MS)
        match deed:
            case "coat":
                piece.coats[self.people.pieces.coat(tag, Coat(at_ms), at_ms)] = at_ms
            case "move":
                piece.moves[self.people.pieces.move(tag, room, at_ms, at_ms)] = (at_ms, room)
            case "scuff":
                self.people.pieces.work(tag, Work(WorkKind.SCUFF, at_ms), at_ms)
            case "void-coat" if piece.coats:
                entry = sorted(piece.coats)[choice % len(piece.coats)]
                self.people.pieces.void("coat", entry, "mistaken", at_ms)
                del piece.coats[entry]
            case "void-move" if len(piece.moves) > 1:
                entry = sorted(piece.moves)[choice % len(piece.moves)]
                self.people.pieces.void("move", entry, "mistaken", at_ms)
                del piece.moves[entry]

    @rule()
    def power_fails(self) -> None:
        """The daemon is gone at once and starts again on the same file."""
        self.store.close()
        self.store = Store.open(self.settings.storage.path)
        self.daemon = Daemon(self.settings, self.store)

    @invariant()
    def agrees_with_a_shop_read_from_scratch(self) -> None:
        """The incremental book says to the last digit what one read anew from storage says."""
        self.daemon.round([])
        now_ms = self.daemon.clock.now_ms()
        if now_ms is None:
            return
        assert now_ms == self.now_ms
        fresh = assemble(self.settings, self.people, now_ms)
        RoomFeed(self.people, fresh).load(record_start_ms(fresh.pieces.values(), now_ms))
        ours, theirs = (
            assessment_plain(assess(shop, now_ms))["pieces"] for shop in (self.daemon.shop, fresh)
        )
        (words, numbers), (words_then, numbers_then) = parted(ours), parted(theirs)
        assert words == words_then
        assert numbers == pytest.approx(numbers_then, rel=1e-9, abs=1e-9)

    @invariant()
    def agrees_with_the_plain_model(self) -> None:
        """Cure hours are what a loop over short steps gives, from what people and sensors said."""
        shop = self.daemon.shop
        now = assess(shop, self.now_ms)
        assert {piece.tag for piece in now.pieces} == set(self.pieces)
        for piece in now.pieces:
            wanted = self.pieces[piece.tag].cure_hours(self.rooms, self.law, self.now_ms)
            got = next((c.effective_hours for n, c in piece.clocks.items() if n == "cure"), None)
            assert (got is None) == (wanted is None)
            if wanted is not None:
                # the plain loop looks every 10 s: each edge of a gap or median is off by 5 s
                edges = 2 * len(self.sent) + 4
                assert got == pytest.approx(wanted, rel=1e-4, abs=edges * 5.0 / 3600.0 * 1.2)


def parted(value: object) -> tuple[dict[str, object], dict[str, float]]:
    """Return the words and the numbers of nested plain data, each by path."""
    table = flat(value)
    numbers = {path: v for path, v in table.items() if isinstance(v, float)}
    return {path: v for path, v in table.items() if path not in numbers}, numbers


def flat(value: object, path: str = "") -> dict[str, object]:
    """Return nested plain data as one table."""
    if isinstance(value, dict):
        return {k: v for key, sub in value.items() for k, v in flat(sub, f"{path}/{key}").items()}
    if isinstance(value, list):
        return {k: v for i, sub in enumerate(value) for k, v in flat(sub, f"{path}/{i}").items()}
    return {path: value}


TestShopMachine = ShopMachine.TestCase
TestShopMachine.settings = settings(max_examples=25, stateful_step_count=25, deadline=None)
