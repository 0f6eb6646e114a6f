"""Certificates made for a test: an authority of one's own, and brokers that it vouches for."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.broker.mosquitto import installed

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True)
class Authority:
    """An authority, or a certificate that vouches for itself."""

    folder: Path
    name: str

    @property
    def certificate(self) -> Path:
        """Its certificate."""
        return self.folder / f"{self.name}.pem"

    @property
    def key(self) -> Path:
        """Its key."""
        return self.folder / f"{self.name}.key"

    @classmethod
    def make(cls, folder: Path, name: str, *, host: str = "") -> Authority:
        """Make one that signs itself, for `host` if it is to be a broker's own."""
        made = cls(folder, name)
        alternative = ["-addext", f"subjectAltName={host}"] if host else []
        made._run(
            "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1",
            "-noenc", "-days", "2", "-subj", f"/CN={name}", *alternative,
            "-keyout", str(made.key), "-out", str(made.certificate),
        )  # fmt: skip
        return made

    def vouch_for(self, name: str, host: str, *, days: int = 2) -> Authority:
        """Return a certificate for `host`, such as 'IP:127.0.0.1', signed by this authority."""
        made = Authority(self.folder, name)
        request, extra = self.folder / f"{name}.csr", self.folder / f"{name}.ext"
        extra.write_text(f"subjectAltName={host}\n")
        self._run(
            "req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-noenc",
            "-subj", f"/CN={name}", "-keyout", str(made.key), "-out", str(request),
        )  # fmt: skip
        self._run(
            "x509", "-req", "-in", str(request), "-CA", str(self.certificate), "-CAkey",
            str(self.key), "-CAcreateserial", "-days", str(days), "-extfile", str(extra),
            "-out", str(made.certificate),
        )  # fmt: skip
        return made

    def fingerprint(self) -> str:
        """Return the SHA-256 digest of its certificate as openssl tells it, colons and all."""
        said = self._run("x509", "-in", str(self.certificate), "-noout", "-fingerprint", "-sha256")
        return said.strip().rpartition("=")[2]

    def listener(self) -> str:
        """Return the lines that let a listener of mosquitto show this certificate."""
        return f"certfile {self.certificate}\nkeyfile {self.key}"

    def _run(self, *words: str) -> str:
        program = installed("openssl", "openssl")
        return subprocess.run([program, *words], check=True, capture_output=True, text=True).stdout
