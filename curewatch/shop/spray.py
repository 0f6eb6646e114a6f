"""The spray check: is the air of a room fit to spray a finish in, and which limit binds.

Every limit is judged by itself, with the sensors' own error beside it; the verdict is the worst.
A single reading says nothing of the liquid's temperature, of the piece's, or of the hours to
come: what was not measured is named, never assumed.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from curewatch.science import evaporation, humid_air
from curewatch.shop.blush_check import (
    BLUSH_SPARE_K,
    SURFACE_BIAS_K,
    FreshFilm,
    blush_reason,
    fresh_film,
    usual_thinner,
)
from curewatch.shop.clocks import Bias
from curewatch.shop.reading import Standing
from curewatch.shop.words import Words, percent

if TYPE_CHECKING:
    from curewatch.shop.finish import Finish
    from curewatch.shop.thinners import Thinner

LEAST_RH_FRAC = 0.001  # below this no dew point is worth telling
TIGHT_TEMP_K = 1.0  # closer to a temperature limit than this is 'little to spare'
FILM_ERROR_K = 0.7  # wet-film model against psychrometric tables, science.evaporation


class Verdict(StrEnum):
    """Whether to spray, in order of caution."""

    FIT = "fit"
    TIGHT = "tight"
    UNKNOWN = "unknown"
    WAIT = "wait"

    @property
    def words(self) -> str:
        """What people read."""
        return {
            Verdict.FIT: "fit to spray",
            Verdict.TIGHT: "fit, little to spare",
            Verdict.WAIT: "do not spray now",
            Verdict.UNKNOWN: "cannot tell",
        }[self]


CLEARS_BLUSH = {Verdict.FIT: "", Verdict.UNKNOWN: "measure temperature and humidity"}
SEVERITY = {Verdict.FIT: 0, Verdict.TIGHT: 1, Verdict.UNKNOWN: 2, Verdict.WAIT: 3}


@dataclass(frozen=True, slots=True)
class Conditions:
    """What is known where one wants to spray; None where nothing measured it.

    Attributes
    ----------
    temp_c, surface_c, liquid_c: air, piece, liquid in the gun [degC].
    rh_frac: relative humidity [fraction].
    air_speed_m_s, pressure_pa: air movement [m/s] and pressure [Pa].
    bias: what the room's sensors may be off by.
    """

    temp_c: float | None
    rh_frac: float | None
    surface_c: float | None = None
    liquid_c: float | None = None
    air_speed_m_s: float = evaporation.AIR_SPEED_M_S["still"]
    pressure_pa: float = 101325.0
    bias: Bias = field(default_factory=Bias)


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of a finish against what is.

    Attributes
    ----------
    name: machine word of the limit.
    value, allowed: what is and where the limit lies, in `unit`; value None if not measured.
    margin: how far inside, negative outside.
    error: standard error of the margin.
    verdict: what this limit alone says.
    reason: in words; `clears`: what would clear it.
    standing: where the limit comes from.
    """

    name: str
    unit: str
    value: float | None
    allowed: float
    margin: float | None
    error: float
    verdict: Verdict
    reason: str
    clears: str
    standing: Standing


@dataclass(frozen=True, slots=True)
class SprayCheck:
    """The verdict for a finish, with every limit; `binding` is the one that decides.

    `blush` is None for finishes that do not dry by solvent, and where it cannot be told.
    """

    finish: str
    verdict: Verdict
    binding: Limit | None
    limits: tuple[Limit, ...]
    dew_point_c: float | None
    wet_film_c: float | None
    notes: tuple[str, ...]
    blush: FreshFilm | None = None

    @property
    def sentence(self) -> str:
        """The verdict with its reason."""
        reason = self.binding.reason if self.binding else "every limit that was measured is kept"
        return f"{self.verdict.words}: {reason}"


def spray_check(
    finish: Finish,
    here: Conditions,
    words: Words,
    *,
    thinner: Thinner | None = None,
    exact: bool = False,
) -> SprayCheck:
    """Judge whether the air is fit to spray `finish` in.

    Parameters
    ----------
    finish : Finish
        What is to be sprayed.
    here : Conditions
        What is known of the place.
    words : Words
        How things are said.
    thinner : Thinner, optional
        What a finish that dries by solvent is thinned with; its usual one if None.
    exact : bool
        Follow the fresh coat in just this climate, not in the kept cell that holds it.
    """
    dew = dew_point_c(here)
    film = None
    if here.temp_c is not None and here.rh_frac is not None:
        film = float(
            evaporation.wet_film(
                here.temp_c,
                here.rh_frac,
                air_speed_m_s=here.air_speed_m_s,
                p_pa=here.pressure_pa,
            ).temp_c
        )
    limits = [*_temperatures(finish, here, words), *_humidity(finish, here)]
    limits += _dew_limits(finish, here, dew, words)
    if finish.limits.film_forming_c is not None:
        limits.append(_film_forming(finish, film, words))
    chilled = None
    if usual_thinner(finish) is not None:
        chilled = fresh_film(finish, here, thinner=thinner, exact=exact)
        limits.append(_blush(chilled, words))
    verdict = max((limit.verdict for limit in limits), key=SEVERITY.__getitem__)
    worst = [limit for limit in limits if limit.verdict is verdict]
    binding = min(worst, key=_relative)
    return SprayCheck(
        finish=finish.name,
        verdict=verdict,
        binding=binding if verdict is not Verdict.FIT else None,
        limits=tuple(limits),
        dew_point_c=dew,
        wet_film_c=film if finish.limits.film_forming_c is not None else None,
        notes=(*_unused(finish, thinner), *_notes(here, dew, words)),
        blush=chilled,
    )


def dew_point_c(here: Conditions) -> float | None:
    """Return the dew point [degC], None where temperature or humidity is not known."""
    if here.temp_c is None or here.rh_frac is None or here.rh_frac < LEAST_RH_FRAC:
        return None
    return float(humid_air.dew_point_c(here.temp_c, here.rh_frac))


def dew_error_k(here: Conditions) -> float:
    """Return the standard error of the dew point from the sensors' biases [K]."""
    if here.temp_c is None or here.rh_frac is None or here.rh_frac < LEAST_RH_FRAC:
        return 0.0
    low, high = (
        min(max(here.rh_frac + sign * here.bias.rh_frac, LEAST_RH_FRAC), 1.0) for sign in (-1, 1)
    )
    by_rh = humid_air.dew_point_c(here.temp_c, high) - humid_air.dew_point_c(here.temp_c, low)
    return float(((0.5 * float(by_rh)) ** 2 + here.bias.temp_k**2) ** 0.5)


def _relative(limit: Limit) -> float:
    """Order limits of one verdict: the least margin first, an unmeasured one last."""
    return float("inf") if limit.margin is None else limit.margin / max(abs(limit.allowed), 1.0)


def _temperatures(finish: Finish, here: Conditions, words: Words) -> list[Limit]:
    limits = finish.limits
    found = []
    for name, value in (
        ("air", here.temp_c),
        ("liquid", here.liquid_c),
        ("surface", here.surface_c),
    ):
        if value is None and name != "air":
            continue
        for edge, sign, figure in (
            ("low", 1.0, limits.temp_low_c),
            ("high", -1.0, limits.temp_high_c),
        ):
            margin = None if value is None else sign * (value - figure.value)
            found.append(
                Limit(
                    name=f"{name}-{edge}",
                    unit="degC",
                    value=value,
                    allowed=figure.value,
                    margin=margin,
                    error=here.bias.temp_k,
                    verdict=_graded(margin, TIGHT_TEMP_K),
                    reason=f"{name} at {_said(value, words)}, "
                    f"{'at least' if sign > 0 else 'at most'} {words.temp(figure.value)} asked",
                    clears=_warmer(name, margin, sign, words),
                    standing=figure.standing,
                )
            )
    return found


def _humidity(finish: Finish, here: Conditions) -> list[Limit]:
    limits, rh = finish.limits, None if here.rh_frac is None else here.rh_frac * 100.0
    shown = "not measured" if here.rh_frac is None else percent(here.rh_frac)
    high = None if rh is None else limits.rh_stop_pct.value - rh
    low = None if rh is None else rh - limits.rh_low_pct.value
    comfortable = limits.rh_stop_pct.value - limits.rh_high_pct.value
    drier = 0.0 if rh is None else max(rh - limits.rh_high_pct.value, 0.0)
    return [
        Limit(
            "humidity-high",
            "%",
            rh,
            limits.rh_stop_pct.value,
            high,
            here.bias.rh_frac * 100.0,
            _graded(high, comfortable),
            f"relative humidity {shown}: comfortable to {limits.rh_high_pct.value:.0f} %, "
            f"stop at {limits.rh_stop_pct.value:.0f} %",
            f"drier by {drier:.0f} points" if drier else "",
            limits.rh_stop_pct.standing,
        ),
        Limit(
            "humidity-low",
            "%",
            rh,
            limits.rh_low_pct.value,
            low,
            here.bias.rh_frac * 100.0,
            Verdict.UNKNOWN if low is None else Verdict.TIGHT if low < 0.0 else Verdict.FIT,
            f"relative humidity {shown}, below {limits.rh_low_pct.value:.0f} % the spray dries in "
            "flight and flows badly",
            "moister air or a slower thinner",
            limits.rh_low_pct.standing,
        ),
    ]


def _dew_limits(finish: Finish, here: Conditions, dew: float | None, words: Words) -> list[Limit]:
    limits = finish.limits
    error = (dew_error_k(here) ** 2 + SURFACE_BIAS_K**2) ** 0.5
    asked = limits.surface_dew_stop_k
    value = here.surface_c if here.surface_c is not None else here.temp_c
    what = "surface" if here.surface_c is not None else "surface not measured; the air"
    margin = None if dew is None or value is None else value - dew - asked.value
    verdict = _graded(margin, limits.surface_dew_warn_k.value - asked.value)
    if here.surface_c is not None and margin is not None and 0.0 <= margin < error:
        verdict = Verdict.UNKNOWN  # inside the sensors' own error
    found = [
        Limit(
            "surface-over-dew-point",
            "K",
            None if margin is None else margin + asked.value,
            asked.value,
            margin,
            error if here.surface_c is not None else dew_error_k(here),
            verdict,
            f"{what} is {_spread(margin, asked.value, words)} above the dew point, "
            f"{words.kelvin(asked.value)} asked",
            "a warmer piece or drier air",
            asked.standing,
        )
    ]
    if limits.air_dew_stop_k is not None or limits.air_dew_warn_k is not None:
        found.append(_air_dew(finish, here, dew, words))
    return found


def _air_dew(finish: Finish, here: Conditions, dew: float | None, words: Words) -> Limit:
    """Judge the air against the dew point: fast solvents chill a film by several kelvin."""
    stop, warn = finish.limits.air_dew_stop_k, finish.limits.air_dew_warn_k
    lead = stop or warn
    assert lead is not None  # noqa: S101 - the caller has looked
    margin = None if dew is None or here.temp_c is None else here.temp_c - dew - lead.value
    verdict = _graded(margin, warn.value - lead.value if warn else 0.0)
    if stop is None and verdict is Verdict.WAIT:
        verdict = Verdict.TIGHT  # a warning only
    return Limit(
        "air-over-dew-point",
        "K",
        None if margin is None else margin + lead.value,
        lead.value,
        margin,
        dew_error_k(here),
        verdict,
        f"air is {_spread(margin, lead.value, words)} above the dew point; evaporation chills "
        f"the film: stop under {words.kelvin(lead.value)}, "
        f"{words.kelvin((warn or lead).value)} wanted",
        "drier air, or a slower thinner",
        lead.standing,
    )


def _film_forming(finish: Finish, film: float | None, words: Words) -> Limit:
    figure = finish.limits.film_forming_c
    assert figure is not None  # noqa: S101 - the caller has looked
    margin = None if film is None else film - figure.value
    return Limit(
        "film-forming",
        "degC",
        film,
        figure.value,
        margin,
        FILM_ERROR_K,
        _graded(margin, TIGHT_TEMP_K),
        f"the wet film cools itself to {_said(film, words)}, "
        f"at least {words.temp(figure.value)} asked for it to form",
        _warmer("room", margin, 1.0, words),
        figure.standing,
    )


def _blush(film: FreshFilm | None, words: Words) -> Limit:
    """Judge the fresh film over wood by the 3 K rule; edges only warn, by the water on them."""
    margin = None if film is None else film.margin_wood_k
    verdict = _graded(margin, BLUSH_SPARE_K)
    if film is not None and film.wet_edges and verdict is Verdict.FIT:
        verdict = Verdict.TIGHT
    return Limit(
        "blush",
        "K",
        margin,
        0.0,
        margin,
        0.0 if film is None else film.error_k,
        verdict,
        blush_reason(film, words),
        CLEARS_BLUSH.get(
            verdict, "drier air, a warmer piece or, if the sheet allows, slower thinner"
        ),
        Standing.COMMON_PRACTICE,
    )


def _graded(margin: float | None, tight_below: float) -> Verdict:
    if margin is None:
        return Verdict.UNKNOWN
    if margin < 0.0:
        return Verdict.WAIT
    return Verdict.TIGHT if margin < tight_below else Verdict.FIT


def _said(temp_c: float | None, words: Words) -> str:
    return "not measured" if temp_c is None else words.temp(temp_c)


def _spread(margin: float | None, asked: float, words: Words) -> str:
    return "an unknown distance" if margin is None else words.kelvin(margin + asked)


def _warmer(what: str, margin: float | None, sign: float, words: Words) -> str:
    if margin is None:
        return f"measure the {what}"
    if margin >= TIGHT_TEMP_K:
        return ""
    way = "warmer" if sign > 0 else "cooler"
    return f"{what} {way} by {words.kelvin(TIGHT_TEMP_K - margin)}"


def _unused(finish: Finish, thinner: Thinner | None) -> tuple[str, ...]:
    """Say so where a thinner was named that changes nothing."""
    if thinner is None or usual_thinner(finish) is not None:
        return ()
    return (f"the thinner changes nothing here: {finish.name} is not judged for blush",)


def _notes(here: Conditions, dew: float | None, words: Words) -> tuple[str, ...]:
    notes = []
    if here.surface_c is None:
        least = "" if dew is None else f": it must be at least {words.temp(dew + 3.0)}"
        notes.append(f"surface not measured{least}")
    if here.liquid_c is None:
        notes.append("liquid not measured: bring it to the room's temperature first")
    notes.append(
        "curewatch advises; it is no gas detector, no booth permission. The label, the data sheet "
        "and the local code come first."
    )
    return tuple(notes)
