"""How far rows were mirrored elsewhere, in a way that late ones are not forgotten.

Readings are keyed by time and come in any order, so a mark alone is not enough: what is added
behind it would never be sent. Before a span is read it is claimed; whatever is added behind the
claim from then on is noted in the transaction that adds it, and the mark goes back to the earliest
of it. Steps of alerts, states and voids have numbers that only grow, so their marks are numbers.
Sent twice does no harm, for a point's time and tags are its key.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.shop.reading import Flag
from curewatch.storage.meta import Meta

if TYPE_CHECKING:
    from curewatch.storage.database import Database

SENT, CLAIMED, LATE = "mirror_sent_ms", "mirror_claimed_ms", "mirror_late_ms"
ERROR, PARKED, PLACE = "mirror_error", "mirror_parked", "mirror_place"
NUMBERED = {"alert": "alert_event", "state": "state", "void": "reading_void"}  # kind: its table
NEVER = 1 << 62  # after all times and numbers
MOST_COUNTED = 1_000_000


@dataclass(frozen=True, slots=True)
class Numbers:
    """The newest number of each kind of row that is there: steps of alerts, states, voids."""

    alert: int = 0
    state: int = 0
    void: int = 0

    def lowest(self, other: Numbers) -> Numbers:
        """Return the lower of each."""
        return Numbers(
            min(self.alert, other.alert),
            min(self.state, other.state),
            min(self.void, other.void),
        )


NONE_YET = Numbers()


@dataclass(frozen=True, slots=True)
class Claim:
    """What is to be sent: readings in [from_ms, stop_ms) [ms], other rows after their numbers."""

    from_ms: int
    stop_ms: int
    after: Numbers = NONE_YET


@dataclass(frozen=True, slots=True)
class Behind:
    """What is not mirrored yet.

    Attributes
    ----------
    rows: of all kinds; of very many readings only so many are counted.
    oldest_ms: the time of the oldest of them [ms]; None where there is none.
    last_error: why the last try failed; None where it did not.
    parked: how often a row was refused for good.
    """

    rows: int
    oldest_ms: int | None
    last_error: str | None
    parked: int


class MirrorMarks:
    """The marks of the one mirror there may be."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db
        self._meta = Meta(db)

    def aim(self, place: str) -> bool:
        """Let the marks belong to `place`; return whether they were another's and begin anew."""
        known = self._meta.get(PLACE)
        if known == place:
            return False
        with self._db.transaction():
            self._meta.set(PLACE, place)
            if known is not None:
                self._back_to(0, NONE_YET)
        return known is not None

    def late(self, from_ms: int) -> None:
        """Note that readings from `from_ms` [ms] on must be sent (again), if ever any were."""
        claimed = self._meta.get(CLAIMED)
        if isinstance(claimed, int) and from_ms < min(claimed, self._number(LATE, NEVER)):
            self._meta.set(LATE, from_ms)

    def again(self, from_ms: int) -> None:
        """Note that rows of every kind must be sent again from their time `from_ms` [ms] on."""
        with self._db.transaction():
            self.late(from_ms)
            for kind, table in NUMBERED.items():
                first = self._db.value(
                    f"SELECT min(id) FROM {table} WHERE at_ms >= ?",  # noqa: S608 - a table of our own
                    (from_ms,),
                )
                if first is not None:
                    again = self._number(f"mirror_{kind}_again", NEVER)
                    self._meta.set(f"mirror_{kind}_again", min(first - 1, again))

    def step_back(self, span_ms: int) -> None:
        """Let rows of the last `span_ms` [ms] before the mark be sent again, if ever any were."""
        sent_ms = self._number(SENT, 0)
        if sent_ms > 0:
            self.again(sent_ms - span_ms)

    def due(self) -> bool:
        """Whether anything is to be sent; looking writes nothing."""
        new = " OR ".join(
            f"EXISTS (SELECT 1 FROM {table} WHERE id > {self._after(kind):d})"  # noqa: S608 - numbers and tables of our own
            for kind, table in NUMBERED.items()
        )
        return bool(
            self._db.value(
                f"SELECT EXISTS (SELECT 1 FROM reading WHERE at_ms >= ?) OR {new}",  # noqa: S608 - as above
                (self._from_ms(),),
            )
        )

    def claim(self) -> Claim:
        """Return what is due, and note from now on what is added behind its end."""
        with self._db.transaction():
            stop_ms = 1 + int(self._db.value("SELECT coalesce(max(at_ms), -1) FROM reading"))
            from_ms, after = self._from_ms(), self._numbers()
            self._back_to(from_ms, after)
            self._meta.set(CLAIMED, max(stop_ms, from_ms))
        return Claim(from_ms, stop_ms, after)

    def sent(self, until_ms: int, after: Numbers, *, error: str | None, parked: int = 0) -> None:
        """Write down how far a claim came: all before `until_ms` [ms], and other rows' numbers."""
        with self._db.transaction():
            again = Numbers(**{k: self._number(f"mirror_{k}_again", NEVER) for k in NUMBERED})
            self._back_to(min(until_ms, self._number(LATE, NEVER)), after.lowest(again))
            self._meta.set(ERROR, error or "")
            if parked:
                self._meta.set(PARKED, self._number(PARKED, 0) + parked)

    def behind(self, *, most: int = MOST_COUNTED) -> Behind:
        """Return what is not mirrored yet; no more than `most` readings are counted."""
        times = (
            f"SELECT at_ms FROM reading WHERE at_ms >= ? AND NOT flags & {int(Flag.TIME_UNKNOWN)}"  # noqa: S608 - a number of our own
        )
        from_ms = self._from_ms()
        rows = int(self._db.value(f"SELECT count(*) FROM ({times} LIMIT {most})", (from_ms,)))  # noqa: S608 - constants
        oldest = [self._db.value(f"{times} ORDER BY at_ms LIMIT 1", (from_ms,))]
        for kind, table in NUMBERED.items():
            found = self._db.row(
                f"SELECT count(*), min(at_ms) FROM {table} WHERE id > ?",  # noqa: S608 - a table of our own
                (self._after(kind),),
            )
            count, at_ms = found or (0, None)
            rows += count
            oldest.append(at_ms)
        error = self._meta.get(ERROR)
        return Behind(
            rows=rows,
            oldest_ms=min((at_ms for at_ms in oldest if at_ms is not None), default=None),
            last_error=error if isinstance(error, str) and error else None,
            parked=self._number(PARKED, 0),
        )

    def _back_to(self, sent_ms: int, after: Numbers) -> None:
        """Put the marks there, with nothing noted as late."""
        self._meta.set(SENT, sent_ms)
        self._meta.set(LATE, NEVER)
        for kind in NUMBERED:
            self._meta.set(f"mirror_{kind}", getattr(after, kind))
            self._meta.set(f"mirror_{kind}_again", NEVER)

    def _numbers(self) -> Numbers:
        return Numbers(**{kind: self._after(kind) for kind in NUMBERED})

    def _after(self, kind: str) -> int:
        mark = self._number(f"mirror_{kind}", 0)
        return min(mark, self._number(f"mirror_{kind}_again", NEVER))

    def _from_ms(self) -> int:
        return min(self._number(SENT, 0), self._number(LATE, NEVER))

    def _number(self, name: str, otherwise: int) -> int:
        found = self._meta.get(name)
        return found if isinstance(found, int) else otherwise
