"""A process that keeps what arrives in a file and acknowledges it then; made to be killed."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from curewatch.intake.broker import BrokerAccess
from curewatch.intake.mqtt import MqttIntake


def main(port: str, protocol: str, file: str) -> None:
    """Keep the payloads of 'shop/#', one a line, until killed."""
    assert protocol in ("5", "3.1.1")
    access = BrokerAccess("127.0.0.1", int(port), protocol=protocol)  # type: ignore[arg-type]
    intake = MqttIntake(access, ["shop/#"], site="yard", now_ms=lambda: 0)
    intake.start()
    with Path(file).open("ab") as kept:
        kept.write(b"\n")  # a kill may have cut the line before
        while True:
            taken = intake.take(200, 1.0)
            kept.write(b"".join(b"%s;\n" % message.payload for message in taken))
            kept.flush()
            os.fsync(kept.fileno())
            intake.ack(taken)


if __name__ == "__main__":
    main(*sys.argv[1:])
