"""What the record around a coat says of each thing that can turn it white."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import groupby
from typing import TYPE_CHECKING

from curewatch.shop.alert import AlertKind
from curewatch.shop.blush_check import BLUSH_SPARE_K, fresh_film, usual_thinner
from curewatch.shop.climate import MINUTE_MS
from curewatch.shop.clocks import MS_PER_H
from curewatch.shop.deeds import deeds
from curewatch.shop.finish import DryingLaw, MilestoneName
from curewatch.shop.milestones import PieceClocks
from curewatch.shop.spray import TIGHT_TEMP_K
from curewatch.shop.spray_here import conditions_of
from curewatch.shop.words import percent, span

if TYPE_CHECKING:
    from curewatch.shop.blush_check import FreshFilm
    from curewatch.shop.climate import Climate
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Coat, Piece
    from curewatch.shop.shop import Shop
    from curewatch.shop.words import Words

SPRAYED_MS = 10 * MINUTE_MS  # a coat is logged when the gun is laid down: it began before
FRESH_MS = 30 * MINUTE_MS  # the solvents that chill have left by then
BLUSH_STEP_MS = 5 * MINUTE_MS


class Weight(StrEnum):
    """How heavily the record speaks."""

    STRONG = "strong"  # past a limit
    SLIGHT = "slight"  # close to one, or past one that seldom whitens such a film by itself
    UNKNOWN = "unknown"  # not recorded
    CLEAN = "clean"


ORDER = {Weight.STRONG: 0, Weight.SLIGHT: 1, Weight.UNKNOWN: 2, Weight.CLEAN: 3}
DIRECT = ("blush", "cold-film", "dew", "coat-early", "damp", "cold", "gap")  # most direct first


@dataclass(frozen=True, slots=True)
class Suspect:
    """One thing that can turn a coat white, and what the record says of it.

    Attributes
    ----------
    name: machine word.
    weight: how heavily the record speaks against it.
    reason: in words, with its numbers.
    value, limit: the worst value found and the limit it is held to, in `unit`; None where there
        is none.
    """

    name: str
    weight: Weight
    reason: str
    unit: str = ""
    value: float | None = None
    limit: float | None = None


@dataclass(frozen=True, slots=True)
class Minute:
    """One minute of the record; `climate` is None where nothing is known."""

    at_ms: int
    room: str | None
    climate: Climate | None


@dataclass(frozen=True, slots=True)
class Case:
    """What is looked into: a coat, and the minutes around it, known and unknown."""

    shop: Shop
    piece: Piece
    finish: Finish
    coat: Coat
    minutes: tuple[Minute, ...]
    now_ms: int

    @property
    def words(self) -> Words:
        """How things are said."""
        return self.shop.words

    def known(self) -> list[tuple[Minute, str, Climate]]:
        """Return the minutes of which anything is known."""
        return [
            (one, one.room, one.climate)
            for one in self.minutes
            if one.climate is not None and one.room is not None
        ]

    def when(self, at_ms: int) -> str:
        """Say an instant [ms]."""
        return self.words.at(at_ms, self.now_ms)


def traces(case: Case) -> list[Suspect]:
    """Look into everything a record can tell; heaviest first, of one weight the most direct."""
    found = [_dew(case), _damp(case), _cold(case), _early(case), _gap(case)]
    if usual_thinner(case.finish) is not None:
        found.insert(0, _blush(case))
    if case.finish.drying.law is DryingLaw.WATER:
        found.insert(0, _cold_film(case))
    return sorted(found, key=lambda one: (ORDER[one.weight], DIRECT.index(one.name)))


def _blush(case: Case) -> Suspect:
    """Follow a fresh coat through the air it was sprayed and flashed in."""
    name, thinner = "blush", usual_thinner(case.finish)
    assert thinner is not None  # noqa: S101 - the caller has looked
    finish = case.finish
    if case.coat.wet_um is not None:
        figure = replace(finish.drying.wet_film_um, value=case.coat.wet_um)
        finish = replace(finish, drying=replace(finish.drying, wet_film_um=figure))
    films: list[tuple[FreshFilm, int]] = []
    for minute, room, climate in case.known():
        since = minute.at_ms - case.coat.at_ms
        if -SPRAYED_MS <= since <= FRESH_MS and since % BLUSH_STEP_MS == 0:
            film = fresh_film(finish, conditions_of(case.shop, room, climate), exact=True)
            films += [] if film is None else [(film, minute.at_ms)]
    if not films:
        return _untold(name, "whether it chilled below the dew point: the air while it flashed")
    film, at_ms = min(films, key=lambda pair: pair[0].margin_wood_k)
    margin = film.margin_wood_k
    weight = _weight(margin, BLUSH_SPARE_K)
    if weight is Weight.CLEAN and film.wet_edges:
        weight = Weight.SLIGHT
    words, side = case.words, "below" if margin < 0.0 else "above"
    reason = (
        f"thinned with {thinner.title} it would chill itself to {words.temp(film.lowest_film_c)}, "
        f"{words.kelvin(abs(margin))} {side} the dew point, give or take "
        f"{words.kelvin(film.error_k)} ({case.when(at_ms)}); "
        f"{words.kelvin(BLUSH_SPARE_K)} above is wanted"
    )
    if film.wet_edges:
        reason += f"; edges would take up {film.condensed_edge_g_m2:.1f} g/m² of water"
    return Suspect(name, weight, reason, "K", margin, 0.0)


def _cold_film(case: Case) -> Suspect:
    """Compare the wet film with its film-forming temperature until the next coat could come."""
    name, figure = "cold-film", case.finish.limits.film_forming_c
    if figure is None:
        return _untold(name, "whether the wet film was warm enough: its film-forming temperature")
    shop, until_ms = case.shop, _dry_ms(case)
    films = [
        (shop.book.wet_film_c(shop.room(room), climate), minute.at_ms)
        for minute, room, climate in case.known()
        if climate.rh_frac is not None and case.coat.at_ms <= minute.at_ms <= until_ms
    ]
    if not films:
        return _untold(name, "whether the wet film was warm enough: the air while it dried")
    value, at_ms = min(films)
    words = case.words
    return Suspect(
        name,
        _weight(value - figure.value, TIGHT_TEMP_K),
        f"the wet film cooled itself to {words.temp(value)} ({case.when(at_ms)}); at least "
        f"{words.temp(figure.value)} is asked for it to form",
        "degC",
        value,
        figure.value,
    )


def _dry_ms(case: Case) -> int:
    """Return when the coat had dried enough for the next one [ms], else the end of the stretch."""
    stop_ms = case.minutes[-1].at_ms
    coats = case.piece.coats_until(case.coat.at_ms)
    clocks = PieceClocks(
        replace(case.piece, coats=coats),
        case.finish,
        book=case.shop.book,
        rooms=case.shop.rooms,
        now_ms=stop_ms,
    )
    return clocks.ready(MilestoneName.RECOAT_OPENS).reached_at or stop_ms


def _dew(case: Case) -> Suspect:
    """Compare the piece, or for want of a sensor on it the air, with the dew point."""
    name, limits = "dew", case.finish.limits
    spreads = []
    for minute, room, climate in case.known():
        dew = case.shop.book.dew_point_c(room, climate)
        if dew is not None:
            on_piece = climate.surface_c is not None
            warm = climate.surface_c if climate.surface_c is not None else climate.temp_c
            spreads.append((warm - dew, minute.at_ms, on_piece))
    if not spreads:
        return _untold(name, "how near the dew point was: humidity")
    value, at_ms, on_piece = min(spreads)
    asked, words = limits.surface_dew_stop_k.value, case.words
    spare = limits.surface_dew_warn_k.value - asked
    what = "the surface" if on_piece else "the piece was not measured; the air"
    return Suspect(
        name,
        _weight(value - asked, spare),
        f"{what} came as near as {words.kelvin(value)} to the dew point ({case.when(at_ms)}); "
        f"{words.kelvin(asked)} above is asked",
        "K",
        value,
        asked,
    )


def _damp(case: Case) -> Suspect:
    name, limits = "damp", case.finish.limits
    damp = [
        (climate.rh_frac, minute.at_ms)
        for minute, _, climate in case.known()
        if climate.rh_frac is not None
    ]
    if not damp:
        return _untold(name, "how damp it was: humidity")
    stop, warn = limits.rh_stop_pct.value / 100.0, limits.rh_warn_pct.value / 100.0
    value, at_ms = max(damp)
    over_h = sum(rh >= stop for rh, _ in damp) * MINUTE_MS / MS_PER_H
    long = f", {span(over_h)} of it at {percent(stop)} or more" if over_h else ""
    return Suspect(
        name,
        Weight.STRONG if value >= stop else Weight.SLIGHT if value >= warn else Weight.CLEAN,
        f"relative humidity came to {percent(value)} ({case.when(at_ms)}){long}; caution from "
        f"{percent(warn)}, stop at {percent(stop)}",
        "%",
        value * 100.0,
        stop * 100.0,
    )


def _cold(case: Case) -> Suspect:
    """Compare the air with the finish's cold limit; by itself cold whitens no solvent film."""
    name, asked = "cold", case.finish.limits.temp_low_c.value
    known = case.known()
    if not known:
        return _untold(name, "how cold it was: temperature")
    value, at_ms = min((climate.temp_c, minute.at_ms) for minute, _, climate in known)
    weight = _weight(value - asked, TIGHT_TEMP_K)
    if weight is Weight.STRONG and case.finish.drying.law is DryingLaw.SOLVENT:
        weight = Weight.SLIGHT
    return Suspect(
        name,
        weight,
        f"the air fell to {case.words.temp(value)} ({case.when(at_ms)}); at least "
        f"{case.words.temp(asked)} is asked",
        "degC",
        value,
        asked,
    )


def _early(case: Case) -> Suspect:
    """Say whether this coat, or the next one over it, trapped what had not yet left."""
    name = "coat-early"
    after = [coat.at_ms for coat in case.piece.coats if coat.at_ms > case.coat.at_ms]
    these = {case.coat.at_ms, *after[:1]}
    early = [
        deed
        for deed in deeds(case.piece, case.shop, case.now_ms)
        if deed.kind is AlertKind.COAT_EARLY and deed.at_ms in these
    ]
    if not early:
        return Suspect(name, Weight.CLEAN, "no coat is known to have come before the last was dry")
    solvent = case.finish.drying.law is DryingLaw.SOLVENT
    return Suspect(
        name,
        Weight.SLIGHT if solvent else Weight.STRONG,
        " ".join(f"{case.when(deed.at_ms)}: {deed.reason}" for deed in early).rstrip("."),
    )


def _gap(case: Case) -> Suspect:
    """Say how much of the stretch is dark, the half-hour that matters most above all."""
    runs = [
        [minute.at_ms for minute in run]
        for dark, run in groupby(case.minutes, key=lambda one: one.climate is None)
        if dark
    ]
    if not runs:
        return Suspect("gap", Weight.CLEAN, "the record has no gap")
    dark_h = sum(map(len, runs)) * MINUTE_MS / MS_PER_H
    longest = max(runs, key=len)
    reason = (
        f"{span(dark_h)} of it is not recorded, at the longest {case.when(longest[0])} to "
        f"{case.when(longest[-1])}"
    )
    if any(0 <= at_ms - case.coat.at_ms <= FRESH_MS for run in runs for at_ms in run):
        reason += "; the first half-hour after the coat, which matters most, is not whole"
    return Suspect("gap", Weight.UNKNOWN, reason)


def _untold(name: str, what: str) -> Suspect:
    return Suspect(name, Weight.UNKNOWN, f"it cannot be told {what} was not recorded")


def _weight(margin: float, spare: float) -> Weight:
    if margin < 0.0:
        return Weight.STRONG
    return Weight.SLIGHT if margin < spare else Weight.CLEAN
