"""Pieces side by side: what differs is a place to look; few pieces show nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from curewatch.shop.batch import Batch
from curewatch.shop.piece import Coat, Outcome, Piece, Stay, WorkKind
from curewatch.shop.plain_compare import beside_plain, comparison_plain
from curewatch.shop.side_by_side import FEW, MOST, Comparison, companions, compare
from tests.shop.scene import T0_MS, at_h, finish, piece, shop_of, steady
from tests.shop.test_standings import untold

if TYPE_CHECKING:
    from collections.abc import Sequence

NOW_MS = at_h(59.0 * 24.0)
POTS = {
    name: Batch(name, "waterborne", 1, lot, T0_MS, crosslinker_lot=more)
    for name, lot, more in (("Mon", "L7", ""), ("Tue", "L7", "C2"), ("Wed", "L8", ""))
}


def one(
    tag: str, *findings: str, room: str = "warm", pot: str = "", wet_um: float = 100.0
) -> Piece:
    """Return a piece with two coats on days 30 and 31."""
    coats = [Coat(at_h(720.0 + 24.0 * n), wet_um=wet_um, pot=pot) for n in (0, 1)]
    found = tuple(Outcome(at_h(1300.0 + n), name) for n, name in enumerate(findings))
    return replace(piece("waterborne", coats, tag=tag, room=room), outcomes=found)


def compared(asked: Piece, *others: Piece) -> Comparison:
    rooms = {
        "warm": steady(60.0, 23.0),
        "cold": steady(60.0, 17.0, sensor="porch"),
        "icy": steady(60.0, 6.0, sensor="ice"),
    }
    shop = shop_of(rooms, finishes=[finish("waterborne")], pieces=[asked, *others])
    found = compare(shop, asked, others, POTS, NOW_MS)
    plain = comparison_plain(found, finish("waterborne"))
    assert untold(plain) == []
    return found


def says(found: Comparison) -> dict[str, str]:
    """Return what each hint says by the first word of what it is about."""
    return {hint.about.partition(" ")[0]: hint.says for hint in found.hints}


def test_a_piece_from_the_cold_room_has_fewer_hours_beyond_doubt() -> None:
    found = compared(one("A", room="cold"), one("B"), one("C"))
    told = says(found)
    assert (told["effective"], told["mean"], told["build"]) == ("differs", "differs", "alike")
    assert "less than any of them" in found.hints[1].text
    assert found.small
    assert "too few to show a cause" in found.sentence
    assert "A difference is a place to look" in found.sentence


def test_a_piece_that_earned_nothing_is_known_to_have_less() -> None:
    found = compared(one("A", room="icy"), one("B"))
    assert says(found)["effective"] == "differs"
    assert found.asked.effective_h is not None
    assert found.asked.effective_h.high == 0.0


def test_a_piece_from_the_warm_room_has_more() -> None:
    found = compared(one("A"), one("B", room="cold"))
    assert "more than any of them" in found.hints[1].text


def test_what_its_time_on_the_wall_was_worth_is_said() -> None:
    cold, warm = compared(one("A", room="cold"), one("B")), compared(one("A"), one("B"))
    assert cold.hints[0].says == "differs"
    assert "672 h were worth" in cold.hints[0].text
    assert "explains part of a wait" in cold.hints[0].text
    assert warm.hints[0].says == "alike"
    assert compared(one("A", room="shed")).hints[0].says == "unknown"


def test_films_of_another_age_on_the_wall_are_no_match() -> None:
    young = replace(one("B"), coats=(Coat(at_h(1400.0)),))
    assert says(compared(one("A"), young))["effective"] == "unknown"
    assert says(compared(one("A"), young, one("C")))["effective"] == "alike"
    bare = replace(one("D"), coats=())
    assert says(compared(one("A"), bare))["effective"] == "unknown"


def test_a_much_thicker_film_differs_and_a_little_thicker_one_does_not() -> None:
    assert says(compared(one("A", wet_um=300.0), one("B")))["build"] == "differs"
    assert says(compared(one("A", wet_um=130.0), one("B")))["build"] == "alike"


def test_alike_pieces_clear_neither() -> None:
    found = compared(one("A"), one("B"))
    assert "Nothing that is recorded sets it clearly apart; that clears neither." in found.sentence


def test_a_piece_is_judged_at_its_buff_else_its_levelling_else_now() -> None:
    jobs = {
        "A": [(WorkKind.LEVEL, 1200.0), (WorkKind.BUFF, 1250.0), (WorkKind.LEVEL, 1260.0)],
        "B": [(WorkKind.LEVEL, 1200.0), (WorkKind.BUFF, 1500.0)],
        "C": [(WorkKind.SCUFF, 1200.0)],
    }
    pieces = [
        replace(one(tag), work=piece("waterborne", work=work).work) for tag, work in jobs.items()
    ]
    found = compared(*pieces)
    rows = (found.asked, *found.others)
    assert [row.judged for row in rows] == ["buff", "level", "now"]
    assert [row.at_ms for row in rows] == [at_h(1250.0), at_h(1200.0), NOW_MS]
    assert says(found)["effective"] == "unknown"


def test_a_piece_that_left_is_judged_as_it_stood_then() -> None:
    gone = replace(one("B"), left_ms=at_h(1000.0), stays=(Stay("warm", T0_MS, at_h(1000.0)),))
    (row,) = compared(one("A"), gone).others
    assert row.at_ms == at_h(1000.0) - 1


def test_batch_mates_tell_of_the_lot_and_nobody_is_blamed() -> None:
    asked = one("A", "nail-dent", pot="Mon")
    fine = compared(asked, one("B", "fine", pot="Tue"), one("C", "nail-dent", pot="Wed"))
    assert says(fine)["lot"] == "differs"
    assert "of 1 batch-mate 1 last found fine, 0 too soft" in fine.hints[-1].text
    soft = compared(asked, one("B", "thumbprint", pot="Mon"))
    assert says(soft)["lot"] == "alike"
    assert says(compared(asked, one("B", pot="Tue")))["lot"] == "unknown"
    assert says(compared(one("A"), one("B", pot="Tue")))["lot"] == "unknown"
    assert [row.shares for row in fine.others] == [("lot", "room"), ("room",)]
    assert soft.others[0].shares == ("pot", "lot", "room")
    assert compared(asked, one("B", pot="Tue")).others[0].lots == ("L7", "C2")


def test_what_nobody_heard_or_laid_is_unknown() -> None:
    deaf = one("B", room="shed")
    found = compared(deaf, one("C"))
    told = says(found)
    assert (told["effective"], told["mean"], told["wood"]) == ("unknown", "unknown", "unknown")
    assert found.asked.effective_h is None
    bare = compared(one("A"), replace(one("B"), coats=()))
    assert bare.others[0].build is None
    assert beside_plain(bare.others[0], finish("waterborne"))["build"] is None


def test_nothing_to_compare_with_tells_nothing() -> None:
    assert "nothing can be told" in compared(one("A")).sentence


def test_with_many_pieces_the_few_are_not_spoken_of() -> None:
    many = [one(f"B{n}") for n in range(FEW)]
    found = compared(one("A"), *many)
    assert not found.small
    assert "too few" not in found.sentence


def test_companions_share_most_first_and_are_of_the_same_finish() -> None:
    asked = one("A", pot="Mon")
    strange = piece("nitro-lacquer", [720.0], tag="N", room="warm")
    others: Sequence[Piece] = [
        asked,
        strange,
        replace(one("bare"), coats=()),
        one("far", room="cold"),
        one("near"),
        one("lot", pot="Tue"),
        one("pot", pot="Mon"),
    ]
    assert [p.tag for p in companions(asked, others, POTS, NOW_MS)] == ["pot", "lot", "near", "far"]
    crowd = [one(f"B{n}") for n in range(2 * MOST)]
    assert len(companions(asked, crowd, POTS, NOW_MS)) == MOST - 1
