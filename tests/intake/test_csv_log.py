from __future__ import annotations

import io
import math
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import BadInput
from curewatch.intake import Log, read_log
from curewatch.shop.reading import Origin, Quantity, Reading

if TYPE_CHECKING:
    from curewatch.intake.csv_table import Column

OFFICE = Path(__file__).parents[1] / "data" / "office-climate-2015-02.csv"
START_MS = 1_709_650_800_000  # 2024-03-05T15:00:00Z
MINUTE_MS = 60_000


def read(text: str, **options: object) -> Log:
    columns: dict[str, object] = {"time": "time", "temp": "temp", "rh": "rh", **options}
    return read_log(io.StringIO(text), **columns)  # type: ignore[arg-type]


def minutes(log: Log) -> list[float]:
    return [(at_ms - START_MS) / MINUTE_MS for at_ms in log.times_ms.tolist()]


PLAIN = "time,temp,rh\n2024-03-05T15:00:00Z,21.5,48\n2024-03-05T15:01:00Z,21.6,47.5\n"


def test_a_plain_log_is_read_as_it_stands() -> None:
    log = read(PLAIN)
    assert minutes(log) == [0.0, 1.0]
    assert log.temp_c.tolist() == [21.5, 21.6]
    assert log.rh_frac.tolist() == [0.48, 0.475]
    assert log.surface_c is None
    assert (log.rows, log.skipped, log.duplicates, log.out_of_order) == (2, (), 0, 0)
    assert (log.delimiter, log.rh_unit, log.assumed_utc) == (",", "percent", False)


def test_a_real_record_of_a_fortnight_is_read_whole() -> None:
    log = read_log(
        OFFICE,
        time="time",
        temp="temperature_c",
        rh="relative_humidity_percent",
        zone="Europe/Brussels",
    )
    assert log.rows == len(log.times_ms) == 20_560
    assert log.skipped == ()
    assert log.times_ms[0] == 1_422_883_140_000  # 2015-02-02T14:19 at +01:00
    assert (log.temp_c[0], log.rh_frac[0]) == (23.7, 0.26272)
    assert np.all(np.diff(log.times_ms) > 0)
    assert np.isfinite(log.temp_c).all()
    assert np.isfinite(log.rh_frac).all()


def test_values_come_out_as_imported_readings_with_gaps_left_out() -> None:
    log = read(
        PLAIN.replace("21.6", "").replace(",rh", ",rh,top").replace("48\n", "48,19\n"),
        surface="top",
    )
    assert log.readings("logger") == [
        Reading("logger", Quantity.TEMPERATURE, START_MS, 21.5, Origin.IMPORTED),
        Reading("logger", Quantity.HUMIDITY, START_MS, 0.48, Origin.IMPORTED),
        Reading("logger", Quantity.SURFACE_TEMPERATURE, START_MS, 19.0, Origin.IMPORTED),
        Reading("logger", Quantity.HUMIDITY, START_MS + MINUTE_MS, 0.475, Origin.IMPORTED),
    ]


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_delimiter_and_line_end_is_sensed(mark: str, end: str) -> None:
    log = read(PLAIN.replace(",", mark).replace("\n", end))
    assert log.delimiter == mark
    assert log.temp_c.tolist() == [21.5, 21.6]


@pytest.mark.parametrize("mark", [";", "\t", "|"])
def test_a_decimal_comma_is_sensed_beside_every_delimiter(mark: str) -> None:
    text = "time,temp,rh\n2024-03-05T15:00:00Z,21_5,48\n2024-03-05T15:01:00Z,-0_6,47_5\n"
    log = read(text.replace(",", mark).replace("_", ","))
    assert log.delimiter == mark
    assert log.temp_c.tolist() == [21.5, -0.6]
    assert log.rh_frac.tolist() == [0.48, 0.475]


def test_a_decimal_comma_in_quotes_is_read_between_commas() -> None:
    log = read('"time","temp","rh"\n"2024-03-05T15:00:00Z","21,5","48,0"\n')
    assert (log.temp_c.tolist(), log.rh_frac.tolist()) == ([21.5], [0.48])


def test_commas_in_headings_do_not_pass_for_the_delimiter() -> None:
    log = read("time;temp, C;rh, %\n2024-03-05T15:00:00Z;21,5;48,1\n", temp="temp, C", rh="rh, %")
    assert log.temp_c.tolist() == [21.5]


def test_lines_above_the_heading_are_passed_over() -> None:
    log = read("Logger 7; cellar\nsep=;\n\n" + PLAIN.replace(",", ";"))
    assert (log.rows, log.temp_c.tolist()) == (2, [21.5, 21.6])


@pytest.mark.parametrize(
    ("columns", "heading"),
    [
        ({"time": "TIME", "temp": " Temp", "rh": "rH"}, "time,temp,rh"),
        ({"time": "Date  time", "temp": "temp", "rh": "rh"}, "date time, Temp ,RH"),
        ({"time": 1, "temp": "2", "rh": "3"}, "time,temp,rh"),
        ({"time": "time", "temp": 2, "rh": "rh"}, "time,temp,rh"),
        ({"time": "time", "temp": "3", "rh": "4"}, "time,3,4"),
    ],
)
def test_columns_are_named_in_any_case_or_by_number(
    columns: dict[str, Column], heading: str
) -> None:
    log = read(PLAIN.replace("time,temp,rh", heading), **columns)
    assert log.temp_c.tolist() == [21.5, 21.6]


def test_without_a_heading_columns_are_numbered() -> None:
    log = read(PLAIN.partition("\n")[2], time=1, temp=2, rh=3)
    assert (log.rows, log.temp_c.tolist()) == (2, [21.5, 21.6])


def test_lines_above_numbered_columns_are_passed_over() -> None:
    log = read(
        "my logger\nwhen,C,%\n" + PLAIN.partition("\n")[2] + "bad,1,2\n", time=1, temp=2, rh=3
    )
    assert [(row.line, row.reason.split(":")[0]) for row in log.skipped] == [(5, "time")]
    assert log.rows == 3


def test_older_encodings_and_byte_order_marks_are_read(tmp_path: Path) -> None:
    heading = PLAIN.replace("temp", "temp °C")
    for encoding in ("utf-8", "utf-8-sig", "utf-16", "latin-1"):
        file = tmp_path / encoding
        file.write_bytes(heading.encode(encoding))
        log = read_log(str(file), time="time", temp="temp °C", rh="rh")
        assert log.temp_c.tolist() == [21.5, 21.6]
    assert read("\ufeff" + PLAIN).rows == 2


@pytest.mark.parametrize(
    "written",
    [
        "2024-03-05T15:00:00Z",
        "2024-03-05 15:00Z",
        "2024-03-05T16:00:00+01:00",
        "2024-03-05 15:00:00.000",
        "2024-03-05 15:00",
        "2024/03/05 15:00:00",
        "2024-3-5 15:00",
        "5.3.2024 15:00",
        "05.03.2024 15:00:00",
        "05.03.2024, 15:00",
        "05.03.2024 3:00 PM",
        "1709650800",
        "1709650800.0",
        "1709650800000",
    ],
)
def test_one_instant_is_read_however_it_is_written(written: str) -> None:
    log = read(f"time;temp;rh\n{written};21;48\n")
    assert log.times_ms.tolist() == [START_MS]


def test_midnight_and_noon_on_the_twelve_hour_clock() -> None:
    text = "time,temp,rh\n13.03.2024 12:30 am,1,50\n13.03.2024 12:30 pm,2,50\n"
    assert np.diff(read(text).times_ms).tolist() == [12 * 60 * MINUTE_MS]


@pytest.mark.parametrize(
    ("dates", "first_utc"),
    [
        (["05/03/2024 15:00", "13/03/2024 15:00"], START_MS),
        (["03/05/2024 15:00", "03/13/2024 15:00"], START_MS),
        (["05-03-2024 15:00", "31-03-2024 15:00"], START_MS),
    ],
)
def test_day_and_month_are_told_by_the_whole_column(dates: list[str], first_utc: int) -> None:
    rows = "".join(f"{date},21,48\n" for date in dates)
    assert read("time,temp,rh\n" + rows).times_ms[0] == first_utc


@pytest.mark.parametrize(
    ("dates", "why"),
    [
        (["05/03/2024 15:00", "06/03/2024 15:00"], "no day is above 12"),
        (["13/03/2024 15:00", "03/13/2024 15:00"], "both orders occur"),
    ],
)
def test_where_they_cannot_be_told_apart_iso_is_asked_for(dates: list[str], why: str) -> None:
    rows = "".join(f"{date},21,48\n" for date in dates)
    with pytest.raises(BadInput, match=f"{why}.*ISO 8601"):
        read("time,temp,rh\n" + rows)


@pytest.mark.parametrize(
    ("written", "why"),
    [
        ("05.03.24 15:00", "four-digit year"),
        ("45356.625", "spreadsheet's day number"),
        ("31.02.2024 15:00", "day is out of range"),
        ("soon", "not an ISO 8601"),
        ("1e99", "not an ISO 8601"),
        ("123456789012345678", "neither Unix"),
        ("1999-12-31T23:59:59Z", "before the year 2000"),
        ("86400", "before the year 2000"),
        ("", "not an ISO 8601"),
    ],
)
def test_a_time_that_cannot_be_read_costs_its_row_and_is_told_with_its_line(
    written: str, why: str
) -> None:
    log = read(PLAIN + f"{written},22,50\n")
    assert log.times_ms.size == 2
    ((line, reason),) = [(row.line, row.reason) for row in log.skipped]
    assert line == 4
    assert why in reason


def test_times_without_offset_are_read_in_the_zone_or_said_to_be_utc() -> None:
    text = PLAIN.replace("Z", "")
    assert minutes(read(text, zone="Europe/Berlin")) == [-60.0, -59.0]
    assert minutes(read(text)) == [0.0, 1.0]
    assert read(text).assumed_utc
    assert not read(text, zone="UTC").assumed_utc


def autumn(*times: str) -> Log:
    """Read a log across the end of summer time in Berlin, 2023-10-29 at 01:00Z."""
    rows = "".join(f"2023-10-29 {written},{20 + n},48\n" for n, written in enumerate(times))
    return read("time,temp,rh\n" + rows, zone="Europe/Berlin")


AUTUMN_MS = 1_698_537_600_000  # 2023-10-29T00:00:00Z, 02:00 for the first time


def test_the_hour_that_comes_twice_is_told_by_the_order_of_the_file() -> None:
    log = autumn("01:30", "02:00", "02:30", "02:00", "02:30", "03:00")
    assert [(t - AUTUMN_MS) // MINUTE_MS for t in log.times_ms] == [-30, 0, 30, 60, 90, 120]
    assert log.temp_c.tolist() == [20, 21, 22, 23, 24, 25]
    assert (log.doubled, log.shifted) == (4, 0)


def test_it_is_told_in_a_log_that_has_the_newest_first_as_well() -> None:
    log = autumn("03:00", "02:30", "02:00", "02:30", "02:00", "01:30")
    assert [(t - AUTUMN_MS) // MINUTE_MS for t in log.times_ms] == [-30, 0, 30, 60, 90, 120]
    assert log.temp_c.tolist() == [25, 24, 23, 22, 21, 20]
    assert log.out_of_order == 0


def test_an_hour_that_does_not_exist_is_moved_past_the_step_and_counted() -> None:
    # Summer time began in Berlin on 2024-03-31 at 01:00Z: 02:30 was never on a clock.
    text = "time,temp,rh\n2024-03-31 01:30,20,48\n2024-03-31 02:30,21,48\n2024-03-31 03:45,22,48\n"
    log = read(text, zone="Europe/Berlin")
    assert np.diff(log.times_ms).tolist() == [60 * MINUTE_MS, 15 * MINUTE_MS]
    assert (log.doubled, log.shifted) == (0, 1)


def test_rows_out_of_order_are_sorted_and_counted() -> None:
    text = (
        PLAIN
        + "2024-03-05T15:04:00Z,24,48\n2024-03-05T15:02:00Z,22,48\n2024-03-05T15:03:00Z,23,48\n"
    )
    log = read(text)
    assert minutes(log) == [0, 1, 2, 3, 4]
    assert log.temp_c.tolist() == [21.5, 21.6, 22, 23, 24]
    assert log.out_of_order == 2


def test_rows_of_one_instant_are_folded_and_contradictions_told() -> None:
    text = (
        "time,temp,rh\n"
        "2024-03-05T15:00:00Z,21.5,\n"
        "2024-03-05T15:00:00Z,,48\n"  # fills the first
        "2024-03-05T15:00:00Z,21.5,48\n"  # says the same
        "2024-03-05T15:00:00Z,99,48\n"  # says another thing
        "2024-03-05T15:01:00Z,21.6,48\n"
    )
    log = read(text)
    assert log.temp_c.tolist() == [21.5, 21.6]
    assert log.rh_frac.tolist() == [0.48, 0.48]
    assert log.duplicates == 2
    assert [(row.line, "another value" in row.reason) for row in log.skipped] == [(5, True)]


def test_a_contradicting_row_fills_nothing() -> None:
    log = read("time,temp,rh\n2024-03-05T15:00:00Z,21.5,\n2024-03-05T15:00:00Z,22.5,48\n")
    assert math.isnan(log.rh_frac[0])


@pytest.mark.parametrize("blank", ["", " ", "-", "NaN", "null", "N/A", "unavailable"])
def test_a_cell_that_says_nothing_is_missing_and_no_fault(blank: str) -> None:
    log = read(f"time,temp,rh\n2024-03-05T15:00:00Z,{blank},48\n")
    assert math.isnan(log.temp_c[0])
    assert log.rh_frac.tolist() == [0.48]
    assert log.skipped == ()


def test_a_short_row_lacks_what_it_does_not_reach() -> None:
    log = read(PLAIN + "2024-03-05T15:02:00Z,22\n")
    assert math.isnan(log.rh_frac[2])


@pytest.mark.parametrize("cell", ["warm", "1_0", "inf", "1e999", "1.234,5", "21.5 C", "٢١"])
def test_a_cell_that_is_no_number_is_told_with_its_line_and_the_rest_kept(cell: str) -> None:
    log = read(PLAIN.replace(",", ";") + f"2024-03-05T15:02:00Z;{cell};48\n")
    assert log.rh_frac.size == 3
    assert math.isnan(log.temp_c[2])
    (row,) = log.skipped
    assert row.line == 4
    assert "temperature: " in row.reason
    assert "is not a number" in row.reason


def test_a_row_without_any_value_is_skipped() -> None:
    log = read(PLAIN + "2024-03-05T15:02:00Z,,\n")
    assert log.times_ms.size == 2
    assert [(row.line, row.reason) for row in log.skipped] == [
        (4, "no value in any of the columns")
    ]


@pytest.mark.parametrize(
    ("unit", "written", "expected_c"), [("F", "68", 20.0), ("K", "293.15", 20.0), ("C", "20", 20.0)]
)
def test_temperatures_come_out_in_celsius(unit: str, written: str, expected_c: float) -> None:
    log = read(f"time,temp,rh\n2024-03-05T15:00:00Z,{written},48\n", temp_unit=unit)
    assert log.temp_c[0] == pytest.approx(expected_c, abs=1e-12)


def test_humidity_is_a_fraction_when_most_values_are_not_above_one() -> None:
    log = read("time,temp,rh\n2024-03-05T15:00:00Z,21,0.48\n2024-03-05T15:01:00Z,21,1\n")
    assert (log.rh_unit, log.rh_frac.tolist()) == ("fraction", [0.48, 1.0])
    spike = read(PLAIN.replace("48", "0.48").replace("47.5", "0.4") + "2024-03-05T15:02Z,21,99\n")
    assert (spike.rh_unit, len(spike.skipped)) == ("fraction", 1)


def test_a_humidity_that_cannot_be_is_told_with_its_line() -> None:
    log = read(PLAIN + "2024-03-05T15:02:00Z,22,130\n")
    assert [(row.line, "outside what humidity can be" in row.reason) for row in log.skipped] == [
        (4, True)
    ]


def test_humidity_is_read_in_the_unit_named() -> None:
    assert read(PLAIN, rh_unit="percent").rh_frac.tolist() == [0.48, 0.475]
    fraction = PLAIN.replace("48", "0.48").replace("47.5", "0.475")
    assert read(fraction, rh_unit="fraction").rh_frac.tolist() == [0.48, 0.475]


def test_an_unnamed_surface_stays_unread_and_a_named_one_is_read() -> None:
    text = PLAIN.replace("\n", ",19\n").replace("rh,19", "rh,top")
    surface_c = read(text, surface="top").surface_c
    assert surface_c is not None
    assert surface_c.tolist() == [19.0, 19.0]


@pytest.mark.parametrize(
    ("text", "options", "words"),
    [
        ("", {}, "is empty"),
        (" \n\n", {}, "is empty"),
        ("time,temp,rh\n", {}, "no row below the heading"),
        ("time,temp,rh\nsoon,21,48\n", {}, "no time can be read"),
        ("time,temp,rh\n2024-03-05T15:00Z,warm,damp\n", {}, "no usable row; line 2"),
        (PLAIN, {"temp": "tmep"}, "did you mean .*'temp'"),
        (PLAIN, {"temp": "heat"}, "The columns are: 1 'time', 2 'temp', 3 'rh'"),
        (PLAIN, {"temp": 4}, "no column 4; the columns are numbered 1 to 3"),
        (PLAIN, {"time": 1, "temp": 2, "rh": 0}, "no column 0"),
        (PLAIN.replace("rh", "temp"), {"rh": 3}, "several columns are called 'temp'"),
        (PLAIN, {"zone": "Mars/Olympus"}, "no time zone is called 'Mars/Olympus'"),
        (PLAIN, {"temp_unit": "X"}, "unit"),
        (PLAIN, {"rh_unit": "points"}, "humidity unit 'points'"),
        (
            PLAIN.replace("48", "0.48").replace("47.5", "0.4"),
            {"rh_unit": "percent"},
            "is it fraction",
        ),
        (PLAIN, {"rh_unit": "fraction"}, "is it percent"),
        ('time,temp,rh\n"' + "x" * 200_000 + '"\n', {}, "is it a CSV file"),
    ],
)
def test_what_cannot_be_read_is_refused_with_what_to_do(
    text: str, options: dict[str, object], words: str
) -> None:
    with pytest.raises(BadInput, match=words):
        read(text, **options)


def test_unreadable_files_are_named(tmp_path: Path) -> None:
    binary = tmp_path / "log.bin"
    binary.write_bytes(b"PK\x03\x04\x00\x00")
    for path, words in (
        (tmp_path / "none.csv", "no such file"),
        (tmp_path, "is a directory"),
        (binary, "not a text file"),
    ):
        with pytest.raises(BadInput, match=words):
            read_log(path, time=1, temp=2, rh=3)


def test_a_file_beyond_all_measure_is_refused(tmp_path: Path) -> None:
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as file:
        file.truncate(257 * 1024 * 1024)
    with pytest.raises(BadInput, match="larger than 256 MiB"):
        read_log(huge, time=1, temp=2, rh=3)


@given(text=st.text(alphabet='time,temprh;\t\n\r"0123456789.-/: T|Z', max_size=200))
def test_any_text_gives_a_log_or_one_named_refusal(text: str) -> None:
    for columns in ({}, {"time": 1, "temp": 2, "rh": 3}):
        try:
            log = read(text, **columns)
        except BadInput as refused:
            assert str(refused)  # noqa: PT017 - either outcome is right, an exception of another kind is not
        else:
            assert log.times_ms.size > 0
            assert np.all(np.diff(log.times_ms) > 0)


_rows = st.lists(
    st.tuples(
        st.integers(0, 500),
        st.none() | st.integers(-300, 700).map(lambda tenths: tenths / 10),
        st.none() | st.integers(20, 1000).map(lambda tenths: tenths / 10),
    ),
    min_size=1,
    max_size=30,
    unique_by=lambda row: row[0],
).filter(lambda rows: any(row[1] is not None or row[2] is not None for row in rows))


@given(rows=_rows, mark=st.sampled_from([";", "\t"]), comma=st.booleans())
def test_what_a_logger_writes_is_what_is_read_in_any_order(
    rows: list[tuple[int, float | None, float | None]],
    mark: str,
    comma: bool,  # noqa: FBT001 - drawn by name
) -> None:
    lines = [["time", "temp", "rh"]]
    for minute, temp, rh in rows:
        cells = ["" if value is None else str(value) for value in (temp, rh)]
        if comma:
            cells = [cell.replace(".", ",") for cell in cells]
        lines.append([str(START_MS + minute * MINUTE_MS), *cells])
    log = read("\n".join(mark.join(cells) for cells in lines), rh_unit="auto")
    wanted = sorted(row for row in rows if row[1] is not None or row[2] is not None)
    assert minutes(log) == [minute for minute, _, _ in wanted]
    nan = math.nan
    np.testing.assert_array_equal(log.temp_c, [nan if t is None else t for _, t, _ in wanted])
    np.testing.assert_allclose(log.rh_frac, [nan if h is None else h / 100 for _, _, h in wanted])
