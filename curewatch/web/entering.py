"""Entering what a form says, once however often it is tapped, and what was said of it.

A form carries a key of its own. What was answered to it is kept for two days, so a second tap, or
a browser that sends again after a lost connection, is answered with the first one's words.
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated

from fastapi import Depends, Request
from starlette.datastructures import FormData

from curewatch.entries import undo as undoing
from curewatch.entries.voids import NOUNS
from curewatch.errors import BadInput
from curewatch.opened import Opened
from curewatch.storage.voids import is_void
from curewatch.web.speech import say

if TYPE_CHECKING:
    from collections.abc import Callable

    from curewatch.entries.undo import Undo
    from curewatch.storage import Store
    from curewatch.web.desk import Counter

_KEY = re.compile(r"[A-Za-z0-9_-]{8,80}")
SHOWN_MS = 3 * 3_600_000  # so long what was entered stands above the page, with its undo
NOT_ITS_MATTER = ("token", "key")


@dataclass(frozen=True, slots=True)
class Done:
    """What a form entered.

    Attributes
    ----------
    said: in a sentence.
    undo: kinds and numbers of the entries that can be taken back together.
    rows: what more there is to say, a line each.
    to: the address where it is shown; '' where the form stood.
    key: of the form, with a digest of what it said.
    at_ms: when it was entered, by the wall clock [ms].
    """

    said: str
    undo: tuple[Undo, ...] = ()
    rows: tuple[str, ...] = ()
    to: str = ""
    key: str = ""
    at_ms: int = 0


async def _sent(request: Request) -> FormData:
    return await request.form()


Sent = Annotated[FormData, Depends(_sent)]


def new_key() -> str:
    """Return a key for a form that is shown."""
    return secrets.token_urlsafe(12)


def key_of(form: FormData) -> str:
    """Return the key a form is known by: its own, and what was typed into it."""
    matter = [f"{name}={value}" for name, value in form.multi_items() if name not in NOT_ITS_MATTER]
    digest = hashlib.blake2b("\n".join(sorted(matter)).encode(), digest_size=6).hexdigest()
    return f"{form.get('key', '')}-{digest}"


def opened(counter: Counter) -> Opened:
    """Return the shop as those who enter something take it."""
    return Opened(counter.settings, counter.store, counter.now_ms, counter.entered_ms)


def once(counter: Counter, key: str, deed: Callable[[Opened], Done]) -> Done:
    """Carry a deed out whole, in the daemon's thread; what was done under its key is not again.

    Raises
    ------
    BadInput
        When the form is not one of ours, the clock is not set, or the deed itself refuses.
    """
    if not _KEY.fullmatch(key):
        raise BadInput(say("log.old_form"))
    if not counter.clock_set:
        raise BadInput(say("frame.clock_not_set"))
    with counter.store.db.transaction():
        before = done_under(counter, key)
        if before is not None:
            return before
        done = replace(deed(opened(counter)), key=key, at_ms=counter.entered_ms)
        _keep(counter.store, done)
    return done


def _keep(store: Store, done: Done) -> None:
    told = {"said": done.said, "undo": done.undo, "rows": done.rows, "to": done.to}
    store.page_deeds.keep(done.key, json.dumps(told), done.at_ms)


def done_under(counter: Counter, key: str) -> Done | None:
    """Return what was entered under a key; None if nothing was."""
    kept = counter.store.page_deeds.told(key)
    if kept is None:
        return None
    told = json.loads(kept[1])
    undo = tuple((what, of) for what, of in told["undo"])
    rows, to = tuple(told.get("rows", ())), told.get("to", "")
    return Done(told["said"], undo, rows, to, key, kept[0])


def shown_done(counter: Counter, key: str) -> Done | None:
    """Return what is told above a page that was come to from a form; None once it is old.

    What was taken back meanwhile cannot be taken back again.
    """
    done = done_under(counter, key) if key else None
    if done is None or not 0 <= counter.entered_ms - done.at_ms <= SHOWN_MS:
        return None
    if any(is_void(counter.store.db, what, int(of)) for what, of in done.undo if what in NOUNS):
        return replace(done, undo=())
    return done


def take_back(at: Opened, done: Done, who: str) -> Done:
    """Void everything that a form entered."""
    by = say("log.taken_back_by", who=who) if who else say("log.taken_back_nameless")
    if not done.undo:
        raise BadInput(say("log.nothing_to_undo"))
    for one in done.undo:
        undoing.take_back(at, one, by, who=who)
    _keep(at.store, replace(done, undo=()))
    gone = [kind for kind, _ in done.undo]
    to = "/hooks" if "piece" in gone else "/pots" if "pot" in gone else ""
    return Done(say("log.taken_back", said=done.said), to=to)
