from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.clock import system_ms
from curewatch.intake.broker import BrokerAccess
from curewatch.intake.terms import MESSAGES, broker_says, broker_terms, broker_waits
from curewatch.intake.tls import line_context
from tests.broker.certificates import Authority
from tests.broker.mosquitto import Mosquitto
from tests.crash.daemon_process import wait_for

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.broker
SOON_S = 10.0


def access(broker: Mosquitto, **given: object) -> BrokerAccess:
    return BrokerAccess("127.0.0.1", broker.port, client_id="yard", **given)  # type: ignore[arg-type]


def test_a_broker_with_our_settings_keeps_what_comes_meanwhile(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker:
        waited = broker_waits(access(broker), site="yard", timeout_s=SOON_S)
        assert (waited.trouble, waited.came) == ("", MESSAGES)
        again = broker_waits(access(broker), site="yard", messages=3, timeout_s=SOON_S)
        assert (again.trouble, again.came) == ("", 3)  # nothing was left of the first trial


def test_a_broker_with_its_own_defaults_drops_and_is_found_out(tmp_path: Path) -> None:
    with Bare(tmp_path) as broker:
        waited = broker_waits(access(broker), site="yard", timeout_s=SOON_S)
        assert waited.trouble == ""
        assert 0 < waited.came < MESSAGES
        dropped = MESSAGES - waited.came
        wait_for(lambda: broker_says(access(broker)).dropped == dropped, "its own count")


def test_a_broker_that_forbids_our_topic_lets_nothing_through(tmp_path: Path) -> None:
    with Mosquitto(tmp_path, access_list="topic read other/#\n") as broker:
        assert broker_waits(access(broker), site="yard", messages=3).came == 0


def test_the_terms_are_those_the_daemon_asks_for(tmp_path: Path) -> None:
    with Mosquitto(tmp_path, extra="max_keepalive 600\nretain_available false\n") as broker:
        terms = broker_terms(access(broker), timeout_s=SOON_S)
        assert terms is not None
        assert terms.session_expiry_s == 60 * 86_400
        assert terms.most_qos == 2
        assert not terms.retains
        assert terms.largest_packet == 131_072
        assert terms.certificate_until_ms is None


def test_it_is_told_until_when_the_brokers_certificate_is_good(tmp_path: Path) -> None:
    authority = Authority.make(tmp_path, "authority")
    shown = authority.vouch_for("broker", "IP:127.0.0.1", days=2)
    with Mosquitto(tmp_path, extra=shown.listener()) as broker:
        trusting = line_context(ca_file=authority.certificate)
        terms = broker_terms(access(broker, tls=trusting), timeout_s=SOON_S)
        assert terms is not None
        assert terms.certificate_until_ms is not None
        days = (terms.certificate_until_ms - system_ms()) / 86_400_000
        assert 1.9 < days <= 2.0


def test_over_the_older_protocol_terms_cannot_be_asked(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker:
        assert broker_terms(access(broker, protocol="3.1.1")) is None


def test_a_broker_says_who_it_is_and_what_it_dropped(tmp_path: Path) -> None:
    with Mosquitto(tmp_path, extra="sys_interval 1\n") as broker:
        said = broker_says(access(broker), timeout_s=SOON_S)
        assert said.version.startswith("mosquitto")


def test_a_wrong_password_learns_nothing(tmp_path: Path) -> None:
    with Mosquitto(tmp_path, users={"shop": "the-word"}) as broker:
        stranger = access(broker, username="shop", password="not-it")  # noqa: S106 - made up
        assert broker_terms(stranger) is None
        assert broker_says(stranger).version == ""
        assert "did not take a second client" in broker_waits(stranger, site="yard").trouble


def test_where_nothing_listens_nothing_is_learnt(tmp_path: Path) -> None:
    broker = Mosquitto(tmp_path)
    assert broker_terms(access(broker)) is None
    assert broker_says(access(broker)).dropped is None
    assert broker_waits(access(broker), site="yard").trouble


class Bare(Mosquitto):
    """A broker with nothing set but where it listens."""

    def _write_settings(self) -> Path:
        path = self.folder / "bare.conf"
        path.write_text(f"listener {self.port} 127.0.0.1\nallow_anonymous true\nsys_interval 1\n")
        return path
