"""Making a document a PDF: the one door to the library that lays pages out."""

from __future__ import annotations

import importlib

from curewatch.errors import BadInput, StorageError

MISSING = (
    "PDF needs the extra 'pdf' and Pango: pip install 'curewatch[pdf]', and on Debian or Raspberry "
    "Pi OS: sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0. HTML and SVG need neither: any "
    "browser prints them to PDF"
)


def can_make_pdf() -> bool:
    """Whether the library and what it stands on are there."""
    try:
        importlib.import_module("weasyprint")
    except (ImportError, OSError):  # the latter where Pango is missing
        return False
    return True


def pdf_bytes(html: str) -> bytes:
    """Return a whole document as PDF; nothing outside of it is fetched.

    Raises
    ------
    BadInput
        When the library is not installed; the message says what to install.
    StorageError
        When it cannot lay the document out.
    """
    if not can_make_pdf():
        raise BadInput(MISSING)
    from weasyprint import HTML  # noqa: PLC0415 - an extra
    from weasyprint.urls import URLFetcher  # noqa: PLC0415 - as above

    try:
        made: bytes | None = HTML(
            string=html, url_fetcher=URLFetcher(allowed_protocols=())
        ).write_pdf()
    except (OSError, ValueError) as error:
        raise StorageError(f"the PDF could not be made: {error}") from error
    assert made is not None  # noqa: S101 - without a target it is returned
    return made
