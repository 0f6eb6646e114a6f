"""No view and no refused form speaks as a terminal, a file or a program does."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING

import pytest

from tests.small_shop import HOUR_MS
from tests.web.conftest import OPEN
from tests.web.test_access import token_of
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

VIEWS = (
    "/",
    "/wall",
    "/hooks",
    "/piece/B1",
    "/piece/WET",
    "/piece/BARE",
    "/piece/new",
    "/room/loft",
    "/room/loft?finish=shellac&span=7d",
    "/spray-day",
    "/spray-day?ask=plan&finish=waterborne&coats=3&piece=B1&scuff=on",
    "/spray-day?ask=finish-by&finish=waterborne&coats=3&date=2026-06-01&room=loft",
    "/spray-day?ask=finish-by&finish=nitro-lacquer&coats=9&date=2026-03-12&room=loft",
    "/spray-day?ask=what-if&piece=B1&change=cabinet&cabinet_c=32",
    "/spray-day?ask=what-if&finish=shellac&room=loft&change=other_finish&other_finish=waterborne&coats=3",
    "/shelf",
    "/shelf/waterborne",
    "/shelf/nitro-lacquer",
    "/shelf/dose-cured",
    "/test-boards",
    "/sensors",
    "/sensors/rack",
    "/pots",
    "/alerts",
    "/record/B1",
    "/record/B1/care",
    "/labels?make=yes&piece=B1&hooks=left",
    "/enter",
)
REFUSED = (
    "/spray-day?ask=plan&finish=waterborne&coats=900&room=loft",
    "/spray-day?ask=plan&finish=waterborne&coats=3&room=loft&wet_um=0.01",
    "/spray-day?ask=plan&finish=waterborne&coats=3&room=loft&temp_c=900",
    "/spray-day?ask=plan&finish=waterborne&coats=3&room=loft&temp_c=140",
    "/spray-day?ask=plan&finish=waterborne&coats=3&room=loft&rh_pct=0.4&temp_c=20",
    "/spray-day?ask=plan&finish=waterborne&coats=3&room=loft&opens=9:00&closes=9:00",
    "/spray-day?ask=plan&finish=waterborne&coats=3&room=loft&coat_min=9000",
    "/spray-day?ask=plan&finish=waterborne&coats=3&room=loft&per_day=0",
    "/spray-day?ask=plan&finish=waterborne&coats=3&room=loft&start=yesterday",
    "/spray-day?ask=plan&finish=water&coats=3&room=loft",
    "/spray-day?ask=plan&finish=shellac&coats=3&piece=B1",
    "/spray-day?ask=plan&finish=shellac&coats=3&piece=B9",
    "/spray-day?ask=finish-by&finish=waterborne&coats=3&date=2020-01-01&room=loft",
    "/spray-day?ask=finish-by&finish=waterborne&coats=3&date=soon&room=loft",
    "/spray-day?ask=finish-by&finish=waterborne&coats=3&date=2026-06-01&spare_days=-3&room=loft",
    "/spray-day?ask=what-if&finish=waterborne&room=loft&change=climate",
    "/spray-day?ask=what-if&finish=waterborne&room=loft&change=climate&temp_c=120",
    "/spray-day?ask=what-if&finish=waterborne&room=lift&change=fan",
    "/spray-day?ask=what-if&finish=water&room=loft&change=fan",
    "/spray-day?ask=what-if&finish=waterborne&room=loft&change=heater&heater=21&on_from=8:00&on_to=8:00",
    "/spray-day?ask=what-if&piece=B1&change=fewer_coats&fewer_coats=20",
    "/spray-day?ask=what-if&piece=B9&change=fan",
    "/room/lift",
    "/sensors/rak",
    "/pot/none",
    "/shelf/water",
    "/piece/B9",
    "/record/B9",
    "/labels?make=yes&grid=a9&piece=B1",
    "/labels?make=yes&skip=900&piece=B1",
    "/nowhere",
)
POSTED: tuple[tuple[str, dict[str, str]], ...] = (
    ("/test-boards/start", {"name": "a b/c", "question": "which?"}),
    ("/test-boards/start", {"name": "", "question": ""}),
    ("/test-boards/T1/score", {"tag": "B1", "quality": "haze", "value": "9"}),
    ("/test-boards/T1/score", {"tag": "B9", "quality": "rubs", "value": "9", "unit": "rubs"}),
    ("/test-boards/T1/score", {"tag": "B1", "quality": "gloss", "value": "900", "unit": "GU 60"}),
    ("/test-boards/T1/score", {"tag": "B1", "quality": "paint", "value": "9"}),
    ("/test-boards/T1/scale", {"scale_quality": "haze", "worst": "3", "best": "3", "words": "x"}),
    ("/test-boards/T1/add", {}),
    ("/test-boards/T1/void", {"number": "99", "why": "x"}),
    ("/piece/new", {"tag": "a b", "finish": "waterborne"}),
    ("/piece/new", {"tag": "N1", "finish": "water"}),
    ("/piece/new", {"tag": "N1", "finish": "waterborne", "room": "lift"}),
    ("/piece/new", {"tag": "N1", "finish": "waterborne", "at": "soon"}),
    ("/piece/B1", {"deed": "coat", "wet": "5000"}),
    ("/piece/B1", {"deed": "coat", "wet": "x"}),
    ("/piece/B1", {"deed": "plan", "coats": "0"}),
    ("/room/loft/plan", {"kind": "kept", "temp": "300"}),
    ("/room/loft/plan", {"kind": "kept", "rh": "0.4"}),
    ("/room/loft/plan", {"kind": "kept"}),
    ("/room/loft/plan", {"kind": "off"}),
    ("/room/loft/plan", {"kind": "kept", "temp": "20", "start": "soon"}),
    ("/alerts/999/seen", {}),
    ("/pots", {"name": "a b", "finish": "waterborne", "lot": "7"}),
    ("/pots", {"name": "P1", "finish": "water", "lot": "7"}),
    ("/pots", {"name": "P1", "finish": "waterborne", "lot": "7", "crosslinker_pct": "0.05"}),
    ("/pot/none", {"deed": "gone"}),
    ("/sensors/rak/jar", {"salt": "table"}),
    ("/sensors/rack/jar", {"salt": "table", "at": "soon"}),
    ("/sensors/rack/keep", {}),
    ("/sensors/rack/hang", {}),
    ("/sensors/rack/beside", {"shows": "900", "error": "0.2"}),
    ("/sensors/rack/beside", {"shows": "19", "error": "9"}),
    ("/sensors/rack/beside", {"shows": "warm", "error": "0.2"}),
    ("/sensors/rack/beside", {"shows": "19", "error": "0.2", "which": "probe"}),
    ("/sensors/rack/checks/99/undo", {"why": "x"}),
)
RAW = re.compile(
    r"\bum2?\b|\bdeg[CF]\b|--[a-z]|\bcurewatch [a-z-]+ [a-z-]+ |`|\bnan\b|\binf\b|: None\b"
    r"|\b[a-z]+(?:_[a-z0-9]+)+\b|\bpiece piece\b|\{[a-z_]*\}"
)
MEANT = ("'curewatch finish new'", "curewatch page passphrase")  # at the computer; said so


def said(text: str) -> str:
    """Return what a person reads or hears of a page."""
    body = re.sub(r"<(style|script)\b.*?</\1>", " ", text.partition("<body")[2], flags=re.DOTALL)
    heard = re.findall(r'(?:aria-label|placeholder|alt|title)="([^"]*)"', body)
    plain = html.unescape(re.sub(r"<[^>]+>", " ", body) + " ".join(heard))
    for words in MEANT:
        plain = plain.replace(words, "")
    return " ".join(plain.split())


def raw_words(text: str) -> list[str]:
    plain = said(text)
    return [plain[max(found.start() - 60, 0) : found.end() + 40] for found in RAW.finditer(plain)]


@pytest.fixture(params=["metric", "imperial"])
def shop(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[WebShop]:
    """A shop where something can be said of everything."""
    with WebShop.at(tmp_path, OPEN) as opened:
        opened.settings.site.__dict__["units"] = request.param
        opened.set_passphrase()
        opened.hear()
        opened.hang("B1", NOW_MS - 24 * HOUR_MS)
        opened.hang("WET", NOW_MS - HOUR_MS // 6)
        opened.hang("BARE")
        yield opened


def test_every_view_speaks_plainly(shop: WebShop) -> None:
    visitor = shop.known()
    found = {}
    for place in VIEWS:
        answer = visitor.get(place)
        assert answer.status_code == 200, place
        if words := raw_words(answer.text):
            found[place] = words
    assert found == {}


def test_every_refusal_speaks_plainly(shop: WebShop) -> None:
    visitor = shop.known()
    found = {}
    for place in REFUSED:
        answer = visitor.get(place)
        assert answer.status_code in (404, 422), place
        if words := raw_words(answer.text):
            found[place] = words
    assert found == {}


def test_every_refused_form_speaks_plainly(shop: WebShop) -> None:
    visitor = shop.known()
    token = token_of(visitor.get("/alerts"))
    trial = {"token": token, "name": "T1", "question": "which?"}
    assert visitor.post("/test-boards/start", data=trial).status_code == 303
    found = {}
    for number, (place, typed) in enumerate(POSTED):
        form = {"token": token, "key": f"form-number-{number}", **typed}
        answer = visitor.post(place, data=form)
        assert answer.status_code in (404, 422), (place, typed)
        if words := raw_words(answer.text):
            found[place, *typed.values()] = words
    assert found == {}


def test_what_is_raw_is_found() -> None:
    assert raw_words("<body>a film of 100 um, --wet-um 3, film.solids_pct, 21 degC, 100 µm")
    assert raw_words("<body>a film of 100 µm at 21 °C in drying-loft") == []
