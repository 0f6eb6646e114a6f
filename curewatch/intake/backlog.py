"""Which messages may have waited at the broker, so that their arrival says nothing of their time.

A broker hands a returning session what it has queued, and an arrival stamp on those would be a
lie. The rule: when a session was present at connect, a marker (a message of our own) is sent and
everything that arrives before the marker comes back may have waited; a broker keeps one queue in
order, so what arrives after it was published after it. The same doubt arises when an
acknowledgement was slow, for a broker stops sending at a full window and queues.

Where the marker cannot come back (no permission for its topic), the doubt ends at a message that
arrives after a pause: a broker with something queued does not pause once it has been acknowledged
to. A stalled network shorter than the keep-alive is not noticed; stamps are then late by as much.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field

PAUSE_S = 2.0  # far longer than a round trip on a shop's network
SLOW_ACKNOWLEDGEMENT_S = 30.0  # six commit windows; an honest stamp is off by no more


@dataclass(slots=True)
class BacklogWatch:
    """Whether arrivals are in doubt; all instants are monotonic seconds.

    Attributes
    ----------
        pause_s: pause that ends the doubt where the marker does not come back [s].
        slow_s: an acknowledgement later than this brings the doubt back [s].
        marker_lost: whether the last doubt had to end without its marker.
    """

    pause_s: float = PAUSE_S
    slow_s: float = SLOW_ACKNOWLEDGEMENT_S
    marker_lost: bool = False
    _in_doubt: bool = False
    _marker: int = 0
    _busy_at_s: float = 0.0
    _lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def in_doubt(self) -> bool:
        """Whether a message that arrived now might have waited."""
        return self._in_doubt

    def connected(self, at_s: float, *, session_present: bool) -> int | None:
        """Note a connection; return the number of the marker to send, None for none."""
        with self._lock:
            self._in_doubt = session_present
            self._busy_at_s = at_s
            self._marker += 1
            return self._marker if session_present else None

    def arrived(self, at_s: float) -> bool:
        """Note a message; return whether it may have waited."""
        with self._lock:
            if self._in_doubt and at_s - self._busy_at_s > self.pause_s:
                self._in_doubt = False
                self.marker_lost = True
            self._busy_at_s = at_s
            return self._in_doubt

    def acknowledged(self, at_s: float, *, oldest_s: float) -> int | None:
        """Note acknowledgements, the oldest of a message that arrived at `oldest_s`.

        Return the number of a marker to send when the broker may have queued meanwhile.
        """
        with self._lock:
            self._busy_at_s = at_s
            if at_s - oldest_s <= self.slow_s:
                return None
            self._in_doubt = True
            self._marker += 1
            return self._marker

    def returned(self, marker: int) -> None:
        """Note that `marker` came back; an older one ends nothing."""
        with self._lock:
            if marker == self._marker:
                self._in_doubt = False
                self.marker_lost = False
