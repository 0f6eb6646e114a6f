"""The door to a server that speaks the InfluxDB v2 write interface; one attempt at a time.

The client library's own batching is not used: it drops what it could not send.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from curewatch.errors import TransportError

if TYPE_CHECKING:
    from collections.abc import Sequence

TIMEOUT_MS = 10_000
MALFORMED, TOO_LARGE, OUT_OF_RETENTION = 400, 413, 422


@dataclass(frozen=True, slots=True)
class Place:
    """Where points go."""

    url: str
    org: str
    bucket: str
    token: str


class Refused(TransportError):  # noqa: N818 - reads as the sentence it is
    """The server does not take these lines, now or later."""


class Taker(Protocol):
    """What takes lines of points."""

    def write(self, lines: Sequence[str]) -> int:
        """Send lines; return how many were refused for good."""


class InfluxDoor:
    """Writes lines; the library is imported when the first are sent."""

    def __init__(self, place: Place) -> None:
        """Write to `place`."""
        self._place = place
        self._api: Any = None

    def write(self, lines: Sequence[str]) -> int:
        """Send lines, halving what is refused; return how many were refused for good.

        Raises
        ------
        TransportError
            When nothing can be said of the lines: try again later.
        """
        try:
            self._send(lines)
        except Refused:
            if len(lines) == 1:
                return 1
            half = len(lines) // 2
            return self.write(lines[:half]) + self.write(lines[half:])
        return 0

    def _send(self, lines: Sequence[str]) -> None:
        import urllib3  # noqa: PLC0415 - comes with the library
        from influxdb_client.rest import ApiException  # noqa: PLC0415 - 13 MB for those who want it

        try:
            self._opened().write(
                self._place.bucket,
                self._place.org,
                "\n".join(lines).encode(),
                write_precision="ms",
            )
        except ApiException as error:
            why = f"{self._place.url} answers {error.status} {error.reason or ''}".rstrip()
            if error.status in (MALFORMED, TOO_LARGE, OUT_OF_RETENTION):
                raise Refused(why, retry=False) from None
            raise TransportError(why, retry=True) from None
        except (urllib3.exceptions.HTTPError, OSError) as error:
            raise TransportError(
                f"{self._place.url} cannot be reached ({type(error).__name__})", retry=True
            ) from None

    def _opened(self) -> Any:  # noqa: ANN401 - the library has no types
        if self._api is None:
            from influxdb_client.client.influxdb_client import InfluxDBClient  # noqa: PLC0415 - as above
            from influxdb_client.client.write_api import SYNCHRONOUS  # noqa: PLC0415 - as above

            client = InfluxDBClient(
                self._place.url,
                self._place.token,
                org=self._place.org,
                timeout=TIMEOUT_MS,
                enable_gzip=True,
            )
            self._api = client.write_api(write_options=SYNCHRONOUS)
        return self._api
