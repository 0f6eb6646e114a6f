"""What every command stands on: a database made when there is none, and what 'now' is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.cli.main import main
from curewatch.storage import Store

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.fixture
def fresh(shop_config: Path) -> Path:
    """Return where the database of a shop goes that was never watched."""
    path = shop_config.parent / "shop.db"
    path.unlink()
    for side in shop_config.parent.glob("shop.db-*"):
        side.unlink()
    return path


def test_the_first_command_makes_the_database_and_says_so(
    curewatch: Curewatch, fresh: Path
) -> None:
    said = curewatch("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying")
    assert f"there was no database at {fresh} yet; an empty one was made" in said.complaint
    assert curewatch("piece", "list").err == ""
    with Store.open(fresh) as store:
        assert store.pieces.load("A1").tag == "A1"


def test_a_command_that_shows_works_before_the_first_run_too(
    curewatch: Curewatch, fresh: Path
) -> None:
    said = curewatch("room", "list", "--json")
    assert [room["room"] for room in said.plain["rooms"]] == ["spray", "drying"]
    assert "an empty one was made" in said.complaint
    assert fresh.exists()


def test_a_backup_of_nothing_is_refused_and_makes_nothing(
    curewatch: Curewatch, fresh: Path, tmp_path: Path
) -> None:
    said = curewatch("backup", str(tmp_path / "copy.db"), status=1)
    assert f"there is no database at {fresh} yet" in said.complaint
    assert not fresh.exists()


def test_without_a_configuration_no_database_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "elsewhere" / "shop.db"
    monkeypatch.delenv("CUREWATCH_CONFIG", raising=False)
    monkeypatch.setattr("curewatch.settings.load.USUAL_PLACES", ())
    monkeypatch.setenv("CUREWATCH_STORAGE__PATH", str(path))
    assert main(["piece", "list"]) == 1
    assert "name the shop's configuration with --config" in " ".join(
        capsys.readouterr().err.split()
    )
    assert not path.parent.exists()


def test_what_root_makes_belongs_to_the_owner_of_its_directory(
    curewatch: Curewatch, fresh: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given: list[tuple[int, int]] = []
    monkeypatch.setattr("os.geteuid", lambda: 0)
    monkeypatch.setattr("os.fchown", lambda _, owner, group: given.append((owner, group)))
    curewatch("piece", "list")
    folder = fresh.parent.stat()
    assert given == [(folder.st_uid, folder.st_gid)]


def test_room_and_check_say_what_now_is_where_the_clock_follows_the_readings(
    curewatch: Curewatch, climate: StoresClimate, monkeypatch: pytest.MonkeyPatch
) -> None:
    never = curewatch("check", "drying", "--finish", "waterborne", status=None).flat
    assert "is the newest reading here" not in never
    climate()
    commands = (("room", "show", "drying"), ("check", "drying", "--finish", "waterborne"))
    for words in commands:
        said = curewatch(*words, status=None).flat
        assert "'Now' is the newest reading here, 2026-03-05 12:00" in said
    monkeypatch.setenv("CUREWATCH_CLOCK__SOURCE", "system")
    for words in commands:
        assert "is the newest reading here" not in curewatch(*words, status=None).flat
