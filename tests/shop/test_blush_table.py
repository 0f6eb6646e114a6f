"""The table of fresh coats: patches, their cells, how many are kept, and who may ask."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import numpy as np
import pytest

from curewatch.shop.blush_table import PATCH_RHS, PATCH_TEMPS, BlushTable, Cell, Sprayed

WHAT = Sprayed("medium", 100.0, 0.1, 101_325.0)


def test_a_patch_followed_alone_is_the_patch_followed_with_others() -> None:
    patches = [
        Cell.of(WHAT, temp_c, 0.5, surface_c).patch
        for temp_c in (18.0, 21.0)
        for surface_c in (None, 17.0)
    ]
    together = BlushTable().of(patches)
    for patch in patches:
        (alone,) = BlushTable().of([patch]).values()
        assert together[patch] == pytest.approx(alone, abs=1e-9)


def test_cells_lie_beside_each_other_across_patches() -> None:
    """The damp end of one patch's last cell is the dry end of the next one's first."""
    below = Cell.of(WHAT, 21.9, 0.4801, None)
    above = Cell.of(WHAT, 22.1, 0.4801, None)
    assert (below.patch.temp + 1, below.temp, above.temp) == (above.patch.temp, PATCH_TEMPS - 1, 0)
    found = BlushTable().of([below.patch, above.patch])
    warm, cold = below.ends(found[below.patch])[:, 1], above.ends(found[above.patch])[:, 0]
    assert warm == pytest.approx(cold, abs=1e-9)
    dry, damp = (Cell.of(WHAT, 21.0, rh, None) for rh in (0.4799, 0.4801))
    assert (dry.patch.rh + 1, dry.rh, damp.rh) == (damp.patch.rh, PATCH_RHS - 1, 0)


def test_the_table_never_outgrows_its_room_and_still_answers() -> None:
    table = BlushTable(most=2)
    for temp_c in (20.0, 21.0, 22.0, 23.0):
        cell = Cell.of(WHAT, temp_c, 0.5, None)
        assert np.all(np.isfinite(cell.ends(table.of([cell.patch])[cell.patch])))
        assert len(table) <= 2
    patches = [Cell.of(WHAT, temp_c, 0.5, None).patch for temp_c in (5.0, 6.0, 7.0)]
    assert list(table.of(patches)) == patches
    assert len(table) <= 2


def test_threads_that_ask_at_once_get_what_one_alone_gets() -> None:
    """Each wants patches that the others' throw out."""
    table, ready = BlushTable(most=1), Barrier(3)
    patches = [Cell.of(WHAT, temp_c, 0.5, None).patch for temp_c in (18.0, 20.0, 22.0)]
    alone = BlushTable().of(patches)

    def ask(first: int) -> list[bool]:
        ready.wait(10.0)
        turned = patches[first:] + patches[:first]
        return [
            np.allclose(table.of([patch])[patch], alone[patch], atol=1e-9) for patch in turned * 3
        ]

    with ThreadPoolExecutor(3) as threads:
        found = list(threads.map(ask, range(3)))
    assert all(all(one) for one in found)
    assert len(table) <= 1
