"""Finding and reading the configuration file, and laying the environment over it."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

from pydantic_settings import EnvSettingsSource, SettingsError

from curewatch.errors import BadConfig
from curewatch.settings.agreement import check_agreement, openness
from curewatch.settings.faults import Table, examine, near
from curewatch.settings.kinds import with_kinds
from curewatch.settings.tables import Settings

PREFIX = "CUREWATCH_"
POINTS_TO_FILE = "CUREWATCH_CONFIG"
USUAL_PLACES = (Path("curewatch.toml"), Path("/etc/curewatch/curewatch.toml"))
ENVIRONMENT = "the environment"


def load_settings(path: Path | None = None) -> Settings:
    """Read the configuration.

    Parameters
    ----------
    path
        The file; when None the one CUREWATCH_CONFIG names, else ./curewatch.toml, else
        /etc/curewatch/curewatch.toml, else the defaults without any file.

    Raises
    ------
    BadConfig
        Naming every fault with its key path and how to mend it.
    """
    source = _file(path)
    table = {} if source is None else _table(source)
    root = Path.cwd() if source is None else source.parent
    environment, faults, warnings = _environment()
    given = with_kinds(_laid_over(table, environment))
    found = examine(given)
    check_agreement(found, given, root)
    faults += [_with_variable(fault, environment) for fault in found.faults]
    if faults:
        raise BadConfig(str(source or ENVIRONMENT), faults)
    settings = _rooted(Settings.model_validate(given), root)
    if source is not None:
        notify = table.get("notify")
        if isinstance(notify, dict) and notify.get("urls"):
            warnings += openness(source, "notify.urls")
        warnings += found.warnings
    settings._source = source  # noqa: SLF001 - this is what makes them
    settings._warnings = tuple(warnings)  # noqa: SLF001 - same
    return settings


def _file(path: Path | None) -> Path | None:
    """Find the file; one that was asked for must be there."""
    named = os.environ.get(POINTS_TO_FILE)
    if path is None and named:
        path = Path(named)
        asked = f"{POINTS_TO_FILE} names it"
    elif path is None:
        return next((place.absolute() for place in USUAL_PLACES if _is_there(place)), None)
    else:
        asked = "it was asked for"
    if not _is_there(path):
        raise BadConfig(
            str(path), [f"there is no such file, though {asked}; make it, or correct the path"]
        )
    return path.absolute()


def _is_there(path: Path) -> bool:
    """Whether there is such a file; one that may not be looked at must not pass for none."""
    try:
        return path.is_file()
    except PermissionError:
        fault = "this user may not look there: run as the daemon's user or one of its group"
        raise BadConfig(str(path), [fault]) from None


def _table(source: Path) -> Table:
    """Parse the file, or say where it stops being TOML."""
    try:
        return tomllib.loads(source.read_text(encoding="utf-8-sig"))
    except OSError as error:
        fault = f"it cannot be read: {error.strerror}; see that this user may read it"
    except UnicodeDecodeError as error:
        fault = f"byte {error.start + 1} is not UTF-8 text; save the file as UTF-8"
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        fault = f"it is not TOML: {error}; mend that place and try again"
    raise BadConfig(str(source), [fault])


def _environment() -> tuple[Table, list[str], list[str]]:
    """Read what the environment overrides, its faults, and what looks like a slip of the pen."""
    warnings = []
    tables = Settings.model_fields
    for name in sorted(os.environ):
        table = name.upper().removeprefix(PREFIX).partition("__")[0].lower()
        if name.upper().startswith(PREFIX) and name != POINTS_TO_FILE and table not in tables:
            warnings.append(f"{name} in {ENVIRONMENT} is not used{near(table, tables)}")
    try:
        return EnvSettingsSource(Settings)(), [], warnings
    except SettingsError as error:
        table = str(error).partition('field "')[2].partition('"')[0]
        fault = (
            f"{table}: a variable {PREFIX}{table.upper()}... in {ENVIRONMENT} is not JSON; write "
            """lists as '["one", "two"]' and tables as '{"key": "value"}'"""
        )
        return {}, [fault], warnings


def _laid_over(table: Table, environment: Table) -> Table:
    """Lay the environment over the file, key by key within a table."""
    merged = dict(table)
    for name, above in environment.items():
        below = table.get(name)
        both = isinstance(below, dict) and isinstance(above, dict)
        merged[name] = {**below, **above} if both else above  # type: ignore[dict-item]
    return merged


def _with_variable(fault: str, environment: Table) -> str:
    """Say which variable a fault comes from, where it does not come from the file."""
    table, _, key = fault.partition(":")[0].partition(" ")[0].partition("[")[0].partition(".")
    above = environment.get(table)
    if isinstance(above, dict) and key in above:
        return f"{fault} (set by {PREFIX}{table.upper()}__{key.upper()})"
    return fault


def _rooted(settings: Settings, root: Path) -> Settings:
    """Let every relative path start where the file lies."""
    changed = {}
    for name in ("storage", "broker", "kernel", "finishes", "notify", "influx"):
        table = getattr(settings, name)
        paths = {key: root / value for key, value in table if isinstance(value, Path)}
        changed[name] = table.model_copy(update=paths)
    return settings.model_copy(update=changed)
