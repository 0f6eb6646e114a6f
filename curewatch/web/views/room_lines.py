"""A room's record as drawings: temperature, humidity, surface over dew point, wood."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.web.draw.series import Edge, Track, series
from curewatch.web.speech import say

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from curewatch.shop.climate import Floats
    from curewatch.shop.finish import Finish
    from curewatch.web.draw.svg import Svg
    from curewatch.web.room_past import RoomPast
    from curewatch.web.speech import Speech


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """What one drawing shows: its word in the catalogue, its tracks, their unit."""

    key: str
    tracks: Sequence[Track]
    unit: str


@dataclass(frozen=True, slots=True)
class Drawn:
    """One drawing with its name and the same in a sentence; None where nothing is known."""

    name: str
    title: str
    drawing: Svg | None
    sentence: str


def lines(past: RoomPast, finish: Finish | None, speech: Speech, *, room: str) -> list[Drawn]:
    """Draw a room's record, with a finish's limits as edges."""
    imperial = speech.words.imperial
    temps = _shown_c if imperial else _same
    steps = _shown_k if imperial else _same
    degrees, kelvin = ("°F", "°F") if imperial else ("°C", "K")
    surface = Track(say("lines.surface"), temps(past.surface_c), "broken")
    with_surface = [surface] if np.isfinite(past.surface_c).any() else []
    limits = _edges(finish, temps, steps, measured=bool(with_surface))
    near = "over_dew" if with_surface else "air_over_dew"
    made = [
        Line("temp", [Track(say("lines.air"), temps(past.temp_c)), *with_surface], degrees),
        Line("rh", [Track(say("lines.rh"), 100.0 * past.rh_frac)], "%"),
        Line(near, [Track(say("lines.over_dew"), steps(past.over_dew_k))], kelvin),
        Line("emc", [Track(say("lines.emc"), past.emc_pct)], "%"),
    ]
    return [
        _drawn(
            line,
            past.at_ms,
            limits.get(line.key.removeprefix("air_"), ()),
            speech=speech,
            room=room,
        )
        for line in made
    ]


def _edges(
    finish: Finish | None,
    temps: Callable[[float], Floats],
    steps: Callable[[float], Floats],
    *,
    measured: bool,
) -> dict[str, list[Edge]]:
    """Return the limits drawn with each line; none where no finish is in use."""
    if finish is None:
        return {}
    asked = finish.limits
    over = steps(asked.surface_dew_stop_k.value)
    near = "surface-over-dew-point" if measured else "surface-unmeasured"
    return {
        "temp": [
            _edge("air-low", temps(asked.temp_low_c.value), ceiling=False),
            _edge("air-high", temps(asked.temp_high_c.value), ceiling=True),
        ],
        "rh": [_edge("humidity-high", asked.rh_stop_pct.value, ceiling=True)],
        "over_dew": [_edge(near, over, ceiling=False)],
    }


def _same(values: Floats | float) -> Floats:
    return np.asarray(values, dtype=np.float64)


def _shown_c(values: Floats | float) -> Floats:
    return np.asarray(values, dtype=np.float64) * 1.8 + 32.0


def _shown_k(values: Floats | float) -> Floats:
    return np.asarray(values, dtype=np.float64) * 1.8


def _edge(limit: str, value: Floats | float, *, ceiling: bool) -> Edge:
    return Edge(float(value), say(f"edge.{limit}"), ceiling)


def _drawn(line: Line, at_ms: Floats, edges: Sequence[Edge], *, speech: Speech, room: str) -> Drawn:
    key, tracks, unit = line.key, line.tracks, line.unit
    title = say(f"lines.{key}_title")
    known = tracks[0].values[np.isfinite(tracks[0].values)]
    if known.size < 2:  # noqa: PLR2004 - a line has two ends
        return Drawn(key, title, None, say("lines.nothing"))
    said = _tenths if float(known.max() - known.min()) < 8.0 else _whole  # noqa: PLR2004 - few marks fit
    drawing = series(
        speech.frame(f"line-{key}", f"{title}, {room}"),
        at_ms,
        tracks,
        unit=unit,
        edges=edges,
        said=said,
    )
    sentence = say(
        "lines.sentence",
        low=f"{known.min():.1f}",
        high=f"{known.max():.1f}",
        last=f"{known[-1]:.1f}",
        unit=unit,
        pct=f"{100.0 * known.size / at_ms.size:.0f}",
    )
    return Drawn(key, title, drawing, sentence)


def _tenths(value: float) -> str:
    return f"{value:.1f}"


def _whole(value: float) -> str:
    return f"{value:.0f}"
