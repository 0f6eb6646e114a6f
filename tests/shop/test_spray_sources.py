"""Every number of a spray check says its source in words, whatever decides."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curewatch.finish_files import shipped_names
from curewatch.shop.finish import MilestoneName
from curewatch.shop.instants import instant
from curewatch.shop.plain_check import spray_plain
from curewatch.shop.plain_spray import answer_plain
from curewatch.shop.spray_answer import Job, SprayAnswer, room_answer, room_look, typed_answer
from curewatch.shop.spray_here import here_at
from curewatch.shop.spray_sources import with_sources
from curewatch.shop.spray_terms import Conditions, Verdict
from curewatch.shop.standings import KEY, OUTLOOK, numbers, told_at
from curewatch.shop.words import Words
from tests.shop.scene import at_h, every, finish, readings, shop_of

TYPED = ("temp_c", "rh_pct", "surface_c")


def sources(
    answer: SprayAnswer, here: Conditions, typed: tuple[str, ...] = ()
) -> dict[str, tuple[str, str]]:
    """Return standing and source of every number of the answer."""
    plain = with_sources(answer_plain(answer, here, typed=typed), answer)
    told = plain[KEY]
    assert isinstance(told, dict)
    found = {}
    for place, _ in numbers(plain):
        at = told_at(told, place)
        assert at is not None, place
        found[place] = at
    return found


@pytest.mark.parametrize("name", shipped_names())
def test_only_what_was_typed_needs_no_source(name: str) -> None:
    here = Conditions(16.0, 0.72, surface_c=15.0)
    found = sources(typed_answer(Job(finish(name)), here, Words()), here, TYPED)
    assert {place for place, (standing, source) in found.items() if not source} == {
        place for place, (standing, _) in found.items() if standing == "typed"
    }
    asked = finish(name).limits.temp_low_c
    assert found["limits.air-low.allowed"] == (str(asked.standing), asked.source)


def test_a_limit_that_an_hour_ahead_breaks_says_that_it_was_foreseen() -> None:
    at = every(10.0, 30.0)
    temps = [9.0 if 7.0 < hour % 24.0 < 18.0 else 21.0 for hour in at]
    shop = shop_of({"loft": readings(at, temps, 0.5)})
    answer = room_answer(shop, "loft", Job(finish("waterborne")), now_ms=at_h(30.0))
    assert (answer.now.verdict, answer.verdict) == (Verdict.FIT, Verdict.WAIT)
    found = sources(answer, here_at(shop, "loft", at_h(30.0)))
    assert found["binding.value"][1] == OUTLOOK
    assert found["binding.allowed"][1] == finish("waterborne").limits.temp_low_c.source
    assert "the room's sensors" in found["temp_c"][1]


def test_a_sheet_without_hours_between_coats_names_none() -> None:
    here, solvent = Conditions(21.0, 0.5), finish("nitro-lacquer")
    answer = typed_answer(Job(solvent), here, Words())
    asked = solvent.requirements[MilestoneName.RECOAT_OPENS]
    assert sources(answer, here)["recoat.sheet_h"][1] == asked.hours.source
    rest = dict(solvent.requirements)
    del rest[MilestoneName.RECOAT_OPENS]
    bare = replace(answer, job=Job(replace(solvent, requirements=rest)))
    assert sources(bare, here)["recoat.sheet_h"][1] == ""


def test_a_room_s_state_says_now_and_ahead_and_where_what_decides_comes_from() -> None:
    at = every(10.0, 30.0)
    for by_day, verdict in ((9.0, Verdict.WAIT), (21.0, Verdict.FIT)):
        temps = [by_day if 7.0 < hour % 24.0 < 18.0 else 21.0 for hour in at]
        shop = shop_of({"loft": readings(at, temps, 0.5, surface_c=temps)})
        look = room_look(shop, "loft", Job(finish("waterborne")), now_ms=at_h(30.0) + 90_000)
        plain = spray_plain(look.answer)
        assert plain["verdict"] == str(verdict)
        assert plain["now"]["verdict"] == str(Verdict.FIT)  # type: ignore[index, call-overload]  # JSON
        assert plain["ahead"]["judged_at"] == instant(at_h(30.0))  # type: ignore[index, call-overload]  # JSON
        told = plain[KEY]
        assert isinstance(told, dict)
        foreseen = (told_at(told, "binding.value") or ("", ""))[1] == OUTLOOK
        assert foreseen is (verdict is Verdict.WAIT)
        assert [place for place, _ in numbers(plain) if told_at(told, place) is None] == []
