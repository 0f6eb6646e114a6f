"""The store: one database and the repositories of all nouns."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from curewatch.storage.alerts import Alerts
from curewatch.storage.batches import Batches
from curewatch.storage.database import Database
from curewatch.storage.fills import Fills
from curewatch.storage.finishes import FinishRevisions
from curewatch.storage.joinings import Joinings
from curewatch.storage.judged import JudgedOutcomes
from curewatch.storage.meta import Meta
from curewatch.storage.mirror_marks import MirrorMarks
from curewatch.storage.outbox import Notices
from curewatch.storage.page_deeds import PageDeeds
from curewatch.storage.page_sessions import PageSessions
from curewatch.storage.pieces import Pieces
from curewatch.storage.places import Places
from curewatch.storage.quarantines import Quarantines
from curewatch.storage.reading_voids import ReadingVoids
from curewatch.storage.readings import Readings
from curewatch.storage.rejections import Rejections
from curewatch.storage.room_hours import RoomHours
from curewatch.storage.room_plans import RoomPlans
from curewatch.storage.sensor_checks import SensorChecks
from curewatch.storage.states import States
from curewatch.storage.stock import StockBook
from curewatch.storage.touched import Touched
from curewatch.storage.trials import Trials

if TYPE_CHECKING:
    from pathlib import Path
    from types import TracebackType


class Store:
    """Everything that is kept, over one connection.

    Attributes
    ----------
    db: the connection; `db.transaction()` binds writes of several repositories together.
    readings, reading_voids, rejections, touched, places: what sensors said.
    pieces, fills, finishes, batches, stock, joinings, quarantines: what people entered.
    sensor_checks: what sensors were held against.
    trials: test boards and their scores.
    room_plans: what people say rooms will be like.
    room_hours: rooms' climates by the hour, a cache.
    alerts, notices: what people were told.
    judged: what was made of outcomes, a cache.
    meta: small values.
    mirror_marks: how far readings, alerts and states were mirrored.
    states: how rooms and pieces stood, for a mirror.
    """

    def __init__(self, db: Database) -> None:
        """Bundle the repositories of `db`."""
        self.db = db
        self.readings = Readings(db)
        self.reading_voids = ReadingVoids(db)
        self.rejections = Rejections(db)
        self.touched = Touched(db)
        self.places = Places(db)
        self.sensor_checks = SensorChecks(db)
        self.pieces = Pieces(db)
        self.trials = Trials(db)
        self.fills = Fills(db)
        self.batches = Batches(db)
        self.stock = StockBook(db)
        self.joinings = Joinings(db)
        self.quarantines = Quarantines(db)
        self.finishes = FinishRevisions(db)
        self.room_plans = RoomPlans(db)
        self.room_hours = RoomHours(db)
        self.judged = JudgedOutcomes(db)
        self.alerts = Alerts(db)
        self.notices = Notices(db)
        self.meta = Meta(db)
        self.mirror_marks = MirrorMarks(db)
        self.states = States(db)
        self.page_sessions = PageSessions(db)
        self.page_deeds = PageDeeds(db)

    @classmethod
    def open(cls, path: Path | str, *, read_only: bool = False) -> Self:
        """Open the file at `path`; see `Database.open`."""
        return cls(Database.open(path, read_only=read_only))

    def close(self) -> None:
        """Close the connection."""
        self.db.close()

    def __enter__(self) -> Self:
        """Use as a context that closes."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close."""
        self.close()
