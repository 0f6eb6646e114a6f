"""The scripts, run as root in a throw-away copy of this machine: install, upgrade, back, uninstall.

The first layer is installed once; every test has a layer of its own above it.
"""

from __future__ import annotations

import itertools
import json
import re
import time
from typing import TYPE_CHECKING

import pytest

from tests.deploy.clean_root import SOURCE, CleanRoot, Ground, needs_root

if TYPE_CHECKING:
    import subprocess
    from collections.abc import Callable, Iterator
    from pathlib import Path

pytestmark = [pytest.mark.broker, pytest.mark.timeout(900)]  # packages come over the network
INSTALL = f"{SOURCE}/deploy/install.sh"
UPGRADE = f"{SOURCE}/deploy/upgrade.sh"
UNINSTALL = f"{SOURCE}/deploy/uninstall.sh"
CUREWATCH = "/usr/local/bin/curewatch"
AS_DAEMON = ("runuser", "-u", "curewatch", "--")
# All places a script may write to; what the scripts leave alone is not listed.
PLACES = "/etc /opt /usr/local /var/lib/curewatch /var/lib/curewatch-backups"
_UNTIL_S = 60.0
_NUMBERS = itertools.count()


@pytest.fixture(scope="module")
def ground(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ground]:
    """Return what all layers lie in."""
    needs_root()
    with Ground(tmp_path_factory.mktemp("ground")) as made:
        yield made


@pytest.fixture(scope="module")
def bare(ground: Ground) -> Iterator[CleanRoot]:
    """Return this machine without the broker, and with the source."""
    with CleanRoot(ground, "bare", online=True) as layer:
        layer.done("dpkg", "--purge", "mosquitto")
        layer.done("rm", "-rf", "/etc/mosquitto", "/opt/curewatch", "/etc/curewatch")
        layer.take_source()
        yield layer


@pytest.fixture(scope="module")
def told(bare: CleanRoot) -> Iterator[tuple[CleanRoot, str]]:
    """Return a layer in which it is installed, and what the script told."""
    with CleanRoot(bare.ground, "told", below=(bare,), online=True) as layer:
        yield layer, layer.done(INSTALL, "--yes", "--address", "127.0.0.2")


@pytest.fixture
def installed(told: tuple[CleanRoot, str], bare: CleanRoot) -> Iterator[CleanRoot]:
    """Return a layer of the test's own, with a network of its own, where it is installed."""
    with CleanRoot(bare.ground, f"own-{next(_NUMBERS)}", below=(told[0], bare)) as layer:
        yield layer


@pytest.fixture
def fresh(bare: CleanRoot) -> Iterator[CleanRoot]:
    """Return a layer of the test's own where nothing is installed."""
    with CleanRoot(bare.ground, f"own-{next(_NUMBERS)}", below=(bare,)) as layer:
        yield layer


def _state(layer: CleanRoot) -> str:
    """Return name, kind, rights, owner, size and time of everything in the places."""
    return layer.done(
        "sh", "-c", f"find {PLACES} -printf '%p %y %m %u %g %s %T@\\n' 2>/dev/null | sort"
    )


def _until(what: Callable[[], bool], process: subprocess.Popen[bytes], log: Path) -> None:
    until_s = time.monotonic() + _UNTIL_S
    while not what():
        assert process.poll() is None, log.read_text()
        assert time.monotonic() < until_s, log.read_text()
        time.sleep(0.05)  # foreign processes say nowhere that they are ready


def _start_broker(layer: CleanRoot, log: Path) -> None:
    for folder in ("/run/mosquitto", "/var/log/mosquitto"):  # as its unit does
        layer.done("install", "-d", "-o", "mosquitto", folder)
    broker = layer.start("mosquitto", "-c", "/etc/mosquitto/mosquitto.conf", log=log)
    _until(lambda: layer.run("python3", "-c", _LISTENS).returncode == 0, broker, log)


_LISTENS = "import socket; socket.create_connection(('127.0.0.1', 1883), 5).close()"
_PAGE_ANSWERS = (
    "import urllib.request; urllib.request.urlopen('http://127.0.0.1:8480/health', timeout=5)"
)
_PUBLISH = """
import sys, paho.mqtt.publish as out
out.single("shop/drying-room/climate", '{"temperature": 21.4}', qos=1, hostname="127.0.0.2",
           auth={"username": "sensors", "password": sys.argv[1]})
"""


def _hang(layer: CleanRoot, tag: str) -> None:
    layer.done(
        *AS_DAEMON, CUREWATCH, "piece", "hang", tag, "--finish", "waterborne",
        "--room", "drying-room",
    )  # fmt: skip


def _tags(layer: CleanRoot) -> set[str]:
    found = json.loads(layer.done(*AS_DAEMON, CUREWATCH, "--json", "status"))
    return {piece["piece"] for piece in found["pieces"]}


def test_a_dry_run_tells_everything_and_changes_nothing(fresh: CleanRoot) -> None:
    before = _state(fresh)
    told = fresh.done(INSTALL, "--dry-run")
    assert "install mosquitto with apt-get" in told
    assert "Nothing was changed" in told
    assert _state(fresh) == before


def test_without_a_terminal_it_asks_for_a_yes_and_changes_nothing(fresh: CleanRoot) -> None:
    before = _state(fresh)
    result = fresh.run(INSTALL)
    assert result.returncode == 1
    assert "give --yes" in result.stderr
    assert _state(fresh) == before


@pytest.mark.parametrize(
    ("program", "answer", "said"),
    [
        ("/usr/local/bin/dpkg", "echo armhf", "32-bit"),
        ("/usr/local/bin/python-of-old", "exit 1", "needs Python 3.11 or newer"),
    ],
)
def test_a_machine_that_cannot_run_it_is_refused(
    program: str, answer: str, said: str, fresh: CleanRoot
) -> None:
    fresh.path(program).write_text(f"#!/bin/sh\n{answer}\n", encoding="utf-8")
    fresh.path(program).chmod(0o755)
    env = {"PYTHON": program} if "python" in program else {}
    result = fresh.run(INSTALL, "--yes", env=env)
    assert result.returncode == 1
    assert said in result.stderr
    assert not fresh.path("/opt/curewatch").exists()


def test_a_broker_that_somebody_set_up_is_left_alone(fresh: CleanRoot) -> None:
    theirs = fresh.path("/etc/mosquitto/conf.d/house.conf")
    theirs.parent.mkdir(parents=True)
    theirs.write_text("listener 1883\n", encoding="utf-8")
    result = fresh.run(INSTALL, "--yes")
    assert result.returncode == 1
    assert "/etc/mosquitto/conf.d/house.conf" in result.stderr
    assert "--no-broker" in result.stderr
    assert not fresh.path("/opt/curewatch").exists()


def test_it_tells_address_password_and_what_comes_next(told: tuple[CleanRoot, str]) -> None:
    layer, said = told
    assert layer.path("/etc/curewatch/sensors-password").read_text().strip() in said
    assert "http://127.0.0.2:8480/" in said
    assert "▄▄▄▄▄" in said  # the corners of a QR mark
    assert "page passphrase" in said


def test_secrets_are_for_the_group_alone(installed: CleanRoot) -> None:
    listed = installed.done(
        "stat", "-c", "%a %U %G", "/etc/curewatch/broker-password", "/etc/curewatch/curewatch.toml",
        "/etc/curewatch/sensors-password", "/var/lib/curewatch",
    )  # fmt: skip
    assert listed.splitlines() == [*["640 root curewatch"] * 3, "2770 curewatch curewatch"]
    words = installed.path("/etc/mosquitto/curewatch.passwd").read_text()
    for name in ("broker", "sensors"):
        assert installed.path(f"/etc/curewatch/{name}-password").read_text().strip() not in words


def test_run_again_it_changes_nothing(installed: CleanRoot) -> None:
    before = _state(installed)
    assert "nothing: all of it is there" in installed.done(
        INSTALL, "--yes", "--address", "127.0.0.2"
    )
    assert _state(installed) == before


def test_what_a_person_changed_stays(installed: CleanRoot) -> None:
    config = installed.path("/etc/curewatch/curewatch.toml")
    config.write_text(config.read_text().replace("drying-room", "loft"), encoding="utf-8")
    installed.done(INSTALL, "--yes", "--address", "127.0.0.2")
    assert 'name = "loft"' in config.read_text()


def test_the_installed_daemon_hears_a_sensor_through_the_installed_broker(
    installed: CleanRoot, tmp_path: Path
) -> None:
    config = installed.path("/etc/curewatch/curewatch.toml")
    config.write_text(
        config.read_text()
        + '[[sensor]]\nid = "drying-air"\nroom = "drying-room"\n'
        + 'topic = "shop/drying-room/climate"\ntemperature = "/temperature"\n',
        encoding="utf-8",
    )
    _start_broker(installed, tmp_path / "broker.log")
    log = tmp_path / "daemon.log"
    daemon = installed.start(*AS_DAEMON, CUREWATCH, "run", log=log)
    word = installed.path("/etc/curewatch/sensors-password").read_text().strip()

    def heard() -> bool:
        installed.done("/opt/curewatch/bin/python", "-c", _PUBLISH, word)
        return "21.4" in installed.done(*AS_DAEMON, CUREWATCH, "--json", "sensor", "list")

    _until(heard, daemon, log)


def test_the_daemon_ends_well_when_it_is_told_to(installed: CleanRoot, tmp_path: Path) -> None:
    _start_broker(installed, tmp_path / "broker.log")
    log = tmp_path / "daemon.log"
    # Not through runuser, which would take the signal for itself.
    daemon = installed.start(
        "setpriv", "--reuid=curewatch", "--regid=curewatch", "--clear-groups",
        CUREWATCH, "run", log=log,
    )  # fmt: skip
    _until(lambda: installed.run("python3", "-c", _PAGE_ANSWERS).returncode == 0, daemon, log)
    installed.done("pkill", "-TERM", "-f", "bin/curewatch run")
    assert daemon.wait(_UNTIL_S) == 0, log.read_text()


def test_backups_are_whole_and_only_the_newest_are_kept(installed: CleanRoot) -> None:
    _hang(installed, "B12")
    folder = installed.path("/var/lib/curewatch-backups")
    for night in range(1, 4):
        (folder / f"curewatch-2026010{night}T032000Z.db").write_bytes(b"")
    (folder / "mine.db").write_bytes(b"not ours to remove")
    installed.done(*AS_DAEMON, "env", "BACKUP_KEEP=2", "/opt/curewatch/deploy/backup.sh")
    *older, newest = sorted(each.name for each in folder.glob("curewatch-*.db"))
    assert older == ["curewatch-20260103T032000Z.db"]
    assert (folder / "mine.db").exists()
    installed.path("/var/lib/curewatch/curewatch.db").unlink()
    installed.done(*AS_DAEMON, CUREWATCH, "restore", f"/var/lib/curewatch-backups/{newest}")
    assert _tags(installed) == {"B12"}


def test_a_backup_that_fails_costs_no_older_one(installed: CleanRoot) -> None:
    folder = installed.path("/var/lib/curewatch-backups")
    for night in range(1, 4):
        (folder / f"curewatch-2026010{night}T032000Z.db").write_bytes(b"")
    installed.path("/var/lib/curewatch/curewatch.db").write_bytes(b"no database" * 1000)
    result = installed.run(*AS_DAEMON, "env", "BACKUP_KEEP=1", "/opt/curewatch/deploy/backup.sh")
    assert result.returncode != 0
    assert len(list(folder.glob("curewatch-*.db"))) == 3


@pytest.fixture(scope="module")
def built(told: tuple[CleanRoot, str], bare: CleanRoot) -> Iterator[tuple[CleanRoot, ...]]:
    """Return layers with the source of a newer release, which has a schema to come and is built."""
    with CleanRoot(bare.ground, "built", below=(told[0], bare), online=True) as layer:
        project = layer.path(f"{SOURCE}/pyproject.toml")
        project.write_text(
            re.sub(r'(?m)^version = ".*"$', 'version = "99.1"', project.read_text()),
            encoding="utf-8",
        )
        steps = layer.path(f"{SOURCE}/curewatch/storage/steps")
        number = 1 + max(int(each.name[:4]) for each in steps.glob("*.sql"))
        (steps / f"{number:04}_later.sql").write_text(
            f"CREATE TABLE later (x INTEGER) STRICT;\nPRAGMA user_version = {number};\n",
            encoding="utf-8",
        )
        parts = f'set -e; . {SOURCE}/deploy/parts.sh; build_version "$(version_key)"'
        layer.done("bash", "-c", parts)
        yield layer, told[0], bare


@pytest.fixture
def newer(built: tuple[CleanRoot, ...]) -> Iterator[CleanRoot]:
    """Return a layer of the test's own, with a piece hung under the version in use."""
    with CleanRoot(built[0].ground, f"own-{next(_NUMBERS)}", below=built) as layer:
        _hang(layer, "B12")
        yield layer


def test_an_upgrade_keeps_data_and_the_way_back_stays_open(newer: CleanRoot) -> None:
    before = newer.done("readlink", "/opt/curewatch/now")
    refused = newer.run(INSTALL, "--yes", "--address", "127.0.0.2")
    assert "deploy/upgrade.sh" in refused.stderr
    config = newer.path("/etc/curewatch/curewatch.toml").read_bytes()
    newer.done(UPGRADE, "--yes")
    assert newer.done("readlink", "/opt/curewatch/now").startswith("versions/99.1-")
    assert newer.path("/etc/curewatch/curewatch.toml").read_bytes() == config
    assert _tags(newer) == {"B12"}
    assert "nothing: all of it is there" in newer.done(UPGRADE, "--yes")
    _hang(newer, "B13")
    back = newer.done(UPGRADE, "--yes", "--back")
    assert newer.done("readlink", "/opt/curewatch/now") == before
    assert _tags(newer) == {"B12"}  # from the backup: the older release cannot read the newer file
    kept = [each.name for each in newer.path("/var/lib/curewatch").glob("*") if each.name in back]
    assert kept, back  # what was entered since is named


def test_the_way_back_is_not_taken_with_a_configuration_that_cannot_be_read_there(
    newer: CleanRoot,
) -> None:
    newer.done(UPGRADE, "--yes")
    now = newer.done("readlink", "/opt/curewatch/now")
    config = newer.path("/etc/curewatch/curewatch.toml")
    config.write_text("no_such_key = 1\n" + config.read_text(encoding="utf-8"), encoding="utf-8")
    result = newer.run(UPGRADE, "--yes", "--back")
    assert result.returncode == 1
    assert "cannot take the configuration" in result.stderr
    assert newer.done("readlink", "/opt/curewatch/now") == now
    assert [each.name for each in newer.path("/var/lib/curewatch").glob("*.db")] == ["curewatch.db"]


def test_a_database_that_lies_elsewhere_is_backed_up_before_an_upgrade(newer: CleanRoot) -> None:
    newer.done("mv", "/var/lib/curewatch/curewatch.db", "/var/lib/curewatch/other.db")
    with newer.path("/etc/curewatch/curewatch.toml").open("a", encoding="utf-8") as config:
        config.write('\n[storage]\npath = "/var/lib/curewatch/other.db"\n')
    newer.done(UPGRADE, "--yes")
    assert list(newer.path("/var/lib/curewatch-backups").glob("before-99.1-*.db"))
    newer.done(UPGRADE, "--yes", "--back")
    assert _tags(newer) == {"B12"}


def test_without_a_backup_nothing_is_upgraded_and_the_daemon_is_started_again(
    newer: CleanRoot,
) -> None:
    before = newer.done("readlink", "/opt/curewatch/now")
    newer.done("rm", "-r", "/var/lib/curewatch-backups")
    newer.path("/var/lib/curewatch-backups").touch()  # a file stands where the folder was
    newer.done("mkdir", "-p", "/run/systemd/system")
    asked = newer.path("/usr/local/bin/systemctl")
    asked.write_text('#!/bin/sh\necho "$@" >>/root/asked\n', encoding="utf-8")
    asked.chmod(0o755)
    result = newer.run(UPGRADE, "--yes")
    assert result.returncode == 1
    assert "nothing was upgraded" in result.stderr
    assert newer.done("readlink", "/opt/curewatch/now") == before
    told = newer.path("/root/asked").read_text(encoding="utf-8").splitlines()
    assert told[0] == "stop curewatch.service curewatch-backup.timer"
    assert told[-1] == "restart curewatch.service"
    assert _tags(newer) == {"B12"}


def test_a_version_that_does_not_work_is_taken_back(newer: CleanRoot) -> None:
    before = newer.done("readlink", "/opt/curewatch/now")
    (broken,) = newer.path("/opt/curewatch/versions").glob("99.1-*/lib/*/*/curewatch/cli/status.py")
    broken.write_text("raise RuntimeError\n", encoding="utf-8")
    result = newer.run(UPGRADE, "--yes")
    assert result.returncode == 1
    assert "the version before is in use again" in result.stderr
    assert newer.done("readlink", "/opt/curewatch/now") == before
    assert _tags(newer) == {"B12"}


def test_uninstalling_keeps_what_people_entered(installed: CleanRoot) -> None:
    _hang(installed, "B12")
    installed.done(*AS_DAEMON, "/opt/curewatch/deploy/backup.sh")
    kept = ("/var/lib/curewatch", "/var/lib/curewatch-backups", "/etc/curewatch")
    before = installed.done("find", *kept, "-type", "f", "!", "-name", "*-shm")
    assert "curewatch.db" in before
    installed.done(UNINSTALL, "--yes")
    assert installed.done("find", *kept, "-type", "f", "!", "-name", "*-shm") == before
    left = installed.done("find", "/opt", "/etc/systemd", "/usr/local", "/etc/mosquitto/conf.d",
                          "-name", "*curewatch*")  # fmt: skip
    assert left == ""


def test_uninstalling_with_the_data_leaves_nothing(installed: CleanRoot) -> None:
    installed.done("/opt/curewatch/deploy/uninstall.sh", "--yes", "--and-data")
    assert (
        installed.done("find", "/opt", "/etc", "/usr/local", "/var/lib", "-name", "*curewatch*")
        == ""
    )
    assert installed.run("getent", "passwd", "curewatch").returncode != 0
