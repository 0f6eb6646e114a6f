"""A piece's record as plain data, and as rows for a spreadsheet; keys end in their unit."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from curewatch.shop.piece import Work
from curewatch.shop.plain import FORMAT, instant, piece_plain
from curewatch.shop.plain_entries import entries_plain
from curewatch.shop.plain_trial import history_plain
from curewatch.storage.history_plain import entry_plain

if TYPE_CHECKING:
    from curewatch.records.gather import Record
    from curewatch.shop.batch import Batch
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.shop.record import AirSpan, CoatFacts, RecordFacts, StageFacts

COLUMNS = (
    *("piece", "what", "number", "at", "detail", "room", "pot", "lot", "wet_um", "who", "note"),
    *("wall_h", "drying_h", "cure_h", "standard_error_h", "mean_temp_c", "coldest_c", "warmest_c"),
    *("mean_rh_pct", "dampest_rh_pct", "coverage_pct", "assumed_pct"),
)


def record_plain(record: Record) -> Plain:
    """Return everything a record tells."""
    return {
        "format": FORMAT,
        "site": record.site,
        "time_zone": record.zone,
        "made_at": instant(record.now_ms),
        **_facts(record.facts, record),
        "joined": [_facts(part, record) for part in record.parts],
        "entries": [entry_plain(entry) for entry in record.entries],
        "care": [*record.care],
        "care_standing": "common practice",
    }


def _facts(facts: RecordFacts, record: Record) -> Plain:
    return {
        "piece": facts.piece.tag,
        "title": facts.piece.title,
        "told_until": instant(facts.until_ms),
        "coats": [_coat(coat, record.pots.get(coat.coat.pot)) for coat in facts.coats],
        "stages": [_stage(stage) for stage in facts.stages],
        "film_at_end": history_plain(facts.last),
        "air_since_first_coat": None if facts.air is None else air_plain(facts.air),
        "gaps": [{"start": instant(start), "stop": instant(stop)} for start, stop in facts.gaps],
        "parts": [*facts.parts],
        "part_of": facts.part_of,
        "standing": piece_plain(facts.standing),
        "entered": entries_plain(facts.piece, facts.finish),
    }


def air_plain(air: AirSpan) -> Plain:
    """Return the air over a stretch."""
    return {
        "start": instant(air.start_ms),
        "stop": instant(air.stop_ms),
        "mean_temp_c": air.mean_temp_c,
        "coldest_c": air.coldest_c,
        "warmest_c": air.warmest_c,
        "mean_rh_pct": _pct(air.mean_rh_frac),
        "dampest_rh_pct": _pct(air.dampest_rh_frac),
        "coverage_pct": air.coverage_pct,
        "assumed_pct": air.assumed_pct,
    }


def _coat(found: CoatFacts, pot: Batch | None) -> Plain:
    coat = found.coat
    return {
        "number": found.number,
        "at": instant(coat.at_ms),
        "room": found.room,
        "wet_um": coat.wet_um,
        "passes": coat.passes,
        "pot": coat.pot or None,
        "lot": None if pot is None else pot.lot,
        "mixed_at": instant(coat.mixed_at_ms),
        "who": coat.who,
        "note": coat.note,
        "since_last_coat": {
            "wall_h": found.wall_h,
            "drying_h": found.drying_h,
            "cure_h": found.cure_h,
        },
        "air": air_plain(found.air),
    }


def _stage(found: StageFacts) -> Plain:
    entry = found.entry
    work = isinstance(entry, Work)
    return {
        "what": "work" if work else "finding",
        "kind": str(entry.kind) if isinstance(entry, Work) else entry.finding,
        "at": instant(entry.at_ms),
        "note": entry.note,
        "who": entry.who,
        "anyway": (entry.anyway or None) if isinstance(entry, Work) else None,
        "film": history_plain(found.age),
    }


def record_csv(record: Record) -> str:
    """Return a record as a table: a row each coat, work and finding, of the piece and its parts."""
    text = io.StringIO()
    table = csv.DictWriter(text, COLUMNS, restval="", lineterminator="\n")
    table.writeheader()
    for facts in record.all:
        for row in _rows(facts, record):
            cells = {name: "" if value is None else value for name, value in row.items()}
            table.writerow(cells)
    return text.getvalue()


def _rows(facts: RecordFacts, record: Record) -> list[dict[str, PlainValue]]:
    rows: list[dict[str, PlainValue]] = []
    tag = facts.piece.tag
    for found in facts.coats:
        coat, air, pot = found.coat, found.air, record.pots.get(found.coat.pot)
        rows.append(
            {
                "piece": tag,
                "what": "coat",
                "number": found.number,
                "at": instant(coat.at_ms),
                "room": found.room,
                "pot": coat.pot,
                "lot": None if pot is None else pot.lot,
                "wet_um": coat.wet_um,
                "who": _safe(coat.who),
                "note": _safe(coat.note),
                "wall_h": found.wall_h,
                "drying_h": found.drying_h,
                "cure_h": found.cure_h,
                "mean_temp_c": air.mean_temp_c,
                "coldest_c": air.coldest_c,
                "warmest_c": air.warmest_c,
                "mean_rh_pct": _pct(air.mean_rh_frac),
                "dampest_rh_pct": _pct(air.dampest_rh_frac),
                "coverage_pct": air.coverage_pct,
                "assumed_pct": air.assumed_pct,
            }
        )
    for stage in facts.stages:
        entry, age = stage.entry, stage.age
        work = isinstance(entry, Work)
        rows.append(
            {
                "piece": tag,
                "what": "work" if work else "finding",
                "detail": str(entry.kind) if isinstance(entry, Work) else entry.finding,
                "number": age.coats,
                "at": instant(entry.at_ms),
                "who": _safe(entry.who),
                "note": _safe(entry.note),
                "wall_h": age.wall_h,
                "cure_h": age.effective_h,
                "standard_error_h": age.standard_error_h,
                "mean_temp_c": age.mean_temp_c,
                "mean_rh_pct": _pct(age.mean_rh_frac),
                "coverage_pct": age.coverage_pct,
            }
        )
    return sorted(rows, key=lambda row: str(row["at"]))


def _pct(share: float | None) -> float | None:
    return None if share is None else share * 100.0


def _safe(text: str) -> str:
    """Return a person's words so that a spreadsheet does not take them for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
