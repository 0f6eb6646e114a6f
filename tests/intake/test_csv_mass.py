"""A scale's file: times and masses, whatever it is cut with."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.errors import BadInput
from curewatch.intake.csv_mass import read_masses

if TYPE_CHECKING:
    from pathlib import Path

T0_MS = 1_772_668_800_000  # 2026-03-05 00:00 UTC


def written(folder: Path, *lines: str) -> Path:
    path = folder / "scale.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_masses_are_read_in_their_unit_and_sorted_by_time(tmp_path: Path) -> None:
    path = written(tmp_path, "when;mg", "2026-03-05 00:01;120500,5", "2026-03-05 00:00;121000")
    log = read_masses(path, time="when", mass="MG", unit="mg")
    assert log.times_ms.tolist() == [T0_MS, T0_MS + 60_000]
    assert log.mass_g.tolist() == pytest.approx([121.0, 120.5005])
    assert log.skipped == ()


def test_rows_without_a_time_or_a_mass_are_left_out_and_told(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        *("when,g", "2026-03-05T00:00,121", "2026-03-05T00:01,", "soon,120", "2026-03-05T00:02"),
        *("2026-03-05T00:03,nan", "2026-03-05T00:00,999", "2026-03-05T00:04,120"),
    )
    log = read_masses(path, time="when", mass="g", zone="UTC")
    assert log.mass_g.tolist() == [121.0, 120.0]  # of one instant written twice the first
    assert [row.line for row in log.skipped] == [3, 4, 5, 6]


def test_a_file_of_another_zone_is_read_in_it(tmp_path: Path) -> None:
    path = written(tmp_path, "when,g", "2026-03-05T01:00,121")
    log = read_masses(path, time="when", mass="g", zone="Europe/Berlin")
    assert log.times_ms.tolist() == [T0_MS]


@pytest.mark.parametrize(
    ("lines", "how", "told"),
    [
        (("when,g", "2026-03-05T00:00,x"), {}, "no row has both a time and a mass"),
        (("when,g",), {}, "no row"),
        (("when,g", "2026-03-05T00:00,1"), {"mass": "kg"}, "there is no column 'kg'"),
        (("when,g", "2026-03-05T00:00,1"), {"unit": "lb"}, "units of mass 'g', 'mg', 'kg', 'oz'"),
        (("when,g", "2026-03-05T00:00,1"), {"zone": "Nowhere"}, "no time zone is called"),
    ],
)
def test_what_cannot_be_read_is_said(
    tmp_path: Path, lines: tuple[str, ...], how: dict[str, str], told: str
) -> None:
    with pytest.raises(BadInput, match=told):
        read_masses(written(tmp_path, *lines), **{"time": "when", "mass": "g", **how})
