"""How a piece stands, in sentences: the doubt of a clock, the recoat window."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from curewatch.shop.assessment import assess_piece
from curewatch.shop.finish import ClockName, MilestoneName
from curewatch.shop.piece_clocks import ClockReading
from curewatch.shop.standing_said import doubt_sentence, window_sentence
from curewatch.shop.words import Words
from tests.shop.scene import at_h, finish, piece, shop_of, steady

if TYPE_CHECKING:
    from curewatch.shop.assessment import PieceNow

WATER = finish("waterborne")


def seen(coats_h: list[float], now_h: float, name: str = "waterborne") -> PieceNow:
    profile = finish(name)
    mine = piece(name, [*coats_h], planned=6)
    shop = shop_of({"loft": steady(now_h / 24 + 1, 21.0)}, finishes=[profile], pieces=[mine])
    return assess_piece(shop, mine, at_h(now_h))


def test_a_doubt_below_a_tenth_is_not_taken_apart() -> None:
    reading = ClockReading(10.0, 0.0, covered_h=10.0, mean_rate=1.0)
    assert doubt_sentence(ClockName.CURE, reading) == "The cure clock's doubt is below 0.05 h."
    beyond = doubt_sentence(ClockName.CURE, replace(reading, beyond_h=1.5))
    assert "1.5 h were earned above the warmth" in beyond


def test_a_doubt_names_what_it_comes_from_the_largest_first() -> None:
    said = doubt_sentence(ClockName.CURE, seen([0.0], 200.0).clocks[ClockName.CURE])
    assert said.startswith("The cure clock's doubt comes from ")
    assert said.endswith(" h).")


def test_a_window_says_when_it_opens_and_when_it_closes() -> None:
    words, now_ms = Words(), at_h(0.2)
    assert "Recoat window: opens " in window_sentence(seen([0.0], 0.2), words, now_ms)
    wet = seen([0.0], 30.0)
    said = window_sentence(wet, words, at_h(30.0))
    assert "open since today" in said or "open since yesterday" in said
    closing = replace(wet.window, closes_at=at_h(40.0)) if wet.window else None
    assert "; closes " in window_sentence(replace(wet, window=closing), words, at_h(30.0))
    closed = replace(wet.window, closes_at=at_h(20.0)) if wet.window else None
    unsure = replace(wet.window, closes_at=at_h(0.5)) if wet.window else None
    told = window_sentence(replace(wet, window=unsure), words, at_h(30.0))
    assert "none that is sure; it may have closed" in told
    assert "; closed " in window_sentence(replace(wet, window=closed), words, at_h(30.0))


def test_a_window_that_never_closes_and_one_nobody_can_tell() -> None:
    wet = seen([0.0], 30.0)
    open_ended = replace(wet.window, closes_at=None) if wet.window else None
    assert "no closing limit" in window_sentence(
        replace(wet, window=open_ended), Words(), at_h(30.0)
    )
    opens = wet.milestone(MilestoneName.RECOAT_OPENS)
    assert opens is not None
    untold = replace(opens, reached_at=None, cautious_at=None, eta=None)
    blank = replace(wet, milestones=(untold,))
    assert "when it opens cannot be told" in window_sentence(blank, Words(), at_h(30.0))


def test_without_a_coat_or_a_clock_there_is_no_window_to_tell() -> None:
    bare = seen([0.0], 1.0)
    assert window_sentence(replace(bare, window=None), Words(), at_h(1.0)) == ""
    dose = seen([0.0], 1.0, "dose-cured")
    assert window_sentence(dose, Words(), at_h(1.0)) == ""
