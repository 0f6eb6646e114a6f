"""The daemon: keeps what sensors say, brings alerts forward, tells people, for years.

One thread owns the database and does everything in rounds; the broker's network thread only
queues, and notices leave through a thread of their own.
"""

from __future__ import annotations

import logging
import signal
import threading
import time
from dataclasses import replace
from typing import TYPE_CHECKING

from curewatch import __version__, sdnotify
from curewatch.alert_board import AlertBoard
from curewatch.assembly import (
    assemble,
    load_heard,
    load_paces,
    load_pieces,
    load_plans,
    record_start_ms,
)
from curewatch.clock import Clock, NewestReadingClock, StepWatch, SystemClock, system_ms
from curewatch.errors import StorageError
from curewatch.finished import load_finished
from curewatch.heap import give_back
from curewatch.intake import Arrived, TopicTable
from curewatch.intake.broker import BrokerAccess
from curewatch.intake.held import Held
from curewatch.intake.mqtt import MqttIntake
from curewatch.intake.polling import Poller
from curewatch.intake.tls import line_context
from curewatch.keeping import Keeping
from curewatch.mirroring import mirror_of
from curewatch.outbound.notify import Messenger, NoticeSender
from curewatch.presences import Presences
from curewatch.room_feed import RoomFeed
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.plain import FORMAT
from curewatch.shop.watch import Watch
from curewatch.stating import StateKeeper
from curewatch.storage import Store
from curewatch.storage.lock import daemon_lock
from curewatch.telling import Alarm, Postbox, StateBoard
from curewatch.upkeep import Upkeep
from curewatch.web.desk import Counter, Desk

if TYPE_CHECKING:
    from curewatch.settings import Settings
    from curewatch.web.server import PageServer

LOG = logging.getLogger(__name__)
BATCH = 1000  # messages in one commit at most
SMALL_WINDOW = 10  # brokers with defaults let 20 messages wait for acknowledgement
SLICE_S = 0.25  # how long a stop may go unnoticed
STEP_TOLD_S = 30.0  # steps of the system clock smaller than this are nobody's concern
LONGEST_PAUSE_S = 60.0


class Daemon:
    """One shop being watched."""

    def __init__(
        self,
        settings: Settings,
        store: Store,
        *,
        clock: Clock | None = None,
    ) -> None:
        """Watch the shop that `settings` describe, keeping it in `store`.

        `clock` replaces the one that the settings name.
        """
        self._settings = settings
        self._store = store
        self._window_s = settings.clock.commit_window_s
        self._follows_readings = settings.clock.source == "readings"
        newest = store.readings.newest_ms()
        self.clock = clock or clock_of(settings, newest)
        self._steps = StepWatch()
        self._held = Held()
        self._clock_told = True
        self._news = True  # the first round looks at everything
        self._settled = False  # what the start needed is let go of after that round
        self._entered = False  # over the page, and not taken in yet
        self._pause_s = 0.0
        self._round_ended_s: float | None = None
        self.kept = 0
        start_ms = self.clock.now_ms() or newest or system_ms()
        self.shop = assemble(settings, store, start_ms)
        load_finished(store, self.shop)
        self._hang_sensors(start_ms)
        self.feed = RoomFeed(store, self.shop, keeps=True)
        self.feed.load(self._record_start_ms())
        self.watch = Watch(self.shop, store.alerts.active())
        presences = Presences(
            store, self.shop, settings.presences(), settings.families(), settings.placed()
        )
        self._keeping = Keeping(
            store,
            self.shop,
            self.feed,
            TopicTable(settings.mappings()),
            follows_readings=self._follows_readings,
            presences=presences,
        )
        access = broker_access(settings)
        self._place = access.place
        self.line = MqttIntake(
            access,
            settings.asked_topics(),
            site=settings.site.name,
            now_ms=system_ms,
            hello={"format": FORMAT, "version": __version__},
        )
        urls = settings.notify_urls()
        self._poller = Poller(
            settings.polls(), self.line.put, now_ms=system_ms, root=settings.kernel.sysfs
        )
        self._sender = NoticeSender(Messenger(urls)) if urls else None
        self._alarm = Alarm(store, self.shop, self.watch, settings)
        self._postbox = Postbox(store, settings, self._sender)
        self._board = StateBoard(
            self.shop, self.watch, site=settings.site.name, line=self.line, meta=store.meta
        )
        self._alerts = AlertBoard(store, site=settings.site.name, line=self.line)
        self._upkeep = Upkeep(store, self.shop, settings)
        self._states = StateKeeper(store, self.watch, settings)
        self._mirror = mirror_of(settings, store)
        self.desk = Desk(self.line.wake)
        self.page = _page_server(self.desk, settings) if settings.page.serve else None
        self._shown: int | None = None  # the minute that open pages show
        self._shown_kept = 0  # readings taken in by then
        self._data_version = store.db.data_version()
        self._touched = store.touched.last_id()

    def run(self, stop: threading.Event) -> None:
        """Watch until `stop` is set; returns with everything taken in committed."""
        self.line.start()
        self._poller.start()
        if self._sender is not None:
            self._sender.start()
        self._upkeep.start()
        if self._mirror is not None:
            self._mirror.start()
        if self.page is not None:
            self.page.start()
        sdnotify.tell("READY=1")  # a broker that is away is no reason to be started again
        ready = False
        try:
            while not stop.is_set():
                if not ready and self.line.state().subscribed:
                    ready = True
                    LOG.info("ready: subscribed at %s", self._place)
                self.round(self._gather(stop))
                sdnotify.tell("WATCHDOG=1")
        finally:
            self._end()

    def _end(self) -> None:
        sdnotify.tell("STOPPING=1")
        if self.page is not None:
            self.page.stop()
        self._poller.stop()
        self.line.stop()
        self._upkeep.stop()
        if self._mirror is not None:
            self._mirror.stop()
        if self._sender is not None:
            self._sender.stop()
            now_ms = self.clock.now_ms()
            if now_ms is not None:
                self._postbox.work(now_ms)
        LOG.info("stopped; everything acknowledged is kept")

    def _gather(self, stop: threading.Event) -> list[Arrived]:
        """Return what arrived within one commit window."""
        batch: list[Arrived] = []
        until_s = time.monotonic() + self._window_s + self._pause_s
        while len(batch) < BATCH and not stop.is_set():
            left_s = until_s - time.monotonic()
            if left_s <= 0.0 or self.desk.waiting:
                break
            more = self.line.take(BATCH - len(batch), min(left_s, SLICE_S))
            batch += more
            if not more and len(batch) >= SMALL_WINDOW:
                break  # a broker that hands out few at a time waits for their acknowledgement
        return batch

    def round(self, arrived: list[Arrived]) -> None:
        """Keep a batch, notice what people entered, bring alerts forward, tell."""
        try:
            if self._entered:  # the last round could not take it in: nobody sees the shop without
                self._news |= self._take_notice_of_people()
            self._entered = self._answer_page()
            self._news |= self._take_notice_of_people()
            self._news |= self._keep(arrived)
            now_ms = self.clock.now_ms()
            self._tell_clock(set_=now_ms is not None or self._follows_readings)
            if now_ms is not None:
                changed = self._alarm.bring_to(now_ms, again=self._news)
                self._renew_page(now_ms, news=self._news or bool(changed))
                self._news = False
                generation = self.line.state().generation
                self._board.tell(now_ms, generation=generation)
                self._alerts.tell(now_ms, generation=generation)
                self._postbox.work(now_ms)
                self._upkeep.work(now_ms)
                self._states.work(now_ms)
            if self._mirror is not None:
                self._mirror.work()
            self._pause_s = 0.0
            if not self._settled:
                self._settled = True
                give_back(self._store)
        except StorageError as error:
            self._pause_s = min(2.0 * self._pause_s + 1.0, LONGEST_PAUSE_S)
            LOG.error("%s (trying again; nothing is acknowledged meanwhile)", error)  # noqa: TRY400 - the sentence says it all
        self._round_ended_s = time.monotonic()
        step_s = self._steps.step_s()
        if abs(step_s) > STEP_TOLD_S:
            LOG.warning("the system clock was stepped by %.0f s", step_s)
            self._upkeep.restart()

    def _tell_clock(self, *, set_: bool) -> None:
        if set_ != self._clock_told:
            self._clock_told = set_
            if set_:
                LOG.info("clock set: going on")
            else:
                LOG.warning("clock not set: readings wait, nothing is raised until it is")

    def _keep(self, arrived: list[Arrived]) -> bool:
        """Commit what arrived; hold it while the clock that would stamp it is wrong.

        Returns whether the past of a room was changed by it.
        """
        let_go = self._held.let_go
        self._held.add(arrived)
        if self._held.let_go > let_go:
            LOG.warning(
                "the clock is not set or nothing can be written, for long: every second of the "
                "readings that wait was let go, %d so far",
                self._held.let_go,
            )
        now_ms = self.clock.now_ms()
        if not self._held or (now_ms is None and not self._follows_readings):
            return False
        batch = self._stamped(self._held.all())
        rewritten = self._keeping.keep(batch, self.line)
        self._held.clear()
        self.kept += len(batch)
        for room in rewritten:
            self.watch.room_rewritten(room)
        if rewritten:
            self._judge_again()
        for reading in self.shop.heard.values():
            self.clock.heard(reading.at_ms)
        return bool(rewritten)

    def _judge_again(self) -> None:
        """Bring up to date what outcomes say, once late readings may have changed their hours."""
        before = self.shop.paces
        load_paces(self._store, self.shop)
        if before != self.shop.paces:
            self.watch.pieces_changed()

    def _stamped(self, held: list[Arrived]) -> list[Arrived]:
        """Stamp what was held with the clock as it is now, by its age on the monotonic one."""
        now_ms, now_s = self.clock.now_ms(), time.monotonic()
        if self._follows_readings or now_ms is None:
            return held
        return [
            replace(message, received_ms=round(now_ms - (now_s - message.received_s) * 1000.0))
            for message in held
        ]

    def _hang_sensors(self, now_ms: int) -> None:
        """Write down where the configuration says that each sensor hangs."""
        for sensor in self.shop.sensors:
            if self._store.places.place(sensor.id, sensor.room, now_ms):
                LOG.info("sensor %s hangs in %s", sensor.id, sensor.room)

    def _answer_page(self) -> bool:
        """Answer who asks from the page; return whether somebody entered something there."""
        if not self.desk.waiting:
            return False
        now_ms, entered_ms = self.clock.now_ms(), system_ms()
        newest_ms = self._store.readings.newest_ms() if now_ms is None else None
        counter = Counter(
            store=self._store,
            shop=self.shop,
            watch=self.watch,
            settings=self._settings,
            now_ms=now_ms or newest_ms or entered_ms,
            entered_ms=entered_ms,
            clock_set=now_ms is not None or self._follows_readings,
            broker_connected=self.line.state().subscribed,
            storage_fails=self._pause_s > 0.0,
            round_ended_s=self._round_ended_s,
        )
        return self.desk.serve(counter)

    def _renew_page(self, now_ms: int, *, news: bool) -> None:
        """Let open pages look again when something happened or a minute passed.

        A reading alone stirs none: who asks of himself sees it, an open page with the next minute.
        """
        minute = now_ms // MINUTE_MS
        if news or minute != self._shown:
            self.desk.changed()
        elif self.kept != self._shown_kept:
            self.desk.forget()
        self._shown, self._shown_kept = minute, self.kept

    def _take_notice_of_people(self) -> bool:
        """Bring in what people wrote since the last round; return whether they wrote.

        Commands write from processes of their own, the page over the desk (`_entered`).
        """
        version = self._store.db.data_version()
        if version == self._data_version and not self._entered:
            return False
        before, paces = self.shop.pieces, self.shop.paces
        others = (self.shop.held, self.shop.joinings)
        load_pieces(self._store, self.shop)
        load_heard(self._store, self.shop)
        load_finished(self._store, self.shop)
        start_ms = self._record_start_ms()
        if self.feed.starts_after(start_ms):
            self.feed.load(start_ms)
            self.watch.pieces_changed()
        if before.keys() != self.shop.pieces.keys() or paces != self.shop.paces:
            self.watch.pieces_changed()
        if others != (self.shop.held, self.shop.joinings):
            self.watch.pieces_changed()
        for tag, piece in self.shop.pieces.items():
            if piece != before.get(tag):
                self.watch.piece_changed(tag)
        self.feed.places_changed()
        self._rebuild_touched()
        for room in load_plans(self._store, self.shop):
            LOG.info("what is planned for %s was changed", room)
            self.watch.room_rewritten(room)
        self._data_version = version
        self._entered = False
        return True

    def _record_start_ms(self) -> int:
        """Return from where the rooms' record is needed [ms]."""
        now_ms = self.clock.now_ms()
        if now_ms is None and self._follows_readings:
            return 0  # whatever comes first
        return record_start_ms(self.shop.pieces.values(), now_ms or system_ms())

    def _rebuild_touched(self) -> None:
        """Read again the rooms whose past another process changed."""
        self._touched, touches = self._store.touched.since(self._touched)
        from_ms: dict[str, int] = {}
        for touch in touches:
            rooms = [touch.room] if touch.room else self.feed.rooms_of(touch.sensor or "")
            for room in rooms:
                if room in self.shop.rooms:
                    from_ms[room] = min(touch.from_ms, from_ms.get(room, touch.from_ms))
        for room, at_ms in from_ms.items():
            self.feed.reload(room, at_ms)
            self.watch.room_rewritten(room)


def _page_server(desk: Desk, settings: Settings) -> PageServer:
    """Return the page's server; what it needs is imported only where a page is served."""
    from curewatch.web.server import PageServer  # noqa: PLC0415 - 35 MB for those who want them

    return PageServer(desk, settings)


def clock_of(settings: Settings, newest_ms: int | None) -> Clock:
    """Return where 'now' comes from, going on from the newest stored reading [ms]."""
    if settings.clock.source == "readings":
        return NewestReadingClock(newest_ms)
    return SystemClock(newest_stored_ms=newest_ms)


def broker_access(settings: Settings) -> BrokerAccess:
    """Return how to reach the broker."""
    broker = settings.broker
    return BrokerAccess(
        host=broker.host,
        port=broker.port,
        client_id=settings.client_id(),
        username=broker.username,
        password=settings.broker_password(),
        protocol=broker.protocol,
        receive_maximum=2 * BATCH,
        tls=(
            line_context(ca_file=broker.ca_file, fingerprint=broker.fingerprint)
            if broker.tls
            else None
        ),
    )


def watch_shop(settings: Settings) -> None:
    """Run the daemon until SIGTERM or SIGINT ends it."""
    stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())
    path = settings.storage.path
    with daemon_lock(path), Store.open(path) as store:
        for warning in settings.warnings:
            LOG.warning("configuration: %s", warning)
        LOG.info("curewatch %s on %s", __version__, path)
        Daemon(settings, store).run(stop)
