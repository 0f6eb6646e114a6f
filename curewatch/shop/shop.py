"""The facts an assessment is made from: rooms, sensors, finishes, pieces and the clock book."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from curewatch.errors import BadInput
from curewatch.shop.book import ClockBook
from curewatch.shop.budget import Bias
from curewatch.shop.room import Room, Sensor, longest_gap_s
from curewatch.shop.trust import Trust
from curewatch.shop.words import Words

if TYPE_CHECKING:
    from curewatch.science.learning import Learnt
    from curewatch.shop.batch import Batch
    from curewatch.shop.climate import Times
    from curewatch.shop.finish import Finish
    from curewatch.shop.joining import Joining
    from curewatch.shop.pace import Judged
    from curewatch.shop.piece import Fill, Piece
    from curewatch.shop.reading import Quantity, Reading, RejectReason
    from curewatch.shop.room_plan import RoomPlan


FRESH_S = 30 * 60.0  # the air of a room can turn within this (our own figure, no source)


@dataclass(frozen=True, slots=True)
class Refusals:
    """How often a sensor's messages were refused for one reason, and when last [ms]."""

    reason: RejectReason
    count: int
    last_ms: int
    detail: str = ""


@dataclass(slots=True)
class Shop:
    """Everything the shop knows, as far as an assessment needs it.

    Attributes
    ----------
    rooms, sensors: as configured.
    finishes: profiles by (name, revision).
    pieces: those in the shop, by tag.
    book: climate and clock tracks.
    heard: newest reading of each sensor and quantity.
    heard_ms: instants of each sensor's recent readings, sorted [ms].
    gone: sensors that are said to be gone, since when [ms].
    frozen_since: sensors whose pair of values has not moved, since when [ms].
    refusals: what was refused, by sensor.
    paces: what outcomes say of finishes by (name, revision); none where nothing was found.
    judged: pieces whose outcomes were read, by tag.
    plans: what people say rooms will be like, by room; a later one rules over an earlier.
    fills: gaps that people filled, by room.
    pots: mixed lately, by name.
    held: why pieces are held, by tag.
    joinings, parts: which pieces are joined to which, and those that are parts, by tag.
    finished: pieces that may be asked about again, those that left included.
    trust: what is known of the sensors themselves.
    began_ms: when watching began; a sensor never heard is silent since then [ms].
    words: how things are said.
    """

    rooms: dict[str, Room]
    sensors: tuple[Sensor, ...]
    finishes: dict[tuple[str, int], Finish] = field(default_factory=dict)
    pieces: dict[str, Piece] = field(default_factory=dict)
    book: ClockBook = field(default_factory=ClockBook)
    heard: dict[tuple[str, Quantity], Reading] = field(default_factory=dict)
    heard_ms: dict[str, Times] = field(default_factory=dict)
    gone: dict[str, int] = field(default_factory=dict)
    frozen_since: dict[str, int] = field(default_factory=dict)
    refusals: dict[str, tuple[Refusals, ...]] = field(default_factory=dict)
    paces: dict[tuple[str, int], Learnt] = field(default_factory=dict)
    judged: dict[str, Judged] = field(default_factory=dict)
    plans: dict[str, tuple[RoomPlan, ...]] = field(default_factory=dict)
    fills: dict[str, tuple[Fill, ...]] = field(default_factory=dict)
    pots: dict[str, Batch] = field(default_factory=dict)
    held: dict[str, str] = field(default_factory=dict)
    joinings: tuple[Joining, ...] = ()
    parts: dict[str, Piece] = field(default_factory=dict)
    finished: tuple[Piece, ...] = ()
    trust: Trust = field(default_factory=Trust)
    began_ms: int | None = None
    words: Words = field(default_factory=Words)

    def room(self, name: str) -> Room:
        """Return a room by name; one no longer configured is taken with default settings."""
        return self.rooms.get(name) or Room(name)

    def finish_of(self, piece: Piece) -> Finish:
        """Return the profile a piece was sprayed under."""
        try:
            return self.finishes[piece.finish, piece.finish_revision]
        except KeyError:
            raise BadInput(
                f"finish {piece.finish!r} revision {piece.finish_revision} of piece {piece.tag} "
                "is not known: put its profile back where the configuration's finishes lie"
            ) from None

    def learnt_of(self, finish: Finish) -> Learnt | None:
        """Return what outcomes say of a finish's pace; None where there are none."""
        return self.paces.get((finish.name, finish.revision))

    def longest_gap_s(self, room: str) -> float:
        """Return the longest silence of a room that is bridged [s]."""
        return longest_gap_s(self.room(room), self.sensors)

    def freshness_s(self, room: str) -> float:
        """Return how old a reading may be and still speak for the air one sprays in [s].

        Half an hour, or half as long again as the slowest sensor's interval; never longer than
        the room's longest gap.
        """
        every = [s.report_every_s or 0.0 for s in self.sensors if s.room == room and s.air]
        return min(max(FRESH_S, 1.5 * max(every, default=0.0)), self.longest_gap_s(room))

    def last_heard_ms(self, sensor: str, at_ms: int) -> int | None:
        """Return when a sensor was last heard up to `at_ms` [ms]; None if never."""
        times = self.heard_ms.get(sensor)
        if times is None:
            return None
        count = int(np.searchsorted(times, at_ms, side="right"))
        return int(times[count - 1]) if count else None

    def pieces_in(self, room: str, at_ms: int) -> list[Piece]:
        """Return the pieces that hang in a room."""
        return [piece for piece in self.pieces.values() if piece.room_at(at_ms) == room]


def biases(rooms: dict[str, Room], sensors: tuple[Sensor, ...]) -> dict[str, Bias]:
    """Return each room's sensor budget: the largest of its sensors', since any may rule."""
    found = {}
    for name in rooms:
        here = [sensor for sensor in sensors if sensor.room == name and sensor.air]
        if here:
            found[name] = Bias(
                max(sensor.temp_bias_k for sensor in here),
                max(sensor.rh_bias_frac for sensor in here),
            )
    return found
