"""Labels: what a reader makes of a drawn mark, where labels lie, and what cannot be printed."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import zxingcpp

from curewatch.errors import BadInput
from curewatch.records.labels import (
    ADVICE,
    GRIDS,
    QUIET,
    Grid,
    Label,
    grid_named,
    hook_label,
    piece_label,
    qr_path,
    sheets,
)

BASE = "http://bench.local:8480/"
SVG = "{http://www.w3.org/2000/svg}"
RUN = re.compile(r"M(\d+) (\d+)h(\d+)v1h-\d+z")


def picture(path: str, *, pixels: int = 6) -> np.ndarray:
    """Return a drawn path as grey pixels with its quiet margin."""
    runs = [tuple(map(int, run)) for run in RUN.findall(path)]
    side = max(y for _, y, _ in runs) + 1
    modules = np.full((side + 2 * QUIET,) * 2, 255, dtype=np.uint8)
    for x, y, length in runs:
        modules[QUIET + y, QUIET + x : QUIET + x + length] = 0
    return np.kron(modules, np.ones((pixels, pixels), dtype=np.uint8))


def drawn_paths(sheet: str) -> list[str]:
    """Return the paths of a sheet's marks."""
    return [path.attrib["d"] for path in ET.fromstring(sheet).iter(f"{SVG}path")]  # noqa: S314 - our own


def texts(sheet: str) -> list[str]:
    """Return the words on a sheet."""
    return [one.text or "" for one in ET.fromstring(sheet).iter(f"{SVG}text")]  # noqa: S314 - as above


@pytest.mark.parametrize("tag", ["B12", "neck 7", "Ähre-3", "a" * 30])
@pytest.mark.parametrize("grid", GRIDS.values(), ids=list(GRIDS))
def test_a_reader_finds_the_piece_s_address_in_the_mark(tag: str, grid: Grid) -> None:
    label = piece_label(tag, "an invented body", BASE)
    (sheet,) = sheets([label], grid)
    (path,) = drawn_paths(sheet)
    (found,) = zxingcpp.read_barcodes(picture(path))
    assert found.text == label.address
    assert found.text.startswith("http://bench.local:8480/piece/")


def test_a_rack_hook_s_mark_opens_the_pieces_on_the_hooks() -> None:
    (sheet,) = sheets([hook_label("left rail", BASE)], grid_named("letter-3x10"))
    (found,) = zxingcpp.read_barcodes(picture(drawn_paths(sheet)[0]))
    assert found.text == "http://bench.local:8480/hooks"


@pytest.mark.parametrize("grid", GRIDS.values(), ids=list(GRIDS))
def test_labels_lie_on_the_page_and_do_not_overlap(grid: Grid) -> None:
    corners = [grid.corner(place) for place in range(grid.count)]
    for x, y in corners:
        assert x >= 0.0
        assert x + grid.size[0] <= grid.page[0] + 0.01
        assert y >= 0.0
        assert y + grid.size[1] <= grid.page[1] + 0.01
    assert grid.step[0] >= grid.size[0]
    assert grid.step[1] >= grid.size[1]
    assert len(set(corners)) == grid.count


@pytest.mark.parametrize("grid", GRIDS.values(), ids=list(GRIDS))
def test_what_stands_on_a_label_stays_inside_it(grid: Grid) -> None:
    (sheet,) = sheets([piece_label("B12", "an invented body with a long title", BASE)], grid)
    left, top = grid.corner(0)
    for one in ET.fromstring(sheet).iter(f"{SVG}text"):  # noqa: S314 - our own
        x, y, size = (float(one.attrib[name]) for name in ("x", "y", "font-size"))
        on_next = x >= left + grid.step[0] - 1.0  # the advice lies on the next place
        edge = left + (grid.step[0] if on_next else 0.0) + grid.size[0]
        assert x + 0.62 * size * len(one.text or "") <= edge + 0.5
        assert top <= y - size
        assert y <= top + grid.size[1]


def test_sheets_go_on_and_the_advice_stands_once() -> None:
    grid = grid_named("a4-2x7")
    found = sheets([Label(f"P{number}") for number in range(16)], grid)
    assert len(found) == 2
    words = " ".join(text for sheet in found for text in texts(sheet))
    assert words.count(ADVICE[0].split()[0]) == 1
    assert "P13" in texts(found[0])
    assert "P14" in texts(found[1])


def test_a_full_sheet_has_no_place_for_the_advice() -> None:
    grid = grid_named("a4-2x7")
    (found,) = sheets([Label(f"P{number}") for number in range(14)], grid)
    assert "Solvent" not in found


def test_used_places_are_left_free() -> None:
    grid = grid_named("letter-3x10")
    (sheet,) = sheets([Label("P")], grid, skip=4)
    heading = next(ET.fromstring(sheet).iter(f"{SVG}text"))  # noqa: S314 - our own
    x, y = grid.corner(4)
    assert x <= float(heading.attrib["x"]) <= x + grid.size[0]
    assert y <= float(heading.attrib["y"]) <= y + grid.size[1]


def test_words_of_people_are_escaped() -> None:
    (sheet,) = sheets([Label("<script>&", "a 'b' \"c\"")], grid_named("a4-3x7"))
    assert "<script" not in sheet
    assert "<script>&" in texts(sheet)


def test_an_address_too_long_for_its_mark_is_refused() -> None:
    with pytest.raises(BadInput, match="too long for a mark"):
        qr_path("http://" + "x" * 300, 20.0)


@pytest.mark.parametrize(
    ("labels", "skip", "why"),
    [([], 0, "nothing to print"), ([Label("a")] * 601, 0, "too many"), ([Label("a")], 21, "skip")],
)
def test_what_cannot_be_printed_is_said(labels: list[Label], skip: int, why: str) -> None:
    with pytest.raises(BadInput, match=why):
        sheets(labels, grid_named("a4-3x7"), skip=skip)


def test_a_grid_that_is_not_known_names_those_that_are() -> None:
    with pytest.raises(BadInput, match="a4-3x7, a4-3x8, a4-2x7, letter-3x10"):
        grid_named("a5")
