"""Test boards on the page: begin a trial, add boards, enter and take back what was found."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from tests.small_shop import HOUR_MS
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from starlette.testclient import TestClient


def token(visitor: TestClient, path: str = "/test-boards") -> str:
    """Return what the visitor's forms carry."""
    found = re.search(r'name="token" value="(\w+)"', visitor.get(path).text)
    assert found is not None
    return found[1]


def begun(shop: WebShop) -> tuple[TestClient, str]:
    """Return somebody known, after they began the trial 'gloss' with two boards."""
    shop.hang("B2", NOW_MS - 24 * HOUR_MS)
    visitor = shop.known()
    mark = token(visitor)
    said = {"token": mark, "name": "gloss", "question": "which shines longest"}
    answer = visitor.post("/test-boards/start", data=said)
    assert answer.headers["location"] == "/test-boards/gloss"
    added = visitor.post("/test-boards/gloss/add", data={"token": mark, "board": ["B1", "B2"]})
    assert added.status_code == 303
    return visitor, mark


def test_a_trial_is_begun_and_compares_its_boards(shop: WebShop) -> None:
    visitor, mark = begun(shop)
    for tag, value in (("B1", "82"), ("B2", "74.5")):
        said = {"token": mark, "tag": tag, "quality": "gloss", "value": value, "unit": "GU 60"}
        assert visitor.post("/test-boards/gloss/score", data=said).status_code == 303
    page = visitor.get("/test-boards/gloss")
    assert page.status_code == 200
    assert "Gloss, GU at 60 degrees" in page.text
    assert "At about" in page.text
    assert "74.5" in page.text
    assert "No winner is declared" in page.text
    assert "by Ada" in page.text


def test_an_entry_is_undone_and_stays_in_the_record(shop: WebShop) -> None:
    visitor, mark = begun(shop)
    said = {"token": mark, "tag": "B1", "quality": "hardness", "value": "2H", "unit": ""}
    answer = visitor.post("/test-boards/gloss/score", data=said)
    page = visitor.get(answer.headers["location"])
    assert "2H" in page.text
    assert "Undo" in page.text
    number = re.search(r'name="number" value="(\d+)"', page.text)
    assert number is not None
    void = {"token": mark, "number": number[1]}
    assert visitor.post("/test-boards/gloss/void", data=void).status_code == 303
    assert "2H</span>" not in visitor.get("/test-boards/gloss").text
    kept = shop.do(lambda: shop.store.db.rows("SELECT why FROM void WHERE what = 'score'"))
    assert list(kept) == [("undone at the page",)]


def test_a_figure_that_is_none_stands_at_its_field_and_nothing_is_stored(shop: WebShop) -> None:
    visitor, mark = begun(shop)
    said = {"token": mark, "tag": "B1", "quality": "gloss", "value": "shiny", "unit": "GU 60"}
    page = visitor.post("/test-boards/gloss/score", data=said)
    assert page.status_code == 422
    assert 'id="f-value-fault"' in page.text
    assert 'value="shiny"' in page.text
    assert shop.do(lambda: shop.store.trials.scores("B1")) == ()


def test_a_scale_is_set_once_and_a_figure_off_it_is_refused(shop: WebShop) -> None:
    visitor, mark = begun(shop)
    ends = {
        "token": mark,
        "scale_quality": "haze",
        "worst": "0",
        "best": "10",
        "words": "0 a fog, 10 clear",
    }
    assert visitor.post("/test-boards/gloss/scale", data=ends).status_code == 303
    said = {"token": mark, "tag": "B1", "quality": "haze", "value": "11", "unit": ""}
    page = visitor.post("/test-boards/gloss/score", data=said)
    assert page.status_code == 422
    assert "off the scale" in page.text


def test_strangers_may_not_write_and_see_no_forms(open_shop: WebShop) -> None:
    visitor = open_shop.stranger()
    page = visitor.get("/test-boards")
    assert page.status_code == 200
    assert 'action="/test-boards/start"' not in page.text
    said = {"token": "none", "name": "x", "question": "y"}
    assert visitor.post("/test-boards/start", data=said).headers["location"].startswith("/enter")
    assert open_shop.do(open_shop.store.trials.all) == ()


def test_a_trial_needs_a_name_and_a_question(shop: WebShop) -> None:
    visitor = shop.known()
    page = visitor.post("/test-boards/start", data={"token": token(visitor), "name": "two words"})
    assert page.status_code == 422
    assert 'id="f-question-fault"' in page.text


def test_a_trial_that_is_not_there_is_explained(open_shop: WebShop) -> None:
    page = open_shop.stranger().get("/test-boards/glos")
    assert page.status_code == 404
    assert "there is no trial" in page.text
