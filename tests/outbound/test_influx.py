"""What the mirror's door makes of a server's answers; the server is a stub that obeys the test."""

from __future__ import annotations

import gzip
import threading
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING

import pytest

from curewatch.errors import TransportError
from curewatch.outbound.influx import MOST_MALFORMED, InfluxDoor, NotNow, Place

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
    body: str = ""
    headers: dict[str, str] = field(default_factory=dict)
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
            status = one.answer(body.decode().splitlines())
            text = b"" if status == 204 else one.body.encode()
            self.send_response(status)
            for name, value in one.headers.items():
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(text)))
            self.end_headers()
            self.wfile.write(text)

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
    return InfluxDoor(Place(url, "yard", "shop", lambda: TOKEN))


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


def test_of_a_partial_write_the_rest_is_taken_and_not_sent_again(stub: Stub) -> None:
    stub.refuses_as = 422
    stub.body = '{"message":"partial write: points beyond retention policy dropped=2"}'
    assert door(stub.url).write([*GOOD, "bad 1", "bad 2"]) == 2
    assert len(stub.asked) == 1


def test_what_is_refused_for_good_is_named_in_the_log(
    stub: Stub, caplog: pytest.LogCaptureFixture
) -> None:
    stub.body = '{"message":"unable to parse"}'
    door(stub.url).write([*GOOD, "bad k=1 5"])
    assert "bad k=1 5" in caplog.text
    assert "unable to parse" in caplog.text


def test_a_server_that_takes_nothing_at_all_makes_us_skip_nothing(stub: Stub) -> None:
    lines = [f"bad,k=a v=1 {number}" for number in range(1000)]
    with pytest.raises(TransportError, match="nothing is skipped") as caught:
        door(stub.url).write(lines)
    assert caught.value.retry
    assert len(stub.asked) < 4 * MOST_MALFORMED


def test_a_whole_write_of_points_that_are_too_old_is_passed_over(stub: Stub) -> None:
    stub.refuses_as = 422
    lines = [f"bad,k=a v=1 {number}" for number in range(MOST_MALFORMED + 9)]
    assert door(stub.url).write(lines) == len(lines)


@pytest.mark.parametrize("status", [200, 202, 302])
def test_a_gateways_own_page_is_not_taken_for_a_success(stub: Stub, status: int) -> None:
    stub.status, stub.body = status, "<html>log in</html>"
    stub.headers = {"Location": f"{stub.url}/login"}
    with pytest.raises(TransportError, match=str(status)) as caught:
        door(stub.url).write(GOOD)
    assert caught.value.retry


def test_a_server_may_ask_to_be_left_alone_for_a_while(stub: Stub) -> None:
    stub.status, stub.headers = 503, {"Retry-After": "40"}
    with pytest.raises(NotNow) as caught:
        door(stub.url).write(GOOD)
    assert caught.value.wait_s == 40.0


def test_a_renewed_token_is_read_once_the_old_one_is_refused(stub: Stub) -> None:
    tokens = ["old", "new"]
    one = InfluxDoor(Place(stub.url, "yard", "shop", lambda: tokens.pop(0)))
    stub.status = 401
    with pytest.raises(TransportError):
        one.write(GOOD)
    stub.status = 204
    one.write(GOOD)
    one.write(GOOD)
    assert [token for _, token in stub.asked] == ["Token old", "Token new", "Token new"]
