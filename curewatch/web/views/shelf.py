"""The shelf: every finish profile, and one as a sheet with each figure's standing and source."""

from __future__ import annotations

from collections import Counter as Tally
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from curewatch.assembly import finish_now, shelf
from curewatch.finish_files import FigureRow, describe, shipped_names
from curewatch.finish_plain import pace_of, shelf_rows
from curewatch.finishes.keys import FIGURES
from curewatch.shop.pace import pace_now, pace_sentence
from curewatch.shop.safety import SAFETY
from curewatch.shop.words import UM_PER_MIL, counted
from curewatch.web.api import no_such
from curewatch.web.room import Room
from curewatch.web.speech import say, two_figures

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.science.learning import Pace
    from curewatch.shop.finish import Finish
    from curewatch.shop.words import Words
    from curewatch.web.desk import Counter
    from curewatch.web.speech import Speech

router = APIRouter(include_in_schema=False)
TIMES = ("hours", "middle", "pot_life_h", "young_h")
GROUPS = ("times", "limits", "drying", "cure", "film", "storage", "other")


@dataclass(frozen=True, slots=True)
class OnShelf:
    """One profile of the list: where it is from, its figures' standings, our pace; in words."""

    name: str
    title: str
    tried: bool
    own: bool
    standings: str
    pace: str
    faults: str


def learnt(counter: Counter) -> dict[str, Pace]:
    """Return the pace of every finish that outcomes tell of, in the daemon's thread."""
    newest: dict[str, Finish] = {}
    for (name, _), finish in sorted(counter.shop.finishes.items()):
        newest[name] = finish
    found = {name: pace_now(one, counter.shop.learnt_of(one)) for name, one in newest.items()}
    return {name: pace for name, pace in found.items() if pace.outcomes}


@router.get("/shelf")
def the_shelf(request: Request) -> Response:
    """Show every profile."""
    room: Room = request.app.state.room
    room.reader(request)
    moment, paces = room.ask(learnt)
    rows = [
        OnShelf(
            name=name,
            title="" if finish is None else finish.title,
            tried=finish is not None and finish.tried,
            own=own,
            standings="" if finish is None else standings(describe(finish)),
            pace=pace_said(paces[name]) if name in paces else "",
            faults=faults,
        )
        for name, finish, own, faults in shelf_rows(room.settings)
    ]
    rows.sort(key=lambda row: (not row.own, row.name))
    return room.render(request, "shelf.html", {"rows": rows}, moment=moment)


def pace_said(pace: Pace) -> str:
    """Say a pace, what it stands on in plain words."""
    return pace_sentence(pace).replace(str(pace.standing), str(pace.standing).replace("-", " "))


def standings(rows: Iterable[FigureRow]) -> str:
    """Say how many figures stand on what, the most first."""
    tally = Tally(str(row.standing) for row in rows)
    parts = [
        say("shelf.standing", figures=counted(count, "figure"), standing=standing.replace("-", " "))
        for standing, count in tally.most_common()
    ]
    return ", ".join(parts)


@dataclass(frozen=True, slots=True)
class Line:
    """One figure of the sheet, in words."""

    what: str
    figure: str
    standing: str
    source: str


@router.get("/shelf/{name}")
def one_finish(
    request: Request, name: Annotated[str, Path(min_length=1, max_length=64)]
) -> Response:
    """Show one profile as a sheet."""
    room: Room = request.app.state.room
    room.reader(request)
    known = {*shipped_names(), *shelf(room.settings)}
    if name not in known:
        raise no_such("finish", name, known)

    def look(counter: Counter) -> tuple[Finish, Pace, tuple[str, ...]]:
        finish = finish_now(counter.settings, counter.store, name)
        rooms = tuple(counter.shop.rooms)
        return finish, pace_of(counter.settings, counter.store, finish), rooms

    moment, (finish, pace, rooms) = room.ask(look)
    speech = room.speech(moment.now_ms)
    rows = describe(finish)
    facts = {
        "finish": finish,
        "groups": sheet(rows, speech),
        "standings": standings(rows),
        "pace": pace,
        "pace_said": pace_said(pace),
        "safety": tuple(dict.fromkeys([SAFETY, *finish.safety])),
        "reference": _reference(finish, speech),
        "rooms": rooms,
    }
    return room.render(request, "finish.html", facts, moment=moment)


def _reference(finish: Finish, speech: Speech) -> str:
    """Say for which room the hours are."""
    if finish.cure is None:
        return ""
    return say(
        "finish.reference",
        temp=speech.temp(finish.cure.reference_temp_c.value),
        rh=f"{finish.cure.reference_rh_pct.value:.0f}",
    )


def sheet(rows: Iterable[FigureRow], speech: Speech) -> list[tuple[str, list[Line]]]:
    """Return the figures by group, each as it is read."""
    found: dict[str, list[Line]] = {group: [] for group in GROUPS}
    for row in rows:
        found[_group(row.key)].append(_line(row, speech))
    return [(group, lines) for group, lines in found.items() if lines]


def _group(key: str) -> str:
    first = key.partition(".")[0]
    if first in TIMES:
        return "times"
    return first if first in GROUPS else "other"


def _line(row: FigureRow, speech: Speech) -> Line:
    standing = str(row.standing).replace("-", " ")
    source = row.source.removeprefix(f"{standing}:").removeprefix(f"{standing},").strip()
    key = FIGURES.get(row.key)
    what = row.key if key is None else key.meaning
    return Line(speech.sentence(what), _figure(row, speech.words), standing, speech.source(source))


def _figure(row: FigureRow, words: Words) -> str:
    """Say a figure with its ends, films in both units."""
    if row.unit == "um":
        in_um, in_mil = _spread(row, "µm"), _spread(row, "mil", 1.0 / UM_PER_MIL)
        first, other = (in_mil, in_um) if words.imperial else (in_um, in_mil)
        return say("finish.both_units", first=first, other=other)
    if row.unit == "degC":
        return _spread(row, "°F", 1.8, 32.0) if words.imperial else _spread(row, "°C")
    if row.unit == "K":
        return _spread(row, "°F", 1.8) if words.imperial else _spread(row, "K")
    return _spread(row, _shown(row.unit))


def _spread(row: FigureRow, unit: str, by: float = 1.0, over: float = 0.0) -> str:
    """Say a figure and its ends in a unit, each times `by` and `over` more."""

    def said(value: float) -> str:
        shown = value * by + over
        if by == 1.0:  # as the profile gives it
            return f"{shown:g}"
        return two_figures(shown)

    ends = ""
    if row.low is not None and row.high is not None:
        ends = say("finish.ends", low=said(row.low), high=said(row.high))
    return f"{said(row.value)} {unit}".rstrip() + ends


def _shown(unit: str) -> str:
    return unit.replace("g/m2", "g/m²").replace("um2", "µm²").replace("um", "µm")
