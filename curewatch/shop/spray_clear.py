"""Which single change would clear a spray check, found by making it and checking again.

Nothing is said from a limit's own words: every change named was applied, and the check run anew
gave the verdict that stands beside it. Where no single one serves, a pair is named, or it is said
that none was found.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product
from typing import TYPE_CHECKING

from curewatch.shop.blush_check import prepare, usual_thinner
from curewatch.shop.spray import spray_check, verdict_without_blush
from curewatch.shop.spray_change import CHANGES
from curewatch.shop.spray_terms import SEVERITY, Verdict, worst
from curewatch.shop.thinners import LACQUER_THINNERS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from curewatch.shop.finish import Finish
    from curewatch.shop.spray_change import Change
    from curewatch.shop.spray_terms import Conditions
    from curewatch.shop.thinners import Thinner
    from curewatch.shop.words import Words

HANDFUL = 8
PAIR_STEPS = 6  # amounts of each change tried in a pair


@dataclass(frozen=True, slots=True)
class Clear:
    """A change and what the check says once it is made.

    Attributes
    ----------
    change: machine word; a pair's two are joined by '+'.
    by: amount in `unit`, None where the change has none, or is a pair.
    unit: 'K', '%', 'h' or ''.
    gives: the verdict then; None for what has to be measured first.
    words: for people.
    at_ms: when, for a wait [ms].
    """

    change: str
    by: float | None
    unit: str
    gives: Verdict | None
    words: str
    at_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """What has to come right: one finish in one or more airs, now and at the worst hour ahead."""

    finish: Finish
    places: tuple[Conditions, ...]
    words: Words
    thinner: Thinner | None = None

    @property
    def here(self) -> Conditions:
        """The place as it is now."""
        return self.places[0]

    def verdict(self, places: Iterable[Conditions], thinner: Thinner | None = None) -> Verdict:
        """Run the check in every place."""
        return worst(
            spray_check(
                self.finish, place, self.words, thinner=thinner or self.thinner, exact=True
            ).verdict
            for place in places
        )

    def nearly(self, places: Iterable[Conditions]) -> Verdict:
        """Run the check with fresh coats of kept cells, which are never better than exact."""
        return worst(
            spray_check(self.finish, place, self.words, thinner=self.thinner).verdict
            for place in places
        )

    def at_best(self, places: Iterable[Conditions]) -> Verdict:
        """Return a verdict that the whole check does not better, for little work."""
        return worst(verdict_without_blush(self.finish, place, self.words) for place in places)


def clears(case: Case) -> tuple[Clear, ...]:
    """Return every single change that betters the verdict, else a pair, else nothing."""
    now = case.verdict(case.places)
    if now is Verdict.FIT:
        return ()
    found = [one for change in CHANGES if (one := _least(case, change, now)) is not None]
    found += _slower(case, now)
    return tuple(found) or _pair(case, now)


def _least(case: Case, change: Change, now: Verdict) -> Clear | None:
    """Return the least amount of a change that gives 'fit', else the least that helps at all."""
    second = None
    for by, places in _tried(case, change, now):
        near = case.nearly(places)
        if not _helps(near, now) or (second is not None and near is not Verdict.FIT):
            continue
        gives = case.verdict(places)
        if not _helps(gives, now):
            continue
        said = _told(change.said(case.here, by, case.words), gives)
        one = Clear(change.name, by, change.unit, gives, said)
        if gives is Verdict.FIT:
            return one
        second = second or one
    return second


def _tried(
    case: Case, change: Change, now: Verdict
) -> Iterator[tuple[float, tuple[Conditions, ...]]]:
    """Yield the amounts worth a whole check, least first, their fresh coats followed together."""
    worth = []
    for by in change.amounts:
        places = tuple(made for place in case.places if (made := change.made(place, by)))
        if len(places) < len(case.places):
            break  # more of it is no change of this place either
        if _helps(case.at_best(places), now):
            worth.append((by, places))
    for some in _batched(worth):
        prepare(
            case.finish, [place for _, places in some for place in places], thinner=case.thinner
        )
        yield from some


def _batched(
    worth: Sequence[tuple[float, tuple[Conditions, ...]]],
) -> Iterator[Sequence[tuple[float, tuple[Conditions, ...]]]]:
    """Yield the amounts a handful at a time: the least usually serves."""
    for start in range(0, len(worth), HANDFUL):
        yield worth[start : start + HANDFUL]


def _helps(gives: Verdict, now: Verdict) -> bool:
    return gives.is_go and SEVERITY[gives] < SEVERITY[now]


def _told(words: str, gives: Verdict) -> str:
    return words if gives is Verdict.FIT else f"{words}: then {gives.words}"


def _slower(case: Case, now: Verdict) -> Iterator[Clear]:
    """Name the thinners slower than the one in use that really clear it."""
    usual = usual_thinner(case.finish)
    if usual is None:
        return
    used = (case.thinner or usual).blend.name
    if used not in LACQUER_THINNERS:
        return  # the alcohol of shellac has no slower kin here
    names = list(LACQUER_THINNERS)
    for name in names[names.index(used) + 1 :]:
        gives = case.verdict(case.places, LACQUER_THINNERS[name])
        if _helps(gives, now):
            title = LACQUER_THINNERS[name].title
            words = f"{title} ('{name}') in place of '{used}', if the sheet allows"
            yield Clear(f"thinner-{name}", None, "", gives, _told(words, gives))


def _pair(case: Case, now: Verdict) -> tuple[Clear, ...]:
    """Return the pair of changes that serves with the least of both, if any does."""
    best: tuple[float, Clear] | None = None
    for first, second in combinations(CHANGES, 2):
        for by, also in product(_few(first), _few(second)):
            share = by / first.amounts[-1] + also / second.amounts[-1]
            if best is not None and share >= best[0]:
                continue
            places = _both(case.places, (first, by), (second, also))
            if places is None or not _helps(case.at_best(places), now):
                continue
            gives = case.verdict(places)
            if _helps(gives, now):
                said = " and ".join(
                    change.said(case.here, much, case.words)
                    for change, much in ((first, by), (second, also))
                )
                name = f"{first.name}+{second.name}"
                best = share, Clear(name, None, "", gives, _told(f"both {said}", gives))
    return () if best is None else (best[1],)


def _few(change: Change) -> Sequence[float]:
    return change.amounts[:: len(change.amounts) // PAIR_STEPS]


def _both(
    places: Iterable[Conditions], first: tuple[Change, float], second: tuple[Change, float]
) -> list[Conditions] | None:
    """Return the places after two changes, None where one of them is no change there."""
    found = []
    for place in places:
        once = first[0].made(place, first[1])
        twice = None if once is None else second[0].made(once, second[1])
        if twice is None:
            return None
        found.append(twice)
    return found
