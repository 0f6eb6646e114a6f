"""What stands before every view: names, origins, sizes, headers."""

from __future__ import annotations

import asyncio
import gzip
import logging
import socket
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import pytest

from curewatch.web.guard import LARGEST_FORM, Guard
from curewatch.web.names import (
    host_of,
    is_loopback,
    is_our_host,
    is_our_origin,
    own_names,
    page_url,
)
from tests.web_shop import SECRET, WebShop

if TYPE_CHECKING:
    from fastapi.responses import Response
    from starlette.types import Message, Send


@pytest.mark.parametrize(
    "host",
    [
        "localhost",
        "localhost:8480",
        "LOCALHOST",
        "127.0.0.1:8480",
        "192.168.1.7",
        "[::1]:8480",
        "[fe80::1]",
        "shop.example.org",
        f"{socket.gethostname()}:8480",
    ],
)
def test_addresses_and_own_names_are_ours(host: str) -> None:
    assert is_our_host(host, ("shop.example.org",))


@pytest.mark.parametrize(
    "host", ["", "elsewhere.example", "localhost.elsewhere.example", "[::1", "1.2.3.4.example", "@"]
)
def test_names_of_strangers_are_not(host: str) -> None:
    assert not is_our_host(host, ("shop.example.org",))


def test_a_machine_is_known_by_its_short_name_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(socket, "gethostname", lambda: "Bench.lan")
    assert own_names() == ("localhost", "bench.lan", "bench", "bench.local")
    monkeypatch.setattr(socket, "gethostname", lambda: "bench")
    assert own_names() == ("localhost", "bench", "bench.local")
    assert is_our_host("bench.local:80", ())


def test_hosts_are_read_out_of_what_browsers_send() -> None:
    assert host_of("http://Bench:8480") == "bench"
    assert host_of("null") == "null"
    assert is_our_origin(None, "bench:8480")
    assert is_our_origin("http://bench:8480", "BENCH:8480")
    assert is_our_origin("https://bench", "bench")  # behind a proxy with a certificate
    assert not is_our_origin("null", "bench")
    assert not is_our_origin("http://bench:80", "bench:8480")
    assert not is_our_origin("https://elsewhere.example", "bench")


def test_where_the_page_is_said_to_be() -> None:
    assert page_url("127.0.0.1", 8480) == "http://127.0.0.1:8480/"
    assert page_url("::", 80) == "http://[::]:80/"
    assert is_loopback("127.0.0.1")
    assert is_loopback("::1")
    assert is_loopback("localhost")
    assert not is_loopback("0.0.0.0")  # noqa: S104 - compared with
    assert not is_loopback("bench")


def test_a_strange_name_made_to_point_here_gets_nothing(open_shop: WebShop) -> None:
    stranger = open_shop.stranger(base_url="http://elsewhere.example")
    for answer in (stranger.get("/"), stranger.get("/api/v1/rooms"), stranger.get("/look/page.js")):
        assert answer.status_code == 421
        assert "[page] names" in answer.text
        assert "<" not in answer.text


def test_a_form_from_another_page_is_turned_away(shop: WebShop) -> None:
    known = shop.known()
    for origin in ("http://elsewhere.example", "null", "http://localhost:9"):
        answer = known.post("/enter", data={"passphrase": SECRET}, headers={"Origin": origin})
        assert answer.status_code == 403
    own = known.post("/enter", data={"passphrase": SECRET}, headers={"Origin": "http://localhost"})
    assert own.status_code == 303


def test_long_and_endless_forms_are_turned_away_unread(shop: WebShop) -> None:
    stranger = shop.stranger()
    answer = stranger.post("/enter", data={"passphrase": "x" * LARGEST_FORM})
    assert answer.status_code == 413
    answer = stranger.post("/enter", content=iter([b"passphrase=", b"x"]))
    assert answer.status_code == 411
    answer = stranger.post("/enter", content=b"", headers={"Content-Length": "many"})
    assert answer.status_code == 411


@pytest.mark.parametrize("place", ["/", "/enter", "/nowhere", "/api/v1/rooms", "/look/page.css"])
def test_every_answer_carries_the_headers(open_shop: WebShop, place: str) -> None:
    headers = open_shop.stranger().get(place).headers
    policy = headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert "form-action 'self'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cache-control"] == ("max-age=3600" if "/look/" in place else "no-store")
    assert "server" not in headers


def test_pages_are_sent_packed(open_shop: WebShop) -> None:
    stranger = open_shop.stranger()
    with stranger.stream("GET", "/", headers={"Accept-Encoding": "gzip"}) as answer:
        packed = b"".join(answer.iter_raw())
    assert answer.headers["content-encoding"] == "gzip"
    assert answer.headers["vary"] == "Accept-Encoding"
    assert b"<!doctype html>" in gzip.decompress(packed)
    plain = stranger.get("/", headers={"Accept-Encoding": "identity"})
    assert "content-encoding" not in plain.headers


def test_a_fault_of_our_own_is_logged_and_said_in_words(
    open_shop: WebShop, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def breaks(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("curewatch.web.views.alerts.look", breaks)
    monkeypatch.setattr("curewatch.web.api.shelf_plain", breaks)
    with caplog.at_level(logging.ERROR):
        page = open_shop.stranger().get("/alerts")
        plain = open_shop.stranger().get("/api/v1/finishes")
    assert page.status_code == plain.status_code == 500
    assert "wrong in curewatch itself" in page.text
    assert "ZeroDivision" not in page.text
    assert list(plain.json()) == ["error"]
    assert "content-security-policy" in page.headers
    assert "GET /alerts failed" in caplog.text


def test_an_answer_that_breaks_midway_is_broken_off_not_begun_anew() -> None:
    sent = []

    async def app(_scope: object, _receive: object, send: Send) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": []})
        raise ZeroDivisionError

    async def receive() -> Message:
        return {"type": "http.disconnect"}

    async def send(message: Message) -> None:
        sent.append(message["type"])

    def fault(_: object) -> Response:
        raise AssertionError("nothing can be said any more")

    guard = Guard(app, names=(), fault=fault)
    scope = {"type": "http", "method": "GET", "path": "/", "headers": [(b"host", b"localhost")]}
    with ThreadPoolExecutor(1) as apart, pytest.raises(ZeroDivisionError):  # a loop of its own
        apart.submit(lambda: asyncio.run(guard(scope, receive, send))).result()
    assert sent == ["http.response.start"]
