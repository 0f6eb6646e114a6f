"""A small shop with the real daemon in a thread and its page in this process; no broker."""

from __future__ import annotations

import queue
import threading
import time
import warnings
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Self, TypeVar

from curewatch.assembly import finish_text
from curewatch.daemon import Daemon
from curewatch.settings import load_settings
from curewatch.shop.piece import Coat
from curewatch.storage import Store
from curewatch.storage.page_sessions import PASSPHRASE
from curewatch.web.access import passphrase_digest
from curewatch.web.app import build
from tests.small_shop import CONFIG, HOUR_MS, MINUTE_MS, T0_MS, message

with warnings.catch_warnings():  # it would rather have another client than the one we have
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from fastapi import FastAPI

    from curewatch.settings import Settings

T = TypeVar("T")
SECRET = "oak and linseed"  # noqa: S105 - of a shop that does not exist
DIGEST = passphrase_digest(SECRET)
NOW_MS = T0_MS + 30 * HOUR_MS
READINGS_ARE_NOW = '\n[clock]\nsource = "readings"\n'
WAITS_S = 20.0


@dataclass
class WebShop:
    """The daemon in a thread of its own, answering the desk; `do` reaches into that thread."""

    settings: Settings
    daemon: Daemon = field(init=False)
    app: FastAPI = field(init=False)
    store: Store = field(init=False)
    _jobs: queue.SimpleQueue[tuple[Callable[[], object], Future[object]]] = field(
        default_factory=queue.SimpleQueue
    )
    _stop: threading.Event = field(default_factory=threading.Event)
    rests: threading.Event = field(default_factory=threading.Event)  # set: answers nobody

    @classmethod
    def at(cls, folder: Path, config: str = "") -> Self:
        """Describe the shop in a folder."""
        path = folder / "curewatch.toml"
        path.write_text(CONFIG + READINGS_ARE_NOW + config, "utf-8")
        return cls(load_settings(path))

    def __enter__(self) -> Self:
        """Open it."""
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()
        assert self._ready.wait(WAITS_S)
        self.app = build(self.daemon.desk, self.settings)
        return self

    def __exit__(self, *_exception: object) -> None:
        """Close it."""
        self._stop.set()
        self._thread.join(WAITS_S)

    def _run(self) -> None:
        with Store.open(self.settings.storage.path) as self.store:
            self.daemon = Daemon(self.settings, self.store)
            self._ready.set()
            while not self._stop.is_set():
                while not self._jobs.empty():
                    job, done = self._jobs.get()
                    try:
                        done.set_result(job())
                    except Exception as error:  # noqa: BLE001 - it belongs to the test
                        done.set_exception(error)
                if self.daemon.desk.waiting and not self.rests.is_set():
                    self.daemon.round([])
                time.sleep(0.002)
            self.daemon.desk.close()

    def do(self, job: Callable[[], T]) -> T:
        """Do something in the daemon's thread and return what came of it."""
        done: Future[T] = Future()
        self._jobs.put((job, done))  # type: ignore[arg-type]  # a promise of anything
        return done.result(WAITS_S)

    def hear(self, stop_ms: int = NOW_MS, *, hours: int = 30, temp_c: float = 21.0) -> None:
        """Let the room's sensor report every ten minutes up to an instant."""
        first = stop_ms - hours * HOUR_MS
        batch = [
            message(at, temp_c + at // MINUTE_MS % 7 * 0.01)
            for at in range(first, stop_ms + 1, 10 * MINUTE_MS)
        ]
        self.do(lambda: self.daemon.round(batch))

    def hang(
        self, tag: str, *coats_ms: int, finish: str = "waterborne", title: str = "an invented body"
    ) -> None:
        """Hang a piece in the loft and lay its coats, as a command would."""
        with Store.open(self.settings.storage.path) as other, other.db.transaction():
            text = finish_text(self.settings, finish)
            revision = other.finishes.keep(finish, text, T0_MS)
            other.pieces.hang(
                tag,
                finish,
                revision,
                title=title,
                at_ms=T0_MS,
                entered_ms=T0_MS,
                room="loft",
                planned_coats=6,
            )
            for at_ms in coats_ms:
                other.pieces.coat(tag, Coat(at_ms), at_ms)
        self.do(lambda: self.daemon.round([]))

    def set_passphrase(self, digest: str = DIGEST) -> None:
        """Set the passphrase as the command does."""
        with Store.open(self.settings.storage.path) as other, other.db.transaction():
            other.meta.set(PASSPHRASE, digest)
            other.page_sessions.close_all()

    def stranger(self, *, base_url: str = "http://localhost") -> TestClient:
        """Return somebody at the page who gave no passphrase."""
        return TestClient(self.app, base_url, follow_redirects=False, raise_server_exceptions=False)

    def known(self, who: str = "Ada") -> TestClient:
        """Return somebody who gave it."""
        visitor = self.stranger()
        answer = visitor.post("/enter", data={"passphrase": SECRET, "who": who})
        assert answer.status_code == 303, answer.text
        return visitor
