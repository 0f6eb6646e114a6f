"""What doctor looks at, check by check: each may find something, and says what to do then."""

from __future__ import annotations

import json
import os
import socket
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Any

import jsonschema
import pytest

from curewatch.cli.doctor import broker_file, disk, mirror, permissions, storage, versions
from curewatch.cli.doctor.broker import judged
from curewatch.cli.doctor.finding import State
from curewatch.intake.terms import Terms
from curewatch.presences import NEWCOMERS
from curewatch.settings import load_settings
from curewatch.shop.reading import Quantity, Reading, Rejected, RejectReason
from curewatch.storage import Store
from curewatch.storage.lock import daemon_lock
from curewatch.storage.mirror_marks import Numbers
from tests.cli.conftest import HOUR_MS, NOW_MS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tests.cli.conftest import Curewatch, Said, StoresClimate

SCHEMA = Path(__file__).parents[2] / "docs" / "schemas" / "doctor.schema.json"
DAY_S = 86_400
DAY_MS = DAY_S * 1000


def findings(said: Said, area: str) -> list[dict[str, Any]]:
    return [finding for finding in said.plain["findings"] if finding["area"] == area]


def told(said: Said, area: str, state: str) -> str:
    return str([one for one in findings(said, area) if one["state"] == state])


# ---- the answer


def test_the_answer_is_as_its_schema_says(
    curewatch: Curewatch, climate: StoresClimate, shop_config: Path
) -> None:
    climate("drying", days=2.0)
    shop_config.write_text(
        shop_config.read_text("utf-8")
        + '[page]\nserve = true\n[influx]\nurl = "http://127.0.0.1:9"\norg = "o"\nbucket = "b"\n'
        'token_file = "token"\n',
        "utf-8",
    )
    (shop_config.parent / "token").write_text("t")
    answer = curewatch("doctor", "--json", status=1).plain
    schema = json.loads(SCHEMA.read_text("utf-8"))
    jsonschema.Draft202012Validator(schema).validate(answer)
    areas = schema["properties"]["findings"]["items"]["properties"]["area"]["enum"]
    assert {one["area"] for one in answer["findings"]} == set(areas)


def test_what_is_to_be_looked_at_has_a_fix(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate("drying", days=2.0)
    said = curewatch("doctor", "--json", status=1)
    assert [one for one in said.plain["findings"] if one["state"] != "ok" and not one["fix"]] == []


# ---- versions


@pytest.mark.parametrize(
    ("carried", "state"),
    [("3.51.2", "fault"), ("3.51.3", "ok"), ("3.54.1", "ok"), ("3.7.17", "fault"), ("4.0", "ok")],
)
def test_an_sqlite_that_may_damage_files_is_a_fault(carried: str, state: str) -> None:
    (found,) = versions.sqlite_finding(carried)
    assert found.state == state


def test_a_library_outside_what_is_declared_is_a_fault() -> None:
    assert list(versions.wanted(["numpy>=1.0", "apsw<99,>=3"])) == []
    found = list(versions.wanted(["numpy>=99", "apsw<3", "no-such-thing>=1", "rich==0.1"]))
    assert [one.state for one in found] == [State.FAULT] * 4
    assert "no-such-thing is not installed" in found[2].what


def test_a_library_of_an_extra_is_not_asked_for() -> None:
    assert list(versions.wanted(['no-such-thing>=1; extra == "demo"'])) == []


def test_everything_this_program_declares_is_understood() -> None:
    assert {"numpy", "apsw", "paho-mqtt", "apprise"} <= set(versions.every())


def test_another_version_than_the_pinned_one_is_to_be_looked_at(tmp_path: Path) -> None:
    pins = tmp_path / "requirements.txt"
    have = versions.installed("numpy")
    pins.write_text(f"numpy==0.1 ; python_full_version < '3.11'\nnumpy=={have} \\\n    --hash=x\n")
    (same,) = versions.pinned(pins)
    assert same.state is State.OK
    pins.write_text("numpy==0.1\n")
    (other,) = versions.pinned(pins)
    assert (other.state, "tried with 0.1" in other.what) == (State.LOOK, True)
    assert list(versions.pinned(tmp_path / "none")) == []


# ---- disk


@pytest.mark.parametrize(
    ("free", "a_day", "state", "says"),
    [
        (10 * 2**30, 2**20, "ok", "more than 20 years"),
        (2**30, 2**20, "ok", "lasts 3 years"),
        (2**30, 2**23, "look", "128 days until it is full"),
        (2**30, 0.0, "ok", "nothing grows"),
    ],
)
def test_how_long_the_disk_lasts_is_said(free: int, a_day: float, state: str, says: str) -> None:
    found = disk.lasting(free, a_day)
    assert (found.state, says in found.what) == (state, True)


def test_growth_is_counted_from_the_last_days(curewatch: Curewatch, climate: StoresClimate) -> None:
    said = curewatch("doctor", "--json", status=None)
    assert "too short a record" in told(said, "storage", "ok")
    climate("drying", days=20.0, every_min=1.0)
    said = curewatch("doctor", "--json", status=None)
    # two values a minute of 40 bytes: 2 * 1440 * 40 = 115 200 bytes a day
    assert "grow by 0.11 MiB a day" in told(said, "storage", "ok")


@pytest.fixture
def sysfs(tmp_path: Path) -> Callable[..., Path]:
    """Return what lays a kernel's tree with one card and a partition of it."""

    def lay(*, sectors: int = 0, life: str | None = None) -> Path:
        root = tmp_path / "sys"
        card = root / "devices" / "mmc0" / "block" / "mmcblk0"
        (card / "mmcblk0p2").mkdir(parents=True)
        (card / "mmcblk0p2" / "partition").write_text("2\n")
        (card / "stat").write_text(f"  10 0 20 0 30 0 {sectors} 0 0 0 0\n")
        if life is not None:
            (card / "device").mkdir()
            (card / "device" / "life_time").write_text(life)
        (root / "dev" / "block").mkdir(parents=True)
        (root / "dev" / "block" / "179:2").symlink_to(card / "mmcblk0p2")
        return root

    return lay


CARD = os.makedev(179, 2)


def test_what_is_written_to_a_card_is_told_by_the_day(sysfs: Callable[..., Path]) -> None:
    found = disk.wear(CARD, sysfs(sectors=2048 * 100), 2 * DAY_S)
    assert found == disk.Wear("mmcblk0", 50.0, None)


def test_soon_after_the_start_nothing_is_said_of_wear(sysfs: Callable[..., Path]) -> None:
    found = disk.wear(CARD, sysfs(sectors=2048 * 100), 600.0)
    assert found is not None
    assert found.written_mib_a_day is None


@pytest.mark.parametrize(
    ("life", "tenths"), [("0x02 0x09\n", 9), ("0x0b 0x01\n", 11), ("0x00 0x00\n", None), ("", None)]
)
def test_a_chip_that_tells_its_age_is_heard(
    sysfs: Callable[..., Path], life: str, tenths: int | None
) -> None:
    found = disk.wear(CARD, sysfs(life=life), DAY_S)
    assert found is not None
    assert found.life_used_tenths == tenths


def test_a_disk_the_kernel_does_not_know_is_no_matter(tmp_path: Path) -> None:
    assert disk.wear(CARD, tmp_path, DAY_S) is None
    (found,) = disk.wearing(tmp_path / "shop.db", tmp_path)
    assert found.state is State.OK


def test_hard_work_and_age_of_a_card_are_to_be_looked_at(
    sysfs: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("curewatch.cli.doctor.disk.time.monotonic", lambda: float(DAY_S))
    root = sysfs(sectors=2048 * 9000, life="0x0b 0x0b")
    device = tmp_path.stat().st_dev
    place = root / "dev" / "block" / f"{os.major(device)}:{os.minor(device)}"
    place.symlink_to(root / "devices" / "mmc0" / "block" / "mmcblk0")
    old, hard = disk.wearing(tmp_path / "shop.db", root)
    assert (old.state, hard.state) == (State.LOOK, State.LOOK)
    assert "100 % of its life" in old.what
    assert "9000 MiB a day" in hard.what


# ---- storage


def test_a_swollen_log_is_to_be_looked_at(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    assert storage.log_finding(path).state is State.OK
    with (tmp_path / "shop.db-wal").open("wb") as log:
        log.truncate(100 * 2**20)
    found = storage.log_finding(path)
    assert (found.state, "100 MiB" in found.what) == (State.LOOK, True)


def test_a_backup_that_stopped_coming_is_to_be_looked_at(tmp_path: Path) -> None:
    assert list(storage.backups(NOW_MS, tmp_path / "none")) == []
    (never,) = storage.backups(NOW_MS, tmp_path)
    assert (never.state, "no backup" in never.what) == (State.LOOK, True)
    for name, ago_ms in (("curewatch-1.db", 9 * DAY_MS), ("curewatch-2.db", DAY_MS)):
        (tmp_path / name).touch()
        os.utime(tmp_path / name, times=((NOW_MS - ago_ms) / 1000,) * 2)
    (fine,) = storage.backups(NOW_MS, tmp_path)
    assert (fine.state, "2 backups" in fine.what) == (State.OK, True)
    (stopped,) = storage.backups(NOW_MS + 3 * DAY_MS, tmp_path)
    assert stopped.state is State.LOOK


# ---- permissions


def test_what_others_may_read_or_change_is_to_be_looked_at(
    curewatch: Curewatch, shop_config: Path
) -> None:
    said = curewatch("doctor", "--json", status=None)
    shop_config.parent.chmod(0o700)
    (shop_config.parent / "shop.db").chmod(0o660)
    shop_config.chmod(0o640)
    said = curewatch("doctor", "--json", status=None)
    assert told(said, "permissions", "look") == "[]"
    shop_config.parent.chmod(0o755)
    (shop_config.parent / "shop.db").chmod(0o664)
    shop_config.chmod(0o666)
    said = curewatch("doctor", "--json", status=None)
    looks = told(said, "permissions", "look")
    assert "shop.db is open to every user here" in looks
    assert "can be changed by every user here" in looks


def test_a_password_file_that_others_may_read_is_told_once(
    curewatch: Curewatch, shop_config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    secret = shop_config.parent / "password"
    secret.write_text("the-word\n")
    secret.chmod(0o644)
    monkeypatch.setenv("CUREWATCH_BROKER__USERNAME", "shop")
    monkeypatch.setenv("CUREWATCH_BROKER__PASSWORD_FILE", str(secret))
    said = curewatch("doctor", "--json", status=None)
    assert said.out.count("holds secrets that others may read") == 1
    assert "chmod u=rw,g=r,o=" in told(said, "permissions", "look")
    secret.chmod(0o640)
    said = curewatch("doctor", "--json", status=None)
    assert "closed to others" in told(said, "permissions", "ok")


def test_a_directory_that_cannot_be_written_is_a_fault(
    shop_config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = load_settings(shop_config)
    monkeypatch.setattr(os, "access", lambda *_: False)  # root may always
    faults = [one for one in permissions.findings(settings) if one.state is State.FAULT]
    assert len(faults) == 2
    assert all(one.fix for one in faults)


# ---- sensors


def test_a_sensor_no_table_names_any_more_is_to_be_looked_at(
    curewatch: Curewatch, shop_config: Path
) -> None:
    with Store.open(shop_config.parent / "shop.db") as kept:
        kept.readings.add(
            [
                Reading("old-name", Quantity.TEMPERATURE, NOW_MS - HOUR_MS, 20.0),
                Reading("long-gone", Quantity.TEMPERATURE, NOW_MS - 30 * DAY_MS, 20.0),
                Reading("drying-air", Quantity.TEMPERATURE, NOW_MS, 20.0),
            ]
        )
    curewatch("room", "reading", "drying", "--temp-c", "20", "--rh-pct", "50")
    looks = told(curewatch("doctor", "--json", status=None), "sensors", "look")
    assert "old-name" in looks
    assert "hangs in no room" in looks
    assert "long-gone" not in looks
    assert "typed" not in looks


def test_what_was_refused_within_a_day_is_told(curewatch: Curewatch, shop_config: Path) -> None:
    with Store.open(shop_config.parent / "shop.db") as kept:
        kept.readings.add([Reading("drying-air", Quantity.TEMPERATURE, NOW_MS, 20.0)])
        for sensor, at_ms in (("drying-air", NOW_MS - HOUR_MS), ("spray-air", NOW_MS - 3 * DAY_MS)):
            kept.rejections.add(
                [
                    Rejected(
                        sensor=sensor,
                        quantity=Quantity.HUMIDITY,
                        reason=RejectReason.OUT_OF_RANGE,
                        received_ms=at_ms,
                        detail=f"{sensor} said 940 %",
                    )
                ]
            )
    looks = told(curewatch("doctor", "--json", status=None), "sensors", "look")
    assert "drying-air said 940 %" in looks
    assert "spray-air said" not in looks


def test_a_sensor_whose_check_is_due_is_to_be_looked_at(
    curewatch: Curewatch, climate: StoresClimate, shop_config: Path
) -> None:
    climate("drying", days=1.0)
    text = shop_config.read_text("utf-8").replace(
        'id = "drying-air"', 'id = "drying-air"\ncalibration_every_days = 30'
    )
    shop_config.write_text(text, "utf-8")
    with Store.open(shop_config.parent / "shop.db") as kept:
        kept.places.place("drying-air", "drying", NOW_MS - 29 * DAY_MS)
        early = told(curewatch("doctor", "--json", status=None), "sensors", "look")
        kept.places.place("drying-air", "spray", NOW_MS - 40 * DAY_MS)
    late = told(curewatch("doctor", "--json", status=None), "sensors", "look")
    assert "sensor calibrate" not in early
    assert "sensor calibrate drying-air" in late


def test_a_sensor_that_is_heard_and_has_no_place_is_to_be_looked_at(
    curewatch: Curewatch, climate: StoresClimate, shop_config: Path
) -> None:
    climate("drying", days=0.1)
    new = {"kind": "plain", "name": "kiln", "topic": "shop/kiln", "first_ms": NOW_MS}
    with Store.open(shop_config.parent / "shop.db") as kept:
        kept.meta.set(NEWCOMERS, json.dumps([{**new, "last_ms": NOW_MS, "messages": 3}]))
    looks = told(curewatch("doctor", "--json", status=None), "sensors", "look")
    assert "'kiln', of kind plain, is heard on shop/kiln" in looks


# ---- the page


def test_a_page_that_does_not_answer_beside_a_running_daemon_is_a_fault(
    curewatch: Curewatch, shop_config: Path
) -> None:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port = listener.getsockname()[1]
        text = shop_config.read_text("utf-8")
        shop_config.write_text(f"{text}[page]\nserve = true\nport = {port}\n", "utf-8")
        with daemon_lock(shop_config.parent / "shop.db"):
            faults = told(curewatch("doctor", "--json", status=1), "page", "fault")
            assert "nothing answers at 127.0.0.1" in faults
            listener.listen()
            fine = curewatch("doctor", "--json", status=None)
        assert told(fine, "page", "fault") == "[]"
        assert "something answers" in told(fine, "page", "ok")


# ---- the mirror


class Pings(BaseHTTPRequestHandler):
    """Answers /ping."""

    def do_GET(self) -> None:
        """Answer without content."""
        self.send_response(204 if self.path == "/ping" else 404)
        self.end_headers()

    def log_message(self, *_args: object) -> None:
        """Say nothing."""


@pytest.fixture
def server() -> Iterator[int]:
    """Run a web server that answers /ping; return its port."""
    with HTTPServer(("127.0.0.1", 0), Pings) as running:
        thread = Thread(target=running.serve_forever)
        thread.start()
        yield running.server_port
        running.shutdown()
        thread.join()


def test_a_mirror_that_answers_is_reached_and_one_that_does_not_is_a_fault(server: int) -> None:
    found = mirror.reached(f"http://127.0.0.1:{server}")
    assert (found.state, "status 204" in found.what) == (State.OK, True)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        away = mirror.reached(f"http://127.0.0.1:{taken.getsockname()[1]}")
    assert away.state is State.FAULT
    assert away.fix
    assert mirror.reached(f"https://127.0.0.1:{server}").state is State.FAULT


def test_a_file_that_holds_no_certificates_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "ca.pem").write_text("none")
    found = mirror.reached("https://127.0.0.1:9", tmp_path / "ca.pem")
    assert (found.state, "influx.ca_file" in found.fix) == (State.FAULT, True)


def test_how_far_behind_the_mirror_is_and_why_are_told(
    curewatch: Curewatch, shop_config: Path, climate: StoresClimate
) -> None:
    climate("drying", days=1.0)
    text = shop_config.read_text("utf-8")
    shop_config.write_text(
        f'{text}[influx]\nurl = "http://127.0.0.1:9"\norg = "o"\nbucket = "b"\n'
        'token_file = "token"\n',
        "utf-8",
    )
    (shop_config.parent / "token").write_text("t")
    with Store.open(shop_config.parent / "shop.db") as kept:
        kept.mirror_marks.sent(0, Numbers(), error="it answers 401 Unauthorized", parked=3)
    said = curewatch("doctor", "--json", status=1)
    looks = told(said, "mirror", "look")
    assert "401 Unauthorized" in looks
    assert "3 rows were refused" in looks
    assert "290 rows are still to be sent, the oldest" in looks
    assert "is not reached" in told(said, "mirror", "fault")


# ---- what a broker grants


@pytest.mark.parametrize(
    ("terms", "state", "says"),
    [
        (Terms(3600), "look", "for 1.0 h only"),
        (Terms(60 * DAY_S, most_qos=0), "fault", "QoS 0 alone"),
        (Terms(60 * DAY_S, retains=False), "look", "no retained message"),
        (Terms(60 * DAY_S, wildcards=False), "look", "no topic with +"),
        (Terms(60 * DAY_S, largest_packet=1000), "look", "above 1000 bytes"),
        (Terms(60 * DAY_S, certificate_until_ms=NOW_MS + 5 * DAY_MS), "look", "5 days more"),
        (Terms(60 * DAY_S, certificate_until_ms=NOW_MS + 99 * DAY_MS), "ok", "99 days more"),
    ],
)
def test_what_a_broker_does_not_grant_is_told(terms: Terms, state: str, says: str) -> None:
    (found,) = judged(terms, 60 * DAY_S, NOW_MS)
    assert (found.state, says in found.what) == (state, True)


def test_a_broker_that_grants_all_is_not_remarked_on() -> None:
    assert list(judged(Terms(60 * DAY_S), 60 * DAY_S, NOW_MS)) == []


# ---- the broker's own file

SHIPPED = Path(__file__).parents[2] / "deploy" / "mosquitto" / "curewatch.conf"


def main_file(tmp_path: Path, text: str) -> Path:
    """Lay a broker's main file as the distribution has it, with a directory it includes."""
    (tmp_path / "conf.d").mkdir(exist_ok=True)
    path = tmp_path / "mosquitto.conf"
    path.write_text(f"# a comment\n{text}include_dir {tmp_path}/conf.d\n")
    return path


def test_a_broker_file_with_our_settings_loses_nothing(tmp_path: Path) -> None:
    path = main_file(tmp_path, "persistence true\n")
    (tmp_path / "conf.d" / "curewatch.conf").write_text(SHIPPED.read_text("utf-8"))
    (found,) = broker_file.findings(1883, path)
    assert found.state is State.OK


def test_a_broker_file_that_sets_nothing_drops_and_says_so(tmp_path: Path) -> None:
    found = " ".join(one.what for one in broker_file.findings(1883, main_file(tmp_path, "")))
    for word in ("persistence", "1000 messages", "max_inflight_messages", "every 1800 s"):
        assert word in found
    assert all(one.fix for one in broker_file.findings(1883, main_file(tmp_path, "")))


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("max_queued_messages 5000", "keeps 5000 messages"),
        ("autosave_interval 0", "only when it ends"),
        ("persistent_client_expiration 12h", "after 12h"),
    ],
)
def test_a_setting_that_loses_messages_is_named(tmp_path: Path, line: str, says: str) -> None:
    path = main_file(tmp_path, "persistence true\n")
    text = SHIPPED.read_text("utf-8").splitlines()
    kept = [one for one in text if one.split(" ")[0] != line.split(" ", maxsplit=1)[0]]
    (tmp_path / "conf.d" / "curewatch.conf").write_text("\n".join([*kept, line]))
    (found,) = broker_file.findings(1883, path)
    assert (found.state, says in found.what) == (State.LOOK, True)


def test_no_file_of_a_broker_is_no_finding(tmp_path: Path) -> None:
    assert list(broker_file.findings(1883, tmp_path / "none.conf")) == []


def test_files_of_a_broker_that_include_each_other_are_no_finding(tmp_path: Path) -> None:
    path = main_file(tmp_path, "listener 1883\n")
    (tmp_path / "conf.d" / "own.conf").write_text(f"include_dir {tmp_path / 'conf.d'}\n")
    assert list(broker_file.findings(1883, path)) == []


def test_the_file_of_a_broker_at_another_port_is_not_ours_to_judge(tmp_path: Path) -> None:
    path = main_file(tmp_path, "listener 1884\nlistener 1890 127.0.0.1\n")
    assert list(broker_file.findings(1883, path)) == []
    assert list(broker_file.findings(1890, path)) != []
