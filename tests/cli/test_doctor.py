from __future__ import annotations

import io
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from curewatch.storage.database import sqlite_version
from curewatch.storage.lock import daemon_lock
from tests.broker.mosquitto import Mosquitto
from tests.cli.conftest import HOUR_MS, NOW_MS
from tests.outbound.conftest import Endpoint

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.cli.conftest import Curewatch, Said, StoresClimate

pytestmark = pytest.mark.broker
EXAMPLE = Path(__file__).parents[2] / "config" / "curewatch.toml"


@pytest.fixture(autouse=True)
def _noon(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the system's clock rule, and say that it is noon: a living shop's doctor."""
    monkeypatch.setenv("CUREWATCH_CLOCK__SOURCE", "system")
    monkeypatch.setattr("curewatch.cli.doctor.system_ms", lambda: NOW_MS)


@pytest.fixture
def broker(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Mosquitto]:
    """Run a broker, and let the configuration point to it."""
    folder = tmp_path / "broker"
    folder.mkdir()
    with Mosquitto(folder) as running:
        monkeypatch.setenv("CUREWATCH_BROKER__PORT", str(running.port))
        monkeypatch.setenv("CUREWATCH_BROKER__HOST", "127.0.0.1")
        yield running


@pytest.fixture
def endpoint() -> Iterator[Endpoint]:
    """Run a target for notices."""
    running = Endpoint()
    running.up()
    yield running
    running.over.set()
    running.down()


def findings(said: Said, area: str) -> list[dict[str, Any]]:
    return [finding for finding in said.plain["findings"] if finding["area"] == area]


def states(said: Said, area: str) -> set[str]:
    return {finding["state"] for finding in findings(said, area)}


@pytest.mark.usefixtures("broker")
def test_a_sound_shop_has_no_fault(
    curewatch: Curewatch, climate: StoresClimate, shop_config: Path
) -> None:
    climate("spray", days=0.2)
    climate("drying", days=0.2)
    with daemon_lock(shop_config.parent / "shop.db"):
        said = curewatch("doctor", "--json")
        shown = curewatch("doctor")
    assert said.plain["faults"] == 0
    for area in ("versions", "configuration", "storage", "sensors", "daemon", "broker"):
        assert states(said, area) == {"ok"}, area
    assert {finding["state"] for finding in said.plain["findings"]} <= {"ok", "look"}
    assert all(f["fix"] for f in said.plain["findings"] if f["state"] == "look")
    assert shown.narrow()
    assert "ok: a message on curewatch/test-shop/doctor came back in" in shown.flat
    assert "no faults" in shown.flat


@pytest.mark.usefixtures("broker")
def test_the_example_configuration_passes(
    curewatch: Curewatch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CUREWATCH_STORAGE__PATH", str(tmp_path / "new" / "curewatch.db"))
    said = curewatch("--config", str(EXAMPLE), "doctor", "--json")
    assert said.plain["faults"] == 0
    assert "there is no database at" in said.out
    assert not (tmp_path / "new").exists()  # looking makes nothing


@pytest.mark.usefixtures("broker")
def test_the_sqlite_in_use_is_shown(curewatch: Curewatch) -> None:
    assert sqlite_version() in str(findings(curewatch("doctor", "--json"), "versions"))


def test_every_fault_of_the_configuration_is_told_and_the_exit_is_one(
    curewatch: Curewatch, shop_config: Path
) -> None:
    text = shop_config.read_text("utf-8").replace('timezone = "UTC"', 'timezone = "Mars"')
    shop_config.write_text(text.replace('air = "gentle"', 'air = "stormy"'), "utf-8")
    said = curewatch("doctor", "--json", status=1)
    told = str(findings(said, "configuration"))
    assert "site.timezone" in told
    assert "room[1].air" in told
    assert said.plain["faults"] == 2
    assert curewatch("doctor", status=1).narrow()


def test_a_broker_that_is_away_is_a_fault(
    curewatch: Curewatch, broker: Mosquitto, climate: StoresClimate
) -> None:
    climate("spray", days=0.1)
    broker.stop()
    said = curewatch("doctor", "--json", status=1)
    (fault,) = findings(said, "broker")
    assert fault["state"] == "fault"
    assert "nothing listens there" in fault["what"]


def test_a_wrong_password_is_a_fault_and_is_not_shown(
    curewatch: Curewatch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "guarded").mkdir()
    secret = tmp_path / "password"
    secret.write_text("not-the-word\n")
    secret.chmod(0o600)
    with Mosquitto(tmp_path / "guarded", users={"shop": "the-word"}) as guarded:
        monkeypatch.setenv("CUREWATCH_BROKER__PORT", str(guarded.port))
        monkeypatch.setenv("CUREWATCH_BROKER__HOST", "127.0.0.1")
        monkeypatch.setenv("CUREWATCH_BROKER__USERNAME", "shop")
        monkeypatch.setenv("CUREWATCH_BROKER__PASSWORD_FILE", str(secret))
        said = curewatch("doctor", "--json", status=1)
        assert "check the broker's user name and password" in str(findings(said, "broker"))
        assert "not-the-word" not in said.out + said.err
        secret.write_text("the-word\n")
        assert states(curewatch("doctor", "--json"), "broker") == {"ok"}


@pytest.mark.usefixtures("broker")
def test_a_file_that_is_no_database_is_a_fault(curewatch: Curewatch, shop_config: Path) -> None:
    (shop_config.parent / "shop.db").write_text("Dear finisher, " * 1000)
    said = curewatch("doctor", "--json", status=1)
    assert "fault" in states(said, "storage")
    assert "it is not a database" in str(findings(said, "storage"))


@pytest.mark.usefixtures("broker")
def test_a_damaged_database_is_a_fault(
    curewatch: Curewatch, shop_config: Path, climate: StoresClimate
) -> None:
    climate("spray", days=20)
    path = shop_config.parent / "shop.db"
    data = bytearray(path.read_bytes())
    middle = len(data) // 2 // 4096 * 4096
    data[middle : middle + 3000] = os.urandom(3000)
    path.write_bytes(data)
    said = curewatch("doctor", "--json", status=1)
    assert "fault" in states(said, "storage")
    assert "damaged" in str(findings(said, "storage"))


@pytest.mark.usefixtures("broker")
def test_a_silent_and_an_unheard_sensor_are_to_be_looked_at(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=0.2, until_ms=NOW_MS)
    said = curewatch("doctor", "--json")
    told = str(findings(said, "sensors"))
    assert "drying-air in drying was never heard on shop/drying" in told
    climate("drying", days=0.2, until_ms=NOW_MS - 5 * HOUR_MS)
    told = str(findings(curewatch("doctor", "--json"), "sensors"))
    assert "sensor drying-air in drying is silent: last heard Thu 5 Mar 7:00" in told


@pytest.mark.usefixtures("broker")
def test_a_stuck_sensor_is_to_be_looked_at(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate("spray", days=1)
    told = str(findings(curewatch("doctor", "--json"), "sensors"))
    assert "has shown the same pair of values since" in told


@pytest.mark.usefixtures("broker")
def test_targets_are_listed_without_their_secrets_and_tried_when_asked(
    curewatch: Curewatch, endpoint: Endpoint, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    urls = tmp_path / "urls"
    urls.write_text(f"{endpoint.url}\n")
    urls.chmod(0o600)
    monkeypatch.setenv("CUREWATCH_NOTIFY__URLS_FILE", str(urls))
    said = curewatch("doctor", "--json")
    assert f"notices go to json://127.0.0.1:{endpoint.port}" in said.out
    assert endpoint.got == []
    tried = curewatch("doctor", "--json", "--send-test")
    assert len(endpoint.got) == 1
    assert "a test" in endpoint.got[0]["title"]
    assert "took a test notice" in tried.out
    endpoint.status = 500
    failed = curewatch("doctor", "--json", "--send-test", status=1)
    assert "took none" in failed.out
    for answer in (said, tried, failed):
        assert "hush-hush" not in answer.out + answer.err
        assert "secret-path" not in answer.out + answer.err


@pytest.mark.usefixtures("broker")
def test_an_address_that_is_none_is_a_fault(
    curewatch: Curewatch, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CUREWATCH_NOTIFY__URLS", '["nonsense://x:hush@y"]')
    said = curewatch("doctor", "--json", status=1)
    assert "fault" in states(said, "notices")
    assert "hush" not in said.out


@pytest.mark.usefixtures("broker")
def test_a_finish_profile_that_cannot_be_read_is_a_fault(
    curewatch: Curewatch, shop_config: Path
) -> None:
    own = shop_config.parent / "finishes" / "house-blend.toml"
    own.write_text('title = "House blend"\n')
    said = curewatch("doctor", "--json", status=1)
    assert "house-blend" in str(findings(said, "configuration"))


@pytest.mark.usefixtures("broker")
def test_a_daemon_that_does_not_run_is_to_be_looked_at(curewatch: Curewatch) -> None:
    (finding,) = findings(curewatch("doctor", "--json"), "daemon")
    assert finding["state"] == "look"
    assert "curewatch run" in finding["fix"]


def test_a_clock_that_follows_readings_is_a_fault_where_sensors_are_to_be_heard(
    curewatch: Curewatch, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CUREWATCH_CLOCK__SOURCE", "readings")
    (clock,) = findings(curewatch("doctor", "--json", status=1), "clock")
    assert clock["state"] == "fault"
    assert "silent sensors would stop the clock" in clock["what"]
    monkeypatch.setenv("CUREWATCH_SENSOR", "[]")
    (clock,) = findings(curewatch("doctor", "--json", status=1), "clock")
    assert clock["state"] == "look"


@pytest.mark.usefixtures("broker")
@pytest.mark.parametrize(
    ("table", "passphrase", "state", "told"),
    [
        ("", False, "ok", "from this computer alone; nobody may write"),
        ("", True, "ok", "a passphrase is set"),
        ('host = "192.168.7.2"', False, "look", "no passphrase is set: nobody can come in"),
        ('host = "192.168.7.2"', True, "ok", "the passphrase is asked for"),
        ('host = "192.168.7.2"\nopen_reading = true', True, "look", "everybody in the network"),
        ('names = ["bench.example"]\nopen_reading = true', True, "look", "through a proxy"),
    ],
)
def test_who_may_reach_the_page_is_looked_at(  # noqa: PLR0913 - fixtures and cases
    curewatch: Curewatch,
    shop_config: Path,
    monkeypatch: pytest.MonkeyPatch,
    *,
    table: str,
    passphrase: bool,
    state: str,
    told: str,
) -> None:
    text = shop_config.read_text("utf-8")
    shop_config.write_text(f"{text}\n[page]\nserve = true\n{table}\n", "utf-8")
    if passphrase:
        monkeypatch.setattr("sys.stdin", io.StringIO("oak and linseed\n"))
        curewatch("page", "passphrase", "--stdin")
    found, *_ = findings(curewatch("doctor", "--json"), "page")
    assert (found["state"], told in found["what"]) == (state, True)
    assert bool(found["fix"]) == (state == "look")


@pytest.mark.usefixtures("broker")
def test_a_page_that_is_not_served_is_no_matter(curewatch: Curewatch) -> None:
    assert findings(curewatch("doctor", "--json"), "page") == []


@pytest.mark.usefixtures("broker")
def test_messages_are_let_wait_at_the_broker_when_asked(curewatch: Curewatch) -> None:
    untried = str(findings(curewatch("doctor", "--json"), "broker"))
    assert "was not tried" in untried
    tried = str(findings(curewatch("doctor", "--json", "--try-queue"), "broker"))
    assert "it kept all of 1500 messages for a client that was away" in tried


def test_a_broker_that_drops_what_waits_is_a_fault(
    curewatch: Curewatch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Mosquitto(tmp_path, extra="max_queued_messages 50") as dropping:
        monkeypatch.setenv("CUREWATCH_BROKER__PORT", str(dropping.port))
        monkeypatch.setenv("CUREWATCH_BROKER__HOST", "127.0.0.1")
        said = curewatch("doctor", "--json", "--try-queue", status=1)
        assert "dropped the rest without a word" in str(findings(said, "broker"))


def test_over_the_older_protocol_it_is_said_what_cannot_be_asked(
    curewatch: Curewatch, broker: Mosquitto, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert broker.port
    monkeypatch.setenv("CUREWATCH_BROKER__PROTOCOL", "3.1.1")
    told = str(findings(curewatch("doctor", "--json", "--try-queue"), "broker"))
    assert "cannot be asked over MQTT 3.1.1" in told


def test_an_authority_that_is_none_is_a_fault(
    curewatch: Curewatch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "ca.pem").write_text("none")
    monkeypatch.setenv("CUREWATCH_BROKER__TLS", "true")
    monkeypatch.setenv("CUREWATCH_BROKER__CA_FILE", str(tmp_path / "ca.pem"))
    (fault,) = findings(curewatch("doctor", "--json", status=1), "broker")
    assert (fault["state"], fault["fix"]) == ("fault", "correct the [broker] table")


def test_a_clock_that_nobody_set_is_a_fault(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate("drying", days=0.1, until_ms=NOW_MS + 900 * 24 * HOUR_MS)  # later than any clock here
    (clock,) = findings(curewatch("doctor", "--json", status=1), "clock")
    assert (clock["state"], "timedatectl" in clock["fix"]) == ("fault", True)
