"""Finish profiles as plain data: the shelf, and every number of one with its standing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.assembly import load_paces, shelf
from curewatch.errors import BadConfig
from curewatch.finish_files import describe, load_text, shipped_names, shipped_text
from curewatch.shop.pace import pace_now, pace_plain
from curewatch.shop.plain import FORMAT
from curewatch.shop.safety import SAFETY
from curewatch.shop.shop import Shop

if TYPE_CHECKING:
    from curewatch.science.learning import Pace
    from curewatch.settings import Settings
    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.storage import Store


def shelf_plain(settings: Settings) -> Plain:
    """Return the profiles that come with curewatch and the shop's own, with their faults."""
    rows: list[PlainValue] = [
        {
            "finish": name,
            "title": None if finish is None else finish.title,
            "tried": None if finish is None else finish.tried,
            "own": own,
            "faults": faults or None,
        }
        for name, finish, own, faults in shelf_rows(settings)
    ]
    return {"format": FORMAT, "finishes": rows}


def shelf_rows(settings: Settings) -> list[tuple[str, Finish | None, bool, str]]:
    """Return each profile's name, itself if it can be used, whether it is the shop's, its faults.

    One faulty file does not hide the others.
    """
    own = shelf(settings)
    found: list[tuple[str, Finish | None, bool, str]] = [
        (name, load_text(shipped_text(name), source=name), False, "") for name in shipped_names()
    ]
    for name, text in sorted(own.items()):
        try:
            found.append((name, load_text(text, source=name, shelf=own), True, ""))
        except BadConfig as error:
            found.append((name, None, True, "; ".join(error.faults)))
    return found


def finish_plain(finish: Finish, *, pace: Pace, revision: int | None = None) -> Plain:
    """Return a profile, `pace` being what the shop's outcomes say of it."""
    figures: list[PlainValue] = [
        {
            "key": row.key,
            "value": row.value,
            "unit": row.unit,
            "low": row.low,
            "high": row.high,
            "standing": str(row.standing),
            "source": row.source,
        }
        for row in describe(finish)
    ]
    return {
        "format": FORMAT,
        "finish": finish.name,
        "title": finish.title,
        "revision": revision,
        "tried": finish.tried,
        "summary": finish.summary,
        "drying_law": str(finish.drying.law),
        "solvent": finish.drying.solvent or None,
        "figures": figures,
        "pace_prior": None if finish.pace_prior is None else str(finish.pace_prior),
        "pace": pace_plain(pace),
        "missed_window": finish.missed_window,
        "safety": [SAFETY, *finish.safety],
    }


def pace_of(settings: Settings, store: Store, finish: Finish) -> Pace:
    """Return what the shop's outcomes say of a finish's pace, pieces that left included."""
    shop = Shop(rooms=settings.rooms(), sensors=settings.sensors(), words=settings.words())
    shop.finishes[finish.name, finish.revision] = finish
    load_paces(store, shop)
    return pace_now(finish, shop.learnt_of(finish))
