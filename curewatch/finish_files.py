"""Finish files: TOML on the shelf or in a shop's own directory, read into `Finish` and back.

A file holds figures, each a table with its value, its ends where known, its standing and its
source. A shop's own file may say ``extends = "waterborne"`` and give only what its data sheet
gives; a figure it gives replaces the whole figure below, source and ends included, so that no
number ever stands beside another number's source.
"""

from __future__ import annotations

import difflib
import json
import math
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from importlib import resources
from typing import TYPE_CHECKING, Final, NamedTuple

from curewatch.errors import BadConfig, BadInput
from curewatch.finishes.keys import (
    DEW_RULE_K,
    FIGURES,
    GROUPS,
    NEEDED,
    ORDERS,
    SOLVENTS,
    TEXTS,
    Key,
)
from curewatch.shop.finish import (
    CureFigures,
    DryingFigures,
    DryingLaw,
    Figure,
    Finish,
    ForbiddenMiddle,
    Limits,
    MilestoneName,
    Requirement,
)
from curewatch.shop.reading import Standing

if TYPE_CHECKING:
    from pathlib import Path

_NAME: Final = re.compile(r"[a-z][a-z0-9-]{0,39}")
_HOW: Final = '{ value = ..., low = ..., high = ..., standing = "data-sheet", source = "..." }'
_PLAIN: Final = frozenset({*TEXTS, "drying.solvent", "tried", "safety"})


class FigureRow(NamedTuple):
    """One figure of a finish as `finish show` lists it."""

    key: str
    value: float
    unit: str
    low: float | None
    high: float | None
    standing: Standing
    source: str


@dataclass(slots=True)
class _Page:
    """One profile while it is read: what was understood, and the faults found on the way."""

    faults: list[str] = field(default_factory=list)
    texts: dict[str, str] = field(default_factory=dict)
    figures: dict[str, Figure] = field(default_factory=dict)
    per_coat: set[str] = field(default_factory=set)
    safety: tuple[str, ...] = ()
    tried: bool = False
    given: set[str] = field(default_factory=set)


# --- what callers use ---------------------------------------------------------------------------


def load_text(
    text: str, *, source: str, revision: int = 1, shelf: Mapping[str, str] | None = None
) -> Finish:
    """Read one finish file.

    Parameters
    ----------
        text: the TOML text, or what `resolved_text` made of one.
        source: what to call the file in messages.
        revision: the number storage gives this version.
        shelf: the shop's own texts by name, which `extends` may name beside the shipped ones.

    Raises
    ------
        BadConfig: naming every fault with its key path and how to mend it.
    """
    faults: list[str] = []
    table, whole = _merged(_table(text, source), shelf or {}, faults, ())
    page = _Page(faults=faults)
    for path, found in _entries(table, page):
        _take(path, found, page)
    if whole:
        _check_missing(page)
    _check_agreement(page)
    if page.faults:
        raise BadConfig(source, page.faults)
    return _finish(page, revision)


def resolved_text(text: str, *, source: str, shelf: Mapping[str, str] | None = None) -> str:
    """Write a finish file out in full, in one settled form: what storage keeps by revision.

    Comments and `extends` are gone; `load_text` reads the result back equal.

    Raises
    ------
        BadConfig: as `load_text` does.
    """
    finish = load_text(text, source=source, shelf=shelf)
    lines = [
        f"name = {_quoted(finish.name)}",
        f"title = {_quoted(finish.title)}",
        f"tried = {'true' if finish.tried else 'false'}",
        f"summary = {_quoted(finish.summary)}",
        f"missed_window = {_quoted(finish.missed_window)}",
        "safety = [",
        *(f"  {_quoted(sentence)}," for sentence in finish.safety),
        "]",
        "",
        "[drying]",
        f"law = {_quoted(finish.drying.law)}",
    ]
    if finish.drying.solvent:
        lines.append(f"solvent = {_quoted(finish.drying.solvent)}")
    for path, figure in _figures(finish).items():
        lines += ["", f"[{path}]", *_figure_lines(figure)]
        if _is_per_coat(finish, path):
            lines.append("per_coat = true")
    return "\n".join(lines) + "\n"


def shipped_names() -> tuple[str, ...]:
    """Return the names of the profiles that come with curewatch, sorted."""
    files = resources.files("curewatch.finishes").iterdir()
    return tuple(sorted(f.name.removesuffix(".toml") for f in files if f.name.endswith(".toml")))


def shipped_text(name: str) -> str:
    """Return the text of a shipped profile.

    Raises
    ------
        BadInput: where no shipped profile has that name; the nearest is named.
    """
    if name not in shipped_names():
        raise BadInput(_no_such_finish(name, shipped_names()))
    return resources.files("curewatch.finishes").joinpath(f"{name}.toml").read_text("utf-8")


def read_directory(path: Path) -> dict[str, str]:
    """Read a shop's own finish files: text by name, which is the file's name without '.toml'.

    Raises
    ------
        BadConfig: where the directory or a file cannot be read, or a file's name will not do.
    """
    texts: dict[str, str] = {}
    faults: list[str] = []
    try:
        files = sorted(path.iterdir())
    except OSError as error:
        raise BadConfig(str(path), [f"the directory of finish files: {error.strerror}"]) from error
    for file in files:
        if file.suffix != ".toml":
            continue
        try:
            texts[file.stem] = file.read_text("utf-8")
        except (OSError, UnicodeDecodeError) as error:
            faults.append(f"{file.name}: cannot be read as UTF-8 text: {error}")
            continue
        faults += [f"{file.name}: {fault}" for fault in _name_faults(file.stem, texts[file.stem])]
    if faults:
        raise BadConfig(str(path), faults)
    return texts


def template(name: str, extends: str, *, shelf: Mapping[str, str] | None = None) -> str:
    """Write the file a shop starts its own finish from: it loads as it is, and explains itself.

    Raises
    ------
        BadInput: where `name` will not do, or there is no finish `extends` to start from.
    """
    texts = _all_texts(shelf or {})
    if extends not in texts:
        raise BadInput(_no_such_finish(extends, tuple(texts)))
    if not _NAME.fullmatch(name) or name in texts:
        raise BadInput(
            f"a new finish cannot be called {name!r}: use a free name of small letters, digits "
            "and hyphens, such as 'maple-top-clear'"
        )
    base = load_text(texts[extends], source=extends, shelf=shelf)
    lines = [
        f"# A finish of this shop's own, begun from {extends}. What is not given here is taken",
        "# from there. Give what your product's data sheet gives, one figure at a time: take the",
        "# lines of a figure below, uncomment them, set value, standing and source (which sheet,",
        "# its date). A figure replaces the whole one below it, ends included. Hours are hours at",
        "# the reference climate. The sheet, the label and the local code win over this file.",
        "",
        f"name = {_quoted(name)}",
        f"title = {_quoted(name + ', as its data sheet has it')}",
        f"extends = {_quoted(extends)}",
    ]
    for path, figure in _figures(base).items():
        lines += [
            "",
            f"# {FIGURES[path].meaning}" + (f" [{FIGURES[path].unit}]" * bool(FIGURES[path].unit)),
            f"# [{path}]",
            *(f"# {line}" for line in _figure_lines(figure)),
        ]
        if _is_per_coat(base, path):
            lines.append("# per_coat = true")
    return "\n".join(lines) + "\n"


def describe(finish: Finish) -> list[FigureRow]:
    """List every figure of a finish with its unit, ends, standing and source."""
    return [
        FigureRow(
            key=path,
            value=figure.value,
            unit=FIGURES[path].unit + (" per coat" if _is_per_coat(finish, path) else ""),
            low=figure.low,
            high=figure.high,
            standing=figure.standing,
            source=figure.source,
        )
        for path, figure in _figures(finish).items()
    ]


# --- text to table ------------------------------------------------------------------------------


def _table(text: str, source: str) -> dict[str, object]:
    """Parse TOML, or say where it stops being TOML."""
    try:
        text.encode("utf-8")
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        fault = f"the file is not TOML: {error}; mend that place and read it again"
        raise BadConfig(source, [fault]) from error


def _merged(
    table: dict[str, object],
    shelf: Mapping[str, str],
    faults: list[str],
    above: tuple[str, ...],
) -> tuple[dict[str, object], bool]:
    """Lay a file over the one it extends; False where that one could not be found."""
    without = table.pop("without", None)
    if "extends" not in table:
        if without is not None:
            faults.append("without: says what not to take from a finish, so it needs 'extends'")
        return table, True
    base_name = table.pop("extends")
    texts = _all_texts(shelf)
    if not isinstance(base_name, str) or base_name not in texts:
        faults.append(f"extends: {_no_such_finish(base_name, tuple(texts))}")
        return table, False
    if base_name in above:
        faults.append(f"extends: {' - '.join((*above, base_name))} run in a circle; end it")
        return table, False
    base, whole = _merged(_table(texts[base_name], base_name), shelf, faults, (*above, base_name))
    base["tried"] = False
    base.pop("name", None)
    _leave_out(base, without, faults)
    return _laid_over(base, table), whole


def _laid_over(base: dict[str, object], own: dict[str, object]) -> dict[str, object]:
    """Lay `own` over `base`: figures replace whole figures, safety sentences add up."""
    merged = dict(base)
    for key, found in own.items():
        below = base.get(key)
        if key in GROUPS and isinstance(found, dict) and isinstance(below, dict):
            merged[key] = below | found
        elif key == "safety" and isinstance(found, list) and isinstance(below, list):
            merged[key] = below + [sentence for sentence in found if sentence not in below]
        else:
            merged[key] = found
    return merged


def _leave_out(base: dict[str, object], without: object, faults: list[str]) -> None:
    """Take the paths `without` names out of `base`."""
    if without is None:
        return
    if not isinstance(without, list):
        faults.append(
            f'without: must be a list such as ["hours.recoat-closes"], not {_shown(without)}'
        )
        return
    for path in without:
        group, _, key = path.partition(".") if isinstance(path, str) else ("", "", "")
        holder = base.get(group) if key else base
        removable = path in FIGURES or path == "middle" or path == "drying.solvent"
        if not removable or not isinstance(holder, dict) or (key or group) not in holder:
            faults.append(f"without: the finish it extends gives no {_shown(path)} to leave out")
            continue
        del holder[key or group]


def _entries(table: dict[str, object], page: _Page) -> Iterator[tuple[str, object]]:
    """Walk a table as (path, what stands there), groups opened."""
    for key, found in table.items():
        if key not in GROUPS:
            yield key, found
        elif isinstance(found, dict):
            yield from ((f"{key}.{inner}", value) for inner, value in found.items())
        else:
            page.faults.append(f"{key}: must be a table [{key}], not {_shown(found)}")


# --- one entry at a time ------------------------------------------------------------------------


def _take(path: str, found: object, page: _Page) -> None:
    """Read what stands at `path` into the page."""
    page.given.add(path)
    if path in FIGURES:
        figure = _figure(path, found, page)
        if figure is not None:
            page.figures[path] = figure
    elif path in TEXTS or path == "drying.solvent":
        _take_text(path, found, page)
    elif path == "tried":
        if isinstance(found, bool):
            page.tried = found
        else:
            page.faults.append(f"tried: must be true or false, not {_shown(found)}")
    elif path == "safety":
        _take_safety(found, page)
    else:
        page.faults.append(f"{path}: no such key{_nearest(path, (*FIGURES, *_PLAIN, *GROUPS))}")


def _take_text(path: str, found: object, page: _Page) -> None:
    """Read a text, and hold it to its list where it has one."""
    if not isinstance(found, str) or not found.strip():
        page.faults.append(f"{path}: must be a text in quotes, not {_shown(found)}")
        return
    choices = {"drying.law": tuple(DryingLaw), "drying.solvent": SOLVENTS}.get(path)
    if choices is not None and found not in choices:
        page.faults.append(f"{path}: {_shown(found)} is none of {', '.join(choices)}")
    elif path == "name" and not _NAME.fullmatch(found):
        page.faults.append(
            f"name: {_shown(found)} will not do; use small letters, digits and hyphens, a letter "
            "first, at most 40"
        )
    else:
        page.texts[path] = found.strip()


def _take_safety(found: object, page: _Page) -> None:
    """Read the list of cautions."""
    if not isinstance(found, list) or not found:
        page.faults.append(f"safety: must be a list of sentences, not {_shown(found)}")
        return
    for place, sentence in enumerate(found):
        if not isinstance(sentence, str) or not sentence.strip():
            page.faults.append(f"safety[{place}]: must be a sentence, not {_shown(sentence)}")
            return
    page.safety = tuple(sentence.strip() for sentence in found)


def _figure(path: str, found: object, page: _Page) -> Figure | None:
    """Read one figure's table; None where it has a fault."""
    if not isinstance(found, dict):
        page.faults.append(f"{path}: must be a table {_HOW}, not {_shown(found)}")
        return None
    key = FIGURES[path]
    before = len(page.faults)
    known = ("value", "low", "high", "standing", "source") + ("per_coat",) * key.per_coat
    page.faults += [
        f"{path}.{name}: no such key{_nearest(name, known)}" for name in found if name not in known
    ]
    numbers = {name: _number(path, name, found, page) for name in ("value", "low", "high")}
    standing = _standing(path, found, page)
    source = found.get("source")
    if not isinstance(source, str) or not source.strip():
        page.faults.append(f"{path}.source: say in a sentence where the figure comes from")
        source = ""
    per_coat = found.get("per_coat", False)
    if not isinstance(per_coat, bool):
        page.faults.append(f"{path}.per_coat: must be true or false, not {_shown(per_coat)}")
    _check_ends(path, numbers, page)
    value = numbers["value"]
    if len(page.faults) > before or value is None or standing is None:
        return None
    if per_coat:
        page.per_coat.add(path)
    return Figure(value, standing, numbers["low"], numbers["high"], source.strip())


def _number(path: str, name: str, found: Mapping[str, object], page: _Page) -> float | None:
    """Read one number of a figure and hold it to what its unit can mean."""
    key = FIGURES[path]
    if name not in found:
        if name == "value":
            page.faults.append(f"{path}.value: missing; give the figure{_in_unit(key)}")
        return None
    number = found[name]
    if isinstance(number, bool) or not isinstance(number, int | float):
        page.faults.append(f"{path}.{name}: must be a number, not {_shown(number)}")
    elif not key.least <= number <= key.most:  # also false for nan
        page.faults.append(
            f"{path}.{name}: {_shown(number)} cannot be meant{_in_unit(key)}; plausible is "
            f"{key.least:g} to {key.most:g}"
        )
    else:
        return float(number)
    return None


def _standing(path: str, found: Mapping[str, object], page: _Page) -> Standing | None:
    """Read where a figure comes from, from the one list."""
    word = found.get("standing")
    if isinstance(word, str) and word in tuple(Standing):
        return Standing(word)
    what = "missing" if word is None else f"{_shown(word)} is not on the list"
    near = _nearest(word, tuple(Standing)) if isinstance(word, str) else ""
    page.faults.append(f"{path}.standing: {what}{near}; use one of {', '.join(Standing)}")
    return None


def _check_ends(path: str, numbers: Mapping[str, float | None], page: _Page) -> None:
    """Hold a figure to its own ends."""
    value, low, high = numbers["value"], numbers["low"], numbers["high"]
    if (low is None) != (high is None):
        page.faults.append(f"{path}: give both low and high, or neither")
    elif value is not None and low is not None and high is not None and not low <= value <= high:
        page.faults.append(f"{path}: value {value:g} must lie from low {low:g} to high {high:g}")


# --- the whole page -----------------------------------------------------------------------------


def _law(page: _Page) -> DryingLaw | None:
    """Return the drying law, where one was understood."""
    word = page.texts.get("drying.law")
    return None if word is None else DryingLaw(word)


def _check_missing(page: _Page) -> None:
    """Name every key the profile must give and does not."""
    law = _law(page)
    needed = [*TEXTS, "safety", *(path for path, key in FIGURES.items() if key.always)]
    if law is not None:
        needed += NEEDED[law]
    if law not in (None, DryingLaw.NONE):
        needed += [path for path in FIGURES if path.startswith("cure.")]
    if law is DryingLaw.SOLVENT:
        needed.append("drying.solvent")
    load = {"drying.water_load_g_m2", "drying.water_fraction_to_leave"}
    if load & page.given or (law is DryingLaw.WATER and "hours.recoat-opens" not in page.given):
        needed += sorted(load)
    if {"middle.start_h", "middle.stop_h"} & page.given:
        needed += ["middle.start_h", "middle.stop_h"]
    for path in needed:
        if path not in page.given:
            what = FIGURES[path].meaning if path in FIGURES else TEXTS.get(path, "")
            page.faults.append(f"{path}: missing; add it" + (f" ({what})" if what else ""))


def _check_agreement(page: _Page) -> None:
    """Hold figures to each other and to the law."""
    for rule in ORDERS:
        lower, upper = page.figures.get(rule.lower), page.figures.get(rule.upper)
        if lower is None or upper is None:
            continue
        if (rule.lower in page.per_coat) != (rule.upper in page.per_coat):
            continue  # hours a coat and hours in all cannot be compared without the coats
        if upper.value < lower.value or (rule.strict and upper.value == lower.value):
            page.faults.append(
                f"{rule.upper}: {upper.value:g} does not agree with {rule.lower} "
                f"{lower.value:g}: {rule.because}"
            )
    dew = page.figures.get("limits.surface_dew_stop_k")
    if dew is not None and dew.value < DEW_RULE_K and dew.standing is not Standing.DATA_SHEET:
        page.faults.append(
            f"limits.surface_dew_stop_k: {dew.value:g} K is under the {DEW_RULE_K:g} K rule; only "
            "a data sheet may go below it"
        )
    _check_law(page)


def _check_law(page: _Page) -> None:
    """Name what the drying law has no use for."""
    law = _law(page)
    if law is None:
        return
    idle = []
    if law is not DryingLaw.WATER:
        idle += ["drying.water_load_g_m2", "drying.water_fraction_to_leave"]
    if law is not DryingLaw.SOLVENT:
        idle.append("drying.solvent")
    if law is DryingLaw.NONE:
        idle += [p for p in FIGURES if p.startswith(("cure.", "hours.", "middle."))]
    page.faults += [
        f"{path}: has no meaning under the drying law '{law}'; take it out or change the law"
        for path in idle
        if path in page.given
    ]


def _finish(page: _Page, revision: int) -> Finish:
    """Build the finish from a page without faults."""
    figures, texts = page.figures, page.texts

    def of(group: str) -> dict[str, Figure]:
        head = f"{group}."
        return {p.removeprefix(head): f for p, f in figures.items() if p.startswith(head)}

    cure, middle = of("cure"), of("middle")
    return Finish(
        name=texts["name"],
        title=texts["title"],
        revision=revision,
        tried=page.tried,
        summary=texts["summary"],
        drying=DryingFigures(
            law=DryingLaw(texts["drying.law"]),
            solvent=texts.get("drying.solvent", ""),
            **of("drying"),
        ),
        cure=CureFigures(**cure) if cure else None,
        requirements={
            milestone: Requirement(figures[path], per_coat=path in page.per_coat)
            for milestone in MilestoneName
            if (path := f"hours.{milestone}") in figures
        },
        limits=Limits(**of("limits")),
        missed_window=texts["missed_window"],
        safety=page.safety,
        middle=ForbiddenMiddle(**middle) if middle else None,
        pot_life_h=figures.get("pot_life_h"),
        young_h=figures.get("young_h"),
    )


# --- finish to rows and text --------------------------------------------------------------------


def _figures(finish: Finish) -> dict[str, Figure]:
    """Every figure of a finish by its path, in the order of the key list."""
    found: dict[str, Figure] = {}
    for path in FIGURES:
        group, _, key = path.rpartition(".")
        figure: object
        if group == "hours":
            requirement = finish.requirements.get(MilestoneName(key))
            figure = requirement.hours if requirement else None
        else:
            figure = getattr(getattr(finish, group) if group else finish, key, None)
        if isinstance(figure, Figure):
            found[path] = figure
    return found


def _is_per_coat(finish: Finish, path: str) -> bool:
    """Whether the hours at `path` count for each coat."""
    group, _, key = path.rpartition(".")
    return group == "hours" and finish.requirements[MilestoneName(key)].per_coat


def _figure_lines(figure: Figure) -> list[str]:
    """Write the lines of one figure's table."""
    lines = [f"value = {figure.value!r}"]
    if figure.low is not None and figure.high is not None:
        lines += [f"low = {figure.low!r}", f"high = {figure.high!r}"]
    return [*lines, f"standing = {_quoted(figure.standing)}", f"source = {_quoted(figure.source)}"]


def _quoted(text: str) -> str:
    """Write a text as a TOML basic string (JSON's escapes, and DEL, which TOML also forbids)."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


# --- words for messages -------------------------------------------------------------------------


def _all_texts(shelf: Mapping[str, str]) -> dict[str, str]:
    """Every text `extends` may name; a shipped name always means the shipped one."""
    return {**shelf, **{name: shipped_text(name) for name in shipped_names()}}


def _name_faults(stem: str, text: str) -> list[str]:
    """Say what is wrong with a file's name, its content left to `load_text`."""
    if stem in shipped_names():
        return ["has the name of a profile that comes with curewatch; extend that under a new name"]
    try:
        name = tomllib.loads(text).get("name", stem)
    except (ValueError, RecursionError):
        return []
    return [] if name == stem else [f"is named {_shown(name)} inside; make the two the same"]


def _no_such_finish(name: object, known: tuple[str, ...]) -> str:
    """Say that a finish is not known, and which may be meant."""
    near = _nearest(name, known) if isinstance(name, str) else ""
    return f"there is no finish {_shown(name)}{near}; known are {', '.join(sorted(known))}"


def _nearest(word: str, known: tuple[str, ...]) -> str:
    """Offer the known word that looks most like this one."""
    near = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    return f"; did you mean {near[0]}?" if near else ""


def _in_unit(key: Key) -> str:
    """Name the unit a figure is in."""
    return f" in {key.unit}" if key.unit else ""


def _shown(found: object) -> str:
    """Show what stood there, cut short, as the file has it."""
    if isinstance(found, bool):
        return "true" if found else "false"
    if isinstance(found, float) and not math.isfinite(found):
        return str(found)
    text = f"'{found}'" if isinstance(found, str) else _safe_repr(found)
    return text if len(text) <= 40 else f"{text[:37]}..."


def _safe_repr(found: object) -> str:
    """Show any value; whole numbers too long to print are called that."""
    try:
        return str(found)
    except ValueError:
        return "a number of thousands of digits"
