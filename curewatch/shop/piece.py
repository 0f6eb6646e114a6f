"""Pieces and what people did to them: coats, work, stays, outcomes."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from curewatch.errors import BadInput

MIN_WET_UM, MAX_WET_UM = 15.0, 2000.0  # beyond these the unit was mistaken


class WorkKind(StrEnum):
    """What a person did to a film, in the trade's words."""

    SCUFF = "scuff"
    DRY_SAND = "dry-sand"
    WET_SAND = "wet-sand"
    LEVEL = "level"
    BUFF = "buff"


@dataclass(frozen=True, slots=True)
class Coat:
    """One coat on a piece.

    Attributes
    ----------
        id: storage's number for it, 0 before it is stored.
        at_ms: when the gun was laid down [ms].
        wet_um: wet film laid, all passes together [um]; None for the finish's usual coat.
        passes: how many passes of the gun.
        mixed_at_ms: when the pot was mixed [ms], for finishes with a pot life.
        note: a person's own words.
        who: who laid it, where that was said.
        pot: what is written on the pot it came from; '' where no pot was named.
        pot_room: the room that pot stood in.
    """

    at_ms: int
    wet_um: float | None = None
    passes: int = 1
    mixed_at_ms: int | None = None
    note: str = ""
    id: int = 0
    who: str = ""
    pot: str = ""
    pot_room: str | None = None

    def __post_init__(self) -> None:
        """Refuse a film no gun can lay."""
        if self.wet_um is not None and not MIN_WET_UM <= self.wet_um <= MAX_WET_UM:
            raise BadInput(
                f"a wet film of {self.wet_um:g} um is not possible: give 15 to 2000 um "
                "(4 mil are 102 um)"
            )
        if self.passes < 1:
            raise BadInput(f"{self.passes} passes: a coat has at least one")
        if self.mixed_at_ms is not None and self.mixed_at_ms > self.at_ms:
            raise BadInput("the pot was mixed after the coat was sprayed: check both times")


@dataclass(frozen=True, slots=True)
class Work:
    """What a person did to the film, and when [ms]; `anyway` says why it was done unready."""

    kind: WorkKind
    at_ms: int
    note: str = ""
    anyway: str = ""
    id: int = 0
    who: str = ""


@dataclass(frozen=True, slots=True)
class Stay:
    """A piece in a room from `start_ms` until `stop_ms` (None: still there)."""

    room: str
    start_ms: int
    stop_ms: int | None = None
    id: int = 0


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a person found when testing, sanding, buffing, or looking again months later."""

    at_ms: int
    finding: str
    note: str = ""
    id: int = 0
    who: str = ""


@dataclass(frozen=True, slots=True)
class Piece:
    """A tagged piece with everything that happened to it (voided entries left out).

    Attributes
    ----------
        tag: the tag on the hanger.
        finish: name of its finish profile.
        finish_revision: the revision it was sprayed under.
        title: what it is, in a person's words.
        coats: in order of time.
        work: in order of time.
        stays: in order of time, not overlapping; the last may be open.
        outcomes: in order of time.
        left_ms: when it left the shop [ms], if it has.
    planned_coats: how many coats it is to get, None when nobody said.
    closed_days: follow-ups that nobody can answer any more, by their days.
    """

    tag: str
    finish: str
    finish_revision: int = 1
    title: str = ""
    coats: tuple[Coat, ...] = ()
    work: tuple[Work, ...] = ()
    stays: tuple[Stay, ...] = ()
    outcomes: tuple[Outcome, ...] = ()
    left_ms: int | None = None
    planned_coats: int | None = None
    closed_days: tuple[int, ...] = ()

    def coating_done(self, at_ms: int) -> bool:
        """Return whether all the coats that were planned are on at `at_ms` [ms]."""
        return self.planned_coats is not None and len(self.coats_until(at_ms)) >= self.planned_coats

    def room_at(self, at_ms: int) -> str | None:
        """Return the room the piece is in at `at_ms` [ms], None when nobody said."""
        for stay in self.stays:
            if stay.start_ms <= at_ms and (stay.stop_ms is None or at_ms < stay.stop_ms):
                return stay.room
        return None

    def coats_until(self, at_ms: int) -> tuple[Coat, ...]:
        """Return the coats laid at or before `at_ms` [ms]."""
        return tuple(coat for coat in self.coats if coat.at_ms <= at_ms)


@dataclass(frozen=True, slots=True)
class Fill:
    """A gap of a room's record that a person filled with an assumed climate.

    Attributes
    ----------
        room: which room.
        start_ms, stop_ms: from when to when [ms].
        temp_c, rh_frac: what is assumed [degC], [fraction].
        why: what the assumption rests on, in the person's words.
    """

    room: str
    start_ms: int
    stop_ms: int
    temp_c: float
    rh_frac: float
    why: str
    id: int = 0
