"""Putting the shop together from its settings and its storage, for the daemon and the commands."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from curewatch import finish_files
from curewatch.judging import judge_all
from curewatch.shop.book import ClockBook
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.pace import paces
from curewatch.shop.quarantine import held
from curewatch.shop.reading import RejectReason
from curewatch.shop.shop import Refusals, Shop, biases

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.settings import Settings
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Piece
    from curewatch.storage import Store

DAY_MS = 86_400_000
RECENT_MS = 8 * DAY_MS  # rooms are known at least this far back
OLDEST_MS = 400 * DAY_MS  # a piece whose coats are older is judged from here on


def assemble(settings: Settings, store: Store, now_ms: int) -> Shop:
    """Return the shop as stored, its clock book empty; `RoomFeed.load` fills it."""
    rooms, sensors = settings.rooms(), settings.sensors()
    shop = Shop(
        rooms=rooms,
        sensors=sensors,
        book=ClockBook(biases(rooms, sensors)),
        words=settings.words(),
        plans=settings.set_points(),
        began_ms=now_ms,
    )
    load_plans(store, shop)
    load_pieces(store, shop)
    load_heard(store, shop)
    return shop


def load_pieces(store: Store, shop: Shop) -> None:
    """Bring the pieces and the finish revisions they were sprayed under up to date."""
    shop.pieces = {piece.tag: piece for piece in store.pieces.load_all()}
    for piece in shop.pieces.values():
        load_finish(store, shop, piece)
    load_others(store, shop)
    load_paces(store, shop)


def load_others(store: Store, shop: Shop) -> None:
    """Bring pots, joined pieces and holds up to date."""
    shop.pots = {pot.name: pot for pot in store.batches.recent()}
    for pot in shop.pots.values():
        key = (pot.finish, pot.revision)
        if key not in shop.finishes:
            shop.finishes[key] = stored_finish(store, *key)
    shop.joinings = store.joinings.all()
    shop.parts = {j.part: store.pieces.load(j.part) for j in shop.joinings}
    for part in shop.parts.values():
        load_finish(store, shop, part)
    holds = store.quarantines.standing()
    pieces = {**shop.parts, **shop.pieces}.values()
    shop.held = held(holds, pieces, store.batches.all()) if holds else {}


def load_plans(store: Store, shop: Shop) -> set[str]:
    """Bring what people say of rooms up to date; return the rooms where that changed.

    Set-points from the configuration (plans without a number) come first and stay; of what people
    entered the latest rules.
    """
    before = shop.plans
    plans = {room: [p for p in known if p.id == 0] for room, known in before.items()}
    for plan in store.room_plans.all():
        plans.setdefault(plan.room, []).append(plan)
    shop.plans = {room: tuple(mine) for room, mine in plans.items() if mine}
    rooms = before.keys() | shop.plans.keys()
    return {room for room in rooms if before.get(room) != shop.plans.get(room)}


def load_paces(store: Store, shop: Shop) -> None:
    """Bring up to date what outcomes say of the finishes in use, pieces that left included.

    A piece's outcomes are read once, by the record of their time; again when that was changed.
    """
    names = {name for name, _ in shop.finishes}
    told = [p for p in store.pieces.load_all(left=True) if p.outcomes and p.finish in names]
    for piece in told:
        load_finish(store, shop, piece)
    shop.judged = judge_all(store, shop, told)
    shop.paces = paces(shop.finishes.values(), shop.judged.values(), shop.paces)


def load_finish(store: Store, shop: Shop, piece: Piece) -> None:
    """Make sure the profile a piece was sprayed under is at hand."""
    key = (piece.finish, piece.finish_revision)
    if key not in shop.finishes:
        shop.finishes[key] = stored_finish(store, *key)


def stored_finish(store: Store, name: str, revision: int) -> Finish:
    """Return a finish as it was kept under a revision."""
    text = store.finishes.text(name, revision)
    return finish_files.load_text(text, source=f"{name} revision {revision}", revision=revision)


def load_heard(store: Store, shop: Shop) -> None:
    """Bring the newest readings and the counts of refused messages up to date."""
    shop.heard = store.readings.latest()
    load_gone(store, shop)
    refused: dict[str, list[Refusals]] = {}
    for row in store.rejections.summary():
        refused.setdefault(row.sensor, []).append(
            Refusals(RejectReason(row.reason), row.count, row.last_ms, row.detail)
        )
    shop.refusals = {sensor: tuple(rows) for sensor, rows in refused.items()}
    for (sensor, _), reading in shop.heard.items():
        known = shop.heard_ms.get(sensor)
        if known is None or not known.size or reading.at_ms > known[-1]:
            shop.heard_ms[sensor] = np.array([reading.at_ms], dtype=np.int64)


def load_gone(store: Store, shop: Shop) -> None:
    """Bring up to date which sensors are said to be gone."""
    shop.gone = gone_sensors(store, [sensor.id for sensor in shop.sensors])


def gone_sensors(store: Store, sensors: Iterable[str]) -> dict[str, int]:
    """Return which of `sensors` are said to be gone, and since when [ms]."""
    kept = ((sensor, store.meta.get(gone_key(sensor))) for sensor in sensors)
    return {sensor: since for sensor, since in kept if isinstance(since, int) and since > 0}


def gone_key(sensor: str) -> str:
    """Return the name under which it is kept since when a sensor is gone [ms], 0 for not."""
    return f"gone:{sensor}"


def shelf(settings: Settings) -> dict[str, str]:
    """Return the shop's own finish files by name; none where no directory is configured."""
    directory = settings.finishes.directory
    return {} if directory is None else finish_files.read_directory(directory)


def finish_text(settings: Settings, name: str) -> str:
    """Return a finish's whole text as storage keeps it, from the shop's shelf or as shipped."""
    own = shelf(settings)
    text = own[name] if name in own else finish_files.shipped_text(name)
    return finish_files.resolved_text(text, source=name, shelf=own)


def finish_now(settings: Settings, store: Store | None, name: str) -> Finish:
    """Return a finish as it lies on the shelf, numbered as storage would number it."""
    text, revision = finish_text(settings, name), 1
    if store is not None:
        latest = store.finishes.latest(name)
        if latest is not None:
            revision = latest[0] + (latest[1] != text)
    return finish_files.load_text(text, source=name, revision=revision)


def record_start_ms(pieces: Iterable[Piece], now_ms: int) -> int:
    """Return from where the rooms' record is needed: the first coat of the oldest piece [ms]."""
    coats = [piece.coats[0].at_ms for piece in pieces if piece.coats]
    mixed = [c.mixed_at_ms for piece in pieces for c in piece.coats if c.mixed_at_ms is not None]
    start = min([now_ms - RECENT_MS, *coats, *mixed])
    return max(start, now_ms - OLDEST_MS) // MINUTE_MS * MINUTE_MS
