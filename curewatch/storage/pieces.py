"""Pieces and what people entered about them; append-only, corrected by voiding."""

from __future__ import annotations

import re
from collections import defaultdict
from difflib import get_close_matches
from typing import TYPE_CHECKING

from curewatch.errors import BadInput
from curewatch.shop.piece import Coat, Outcome, Piece, Stay, Work, WorkKind
from curewatch.storage.history import Entry, piece_history
from curewatch.storage.voids import Voidable, void_entry

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.storage.database import Database, Row

_TAG = re.compile(r"[A-Za-z0-9._-]{1,32}")


class Pieces:
    """The tagged pieces of the shop."""

    def __init__(self, db: Database) -> None:
        """Read from and write to `db`."""
        self._db = db

    def hang(  # noqa: PLR0913 - what the person at the hook tells, word for word
        self,
        tag: str,
        finish: str,
        revision: int,
        *,
        title: str,
        at_ms: int,
        entered_ms: int,
        room: str | None = None,
        planned_coats: int | None = None,
    ) -> None:
        """Enter a new piece, hung at `at_ms` [ms] in `room` where that is told.

        Raises
        ------
        BadInput
            When the tag is not 1 to 32 letters, digits, '-', '_' or '.', or is taken (upper and
            lower case are the same tag).
        """
        if not _TAG.fullmatch(tag):
            raise BadInput(
                f"'{tag}' cannot be a tag: use 1 to 32 letters, digits, '-', '_' or '.', no spaces"
            )
        with self._db.transaction():
            taken = self._db.value("SELECT tag FROM piece WHERE tag = ?", (tag,))
            if taken is not None:
                raise BadInput(
                    f"there is a piece {taken} already: choose another tag, or add to that piece"
                )
            number = self._db.insert(
                "INSERT INTO piece (tag, finish, revision, title, at_ms, entered_ms) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                (tag, finish, revision, title, at_ms, entered_ms),
            )
            if room is not None:
                self._moved(number, room, at_ms, entered_ms)
            if planned_coats is not None:
                self.plan_coats(tag, planned_coats, entered_ms)

    def plan_coats(self, tag: str, coats: int, entered_ms: int) -> int:
        """Enter how many coats the piece is to get, from now on.

        Raises
        ------
        BadInput
            When that is less than one.
        """
        if coats < 1:
            raise BadInput(f"{coats} coats cannot be planned: a piece gets at least one")
        with self._db.transaction():
            return self._db.insert(
                "INSERT INTO coat_plan (piece, coats, entered_ms) VALUES (?, ?, ?)",
                (self._number(tag), coats, entered_ms),
            )

    def coat(self, tag: str, coat: Coat, entered_ms: int) -> int:
        """Enter a coat and return its number."""
        with self._db.transaction():
            return self._db.insert(
                "INSERT INTO coat "
                "(piece, at_ms, wet_um, passes, mixed_at_ms, note, entered_ms, who, batch) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?, (SELECT id FROM batch WHERE name = ?))",
                (
                    self._number(tag),
                    coat.at_ms,
                    coat.wet_um,
                    coat.passes,
                    None if coat.pot else coat.mixed_at_ms,  # a pot tells it itself
                    coat.note,
                    entered_ms,
                    coat.who,
                    coat.pot or None,
                ),
            )

    def work(self, tag: str, work: Work, entered_ms: int) -> int:
        """Enter what was done to the film and return its number."""
        with self._db.transaction():
            return self._db.insert(
                "INSERT INTO work (piece, kind, at_ms, note, anyway, entered_ms, who) "
                "VALUES (?, ?, ?, ?, ?, ?, ?)",
                (
                    *(self._number(tag), work.kind, work.at_ms, work.note, work.anyway),
                    *(entered_ms, work.who),
                ),
            )

    def move(self, tag: str, room: str, at_ms: int, entered_ms: int) -> int:
        """Enter that the piece came into `room` at `at_ms` [ms]; may be back-dated."""
        with self._db.transaction():
            return self._moved(self._number(tag), room, at_ms, entered_ms)

    def leave(self, tag: str, at_ms: int, entered_ms: int) -> int:
        """Enter that the piece left the shop at `at_ms` [ms]; a later move brings it back."""
        with self._db.transaction():
            return self._moved(self._number(tag), None, at_ms, entered_ms)

    def outcome(self, tag: str, outcome: Outcome, entered_ms: int) -> int:
        """Enter what a person found and return its number."""
        with self._db.transaction():
            return self._db.insert(
                "INSERT INTO outcome (piece, at_ms, finding, note, entered_ms, who) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                (
                    *(self._number(tag), outcome.at_ms, outcome.finding, outcome.note),
                    *(entered_ms, outcome.who),
                ),
            )

    def rejudge(self, tag: str, revision: int, why: str, entered_ms: int) -> int:
        """Enter that the piece is judged by another revision of its finish from now on.

        Raises
        ------
        BadInput
            When no reason is given.
        """
        if not why.strip():
            raise BadInput("re-judging a piece needs a reason: it goes into its record")
        with self._db.transaction():
            return self._db.insert(
                "INSERT INTO rejudgement (piece, revision, why, entered_ms) VALUES (?, ?, ?, ?)",
                (self._number(tag), revision, why, entered_ms),
            )

    def rejudged_from(self, number: int) -> tuple[str, int]:
        """Return of a re-judging the piece's tag, and the revision it was judged by before."""
        row = self._db.row(
            "SELECT tag, coalesce((SELECT revision FROM rejudgement AS before "
            "WHERE before.piece = rejudgement.piece AND before.id < rejudgement.id "
            "ORDER BY before.id DESC LIMIT 1), piece.revision) "
            "FROM rejudgement JOIN piece ON number = piece WHERE rejudgement.id = ?",
            (number,),
        )
        if row is None:
            raise BadInput(f"there is no re-judging with number {number}")
        return str(row[0]), int(row[1])

    def close_follow_up(self, tag: str, days: int, why: str, at_ms: int) -> None:
        """Enter that nobody can answer the question asked `days` after the piece was finished.

        Raises
        ------
        BadInput
            When no reason is given.
        """
        if not why.strip():
            raise BadInput("closing a follow-up needs a reason: say why nobody can look")
        with self._db.transaction():
            self._db.insert(
                "INSERT INTO follow_up_closed (piece, days, why, at_ms) VALUES (?, ?, ?, ?) "
                "ON CONFLICT (piece, days) DO NOTHING",
                (self._number(tag), days, why, at_ms),
            )

    def void(self, what: Voidable, entry: int, why: str, at_ms: int) -> None:
        """Void the `what` numbered `entry`: it stays, and no longer counts."""
        void_entry(self._db, what, entry, why=why, at_ms=at_ms)

    def take_down(self, tag: str, why: str, at_ms: int) -> None:
        """Void a piece that was hung by mistake; its row stays, and its tag is free again.

        Raises
        ------
        BadInput
            When there is no such piece, something else was entered on it, or no reason is given.
        """
        with self._db.transaction():
            number = self._number(tag)
            if self._db.value(_ENTERED, (number,)):
                raise BadInput(
                    f"{tag} cannot be taken back: more than its hanging is entered on it. Take "
                    f"that back first, or say that it left: curewatch piece leave {tag}"
                )
            void_entry(self._db, "piece", number, why=why, at_ms=at_ms)
            self._db.execute(
                "UPDATE piece SET tag = tag || '~' || number WHERE number = ?", (number,)
            )

    def load(self, tag: str) -> Piece:
        """Return the piece as it counts now, voided entries left out."""
        with self._db.snapshot():
            (piece,) = self._load("SELECT ?1 AS number", self._number(tag))
        return piece

    def load_all(self, *, left: bool = False) -> tuple[Piece, ...]:
        """Return the pieces in order of hanging; with `left` those out of the shop as well."""
        which = "SELECT number FROM piece" if left else _STILL_HERE
        with self._db.snapshot():
            return tuple(self._load(f"{which} WHERE ?1 IS NULL" if left else which, None))

    def history(self, tag: str) -> tuple[Entry, ...]:
        """Return everything ever entered about the piece in order of entry, voided or not."""
        with self._db.snapshot():
            return piece_history(self._db, self._number(tag))

    def _number(self, tag: str) -> int:
        """Return the number of the piece with `tag`."""
        number: int | None = self._db.value("SELECT number FROM piece WHERE tag = ?", (tag,))
        if number is None or "~" in tag:
            raise self._unknown(tag)
        return number

    def _unknown(self, tag: str) -> BadInput:
        """Say that there is no such piece, and which tags look like it."""
        tags = {str(known).lower(): str(known) for (known,) in self._db.rows(_TAGS)}
        near = [tags[word] for word in get_close_matches(tag.lower(), tags)]
        hint = f"did you mean {' or '.join(near)}? Else" if near else "look at the tag, or"
        return BadInput(
            f"there is no piece with the tag '{tag}': {hint} hang it first: "
            "'curewatch piece hang TAG --finish NAME'"
        )

    def _moved(self, number: int, room: str | None, at_ms: int, entered_ms: int) -> int:
        """Enter a move into a room or out of the shop."""
        return self._db.insert(
            "INSERT INTO move (piece, room, at_ms, entered_ms) VALUES (?, ?, ?, ?)",
            (number, room, at_ms, entered_ms),
        )

    def _load(self, which: str, argument: int | None) -> Iterable[Piece]:
        """Yield the pieces whose numbers the query `which` gives, with a query a noun."""
        entries: dict[str, dict[int, list[Row]]] = {}
        for what, query in _ENTRIES.items():
            by_piece: dict[int, list[Row]] = defaultdict(list)
            for piece, *columns in self._db.rows(query.format(which=which), (argument,)):
                by_piece[piece].append(tuple(columns))
            entries[what] = by_piece
        for number, tag, finish, revision, title, planned in self._db.rows(
            _PIECES.format(which=which), (argument,)
        ):
            stays, left_ms = _stays(entries["move"].get(number, []))
            yield Piece(
                tag=tag,
                finish=finish,
                finish_revision=revision,
                title=title,
                coats=tuple(Coat(*row) for row in entries["coat"].get(number, [])),
                work=tuple(
                    Work(WorkKind(kind), *rest) for kind, *rest in entries["work"].get(number, [])
                ),
                stays=stays,
                outcomes=tuple(Outcome(*row) for row in entries["outcome"].get(number, [])),
                left_ms=left_ms,
                planned_coats=planned,
                closed_days=tuple(days for (days,) in entries["closed"].get(number, [])),
            )


def _stays(moves: list[Row]) -> tuple[tuple[Stay, ...], int | None]:
    """Return the stays that ordered moves (room, at_ms, id) make, and when the piece left.

    Of two moves at one instant the one entered last holds.
    """
    ends = [at_ms for _, at_ms, _ in moves[1:]]
    stays = (
        tuple(
            Stay(room, start_ms, stop_ms, number)
            for (room, start_ms, number), stop_ms in zip(moves, [*ends, None], strict=True)
            if room is not None and stop_ms != start_ms
        )
        if moves
        else ()
    )
    left_ms = moves[-1][1] if moves and moves[-1][0] is None else None
    return stays, left_ms


# A piece taken back keeps its row; its tag, freed, has behind it what no tag has, and its number.
_TAGS = "SELECT tag FROM piece WHERE tag NOT LIKE '%~%'"

# What people entered on a piece beside its hanging, that counts.
_ENTERED = """
SELECT EXISTS (SELECT 1 FROM coat WHERE piece = ?1
        AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'coat' AND target = coat.id))
    OR EXISTS (SELECT 1 FROM work WHERE piece = ?1
        AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'work' AND target = work.id))
    OR EXISTS (SELECT 1 FROM outcome WHERE piece = ?1
        AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'outcome' AND target = outcome.id))
    OR EXISTS (SELECT 1 FROM joining WHERE ?1 IN (part, onto)
        AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'joining' AND target = joining.id))
    OR EXISTS (SELECT 1 FROM trial_board WHERE piece = ?1)
    OR EXISTS (SELECT 1 FROM quarantine WHERE what = 'piece'
        AND target = (SELECT tag FROM piece WHERE number = ?1))
"""

# Pieces whose last move that counts was not out of the shop.
_STILL_HERE = """
SELECT number FROM piece WHERE ?1 IS NULL AND coalesce((
    SELECT room IS NOT NULL FROM move
    WHERE piece = piece.number
        AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'move' AND target = move.id)
    ORDER BY at_ms DESC, id DESC LIMIT 1
), 1)
"""

_PIECES = """
SELECT number, tag, finish, coalesce((
    SELECT revision FROM rejudgement WHERE piece = number ORDER BY id DESC LIMIT 1
), revision), title, (
    SELECT coats FROM coat_plan WHERE piece = number
        AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'plan' AND target = coat_plan.id)
    ORDER BY id DESC LIMIT 1
)
FROM piece WHERE number IN ({which})
    AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'piece' AND target = number)
ORDER BY at_ms, number
"""

_ENTRIES = {
    "coat": """
        SELECT piece, at_ms, wet_um, passes, coalesce(coat.mixed_at_ms, pot.mixed_at_ms),
            coat.note, coat.id, coat.who, coalesce(pot.name, ''), pot.room
        FROM coat LEFT JOIN batch AS pot ON pot.id = coat.batch
            AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'batch' AND target = pot.id)
        WHERE piece IN ({which})
            AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'coat' AND target = coat.id)
        ORDER BY piece, at_ms, coat.id
    """,
    "work": """
        SELECT piece, kind, at_ms, note, anyway, id, who FROM work
        WHERE piece IN ({which})
            AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'work' AND target = work.id)
        ORDER BY piece, at_ms, id
    """,
    "move": """
        SELECT piece, room, at_ms, id FROM move
        WHERE piece IN ({which})
            AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'move' AND target = move.id)
        ORDER BY piece, at_ms, id
    """,
    "outcome": """
        SELECT piece, at_ms, finding, note, id, who FROM outcome
        WHERE piece IN ({which})
            AND NOT EXISTS (SELECT 1 FROM void WHERE what = 'outcome' AND target = outcome.id)
        ORDER BY piece, at_ms, id
    """,
    "closed": """
        SELECT piece, days FROM follow_up_closed WHERE piece IN ({which}) ORDER BY piece, days
    """,
}
