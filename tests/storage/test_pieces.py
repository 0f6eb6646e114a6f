from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadInput
from curewatch.shop.piece import Coat, Outcome, Stay, Work, WorkKind
from curewatch.storage.export import export_rows

if TYPE_CHECKING:
    from curewatch.storage import Store

HOUR = 3_600_000


def hang(
    store: Store, tag: str = "D-1", *, room: str | None = "booth", entered_ms: int = HOUR
) -> None:
    store.pieces.hang(
        tag, "waterborne", 1, title="door", at_ms=HOUR, entered_ms=entered_ms, room=room
    )


def test_a_piece_comes_back_with_everything_entered_about_it(store: Store) -> None:
    hang(store)
    coat = store.pieces.coat("D-1", Coat(2 * HOUR, 110.0, 2, HOUR, "wet edge"), 9 * HOUR)
    work = store.pieces.work("D-1", Work(WorkKind.SCUFF, 5 * HOUR, "grey pad", "late"), 9 * HOUR)
    found = store.pieces.outcome("D-1", Outcome(8 * HOUR, "fine", "dusts off"), 9 * HOUR)
    piece = store.pieces.load("D-1")
    assert (piece.tag, piece.finish, piece.finish_revision, piece.title) == (
        "D-1",
        "waterborne",
        1,
        "door",
    )
    assert piece.coats == (Coat(2 * HOUR, 110.0, 2, HOUR, "wet edge", coat),)
    assert piece.work == (Work(WorkKind.SCUFF, 5 * HOUR, "grey pad", "late", work),)
    assert piece.outcomes == (Outcome(8 * HOUR, "fine", "dusts off", found),)
    assert [(s.room, s.start_ms, s.stop_ms) for s in piece.stays] == [("booth", HOUR, None)]
    assert piece.left_ms is None


def test_entries_come_back_in_order_of_their_own_time_however_they_were_entered(
    store: Store,
) -> None:
    hang(store)
    for at in (5, 2, 9, 3):
        store.pieces.coat("D-1", Coat(at * HOUR), 10 * HOUR)
    assert [coat.at_ms // HOUR for coat in store.pieces.load("D-1").coats] == [2, 3, 5, 9]


def test_a_back_dated_move_splits_the_stay_it_falls_into(store: Store) -> None:
    hang(store)
    store.pieces.move("D-1", "loft", 9 * HOUR, 9 * HOUR)
    store.pieces.move("D-1", "cellar", 4 * HOUR, 10 * HOUR)
    assert [(s.room, s.start_ms, s.stop_ms) for s in store.pieces.load("D-1").stays] == [
        ("booth", HOUR, 4 * HOUR),
        ("cellar", 4 * HOUR, 9 * HOUR),
        ("loft", 9 * HOUR, None),
    ]


def test_of_two_moves_at_one_instant_the_one_entered_last_holds(store: Store) -> None:
    hang(store)
    number = store.pieces.move("D-1", "loft", HOUR, 9 * HOUR)
    assert store.pieces.load("D-1").stays == (Stay("loft", HOUR, None, number),)


def test_voiding_a_move_joins_the_stays_again(store: Store) -> None:
    hang(store)
    number = store.pieces.move("D-1", "loft", 9 * HOUR, 9 * HOUR)
    store.pieces.void("move", number, "it was the other door", 10 * HOUR)
    assert [(s.room, s.stop_ms) for s in store.pieces.load("D-1").stays] == [("booth", None)]


def test_a_piece_that_left_is_listed_only_when_asked_for(store: Store) -> None:
    hang(store)
    hang(store, "D-2")
    hang(store, "D-3", room=None)
    store.pieces.leave("D-1", 9 * HOUR, 9 * HOUR)
    assert [piece.tag for piece in store.pieces.load_all()] == ["D-2", "D-3"]
    everything = store.pieces.load_all(left=True)
    assert [(piece.tag, piece.left_ms) for piece in everything] == [
        ("D-1", 9 * HOUR),
        ("D-2", None),
        ("D-3", None),
    ]
    assert everything[0].stays[0].stop_ms == 9 * HOUR
    assert everything[2].stays == ()


def test_a_later_move_or_a_void_brings_a_piece_back(store: Store) -> None:
    hang(store)
    number = store.pieces.leave("D-1", 9 * HOUR, 9 * HOUR)
    store.pieces.move("D-1", "loft", 12 * HOUR, 12 * HOUR)
    piece = store.pieces.load("D-1")
    assert piece.left_ms is None
    assert piece.room_at(10 * HOUR) is None
    store.pieces.void("leave", number, "it never left", 13 * HOUR)
    assert store.pieces.load("D-1").room_at(10 * HOUR) == "booth"
    assert len(store.pieces.load_all()) == 1


def test_a_voided_entry_no_longer_counts_and_stays_in_the_history(store: Store) -> None:
    hang(store)
    number = store.pieces.coat("D-1", Coat(2 * HOUR), 3 * HOUR)
    store.pieces.void("coat", number, "other piece", 4 * HOUR)
    assert store.pieces.load("D-1").coats == ()
    (entry,) = [entry for entry in store.pieces.history("D-1") if entry.what == "coat"]
    assert (entry.id, entry.at_ms, entry.entered_ms) == (number, 2 * HOUR, 3 * HOUR)
    assert entry.void is not None
    assert (entry.void.why, entry.void.at_ms) == ("other piece", 4 * HOUR)


def test_the_history_tells_everything_in_order_of_entry(store: Store) -> None:
    hang(store)
    store.pieces.coat("D-1", Coat(2 * HOUR), 2 * HOUR)
    store.pieces.work("D-1", Work(WorkKind.DRY_SAND, 3 * HOUR), 3 * HOUR)
    store.pieces.outcome("D-1", Outcome(4 * HOUR, "too early"), 4 * HOUR)
    store.pieces.rejudge("D-1", 2, "new data sheet", 5 * HOUR)
    store.pieces.leave("D-1", 6 * HOUR, 6 * HOUR)
    history = store.pieces.history("D-1")
    assert [entry.what for entry in history] == [
        "hang",
        "move",
        "coat",
        "work",
        "outcome",
        "rejudge",
        "leave",
    ]
    assert history[0].facts == {"finish": "waterborne", "revision": 1, "title": "door"}
    assert history[5].facts == {"revision": 2, "why": "new data sheet"}


def test_a_re_judged_piece_carries_the_newer_revision(store: Store) -> None:
    hang(store)
    store.pieces.rejudge("D-1", 3, "sheet of this spring", 5 * HOUR)
    assert store.pieces.load("D-1").finish_revision == 3
    with pytest.raises(BadInput, match="needs a reason"):
        store.pieces.rejudge("D-1", 4, " ", 5 * HOUR)


def test_how_many_coats_are_planned_can_change_and_the_newest_holds(store: Store) -> None:
    store.pieces.hang(
        "D-1", "waterborne", 1, title="door", at_ms=1, entered_ms=1, room=None, planned_coats=6
    )
    assert store.pieces.load("D-1").planned_coats == 6
    store.pieces.plan_coats("D-1", 8, 2)
    assert store.pieces.load("D-1").planned_coats == 8
    plans = [entry.facts for entry in store.pieces.history("D-1") if entry.what == "plan"]
    assert plans == [{"coats": 6}, {"coats": 8}]
    with pytest.raises(BadInput, match="0 coats cannot be planned"):
        store.pieces.plan_coats("D-1", 0, 3)


def test_tags_are_the_same_in_upper_and_lower_case(store: Store) -> None:
    hang(store)
    assert store.pieces.load("d-1").tag == "D-1"
    with pytest.raises(BadInput, match="a piece D-1 already: choose another tag"):
        hang(store, "d-1")


@pytest.mark.parametrize("tag", ["", "two words", "a" * 33, "D/1", "Tür", "D-1\n"])
def test_a_tag_that_cannot_be_written_on_a_hook_is_refused(store: Store, tag: str) -> None:
    with pytest.raises(BadInput, match="cannot be a tag: use 1 to 32"):
        hang(store, tag)


def test_an_unknown_tag_names_those_that_look_like_it(store: Store) -> None:
    hang(store, "Door-17")
    with pytest.raises(BadInput, match=r"did you mean Door-17\?.*'curewatch piece hang"):
        store.pieces.load("door-71")
    with pytest.raises(BadInput, match="hang it first"):
        store.pieces.coat("zzz", Coat(HOUR), HOUR)


def test_voiding_needs_an_entry_a_reason_and_happens_once(store: Store) -> None:
    hang(store)
    number = store.pieces.coat("D-1", Coat(2 * HOUR), 2 * HOUR)
    with pytest.raises(BadInput, match="needs a reason"):
        store.pieces.void("coat", number, "", 3 * HOUR)
    with pytest.raises(BadInput, match="no work with number"):
        store.pieces.void("work", number, "why", 3 * HOUR)
    with pytest.raises(BadInput, match="'sensor' cannot be voided"):
        store.pieces.void("sensor", 1, "why", 3 * HOUR)  # type: ignore[arg-type]
    with pytest.raises(BadInput, match="no leave with number"):
        store.pieces.void("leave", 1, "a move is not a leave", 3 * HOUR)
    store.pieces.void("coat", number, "twice entered", 3 * HOUR)
    with pytest.raises(BadInput, match="void already since 1970-01-01 03:00 UTC: twice entered"):
        store.pieces.void("coat", number, "again", 4 * HOUR)


def test_many_pieces_load_in_as_many_queries_as_one(store: Store) -> None:
    with store.db.transaction():
        for index in range(300):
            hang(store, f"P{index}", entered_ms=index)
            store.pieces.coat(f"P{index}", Coat((2 + index) * HOUR), HOUR)
    asked: list[str] = []

    def note(_cursor: object, sql: str, _arguments: object) -> bool:
        asked.append(sql)
        return True

    store.db._connection.exec_trace = note  # noqa: SLF001 - SQLite's own trace of statements
    pieces = store.pieces.load_all()
    assert len(pieces) == 300
    assert pieces[7].coats[0].at_ms == 9 * HOUR
    assert len([sql for sql in asked if "SELECT" in sql]) == 6


def test_a_plan_of_coats_taken_back_leaves_the_one_before(store: Store) -> None:
    hang(store)
    first = store.pieces.plan_coats("D-1", 3, HOUR)
    second = store.pieces.plan_coats("D-1", 5, 2 * HOUR)
    store.pieces.void("plan", second, "counted wrong", 3 * HOUR)
    assert store.pieces.load("D-1").planned_coats == 3
    store.pieces.void("plan", first, "counted wrong", 3 * HOUR)
    assert store.pieces.load("D-1").planned_coats is None
    plans = [entry for entry in store.pieces.history("D-1") if entry.what == "plan"]
    assert [entry.void.why for entry in plans if entry.void] == ["counted wrong"] * 2


def test_a_piece_hung_by_mistake_is_taken_down_and_its_tag_is_free(store: Store) -> None:
    hang(store)
    store.pieces.take_down("D-1", "wrong finish", 2 * HOUR)
    assert store.pieces.load_all(left=True) == ()
    with pytest.raises(BadInput, match="no piece with the tag 'D-1': look at the tag"):
        store.pieces.load("D-1")
    with pytest.raises(BadInput, match="no piece with the tag 'D-1~1'"):
        store.pieces.load("D-1~1")
    hang(store)
    (piece,) = store.pieces.load_all()
    assert piece.tag == "D-1"
    rows = [(row["tag"], row["void_why"]) for row in export_rows(store, "pieces")]
    assert rows == [("D-1~1", "wrong finish"), ("D-1", None)]


def test_a_piece_on_which_something_was_entered_is_not_taken_down(store: Store) -> None:
    hang(store)
    coat = store.pieces.coat("D-1", Coat(2 * HOUR), 2 * HOUR)
    with pytest.raises(BadInput, match="more than its hanging is entered on it"):
        store.pieces.take_down("D-1", "wrong finish", 3 * HOUR)
    store.pieces.void("coat", coat, "other piece", 3 * HOUR)
    store.pieces.take_down("D-1", "wrong finish", 4 * HOUR)
    assert store.pieces.load_all() == ()


def test_a_re_judging_knows_the_revision_before_it(store: Store) -> None:
    hang(store)
    first = store.pieces.rejudge("D-1", 2, "new sheet", HOUR)
    second = store.pieces.rejudge("D-1", 4, "newer sheet", HOUR)
    assert store.pieces.rejudged_from(first) == ("D-1", 1)
    assert store.pieces.rejudged_from(second) == ("D-1", 2)
    with pytest.raises(BadInput, match="no re-judging with number 9"):
        store.pieces.rejudged_from(9)
