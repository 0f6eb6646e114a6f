"""The page of validation tells what the tests of science check today."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.validation_page import (
    KNOWN_AHEAD,
    PAGE,
    REPORTED,
    SCIENCE,
    Agreement,
    Ahead,
    read,
    read_ahead,
    reporting_tests,
    worst_of_each,
    written,
)

TEXT = PAGE.read_text(encoding="utf-8")
ON_PAGE = {(row.file, row.check): row for row in read(TEXT)}
STALE = "docs/validation.md is stale: run `make validation`"
SPREAD = Agreement("test_a", "test_b", "dew point", "a handbook", "0.02 K", 0.0123, "K", 5, "Air")
RANK = replace(SPREAD, check="order", tolerance="at least 0.9", measured=0.95, unit="")
SHARE = replace(SPREAD, check="band", tolerance="75 to 85 %", measured=78.04, unit="%")


# The page, as it was written, and what this run measured


def test_the_page_reads_back_row_for_row() -> None:
    lines = [line for line in TEXT.splitlines() if line.startswith("| [")]
    assert len(ON_PAGE) == len(lines) > 0
    assert [row.line() for row in read(TEXT)] == lines
    assert all(row.within for row in ON_PAGE.values())


@pytest.mark.parametrize("file", sorted(path.stem for path in SCIENCE.glob("test_*.py")))
def test_the_page_names_just_the_tests_that_report(file: str) -> None:
    named = {row.test for row in ON_PAGE.values() if row.file == file}
    assert named == reporting_tests(file), STALE


def test_the_page_names_no_file_that_is_gone() -> None:
    assert {row.file for row in ON_PAGE.values()} <= {p.stem for p in SCIENCE.glob("test_*.py")}


def test_what_this_run_reported_is_what_the_page_says(request: pytest.FixtureRequest) -> None:
    """Where a part of the tests ran, that part; the tests of science run before this one."""
    ran = {
        (item.path.stem, getattr(item, "originalname", ""))
        for item in request.session.items
        if item.path.parent == SCIENCE
    }
    today = {
        (row.file, row.check): row for row in worst_of_each(request.config.stash.get(REPORTED, []))
    }
    listed = {key for key, row in ON_PAGE.items() if (row.file, row.test) in ran}
    assert set(today) == listed, STALE
    for key, row in today.items():
        page = ON_PAGE[key]
        assert (row.test, row.source, row.tolerance) == (page.test, page.source, page.tolerance), (
            STALE
        )
        assert row.within


def test_the_page_tells_how_well_rooms_are_known_as_this_run_found_it(
    request: pytest.FixtureRequest,
) -> None:
    """Where the hindcasts ran; by the tenth, as written, and another machine's last digit."""
    on_page = {row.key: row for row in read_ahead(TEXT)}
    assert len(on_page) == TEXT.count(" h | ")
    assert {place.split()[0] for place, _, _ in on_page} == {"Greensboro", "Sand", "an"}
    for row in request.config.stash.get(KNOWN_AHEAD, []):
        page = on_page.get(row.key)
        assert page is not None, STALE
        assert page.windows == row.windows, STALE
        for name in ("held_pct", "error_pct", "as_now_pct", "mean_24h_pct"):
            assert getattr(page, name) == pytest.approx(getattr(row, name), abs=0.2), STALE


# How rows are held, written and read


def test_a_row_on_a_room_ahead_is_written_once_and_reads_back() -> None:
    row = Ahead("a loft", "mild", 24, 15, 79.96, 4.44, 6.0, 5.5)
    page = written([SPREAD], [row, row])
    assert page.count("a loft") == 1
    assert read_ahead(page) == [replace(row, held_pct=80.0, error_pct=4.4)]
    assert len(read(page)) == 1
    assert read_ahead(written([SPREAD])) == []


def test_a_measured_value_is_within_its_tolerance_up_to_its_ends() -> None:
    assert SPREAD.within
    assert replace(SPREAD, measured=0.02).within
    assert not replace(SPREAD, measured=0.0201).within
    assert RANK.within
    assert not replace(RANK, measured=0.89).within
    assert SHARE.within
    assert not replace(SHARE, measured=74.9).within
    assert not replace(SHARE, measured=85.1).within


def test_of_several_reports_of_one_check_the_worst_stays_with_all_their_values() -> None:
    rows = [SPREAD, replace(SPREAD, measured=0.001, n=7)]
    assert worst_of_each(rows) == [replace(SPREAD, n=12)]
    (rank,) = worst_of_each([RANK, replace(RANK, measured=0.92)])
    assert rank.measured == 0.92
    (share,) = worst_of_each([replace(SHARE, measured=84.0), SHARE])
    assert share.measured == 84.0


def test_one_name_for_two_checks_is_refused() -> None:
    with pytest.raises(ValueError, match="two sources or tolerances"):
        worst_of_each([SPREAD, replace(SPREAD, tolerance="0.05 K")])


def test_the_page_is_sorted_and_to_two_digits_whatever_the_order_of_the_tests() -> None:
    rows = [SPREAD, RANK, SHARE]
    page = written(rows)
    assert page == written(rows[::-1])
    assert re.findall(r"\| ([^|]+) \| 5 \|", page) == ["78 %", "0.012 K", "0.95"]
    assert [row.check for row in read(page)] == ["band", "dew point", "order"]
    assert read(page)[1] == replace(SPREAD, measured=0.012, about="")


@pytest.mark.parametrize(
    "wrong",
    [
        {"measured": float("nan")},
        {"n": 0},
        {"tolerance": "small"},
        {"tolerance": "0.02 degC"},
        {"source": ""},
        {"check": "a | b"},
    ],
)
def test_a_report_that_cannot_be_held_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"dew point|a handbook|a \| b"):
        replace(SPREAD, **wrong)


def test_the_machines_rounding_is_written_as_nothing() -> None:
    assert "| 0 K | 5 |" in replace(SPREAD, measured=1.7e-13).line()
    assert "| 2e-12 K | 5 |" in replace(SPREAD, measured=2e-12).line()
