"""The page on the configuration cannot fall behind the keys there are."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from curewatch.settings import load_settings
from curewatch.settings.sensor_tables import KindTable, SensorTable
from curewatch.settings.tables import RoomTable, Settings
from curewatch.shop.alert import AlertKind

if TYPE_CHECKING:
    from pydantic import BaseModel
    from pydantic.fields import FieldInfo

REPOSITORY = Path(__file__).parents[1]
ROW = re.compile(r"^\| `([a-z]+\.[a-z_]+)` \| (.+?) \| (.+?) \| (.+) \|$", re.MULTILINE)
PAGE = (REPOSITORY / "docs" / "configuration.md").read_text(encoding="utf-8")
TABLES: dict[str, type[BaseModel]] = {
    "room": RoomTable,
    "sensor": SensorTable,
    **{
        name: type(info.default)
        for name, info in Settings.model_fields.items()
        if not isinstance(info.default, tuple)
    },
}
FIELDS = {
    f"{table}.{key}": info
    for table, model in TABLES.items()
    for key, info in model.model_fields.items()
}


def test_the_page_lists_every_key_once_in_the_order_of_the_tables() -> None:
    listed = [found[0] for found in ROW.findall(PAGE)]
    by_table = [
        key for name in Settings.model_fields for key in FIELDS if key.startswith(f"{name}.")
    ]
    assert listed == by_table


@pytest.mark.parametrize("row", ROW.findall(PAGE), ids=lambda row: row[0])
def test_the_page_gives_the_default_that_holds(row: tuple[str, str, str, str]) -> None:
    key, _, default, _ = row
    info: FieldInfo = FIELDS[key]
    if default == "required":
        assert info.is_required()
    elif default.startswith("("):
        assert info.default_factory is not None or info.get_default() is None
    elif default == "none":
        assert info.get_default() is None
        assert not info.is_required()
    else:
        written = tomllib.loads(f"value = {default.strip('`')}")["value"]
        assert written == json.loads(json.dumps(info.get_default(), default=str))


def test_the_page_names_every_kind_that_can_be_muted() -> None:
    (meaning,) = [found[3] for found in ROW.findall(PAGE) if found[0] == "notify.mute"]
    assert re.findall(r"`([a-z-]+)`", meaning) == [kind.value for kind in AlertKind]


def test_the_example_shows_every_key_in_use_or_commented_out() -> None:
    example = (REPOSITORY / "config" / "curewatch.toml").read_text(encoding="utf-8")
    shown: set[str] = set()
    table = ""
    for line in example.splitlines():
        if heading := re.match(r"(?:# )?\[\[?([a-z]+)\]", line):
            table = heading[1]
        elif key := re.match(r"(?:# )?([a-z_]+) = ", line):
            shown.add(f"{table}.{key[1]}")
    kinds = {key for key in shown if key.startswith("kind.")}
    assert kinds <= {f"kind.{key}" for key in KindTable.model_fields}
    assert shown - kinds == set(FIELDS)


@pytest.mark.parametrize("snippet", re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL))
def test_every_snippet_of_the_page_can_be_used(tmp_path: Path, snippet: str) -> None:
    rooms = '[site]\ntimezone = "UTC"\n[[room]]\nname = "loft"\n'
    (tmp_path / "curewatch.toml").write_text(rooms + snippet, encoding="utf-8")
    assert load_settings(tmp_path / "curewatch.toml").sensor


def test_a_kind_may_say_what_the_page_says_it_may() -> None:
    listed = [found[0].partition(".")[2] for found in ROW.findall(PAGE) if "sensor." in found[0]]
    shared = listed[listed.index("report_every_min") :]
    assert set(shared) | {"name", "topic"} == set(KindTable.model_fields)
