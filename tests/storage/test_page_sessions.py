from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.storage import Store
from curewatch.storage.page_sessions import MOST_SESSIONS

if TYPE_CHECKING:
    from pathlib import Path


def test_a_cookie_is_known_until_it_is_closed(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        store.page_sessions.open(b"one", who="Ann", at_ms=1)
        store.page_sessions.open(b"two", who="", at_ms=2)
        assert store.page_sessions.who(b"one") == "Ann"
        store.page_sessions.close(b"one")
        assert store.page_sessions.who(b"one") is None
        assert store.page_sessions.who(b"two") == ""
        store.page_sessions.close_all()
        assert store.page_sessions.who(b"two") is None


def test_the_oldest_cookies_fall_out(tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db") as store:
        for at_ms in range(MOST_SESSIONS + 2):
            store.page_sessions.open(b"%d" % at_ms, who="x", at_ms=at_ms)
        assert store.page_sessions.who(b"0") is None
        assert store.page_sessions.who(b"1") is None
        assert store.page_sessions.who(b"2") == "x"
