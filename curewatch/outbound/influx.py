"""The door to a server that speaks the InfluxDB v2 write interface; one attempt at a time.

The client library's own batching is not used: it drops what it could not send. Only the status 204
counts as taken: what answers 200 on the way there is a gateway's own page.

References
----------
InfluxDB v2 documentation, 'Troubleshoot issues writing data': 204 all written; 400 malformed,
nothing written; 422 some or all rejected, the rest written. That the body of such a partial write
ends in 'dropped=N' is from memory; where it does not, the batch is halved instead.
"""

from __future__ import annotations

import logging
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from curewatch.errors import TransportError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

LOG = logging.getLogger(__name__)
TIMEOUT_MS = 10_000
TAKEN = 204
MALFORMED, WHO, TOO_LARGE, OUT_OF_RETENTION = 400, 401, 413, 422
MOST_MALFORMED = 100  # lines of one write: of more than so many, something else is wrong
MOST_TOLD = 3  # refused lines that a write puts into the log
LONGEST_TOLD = 300  # characters of each
LONGEST_WAIT_S = 3600.0
DROPPED = re.compile(r"partial write.*\bdropped=(\d+)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Place:
    """Where points go.

    Attributes
    ----------
    url, org, bucket: of the server.
    token: returns the token, read anew after it was refused.
    ca_file: certificates that vouch for the server; None for the system's.
    """

    url: str
    org: str
    bucket: str
    token: Callable[[], str]
    ca_file: Path | None = None


class Refused(TransportError):  # noqa: N818 - reads as the sentence it is
    """The server does not take these lines, now or later."""

    def __init__(self, message: str, status: int, dropped: int | None) -> None:
        """Say why, and how many it dropped where it took the rest."""
        self.status = status
        self.dropped = dropped
        super().__init__(message, retry=False)


class NotNow(TransportError):  # noqa: N818 - same
    """The server asks to wait before the next try."""

    def __init__(self, message: str, wait_s: float) -> None:
        """Say why, and how long it asks for [s]."""
        self.wait_s = wait_s
        super().__init__(message, retry=True)


class Taker(Protocol):
    """What takes lines of points."""

    def write(self, lines: Sequence[str]) -> int:
        """Send lines; return how many were refused for good."""


class InfluxDoor:
    """Writes lines; the library is imported when the first are sent."""

    def __init__(self, place: Place) -> None:
        """Write to `place`."""
        self._place = place
        self._service: Any = None
        self._refused = 0

    def write(self, lines: Sequence[str]) -> int:
        """Send lines, halving what is refused; return how many were refused for good.

        Raises
        ------
        TransportError
            When nothing can be said of the lines: try again later.
        """
        self._refused = 0
        return self._write(lines)

    def _write(self, lines: Sequence[str]) -> int:
        try:
            self._send(lines)
        except Refused as refused:
            if refused.dropped is not None:
                LOG.warning("the server took a part of %d points: %s", len(lines), refused)
                return min(refused.dropped, len(lines))
            if len(lines) == 1:
                return self._give_up(lines[0], refused)
            half = len(lines) // 2
            return self._write(lines[:half]) + self._write(lines[half:])
        return 0

    def _give_up(self, line: str, refused: Refused) -> int:
        """Count a line that is refused for good; too many of them are no fault of the lines."""
        self._refused += 1
        if self._refused > MOST_MALFORMED and refused.status != OUT_OF_RETENTION:
            raise TransportError(
                f"{refused}: more than {MOST_MALFORMED} points in a row; see that url and bucket "
                "are those of an InfluxDB v2 write interface (nothing is skipped)",
                retry=True,
            )
        if self._refused <= MOST_TOLD:
            LOG.warning("refused for good: %s: %s", refused, line[:LONGEST_TOLD])
        return 1

    def _send(self, lines: Sequence[str]) -> None:
        import urllib3  # noqa: PLC0415 - comes with the library
        from influxdb_client.rest import ApiException  # noqa: PLC0415 - 13 MB for those who want it

        try:
            _, status, _ = self._opened().post_write_with_http_info(
                org=self._place.org,
                bucket=self._place.bucket,
                body="\n".join(lines).encode(),
                precision="ms",
                content_type="text/plain; charset=utf-8",
                _return_http_data_only=False,
            )
        except ApiException as error:
            self._raise(error.status, error.reason, error.headers or {}, _text(error.body))
        except (urllib3.exceptions.HTTPError, OSError) as error:
            raise TransportError(
                f"{self._place.url} cannot be reached ({_cause(error)})", retry=True
            ) from None
        else:
            if status != TAKEN:
                raise TransportError(
                    f"{self._place.url} answers {status} where an InfluxDB v2 write interface "
                    f"answers {TAKEN}: something else listens there",
                    retry=True,
                )

    def _raise(
        self, status: int | None, reason: str | None, headers: Mapping[str, str], body: str
    ) -> None:
        """Map an answer that is no success."""
        why = " ".join(f"{self._place.url} answers {status} {reason or ''} {body}".split())
        why = why[:LONGEST_TOLD]
        if status == WHO:
            self._service = None  # the token may have been renewed
        if status in (MALFORMED, TOO_LARGE, OUT_OF_RETENTION):
            dropped = DROPPED.search(body)
            raise Refused(why, status, int(dropped[1]) if dropped else None) from None
        wait = headers.get("Retry-After", "")
        if wait.isdecimal():
            raise NotNow(why, min(float(wait), LONGEST_WAIT_S)) from None
        raise TransportError(why, retry=True) from None

    def _opened(self) -> Any:  # noqa: ANN401 - the library has no types
        if self._service is None:
            from influxdb_client.client.influxdb_client import InfluxDBClient  # noqa: PLC0415 - as above
            from influxdb_client.service.write_service import WriteService  # noqa: PLC0415 - as above

            ca_file = self._place.ca_file
            client = InfluxDBClient(
                self._place.url,
                self._place.token(),
                org=self._place.org,
                timeout=TIMEOUT_MS,
                enable_gzip=True,
                ssl_ca_cert=None if ca_file is None else str(ca_file),
            )
            self._service = WriteService(client.api_client)  # type: ignore[no-untyped-call]  # the library has none
        return self._service


def _text(body: object) -> str:
    """Return an answer's body, whatever the library made of it."""
    return body.decode("utf-8", "replace") if isinstance(body, bytes) else str(body or "")


def _cause(error: Exception) -> str:
    """Name what happened: of a chain of causes the last, which says what to look at."""
    cause: BaseException = error
    while True:
        inner = getattr(cause, "reason", None) or cause.__cause__
        if not isinstance(inner, BaseException):
            return f"{type(cause).__name__}: {cause}"[:LONGEST_TOLD]
        cause = inner
