"""Encrypted lines to a real broker: whose certificate is taken, and what is said of the others."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from curewatch.daemon import broker_access
from curewatch.errors import BadInput
from curewatch.intake.broker import BrokerAccess
from curewatch.intake.mqtt import MqttIntake
from curewatch.intake.tls import line_context
from curewatch.intake.trial import Trial, try_line
from curewatch.settings import load_settings
from tests.broker.certificates import Authority
from tests.broker.mosquitto import Mosquitto

if TYPE_CHECKING:
    import ssl
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = pytest.mark.broker
HERE = "IP:127.0.0.1"
SOON_S = 10.0


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    """Make an authority of one's own."""
    return Authority.make(tmp_path_factory.mktemp("authority"), "own-authority")


@pytest.fixture(scope="module")
def stranger(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    """Make an authority nobody trusts."""
    return Authority.make(tmp_path_factory.mktemp("stranger"), "stranger")


@pytest.fixture(scope="module")
def shown(authority: Authority) -> Authority:
    """Make the certificate the broker shows."""
    return authority.vouch_for("broker", HERE)


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory, shown: Authority) -> Iterator[Mosquitto]:
    """Run a broker whose line is encrypted."""
    folder = tmp_path_factory.mktemp("broker")
    with Mosquitto(folder, extra=shown.listener()) as running:
        yield running


def tried(broker: Mosquitto, tls: ssl.SSLContext | None) -> Trial:
    access = BrokerAccess("127.0.0.1", broker.port, tls=tls)
    return try_line(access, [], site="yard", timeout_s=SOON_S)


def test_an_authority_of_ones_own_is_taken(broker: Mosquitto, authority: Authority) -> None:
    found = tried(broker, line_context(ca_file=authority.certificate))
    assert found.accepted
    assert found.trouble == ""


def test_a_certificate_nobody_vouches_for_is_refused(
    broker: Mosquitto, stranger: Authority
) -> None:
    for context in (line_context(), line_context(ca_file=stranger.certificate)):
        found = tried(broker, context)
        assert not found.accepted
        assert "nobody this machine trusts has signed it; set broker.ca_file" in found.trouble


def test_a_certificate_for_another_name_is_refused(tmp_path: Path, authority: Authority) -> None:
    elsewhere = authority.vouch_for("elsewhere", "DNS:broker.example.org")
    with Mosquitto(tmp_path, extra=elsewhere.listener()) as broker:
        found = tried(broker, line_context(ca_file=authority.certificate))
    assert not found.accepted
    assert "made for another name than broker.host" in found.trouble


def test_a_certificate_that_has_run_out_is_refused(tmp_path: Path, authority: Authority) -> None:
    old = authority.vouch_for("old", HERE, days=-1)
    with Mosquitto(tmp_path, extra=old.listener()) as broker:
        found = tried(broker, line_context(ca_file=authority.certificate))
    assert not found.accepted
    assert "it has run out" in found.trouble


def test_a_pinned_certificate_needs_no_authority(broker: Mosquitto, shown: Authority) -> None:
    pin = shown.fingerprint().replace(":", "").lower()
    assert tried(broker, line_context(fingerprint=pin)).accepted


def test_another_certificate_than_the_pinned_is_refused_whoever_signed_it(
    broker: Mosquitto, authority: Authority, shown: Authority
) -> None:
    pin = authority.fingerprint().replace(":", "").lower()
    found = tried(broker, line_context(ca_file=authority.certificate, fingerprint=pin))
    assert not found.accepted
    assert shown.fingerprint().replace(":", "").lower() in found.trouble
    assert "somebody may stand in the line" in found.trouble


def test_with_both_the_authority_counts_too(
    broker: Mosquitto, stranger: Authority, shown: Authority
) -> None:
    pin = shown.fingerprint().replace(":", "").lower()
    found = tried(broker, line_context(ca_file=stranger.certificate, fingerprint=pin))
    assert not found.accepted
    assert "nobody this machine trusts" in found.trouble


def test_a_plain_port_is_told_as_such(tmp_path: Path, authority: Authority) -> None:
    with Mosquitto(tmp_path) as plain:
        found = tried(plain, line_context(ca_file=authority.certificate))
    assert not found.accepted
    assert "port" in found.trouble


def test_a_file_that_is_no_certificate_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "ca.pem").write_text("nothing of the kind\n")
    with pytest.raises(BadInput, match=r"broker\.ca_file .*ca\.pem cannot be used"):
        line_context(ca_file=tmp_path / "ca.pem")


@pytest.mark.parametrize("how", ["ca_file", "fingerprint"])
def test_the_daemons_own_line_goes_by_the_configuration(
    tmp_path: Path, broker: Mosquitto, authority: Authority, shown: Authority, how: str
) -> None:
    value = {"ca_file": str(authority.certificate), "fingerprint": shown.fingerprint()}[how]
    (tmp_path / "shop.toml").write_text(
        f'[site]\ntimezone = "UTC"\n[broker]\nhost = "127.0.0.1"\nport = {broker.port}\n'
        f"tls = true\n{how} = {json.dumps(value)}\n"
    )
    access = broker_access(load_settings(tmp_path / "shop.toml"))
    line = MqttIntake(access, ["shop/#"], site="yard", now_ms=lambda: 0)
    line.start()
    try:
        assert line.wait_subscribed(SOON_S)
    finally:
        line.stop()


def test_the_daemons_own_line_says_what_is_wrong(broker: Mosquitto, stranger: Authority) -> None:
    context = line_context(ca_file=stranger.certificate)
    access = BrokerAccess("127.0.0.1", broker.port, tls=context)
    line = MqttIntake(access, ["shop/#"], site="yard", now_ms=lambda: 0)
    line.start()
    try:
        assert not line.wait_subscribed(1.0)
        trouble = line.state().trouble or ""
        assert "nobody this machine trusts has signed it" in trouble
    finally:
        line.stop()
