"""What a test at the bench proves: how deep into the film it reaches, and what it leaves open."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Final

from curewatch.shop.findings import MEANINGS, Says, Speaks

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain


class Reach(StrEnum):
    """How much of the film a finding speaks of."""

    SURFACE = "surface"  # a passed test: the skin hardens first
    FILM = "film"  # a failed one: too soft at the top is too soft below
    FINISHED = "finished-work"  # a late look at work that was done
    NOTHING = "nothing"  # a finding of a name that is not known here


SAID: Final = {
    Reach.SURFACE: "A passed test is evidence of the surface: the skin hardens first, and a thick "
    "film is soft below it. By itself it shortens no wait; the hours and the sink-back stand.",
    Reach.FILM: "A surface that is too soft is soft below as well: wait, whatever the hours say.",
    Reach.FINISHED: "The film moved after it was worked: the wait before that work was too short.",
    Reach.NOTHING: "A finding of this name proves nothing here.",
}
"""Common practice, no source."""
LATE_LOOKS: Final = (Speaks.BUFFED, Speaks.FINISHED)


def says_of(finding: str) -> Says:
    """Return what a finding says of the wait; nothing where its name is not known."""
    return MEANINGS[finding].says if finding in MEANINGS else Says.NOTHING


def proof_of(finding: str) -> Reach:
    """Return how much of the film a finding speaks of."""
    says = says_of(finding)
    if says is Says.TOO_EARLY:
        return Reach.FINISHED if MEANINGS[finding].speaks in LATE_LOOKS else Reach.FILM
    return Reach.SURFACE if says is Says.FINE else Reach.NOTHING


def proof_plain(finding: str) -> Plain:
    """Return what a finding proves as plain data."""
    reach = proof_of(finding)
    return {"reach": str(reach), "sentence": SAID[reach], "standing": "common-practice"}
