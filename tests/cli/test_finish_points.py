"""Activation energy from a data sheet's times, shown and written."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

import pytest

from curewatch.cli.finish_points import Point, point_of
from curewatch.errors import BadInput

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Curewatch

# By hand: 1/291.15 - 1/298.15 = 8.06392e-5; R ln(72/40) = 4.887130; 4.887130/8.06392e-5.
BY_HAND_KJ_MOL = 60.6049
TWO = ("finish", "sheet-points", "waterborne", "18=72", "25=40")


def test_two_times_give_the_energy_worked_by_hand(curewatch: Curewatch) -> None:
    plain = curewatch(*TWO, "--json").plain
    assert plain["ea_kj_mol"] == pytest.approx(BY_HAND_KJ_MOL, rel=1e-5)
    assert plain["standard_error_kj_mol"] is None
    # By hand: the same with 71.5 over 40.5 and 72.5 over 39.5 hours.
    assert plain["rounding_low_kj_mol"] == pytest.approx(58.6055, rel=1e-5)
    assert plain["rounding_high_kj_mol"] == pytest.approx(62.6154, rel=1e-5)
    at_18 = next(row for row in plain["hours_per_reference_hour"] if row["temp_c"] == 18.0)
    at_25 = next(row for row in plain["hours_per_reference_hour"] if row["temp_c"] == 25.0)
    assert at_18["by_the_sheet"] / at_25["by_the_sheet"] == pytest.approx(72.0 / 40.0, rel=1e-3)
    assert plain["changes"][0]["before"]["value"] == 55.0
    assert plain["written"] is None


def test_in_words_it_says_that_two_points_know_no_error(curewatch: Curewatch) -> None:
    said = curewatch(*TWO)
    assert said.narrow()
    assert "2 times of the sheet give an activation energy of 60.6 kJ/mol" in said.flat
    assert "two points fit exactly" in said.flat
    assert "between 58.6 and 62.6" in said.flat
    assert "Nothing was written." in said.flat


def test_three_times_give_a_standard_error(curewatch: Curewatch) -> None:
    plain = curewatch("finish", "sheet-points", "waterborne", "15=96", "20=66", "30=27", "--json")
    assert 0.0 < plain.plain["standard_error_kj_mol"] < 20.0
    said = curewatch("finish", "sheet-points", "waterborne", "15=96", "20=66", "30=27")
    assert "standard error" in said.flat


def test_it_is_written_as_a_data_sheet_s_figure(curewatch: Curewatch, shop_config: Path) -> None:
    words = (*TWO, "--write", "may-clear", "--sheet", "invented sheet of May 2026")
    said = curewatch(*words)
    path = shop_config.parent / "finishes" / "may-clear.toml"
    assert "kept as revision 1" in said.flat
    figure = tomllib.loads(path.read_text("utf-8"))["cure"]["ea_kj_mol"]
    assert (figure["value"], figure["low"], figure["high"]) == (60.6, 58.6, 62.6)
    assert figure["standing"] == "data-sheet"
    assert figure["source"].startswith("invented sheet of May 2026: 72 h at 18 degC, 40 h at 25")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("18=72", Point(18.0, 72.0, 0.5)),
        ("25C=40.5h", Point(25.0, 40.5, 0.05)),
        ("-5=3d", Point(-5.0, 72.0, 12.0)),
        ("50F=1", Point(10.0, 1.0, 0.5)),
        ("20=0.5d", Point(20.0, 12.0, 1.2)),
    ],
)
def test_a_point_is_a_temperature_and_a_time(text: str, expected: Point) -> None:
    found = point_of(text)
    assert found.temp_c == pytest.approx(expected.temp_c)
    assert (found.hours, found.half_step_h) == pytest.approx((expected.hours, expected.half_step_h))


@pytest.mark.parametrize("text", ["18", "18:72", "18=", "=72", "18=72w", "18=0", "warm=72"])
def test_what_is_no_point_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match=r"no point of a sheet|must be above nought"):
        point_of(text)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("waterborne", "18=72"), "give two points or more"),
        (("waterborne", "18=40", "25=72"), "do not grow shorter"),
        (("waterborne", "18=72", "18.5=70"), "within 1 K of each other"),
        (("dose-cured", "18=72", "25=40"), "cured by dose"),
        (("waterborne", "18=72", "25=40", "--write", "x"), "--write needs --sheet"),
        (("waterborne", "18=72", "18=72", "25=40", "--write", "--sheet", "May"), "not changed"),
    ],
)
def test_what_gives_no_energy_is_said(
    curewatch: Curewatch, words: tuple[str, ...], told: str
) -> None:
    said = curewatch("finish", "sheet-points", *words, status=None)
    assert said.status == 2
    assert told in said.complaint


WRITE = ("--sheet", "invented sheet of May 2026", "--write")


def test_the_shop_s_own_profile_is_changed_only_where_its_old_text_can_be_kept(
    curewatch: Curewatch, shop_config: Path
) -> None:
    path = shop_config.parent / "finishes" / "mine.toml"
    before = 'name = "mine"\ntitle = "mine"\nextends = "waterborne"\n'
    path.write_text(before, encoding="utf-8")
    own = ("finish", "sheet-points", "mine", "18=72", "25=40", *WRITE)
    (shop_config.parent / "shop.db").rename(shop_config.parent / "aside.db")
    said = curewatch(*own, status=2)
    assert "there is no database to keep what it says now" in said.complaint
    assert path.read_text("utf-8") == before
    new = curewatch(*own, "other", "--json").plain
    assert (new["revision"], new["written"]) == (None, str(path.with_name("other.toml")))
    (shop_config.parent / "aside.db").rename(shop_config.parent / "shop.db")
    assert curewatch(*own, "--json").plain["revision"] == 2
    assert path.read_text("utf-8").startswith(before)


def test_a_shop_without_a_place_for_profiles_is_told_so(
    curewatch: Curewatch, shop_config: Path
) -> None:
    text = shop_config.read_text("utf-8").replace('directory = "finishes"', "")
    shop_config.write_text(text, encoding="utf-8")
    said = curewatch(*TWO, *WRITE, "mine", status=2)
    assert "set [finishes] directory" in said.complaint


def test_a_place_that_takes_no_file_is_named(curewatch: Curewatch, shop_config: Path) -> None:
    (shop_config.parent / "finishes").rmdir()
    (shop_config.parent / "finishes").symlink_to(shop_config.parent / "elsewhere")
    (shop_config.parent / "elsewhere").mkdir()
    (shop_config.parent / "elsewhere" / "mine.toml.new").mkdir()
    own = shop_config.parent / "elsewhere" / "mine.toml"
    own.write_text('name = "mine"\ntitle = "mine"\nextends = "waterborne"\n', encoding="utf-8")
    said = curewatch("finish", "sheet-points", "mine", "18=72", "25=40", *WRITE, status=2)
    assert "mine.toml cannot be written" in said.complaint
