"""What the tests of the shop are set in: instants, readings, rooms and finishes made by hand."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from curewatch.finish_files import load_text, shipped_text
from curewatch.shop.book import ClockBook
from curewatch.shop.climate import MINUTE_MS, merge
from curewatch.shop.piece import Coat, Piece, Stay, Work, WorkKind
from curewatch.shop.reading import Quantity
from curewatch.shop.room import Room, Sensor
from curewatch.shop.shop import Shop

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    import numpy.typing as npt

    from curewatch.shop.climate import Floats, GridBlock, Series
    from curewatch.shop.clocks import Bias
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Fill

    Numbers = Sequence[float] | npt.NDArray[np.float64] | float
    Key = tuple[str, Quantity]

T0_MS = 1_700_006_400_000  # midnight, UTC
T0_MINUTE = T0_MS // MINUTE_MS
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS
GAP_S = 1800.0


def at_h(hours: float) -> int:
    """Return the instant so many hours after the scene begins [ms]."""
    return T0_MS + round(hours * HOUR_MS)


@lru_cache
def finish(name: str) -> Finish:
    """Return a shipped profile."""
    return load_text(shipped_text(name), source=name)


def readings(
    hours: Numbers,
    temp_c: Numbers | None = None,
    rh_frac: Numbers | None = None,
    *,
    surface_c: Numbers | None = None,
    sensor: str = "rack",
) -> dict[Key, Series]:
    """Return one sensor's series; a single number holds all along."""
    times = T0_MS + np.rint(np.asarray(hours, dtype=np.float64) * HOUR_MS).astype(np.int64)
    given = (
        (Quantity.TEMPERATURE, temp_c),
        (Quantity.HUMIDITY, rh_frac),
        (Quantity.SURFACE_TEMPERATURE, surface_c),
    )
    return {
        (sensor, quantity): (times, np.broadcast_to(np.asarray(v, np.float64), times.shape).copy())
        for quantity, v in given
        if v is not None
    }


def every(minutes: float, hours: float, start_h: float = 0.0) -> Floats:
    """Return instants [h] at a steady interval [min], both ends included."""
    return np.asarray(np.arange(start_h, start_h + hours + 1e-9, minutes / 60.0))


def block(
    series: Mapping[Key, Series],
    *,
    first_minute: int = T0_MINUTE,
    gap_s: float = GAP_S,
    fills: Sequence[Fill] = (),
) -> GridBlock:
    """Merge series with the scene's usual longest gap."""
    return merge(series, first_minute=first_minute, longest_gap_s=gap_s, fills=fills)


def shop_of(
    climates: Mapping[str, Mapping[Key, Series]],
    *,
    finishes: Iterable[Finish] = (),
    pieces: Iterable[Piece] = (),
    rooms: Iterable[Room] = (),
    biases: Mapping[str, Bias] | None = None,
) -> Shop:
    """Return a shop whose rooms have these records; each sensor reports every ten minutes."""
    known = {room.name: room for room in rooms}
    sensors = tuple(
        Sensor(sensor, room, report_every_s=600.0)
        for room, series in climates.items()
        for sensor in dict.fromkeys(sensor for sensor, _ in series)
    )
    shop = Shop(
        rooms={name: known.get(name, Room(name)) for name in [*climates, *known]},
        sensors=sensors,
        finishes={(f.name, f.revision): f for f in finishes},
        pieces={piece.tag: piece for piece in pieces},
        book=ClockBook(biases),
    )
    for room, series in climates.items():
        if series:
            shop.book.splice(room, block(series, gap_s=shop.longest_gap_s(room)))
    return shop


def steady(
    days: float, temp_c: float = 21.0, rh_frac: float | None = 0.5, *, sensor: str = "rack"
) -> dict[Key, Series]:
    """Return a record that never changes, a reading every ten minutes."""
    return readings(every(10.0, days * 24.0), temp_c, rh_frac, sensor=sensor)


def piece(  # noqa: PLR0913 - what a test leaves out is the usual
    finish_name: str,
    coats_h: Iterable[float | Coat] = (0.0,),
    *,
    tag: str = "B12",
    room: str = "loft",
    work: Iterable[tuple[WorkKind, float]] = (),
    stays: Iterable[Stay] | None = None,
    planned: int | None = None,
) -> Piece:
    """Return a piece sprayed at these hours; it hangs in one room unless stays are given."""
    coats = tuple(c if isinstance(c, Coat) else Coat(at_h(c)) for c in coats_h)
    return Piece(
        tag=tag,
        finish=finish_name,
        coats=coats,
        work=tuple(Work(kind, at_h(hours)) for kind, hours in work),
        stays=(Stay(room, T0_MS),) if stays is None else tuple(stays),
        planned_coats=planned,
    )


def with_coats(given: Piece, *hours: float) -> Piece:
    """Return the piece with these coats instead."""
    return replace(given, coats=tuple(Coat(at_h(h)) for h in hours))
