"""Care advice for every finish, and PDF where it can be made."""

from __future__ import annotations

import sys

import pytest

from curewatch.errors import BadInput, StorageError
from curewatch.finish_files import shipped_names
from curewatch.records.care import care_advice
from curewatch.records.pdf import can_make_pdf, pdf_bytes
from tests.needs_pdf import needs_pdf

GENERAL = care_advice("of-our-own")


@pytest.mark.parametrize("finish", shipped_names())
def test_every_shipped_finish_has_advice_of_its_family(finish: str) -> None:
    found = care_advice(finish)
    assert found[: len(GENERAL)] == GENERAL
    assert len(found) > len(GENERAL)
    assert all(line.endswith(".") for line in found)


def test_a_finish_that_no_family_names_has_the_general_advice() -> None:
    assert len(GENERAL) >= 4


def test_a_document_becomes_a_pdf() -> None:
    needs_pdf()
    made = pdf_bytes("<!doctype html><html lang=en><title>x</title><p>one page</p></html>")
    assert made.startswith(b"%PDF-")
    assert made.rstrip().endswith(b"%%EOF")


def test_nothing_outside_the_document_is_fetched(caplog: pytest.LogCaptureFixture) -> None:
    needs_pdf()
    page = '<!doctype html><html lang=en><title>x</title><img src="http://192.0.2.1/x.png"></html>'
    assert pdf_bytes(page).startswith(b"%PDF-")
    assert "disallowed protocol" in caplog.text


def test_without_the_library_it_is_said_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    assert not can_make_pdf()
    with pytest.raises(BadInput, match=r"curewatch\[pdf\].*libpango"):
        pdf_bytes("<p>x</p>")


def test_a_page_that_cannot_be_laid_out_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    needs_pdf()
    import weasyprint  # noqa: PLC0415 - beside its only use

    def fails(*_: object, **__: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(weasyprint.HTML, "write_pdf", fails)
    with pytest.raises(StorageError, match="no space left"):
        pdf_bytes("<p>x</p>")
