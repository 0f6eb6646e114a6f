"""The stream that tells an open page when to look again, from a real server."""

from __future__ import annotations

import json
import logging
import socket
import threading
from typing import TYPE_CHECKING

import httpx
import pytest

from curewatch.web import live
from curewatch.web.desk import Desk
from curewatch.web.server import PageServer
from tests.small_shop import MINUTE_MS
from tests.web_shop import NOW_MS, SECRET, WebShop

if TYPE_CHECKING:
    from collections.abc import Iterator

SERVED = "\n[page]\nserve = true\nport = 0\nopen_reading = true\n"


@pytest.fixture
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[WebShop, PageServer]]:
    with WebShop.at(tmp_path_factory.mktemp("served"), SERVED) as shop:
        shop.hear()
        page = shop.daemon.page
        assert page is not None
        page.start()
        yield shop, page
        page.stop()


def numbers(lines: Iterator[str]) -> Iterator[int]:
    """Yield the number of the state in each event."""
    for line in lines:
        if line.startswith("data: "):
            yield json.loads(line[6:])["generation"]


def test_an_open_page_hears_of_a_new_reading_and_of_the_end(
    served: tuple[WebShop, PageServer],
) -> None:
    shop, page = served
    url = f"http://127.0.0.1:{page.port}/live"
    with httpx.stream("GET", url, timeout=10.0, headers={"Accept-Encoding": "gzip"}) as stream:
        assert stream.headers["content-type"].startswith("text/event-stream")
        assert "content-encoding" not in stream.headers  # a packed stream arrives too late
        told = numbers(stream.iter_lines())
        first = next(told)
        assert first == shop.daemon.desk.generation
        shop.hear(NOW_MS + 10 * MINUTE_MS, hours=0)
        assert next(told) > first
        ended = threading.Thread(target=page.stop)
        ended.start()
        assert list(told) == []
        ended.join(60.0)
        assert not ended.is_alive()


def test_a_quiet_stream_still_says_that_it_lives(
    served: tuple[WebShop, PageServer], monkeypatch: pytest.MonkeyPatch
) -> None:
    _, page = served
    monkeypatch.setattr(live, "BEAT_S", 1.0)
    with httpx.stream("GET", f"http://127.0.0.1:{page.port}/live", timeout=10.0) as stream:
        told = numbers(stream.iter_lines())
        assert next(told) == next(told)


def test_a_beat_comes_well_before_the_page_calls_the_line_lost() -> None:
    assert live.BEAT_S + live.LOOK_S < 20.0 / 2


def test_who_may_not_look_gets_no_stream(shop: WebShop) -> None:
    assert shop.stranger().get("/live").status_code == 303


def test_behind_a_proxy_with_a_certificate_the_cookie_stays_on_encrypted_lines(
    served: tuple[WebShop, PageServer],
) -> None:
    shop, page = served
    shop.set_passphrase()
    proxied = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "10.0.0.7"}
    form, url = {"passphrase": SECRET}, f"http://127.0.0.1:{page.port}/enter"
    assert "Secure" in httpx.post(url, data=form, headers=proxied).headers["set-cookie"]
    assert "Secure" not in httpx.post(url, data=form).headers["set-cookie"]


def test_a_port_that_is_taken_is_said_and_is_no_fault(
    shop: WebShop, caplog: pytest.LogCaptureFixture
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        taken = other.getsockname()[1]
        page = shop.settings.page.model_copy(update={"port": taken})
        server = PageServer(Desk(), shop.settings.model_copy(update={"page": page}))
        with caplog.at_level(logging.ERROR):
            server.start()
        server.stop()
    assert f"127.0.0.1 port {taken} cannot be listened on" in caplog.text
    assert "set another [page] port" in caplog.text
    assert server.port == taken


@pytest.mark.parametrize(("host", "reached"), [("::1", ["::1"]), ("::", ["::1", "127.0.0.1"])])
def test_the_newer_protocol_is_listened_on_too(
    shop: WebShop, host: str, reached: list[str], caplog: pytest.LogCaptureFixture
) -> None:
    if not socket.has_ipv6:
        pytest.skip("this machine has no IPv6")
    page = shop.settings.page.model_copy(update={"port": 0, "host": host, "open_reading": True})
    server = PageServer(shop.daemon.desk, shop.settings.model_copy(update={"page": page}))
    with caplog.at_level(logging.INFO):
        server.start()
    if "cannot be listened on" in caplog.text:
        pytest.skip("IPv6 is switched off here")
    for address in reached:
        place = f"[{address}]" if ":" in address else address
        assert httpx.get(f"http://{place}:{server.port}/enter").status_code == 200
    assert f"the page is at http://[{host}]:{server.port}/" in caplog.text
    server.stop()


def test_a_server_that_breaks_does_not_take_the_daemon_along(
    shop: WebShop, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    page = shop.settings.page.model_copy(update={"port": 0})
    server = PageServer(Desk(), shop.settings.model_copy(update={"page": page}))

    def breaks(**_: object) -> None:
        raise RuntimeError("nothing works")

    monkeypatch.setattr(server._server, "run", breaks)  # noqa: SLF001 - no other way to break it
    with caplog.at_level(logging.ERROR):
        server.start()
        server._thread.join(5.0)  # noqa: SLF001 - it ends by itself
    assert "the daemon goes on without it" in caplog.text
    server.stop()
