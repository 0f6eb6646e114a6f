"""A logger's file taken into a room's record: once, through the gate, never ahead of now."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.shop.reading import Origin
from tests.cli.conftest import NOW_MS

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch, StoresClimate

COLUMNS = ("--time", "Time", "--temp", "Temp", "--rh", "RH")
ROWS = """Time;Temp;RH
2026-03-05 09:00;20,1;45
2026-03-05 09:10;20,3;46
2026-03-05 09:20;85;46
2026-03-05 09:30;much;47
2026-03-05 09:40;20,4;47
"""


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "log.csv"
    path.write_text(ROWS, encoding="utf-8")
    return path


def test_a_file_is_read_gated_and_kept_as_imported(
    curewatch: Curewatch, climate: StoresClimate, log: Path, kept: Callable[[], Store]
) -> None:
    climate("spray", days=0.01)
    said = curewatch("room", "import", "drying", str(log), *COLUMNS)
    assert said.narrow()
    assert "8 readings added from 5 rows, today 9:00 to today 9:40" in said.flat
    assert "Refused: 1 power-on-value" in said.flat
    assert "line 5: temperature: 'much' is not a number" in said.flat
    assert "Times without an offset were read in UTC" in said.flat
    with kept() as store:
        found = [r for r in store.readings.rows(0, NOW_MS) if r.sensor != "spray-air"]
        assert {(r.sensor, r.origin) for r in found} == {("log-drying", Origin.IMPORTED)}
        assert {touch.sensor for touch in store.touched.since(0)[1]} == {"log-drying"}
        assert store.rejections.summary("log-drying")[0].count == 1


def test_a_second_import_adds_nothing_and_says_so(
    curewatch: Curewatch, log: Path, kept: Callable[[], Store]
) -> None:
    curewatch("room", "import", "drying", str(log), *COLUMNS)
    assert "Nothing is new" in curewatch("room", "import", "drying", str(log), *COLUMNS).flat
    plain = curewatch("room", "import", "drying", str(log), *COLUMNS, "--json").plain
    assert (plain["added"], plain["kept_before"], plain["conflicts"]) == (0, 8, 0)
    assert plain["refused"] == {"power-on-value": 1}
    with kept() as store:
        assert store.rejections.summary("log-drying")[0].count == 1  # counted once


def test_a_file_that_grew_adds_its_new_rows(curewatch: Curewatch, log: Path) -> None:
    curewatch("room", "import", "drying", str(log), *COLUMNS)
    log.write_text(ROWS + "2026-03-05 09:50;20,5;47\n", encoding="utf-8")
    said = curewatch("room", "import", "drying", str(log), *COLUMNS)
    assert "2 readings added" in said.flat
    assert "8 were kept before" in said.flat


def test_imported_readings_earn_hours(curewatch: Curewatch, log: Path) -> None:
    rows = "".join(
        f"2026-03-04 {hour:02d}:{minute:02d};21;50\n" for hour in range(24) for minute in (0, 30)
    )
    log.write_text("Time;Temp;RH\n" + rows, encoding="utf-8")
    curewatch("room", "import", "drying", str(log), *COLUMNS)
    hang = ("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying")
    curewatch(*hang, "--at", "2026-03-04T00:00")
    curewatch("coat", "A1", "--at", "2026-03-04T10:00")
    clocks = curewatch("piece", "show", "A1", "--json").plain["clocks"]
    assert clocks["cure"]["effective_hours"] == pytest.approx(13.5, abs=0.01)


def test_naive_times_are_read_in_the_zone_that_is_named(curewatch: Curewatch, log: Path) -> None:
    words = ("room", "import", "drying", str(log), *COLUMNS, "--zone", "Europe/Vienna", "--json")
    plain = curewatch(*words).plain
    assert plain["first"] == "2026-03-05T08:00:00.000Z"


def test_a_value_that_contradicts_what_is_kept_is_counted_and_left_out(
    curewatch: Curewatch, log: Path
) -> None:
    curewatch("room", "import", "drying", str(log), *COLUMNS)
    log.write_text(ROWS.replace("20,1", "20,2"), encoding="utf-8")
    said = curewatch("room", "import", "drying", str(log), *COLUMNS)
    assert "1 contradict what is kept" in said.flat


def test_a_file_ahead_of_now_is_refused_whole(
    curewatch: Curewatch, log: Path, kept: Callable[[], Store]
) -> None:
    log.write_text(ROWS + "2100-01-01 09:50;20,5;47\n", encoding="utf-8")
    complaint = curewatch("room", "import", "drying", str(log), *COLUMNS, status=2).complaint
    assert "1 of 6 rows lie ahead of now" in complaint
    assert "nothing was stored" in complaint
    with kept() as store:
        assert store.readings.newest_ms() is None


def test_a_logger_keeps_to_its_room(
    curewatch: Curewatch, log: Path, kept: Callable[[], Store]
) -> None:
    complaint = curewatch(
        "room", "import", "drying", str(log), *COLUMNS, "--sensor", "spray-air", status=2
    ).complaint
    assert "spray-air has hung in spray" in complaint
    with kept() as store:
        assert store.readings.newest_ms() is None
    curewatch("room", "import", "spray", str(log), *COLUMNS, "--sensor", "spray-air")


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("--sensor", "a/b"), "cannot be a name"),
        (("--zone", "Vienna"), "no time zone is called 'Vienna'"),
        (("--temp", "Heat"), "Heat"),
    ],
)
def test_what_cannot_be_read_is_said(
    curewatch: Curewatch, log: Path, words: tuple[str, ...], complaint: str
) -> None:
    said = curewatch("room", "import", "drying", str(log), *COLUMNS, *words, status=2)
    assert complaint in said.complaint


def test_a_file_that_is_not_there_is_said(curewatch: Curewatch, tmp_path: Path) -> None:
    missing = tmp_path / "missing.csv"
    said = curewatch("room", "import", "drying", str(missing), *COLUMNS, status=2)
    assert "missing.csv" in said.complaint


def test_voided_imports_come_back_only_corrected(
    curewatch: Curewatch, climate: StoresClimate, log: Path
) -> None:
    climate("spray", days=0.1)
    curewatch("room", "import", "drying", str(log), *COLUMNS)
    void = ("--from", "2026-03-05T09:00", "--to", "2026-03-05T09:01", "--why", "door stood open")
    said = curewatch("sensor", "void", "log-drying", *void, "--quantity", "temperature")
    assert "1 reading from today 9:00" in said.flat
    again = curewatch("room", "import", "drying", str(log), *COLUMNS, "--json").plain
    assert again["added"] == 0
    log.write_text(ROWS.replace("20,1", "20,2"), encoding="utf-8")
    assert curewatch("room", "import", "drying", str(log), *COLUMNS, "--json").plain["added"] == 1
