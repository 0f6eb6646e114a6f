"""Tests that make PDF need Pango: without it they are skipped, and in CI they fail."""

from __future__ import annotations

import os

import pytest

from curewatch.records.pdf import can_make_pdf


def needs_pdf() -> None:
    """Skip the test that asks where no PDF can be made; in CI fail it."""
    if can_make_pdf():
        return
    lacking = "no PDF here: apt-get install libpango-1.0-0 libpangoft2-1.0-0"
    if os.environ.get("CI"):
        pytest.fail(lacking)
    pytest.skip(lacking)
