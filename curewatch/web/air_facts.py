"""What the air chart shows: gathered in the daemon's thread, worked out and said in the page's."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.science import humid_air
from curewatch.shop.air_region import DOUBTED, Place, Regions
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.plain import FORMAT, instant
from curewatch.shop.spray_here import conditions_of
from curewatch.shop.spray_outlook import LIKELY, PATHS, PER_HOUR, air_ahead
from curewatch.shop.words import percent
from curewatch.web.draw.air_chart import Chart, Spread, short_edges
from curewatch.web.draw.air_edges import lettered
from curewatch.web.room_past import RoomPast, room_past
from curewatch.web.speech import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.air_edges import RegionEdge
    from curewatch.shop.air_region import AirRegion
    from curewatch.shop.climate import Climate
    from curewatch.shop.finish import Finish
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.shop.shop import Shop
    from curewatch.shop.spray_outlook import AirAhead
    from curewatch.shop.spray_terms import Conditions
    from curewatch.web.speech import Speech

TRAIL_H, TRAIL_STEP_MS = 24, 10 * 60_000
LEADS_H = (3, 6, 9, 12)
REGIONS = Regions()
"""What was worked out for the pages; whoever asks first pays."""


@dataclass(frozen=True, slots=True, eq=False)
class AirFacts:
    """What is known of a room's air and a finish.

    Attributes
    ----------
    room, finish: which.
    here: what is known of the room, by its newest climate however old.
    climate, fresh: that climate, and whether it may still decide anything.
    past: the last day at every tenth minute.
    ahead: the air to come, None where nobody can look ahead.
    now_ms: the moment [ms].
    """

    room: str
    finish: Finish
    here: Conditions
    climate: Climate | None
    fresh: bool
    past: RoomPast
    ahead: AirAhead | None
    now_ms: int

    @property
    def measured(self) -> bool:
        """Whether a piece is: without one the air stands for it."""
        return self.here.surface_c is not None

    @property
    def region(self) -> AirRegion:
        """Where the finish may be sprayed; takes part of a second when first asked for."""
        return REGIONS.of(self.finish, Place.of(self.here))

    @property
    def trail(self) -> list[tuple[float, float] | None]:
        """The last day, oldest first, None in a gap."""
        return [
            None if np.isnan(temp) or np.isnan(rh) else (float(temp), float(rh))
            for temp, rh in zip(self.past.temp_c, self.past.rh_frac, strict=True)
        ]

    @property
    def spreads(self) -> list[Spread]:
        """The hours ahead; none where temperature or humidity cannot be told."""
        ahead, found = self.ahead, list[Spread]()
        if ahead is None or self.here.rh_frac is None:
            return found
        for lead_h in LEADS_H:
            airs = [_air(ahead, path, lead_h * PER_HOUR) for path in range(len(PATHS))]
            if not any(np.isnan(airs).ravel()):
                found.append(Spread(lead_h, airs[LIKELY], tuple(airs[LIKELY + 1 :])))
        return found


def _air(ahead: AirAhead, path: int, index: int) -> tuple[float, float]:
    return float(ahead.temp_c[path, index]), float(ahead.rh_frac[path, index])


def air_facts(shop: Shop, room: str, finish: Finish, now_ms: int) -> AirFacts:
    """Gather the facts, in the daemon's thread."""
    track = shop.book.climates.get(room)
    climate = None if track is None else track.last_known(now_ms)
    start_ms = now_ms - round(TRAIL_H * MS_PER_H)
    return AirFacts(
        room=room,
        finish=finish,
        here=conditions_of(shop, room, climate),
        climate=climate,
        fresh=climate is not None and now_ms - climate.at_ms <= shop.freshness_s(room) * 1000.0,
        past=room_past(shop, room, start_ms, now_ms).every(TRAIL_STEP_MS),
        ahead=None if climate is None else air_ahead(shop, room, now_ms),
        now_ms=now_ms,
    )


def chart_of(facts: AirFacts, speech: Speech, *, name: str) -> Chart:
    """Return the chart in the shop's words."""
    imperial = speech.words.imperial
    region = facts.region
    word = "now" if facts.fresh else "then"
    lines = [line for _, line in edge_lines(facts, speech)]
    return Chart(
        name=name,
        title=say("air_chart.title", finish=facts.finish.name, room=facts.room),
        description=" ".join([*lines, *air_lines(facts, speech)]),
        region=region,
        now=_now(facts),
        trail=facts.trail,
        ahead=facts.spreads if facts.fresh else (),
        pressure_pa=facts.here.pressure_pa,
        imperial=imperial,
        edges={
            edge.limit: edge_name(edge, measured=facts.measured)
            for edge in (*region.edges, *region.beyond)
        },
        words={
            "now": say(f"air_chart.{word}"),
            "ahead": say("air_chart.ahead", hours="{hours}"),
            "temp": say("air_chart.temp_f" if imperial else "air_chart.temp_c"),
            "moisture": say("air_chart.moisture_gr" if imperial else "air_chart.moisture_g"),
        },
    )


def _now(facts: AirFacts) -> tuple[float, float] | None:
    here = facts.here
    return None if here.temp_c is None or here.rh_frac is None else (here.temp_c, here.rh_frac)


def edge_name(edge: RegionEdge, *, measured: bool = True) -> str:
    """Say what a limit is about, as a person would; of a piece only where one is measured."""
    if edge.limit == DOUBTED and not measured:
        return say("edge.surface-unmeasured")
    return say(f"edge.{edge.limit}") if edge.limit else ""


def edge_lines(facts: AirFacts, speech: Speech) -> list[tuple[str, str]]:
    """Return each limit's name and where it lies, in a sentence; first those that bound."""
    region = facts.region
    if not region.edges:
        return [("", say("air_chart.nowhere", finish=region.finish))]
    found = []
    for edges, kind in ((region.edges, "edge"), (region.beyond, "beyond")):
        for edge in edges:
            if edge.limit:
                where = _where(edge, speech)
                line = say(
                    f"air_chart.{kind}", name=edge_name(edge, measured=facts.measured), where=where
                )
                found.append((edge_name(edge, measured=facts.measured), line))
    return found


def letters(chart: Chart) -> list[str]:
    """Say which limits the letters of a chart are."""
    said = []
    for key, edges in (
        ("letters_short", short_edges(chart)),
        ("letters", lettered(chart.region.beyond)),
    ):
        parts = [f"{letter} {chart.edges[edge.limit]}" for letter, edge in edges]
        if parts:
            said.append(say(f"air_chart.{key}", letters=", ".join(parts)))
    return said


def _where(edge: RegionEdge, speech: Speech) -> str:
    (cold, first), (warm, last) = min(edge.points), max(edge.points)
    if edge.side in ("left", "right"):
        return say(f"air_chart.{edge.side}", temp=speech.temp(cold))
    return say(
        f"air_chart.{edge.side}",
        rh=percent(first),
        temp=speech.temp(cold),
        rh_there=percent(last),
        temp_there=speech.temp(warm),
    )


def air_lines(facts: AirFacts, speech: Speech) -> list[str]:
    """Say the newest air, the last day and the hours ahead."""
    lines = []
    if facts.climate is not None:
        word = "air_chart.says_now" if facts.fresh else "air_chart.says_then"
        at = speech.clock(facts.climate.at_ms)
        lines.append(
            say(word, temp=speech.temp(facts.here.temp_c), rh=speech.rh(facts.here.rh_frac), at=at)
        )
    known = [air for air in facts.trail if air is not None]
    if known:
        temps, humid = zip(*known, strict=True)
        lines.append(
            say(
                "air_chart.says_trail",
                low=speech.temp(min(temps)),
                high=speech.temp(max(temps)),
                dry=percent(min(humid)),
                damp=percent(max(humid)),
            )
        )
    if facts.fresh and facts.spreads:
        lines.append(_says_ahead(facts.spreads, speech))
    return lines


def _says_ahead(spreads: Sequence[Spread], speech: Speech) -> str:
    last = spreads[-1]
    temps, humid = zip(last.likely, *last.ends, strict=True)
    return say(
        "air_chart.says_ahead",
        hours=f"{last.lead_h:.0f}",
        temp=speech.temp(last.likely[0]),
        rh=percent(last.likely[1]),
        low=speech.temp(min(temps)),
        high=speech.temp(max(temps)),
        dry=percent(min(humid)),
        damp=percent(max(humid)),
    )


def chart_plain(facts: AirFacts) -> Plain:
    """Return the chart's facts as plain data."""
    region, pressure_pa = facts.region, facts.here.pressure_pa
    now: Plain | None = None
    if facts.climate is not None and facts.here.temp_c is not None:
        now = {
            "at": instant(facts.climate.at_ms),
            "fresh": facts.fresh,
            **_point(facts.here.temp_c, facts.here.rh_frac, pressure_pa),
        }
    trail: list[PlainValue] = [
        {"at": instant(round(at_ms)), **_point(float(temp), float(rh), pressure_pa)}
        for at_ms, temp, rh in zip(
            facts.past.at_ms, facts.past.temp_c, facts.past.rh_frac, strict=True
        )
    ]
    ahead: list[PlainValue] = [
        {
            "at": instant(facts.now_ms + round(spread.lead_h * MS_PER_H)),
            "likely": _point(*spread.likely, pressure_pa),
            "ends": [_point(*air, pressure_pa) for air in spread.ends],
        }
        for spread in facts.spreads
    ]
    return {
        "format": FORMAT,
        "room": facts.room,
        "finish": facts.finish.name,
        "at": instant(facts.now_ms),
        "edges": _edges_plain(region.edges, facts),
        "beyond": _edges_plain(region.beyond, facts),
        "now": now,
        "trail": trail,
        "ahead": ahead,
    }


def _edges_plain(edges: Sequence[RegionEdge], facts: AirFacts) -> list[PlainValue]:
    return [
        {
            "limit": edge.limit or None,
            "words": edge_name(edge, measured=facts.measured) or None,
            "side": edge.side,
            "points": [_point(*air, facts.here.pressure_pa) for air in edge.points],
        }
        for edge in edges
    ]


def _point(temp_c: float, rh_frac: float | None, pressure_pa: float) -> Plain:
    known = rh_frac is not None and not np.isnan(rh_frac) and not np.isnan(temp_c)
    ratio = (
        1000.0 * float(humid_air.humidity_ratio_kg_kg(temp_c, rh_frac, p_pa=pressure_pa))
        if known and rh_frac is not None
        else None
    )
    return {
        "temp_c": None if np.isnan(temp_c) else temp_c,
        "rh_pct": 100.0 * rh_frac if known and rh_frac is not None else None,
        "moisture_g_kg": ratio,
    }
