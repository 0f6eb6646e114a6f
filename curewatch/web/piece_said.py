"""A piece in the page's words and drawings: ladder, build, climate, history."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curewatch.shop.finish import MilestoneName
from curewatch.web.draw.build import Captions, Layer, build
from curewatch.web.draw.coat_marks import mark_coats
from curewatch.web.draw.ladder import Rung, ladder
from curewatch.web.draw.series import Track, series
from curewatch.web.speech import say

if TYPE_CHECKING:
    from collections.abc import Mapping

    from markupsafe import Markup

    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.climate import Floats
    from curewatch.shop.film_layers import FilmLayers
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.piece import Coat
    from curewatch.storage.history import Entry
    from curewatch.web.draw.scale import Frame
    from curewatch.web.draw.svg import Svg
    from curewatch.web.piece_facts import PieceClimate
    from curewatch.web.speech import Speech

VOIDABLE = {
    "coat": "coat",
    "work": "work",
    "move": "move",
    "leave": "move",
    "outcome": "outcome",
    "plan": "plan",
}
NARROW_K = 8.0  # a drawing that spans less has its marks to a tenth


@dataclass(frozen=True, slots=True)
class Drawn:
    """A drawing with its title, and the same in a sentence; no drawing where nothing is known."""

    title: str
    drawing: Svg | None
    sentence: str


@dataclass(frozen=True, slots=True)
class Step:
    """A milestone as a row: its name, what it asks, and when, early, likely and surely."""

    name: str
    asks: str
    early: str | Markup
    likely: str | Markup
    sure: str | Markup


@dataclass(frozen=True, slots=True)
class Told:
    """One thing entered: when, what, in words; the kind and number it is taken back by."""

    at: Markup
    said: str
    entered: Markup | None
    void: str | None
    what: str = ""
    number: int = 0


# ---- milestones


def steps(now: PieceNow, speech: Speech) -> list[Step]:
    """Return the milestones that the finish has an answer for."""
    return [_step(stone, speech) for stone in now.milestones if stone.required_hours is not None]


def _step(stone: Milestone, speech: Speech) -> Step:
    limit = stone.name is MilestoneName.RECOAT_CLOSES
    eta = stone.eta
    early = None if eta is None or limit else eta.early
    return Step(
        say(f"milestone.{stone.name}"),
        say("milestone.asks", hours=stone.required_hours, clock=say(f"clock.{stone.clock}")),
        say("milestone.none") if early is None else speech.ahead(early),
        _been_or(stone.reached_at, stone.eta_at, speech, limit=limit),
        _been_or(stone.cautious_at, stone.eta_cautious_at, speech, limit=limit),
    )


def _been_or(been: int | None, ahead: int | None, speech: Speech, *, limit: bool) -> Markup | str:
    if been is not None:
        return speech.when(been)
    if ahead is None:
        return say("milestone.none")
    return speech.when(ahead) if limit else speech.ahead(ahead)


def draw_ladder(now: PieceNow, speech: Speech) -> Svg | None:
    """Draw the milestones on a time axis; None before the first coat."""
    stones = [stone for stone in now.milestones if stone.required_hours is not None]
    if now.last_coat_at is None or not stones:
        return None
    return ladder(
        speech.frame("ladder", say("piece.ladder_title", tag=now.tag)),
        [_rung(stone, speech) for stone in stones],
        start_ms=now.last_coat_at,
        now_ms=speech.now_ms,
        now_says=say("piece.now"),
    )


def _rung(stone: Milestone, speech: Speech) -> Rung:
    limit = stone.name is MilestoneName.RECOAT_CLOSES
    eta = stone.eta
    if stone.cautious_at is not None:
        told = say("milestone.since", at=_when(speech, stone.cautious_at))
    elif limit and stone.eta_cautious_at is not None:
        told = _when(speech, stone.eta_cautious_at)
    elif stone.reached_at is not None:
        told = say("milestone.just_met")
    elif eta is None or (eta.likely or eta.late or eta.early) is None:
        told = say("word.unknown")
    else:
        told = _ahead(speech, eta.likely or eta.late or eta.early or 0)
    return Rung(
        say(f"milestone.{stone.name}"),
        told,
        reached_ms=stone.cautious_at,
        early_ms=None if eta is None else eta.early or stone.reached_at,
        likely_ms=None if eta is None else eta.likely,
        late_ms=None if eta is None else eta.late,
        closes=limit,
    )


# ---- the build


def draw_build(found: FilmLayers, tag: str, speech: Speech) -> Svg:
    """Draw wood and coats."""
    whole_um = sum(layer.film_um for layer in found.layers)
    layers = []
    for place, layer in enumerate(found.layers, start=1):
        told = say("build.layer", place=place, film=speech.film(layer.film_um))
        if layer.held_frac is not None:
            told += say("build.held", pct=100.0 * layer.held_frac)
        told += say("build.laid", at=_when(speech, layer.laid_at))
        layers.append(Layer(layer.film_um, layer.held_frac or 0.0, told))
    kind = "build.title" if found.dry else "build.title_wet"
    falls = "" if found.fall_um is None else say("build.falls", fall=found.fall_um)
    captions = Captions(
        title=say(kind, tag=tag),
        description=say(
            "build.described", coats=len(layers), film=speech.film(whole_um), falls=falls
        ),
        wood=say("build.wood"),
        falls=falls,
        micrometre="µm",
        mil="mil",
    )
    return build("build", layers, fall_um=found.fall_um, captions=captions)


def build_said(found: FilmLayers, speech: Speech) -> str:
    """Say what the drawing shows, and what it cannot show."""
    whole_um = sum(layer.film_um for layer in found.layers)
    if not found.dry:
        return say("build.said_wet", film=speech.film(whole_um))
    if found.fall_um is None:
        return say("build.said_unknown", film=speech.film(whole_um))
    return say("build.said", film=speech.film(whole_um), fall=found.fall_um)


# ---- the air it hung in


def draw_climate(
    found: PieceClimate, coats: tuple[Coat, ...], tag: str, speech: Speech
) -> list[Drawn]:
    """Draw temperature and humidity since the first coat, the coats marked."""
    imperial = speech.words.imperial
    temp = found.temp_c * 1.8 + 32.0 if imperial else found.temp_c
    lines = (("temp", temp, "°F" if imperial else "°C"), ("rh", 100.0 * found.rh_frac, "%"))
    laid_ms = [float(coat.at_ms) for coat in coats]
    drawn = []
    for key, values, unit in lines:
        title = say("piece.climate_title", title=say(f"lines.{key}_title"), tag=tag)
        frame = speech.frame(f"piece-{key}", title)
        drawn.append(_line(key, values, unit=unit, at_ms=found.at_ms, laid_ms=laid_ms, frame=frame))
    return drawn


def _line(
    key: str, values: Floats, *, unit: str, at_ms: Floats, laid_ms: list[float], frame: Frame
) -> Drawn:
    title = say(f"lines.{key}_title")
    known = values[np.isfinite(values)]
    if known.size < 2:  # noqa: PLR2004 - a line has two ends
        return Drawn(title, None, say("lines.nothing"))
    digits = 1 if float(known.max() - known.min()) < NARROW_K else 0
    drawing = series(
        frame,
        at_ms,
        [Track(title, values)],
        unit=unit,
        said=lambda value: f"{value:.{digits}f}",
    )
    mark_coats(drawing, laid_ms, (float(at_ms[0]), float(at_ms[-1])))
    sentence = say(
        "lines.sentence",
        low=f"{known.min():.1f}",
        high=f"{known.max():.1f}",
        last=f"{known[-1]:.1f}",
        unit=unit,
        pct=f"{100.0 * known.size / values.size:.0f}",
    )
    return Drawn(title, drawing, sentence)


# ---- history


def history(entries: tuple[Entry, ...], speech: Speech) -> list[Told]:
    """Return everything entered, the newest first."""
    rows = sorted(entries, key=lambda entry: (entry.at_ms, entry.entered_ms, entry.id))
    return [_told(entry, speech) for entry in reversed(rows)]


def _told(entry: Entry, speech: Speech) -> Told:
    facts = {name: value for name, value in entry.facts.items() if value not in (None, "")}
    void = None
    if entry.void is not None:
        void = say("history.void", why=entry.void.why, at=_when(speech, entry.void.at_ms))
    late = abs(entry.entered_ms - entry.at_ms) > 15 * 60_000
    return Told(
        at=speech.when(entry.at_ms),
        said=_said(entry, facts, speech),
        entered=speech.when(entry.entered_ms) if late else None,
        void=void,
        what=_voidable(entry) if entry.void is None else "",
        number=entry.id,
    )


def _voidable(entry: Entry) -> str:
    """Return as what an entry is taken back; a joining at its part alone."""
    if entry.what == "join" and entry.facts.get("onto"):
        return "joining"
    return VOIDABLE.get(entry.what, "")


def _said(entry: Entry, facts: Mapping[str, str | int | float | None], speech: Speech) -> str:
    parts = [_first(entry, facts)]
    wet = facts.get("wet_um")
    if isinstance(wet, int | float):
        parts.append(say("history.wet", film=speech.film(float(wet))))
    passes = facts.get("passes")
    if isinstance(passes, int) and passes > 1:
        parts.append(say("history.passes", passes=passes))
    mixed = facts.get("mixed_at_ms")
    if "pot" in facts:
        parts.append(say("history.pot", pot=facts["pot"]))
    elif isinstance(mixed, int):
        parts.append(say("history.mixed", at=_when(speech, mixed)))
    if "anyway" in facts:
        parts.append(say("history.anyway", why=facts["anyway"]))
    parts += [str(facts[name]) for name in ("note",) if name in facts]
    if "why" in facts:
        parts.append(str(facts["why"]))
    if "who" in facts:
        parts.append(say("history.who", who=facts["who"]))
    return ", ".join(parts)


def _first(entry: Entry, facts: Mapping[str, str | int | float | None]) -> str:
    match entry.what:
        case "work":
            return say(f"work.{facts['kind']}")
        case "outcome":
            key = f"finding.{facts['finding']}"
            return say("history.outcome", finding=say(key))
        case "join":
            if "onto" in facts:
                return say("history.joined", onto=facts["onto"])
            return say("history.joins", part=facts.get("part", ""))
        case "hang" | "move" | "plan" | "rejudge" | "hold" | "release" | "follow-up closed":
            return say(f"history.{entry.what.replace(' ', '-')}", **{"title": "", **facts})
        case _:
            return say(f"history.{entry.what}")


def _when(speech: Speech, at_ms: int) -> str:
    """Say an instant without its markup, for a drawing."""
    return speech.sentence(speech.words.at(at_ms, speech.now_ms))


def _ahead(speech: Speech, at_ms: int) -> str:
    return speech.sentence(speech.words.ahead(at_ms, speech.now_ms))
