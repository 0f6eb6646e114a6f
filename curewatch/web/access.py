"""Who may look and who may write: the shop's passphrase, a long-lived cookie, forms that are ours.

The passphrase is kept as an argon2id digest, the cookie as a digest only. Wrong passphrases cost
time, more with every one. A form carries a token that only the cookie's owner can know.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
import time
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING

import argon2

from curewatch.errors import BadInput
from curewatch.storage.page_sessions import PASSPHRASE

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.web.desk import Counter, Desk

COOKIE = "curewatch"
LOOKS = "look."  # before the cookie of what only looks, such as a tablet on the wall
COOKIE_LASTS_S = 400 * 86_400  # browsers keep no cookie longer
LEAST_LETTERS, MOST_LETTERS = 8, 200
FREE_TRIES = 3
LONGEST_WAIT_S = 300.0
FORGIVEN_AFTER_S = 3600.0  # without another wrong one
MOST_STRANGERS = 1000
ANYBODY = ""  # under which all addresses are counted together
KNOWN_FOR_S = 3.0  # so soon a telephone that another process signed out is asked again
MEMORY_KIB, PASSES = 19_456, 2  # the least that a published guide to password storage asks for


class NotAllowed(Exception):  # noqa: N818 - reads as the sentence it is
    """Somebody without the passphrase wants what needs it."""


class WaitFirst(Exception):  # noqa: N818
    """Too many wrong passphrases: `seconds` must pass before the next is looked at."""

    def __init__(self, seconds: float) -> None:
        """Say how long."""
        self.seconds = seconds
        super().__init__(f"wait {seconds:.0f} s")


@dataclass(frozen=True, slots=True)
class Visitor:
    """Somebody at the page.

    Attributes
    ----------
    who: the name they gave, '' where none.
    may_write: whether they gave the passphrase, and not only to look.
    token: what their forms must carry.
    may_look: whether they gave the passphrase.
    """

    who: str = ""
    may_write: bool = False
    token: str = ""
    may_look: bool = False


def passphrase_digest(passphrase: str) -> str:
    """Return what is kept of a passphrase.

    Raises
    ------
    BadInput
        When it is too short to be one, or absurdly long.
    """
    passphrase = _as_meant(passphrase)
    if not LEAST_LETTERS <= len(passphrase) <= MOST_LETTERS:
        raise BadInput(
            f"a passphrase of {len(passphrase)} letters will not do: take {LEAST_LETTERS} to "
            f"{MOST_LETTERS}, three or four words for instance"
        )
    return _hasher().hash(passphrase)


def _hasher() -> argon2.PasswordHasher:
    return argon2.PasswordHasher(time_cost=PASSES, memory_cost=MEMORY_KIB, parallelism=1)


class Access:
    """The door of the page."""

    def __init__(
        self,
        desk: Desk,
        *,
        open_reading: bool,
        now_s: Callable[[], float] = time.monotonic,
    ) -> None:
        """Know visitors by what the store behind `desk` remembers."""
        self._desk = desk
        self._open_reading = open_reading
        self._known: dict[bytes, tuple[str, float]] = {}  # who, and until when that is believed
        self._now_s = now_s
        self._tries = Tries(now_s)
        self._one_at_a_time = threading.Lock()  # a digest takes 19 MB while it is made
        self._proof_key = secrets.token_bytes(32)
        self._proof = b""  # of the passphrase that was right last

    def visitor(self, cookie: str | None) -> Visitor:
        """Return who comes with a cookie."""
        if not cookie:
            return Visitor()
        digest = _digest(cookie)
        who, until_s = self._known.get(digest, (None, 0.0))
        if who is None or self._now_s() >= until_s:
            who = self._desk.ask(lambda counter: counter.store.page_sessions.who(digest))
            if who is None:
                self._known.pop(digest, None)
                return Visitor()
            self._known[digest] = (who, self._now_s() + KNOWN_FOR_S)
        if cookie.startswith(LOOKS):  # part of what the digest is of: none becomes the other
            return Visitor(who, may_look=True)
        return Visitor(who, may_write=True, token=form_token(cookie), may_look=True)

    def may_read(self, visitor: Visitor) -> bool:
        """Whether a visitor may look."""
        return self._open_reading or visitor.may_look

    def has_passphrase(self) -> bool:
        """Whether a passphrase was set."""
        return self._desk.ask(lambda counter: counter.store.meta.get(PASSPHRASE)) is not None

    def enter(self, passphrase: str, *, who: str, address: str, looks: bool = False) -> str:
        """Return a new cookie for the right passphrase; with `looks` one that writes nothing.

        Raises
        ------
        WaitFirst
            When this address, or all together, tried too often.
        NotAllowed
            When it is the wrong one, or none was set.
        """
        self._check(self._kept(), passphrase, address=address)
        cookie = (LOOKS if looks else "") + secrets.token_urlsafe(32)
        digest = _digest(cookie)

        def remember(counter: Counter) -> None:
            counter.store.page_sessions.open(digest, who=who[:40], at_ms=counter.entered_ms)

        self._desk.enter(remember)
        return cookie

    def prove(self, passphrase: str, *, address: str) -> None:
        """Let a program through that gives the right passphrase each time, and keeps no cookie.

        Raises as `enter` does. The digest is made once, not at every call: it is meant to be slow.
        """
        kept = self._kept()
        proof = hashlib.blake2b(f"{kept} {_as_meant(passphrase)}".encode(), key=self._proof_key)
        if hmac.compare_digest(proof.digest(), self._proof):
            return
        self._check(kept, passphrase, address=address)
        self._proof = proof.digest()

    def _kept(self) -> int | str | None:
        return self._desk.ask(lambda counter: counter.store.meta.get(PASSPHRASE))

    def _check(self, kept: int | str | None, passphrase: str, *, address: str) -> None:
        """Compare a passphrase with what is kept of the right one; raises as `enter` does."""
        with self._one_at_a_time:  # many at once must not get more tries than one after another
            self._tries.check(address)
            if not isinstance(kept, str) or not _is_right(kept, passphrase):
                self._tries.failed(address)
                raise NotAllowed
        self._tries.passed(address)

    def leave(self, cookie: str) -> None:
        """Forget a cookie."""
        digest = _digest(cookie)
        self._known.pop(digest, None)
        self._desk.enter(lambda counter: counter.store.page_sessions.close(digest))


class Tries:
    """How often a wrong passphrase came, by address and from everywhere together."""

    def __init__(self, now_s: Callable[[], float]) -> None:
        """Take the time from `now_s` [s]."""
        self._now_s = now_s
        self._failures: dict[str, tuple[int, float]] = {}
        self._lock = threading.Lock()

    def check(self, address: str) -> None:
        """Raise WaitFirst while it is too soon for another try."""
        with self._lock:
            for key, free in ((address, FREE_TRIES), (ANYBODY, 10 * FREE_TRIES)):
                count, last_s = self._count(key)
                wait_s = min(2.0 ** min(count - free, 30), LONGEST_WAIT_S) if count >= free else 0.0
                left_s = last_s + wait_s - self._now_s()
                if left_s > 0.0:
                    raise WaitFirst(left_s)

    def failed(self, address: str) -> None:
        """Count a wrong passphrase."""
        with self._lock:
            if len(self._failures) > MOST_STRANGERS:
                self._failures = {ANYBODY: self._count(ANYBODY)}
            for key in (address, ANYBODY):
                self._failures[key] = (self._count(key)[0] + 1, self._now_s())

    def _count(self, key: str) -> tuple[int, float]:
        """Return how many wrong ones are not forgiven yet, and when the last came [s]."""
        count, last_s = self._failures.get(key, (0, 0.0))
        return (count, last_s) if self._now_s() - last_s < FORGIVEN_AFTER_S else (0, 0.0)

    def passed(self, address: str) -> None:
        """Forget an address that gave the right one."""
        with self._lock:
            self._failures.pop(address, None)


def form_token(cookie: str) -> str:
    """Return what the forms of a cookie's owner carry."""
    return hashlib.blake2b(b"form", key=cookie.encode()[:64], digest_size=16).hexdigest()


def is_our_form(visitor: Visitor, token: str) -> bool:
    """Whether a form carries the visitor's own token."""
    return bool(visitor.token) and hmac.compare_digest(visitor.token.encode(), token.encode())


def _digest(cookie: str) -> bytes:
    return hashlib.blake2b(cookie.encode(), digest_size=32).digest()


def _as_meant(passphrase: str) -> str:
    """Return a passphrase without what keyboards add or compose by themselves."""
    return unicodedata.normalize("NFC", passphrase).strip()


def _is_right(kept: str, passphrase: str) -> bool:
    try:
        return _hasher().verify(kept, _as_meant(passphrase))
    except (argon2.exceptions.VerificationError, argon2.exceptions.InvalidHashError):
        return False
