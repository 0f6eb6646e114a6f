"""What scrapers and watchers of services read."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from prometheus_client.openmetrics.parser import text_string_to_metric_families
from starlette.testclient import TestClient

from curewatch.outbound.metrics import CONTENT_TYPE, DaemonNow, MirrorLag, exposition
from curewatch.shop.alert import AlertPhase
from curewatch.shop.assessment import assess
from curewatch.shop.finish import ClockName
from curewatch.shop.piece import Coat
from curewatch.shop.reading import RejectReason
from curewatch.shop.spray import Verdict
from curewatch.shop.window import WindowState
from curewatch.storage import Store
from curewatch.web import metrics as web_metrics
from curewatch.web.access import FREE_TRIES
from curewatch.web.desk import Counter
from tests.small_shop import HOUR_MS, message
from tests.web_shop import NOW_MS, SECRET, WebShop

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prometheus_client.metrics_core import Metric

DOCUMENT = (Path(__file__).parents[2] / "docs" / "metrics.md").read_text("utf-8")
FAMILY = re.compile(r"^\| `(curewatch_\w+)` \| (\w+) \| ([\w, ]*?) ?\|", re.MULTILINE)
METRICS = "\n[page]\nmetrics = true\n"
HERE = ("127.0.0.1", 40_000)
AWAY = ("192.0.2.7", 40_000)  # RFC 5737: an address of documentation
ODD = 'B "2" \\ three\nlines'


@pytest.fixture
def scraped(tmp_path: Path) -> Iterator[WebShop]:
    with WebShop.at(tmp_path, METRICS) as opened:
        opened.set_passphrase()
        opened.hear()
        opened.hang("B1", NOW_MS - 24 * HOUR_MS)
        yield opened


def visitor(shop: WebShop, client: tuple[str, int], host: str = "localhost") -> TestClient:
    return TestClient(
        shop.app,
        f"http://{host}",
        client=client,
        follow_redirects=False,
        raise_server_exceptions=False,
    )


def families(text: str) -> dict[str, Metric]:
    return {family.name: family for family in text_string_to_metric_families(text)}  # type: ignore[no-untyped-call]


def value(found: dict[str, Metric], name: str, **labels: str) -> float:
    (sample,) = [s for s in found[name].samples if s.labels == labels]
    return float(sample.value)


def states(found: dict[str, Metric], name: str, **labels: str) -> set[str]:
    """Return the states of a state set that hold."""
    return {
        sample.labels[name]
        for sample in found[name].samples
        if sample.value == 1.0 and labels.items() <= sample.labels.items()
    }


def daemon_now(**changed: object) -> DaemonNow:
    facts: dict[str, object] = {
        "version": "1", "clock_set": True, "broker_connected": False, "round_age_s": 2.5,
        "reading_age_s": 9.0, "kept": {"rack": 12}, "alerts": {AlertPhase.RAISED: 3},
        "refused": {("rack", RejectReason.TOO_FAST): 4},
    }  # fmt: skip
    return DaemonNow(**(facts | changed))  # type: ignore[arg-type]  # a row of facts


def test_a_scraper_reads_what_the_assessment_says(scraped: WebShop) -> None:
    answer = visitor(scraped, HERE).get("/metrics")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == CONTENT_TYPE
    found = families(answer.text)
    now = scraped.do(lambda: assess(scraped.daemon.shop, NOW_MS))
    (room,) = now.rooms
    (piece,) = now.pieces
    assert room.climate is not None
    assert room.climate.rh_frac is not None
    assert value(found, "curewatch_room_temperature_celsius", room="loft") == room.climate.temp_c
    rh = value(found, "curewatch_room_relative_humidity_ratio", room="loft")
    assert rh == pytest.approx(room.climate.rh_frac)
    assert value(found, "curewatch_room_dew_point_celsius", room="loft") == room.dew_point_c
    assert value(found, "curewatch_room_fresh", room="loft") == 1.0
    covered = value(found, "curewatch_room_coverage_ratio", room="loft")
    assert covered == pytest.approx(room.coverage_24h_pct / 100.0)
    assert not found["curewatch_room_surface_temperature_celsius"].samples
    (check,) = room.checks
    told = states(found, "curewatch_room_spray", room="loft", finish=check.finish)
    assert told == {check.verdict.value}
    for clock, reading in piece.clocks.items():
        name = "curewatch_piece_effective_hours"
        assert value(found, name, piece="B1", clock=clock.value) == reading.effective_hours
    for stone in piece.milestones:
        if stone.required_hours is not None:
            told_stone = value(
                found, "curewatch_piece_milestone_reached", piece="B1", milestone=stone.name.value
            )
            assert told_stone == (stone.cautious_at is not None)
    assert piece.sink_back is not None
    left = value(found, "curewatch_piece_sink_back_remaining_micrometers", piece="B1")
    assert left == piece.sink_back.remaining_um
    assert piece.window is not None
    told = states(found, "curewatch_piece_recoat_window", piece="B1")
    assert told == {piece.window.state.value}
    kept = scraped.do(scraped.store.readings.counts)
    (sample,) = found["curewatch_readings_kept"].samples
    assert (sample.name, sample.value) == ("curewatch_readings_kept_total", kept["rack"])


def test_a_state_set_names_every_state_there_is(scraped: WebShop) -> None:
    found = families(visitor(scraped, HERE).get("/metrics").text)
    for name, kinds in (
        ("curewatch_room_spray", Verdict),
        ("curewatch_piece_recoat_window", WindowState),
    ):
        assert {s.labels[name] for s in found[name].samples} == {kind.value for kind in kinds}


def test_every_family_stands_on_its_page_with_its_labels(scraped: WebShop) -> None:
    now = scraped.do(lambda: assess(scraped.daemon.shop, NOW_MS))
    text = exposition(now, daemon_now(mirror=MirrorLag(5, 60.0))).decode()
    documented = {name: (kind, labels) for name, kind, labels in FAMILY.findall(DOCUMENT)}
    found = families(text)
    assert documented.keys() == found.keys()
    for name, (kind, labels) in documented.items():
        assert kind == found[name].type
        for sample in found[name].samples:
            asked = set(filter(None, labels.split(", ")))
            assert asked <= sample.labels.keys()
            if kind in ("gauge", "counter"):
                assert asked == sample.labels.keys()


def test_figures_of_the_daemon_come_back_as_they_were() -> None:
    lag = MirrorLag(5, 60.0, failing=True, parked=7)
    found = families(exposition(None, daemon_now(mirror=lag)).decode())
    assert value(found, "curewatch_round_age_seconds") == 2.5
    assert value(found, "curewatch_newest_reading_age_seconds") == 9.0
    assert value(found, "curewatch_mirror_behind_rows") == 5
    assert value(found, "curewatch_mirror_behind_seconds") == 60.0
    assert value(found, "curewatch_mirror_failing") == 1.0
    assert value(found, "curewatch_mirror_parked") == 7
    assert value(found, "curewatch_alerts", phase="raised") == 3
    assert value(found, "curewatch_alerts", phase="seen") == 0
    assert value(found, "curewatch_readings_refused", sensor="rack", reason="too-fast") == 4
    assert not any(name.startswith(("curewatch_room", "curewatch_piece")) for name in found)


def test_a_mirror_that_never_sent_is_behind_by_all_there_is(tmp_path: Path) -> None:
    token = tmp_path / "token"
    token.write_text("invented", "utf-8")
    token.chmod(0o600)
    place = '[influx]\nurl = "http://127.0.0.1:9"\norg = "o"\nbucket = "b"\ntoken_file = "token"\n'
    with WebShop.at(tmp_path, METRICS + place) as opened:
        opened.hear(hours=1)
        found = families(visitor(opened, HERE).get("/metrics").text)
        rows = opened.do(lambda: sum(1 for _ in opened.store.readings.rows(0, NOW_MS + 1)))
    assert rows > 0
    assert value(found, "curewatch_mirror_behind_rows") >= rows
    assert value(found, "curewatch_mirror_behind_seconds") == 3600.0


def test_what_is_not_known_has_no_sample() -> None:
    found = families(exposition(None, daemon_now(round_age_s=None, reading_age_s=None)).decode())
    for name in ("round_age_seconds", "newest_reading_age_seconds", "mirror_behind_rows"):
        assert not found[f"curewatch_{name}"].samples


def test_a_stale_room_has_no_temperature(scraped: WebShop) -> None:
    later = NOW_MS + 6 * HOUR_MS
    now = scraped.do(lambda: assess(scraped.daemon.shop, later))
    found = families(exposition(now, daemon_now()).decode())
    assert value(found, "curewatch_room_fresh", room="loft") == 0.0
    assert not found["curewatch_room_temperature_celsius"].samples
    assert not found["curewatch_room_dew_point_celsius"].samples
    assert states(found, "curewatch_room_spray", room="loft") == {"unknown"}


def test_odd_tags_come_back_unharmed(scraped: WebShop) -> None:
    now = scraped.do(lambda: assess(scraped.daemon.shop, NOW_MS))
    pieces = (replace(now.pieces[0], tag=ODD, room=ODD),)
    found = families(exposition(replace(now, pieces=pieces), daemon_now()).decode())
    assert value(found, "curewatch_piece_effective_hours", piece=ODD, clock="wall") == 24.0
    (info,) = found["curewatch_piece"].samples
    assert (info.labels["piece"], info.labels["room"]) == (ODD, ODD)


@given(sensor=st.text(st.characters(exclude_categories=["Cs"])))
def test_any_name_comes_back_from_its_label(sensor: str) -> None:
    found = families(exposition(None, daemon_now(kept={sensor: 7})).decode())
    assert value(found, "curewatch_readings_kept", sensor=sensor) == 7


def test_a_piece_that_left_takes_its_samples_along(scraped: WebShop) -> None:
    with Store.open(scraped.settings.storage.path) as other, other.db.transaction():
        other.pieces.leave("B1", NOW_MS - HOUR_MS, entered_ms=NOW_MS)
    scraped.do(lambda: scraped.daemon.round([]))
    assert "B1" not in visitor(scraped, HERE).get("/metrics").text


def test_refused_messages_are_counted_by_reason(scraped: WebShop) -> None:
    hot = message(NOW_MS + 60_000, 400.0)
    scraped.do(lambda: scraped.daemon.round([hot]))
    found = families(visitor(scraped, HERE).get("/metrics").text)
    name = "curewatch_readings_refused"
    assert value(found, name, sensor="rack", reason="out-of-range") == 1.0


def test_without_the_key_there_are_no_metrics(shop: WebShop) -> None:
    assert visitor(shop, HERE).get("/metrics").status_code == 404
    assert visitor(shop, HERE).get("/health").status_code == 503  # no broker in this shop


@pytest.mark.parametrize("place", ["/metrics", "/health"])
@pytest.mark.parametrize(
    ("client", "host", "headers"),
    [
        (AWAY, "localhost", {}),
        (HERE, "shop.example.org", {}),
        (HERE, "192.0.2.1", {}),
        (HERE, "localhost", {"X-Forwarded-For": "192.0.2.7"}),
        (HERE, "localhost", {"Forwarded": "for=192.0.2.7"}),
    ],
)
def test_strangers_from_elsewhere_are_asked_for_the_passphrase(
    tmp_path: Path, place: str, client: tuple[str, int], host: str, headers: dict[str, str]
) -> None:
    config = METRICS + 'names = ["shop.example.org"]\n'
    with WebShop.at(tmp_path, config) as opened:
        opened.set_passphrase()
        answer = visitor(opened, client, host).get(place, headers=headers)
    assert answer.status_code == 401
    assert answer.headers["www-authenticate"].startswith("Basic ")
    assert "loft" not in answer.text


def test_the_passphrase_opens_and_a_wrong_one_costs_time(scraped: WebShop) -> None:
    away = visitor(scraped, AWAY)
    for _ in range(3):  # the second time it is known already
        assert away.get("/metrics", auth=("scraper", SECRET)).status_code == 200
    for _ in range(FREE_TRIES):
        assert away.get("/metrics", auth=("scraper", "pine and shellac")).status_code == 401
    late = away.get("/metrics", auth=("scraper", "pine and shellac"))
    assert late.status_code == 429
    assert int(late.headers["retry-after"]) > 0


def test_a_changed_passphrase_shuts_the_old_one_out(scraped: WebShop) -> None:
    away = visitor(scraped, AWAY)
    assert away.get("/metrics", auth=("", SECRET)).status_code == 200
    scraped.set_passphrase("$argon2id$v=19$m=8,t=1,p=1$c29tZXNhbHQ$AAAAAAAAAAAAAAAAAAAAAA")
    assert away.get("/metrics", auth=("", SECRET)).status_code == 401


def test_a_broken_header_is_no_passphrase(scraped: WebShop) -> None:
    answer = visitor(scraped, AWAY).get("/metrics", headers={"Authorization": "Basic %%%"})
    assert answer.status_code == 401


def test_open_reading_opens_both(tmp_path: Path) -> None:
    with WebShop.at(tmp_path, METRICS + "open_reading = true\n") as opened:
        assert visitor(opened, AWAY).get("/metrics").status_code == 200
        assert visitor(opened, AWAY).get("/health").status_code == 503


def test_health_says_what_is_amiss(scraped: WebShop) -> None:
    answer = visitor(scraped, HERE).get("/health")
    assert answer.status_code == 503
    assert answer.json() == {
        "format": 1,
        "well": False,
        "daemon_alive": True,
        "clock_set": True,
        "broker_connected": False,
        "storage_ok": True,
        "newest_reading_age_s": 0.0,
    }


def test_a_daemon_that_does_not_answer_is_not_alive(scraped: WebShop) -> None:
    scraped.rests.set()
    try:
        health = visitor(scraped, HERE).get("/health")
        metrics = visitor(scraped, HERE).get("/metrics")
    finally:
        scraped.rests.clear()
    assert health.status_code == metrics.status_code == 503
    assert health.json()["daemon_alive"] is False
    assert health.json()["why"]


def test_of_a_full_shop_some_pieces_are_judged_anew_at_each_scrape(
    scraped: WebShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    for tag in ("B2", "B3"):
        scraped.hang(tag, NOW_MS - 24 * HOUR_MS)
    monkeypatch.setattr(web_metrics, "JUDGED_AT_ONCE", 2)
    judged = web_metrics.LastJudged()

    def hours(now_ms: int) -> list[float]:
        now = scraped.do(lambda: judged.assessment(counter(scraped, now_ms)))
        return [piece.clocks[ClockName.WALL].effective_hours for piece in now.pieces]

    assert hours(NOW_MS) == [24.0, 24.0, 24.0]
    later = NOW_MS + 30 * 60_000
    assert sorted(hours(later)) == [24.0, 24.5, 24.5]
    assert hours(later) == [24.5, 24.5, 24.5]
    with Store.open(scraped.settings.storage.path) as other, other.db.transaction():
        other.pieces.leave("B2", NOW_MS, entered_ms=NOW_MS)
    scraped.do(lambda: scraped.daemon.round([]))
    assert hours(later) == [24.5, 24.5]


def test_of_many_rooms_some_are_judged_anew_at_each_scrape(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(web_metrics, "ROOMS_AT_ONCE", 1)
    with WebShop.at(tmp_path, METRICS + '\n[[room]]\nname = "cellar"\n') as opened:
        opened.hear()
        judged = web_metrics.LastJudged()

        def fresh(now_ms: int) -> dict[str, bool]:
            now = opened.do(lambda: judged.assessment(counter(opened, now_ms)))
            return {room.name: room.fresh for room in now.rooms}

        later = NOW_MS + 6 * HOUR_MS
        assert fresh(NOW_MS) == {"loft": True}
        assert fresh(later) == {"loft": True, "cellar": False}
        assert fresh(later) == {"loft": False, "cellar": False}


def counter(shop: WebShop, now_ms: int) -> Counter:
    """Return what a question is answered from, at an instant the watch has not stepped to."""
    return Counter(
        store=shop.store,
        shop=shop.daemon.shop,
        watch=shop.daemon.watch,
        settings=shop.settings,
        now_ms=now_ms,
        entered_ms=now_ms,
    )


def test_what_a_person_enters_about_a_piece_is_in_the_next_scrape(
    scraped: WebShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(web_metrics, "JUDGED_AT_ONCE", 0)  # none waits longest: all are busy
    with Store.open(scraped.settings.storage.path) as other, other.db.transaction():
        other.pieces.coat("B1", Coat(NOW_MS - HOUR_MS), NOW_MS)
    scraped.hear(NOW_MS + 60_000, hours=1)
    found = families(visitor(scraped, HERE).get("/metrics").text)
    assert value(found, "curewatch_piece_effective_hours", piece="B1", clock="wall") < 2.0
