"""The mirror's settings: its token and what vouches for its server."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadConfig
from curewatch.settings import Settings, load_settings
from tests.small_shop import CONFIG

if TYPE_CHECKING:
    from pathlib import Path

INFLUX = """
[influx]
url = "https://points.example.org:8086"
org = "yard"
bucket = "shop"
token_file = "token"
"""


def shop(folder: Path, token: str, further: str = "") -> Settings:
    (folder / "token").write_text(token, "utf-8")
    (folder / "token").chmod(0o600)
    path = folder / "curewatch.toml"
    path.write_text(CONFIG + INFLUX + further, "utf-8")
    return load_settings(path)


def test_a_token_is_read_without_the_line_break_behind_it(tmp_path: Path) -> None:
    assert shop(tmp_path, "an-invented-token==\n").influx_token() == "an-invented-token=="


@pytest.mark.parametrize("token", ["", " \n", "one\ntwo", "t\u00f6ken", "a\tb"])
def test_a_file_that_does_not_hold_a_token_alone_is_refused(tmp_path: Path, token: str) -> None:
    with pytest.raises(BadConfig, match="must hold the token alone, on one line") as caught:
        shop(tmp_path, token).influx_token()
    assert "two" not in str(caught.value)  # a secret is not repeated


def test_an_authority_of_ones_own_is_found_beside_the_file(tmp_path: Path) -> None:
    (tmp_path / "own.pem").write_text("invented", "utf-8")
    settings = shop(tmp_path, "t", 'ca_file = "own.pem"\n')
    assert settings.influx.ca_file == tmp_path / "own.pem"


def test_an_authority_that_is_not_there_is_a_fault(tmp_path: Path) -> None:
    with pytest.raises(BadConfig, match=r"influx\.ca_file"):
        shop(tmp_path, "t", 'ca_file = "none.pem"\n')


@pytest.mark.parametrize("minutes", ["0", "1441", "1.5"])
def test_states_are_kept_at_least_once_a_day_and_at_most_once_a_minute(
    tmp_path: Path, minutes: str
) -> None:
    with pytest.raises(BadConfig, match="states_every_min"):
        shop(tmp_path, "t", f"states_every_min = {minutes}\n")
