"""Film figures, confidence and pace prior of a finish file: all or none, kept, explained."""

from __future__ import annotations

import pytest

from curewatch.errors import BadConfig
from curewatch.finish_files import describe, load_text, resolved_text, shipped_names, shipped_text
from curewatch.finishes.keys import FILM
from curewatch.shop.finish import PacePriorName
from curewatch.shop.reading import Standing

OWN = 'name = "mine"\ntitle = "Mine (invented)"\nextends = "waterborne"\n'
TOLERANCE = '[film.sink_tolerance_um]\nvalue = 1\nstanding = "learnt-here"\nsource = "boards"\n'
SURE = '[confidence]\nvalue = 0.95\nstanding = "from-memory"\nsource = "a careful shop"\n'


def test_only_the_waterborne_family_comes_with_a_film_and_its_figures_have_no_source() -> None:
    with_film = [n for n in shipped_names() if load_text(shipped_text(n), source=n).film]
    assert with_film == ["waterborne"]
    rows = {r.key: r for r in describe(load_text(shipped_text("waterborne"), source="waterborne"))}
    for path in FILM:
        assert rows[path].standing is Standing.FROM_MEMORY
        assert "figure with no source" in rows[path].source


def test_film_figures_confidence_and_prior_are_kept_as_written() -> None:
    text = OWN + 'pace_prior = "memory"\n' + TOLERANCE + SURE
    mine = load_text(text, source="mine")
    again = load_text(resolved_text(text, source="mine"), source="again")
    assert again == mine
    assert mine.film is not None
    assert mine.film.sink_tolerance_um.value == 1.0
    assert mine.film.dry_um.value == 25.0  # inherited
    assert (mine.sure_enough, mine.pace_prior) == (0.95, PacePriorName.MEMORY)
    plain = load_text(shipped_text("waterborne"), source="waterborne")
    assert (plain.sure_enough, plain.pace_prior) == (0.9, None)


def test_part_of_a_film_is_refused_with_what_is_missing() -> None:
    text = OWN.replace("waterborne", "nitro-lacquer") + TOLERANCE
    with pytest.raises(BadConfig) as caught:
        load_text(text, source="mine")
    missing = {fault.partition(":")[0] for fault in caught.value.faults}
    assert missing == set(FILM) - {"film.sink_tolerance_um"}


def test_a_film_can_be_left_out_and_is_idle_without_a_cure_clock() -> None:
    without = f"without = {[*FILM]}\n".replace("'", '"')
    assert load_text(OWN + without, source="mine").film is None
    text = OWN.replace("waterborne", "dose-cured") + 'pace_prior = "rule"\n' + SURE + TOLERANCE
    with pytest.raises(BadConfig) as caught:
        load_text(text, source="mine")
    idle = {f.partition(":")[0] for f in caught.value.faults if "has no meaning" in f}
    assert idle == {"film.sink_tolerance_um", "confidence", "pace_prior"}


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('pace_prior = "guess"', "pace_prior: 'guess' is none of rule, memory"),
        (SURE.replace("0.95", "1.5"), "confidence.value: 1.5 cannot be meant"),
    ],
)
def test_what_cannot_be_meant_is_refused(line: str, told: str) -> None:
    with pytest.raises(BadConfig) as caught:
        load_text(OWN + line, source="mine")
    assert [fault for fault in caught.value.faults if fault.startswith(told)]
