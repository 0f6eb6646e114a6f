from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.storage import Store
from curewatch.storage.page_deeds import KEPT_MS

if TYPE_CHECKING:
    from pathlib import Path


def test_an_answer_is_kept_by_the_key_of_its_form_for_two_days(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        store.meta.set("other", 1)
        assert store.page_deeds.told("a") is None
        store.page_deeds.keep("a", "coat 3", 1000)
        assert store.page_deeds.told("a") == (1000, "coat 3")
        store.page_deeds.keep("b", "", 1000 + KEPT_MS)
        assert store.page_deeds.told("a") == (1000, "coat 3")
        store.page_deeds.keep("c", "x", 1001 + KEPT_MS)
        assert store.page_deeds.told("a") is None
        assert store.page_deeds.told("b") == (1000 + KEPT_MS, "")
        assert store.meta.get("other") == 1
