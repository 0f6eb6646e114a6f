"""Finish files: TOML on the shelf or in a shop's own directory, read into `Finish` and back.

A file holds figures, each a table with its value, its ends where known, its standing and its
source. A shop's own file may say ``extends = "waterborne"`` and give only what its data sheet
gives; a figure it gives replaces the whole figure below, source and ends included, so that no
number ever stands beside another number's source.
"""

from __future__ import annotations

import json
import tomllib
from importlib import resources
from typing import TYPE_CHECKING, Final, NamedTuple

from curewatch.errors import BadConfig, BadInput
from curewatch.finishes.keys import FIGURES, GROUPS, HOURS, IDLE, WATER_LOAD
from curewatch.finishes.page import NAME, finish_of, nearest, read_page, shown
from curewatch.shop.finish import Figure, Finish, MilestoneName

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from curewatch.shop.reading import Standing

Table = dict[str, object]
REMOVABLE: Final = (*FIGURES, "drying.solvent", "pace_prior")
COUNTED: Final = (  # in hours at the reference climate
    *HOURS,
    "pot_life_h",
    "film.diffusivity_um2_h",
    "film.transfer_um_h",
)


class FigureRow(NamedTuple):
    """One figure of a finish as `finish show` lists it."""

    key: str
    value: float
    unit: str
    low: float | None
    high: float | None
    standing: Standing
    source: str


# --- reading ------------------------------------------------------------------------------------


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
    table, whole = _merged(_table(text, source), _all_texts(shelf), faults, ())
    page = read_page(table, faults, whole=whole)
    if page.faults:
        raise BadConfig(source, page.faults)
    return finish_of(page, revision)


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

    The texts' content is left to `load_text`, so that one faulty file does not hide the others.

    Raises
    ------
        BadConfig: where the directory or a file cannot be read, or a file's name will not do.
    """
    texts: dict[str, str] = {}
    faults: list[str] = []
    try:
        files = sorted(file for file in path.iterdir() if file.suffix == ".toml")
    except OSError as error:
        fault = f"the directory of finish files cannot be listed: {error.strerror}; mend its path"
        raise BadConfig(str(path), [fault]) from error
    for file in files:
        try:
            text = file.read_text("utf-8")
        except (OSError, UnicodeDecodeError) as error:
            faults.append(f"{file.name}: cannot be read as UTF-8 text: {error}; save it anew")
            continue
        faults += [f"{file.name}: {fault}" for fault in _name_faults(file.stem, text)]
        texts[file.stem] = text
    if faults:
        raise BadConfig(str(path), faults)
    return texts


# --- writing ------------------------------------------------------------------------------------


def resolved_text(text: str, *, source: str, shelf: Mapping[str, str] | None = None) -> str:
    """Write a finish file out in full, in one settled form: what storage keeps by revision.

    Comments and `extends` are gone; `load_text` reads the result back equal, and two files that
    mean the same have the same text.

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
        *([f"pace_prior = {_quoted(finish.pace_prior)}"] if finish.pace_prior else []),
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
        lines += ["", *_figure_lines(finish, path, figure)]
    return "\n".join(lines) + "\n"


def template(name: str, extends: str, *, shelf: Mapping[str, str] | None = None) -> str:
    """Write the file a shop starts its own finish from: it loads as it is, and explains itself.

    Raises
    ------
        BadInput: where `name` will not do, or there is no finish `extends` to start from.
        BadConfig: where the finish it extends has faults of its own.
    """
    texts = _all_texts(shelf)
    if extends not in texts:
        raise BadInput(_no_such_finish(extends, tuple(texts)))
    if not NAME.fullmatch(name) or name in texts:
        raise BadInput(
            f"a new finish cannot be called {shown(name)}: use a free name of small letters, "
            "digits and hyphens, such as 'maple-top-clear'"
        )
    base = load_text(texts[extends], source=extends, shelf=shelf)
    lines = [
        f"# A finish of this shop's own, begun from {extends}:",
        "# what is not given here comes from there. For each figure your data sheet gives,",
        '# uncomment its lines below, then set value, standing ("data-sheet") and source (which',
        "# sheet, of which date). A figure replaces the whole figure it inherits, low and high",
        "# included. Hours are hours at the reference climate. Label, safety data sheet and local",
        "# code come before anything written here.",
        "",
        f"name = {_quoted(name)}",
        f"title = {_quoted(f'{name} (write what people call it)')}",
        f"extends = {_quoted(extends)}",
    ]
    inherited = _figures(base)
    for path, figure in inherited.items():
        lines += ["", _meaning(path)]
        lines += [f"# {line}" for line in _figure_lines(base, path, figure)]
    idle = IDLE[base.drying.law]
    more = [path for path in FIGURES if path not in inherited and path not in idle]
    lines += ["", "# Not inherited, but your sheet may give them, as tables like those above:"]
    lines += [f"#   {path}: {_meaning(path).removeprefix('# ')}" for path in more]
    lines += ['# To drop an inherited figure, above the first table: without = ["young_h"]']
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


# --- extending ----------------------------------------------------------------------------------


def _table(text: str, source: str) -> Table:
    """Parse TOML, or say where it stops being TOML."""
    try:
        text.encode("utf-8")
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        fault = f"the file is not TOML: {error}; mend that place and read it again"
        raise BadConfig(source, [fault]) from error


def _merged(
    own: Table, texts: Mapping[str, str], faults: list[str], above: tuple[str, ...]
) -> tuple[Table, bool]:
    """Lay a file over the one it extends; False where that one could not be found."""
    without = own.pop("without", None)
    if "extends" not in own:
        if without is not None:
            faults.append("without: leaves out what is inherited, so it needs 'extends'")
        return own, True
    base_name = own.pop("extends")
    if not isinstance(base_name, str) or base_name not in texts:
        faults.append(f"extends: {_no_such_finish(base_name, tuple(texts))}")
        return own, False
    if base_name in above:
        faults.append(f"extends: {' > '.join((*above, base_name))} goes in a circle; break it")
        return own, False
    base_table = _table(texts[base_name], base_name)
    base, whole = _merged(base_table, texts, faults, (*above, base_name))
    for key in ("name", "title", "tried"):  # its own, never inherited
        base.pop(key, None)
    _leave_out(base, without, faults)
    _let_own_recoat_rule_win(base, own)
    _check_reference(base, own, faults)
    return _laid_over(base, own), whole


def _laid_over(base: Table, own: Table) -> Table:
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


def _leave_out(base: Table, without: object, faults: list[str]) -> None:
    """Take the paths that `without` names out of `base`."""
    if without is None:
        return
    if not isinstance(without, list):
        faults.append(
            f'without: must be a list such as ["hours.recoat-closes"], not {shown(without)}'
        )
        return
    faults += [
        f"without: nothing called {shown(path)} is inherited; name figures in full, such as "
        "'hours.recoat-closes'"
        for path in without
        if not (isinstance(path, str) and path in REMOVABLE and _take_away(base, path))
    ]


def _take_away(base: Table, path: str) -> bool:
    """Take one path out of a table; False where it is not there."""
    group, _, key = path.rpartition(".")
    holder = base.get(group) if group else base
    return isinstance(holder, dict) and holder.pop(key, None) is not None


def _let_own_recoat_rule_win(base: Table, own: Table) -> None:
    """Drop the inherited water load where the file gives hours, and the other way about."""
    hours, drying = own.get("hours"), own.get("drying")
    if isinstance(hours, dict) and "recoat-opens" in hours:
        for path in WATER_LOAD:
            _take_away(base, path)
    if isinstance(drying, dict) and any(path.partition(".")[2] in drying for path in WATER_LOAD):
        _take_away(base, "hours.recoat-opens")


def _check_reference(base: Table, own: Table, faults: list[str]) -> None:
    """Name inherited hours that would change their meaning with the file's own reference."""
    left = [path for path in COUNTED if _at(base, path) is not None and _at(own, path) is None]
    for path in ("cure.reference_temp_c", "cure.reference_rh_pct"):
        below, mine = _at(base, path), _at(own, path)
        if not (left and isinstance(below, dict) and isinstance(mine, dict)):
            continue
        if mine.get("value") != below.get("value"):
            faults.append(
                f"{path}: inherited hours are counted at {shown(below.get('value'))}; convert your "
                f"sheet's hours to that and leave this out, or give {', '.join(left)} anew as well"
            )


def _at(table: Table, path: str) -> object:
    """Return what stands at a path, None where nothing does."""
    group, _, key = path.rpartition(".")
    holder = table.get(group) if group else table
    return holder.get(key) if isinstance(holder, dict) else None


# --- finish to lines ----------------------------------------------------------------------------


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


def _meaning(path: str) -> str:
    """Say in a comment what a figure means, with its unit."""
    unit = f" [{FIGURES[path].unit}]" if FIGURES[path].unit else ""
    return f"# {FIGURES[path].meaning}{unit}"


def _is_per_coat(finish: Finish, path: str) -> bool:
    """Whether the hours at `path` count for each coat."""
    group, _, key = path.rpartition(".")
    return group == "hours" and finish.requirements[MilestoneName(key)].per_coat


def _figure_lines(finish: Finish, path: str, figure: Figure) -> list[str]:
    """Write one figure's table."""
    lines = [f"[{path}]", f"value = {figure.value!r}"]
    if figure.low is not None and figure.high is not None:
        lines += [f"low = {figure.low!r}", f"high = {figure.high!r}"]
    if _is_per_coat(finish, path):
        lines.append("per_coat = true")
    return [*lines, f"standing = {_quoted(figure.standing)}", f"source = {_quoted(figure.source)}"]


def _quoted(text: str) -> str:
    """Write a text as a TOML basic string: JSON's escapes, and DEL, which TOML forbids as well."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


# --- names --------------------------------------------------------------------------------------


def _all_texts(shelf: Mapping[str, str] | None) -> dict[str, str]:
    """Every text `extends` may name; a shipped name always means the shipped one."""
    return {**(shelf or {}), **{name: shipped_text(name) for name in shipped_names()}}


def _name_faults(stem: str, text: str) -> list[str]:
    """Say what is wrong with a file's name."""
    if stem in shipped_names():
        return ["has the name of a profile that comes with curewatch; extend that under a new name"]
    try:
        name = tomllib.loads(text).get("name", stem)
    except (ValueError, RecursionError):
        return []
    return [] if name == stem else [f"is named {shown(name)} inside; make the two the same"]


def _no_such_finish(name: object, known: tuple[str, ...]) -> str:
    """Say that a finish is not known, and which may be meant."""
    near = nearest(name, known) if isinstance(name, str) else ""
    return f"there is no finish {shown(name)}{near}; known are {', '.join(sorted(known))}"
