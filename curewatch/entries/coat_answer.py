"""The answer to a coat just logged: how it stood, and when the window opens and closes next."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from curewatch.entries.coat_pot import pot_remarks
from curewatch.entries.coats import coat_stood
from curewatch.shop.assessment import assess_piece
from curewatch.shop.deeds import deeds
from curewatch.shop.plain import deed_plain, instant, piece_plain
from curewatch.shop.standing_said import window_sentence

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.shop.deeds import Deed
    from curewatch.shop.piece import Piece
    from curewatch.shop.plain import Plain
    from curewatch.shop.shop import Shop


class Answer:
    """What there is to say about a coat just logged."""

    def __init__(
        self, at: Opened, shop: Shop, piece: Piece, number: int, *, no_pot: bool = False
    ) -> None:
        """Judge the coat `number` of `piece` as stored; `no_pot`: it came from none entered."""
        self._at, self._shop, self._piece, self._no_pot = at, shop, piece, no_pot
        self.coat = next(coat for coat in piece.coats if coat.id == number)
        self.place = 1 + piece.coats.index(self.coat)
        now_ms = max(at.now_ms, self.coat.at_ms)
        self.now = assess_piece(shop, piece, now_ms)
        without = replace(piece, coats=tuple(c for c in piece.coats if c.id != number))
        before = {(deed.kind, deed.mark) for deed in deeds(without, shop, now_ms)}
        self.deeds = [d for d in self.now.deeds if (d.kind, d.mark) not in before]

    def plain(self) -> Plain:
        """Return it as plain data."""
        return {
            "piece": self._piece.tag,
            "id": self.coat.id,
            "coat": self.place,
            "at": instant(self.coat.at_ms),
            "wet_um": self.coat.wet_um,
            "passes": self.coat.passes,
            "pot": self.coat.pot or None,
            "mixed_at": instant(self.coat.mixed_at_ms),
            "who": self.coat.who,
            "note": self.coat.note,
            "stood": self._stood(),
            "deeds": [deed_plain(deed) for deed in self.deeds],
            "remarks": [*self._remarks()],
            "now": piece_plain(self.now),
        }

    def sentences(self) -> list[str]:
        """Return what there is to say of it, a line each; the first names the coat."""
        words, now_ms, coat = self._at.words, self._at.now_ms, self.coat
        wet = "" if coat.wet_um is None else f", {words.film(coat.wet_um)} wet"
        told = [
            (
                f"{self._piece.tag}: coat {self.place} laid {words.at(coat.at_ms, now_ms)}{wet} "
                f"(number {coat.id})."
            ),
            *filter(None, (self._stood(), *map(_deed_said, self.deeds), *self._remarks())),
            f"{self.now.sentence} {self.now.next_action}",
        ]
        if not self.now.coating_done:
            told.append(window_sentence(self.now, words, now_ms))
        return told

    def brief(self) -> str:
        """Say in one line how it stood, what was out of its time, and when its window opens."""
        said = [self._stood(), *map(_deed_said, self.deeds)]
        if not self.now.coating_done:
            said.append(window_sentence(self.now, self._at.words, self._at.now_ms))
        return " ".join(filter(None, said)) or self.now.sentence

    def _stood(self) -> str:
        """Say how the coat stood against the window of the one before; '' for the first."""
        return coat_stood(self._shop, self._piece, self.coat.at_ms)

    def _beyond_the_plan(self) -> list[str]:
        """Say of a coat that nobody planned that it is one, and how the plan is mended."""
        tag, laid, planned = self._piece.tag, len(self._piece.coats), self._piece.planned_coats
        if planned is None or laid <= planned:
            return []
        coats = "1 coat was" if planned == 1 else f"{planned} coats were"
        said = (
            f"{coats} planned, {laid} are on now: coating still counts as done, and sanding "
            "and buffing wait anew from this one. If more are to come: "
            f"curewatch piece plan {tag} N"
        )
        return [said]

    def _remarks(self) -> list[str]:
        piece, coat, words = self._piece, self.coat, self._at.words
        said = self._beyond_the_plan()
        if piece.room_at(coat.at_ms) is None:
            said.append(
                f"Nobody said where {piece.tag} hung then, so that time earns nothing: curewatch "
                f"move {piece.tag} ROOM --at {words.local(coat.at_ms):%Y-%m-%dT%H:%M}"
            )
        said += pot_remarks(self._at, self._shop, piece, coat, no_pot=self._no_pot)
        return said


def _deed_said(deed: Deed) -> str:
    return f"{deed.reason} {deed.next_action}"
