"""`record` and `label`: documents for the customer and tags for the hanger, as files."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING

import pytest

from tests.needs_pdf import needs_pdf

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Curewatch, StoresClimate


@pytest.fixture
def hung(curewatch: Curewatch, climate: StoresClimate) -> Curewatch:
    """A piece with two coats in a room of 21 degC and 50 %."""
    climate("drying")
    curewatch(
        "piece", "hang", "B12", "--finish", "waterborne", "--room", "drying", "--at", "4d ago"
    )
    curewatch("coat", "B12", "--at", "3d ago")
    curewatch("coat", "B12", "--at", "2d 20h ago")
    return curewatch


def test_a_record_is_summed_up_in_eighty_columns(hung: Curewatch) -> None:
    said = hung("record", "B12")
    assert said.narrow()
    assert "21.0 °C" in said.out
    assert "4.0 h" in said.out
    assert "Times are local: UTC" in said.flat


def test_work_stands_with_the_age_of_the_film(hung: Curewatch) -> None:
    hung("work", "B12", "scuff", "--at", "2d ago")
    assert "scuff. The film was 20 ±" in hung("record", "B12").flat


def test_everything_comes_as_data(hung: Curewatch) -> None:
    told = hung("record", "B12", "--json").plain
    assert [coat["number"] for coat in told["coats"]] == [1, 2]
    assert told["coats"][1]["since_last_coat"]["cure_h"] == pytest.approx(4.0)
    assert json.dumps(told)


def test_a_document_stands_alone(hung: Curewatch, tmp_path: Path) -> None:
    path = tmp_path / "record.html"
    hung("record", "B12", "--html", str(path))
    page = path.read_text("utf-8")
    assert "<style>" in page
    assert "href=" not in page
    assert "Coat 2" in page


def test_pdf_and_table_are_written(hung: Curewatch, tmp_path: Path) -> None:
    needs_pdf()
    pdf, table = tmp_path / "record.pdf", tmp_path / "record.csv"
    hung("record", "B12", "--pdf", str(pdf), "--csv", str(table))
    assert pdf.read_bytes().startswith(b"%PDF-")
    assert len(table.read_text("utf-8").splitlines()) == 3


def test_the_care_card_is_a_document_of_its_own(hung: Curewatch, tmp_path: Path) -> None:
    path = tmp_path / "care.html"
    hung("record", "B12", "--care", "--html", str(path))
    assert "Care of B12" in path.read_text("utf-8")
    assert "--html" in hung("record", "B12", "--care", status=2).complaint


def test_a_file_that_is_there_is_left_alone(hung: Curewatch, tmp_path: Path) -> None:
    path = tmp_path / "record.html"
    path.write_text("mine", "utf-8")
    assert "there already" in hung("record", "B12", "--html", str(path), status=2).complaint
    assert path.read_text("utf-8") == "mine"
    hung("record", "B12", "--html", str(path), "--force")
    assert "Coat 2" in path.read_text("utf-8")


def test_a_file_that_cannot_be_written_is_said(hung: Curewatch, tmp_path: Path) -> None:
    said = hung("record", "B12", "--csv", str(tmp_path / "no" / "record.csv"), status=1)
    assert "could not be written" in said.complaint


def test_without_the_library_pdf_says_what_to_install(
    hung: Curewatch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    path = str(tmp_path / "x.pdf")
    assert "curewatch[pdf]" in hung("record", "B12", "--pdf", path, status=2).complaint
    assert "curewatch[pdf]" in hung("label", "B12", "--pdf", path, status=2).complaint


def test_a_bare_piece_and_an_unknown_one(curewatch: Curewatch) -> None:
    curewatch("piece", "hang", "N7", "--finish", "dose-cured", "--room", "drying")
    assert "No coat is logged." in curewatch("record", "N7").out
    assert "N8" in curewatch("record", "N8", status=2).complaint


def test_a_label_is_drawn_and_told(hung: Curewatch, tmp_path: Path) -> None:
    path = tmp_path / "labels.svg"
    said = hung("label", "B12", "--hook", "left rail", "--svg", str(path), "--grid", "letter-3x10")
    assert said.narrow()
    assert "2 labels" in said.flat
    assert "on this computer alone" in said.flat
    assert "never on the film" in said.flat
    sheet = path.read_text("utf-8")
    assert 'width="215.9mm"' in sheet
    assert "left rail" in sheet


def test_several_sheets_are_numbered(hung: Curewatch, tmp_path: Path) -> None:
    needs_pdf()
    path = tmp_path / "labels.svg"
    hooks = [word for number in range(15) for word in ("--hook", f"hook {number}")]
    told = hung("label", "--all", *hooks, "--grid", "a4-2x7", "--svg", str(path), "--json").plain
    assert (told["labels"], told["sheets"]) == (16, 2)
    assert [name.rpartition("/")[2] for name in told["files"]] == ["labels-1.svg", "labels-2.svg"]
    pdf = tmp_path / "labels.pdf"
    told = hung("label", "B12", "--pdf", str(pdf), "--address", "http://bench:1", "--json").plain
    assert told["address"] == "http://bench:1"
    assert pdf.read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("B12",), "--svg FILE or --pdf FILE"),
        (("--all", "B12", "--svg", "x.svg"), "one of the two"),
        (("B12", "--svg", "x.svg", "--address", "bench"), "write it whole"),
        (("B12", "--svg", "x.svg", "--grid", "a5"), "a4-3x7"),
        (("--svg", "x.svg"), "nothing to print"),
    ],
)
def test_what_cannot_be_meant_is_said(hung: Curewatch, words: tuple[str, ...], why: str) -> None:
    assert why in hung("label", *words, status=2).complaint
