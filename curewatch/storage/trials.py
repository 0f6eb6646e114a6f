"""Trials of test boards and the scores given on them; scores are corrected by voiding."""

from __future__ import annotations

import re
from difflib import get_close_matches
from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.trial import Measure, Quality, Scale, Score, Trial
from curewatch.storage.voids import void_entry

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.storage.database import Database

_NAME = re.compile(r"[A-Za-z0-9._-]{1,32}")
_ON_SCALE = """
SELECT count(*) FROM score JOIN trial_board ON trial_board.piece = score.piece
WHERE trial = ? AND quality = ? AND unit = ''
    AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'score' AND target = score.id)
"""
_SCORES = """
SELECT quality, unit, angle_deg, value, at_ms, how, who, id FROM score
WHERE piece = ? AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'score' AND target = score.id)
ORDER BY at_ms, id
"""


class Trials:
    """The shop's trials."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def start(self, name: str, question: str, entered_ms: int) -> None:
        """Enter a new trial and the question it asks.

        Raises
        ------
        BadInput
            When the name cannot be or is taken, or nothing is asked.
        """
        if not _NAME.fullmatch(name):
            raise BadInput(
                f"'{name}' cannot be a trial's name: use 1 to 32 letters, digits, '-', '_' or "
                "'.', no spaces"
            )
        if not question.strip():
            raise BadInput("say what the trial is to answer: --question 'which hazes least'")
        with self._db.transaction():
            taken = self._db.value("SELECT name FROM trial WHERE name = ?", (name,))
            if taken is not None:
                raise BadInput(f"there is a trial {taken} already: choose another name")
            self._db.insert(
                "INSERT INTO trial (name, question, entered_ms) VALUES (?, ?, ?)",
                (name, question.strip(), entered_ms),
            )

    def add(self, name: str, tags: Iterable[str], entered_ms: int) -> None:
        """Add boards to a trial: all of them or none.

        Raises
        ------
        BadInput
            When there is no such trial or piece, or a board is in it already.
        """
        with self._db.transaction():
            number = self._number(name)
            for tag in tags:
                piece = self._piece(tag)
                inside = self._db.value(
                    "SELECT 1 FROM trial_board WHERE trial = ? AND piece = ?", (number, piece)
                )
                if inside is not None:
                    raise BadInput(f"{tag} is a board of {name} already: leave it out")
                self._db.insert(
                    "INSERT INTO trial_board (trial, piece, entered_ms) VALUES (?, ?, ?)",
                    (number, piece, entered_ms),
                )

    def set_scale(self, name: str, quality: Quality, scale: Scale) -> None:
        """Set the shop's own scale for a quality, as long as nobody has used it.

        Raises
        ------
        BadInput
            When there is no such trial, or a board of it was judged on its scale already.
        """
        with self._db.transaction():
            number = self._number(name)
            used = self._db.value(_ON_SCALE, (number, str(quality)))
            if used:
                raise BadInput(
                    f"{used} scores for {quality} stand on the scale of {name}: a new scale would "
                    "change what they say. Start another trial"
                )
            self._db.execute(
                "INSERT INTO trial_scale (trial, quality, worst, best, words) "
                "VALUES (?, ?, ?, ?, ?) ON CONFLICT (trial, quality) DO UPDATE SET "
                "worst = excluded.worst, best = excluded.best, words = excluded.words",
                (number, str(quality), scale.worst, scale.best, scale.words.strip()),
            )

    def score(self, tag: str, score: Score, entered_ms: int) -> int:
        """Enter a score of a board and return its number.

        Raises
        ------
        BadInput
            When the piece is no board of any trial, or the figure is off the trial's scale.
        """
        with self._db.transaction():
            piece = self._piece(tag)
            self._check_on_scale(tag, score)
            measure = score.measure
            return self._db.insert(
                "INSERT INTO score (piece, quality, value, unit, angle_deg, how, who, at_ms, "
                "entered_ms) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    *(piece, str(measure.quality), score.value, measure.unit, measure.angle_deg),
                    *(score.how, score.who, score.at_ms, entered_ms),
                ),
            )

    def void_score(self, number: int, why: str, at_ms: int) -> None:
        """Void a score: it stays in the record and counts no more."""
        void_entry(self._db, "score", number, why=why, at_ms=at_ms)

    def load(self, name: str) -> Trial:
        """Return a trial with its boards and scales.

        Raises
        ------
        BadInput
            When there is none of that name.
        """
        number = self._number(name)
        row = self._db.row("SELECT name, question, entered_ms FROM trial WHERE id = ?", (number,))
        assert row is not None  # noqa: S101 - its number has just been found
        called, question, entered_ms = row
        boards = self._db.rows(
            "SELECT tag FROM trial_board JOIN piece ON number = piece WHERE trial = ? "
            "ORDER BY trial_board.entered_ms, number",
            (number,),
        )
        scales = self._db.rows(
            "SELECT quality, worst, best, words FROM trial_scale WHERE trial = ? ORDER BY quality",
            (number,),
        )
        return Trial(
            str(called),
            str(question),
            int(entered_ms),
            boards=tuple(str(tag) for (tag,) in boards),
            scales={Quality(quality): Scale(*rest) for quality, *rest in scales},
        )

    def all(self) -> tuple[Trial, ...]:
        """Return every trial, oldest first."""
        names = self._db.rows("SELECT name FROM trial ORDER BY entered_ms, id")
        return tuple(self.load(name) for (name,) in names)

    def of_board(self, tag: str) -> tuple[Trial, ...]:
        """Return the trials a piece is a board of."""
        names = self._db.rows(
            "SELECT name FROM trial JOIN trial_board ON trial = id WHERE piece = ? "
            "ORDER BY trial.entered_ms, id",
            (self._piece(tag),),
        )
        return tuple(self.load(name) for (name,) in names)

    def scores(self, tag: str) -> tuple[Score, ...]:
        """Return the scores of a board in order of time, voided ones left out."""
        found = self._db.rows(_SCORES, (self._piece(tag),))
        return tuple(
            Score(Measure(Quality(quality), unit, angle), *rest)
            for quality, unit, angle, *rest in found
        )

    def _check_on_scale(self, tag: str, score: Score) -> None:
        trials = self.of_board(tag)
        if not trials:
            raise BadInput(
                f"{tag} is a board of no trial: curewatch test-boards add TRIAL {tag} comes first"
            )
        if score.measure.unit:
            return
        quality = score.measure.quality
        scales = [one.scales[quality] for one in trials if quality in one.scales]
        if not scales:
            raise BadInput(
                f"no scale is set for {quality}: curewatch test-boards scale {trials[0].name} "
                f"{quality} --worst 0 --best 10 --words TEXT, or give --unit"
            )
        if any(scale != scales[0] for scale in scales):
            names = " and ".join(one.name for one in trials)
            raise BadInput(
                f"{tag} is in {names}, and their scales for {quality} differ: which one is meant "
                "cannot be told. Give them one scale, or use another board"
            )
        scales[0].check(score.value)

    def _number(self, name: str) -> int:
        number = self._db.value("SELECT id FROM trial WHERE name = ?", (name,))
        if number is not None:
            return int(number)
        names = {
            str(row[0]).lower(): str(row[0]) for row in self._db.rows("SELECT name FROM trial")
        }
        near = [names[word] for word in get_close_matches(name.lower(), names)]
        hint = f"did you mean {' or '.join(near)}? " if near else ""
        raise BadInput(
            f"there is no trial '{name}': {hint}'curewatch test-boards list' shows them, "
            "'curewatch test-boards start NAME --question TEXT' begins one"
        )

    def _piece(self, tag: str) -> int:
        number = self._db.value("SELECT number FROM piece WHERE tag = ?", (tag,))
        if number is None:
            raise BadInput(
                f"there is no piece '{tag}': a board is hung like any piece, curewatch piece hang "
                f"{tag} --finish NAME --room ROOM"
            )
        return int(number)
