from __future__ import annotations

import csv
import io
import json
import sqlite3
import tracemalloc
from typing import TYPE_CHECKING

import pytest

from curewatch.cli.export import write_csv, write_json
from curewatch.shop.piece import Coat
from curewatch.storage.export import NOUNS
from curewatch.storage.lock import daemon_lock
from tests.cli.conftest import HOUR_MS, NOW_MS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch, StoresClimate

    Plain = dict[str, str | int | float | None]


@pytest.fixture
def shop(climate: StoresClimate, kept: Callable[[], Store]) -> None:
    """Keep an hour of climate and a piece with a coat whose note is awkward in CSV."""
    climate("spray", days=1.0 / 24.0, temp_c=20.25, rh_pct=55.0)
    with kept() as store:
        revision = store.finishes.keep("waterborne", "text", NOW_MS)
        store.pieces.hang("A1", "waterborne", revision, title="", at_ms=NOW_MS, entered_ms=NOW_MS)
        store.pieces.coat("A1", Coat(NOW_MS, note='thin, "misty"\nsecond line; ü'), NOW_MS)


@pytest.mark.usefixtures("shop")
def test_readings_as_json_hold_sensor_quantity_instant_and_value(curewatch: Curewatch) -> None:
    rows = curewatch("export", "readings", "--json").plain
    assert len(rows) == 14
    newest = {row["quantity"]: row for row in rows[-2:]}
    assert newest["temperature"]["sensor"] == "spray-air"
    assert newest["temperature"]["at_ms"] == NOW_MS
    assert newest["temperature"]["value"] == 20.25
    assert newest["humidity"]["value"] == 0.55  # as stored: a fraction


@pytest.mark.usefixtures("shop")
def test_csv_with_a_header_is_the_default_and_reads_back(curewatch: Curewatch) -> None:
    plain = curewatch("export", "readings", "--json").plain
    assert curewatch("export", "readings").out == curewatch("export", "readings", "--csv").out
    rows = list(csv.DictReader(io.StringIO(curewatch("export", "readings").out)))
    assert [(r["sensor"], int(r["at_ms"]), float(r["value"])) for r in rows] == [
        (r["sensor"], r["at_ms"], r["value"]) for r in plain
    ]


@pytest.mark.usefixtures("shop")
def test_json_may_stand_before_the_command(curewatch: Curewatch) -> None:
    before = curewatch("--json", "export", "readings").out
    assert before == curewatch("export", "readings", "--json").out


@pytest.mark.usefixtures("shop")
def test_a_persons_words_survive_csv(curewatch: Curewatch) -> None:
    (row,) = csv.DictReader(io.StringIO(curewatch("export", "coats").out, newline=""))
    assert row["note"] == 'thin, "misty"\nsecond line; ü'
    assert row["wet_um"] == ""  # nothing said, nothing made up


@pytest.mark.usefixtures("shop")
def test_a_range_is_closed_at_its_start_and_open_at_its_end(curewatch: Curewatch) -> None:
    rows = curewatch(
        "export", "readings", "--json", "--from", "11:30", "--to", "2026-03-05T11:50Z"
    ).plain
    assert sorted({row["at_ms"] for row in rows}) == [
        NOW_MS - HOUR_MS // 2,
        NOW_MS - HOUR_MS // 3,
    ]


@pytest.mark.usefixtures("shop")
def test_the_range_holds_for_other_nouns_too(curewatch: Curewatch) -> None:
    assert len(curewatch("export", "coats", "--json", "--from", "now").plain) == 1
    assert curewatch("export", "coats", "--json", "--to", "now").plain == []
    assert curewatch("export", "pieces", "--json", "--to", "now").plain == []


def test_a_range_that_ends_before_it_begins_is_refused(curewatch: Curewatch) -> None:
    said = curewatch("export", "readings", "--from", "11:00", "--to", "10:00", status=2)
    assert "--to must lie after --from" in said.complaint


@pytest.mark.parametrize("noun", NOUNS)
def test_every_noun_can_be_exported_even_where_nothing_is_kept(
    curewatch: Curewatch, noun: str
) -> None:
    said = curewatch("export", noun, "--json")
    assert said.plain == []
    assert f"0 rows of {noun}" in said.err


def test_an_unknown_noun_names_those_there_are(curewatch: Curewatch) -> None:
    assert "readings" in curewatch("export", "violins", status=2).err


def test_two_forms_at_once_are_refused(curewatch: Curewatch) -> None:
    said = curewatch("export", "readings", "--csv", "--json", status=2)
    assert "exclude each other" in said.complaint


@pytest.mark.usefixtures("shop")
def test_a_file_takes_its_name_once_it_is_whole(
    curewatch: Curewatch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "out.json"
    said = curewatch("export", "readings", "--json", "--output", str(target))
    assert said.out == ""
    assert "14 rows of readings" in said.err
    assert len(json.loads(target.read_text("utf-8"))) == 14

    def broken(*_: object, **__: object) -> Iterator[Plain]:
        yield {"sensor": "x"}
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("curewatch.cli.export.export_rows", broken)
    before = target.read_bytes()
    failed = curewatch("export", "readings", "--json", "--output", str(target), status=2)
    assert "No space left" in failed.complaint
    assert target.read_bytes() == before
    assert not list(tmp_path.glob("*.part"))


def test_a_file_that_cannot_be_written_is_named(curewatch: Curewatch, tmp_path: Path) -> None:
    target = tmp_path / "no-such-folder" / "out.csv"
    assert str(target) in curewatch("export", "coats", "--output", str(target), status=2).complaint


@pytest.mark.parametrize("write", [write_csv, write_json])
def test_a_long_record_is_never_held_in_memory(write: Callable[..., int]) -> None:
    class Sink(io.TextIOBase):
        size = 0

        def write(self, text: str) -> int:
            self.size += len(text)
            return len(text)

    def rows() -> Iterator[Plain]:
        for number in range(50_000):
            yield {"sensor": "rack", "at_ms": number, "value": 0.1 * number, "note": None}

    sink = Sink()
    tracemalloc.start()
    try:
        assert write(rows(), sink) == 50_000
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert sink.size > 800_000
    assert peak < 200_000


@pytest.mark.usefixtures("shop")
def test_a_backup_is_whole_and_comes_back(curewatch: Curewatch, tmp_path: Path) -> None:
    copy, database = tmp_path / "copy.db", tmp_path / "shop.db"
    told = curewatch("backup", str(copy), "--json").plain
    assert told["bytes"] == copy.stat().st_size
    with sqlite3.connect(copy) as reader:
        assert reader.execute("SELECT count(*) FROM reading").fetchone() == (14,)
    reader.close()
    database.unlink()
    said = curewatch("restore", str(copy))
    assert said.narrow()
    assert "Checked before it took the place" in said.flat
    assert "1 pieces in the shop, newest reading" in said.flat
    assert len(curewatch("export", "readings", "--json").plain) == 14


@pytest.mark.usefixtures("shop")
def test_an_existing_database_is_put_aside_by_force_only(
    curewatch: Curewatch, tmp_path: Path, kept: Callable[[], Store]
) -> None:
    copy = tmp_path / "copy.db"
    curewatch("backup", str(copy))
    with kept() as store:
        store.pieces.coat("A1", Coat(NOW_MS + HOUR_MS), NOW_MS)
    refused = curewatch("restore", str(copy), status=1)
    assert "--force" in refused.complaint
    found = curewatch("restore", str(copy), "--force", "--json").plain
    assert len(curewatch("export", "coats", "--json").plain) == 1
    (aside,) = tmp_path.glob("shop.db.before-*")
    assert found["kept_aside"] == str(aside)
    with sqlite3.connect(aside) as reader:
        assert reader.execute("SELECT count(*) FROM coat").fetchone() == (2,)
    reader.close()


def test_no_restore_happens_under_a_running_daemon(curewatch: Curewatch, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    with daemon_lock(tmp_path / "shop.db"):
        curewatch("backup", str(copy))  # this one does work meanwhile
        said = curewatch("restore", str(copy), "--force", status=1)
    assert "stop that one first" in said.complaint


def test_what_is_no_backup_is_refused_and_the_database_stays(
    curewatch: Curewatch, tmp_path: Path
) -> None:
    before = (tmp_path / "shop.db").read_bytes()
    (tmp_path / "letter.txt").write_text("Dear finisher, " * 100)
    curewatch("restore", str(tmp_path / "letter.txt"), "--force", status=1)
    curewatch("restore", str(tmp_path / "missing.db"), "--force", status=1)
    assert (tmp_path / "shop.db").read_bytes() == before


def test_a_directory_is_no_name_for_a_backup(curewatch: Curewatch, tmp_path: Path) -> None:
    assert "name a file in it" in curewatch("backup", str(tmp_path), status=2).complaint
