"""Where every number of a plain answer comes from: its standing and, in words, its source.

A mapping lies beside the numbers under the key `standing`. It is flat: a number's place is its keys
joined by dots, an entry of a list going by its name, so that the hours a buff asks for are
'milestones.buff.required_hours'. What stands at 'milestones.buff' answers for everything under it
that has no longer place of its own. A part with words under both `standing` and `source` answers
for all of its numbers.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from curewatch.shop.finish import ClockName, DryingLaw, MilestoneName
from curewatch.shop.moving_air import AirSource
from curewatch.shop.reading import Standing
from curewatch.shop.wood_history import LAGS_SOURCE, LIMIT_SOURCE

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.finish import Figure, Finish
    from curewatch.shop.milestones import Milestone
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.shop.spray_terms import Limit, SprayCheck

KEY: Final = "standing"
MEASURED: Final = "measured"
NAMES: Final = ("piece", "sensor", "name", "limit", "key", "finish", "room", "kind", "reason")
UNTOLD: Final = ("format",)  # of the shape, not of the thing

AIR: Final = "the room's sensors"
LOGGED: Final = "counted from what people entered"
COUNTED: Final = "counted from what the sensors sent"
FILLED: Final = "hours earned on a climate that a person filled in, with the reason"
COVERED: Final = "time that readings bridge, by the room's sensors"
DEW: Final = "Hyland and Wexler 1983, as in ASHRAE Handbook - Fundamentals, at the measured air"
EMC: Final = "Wood Handbook 2021, chapter 4, equation 4-5, at the measured air"
WATER: Final = "heat and mass transfer of a drying wet surface, at the measured air"
CHILL: Final = (
    "a drying solvent film over wood, simulated at the measured air and the usual thinner"
)
FILM: Final = "diffusion in a stack of coats with surface loss (Crank 1975); its rates: "
OUTLOOK: Final = "the room's outlook: its own record, what it missed before, and what was planned"
WALL: Final = "the clock on the wall"
DOUBT: Final = "its hours widened by the doubt of the clock, the film still to fall and outcomes"


# ---- reading a mapping


def numbers(plain: Plain, *, within: str = "") -> Iterator[tuple[str, float]]:
    """Yield the place and value of every number of a plain answer.

    A part that answers for its own numbers is left out.
    """
    for key, value in plain.items():
        if key != KEY and key not in UNTOLD:
            yield from _under(value, f"{within}{key}")


def _under(value: PlainValue, place: str) -> Iterator[tuple[str, float]]:
    if isinstance(value, dict):
        if not answers_itself(value):
            yield from numbers(value, within=f"{place}.")
    elif isinstance(value, list):
        for index, entry in enumerate(value):
            yield from _under(entry, f"{place}.{entry_name(entry, index)}")
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield place, value


def answers_itself(part: Plain) -> bool:
    """Return whether a part says itself where its numbers come from."""
    told = part.get(KEY)
    return isinstance(told, dict) or (isinstance(told, str) and bool(part.get("source")))


def entry_name(entry: PlainValue, index: int) -> str:
    """Return what an entry of a list goes by: its name, else where it stands."""
    if isinstance(entry, dict):
        for key in NAMES:
            name = entry.get(key)
            if isinstance(name, str):
                return name
    return str(index)


def told_at(told: Mapping[str, PlainValue], place: str) -> tuple[str, str] | None:
    """Return standing and source of a place, by the longest place that answers for it."""
    while place:
        entry = told.get(place)
        if isinstance(entry, dict):
            return str(entry["standing"]), str(entry["source"])
        if isinstance(entry, str):
            return entry, ""
        place = place.rpartition(".")[0]
    return None


# ---- writing one


def entry(standing: str, source: str) -> Plain:
    """Return what is told of a number."""
    return {"standing": str(standing), "source": source}


def of_figure(figure: Figure) -> Plain:
    """Return what a profile says of one of its figures."""
    return entry(figure.standing, figure.source)


def piece_standings(now: PieceNow) -> Plain:
    """Return where the numbers of a piece come from."""
    logged = entry(MEASURED, LOGGED)
    entered = ("finish_revision", "coats", "planned_coats", *ENTRIES)
    told: Plain = {
        **dict.fromkeys(entered, logged),
        "chilled_young_hours": entry(MEASURED, AIR),
        "coverage_pct": entry(MEASURED, COVERED),
    }
    profile = now.profile
    if profile is None:
        return told
    for clock in now.clocks:
        told[f"clocks.{clock}"] = _of_clock(profile, clock)
        told[f"clocks.{clock}.covered_hours"] = entry(MEASURED, COVERED)
        told[f"clocks.{clock}.filled_hours"] = entry("typed", FILLED)
    for stone in now.milestones:
        told |= _of_milestone(profile, stone)
    if now.sink_back is not None and profile.film is not None:
        film = profile.film
        weaker = film.transfer_um_h
        if film.diffusivity_um2_h.standing is now.sink_back.standing:
            weaker = film.diffusivity_um2_h
        told["sink_back"] = entry(now.sink_back.standing, f"{FILM}{weaker.source}")
        told["sink_back.tolerance_um"] = of_figure(film.sink_tolerance_um)
    return told | wood_standings("wood.")


def wood_standings(within: str = "") -> Plain:
    """Return where the numbers of a piece's wood come from."""
    lag = entry(Standing.FROM_MEMORY, LAGS_SOURCE)
    told: Plain = {f"{within}{name}_emc_pct": entry(Standing.PHYSICS, EMC) for name in ROOM_EMC}
    told |= {f"{within}{name}coverage_pct": entry(MEASURED, COVERED) for name in ("", "before_")}
    told |= {f"{within}{name}": lag for name in BY_LAG}
    return {**told, f"{within}limit_points": entry(Standing.COMMON_PRACTICE, LIMIT_SOURCE)}


ENTRIES: Final = ("coats_laid", "work", "stays", "outcomes")  # where a piece is shown whole
ROOM_EMC: Final = ("room", "before")
BY_LAG: Final = (
    "at_first_coat_pct",
    "at_last_coat_pct",
    "now_pct",
    "since_first_coat_points",
    "drift_points",
    "settles_h",
    "settles_early_h",
    "settles_late_h",
)


def _of_clock(profile: Finish, clock: ClockName) -> Plain:
    """Return where a clock's hours come from: its law, and the figure that weighs most in it."""
    drying, cure = profile.drying, profile.cure
    if clock is ClockName.DRYING and drying.law is DryingLaw.WATER:
        return entry(Standing.PHYSICS, WATER)
    if clock is ClockName.DRYING and drying.law is DryingLaw.SOLVENT:
        said = f"vapour pressure of {drying.solvent} at the measured air"
        return entry(Standing.PHYSICS, said)
    if clock is ClockName.WALL or cure is None:
        return entry(MEASURED, WALL)
    return by_warmth(cure.ea_kj_mol)


def by_warmth(ea: Figure) -> Plain:
    """Return where hours of a cure law come from: what weighs most is how warmth counts."""
    return entry(ea.standing, f"Arrhenius law of the measured air; how warmth counts: {ea.source}")


def _of_milestone(profile: Finish, stone: Milestone) -> Plain:
    """Return where a milestone's hours come from."""
    place, asked = f"milestones.{stone.name}", _asked(profile, stone.name)
    told: Plain = {f"{place}.reached_hours": _of_clock(profile, stone.clock)}
    if asked is None:
        return told
    return {
        **told,
        f"{place}.required_hours": of_figure(asked),
        f"{place}.cautious_hours": entry(asked.standing, DOUBT),
        f"{place}.late_hours": entry(asked.standing, DOUBT),
    }


def _asked(profile: Finish, name: MilestoneName) -> Figure | None:
    """Return the figure a milestone's hours come from."""
    requirement = profile.requirements.get(name)
    if requirement is not None:
        return requirement.hours
    return profile.drying.water_load_g_m2 if name is MilestoneName.RECOAT_OPENS else None


def room_standings(*, moved: AirSource) -> Plain:
    """Return where the numbers of a room come from."""
    measured, dew = entry(MEASURED, AIR), entry(Standing.PHYSICS, DEW)
    by_sensor = moved is AirSource.AIR_SPEED
    return {
        "air_moves": entry(
            MEASURED if by_sensor else Standing.COMMON_PRACTICE,
            "the room's sensors" if by_sensor else "what the word for the room's air stands for",
        ),
        "temp_c": measured,
        "rh_pct": measured,
        "surface_c": measured,
        "dew_point_c": dew,
        "surface_over_dew_k": dew,
        "wood_emc_pct": entry(Standing.PHYSICS, EMC),
        "coverage_24h_pct": entry(MEASURED, COVERED),
        "sensors": measured,
    }


def sensor_standings() -> Plain:
    """Return where the numbers of a sensor come from."""
    return {
        "temp_c": entry(MEASURED, "this sensor"),
        "rh_pct": entry(MEASURED, "this sensor"),
        "surface_c": entry(MEASURED, "this sensor"),
        "mass_g": entry(MEASURED, "this sensor"),
        "air_speed_m_s": entry(MEASURED, "this sensor"),
        "rejected": entry(MEASURED, COUNTED),
    }


def check_standings(check: SprayCheck) -> Plain:
    """Return where the numbers of a spray check come from."""
    dew = entry(Standing.PHYSICS, DEW)
    told: Plain = {
        "dew_point_c": dew,
        "wet_film_c": entry(Standing.PHYSICS, WATER),
        "blush": entry(Standing.PHYSICS, CHILL),
        "limits": entry(MEASURED, f"{AIR}, and what follows from them; the error is what they err"),
        "binding": entry(
            MEASURED, f"{AIR}, and what follows from them; the error is what they err"
        ),
    }
    for limit in check.limits:
        told[f"limits.{limit.name}.allowed"] = entry(limit.standing, limit.source)
    if check.binding is not None:
        told["binding.allowed"] = entry(check.binding.standing, check.binding.source)
    return told


def outlook_standings(binding: Limit) -> Plain:
    """Return where the numbers of a limit come from that an hour ahead keeps or breaks."""
    return {
        "binding": entry(Standing.PHYSICS, OUTLOOK),
        "binding.allowed": entry(binding.standing, binding.source),
    }


def replay_standings(piece: Plain) -> Plain:
    """Return where the numbers of a replay come from; `piece` is its piece with its own."""
    own = piece[KEY]
    assert isinstance(own, dict)  # noqa: S101 - as `piece_plain` writes it
    counted = entry(MEASURED, "counted in the record")
    same = {place: told for place, told in own.items() if place.startswith("milestones.")}
    return {
        "finish_revision": own["finish_revision"],
        "readings": counted,
        "rejected": counted,
        "coverage_pct": own["coverage_pct"],
        "alerts": counted,
        "hindcast": entry(MEASURED, "the outlook of the past hours of this record against it"),
        **same,
    }
