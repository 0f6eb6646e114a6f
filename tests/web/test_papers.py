"""Papers on the page: a piece's record told coat by coat, its care card, its files, its label."""

from __future__ import annotations

import csv
import io
import re
from typing import TYPE_CHECKING

import pytest

from curewatch.settings import load_settings
from curewatch.shop.batch import Batch
from curewatch.shop.joining import Joining
from curewatch.shop.piece import Coat, Outcome, Work, WorkKind
from curewatch.shop.quarantine import Quarantine
from curewatch.storage import Store
from curewatch.web.papers import only_here, page_base
from tests.needs_pdf import needs_pdf
from tests.small_shop import CONFIG, HOUR_MS
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient


@pytest.fixture
def told(open_shop: WebShop) -> WebShop:
    """A shop where B1 has a pot, a voided coat, work done unready, a finding, a hold and a part."""
    open_shop.hang("N7", NOW_MS - 20 * HOUR_MS)
    with Store.open(open_shop.settings.storage.path) as other, other.db.transaction():
        pot = Batch("mon-a", "waterborne", 1, "L2291", NOW_MS - 21 * HOUR_MS, "loft")
        other.batches.mix(pot, NOW_MS)
        coat = Coat(NOW_MS - 20 * HOUR_MS, 110.0, 2, who="Ada", pot="mon-a", note="<b>thin</b>")
        other.pieces.coat("B1", coat, NOW_MS)
        wrong = other.pieces.coat("B1", Coat(NOW_MS - 10 * HOUR_MS), NOW_MS)
        other.pieces.void("coat", wrong, "typed on the wrong tag", NOW_MS)
        sanded = Work(WorkKind.WET_SAND, NOW_MS - 5 * HOUR_MS, anyway="he comes today", who="Ben")
        other.pieces.work("B1", sanded, NOW_MS)
        other.pieces.outcome("B1", Outcome(NOW_MS - 4 * HOUR_MS, "soft", who="Ben"), NOW_MS)
        other.quarantines.hold(
            Quarantine("piece", "B1", "a drip", NOW_MS - 3 * HOUR_MS, "Ada"), NOW_MS
        )
        other.joinings.join(Joining("N7", "B1", NOW_MS - 2 * HOUR_MS), NOW_MS)
    open_shop.do(lambda: open_shop.daemon.round([]))
    return open_shop


@pytest.fixture
def visitor(told: WebShop) -> TestClient:
    """Somebody who only looks."""
    return told.stranger()


def flat(text: str) -> str:
    """Return a page's words on one line."""
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def test_a_record_tells_pot_lot_air_and_hours_of_each_coat(visitor: TestClient) -> None:
    page = visitor.get("/record/B1")
    assert page.status_code == 200
    words = flat(page.text)
    assert "Coat 2" in words
    assert "110 µm (4.3 mil) wet, 2 passes; in loft; from pot mon-a, lot L2291" in words
    assert "Since the coat before: 4.0 h on the wall, 4.0 h of drying, 4.0 h of cure" in words
    assert "21.0 °C on average" in words
    assert "Readings cover 100 % of it" in words
    assert "Times are local: UTC" in words


def test_what_was_done_all_the_same_stands_with_who_and_why(visitor: TestClient) -> None:
    words = flat(visitor.get("/record/B1").text)
    assert "Done before it was ready, because: he comes today (by Ben)" in words
    assert "Not ready to wet-sand" in words
    assert "The film was 15 ±" in words  # sanded 15 h after the last coat, at the reference
    assert "Held : piece B1: a drip (by Ada)" in words.replace("Held:", "Held :")
    assert "N7 joined onto it" in words
    assert "Part: N7" in words


def test_corrected_entries_are_told_and_do_not_count(visitor: TestClient) -> None:
    words = flat(visitor.get("/record/B1").text)
    assert "no longer counted: typed on the wrong tag" in words
    assert "Coat 3" not in words


def test_what_people_typed_is_escaped(visitor: TestClient) -> None:
    page = visitor.get("/record/B1").text
    assert "<b>thin</b>" not in page
    assert "&lt;b&gt;thin&lt;/b&gt;" in page


def test_the_table_has_a_row_each_coat_and_stage_of_the_piece_and_its_part(
    visitor: TestClient,
) -> None:
    answer = visitor.get("/record/B1/csv")
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert [(row["piece"], row["what"]) for row in rows] == [
        *[("B1", "coat")] * 2,
        *[("B1", "work"), ("B1", "finding")],
        ("N7", "coat"),
    ]
    assert float(rows[1]["cure_h"]) == pytest.approx(4.0, rel=0.01)
    assert rows[1]["lot"] == "L2291"


def test_the_data_hold_everything_that_was_entered(visitor: TestClient) -> None:
    told = visitor.get("/record/B1/json").json()
    assert [coat["pot"] for coat in told["coats"]] == [None, "mon-a"]
    assert told["stages"][0]["anyway"] == "he comes today"
    assert told["joined"][0]["piece"] == "N7"
    assert any(entry["void"] for entry in told["entries"])
    assert told["care_standing"] == "common practice"


def test_the_pdf_is_one(visitor: TestClient) -> None:
    needs_pdf()
    answer = visitor.get("/record/B1/pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")


def test_the_card_has_the_care_of_its_finish(visitor: TestClient) -> None:
    page = visitor.get("/record/B1/care")
    assert "Alcohol and hand disinfectant soften it" in page.text


def test_a_piece_that_is_not_known_is_explained(visitor: TestClient) -> None:
    page = visitor.get("/record/B2")
    assert page.status_code == 404
    assert "did you mean B1?" in page.text


def test_a_piece_that_left_still_has_its_record(told: WebShop) -> None:
    with Store.open(told.settings.storage.path) as other:
        other.pieces.leave("N7", NOW_MS - HOUR_MS, NOW_MS)
    told.do(lambda: told.daemon.round([]))
    words = flat(told.stranger().get("/record/N7").text)
    assert "Left the shop 6 Mar 2026" in words
    assert "How it stood when it left" in words


def test_records_are_closed_where_looking_is(shop: WebShop) -> None:
    for place in ("/record/B1", "/record/B1/pdf", "/record/B1/csv", "/labels", "/labels.svg"):
        answer = shop.stranger().get(place)
        assert answer.status_code == 303
        assert answer.headers["location"].startswith("/enter")


def test_labels_lead_to_the_piece_and_hooks_carry_words(visitor: TestClient) -> None:
    page = visitor.get("/labels?make=yes&piece=B1&hooks=left+rail%0D%0Aright+rail&grid=a4-3x8")
    assert page.status_code == 200
    assert page.text.count("<path") == 3
    assert "127.0.0.1:8480/hooks" in page.text
    assert ">left rail</text>" in page.text
    assert "127.0.0.1:8480/piece/B1" in page.text
    assert "on this computer alone" in page.text
    sheet = visitor.get("/labels.svg?make=yes&piece=B1&sheet=1")
    assert sheet.headers["content-type"].startswith("image/svg+xml")
    assert visitor.get("/labels.svg?piece=B1&sheet=2").status_code == 422


def test_the_labels_come_as_pdf(visitor: TestClient) -> None:
    needs_pdf()
    assert visitor.get("/labels.pdf?piece=B1").content.startswith(b"%PDF-")


def test_nothing_ticked_is_said(visitor: TestClient) -> None:
    page = visitor.get("/labels?make=yes")
    assert page.status_code == 422
    assert "nothing to print" in page.text
    assert visitor.get("/labels.svg").status_code == 422


@pytest.mark.parametrize(
    ("page", "base", "alone"),
    [
        ("", "http://127.0.0.1:8480/", True),
        ('host = "192.168.1.7"', "http://192.168.1.7:8480/", False),
        ('host = "192.168.1.7"\nnames = ["bench.shop"]', "http://bench.shop:8480/", False),
    ],
)
def test_the_address_is_the_name_or_the_host_of_the_page(
    tmp_path: Path, page: str, base: str, *, alone: bool
) -> None:
    path = tmp_path / "curewatch.toml"
    path.write_text(f"{CONFIG}\n[page]\n{page}\n", "utf-8")
    settings = load_settings(path)
    assert page_base(settings) == base
    assert only_here(settings) is alone


def test_a_page_for_all_networks_is_called_by_the_machine_s_name(tmp_path: Path) -> None:
    path = tmp_path / "curewatch.toml"
    path.write_text(f'{CONFIG}\n[page]\nhost = "0.0.0.0"\n', "utf-8")
    assert page_base(load_settings(path)).endswith(".local:8480/")
