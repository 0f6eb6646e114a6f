"""The encrypted line: whose certificate is taken, and what to do about one that is not."""

from __future__ import annotations

import hashlib
import hmac
import ssl
from typing import TYPE_CHECKING

from curewatch.errors import BadInput

if TYPE_CHECKING:
    from pathlib import Path

# X509_V_ERR_... of OpenSSL's x509_vfy.h (from memory, and tested)
_NOT_YET_VALID, _EXPIRED = 9, 10
_UNKNOWN_AUTHORITY = (2, 18, 19, 20, 21)
_OTHER_NAME = (62, 64)


class PinMismatch(ssl.SSLError):
    """The broker shows another certificate than the one that is pinned."""


def line_context(*, ca_file: Path | None = None, fingerprint: str | None = None) -> ssl.SSLContext:
    """Return what checks the broker's certificate.

    Parameters
    ----------
    ca_file
        Certificates of the authority to trust; None for those the system knows.
    fingerprint
        SHA-256 digest of the one certificate that is taken, 64 hexadecimal digits. Without
        `ca_file` it stands in place of authority and name: a certificate of one's own making
        has neither.

    Raises
    ------
    BadInput
        When `ca_file` holds no certificate.
    """
    try:
        context = ssl.create_default_context(cafile=ca_file)
    except (ssl.SSLError, OSError) as error:
        raise BadInput(
            f"broker.ca_file {ca_file} cannot be used: {error}; it must hold the authority's "
            "certificate in PEM form"
        ) from None
    if fingerprint is not None and ca_file is None:
        context.check_hostname = False
        context.verify_mode = ssl.CERT_NONE  # the pin is stricter than any authority
    context.sslsocket_class = _line_class(fingerprint)
    return context


def tls_hint(error: ssl.SSLError) -> str:
    """Return what is wrong with an encrypted line, and what to do about it."""
    if isinstance(error, PinMismatch):
        return str(error.args[-1])
    if not isinstance(error, ssl.SSLCertVerificationError):
        return f"no encrypted line ({error}); is this the broker's port for encrypted lines?"
    code, said = getattr(error, "verify_code", 0), getattr(error, "verify_message", str(error))
    if code in _UNKNOWN_AUTHORITY:
        todo = (
            "nobody this machine trusts has signed it; set broker.ca_file to the certificate of "
            "the authority that did, or broker.fingerprint to its digest"
        )
    elif code in _OTHER_NAME:
        todo = (
            "it was made for another name than broker.host; write the name it bears, or have one "
            "made for this name"
        )
    elif code == _EXPIRED:
        todo = "it has run out: renew it; and see that this machine's clock is right"
    elif code == _NOT_YET_VALID:
        todo = "it is not valid yet: see that this machine's clock is right"
    else:
        todo = "see the broker's own log"
    return f"its certificate is refused ({said}): {todo}"


def _line_class(fingerprint: str | None) -> type[ssl.SSLSocket]:
    class Line(ssl.SSLSocket):
        """A line that closes itself where the other side's certificate is not taken.

        The client library would leave it open.
        """

        def do_handshake(self, block: bool = False) -> None:  # noqa: FBT001, FBT002 - as the class above has it
            try:
                super().do_handshake(block)
                if fingerprint is not None:
                    _refuse_other(self.getpeercert(binary_form=True), fingerprint)
            except BaseException:
                self.close()
                raise

    return Line


def _refuse_other(certificate: bytes | None, fingerprint: str) -> None:
    shown = hashlib.sha256(certificate or b"").hexdigest()
    if not hmac.compare_digest(shown, fingerprint):
        raise PinMismatch(
            f"its certificate is refused: its SHA-256 digest is {shown}, and broker.fingerprint "
            f"asks for {fingerprint}; write the new one only if you renewed the certificate "
            "yourself, else somebody may stand in the line"
        )
