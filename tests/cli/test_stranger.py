"""What a user hears who may not look: never a silence, and never 'there is none'."""

from __future__ import annotations

import os
import shutil
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.cli.conftest import Curewatch

NOBODY = 65534


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """Return a folder that everybody may look into."""
    folder = Path(tempfile.mkdtemp(prefix="curewatch-"))
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


@contextmanager
def stranger() -> Iterator[None]:
    """Be somebody without rights inside; root may always look."""
    was = os.geteuid(), os.getegid()
    if was[0] == 0:
        os.setegid(NOBODY)
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if was[0] == 0:
            os.seteuid(was[0])
            os.setegid(was[1])


def lay(folder: Path, closed: str) -> Path:
    """Lay a shop's files with one directory that is closed; return the configuration."""
    for name in ("etc", "var"):
        (folder / name).mkdir()
    config = folder / "etc" / "shop.toml"
    config.write_text(
        f'[site]\nname = "x"\ntimezone = "UTC"\n[storage]\npath = "{folder}/var/shop.db"\n'
    )
    (folder / closed).chmod(0o000)
    return config


@pytest.mark.parametrize(
    ("closed", "status", "says"), [("etc", 2, "shop.toml"), ("var", 1, "database")]
)
def test_every_command_says_that_it_may_not_look(
    curewatch: Curewatch, open_folder: Path, closed: str, status: int, says: str
) -> None:
    curewatch("status")  # what is imported late is imported now
    config = lay(open_folder, closed)
    with stranger():
        said = curewatch("--config", str(config), "status", status=status)
    (open_folder / closed).chmod(0o755)
    assert says in said.complaint
    assert "this user may not look there" in said.complaint


@pytest.mark.parametrize("closed", ["etc", "var"])
def test_doctor_says_so_too_and_goes_on(
    curewatch: Curewatch, open_folder: Path, tmp_path: Path, closed: str
) -> None:
    curewatch("doctor", "--packet", str(tmp_path / "p.zip"), status=None)
    config = lay(open_folder, closed)
    with stranger():
        said = curewatch("--config", str(config), "doctor", "--json", status=1)
    (open_folder / closed).chmod(0o755)
    assert "this user may not look there" in said.out
