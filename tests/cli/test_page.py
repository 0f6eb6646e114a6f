"""The page's passphrase, signing telephones out, and where the page is to be found."""

from __future__ import annotations

import io
import socket
import sys
from typing import TYPE_CHECKING

import argon2
import pytest

from curewatch.cli import page
from curewatch.storage.export import NOUNS, export_rows
from curewatch.storage.page_sessions import PASSPHRASE

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch

WORDS = "oak and linseed"


class Terminal(io.StringIO):
    """A standard input that somebody sits at."""

    def isatty(self) -> bool:
        """Say so."""
        return True


@pytest.fixture
def types(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Return what lets somebody type passphrases at a terminal."""

    def answers(*words: str) -> None:
        left: Iterator[str] = iter(words)
        monkeypatch.setattr(sys, "stdin", Terminal())
        monkeypatch.setattr(page.getpass, "getpass", lambda _: next(left))

    return answers


def is_set_to(store: Store, passphrase: str) -> bool:
    digest = store.meta.get(PASSPHRASE)
    assert isinstance(digest, str)
    return argon2.PasswordHasher().verify(digest, passphrase)


def test_what_is_typed_twice_is_kept_as_a_digest(
    curewatch: Curewatch, kept: Callable[[], Store], types: Callable[..., None]
) -> None:
    types(WORDS, WORDS)
    said = curewatch("page", "passphrase")
    assert "The passphrase is set." in said.flat
    assert "no encryption of its own" in said.flat
    assert WORDS not in said.out
    assert said.narrow()
    with kept() as store:
        assert is_set_to(store, WORDS)


def test_two_that_differ_set_nothing(
    curewatch: Curewatch, kept: Callable[[], Store], types: Callable[..., None]
) -> None:
    types(WORDS, "oak and linsed")
    assert "not the same" in curewatch("page", "passphrase", status=2).complaint
    with kept() as store:
        assert store.meta.get(PASSPHRASE) is None


def test_a_script_gives_it_on_its_first_line_and_signs_everyone_out(
    curewatch: Curewatch, kept: Callable[[], Store], monkeypatch: pytest.MonkeyPatch
) -> None:
    with kept() as store:
        store.page_sessions.open(b"1", who="Ada", at_ms=1)
        store.page_sessions.open(b"2", who="Bob", at_ms=2)
    monkeypatch.setattr(sys, "stdin", io.StringIO(f"{WORDS}\r\nmore\n"))
    said = curewatch("page", "passphrase", "--stdin", "--json")
    assert said.plain == {"passphrase": "set", "signed_out": 2}
    with kept() as store:
        assert is_set_to(store, WORDS)
        assert store.page_sessions.who(b"1") is None


@pytest.mark.parametrize(
    ("typed", "says"),
    [("", "standard input is empty"), ("short\n", "8 to 200"), ("\n", "8 to 200")],
)
def test_what_is_no_passphrase_is_refused(
    curewatch: Curewatch, monkeypatch: pytest.MonkeyPatch, typed: str, says: str
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    assert says in curewatch("page", "passphrase", "--stdin", status=2).complaint


def test_without_a_terminal_the_way_around_is_said(
    curewatch: Curewatch, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    assert "--stdin" in curewatch("page", "passphrase", status=2).complaint


def test_signing_out_leaves_the_passphrase(
    curewatch: Curewatch, kept: Callable[[], Store], types: Callable[..., None]
) -> None:
    types(WORDS, WORDS)
    curewatch("page", "passphrase")
    assert "No telephone was signed in." in curewatch("page", "sign-out-all").flat
    with kept() as store:
        store.page_sessions.open(b"1", who="Ada", at_ms=1)
    assert "Signed out: 1." in curewatch("page", "sign-out-all").flat
    assert curewatch("page", "sign-out-all", "--json").plain == {"signed_out": 0}
    with kept() as store:
        assert is_set_to(store, WORDS)


def test_no_export_carries_the_passphrase_or_a_telephone(
    curewatch: Curewatch, kept: Callable[[], Store], types: Callable[..., None]
) -> None:
    types(WORDS, WORDS)
    curewatch("page", "passphrase")
    with kept() as store:
        store.page_sessions.open(b"a telephone", who="Adalbert", at_ms=1)
        digest = store.meta.get(PASSPHRASE)
        told = repr([[*export_rows(store, noun)] for noun in NOUNS])
    assert isinstance(digest, str)
    assert "telephone" not in told
    assert "Adalbert" not in told
    assert "argon2" not in told


# ---- where it is


def test_a_page_that_is_not_served_has_no_address(curewatch: Curewatch) -> None:
    assert "not served: set serve = true" in curewatch("page", "address").flat
    plain = curewatch("page", "address", "--json").plain
    assert plain == {"serve": False, "host": "127.0.0.1", "port": 8480, "urls": []}


@pytest.mark.parametrize(
    ("table", "urls", "says"),
    [
        ("", ["http://127.0.0.1:8480/"], "This computer alone"),
        ('host = "::1"\nport = 80', ["http://[::1]:80/"], "This computer alone"),
        ('host = "10.0.0.7"', ["http://10.0.0.7:8480/"], "no encryption of its own"),
        (
            'host = "0.0.0.0"',
            ["http://bench:8480/", "http://bench.local:8480/"],
            "no encryption of its own",
        ),
        ("port = 0", [], "its log tells it"),
    ],
)
def test_where_it_listens_is_said_with_who_can_reach_it(
    curewatch: Curewatch,
    shop_config: Path,
    monkeypatch: pytest.MonkeyPatch,
    table: str,
    urls: list[str],
    says: str,
) -> None:
    monkeypatch.setattr(socket, "gethostname", lambda: "bench")
    config = shop_config.read_text("utf-8")
    shop_config.write_text(f"{config}\n[page]\nserve = true\n{table}\n", "utf-8")
    said = curewatch("page", "address")
    assert [line for line in said.out.splitlines() if line.startswith("http")] == urls
    assert says in said.flat
    assert said.narrow()
    assert curewatch("page", "address", "--json").plain["urls"] == urls
