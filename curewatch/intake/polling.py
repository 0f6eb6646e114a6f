"""Chips at this machine, asked in turn on the monotonic clock by a thread of their own.

What they say goes the way of every message: it is handed in as an `Arrived` of generation 0, held
while the clock is not set, decoded (`polled`), gated, and kept. It needs no acknowledgement, so it
says quality of service 0. A chip that is gone is looked for again each time, by name, so it may
come back under another number.

Each is asked in a thread of its own, for a bus that is stuck holds whoever asks for as long as it
likes: the others are asked all the same, and what does not answer is said to.
"""

from __future__ import annotations

import json
import logging
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.intake.arrivals import Arrived
from curewatch.intake.kernel import SYSFS, Found, Measured, listed, read_once
from curewatch.intake.units import HumidityUnit, humidity_frac
from curewatch.shop.reading import Origin, Quantity, Reading, Rejected, RejectReason

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

LOG = logging.getLogger(__name__)
OWN_GENERATION = 0  # connections to the broker are counted from 1
_STOP_S = 3.0  # a probe takes up to a second
_PATIENCE_S = 2.0  # so long the others wait for one; what it says later is taken all the same
_STUCK_S = 10.0  # who has not answered for so long hangs (common practice, no source)
_TOPIC = "$kernel"
_MEASURED = {
    Quantity.TEMPERATURE: Measured.TEMPERATURE,
    Quantity.HUMIDITY: Measured.HUMIDITY,
    Quantity.SURFACE_TEMPERATURE: Measured.TEMPERATURE,
}
POLLABLE = tuple(quantity.word for quantity in _MEASURED)


@dataclass(frozen=True, slots=True)
class Poll:
    """One chip that is asked, and as what it counts.

    Attributes
    ----------
        sensor: the sensor's id as configured.
        kernel: the chip's name, place or directory, with or without one of its files.
        reads: quantities it is asked for; of `POLLABLE`.
        every_s: how often [s].
    """

    sensor: str
    kernel: str
    reads: tuple[Quantity, ...]
    every_s: float


class Poller:
    """Asks the shop's chips, each in its own rhythm."""

    def __init__(
        self,
        polls: Iterable[Poll],
        hand_in: Callable[[Arrived], None],
        *,
        now_ms: Callable[[], int],
        root: Path = SYSFS,
        patience_s: float = _PATIENCE_S,
    ) -> None:
        """Ask nothing yet; `hand_in` is called from the poller's own thread.

        Parameters
        ----------
        polls
            What to ask; none starts no thread.
        hand_in
            Takes what was said.
        now_ms
            The clock that stamps it, UTC epoch [ms].
        root
            Where sysfs is mounted.
        patience_s
            How long the others wait for a chip that does not answer [s].
        """
        self._patience_s = patience_s
        self._asked: dict[int, tuple[threading.Thread, float]] = {}
        self._polls = tuple(polls)
        self._hand_in = hand_in
        self._now_ms = now_ms
        self._root = root
        self._due_s = [0.0] * len(self._polls)
        self._troubles: dict[tuple[int, Quantity], str] = {}
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="curewatch-poller", daemon=True)

    def start(self) -> None:
        """Begin to ask; returns at once."""
        if self._polls:
            self._thread.start()

    def stop(self) -> None:
        """Ask no more; a chip that does not answer must not hold the daemon."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(_STOP_S)

    def round(self, now_s: float) -> float:
        """Ask every chip that is due at `now_s` [s]; return when the next one is [s]."""
        due = [place for place, due_s in enumerate(self._due_s) if due_s <= now_s]
        chips = listed(self._root) if due else ()
        for place in due:
            poll = self._polls[place]
            # in step with the first time, and what was missed is not made up for
            late_s = (now_s - self._due_s[place]) % poll.every_s if self._due_s[place] else 0.0
            self._due_s[place] = now_s - late_s + poll.every_s
            self._ask_beside(place, chips, now_s)
        return min(self._due_s)

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                next_s = self.round(time.monotonic())
            except Exception:  # one fault must not silence every chip for good
                LOG.exception("the chips at this machine could not be asked; trying again")
                next_s = time.monotonic() + min(poll.every_s for poll in self._polls)
            self._stop.wait(max(0.0, next_s - time.monotonic()))

    def _ask_beside(self, place: int, chips: tuple[Found, ...], now_s: float) -> None:
        """Ask one chip in a thread of its own, unless it still owes the last answer."""
        asked = self._asked.get(place)
        if asked is not None and asked[0].is_alive():
            if now_s - asked[1] >= _STUCK_S:
                poll = self._polls[place]
                self._answer(place, [_stuck(poll, quantity) for quantity in poll.reads])
            return
        thread = threading.Thread(
            target=self._ask, args=(place, chips), name=f"curewatch-poll-{place}", daemon=True
        )
        self._asked[place] = (thread, now_s)
        thread.start()
        thread.join(self._patience_s)

    def _ask(self, place: int, chips: tuple[Found, ...]) -> None:
        poll = self._polls[place]
        try:
            found = [ask(poll, quantity, chips) for quantity in poll.reads]
            self._asked.pop(place, None)
            self._answer(place, found)
        except Exception:  # one fault must not silence a chip for good
            LOG.exception("sensor %s: its chip could not be asked; trying again", poll.sensor)

    def _answer(self, place: int, every: list[Found]) -> None:
        """Hand in what was found of each quantity, or why nothing was."""
        poll = self._polls[place]
        answers = []
        for quantity, found in zip(poll.reads, every, strict=True):
            self._tell(place, quantity, found)
            answers.append(
                {
                    "quantity": int(quantity),
                    "value": found.value,
                    "reason": found.reason,
                    "detail": found.fault,
                }
            )
        self._hand_in(
            Arrived(
                generation=OWN_GENERATION,
                mid=0,
                qos=0,
                topic=f"{_TOPIC}/{poll.sensor}",
                payload=json.dumps({"sensor": poll.sensor, "answers": answers}).encode(),
                retained=False,
                received_s=time.monotonic(),
                received_ms=self._now_ms(),
                backlog=False,
            )
        )

    def _tell(self, place: int, quantity: Quantity, found: Found) -> None:
        """Log a trouble when it begins or changes, and when it is over."""
        sensor, known = self._polls[place].sensor, self._troubles.get((place, quantity))
        if found.fault is None:
            if self._troubles.pop((place, quantity), None) is not None:
                LOG.info("sensor %s: its %s is read again", sensor, quantity.word)
        elif found.fault != known:
            self._troubles[place, quantity] = found.fault
            LOG.warning("sensor %s: no %s: %s", sensor, quantity.word, found.fault)


def ask(poll: Poll, quantity: Quantity, chips: Iterable[Found]) -> Found:
    """Read the one of `chips` that `poll` means for `quantity`, or say why there is no such one."""
    fitting = [
        chip
        for chip in chips
        if chip.quantity is _MEASURED[quantity] and chip.is_called(poll.kernel)
    ]
    match fitting:
        case [one]:
            return read_once(one)
        case []:
            why = (
                f"no chip called '{poll.kernel}' with a {_MEASURED[quantity]} is there; "
                "'curewatch sensor scan' lists those that are"
            )
        case _:
            names = ", ".join(f"'{chip.place}/{chip.path.name}'" for chip in fitting)
            why = f"'{poll.kernel}' means several: {names}; write the one that is meant"
    nowhere, missing = Path(), RejectReason.MISSING
    return Found(poll.kernel, "", nowhere, nowhere, _MEASURED[quantity], fault=why, reason=missing)


def _stuck(poll: Poll, quantity: Quantity) -> Found:
    why = (
        f"'{poll.kernel}' does not answer and holds whoever asks it; look at its wiring, and start "
        "the machine anew if it stays so"
    )
    nowhere, measured = Path(), _MEASURED[quantity]
    return Found(
        poll.kernel, "", nowhere, nowhere, measured, fault=why, reason=RejectReason.READ_ERROR
    )


def polled(message: Arrived) -> list[Reading | Rejected]:
    """Return what a message of generation 0 says: a reading or a rejection for each quantity."""
    said = json.loads(message.payload)
    return [_answer(said["sensor"], one, message.received_ms) for one in said["answers"]]


def _answer(sensor: str, said: dict[str, object], at_ms: int) -> Reading | Rejected:
    quantity = Quantity(int(str(said["quantity"])))
    value = said["value"]
    if not isinstance(value, float):
        reason = RejectReason(str(said["reason"]))
        return Rejected(sensor, reason, at_ms, str(said["detail"]), quantity)
    if quantity is Quantity.HUMIDITY:
        try:
            value = humidity_frac(value, HumidityUnit.PERCENT)
        except ValueError as error:
            return Rejected(sensor, RejectReason.OUT_OF_RANGE, at_ms, str(error), quantity)
    return Reading(sensor, quantity, at_ms, value, Origin.ARRIVAL)
