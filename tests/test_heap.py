from __future__ import annotations

import ctypes
import subprocess
import sys
from types import SimpleNamespace
from typing import TYPE_CHECKING

from curewatch.heap import give_back
from curewatch.storage import Store

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def test_a_store_still_reads_and_writes_after_its_memory_was_let_go(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        store.meta.set("kept", 7)
        give_back(store)
        assert store.meta.get("kept") == 7
        store.meta.set("kept", 8)
        assert store.meta.get("kept") == 8


def test_where_the_c_library_holds_nothing_back_it_is_not_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ctypes, "CDLL", lambda _: SimpleNamespace())
    with Store.open(tmp_path / "shop.db") as store:
        give_back(store)
        assert store.meta.get("kept") is None


def test_a_daemon_without_a_page_does_without_what_only_others_need() -> None:
    others = "rich apprise influxdb_client scipy fastapi starlette uvicorn jinja2 icalendar segno"
    code = (
        "import sys, curewatch.daemon, curewatch.settings; "
        f"print(*[name for name in {others.split()} if name in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.split() == []
