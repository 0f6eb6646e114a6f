"""The page on the spray check is run: its commands, its arithmetic, what it says of each answer."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from curewatch.cli.main import main
from curewatch.finish_files import shipped_names
from curewatch.shop.spray import Conditions, Verdict, spray_check
from curewatch.shop.spray_answer import Job, room_answer
from curewatch.shop.words import Words
from tests.shop.scene import at_h, every, finish, readings, shop_of

if TYPE_CHECKING:
    from curewatch.shop.plain import PlainValue

PAGE = (Path(__file__).parents[1] / "docs" / "spray-check.md").read_text(encoding="utf-8")
EXAMPLE = re.compile(r"```\ncurewatch (check .+?)\n```\n(.*?)(?=```\ncurewatch|\Z)", re.DOTALL)
ROW = re.compile(r"^\| .+? \| (\S+) \| `(\S+)` \| (\S+) \|$", re.MULTILINE)
EXAMPLES = [(words, ROW.findall(rest)) for words, rest in EXAMPLE.findall(PAGE)]
BY_HAND = 0.05  # the Magnus formula and four figures carry this far [K, h, points]


def at(plain: PlainValue, place: str) -> PlainValue:
    """Return what stands at a place; entries of a list go by their limit or their number."""
    for key in place.split("."):
        if isinstance(plain, list):
            named = [one for one in plain if isinstance(one, dict) and one.get("limit") == key]
            plain = named[0] if named else plain[int(key)]
        else:
            assert isinstance(plain, dict)
            plain = plain[key]
    return plain


def test_the_page_has_its_examples() -> None:
    assert len(EXAMPLES) == 6
    assert sum(len(rows) for _, rows in EXAMPLES) >= 30


@pytest.mark.parametrize(("words", "rows"), EXAMPLES, ids=[words for words, _ in EXAMPLES])
def test_the_command_says_what_the_page_says_and_what_was_worked_by_hand(
    words: str,
    rows: list[tuple[str, str, str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)  # no configuration lies there
    monkeypatch.delenv("CUREWATCH_CONFIG", raising=False)
    main([*words.split(), "--json"])
    answer = json.loads(capsys.readouterr().out)
    assert rows
    for by_hand, place, told in rows:
        value = at(answer, place)
        if isinstance(value, str):
            assert value == told == by_hand, place
            continue
        assert isinstance(value, float)
        digits = len(told.partition(".")[2])
        assert f"{value:.{digits}f}" == told, place
        assert float(by_hand) == pytest.approx(value, abs=BY_HAND), place


def magnus(temp_c: float) -> float:
    """Return the saturation pressure as the page works it out [Pa]."""
    return 611.2 * math.exp(17.62 * temp_c / (243.12 + temp_c))


def test_the_sums_on_the_page_are_right() -> None:
    for temp, told in ((22.0, 2639), (23.0, 2804), (16.0, 1815), (19.0, 2194)):
        assert f"{told} Pa" in PAGE
        assert magnus(temp) == pytest.approx(told, abs=2.0)
    for temp, rh, dew in ((21, 0.5, 10.18), (22, 0.62, 14.38), (21, 0.6, 12.94), (16, 0.6, 8.23)):
        g = math.log(rh) + 17.62 * temp / (243.12 + temp)
        assert f"= {dew} degC" in PAGE
        assert 243.12 * g / (17.62 - g) == pytest.approx(dew, abs=0.01)


def test_every_limit_of_the_shipped_finishes_stands_on_the_page() -> None:
    here = Conditions(21.0, 0.5, surface_c=21.0, liquid_c=21.0)
    for name in shipped_names():
        for limit in spray_check(finish(name), here, Words()).limits:
            assert f"`{limit.name}`" in PAGE


def test_the_evening_that_turns_does_as_the_page_says() -> None:
    hours = every(10.0, 9 * 24.0 + 12.0)
    temps = [21.0 if 7.0 <= hour % 24.0 < 16.0 else 13.0 for hour in hours]
    facts = shop_of({"loft": readings(hours, temps, 0.5)})
    here, now_ms = Conditions(21.0, 0.5), at_h(float(hours[-1]))
    one, three = (
        room_answer(facts, "loft", Job(finish("waterborne"), coats=coats), here=here, now_ms=now_ms)
        for coats in (1, 3)
    )
    assert one.verdict is Verdict.FIT
    assert three.verdict is Verdict.WAIT
    assert three.binding is not None
    assert three.binding.name == "air-low"
    assert (three.clears[0].change, three.clears[0].by) == ("fewer-coats", 1)
    assert one.recoat is not None
    assert one.recoat.one.latest == pytest.approx(1.36, abs=0.01)
