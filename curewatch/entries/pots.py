"""Mixed pots: mixing one, saying that it is gone, and how long it lives.

A pot's life runs by the climate of the room it stands in: warmth shortens it, cold never lengthens
it past the sheet. Shares are parts to a hundred of the finish, as the data sheet counts them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.assembly import finish_text, stored_finish
from curewatch.entries.holds import pot_held
from curewatch.entries.lots import lot_said
from curewatch.finish_files import load_text
from curewatch.named import known_room
from curewatch.shop.batch import MINUTE_MS, Batch, pot_life, pot_open
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.plain import FORMAT
from curewatch.shop.plain_pot import pot_plain
from curewatch.shop.typed import PART, asked_back
from curewatch.shop.words import span

if TYPE_CHECKING:
    from curewatch.opened import Opened
    from curewatch.shop.batch import PotLife
    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.shop.words import Words

LISTED_MS = 7 * 86_400_000  # lists go back so far
PERILS = ("isocyanate", "aziridine", "catalyst", "peroxide", "the label, the safety data sheet")
NEVER_MORE = "Never mix in more of anything than the data sheet says, and keep to its order."
PARTS = ("crosslinker", "reducer", "retarder")


@dataclass(frozen=True, slots=True)
class NewPot:
    """What is told of a pot just mixed; see `shop.batch.Batch`.

    `really` says that unlikely shares are meant.
    """

    name: str
    finish: str
    lot: str
    at_ms: int
    room: str | None = None
    crosslinker_pct: float | None = None
    crosslinker_lot: str = ""
    reducer_pct: float | None = None
    retarder_pct: float | None = None
    thinner: str = ""
    tint: str = ""
    note: str = ""
    who: str = ""
    really: bool = False


def mix(at: Opened, new: NewPot) -> tuple[Batch, Finish]:
    """Store a pot; return it with its number, and the profile it is judged by.

    Raises
    ------
    BadInput
        When there is no such room or finish, its name cannot be one or was used before, or a
        share cannot be or was hardly meant.
    """
    room = None if new.room is None else known_room(at.settings, new.room)
    for part, share in zip(
        PARTS, (new.crosslinker_pct, new.reducer_pct, new.retarder_pct), strict=True
    ):
        asked_back(share, PART, option=f"--{part}-pct", really=new.really)
    text = finish_text(at.settings, new.finish)
    with at.store.db.transaction():
        revision = at.store.finishes.keep(new.finish, text, at.entered_ms)
        pot = Batch(
            name=new.name,
            finish=new.finish,
            revision=revision,
            lot=new.lot,
            mixed_at_ms=new.at_ms,
            room=room,
            crosslinker_pct=new.crosslinker_pct,
            crosslinker_lot=new.crosslinker_lot,
            reducer_pct=new.reducer_pct,
            retarder_pct=new.retarder_pct,
            thinner=new.thinner,
            tint=new.tint,
            note=new.note,
            who=new.who,
        )
        at.store.batches.mix(pot, at.entered_ms)
    finish = load_text(text, source=new.finish, revision=revision)
    return at.store.batches.get(new.name), finish


def gone(at: Opened, name: str, at_ms: int) -> Batch:
    """Store that a pot was used up or thrown away at `at_ms` [ms]; return it so.

    Raises
    ------
    BadInput
        When there is no such pot, it is gone already, or was mixed later.
    """
    at.store.batches.gone(name, at_ms, at.entered_ms)
    return at.store.batches.get(name)


def stands_again(at: Opened, name: str, why: str) -> Batch:
    """Store that a pot is not gone after all; return it so; raises BadInput where it is not."""
    at.store.batches.stands_again(name, why, at.entered_ms)
    return at.store.batches.get(name)


def void_pot(at: Opened, name: str, why: str) -> tuple[Batch, tuple[str, ...]]:
    """Void a pot entered by mistake; return it, and the tags of the pieces sprayed from it."""
    pot = at.store.batches.get(name)
    pieces = tuple(tag for tag, _ in at.store.batches.pieces_of(pot.name))
    at.store.batches.void(pot.name, why, at.entered_ms)
    return pot, pieces


def free_name(at: Opened) -> str:
    """Return a name that no pot ever had: the day and a letter, such as 1203-a."""
    day = f"{at.words.local(at.now_ms):%m%d}"
    used = at.store.batches.names()
    letters = "abcdefghijklmnopqrstuvwxyz"
    names = (f"{day}-{more}{letter}" for more in ("", *letters) for letter in letters)
    return next((name for name in names if name not in used), "")


def shown_plain(at: Opened, pot: Batch) -> Plain:
    """Return a pot as plain data: its life, what is wrong with its lots, what it was used on."""
    finish = stored_finish(at.store, pot.finish, pot.revision)
    pieces = at.store.batches.pieces_of(pot.name)
    rows: list[PlainValue] = [{"piece": tag, "coats": count} for tag, count in pieces]
    told: list[PlainValue] = [*lot_said(at, pot)]
    life = life_of(at, pot, finish)
    stands = pot_row(at, pot, life)
    return {"format": FORMAT, **stands, "remarks": told, "pieces": rows}


def open_plain(at: Opened) -> Plain:
    """Return the open pots as plain data."""
    rows: list[PlainValue] = [
        pot_row(at, pot, life) for pot, life in lives(at) if pot_open(pot, life, at.now_ms)
    ]
    return {"format": FORMAT, "pots": rows}


def pot_row(at: Opened, pot: Batch, life: PotLife) -> Plain:
    """Return how a pot stands as plain data, with what holds it."""
    finish = stored_finish(at.store, pot.finish, pot.revision)
    return pot_plain(pot, life, finish, at.now_ms, held=pot_held(at, pot))


def lives(at: Opened) -> list[tuple[Batch, PotLife]]:
    """Return the pots of the last week with how each stands."""
    mixed = at.store.batches.all(since_ms=at.now_ms - LISTED_MS)
    shop = at.shop(tags=(), rooms={pot.room for pot in mixed if pot.room is not None})
    return [
        (pot, pot_life(shop, stored_finish(at.store, pot.finish, pot.revision), pot, at.now_ms))
        for pot in mixed
    ]


def life_of(at: Opened, pot: Batch, finish: Finish) -> PotLife:
    """Return how one pot stands."""
    shop = at.shop(tags=(), rooms=[] if pot.room is None else [pot.room])
    return pot_life(shop, finish, pot, at.now_ms)


def cautions(finish: Finish) -> list[str]:
    """Return what a finish's profile warns of that concerns mixing."""
    return [said for said in finish.safety if any(word in said.lower() for word in PERILS)]


def mixed_said(words: Words, now_ms: int, pot: Batch) -> str:
    """Say what a pot holds, when it was mixed and by whom."""
    shares = [
        f"{share:g} % {part}"
        for part, share in (
            (
                f"crosslinker{f' (lot {pot.crosslinker_lot})' if pot.crosslinker_lot else ''}",
                pot.crosslinker_pct,
            ),
            (f"reducer{f' ({pot.thinner})' if pot.thinner else ''}", pot.reducer_pct),
            ("retarder", pot.retarder_pct),
        )
        if share is not None
    ]
    tint = [f"tint {pot.tint}"] if pot.tint else []
    when = f"mixed {words.at(pot.mixed_at_ms, now_ms)}"
    by = [f"by {pot.who}"] if pot.who else []
    return ", ".join([f"{pot.finish}, lot {pot.lot}", *shares, *tint, when, *by])


def life_said(words: Words, now_ms: int, pot: Batch, life: PotLife) -> str:
    """Say how long a pot has still to live, and what that rests on."""
    if pot.gone_ms is not None and pot.gone_ms <= now_ms:
        return f"It is gone since {words.at(pot.gone_ms, now_ms)}."
    if life.life_h is None or life.ends is None or life.ends.early is None:
        return (
            "Its finish gives no pot life, so none is counted: what the can says decides, and a "
            "plain finish left open thickens."
        )
    sheet = f"its sheet's life is {span(life.life_h)} at the reference climate"
    by = "" if life.by_room else _unheard(pot)
    if life.over:
        return (
            f"Over since {words.at(life.ends.early, now_ms)}, at its early end: aged "
            f"{span(life.aged_h)}; {sheet}. Do not spray from it; mix a fresh one.{by}"
        )
    early_ms, likely_ms = life.ends.early, life.ends.likely or life.ends.early
    said = f"It lives until {words.at(early_ms, now_ms)} at its early end"
    if likely_ms - early_ms >= MINUTE_MS:
        said += f", likely until {words.at(likely_ms, now_ms)}"
    return f"{said} ({left_said(life, now_ms)} left): aged {span(life.aged_h)}; {sheet}.{by}"


def left_said(life: PotLife, now_ms: int) -> str:
    """Say how much of a pot's life is left at its early end; '' where none is counted."""
    if life.ends is None or life.ends.early is None:
        return ""
    return span(max(life.ends.early - now_ms, 0) / MS_PER_H)


def _unheard(pot: Batch) -> str:
    if pot.room is None:
        return " Nobody said where it stands, so warmth, which shortens this, is not counted."
    return f" {pot.room} is not heard, so warmth, which shortens this, is not counted."
