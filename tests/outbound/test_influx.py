"""What the mirror's door makes of a server's answers; the server is a stub that obeys the test."""

from __future__ import annotations

import gzip
import threading
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING

import pytest

from curewatch.errors import TransportError
from curewatch.outbound.influx import InfluxDoor, Place

if TYPE_CHECKING:
    from collections.abc import Iterator

TOKEN = "an invented token"  # noqa: S105 - of a server that does not exist
GOOD = [f"m,k=a v={number} {number}" for number in range(9)]


@dataclass
class Stub:
    """Takes lines unless one holds a word it refuses, or it answers all with one status."""

    status: int = 204
    refuses: str = "bad"
    refuses_as: int = 400
    got: list[str] = field(default_factory=list)
    asked: list[tuple[str, str | None]] = field(default_factory=list)
    url: str = ""

    def answer(self, lines: list[str]) -> int:
        """Return the status for a write."""
        if self.status == 204 and any(self.refuses in line for line in lines):
            return self.refuses_as
        if self.status == 204:
            self.got += lines
        return self.status


@pytest.fixture
def stub() -> Iterator[Stub]:
    one = Stub()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            if self.headers.get("Content-Encoding") == "gzip":
                body = gzip.decompress(body)
            one.asked.append((self.path, self.headers.get("Authorization")))
            self.send_response(one.answer(body.decode().splitlines()))
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    one.url = f"http://127.0.0.1:{server.server_port}"
    thread = threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True)
    thread.start()
    yield one
    server.shutdown()
    thread.join()
    server.server_close()


def door(url: str) -> InfluxDoor:
    return InfluxDoor(Place(url, "yard", "shop", TOKEN))


def test_lines_arrive_with_organisation_bucket_precision_and_token(stub: Stub) -> None:
    assert door(stub.url).write(GOOD) == 0
    assert stub.got == GOOD
    ((path, token),) = stub.asked
    assert path.startswith("/api/v2/write?")
    for part in ("org=yard", "bucket=shop", "precision=ms"):
        assert part in path
    assert token == f"Token {TOKEN}"


@pytest.mark.parametrize("status", [400, 413, 422])
def test_what_is_refused_is_told_apart_from_what_is_not(stub: Stub, status: int) -> None:
    stub.refuses_as = status
    lines = [*GOOD[:4], "bad 1", *GOOD[4:], "bad 2"]
    assert door(stub.url).write(lines) == 2
    assert stub.got == GOOD


@pytest.mark.parametrize("status", [401, 403, 404, 408, 429, 500, 503])
def test_what_can_be_mended_skips_nothing(stub: Stub, status: int) -> None:
    stub.status = status
    with pytest.raises(TransportError, match=str(status)) as caught:
        door(stub.url).write(GOOD)
    assert caught.value.retry
    assert len(stub.asked) == 1  # one attempt; the mirror's own back-off decides about more
    assert TOKEN not in str(caught.value)


def test_a_server_that_is_not_there_is_said_so(stub: Stub) -> None:
    gone = stub.url.rpartition(":")[0] + ":9"  # the discard port: nothing listens
    with pytest.raises(TransportError, match="cannot be reached"):
        door(gone).write(GOOD)
