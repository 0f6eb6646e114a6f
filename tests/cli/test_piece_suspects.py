"""`piece suspects`: what the record around a coat says of why it went white."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Curewatch, StoresClimate


def hang(curewatch: Curewatch, finish: str, *coats: str, since: str = "9d ago") -> None:
    curewatch("piece", "hang", "A1", "--finish", finish, "--room", "drying", "--at", since)
    for at in coats:
        curewatch("coat", "A1", "--at", at)


def test_damp_air_around_a_lacquer_is_told_with_numbers_and_no_diagnosis(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(temp_c=24.0, rh_pct=93.0)
    hang(curewatch, "nitro-lacquer", "3d ago")
    said = curewatch("piece", "suspects", "A1")
    assert said.narrow()
    assert "A1, coat 1 of Nitrocellulose lacquer, laid Mon 2 Mar 12:00 in drying" in said.flat
    assert "1. blush (past its limit): thinned with usual lacquer thinner" in said.flat
    assert "These are suspects, no diagnosis." in said.flat
    assert "No logger sees:" in said.flat
    assert "solvent balance" in said.flat
    assert "readings cover 100 % of it" in said.flat
    assert "no gas detector" in said.flat


def test_scripts_are_told_the_same(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(temp_c=24.0, rh_pct=93.0)
    hang(curewatch, "nitro-lacquer", "4d ago", "3d ago")
    found = curewatch("piece", "suspects", "A1", "--coat", "1", "--json").plain
    assert (found["piece"], found["coat"], found["finish"]) == ("A1", 1, "nitro-lacquer")
    assert found["coat_at"] == "2026-03-01T12:00:00.000Z"
    assert found["from"] == "2026-03-01T11:30:00.000Z"
    assert found["to"] == "2026-03-01T22:00:00.000Z"
    assert found["coverage_pct"] == 100.0
    first = found["suspects"][0]
    assert (first["suspect"], first["weight"], first["unit"]) == ("blush", "strong", "K")
    assert first["value"] < first["limit"] == 0.0
    assert {one["suspect"] for one in found["clean"]} == {"cold", "coat-early", "gap"}
    assert found["unknown"] == []
    assert found["not_seen"]
    assert found["safety"]


def test_a_clean_record_says_so(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(temp_c=22.0, rh_pct=45.0)
    hang(curewatch, "waterborne", "3d ago")
    said = curewatch("piece", "suspects", "A1")
    assert "The record looks clean" in said.flat
    assert "Looks clean: - cold-film: the wet film cooled itself to" in said.flat
    assert said.narrow()


def test_a_record_that_begins_later_says_that_nothing_was_measured(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(days=1.0)
    hang(curewatch, "waterborne", "3d ago", since="4d ago")
    said = curewatch("piece", "suspects", "A1")
    assert "Nothing was measured around this coat" in said.flat
    assert "Cannot be told:" in said.flat
    assert said.narrow()


def test_the_half_hour_before_the_first_coat_is_read_however_old_it_is(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(days=30.0)
    hang(curewatch, "waterborne", "25d ago", since="26d ago")
    found = curewatch("piece", "suspects", "A1", "--json").plain
    assert found["coverage_pct"] == 100.0


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("A1", "--coat", "2"), "A1 has no coat 2: give 1 to 1"),
        (("A2",), "A2"),
        (("A1", "--coat", "x"), "'x' is not a whole number"),
    ],
)
def test_what_is_not_there_is_refused(
    curewatch: Curewatch, climate: StoresClimate, words: tuple[str, ...], complaint: str
) -> None:
    climate()
    hang(curewatch, "waterborne", "3d ago")
    assert complaint in curewatch("piece", "suspects", *words, status=2).complaint


def test_a_piece_without_a_coat_is_told_how_to_log_one(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate()
    hang(curewatch, "waterborne")
    assert "curewatch coat A1" in curewatch("piece", "suspects", "A1", status=2).complaint
