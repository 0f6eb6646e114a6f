"""One profile's table read into a `Finish`, every fault on the way collected."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from curewatch.finishes.keys import (
    CHOICES,
    DEW_RULE_K,
    FIGURES,
    FILM,
    GROUPS,
    IDLE,
    NEEDED,
    ORDERS,
    TEXTS,
    WATER_LOAD,
    Key,
)
from curewatch.shop.finish import (
    CureFigures,
    DryingFigures,
    DryingLaw,
    Figure,
    FilmFigures,
    Finish,
    ForbiddenMiddle,
    Limits,
    MilestoneName,
    PacePriorName,
    Requirement,
    StorageLimits,
)
from curewatch.shop.reading import Standing

NAME: Final = re.compile(r"[a-z][a-z0-9-]{0,39}")
_FIGURE_KEYS: Final = ("value", "low", "high", "standing", "source")
_LONGEST_SHOWN: Final = 40
_KNOWN: Final = (
    *TEXTS,
    "drying.solvent",
    "pace_prior",
    "tried",
    "safety",
    "extends",
    "without",
    *FIGURES,
    *GROUPS,
)


@dataclass(slots=True)
class Page:
    """One profile while it is read.

    Attributes
    ----------
        faults: one line each: key path, what is wrong, how to mend it.
        texts, figures, per_coat, safety, tried: what was understood so far, by path.
        given: every path that stood there, understood or not.
    """

    faults: list[str] = field(default_factory=list)
    texts: dict[str, str] = field(default_factory=dict)
    figures: dict[str, Figure] = field(default_factory=dict)
    per_coat: set[str] = field(default_factory=set)
    safety: tuple[str, ...] = ()
    tried: bool = False
    given: set[str] = field(default_factory=set)


def read_page(table: Mapping[str, object], faults: list[str], *, whole: bool) -> Page:
    """Read a profile's table; `faults` carries on those found before.

    Parameters
    ----------
        table: the parsed and merged TOML.
        faults: faults found so far; the page adds its own.
        whole: False where the finish it extends is missing, so that missing keys mean nothing.
    """
    page = Page(faults=faults)
    for key, found in table.items():
        if key not in GROUPS:
            _take(key, found, page)
        elif isinstance(found, Mapping):
            for inner, value in found.items():
                _take(f"{key}.{inner}", value, page)
        else:
            page.faults.append(f"{key}: must be a table [{key}], not {shown(found)}")
    if whole:
        _check_missing(page)
    _check_orders(page)
    _check_dew_rule(page)
    _check_law(page)
    return page


def finish_of(page: Page, revision: int) -> Finish:
    """Build the finish from a page without faults."""
    figures, texts = page.figures, page.texts

    def group(name: str) -> dict[str, Figure]:
        head = f"{name}."
        return {p.removeprefix(head): f for p, f in figures.items() if p.startswith(head)}

    cure, middle, film = group("cure"), group("middle"), group("film")
    storage = group("storage")
    prior = texts.get("pace_prior")
    return Finish(
        name=texts["name"],
        title=texts["title"],
        revision=revision,
        tried=page.tried,
        summary=texts["summary"],
        drying=DryingFigures(
            law=DryingLaw(texts["drying.law"]),
            solvent=texts.get("drying.solvent", ""),
            **group("drying"),
        ),
        cure=CureFigures(**cure) if cure else None,
        requirements={
            milestone: Requirement(figures[path], per_coat=path in page.per_coat)
            for milestone in MilestoneName
            if (path := f"hours.{milestone}") in figures
        },
        limits=Limits(**group("limits")),
        missed_window=texts["missed_window"],
        safety=page.safety,
        middle=ForbiddenMiddle(**middle) if middle else None,
        pot_life_h=figures.get("pot_life_h"),
        young_h=figures.get("young_h"),
        film=FilmFigures(**film) if film else None,
        confidence=figures.get("confidence"),
        pace_prior=None if prior is None else PacePriorName(prior),
        storage=StorageLimits(**storage) if storage else None,
    )


# --- one entry at a time ------------------------------------------------------------------------


def _take(path: str, found: object, page: Page) -> None:
    """Read what stands at `path` into the page."""
    page.given.add(path)
    if path in FIGURES:
        figure = _figure(path, found, page)
        if figure is not None:
            page.figures[path] = figure
    elif path in TEXTS or path in CHOICES:
        _take_text(path, found, page)
    elif path == "tried":
        if isinstance(found, bool):
            page.tried = found
        else:
            page.faults.append(f"tried: must be true or false, not {shown(found)}")
    elif path == "safety":
        _take_safety(found, page)
    else:
        page.faults.append(f"{path}: no such key{nearest(path, _KNOWN)}; mend it or take it out")


def _take_text(path: str, found: object, page: Page) -> None:
    """Read a text, and hold it to its list where it has one."""
    if not isinstance(found, str) or not found.strip():
        page.faults.append(f"{path}: must be a text in quotes, not {shown(found)}")
        return
    choices = CHOICES.get(path)
    if choices is not None and found not in choices:
        near = nearest(found, choices)
        page.faults.append(f"{path}: {shown(found)} is none of {', '.join(choices)}{near}")
    elif path == "name" and not NAME.fullmatch(found):
        page.faults.append(
            f"name: {shown(found)} will not do; use small letters, digits and hyphens, a letter "
            "first, at most 40"
        )
    else:
        page.texts[path] = found.strip()


def _take_safety(found: object, page: Page) -> None:
    """Read the list of cautions."""
    if not isinstance(found, list) or not found:
        page.faults.append(f"safety: must be a list of sentences, not {shown(found)}")
        return
    sentences = [s.strip() for s in found if isinstance(s, str) and s.strip()]
    if len(sentences) < len(found):
        page.faults.append("safety: every entry must be a sentence in quotes; one is not")
    page.safety = tuple(sentences)


def _figure(path: str, found: object, page: Page) -> Figure | None:
    """Read one figure's table; None where it has a fault."""
    if not isinstance(found, Mapping):
        page.faults.append(
            f"{path}: must be a table with value, standing and source (low and high where known), "
            f"not {shown(found)}"
        )
        return None
    before = len(page.faults)
    known = (*_FIGURE_KEYS, "per_coat") if FIGURES[path].per_coat else _FIGURE_KEYS
    page.faults += [
        f"{path}.{name}: no such key{nearest(name, known)}; mend it or take it out"
        for name in found
        if name not in known
    ]
    value, low, high = (_number(path, name, found, page) for name in ("value", "low", "high"))
    standing = _standing(path, found, page)
    source = found.get("source")
    if not isinstance(source, str) or not source.strip():
        page.faults.append(f"{path}.source: say in a sentence where the figure comes from")
        source = ""
    per_coat = found.get("per_coat", False)
    if not isinstance(per_coat, bool):
        page.faults.append(f"{path}.per_coat: must be true or false, not {shown(per_coat)}")
    if ("low" in found) != ("high" in found):
        page.faults.append(f"{path}: give both low and high, or neither")
    if value is not None and low is not None and high is not None and not low <= value <= high:
        page.faults.append(f"{path}: value {value:g} must lie from low {low:g} to high {high:g}")
    if len(page.faults) > before or value is None or standing is None:
        return None
    if per_coat:
        page.per_coat.add(path)
    return Figure(value, standing, low, high, source.strip())


def _number(path: str, name: str, found: Mapping[str, object], page: Page) -> float | None:
    """Read one number of a figure and hold it to what its unit can mean."""
    key = FIGURES[path]
    if name not in found:
        if name == "value":
            page.faults.append(f"{path}.value: missing; give the figure{_in_unit(key)}")
        return None
    number = found[name]
    if isinstance(number, bool) or not isinstance(number, int | float):
        page.faults.append(f"{path}.{name}: must be a number, not {shown(number)}")
    elif not key.least <= number <= key.most:  # nan compares false and is named too
        page.faults.append(
            f"{path}.{name}: {shown(number)} cannot be meant{_in_unit(key)}; plausible is "
            f"{key.least:g} to {key.most:g}"
        )
    else:
        return float(number)
    return None


def _standing(path: str, found: Mapping[str, object], page: Page) -> Standing | None:
    """Read where a figure comes from, from the one list."""
    word = found.get("standing")
    if isinstance(word, str) and word in tuple(Standing):
        return Standing(word)
    what = "missing" if word is None else f"{shown(word)} is not on the list"
    near = nearest(word, tuple(Standing)) if isinstance(word, str) else ""
    page.faults.append(f"{path}.standing: {what}{near}; use one of {', '.join(Standing)}")
    return None


# --- the whole page -----------------------------------------------------------------------------


def _law(page: Page) -> DryingLaw | None:
    """Return the drying law, where one was understood."""
    word = page.texts.get("drying.law")
    return None if word is None else DryingLaw(word)


def _check_missing(page: Page) -> None:
    """Name every key the profile must give and does not."""
    law, given = _law(page), page.given
    needed = [*TEXTS, "safety", *(path for path, key in FIGURES.items() if key.always)]
    if law is not None:
        needed += NEEDED[law]
    if law is DryingLaw.WATER and "hours.recoat-opens" not in given:
        needed += WATER_LOAD
    if given & {"middle.start_h", "middle.stop_h"}:
        needed += ["middle.start_h", "middle.stop_h"]
    if given & set(FILM):
        needed += FILM
    for path in needed:
        if path not in given:
            what = FIGURES[path].meaning if path in FIGURES else TEXTS.get(path, "")
            page.faults.append(f"{path}: missing; add it" + (f" ({what})" if what else ""))


def _check_orders(page: Page) -> None:
    """Hold figures to each other."""
    for rule in ORDERS:
        lower, upper = page.figures.get(rule.lower), page.figures.get(rule.upper)
        if lower is None or upper is None:
            continue
        if (rule.lower in page.per_coat) != (rule.upper in page.per_coat):
            continue  # hours a coat and hours in all compare only once the coats are known
        if upper.value < lower.value or (rule.strict and upper.value == lower.value):
            page.faults.append(
                f"{rule.upper}: {upper.value:g} does not agree with {rule.lower} "
                f"{lower.value:g}; {rule.because}"
            )


def _check_dew_rule(page: Page) -> None:
    """Let nothing but a data sheet go below the 3 K rule."""
    dew = page.figures.get("limits.surface_dew_stop_k")
    if dew is not None and dew.value < DEW_RULE_K and dew.standing is not Standing.DATA_SHEET:
        page.faults.append(
            f"limits.surface_dew_stop_k: {dew.value:g} K is under the {DEW_RULE_K:g} K rule; only "
            "a data sheet may go below it"
        )


def _check_law(page: Page) -> None:
    """Name what the drying law has no use for, and two answers to one question."""
    law = _law(page)
    if law is None:
        return
    page.faults += [
        f"{path}: has no meaning under the drying law '{law}'; take it out, or name it in "
        "'without' where it is inherited"
        for path in IDLE[law]
        if path in page.given
    ]
    if law is DryingLaw.WATER and "hours.recoat-opens" in page.given:
        page.faults += [
            f"{path}: hours.recoat-opens answers the same question; give the hours or the water "
            "load, not both"
            for path in WATER_LOAD
            if path in page.given
        ]


# --- words for messages -------------------------------------------------------------------------


def nearest(word: str, known: tuple[str, ...]) -> str:
    """Offer the known word that looks most like this one."""
    near = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    return f"; did you mean {near[0]}?" if near else ""


def shown(found: object) -> str:
    """Show what stood there, cut short, as the file has it."""
    if isinstance(found, bool):
        return "true" if found else "false"
    try:
        text = f"'{found}'" if isinstance(found, str) else str(found)
    except (ValueError, RecursionError):  # a number of thousands of digits, a nest of brackets
        return "what stands there"
    return text if len(text) <= _LONGEST_SHOWN else f"{text[: _LONGEST_SHOWN - 3]}..."


def _in_unit(key: Key) -> str:
    """Name the unit a figure is in."""
    return f" in {key.unit}" if key.unit else ""
