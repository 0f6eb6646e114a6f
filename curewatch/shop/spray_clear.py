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
    """What has to come right.

    Attributes
    ----------
    finish: what is sprayed.
    places: where changes are looked for: now, and the hours ahead that are worst in something.
    words: how things are said.
    thinner: what is used.
    others: where a change that was found must hold too: every other hour ahead.
    ends: ends of the band ahead that break a limit: while one does, there is little to spare.
    exact: whether a fresh coat is followed in just the climate that is now, not in its cell.
    """

    finish: Finish
    places: tuple[Conditions, ...]
    words: Words
    thinner: Thinner | None = None
    others: tuple[Conditions, ...] = ()
    ends: tuple[Conditions, ...] = ()
    exact: bool = True

    @property
    def every(self) -> tuple[Conditions, ...]:
        """All that a change is made to, in order."""
        return (*self.places, *self.others, *self.ends)

    @property
    def here(self) -> Conditions:
        """The place as it is now."""
        return self.places[0]

    def verdict(self, places: Sequence[Conditions], thinner: Thinner | None = None) -> Verdict:
        """Run the check in every place: in the first, which is now, as exactly as was asked."""
        used = thinner or self.thinner
        now = spray_check(self.finish, places[0], self.words, thinner=used, exact=self.exact)
        prepare(self.finish, places[1:], thinner=used)
        return worst([now.verdict, *self._nearly(places[1:], used)])

    def nearly(self, places: Sequence[Conditions]) -> Verdict:
        """Run the check with fresh coats of kept cells, which are never better than exact."""
        return worst(self._nearly(places, self.thinner))

    def _nearly(self, places: Sequence[Conditions], thinner: Thinner | None) -> list[Verdict]:
        found = [
            spray_check(self.finish, place, self.words, thinner=thinner).verdict for place in places
        ]
        if not self.ends:
            return found
        likely, ends = found[: -len(self.ends)], found[-len(self.ends) :]
        return [*likely, Verdict.FIT if all(end.is_go for end in ends) else Verdict.TIGHT]

    def at_best(self, places: Iterable[Conditions]) -> Verdict:
        """Return a verdict that the whole check does not better, for little work."""
        return worst(verdict_without_blush(self.finish, place, self.words) for place in places)


def clears(case: Case) -> tuple[Clear, ...]:
    """Return every single change that betters the verdict, else a pair, else nothing."""
    now = case.verdict((*case.places, *case.ends))
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
        said = _told(change.said(case.here, by, case.words), gives)
        one = Clear(change.name, by, change.unit, gives, said)
        if gives is Verdict.FIT:
            return one
        second = one
    return second


def _tried(
    case: Case, change: Change, now: Verdict
) -> Iterator[tuple[float, tuple[Conditions, ...]]]:
    """Yield the amounts worth a whole check, least first, their fresh coats followed together."""
    worth = []
    for by in change.amounts:
        places = _after(case, (change, by))
        if places is None:
            break  # more of it is no change of this place either
        if _helps(case.at_best(places[: len(case.places)]), now):
            worth.append((by, places))
    for start in range(0, len(worth), HANDFUL):  # the least usually serves
        some = worth[start : start + HANDFUL]
        prepare(
            case.finish, [place for _, places in some for place in places], thinner=case.thinner
        )
        yield from some


def _after(case: Case, *changes: tuple[Change, float]) -> tuple[Conditions, ...] | None:
    """Return every place after these changes, None where one of them is no change there."""
    found = []
    for place in case.every:
        made: Conditions | None = place
        for change, by in changes:
            made = None if made is None else change.made(made, by)
        if made is None:
            return None
        found.append(made)
    return tuple(found)


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
        gives = case.verdict(case.every, LACQUER_THINNERS[name])
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
            places = _after(case, (first, by), (second, also))
            if places is None or not _helps(case.at_best(places[: len(case.places)]), now):
                continue
            if _helps(case.nearly(places), now):
                gives = case.verdict(places)
                said = " and ".join(
                    change.said(case.here, much, case.words)
                    for change, much in ((first, by), (second, also))
                )
                name = f"{first.name}+{second.name}"
                best = share, Clear(name, None, "", gives, _told(f"both {said}", gives))
    return () if best is None else (best[1],)


def _few(change: Change) -> Sequence[float]:
    return change.amounts[:: len(change.amounts) // PAIR_STEPS]
