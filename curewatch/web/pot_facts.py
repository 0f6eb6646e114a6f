"""Mixed pots as the page shows them: what is left of each one's life, in the daemon's thread."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from curewatch.assembly import stored_finish
from curewatch.entries.pots import left_said, life_said, mixed_said
from curewatch.shop.batch import pot_life, pot_open
from curewatch.shop.quarantine import Quarantine, held, pot_held

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.shop.batch import Batch, PotLife
    from curewatch.shop.finish import Finish
    from curewatch.web.desk import Counter

LISTED_MS = 7 * 86_400_000  # older pots are asked for by their name


@dataclass(frozen=True, slots=True)
class PotNow:
    """A pot as it stands.

    Attributes
    ----------
    pot, finish, life: as stored, its profile, and how much of it is left.
    holds: it may be sprayed from, as far as its life is told.
    held: why it, or a lot in it, is set aside; None where neither is.
    mixed, stands: what went into it, and how long it lives, in sentences.
    left: what is left of its life at the early end; '' where none is counted.
    over_ms: when its life ends at the early end [ms]; None where none is counted.
    """

    pot: Batch
    finish: Finish
    life: PotLife
    holds: bool
    held: str | None
    mixed: str
    stands: str
    left: str
    over_ms: int | None


def pot_now(counter: Counter, pot: Batch) -> PotNow:
    """Return how a pot stands."""
    shop, now_ms = counter.shop, counter.now_ms
    finish = shop.finishes.get((pot.finish, pot.revision))
    if finish is None:
        finish = stored_finish(counter.store, pot.finish, pot.revision)
    life = pot_life(shop, finish, pot, now_ms)
    return PotNow(
        pot=pot,
        finish=finish,
        life=life,
        holds=pot_open(pot, life, now_ms),
        held=pot_held(counter.store.quarantines.standing(), pot),
        mixed=mixed_said(shop.words, now_ms, pot),
        stands=life_said(shop.words, now_ms, pot, life),
        left=left_said(life, now_ms),
        over_ms=None if life.ends is None else life.ends.early,
    )


def pots_now(counter: Counter) -> tuple[PotNow, ...]:
    """Return the pots of the last week, the newest first."""
    found = counter.store.batches.all(since_ms=counter.now_ms - LISTED_MS)
    return tuple(pot_now(counter, pot) for pot in sorted(found, key=lambda p: -p.mixed_at_ms))


def standing_pots(counter: Counter, finishes: Iterable[str] | None = None) -> tuple[PotNow, ...]:
    """Return the pots that may be sprayed from, those of some finishes where they are named.

    None that is set aside is among them. The newest comes first.
    """
    return tuple(one for one in _living(counter, finishes) if one.held is None)


def aside_pots(counter: Counter, finishes: Iterable[str] | None = None) -> tuple[PotNow, ...]:
    """Return the pots that still live and are set aside, the newest first."""
    return tuple(one for one in _living(counter, finishes) if one.held is not None)


def _living(counter: Counter, finishes: Iterable[str] | None) -> tuple[PotNow, ...]:
    shop, wanted = counter.shop, None if finishes is None else set(finishes)
    these = [pot for pot in shop.pots.values() if wanted is None or pot.finish in wanted]
    found = [pot_now(counter, pot) for pot in sorted(these, key=lambda pot: -pot.mixed_at_ms)]
    return tuple(one for one in found if one.holds)


def holds_on(counter: Counter, tag: str) -> tuple[Quarantine, ...]:
    """Return the holds that touch a piece, the oldest first."""
    store = counter.store
    standing = store.quarantines.standing()
    if not standing:
        return ()
    piece, pots = store.pieces.load(tag), store.batches.all()
    return tuple(hold for hold in standing if held([hold], [piece], pots))
