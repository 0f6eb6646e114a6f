"""The build of a piece, pieces side by side and the gates after the buff as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from curewatch.shop.build import DOUBT, SOURCE
from curewatch.shop.plain import FORMAT, instant, milestone_plain
from curewatch.shop.plain_what_if import range_plain
from curewatch.shop.reading import Standing
from curewatch.shop.side_by_side import NOT_SEEN
from curewatch.shop.standings import (
    AIR,
    COVERED,
    LOGGED,
    MEASURED,
    entry,
    of_figure,
    piece_standings,
    wood_standings,
)
from curewatch.shop.standings_told import law_standing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.build import Build
    from curewatch.shop.finish import Finish
    from curewatch.shop.onward import GateNow
    from curewatch.shop.plain import Plain
    from curewatch.shop.side_by_side import Beside, Comparison

FORECAST: Final = "as a person forecast it"


def build_plain(build: Build | None, finish: Finish) -> Plain | None:
    """Return the build of a piece, with where its numbers come from."""
    if build is None:
        return None
    logged, guess = entry(MEASURED, LOGGED), entry(Standing.COMMON_PRACTICE, SOURCE)
    solids = guess if finish.film is None else of_figure(finish.film.dry_um)
    return {
        "coats": build.coats,
        "coats_measured": build.measured,
        "wet_um": build.wet_um,
        "film_um": range_plain(build.film_um),
        "taken_um": range_plain(build.taken_um),
        "at_least_off_pct": DOUBT * 100.0,
        "sentence": build.sentence,
        "standing": {
            "coats": logged,
            "coats_measured": logged,
            "wet_um": logged,
            "film_um": {**solids, "source": f"{SOURCE}: {solids['source']}"},
            "taken_um": guess,
            "at_least_off_pct": guess,
        },
    }


def comparison_plain(found: Comparison, finish: Finish) -> Plain:
    """Return pieces side by side."""
    return {
        "format": FORMAT,
        "piece": found.asked.tag,
        "finish": finish.name,
        "sentence": found.sentence,
        "small": found.small,
        "asked": beside_plain(found.asked, finish),
        "others": [beside_plain(one, finish) for one in found.others],
        "hints": [
            {"about": hint.about, "says": hint.says, "text": hint.text} for hint in found.hints
        ],
        "not_seen": [*NOT_SEEN],
    }


def beside_plain(one: Beside, finish: Finish) -> Plain:
    """Return one of the pieces that are compared; all are judged by the same family's figures."""
    behind, wood = one.history, one.wood
    rh = behind.mean_rh_frac
    air, covered = entry(MEASURED, AIR), entry(MEASURED, COVERED)
    return {
        "piece": one.tag,
        "shares": [*one.shares],
        "judged": one.judged,
        "judged_at": instant(one.at_ms),
        "coats": behind.coats,
        "on_the_wall_h": behind.wall_h,
        "effective_h": range_plain(one.effective_h),
        "why_no_hours": None if one.effective_h is not None else behind.why_no_age,
        "coverage_pct": behind.coverage_pct,
        "mean_temp_c": behind.mean_temp_c,
        "mean_rh_pct": None if rh is None else rh * 100.0,
        "build": build_plain(one.build, finish),
        "wood_moved_points": None if wood is None else wood.since_first_coat_points,
        "findings": [*one.findings],
        "lots": [*one.lots],
        "standing": {
            "coats": entry(MEASURED, LOGGED),
            "on_the_wall_h": entry(MEASURED, "the clock on the wall"),
            "effective_h": law_standing(finish),
            "coverage_pct": covered,
            "mean_temp_c": air,
            "mean_rh_pct": air,
            "wood_moved_points": wood_standings()["since_first_coat_points"],
        },
    }


def onward_plain(
    now: PieceNow, gates: Sequence[GateNow], *, now_ms: int, coldest_c: float | None
) -> Plain:
    """Return the gates after the buff."""
    stones = {place: told for place, told in piece_standings(now).items() if "milestones" in place}
    return {
        "format": FORMAT,
        "piece": now.tag,
        "at": instant(now_ms),
        "coldest_on_the_way_c": coldest_c,
        "gates": [
            {
                "gate": str(one.gate),
                "verdict": str(one.verdict),
                "reason": one.reason,
                "test": one.test,
                "waits_for": None if one.waits_for is None else milestone_plain(one.waits_for),
            }
            for one in gates
        ],
        "standing": {
            "coldest_on_the_way_c": entry("typed", FORECAST),
            "gates": stones.get("milestones.full-cure.required_hours", entry(MEASURED, LOGGED)),
        },
    }
