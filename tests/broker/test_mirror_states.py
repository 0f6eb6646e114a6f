"""States, alerts and withdrawals against a real server that is killed: all of them come back."""

from __future__ import annotations

import subprocess
from importlib import resources
from typing import TYPE_CHECKING

import pytest

from curewatch.clock import system_ms
from curewatch.errors import TransportError
from curewatch.outbound.influx import InfluxDoor, Place
from curewatch.shop.piece import Coat
from curewatch.storage import Store
from tests.broker.metric_server import MetricServer, needs_server
from tests.broker.mosquitto import Mosquitto, installed
from tests.broker.test_mirror import behind, configured, mirrored, series, status, stored
from tests.crash.daemon_process import DaemonProcess, wait_for

if TYPE_CHECKING:
    from pathlib import Path

    from curewatch.shop.plain import PlainValue

pytestmark = [pytest.mark.broker, pytest.mark.crash]
Points = dict[tuple[tuple[str, str], ...], dict[int, float]]


def numbers(facts: dict[str, PlainValue]) -> dict[str, float]:
    """Return the facts that this server keeps: of texts it keeps nothing but that they were."""
    return {k: float(v) for k, v in facts.items() if isinstance(v, bool | int | float)}


def expected(database: Path) -> Points:
    """Return every numeric field of what is stored, as the server names it."""
    found: Points = {}

    def put(measurement: str, tags: dict[str, str], facts: dict[str, float], at_ms: int) -> None:
        for name, value in facts.items():
            labels = {"__name__": f"{measurement}_{name}", "site": "trial", **tags}
            found.setdefault(tuple(sorted(labels.items())), {})[at_ms] = value

    with Store.open(database, read_only=True) as store:
        for _, state in store.states.after(0, 10_000):
            tags: dict[str, str] = {state.kind: state.name}
            put(f"curewatch_{state.kind}", tags, numbers(state.facts), state.at_ms)
            checks = state.facts.get("spray", {})
            assert isinstance(checks, dict)
            for finish_name, check in checks.items():
                assert isinstance(check, dict)
                told = {**tags, "finish": finish_name}
                put("curewatch_spray", told, numbers(check), state.at_ms)
        for number, void in store.reading_voids.after(0, 100):
            span = {"void": number, "start_ms": void.start_ms, "stop_ms": void.stop_ms}
            void_tags = {"sensor": void.sensor, "number": str(number)}
            put("curewatch_void", void_tags, span, void.at_ms)  # type: ignore[arg-type]
        for _, step in store.alerts.steps_after(0, 1000):
            tags = {
                "kind": step.kind.value,
                "subject": step.subject,
                "phase": step.phase.value,
            }
            put("curewatch_alert", tags, {"alert": float(step.alert_id)}, step.at_ms)
    return found


def told(server: MetricServer) -> Points:
    found = server.points("curewatch_(room|spray|piece|void|alert)_.*")
    texts = ("_verdict", "_binding", "_reason", "_why", "_field", "_finish", "_room", "_window")
    return {
        labels: points
        for labels, points in found.items()
        if not dict(labels)["__name__"].endswith(texts)
    }


def hang(store: Store, tag: str, coat_ms: int) -> None:
    text = (resources.files("curewatch.finishes") / "waterborne.toml").read_text("utf-8")
    with store.db.transaction():
        revision = store.finishes.keep("waterborne", text, coat_ms)
        store.pieces.hang(
            tag,
            "waterborne",
            revision,
            title="an invented door",
            at_ms=coat_ms,
            entered_ms=coat_ms,
            room="drying",
        )
        store.pieces.coat(tag, Coat(coat_ms), coat_ms)


def test_states_alerts_and_withdrawals_come_back_though_the_server_is_killed(
    tmp_path: Path,
) -> None:
    needs_server()
    database = tmp_path / "shop.db"
    now_ms = system_ms() // 1000 * 1000
    server = MetricServer(tmp_path / "points")
    with Mosquitto(tmp_path) as broker, server:
        config = configured(tmp_path, broker, server)
        with Store.open(database) as store:
            store.readings.add(series("rack", now_ms - 1000 * 7000, 2000))
            void = (now_ms - 900 * 7000, now_ms - 890 * 7000)
            store.readings.void("rack", *void, "a hand on it", now_ms)
            hang(store, "B1", now_ms - 3_600_000)
        with DaemonProcess(config) as daemon:

            def all_there() -> bool:
                return behind(database) == 0 and same(told(server), expected(database))

            wait_for(lambda: kinds(expected(database)) >= KINDS, "states", daemon.log)
            wait_for(all_there, "all of them", daemon.log)
            with Store.open(database) as other:
                other.readings.add(series("wall", now_ms - 50_000 * 7, 80), announce=True)
            wait_for(lambda: behind(database) == 0, "these", daemon.log)
            server.kill()  # and with it what it has just said it has taken
            with Store.open(database) as other:
                other.readings.add(series("rack", now_ms, 2), announce=True)
                hang(other, "B2", now_ms - 1_800_000)
            wait_for(lambda: status(config)["last_error"], "the failure", daemon.log)
            server.start()
            wait_for(all_there, "all of them again", daemon.log, timeout_s=60.0)
            wait_for(lambda: mirrored(server) == stored(database), "all readings", daemon.log)
            assert any(dict(labels).get("piece") == "B2" for labels in told(server))


KINDS = {"curewatch_room", "curewatch_spray", "curewatch_piece", "curewatch_void"}


def same(found: Points, wanted: Points) -> bool:
    """Whether all points are there and no others; the server keeps twelve digits or more."""
    return found.keys() == wanted.keys() and all(
        found[labels] == pytest.approx(points, rel=1e-11) for labels, points in wanted.items()
    )


def kinds(points: Points) -> set[str]:
    """Return the measurements among some points."""
    return {"_".join(dict(labels)["__name__"].split("_")[:2]) for labels in points}


def test_a_server_with_a_certificate_of_ones_own_is_believed_only_with_its_authority(
    tmp_path: Path,
) -> None:
    needs_server()
    certificate = tmp_path / "own.pem"
    subprocess.run(
        [
            *(installed("openssl", "openssl"), "req", "-x509", "-newkey", "ec", "-nodes"),
            *("-pkeyopt", "ec_paramgen_curve:prime256v1", "-days", "2", "-subj", "/CN=trial"),
            *("-addext", "subjectAltName=IP:127.0.0.1", "-keyout", certificate.with_suffix(".key")),
            *("-out", certificate),
        ],
        check=True,
        capture_output=True,
    )
    with MetricServer(tmp_path / "points", certificate=certificate) as server:

        def door(ca_file: Path | None) -> InfluxDoor:
            return InfluxDoor(Place(server.url, "yard", "shop", lambda: "invented", ca_file))

        with pytest.raises(TransportError, match="CERTIFICATE_VERIFY_FAILED"):
            door(None).write(["curewatch_reading,sensor=rack mass_g=1 1700000000000"])
        assert (
            door(certificate).write(["curewatch_reading,sensor=rack mass_g=2 1700000000000"]) == 0
        )
        ((_, points),) = server.points("curewatch_reading_mass_g").items()
        assert points == {1_700_000_000_000: 2.0}
