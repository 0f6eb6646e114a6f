"""Where the numbers of a spray check come from, in words as well: what `check --why` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from curewatch.shop.finish import DryingLaw, MilestoneName
from curewatch.shop.plain_spray import TYPED
from curewatch.shop.standings import AIR, CHILL, DEW, KEY, MEASURED, OUTLOOK, WATER, entry

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain
    from curewatch.shop.spray_answer import SprayAnswer
    from curewatch.shop.spray_terms import Limit

ERRORS: Final = "what the sensors may be off by, their drift since, and the doubt of the model"
MARGIN: Final = "what is, less what is allowed, or the other way round"
TRIED: Final = "each change was made and the check run again"
NEXT_COAT: Final = (
    "the profile's hours, earned at the rate of this air; the ends hold the doubt of the finish, "
    "the air's movement, the sensors and, in a room, its outlook"
)
MODELS: Final = {
    "surface-over-dew-point": DEW,
    "air-over-dew-point": DEW,
    "dew_point_c": DEW,
    "film-forming": WATER,
    "water-leaving": WATER,
    "wet_film_c": WATER,
    "blush": CHILL,
}


def with_sources(plain: Plain, answer: SprayAnswer) -> Plain:
    """Return a plain answer whose standings say their sources too."""
    told = plain[KEY]
    assert isinstance(told, dict)  # noqa: S101 - as `answer_plain` writes it
    limits = {limit.name: limit for limit in answer.now.limits}
    return {
        **plain,
        KEY: {
            place: standing
            if standing is None
            else entry(str(standing), _source(place, str(standing), answer, limits=limits))
            for place, standing in told.items()
        },
    }


def _source(place: str, standing: str, answer: SprayAnswer, *, limits: dict[str, Limit]) -> str:
    """Return the source of one number, '' where its standing says all."""
    head, _, last = place.rpartition(".")
    part = head.partition(".")[0] or last
    if last.endswith(("error", "_error_k", "_error_pct")):
        return ERRORS
    if standing in (MEASURED, TYPED):
        return AIR if standing == MEASURED else ""
    if part in ("limits", "binding"):
        return _of_part(part, head.partition(".")[2], last, answer=answer, limits=limits)
    if part == "recoat":
        return _of_sheet(answer) if last.startswith("sheet") else NEXT_COAT
    if place in limits and place != "blush":  # that is the film's own
        return limits[place].source
    return TRIED if part == "what_would_clear_it" else _model(part)


def _of_part(
    part: str, name: str, last: str, *, answer: SprayAnswer, limits: dict[str, Limit]
) -> str:
    if part == "limits":
        return _of_limit(limits[name], last)
    assert answer.binding is not None  # noqa: S101 - the answer carries its numbers
    if answer.ahead_decides and last == "value":
        return OUTLOOK
    return _of_limit(answer.binding, last)


def _of_limit(limit: Limit, last: str) -> str:
    return {"allowed": limit.source, "margin": MARGIN}.get(last) or _model(limit.name)


def _of_sheet(answer: SprayAnswer) -> str:
    """Return the source of the profile's hours between coats."""
    finish = answer.job.finish
    if finish.drying.law is DryingLaw.WATER and finish.drying.water_load_g_m2 is not None:
        return finish.drying.water_load_g_m2.source
    asked = finish.requirements.get(MilestoneName.RECOAT_OPENS)
    return "" if asked is None else asked.hours.source


def _model(name: str) -> str:
    return MODELS.get(name, "").replace("the measured air", "this air")
