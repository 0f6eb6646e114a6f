"""A shop's own finish file with figures set anew keeps its words, or is left alone."""

from __future__ import annotations

import pytest

from curewatch.errors import BadConfig, BadInput
from curewatch.finish_edit import begun, change, changed
from curewatch.finish_files import load_text, shipped_text
from curewatch.shop.finish import Figure
from curewatch.shop.reading import Standing

WATERBORNE = load_text(shipped_text("waterborne"), source="waterborne")
D = "film.diffusivity_um2_h"
HEAD = '# ours\nname = "mine"\ntitle = "mine"\nextends = "waterborne"\n'
OLD = f'\n[{D}]  # to be measured\nvalue = 99\nstanding = "from-memory"\nsource = "a guess"\n'
BUFF = '\n# of May\n[hours.buff]\nvalue = 400\nstanding = "data-sheet"\nsource = "May"\n'
LEARNT = change(
    WATERBORNE, D, Figure(210.0, Standing.LEARNT_HERE, 180.0, 240.0, 'panel "P1", glass')
)


def film_of(text: str) -> Figure:
    film = load_text(text, source="mine").film
    assert film is not None
    return film.diffusivity_um2_h


def test_a_change_stands_beside_what_the_figure_was() -> None:
    assert LEARNT.before is not None
    assert LEARNT.before.standing is Standing.FROM_MEMORY
    assert (
        change(load_text(shipped_text("nitro-lacquer"), source="n"), D, LEARNT.figure).before
        is None
    )


def test_a_new_file_takes_everything_else_from_its_base() -> None:
    text = begun("mine", "waterborne", [LEARNT], {})
    assert film_of(text) == LEARNT.figure
    assert load_text(text, source="mine").drying == WATERBORNE.drying


@pytest.mark.parametrize("name", ["Mine", "waterborne", "taken", ""])
def test_a_new_file_has_a_free_name_of_the_right_shape(name: str) -> None:
    with pytest.raises(BadInput, match="cannot be called"):
        begun(name, "waterborne", [LEARNT], {"taken": HEAD})


def test_a_figure_beyond_what_can_be_meant_is_a_fault_of_the_file() -> None:
    absurd = change(WATERBORNE, D, Figure(1e9, Standing.LEARNT_HERE, source="panel"))
    with pytest.raises(BadConfig, match=D):
        begun("mine", "waterborne", [absurd], {})


def test_a_table_is_replaced_and_every_other_line_stays() -> None:
    text = changed("mine", HEAD + OLD + BUFF, [LEARNT], {})
    assert film_of(text) == LEARNT.figure
    assert "a guess" not in text
    assert text.startswith(HEAD)
    assert BUFF.strip() in text  # with the comment above it, which stood below the old table


def test_set_anew_twice_it_does_not_grow() -> None:
    once = changed("mine", HEAD + OLD + BUFF, [LEARNT], {})
    assert changed("mine", once, [LEARNT], {}) == once


@pytest.mark.parametrize("inline", [f"\n[film]\n{D[5:]} = {{value = 99", f"\n{D} = {{value = 99"])
def test_a_figure_written_inline_is_left_to_its_owner_with_the_lines_to_put_in(
    inline: str,
) -> None:
    text = HEAD + inline + ', standing = "from-memory", source = "a guess"}\n'
    with pytest.raises(BadInput, match=r"could not be changed by program") as told:
        changed("mine", text, [LEARNT], {})
    assert f"[{D}]\nvalue = 210.0" in str(told.value)
