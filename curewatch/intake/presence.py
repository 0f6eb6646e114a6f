"""Presence topics: where a sensor says that it is there, or a broker says for it that it is gone.

A sensor that leaves its last will with the broker is known to be gone as soon as its line breaks,
long before its next report is missed.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Final

from curewatch.intake.pointer import MISSING, resolve

GONE_WORDS: Final = ("offline", "gone")
_LARGEST_PAYLOAD = 64 * 1024  # [bytes]


@dataclass(frozen=True, slots=True)
class PresenceMapping:
    """How a presence topic is read.

    Attributes
    ----------
        sensor: the sensor's id as configured.
        topic: its presence topic.
        place: JSON pointer to the word, '' where it is the whole message.
        gone: words that mean it is gone, in any case; true, false and numbers as JSON has them.
    """

    sensor: str
    topic: str
    place: str = ""
    gone: tuple[str, ...] = GONE_WORDS

    def says_gone(self, payload: bytes) -> bool | None:
        """Tell whether the sensor is said to be gone; None where nothing is said.

        An empty message, or one with nothing at its place, says nothing.
        """
        word = self._word(payload)
        if word is None:
            return None
        return word.casefold() in {known.strip().casefold() for known in self.gone}

    def _word(self, payload: bytes) -> str | None:
        if len(payload) > _LARGEST_PAYLOAD:
            return None
        text = payload.decode("utf-8", "replace").strip()
        try:
            said = resolve(json.loads(text), self.place)
        except (ValueError, RecursionError):
            said = MISSING if self.place else text  # a bare word is no JSON
        if said is MISSING or said is None or said == "":
            return None
        return said.strip() if isinstance(said, str) else json.dumps(said)
