from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.assembly import finish_text
from curewatch.settings import load_settings
from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.piece import Coat
from curewatch.shop.reading import Quantity, Reading, Urgency
from curewatch.storage.lock import daemon_lock
from tests.cli.conftest import HOUR_MS, NOW_MS

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch, StoresClimate

    Hangs = Callable[..., None]


@pytest.fixture
def hang(shop_config: Path, kept: Callable[[], Store]) -> Hangs:
    """Return what hangs a piece in a room and lays its coats so many hours ago."""

    def hang(
        tag: str,
        finish: str,
        *hours_ago: float,
        planned: int | None = None,
        title: str = "",
        room: str = "drying",
    ) -> None:
        settings = load_settings(shop_config)
        with kept() as store:
            revision = store.finishes.keep(finish, finish_text(settings, finish), NOW_MS)
            store.pieces.hang(
                tag,
                finish,
                revision,
                title=title,
                at_ms=NOW_MS - 9 * 24 * HOUR_MS,
                entered_ms=NOW_MS,
                room=room,
                planned_coats=planned,
            )
            for hours in hours_ago:
                store.pieces.coat(tag, Coat(NOW_MS - round(hours * HOUR_MS)), NOW_MS)

    return hang


def bench_order(curewatch: Curewatch) -> list[str]:
    found: list[str] = curewatch("status", "--json").plain["bench_list"]
    return found


def test_the_bench_list_is_in_order_of_need(
    curewatch: Curewatch, climate: StoresClimate, hang: Hangs
) -> None:
    climate("drying")
    hang("BARE", "waterborne", planned=3)
    hang("YOUNG", "waterborne", 30.0, planned=1)  # wet sanding waits two to three days
    hang("FRESH", "waterborne", 0.2, planned=8)
    hang("DONE", "waterborne", 200.0, planned=1)
    hang("LATER", "waterborne", 3.0, planned=8)
    hang("SOON", "waterborne", 6.0, planned=8)
    plain = curewatch("status", "--json").plain
    windows = {
        piece["piece"]: piece["window"]["closes_at"] for piece in plain["pieces"] if piece["window"]
    }
    assert windows["SOON"] < windows["LATER"]  # both open: the sooner closing comes first
    assert plain["bench_list"] == ["SOON", "LATER", "DONE", "FRESH", "YOUNG", "BARE"]
    said = curewatch("status").out
    headings = ["RECOAT BEFORE THE WINDOW CLOSES", "READY", "WAITING", "NO DATE CAN BE TOLD"]
    places = [said.index(f"\n{heading}\n") for heading in headings]
    assert places == sorted(places)


def test_a_piece_with_all_its_coats_on_needs_no_recoat(
    curewatch: Curewatch, climate: StoresClimate, hang: Hangs
) -> None:
    climate("drying")
    hang("DONE", "waterborne", 200.0, planned=1)
    hang("OPEN", "waterborne", 3.0, planned=1)
    assert bench_order(curewatch) == ["DONE", "OPEN"]


def test_each_piece_is_a_sentence_with_its_reason_and_the_next_job(
    curewatch: Curewatch, climate: StoresClimate, hang: Hangs
) -> None:
    climate("drying")
    hang("A7", "waterborne", 200.0, planned=1, title="viola of the invented shop")
    said = curewatch("status")
    assert said.narrow()
    assert "A7, viola of the invented shop: 1 of 1 coat of waterborne, drying" in said.flat
    assert "Ready to wet-sand since" in said.flat
    assert "effective hours" in said.flat
    assert "Next: Go and test where it does not show" in said.flat


def test_a_room_tells_climate_age_dew_point_and_a_verdict_in_words_for_each_finish(
    curewatch: Curewatch, climate: StoresClimate, hang: Hangs
) -> None:
    climate("drying", rh_pct=84.0)
    hang("A7", "waterborne", 20.0)
    hang("A8", "nitro-lacquer", 20.0)
    said = curewatch("status")
    assert "drying: 21.0 °C, 84 %, dew point 18.2 °C, surface not measured, 0 min ago." in said.flat
    assert "waterborne: do not spray now: " in said.flat
    assert "nitro-lacquer: do not spray now: " in said.flat
    assert "\x1b" not in said.out  # no colour at all, so none alone


def test_a_room_that_fell_silent_decides_nothing(
    curewatch: Curewatch, climate: StoresClimate, hang: Hangs
) -> None:
    climate("spray")
    climate("drying", until_ms=NOW_MS - 5 * HOUR_MS)
    hang("A7", "waterborne", 20.0)
    said = curewatch("status").flat
    assert "5.0 h ago. Too old to decide anything: last heard today 7:00. Cannot tell." in said
    (room,) = [r for r in curewatch("status", "--json").plain["rooms"] if r["room"] == "drying"]
    assert room["fresh"] is False
    assert {check["verdict"] for check in room["spray"]} == {"unknown"}


def test_a_room_never_heard_says_so(curewatch: Curewatch) -> None:
    said = curewatch("status").flat
    assert "drying: no sensor was ever heard. Cannot tell whether to spray." in said
    assert "No piece hangs in the shop" in said


def test_open_alerts_and_pending_notices_are_told(
    curewatch: Curewatch, climate: StoresClimate, kept: Callable[[], Store]
) -> None:
    climate("spray", days=1)
    alert = Alert(
        kind=AlertKind.COLD_YOUNG_FILM,
        subject="room:spray#waterborne",
        urgency=Urgency.NOW,
        phase=AlertPhase.RAISED,
        since_ms=NOW_MS,
        reason="spray: 8.0 °C on films in their first days (A7).",
        next_action="Warm the room slowly.",
        raised_ms=NOW_MS,
    )
    with kept() as store:
        number = store.alerts.save(alert).id
        store.notices.enqueue(number, "raised", "title", "body", NOW_MS)
        late = store.notices.enqueue(number, "repeated", "title", "body", NOW_MS)
        assert late is not None
        store.notices.failed(late, "no route", NOW_MS + HOUR_MS)
    plain = curewatch("status", "--json").plain
    assert [a["kind"] for a in plain["alerts"]] == ["cold-young-film"]
    assert plain["notices"] == {
        "waiting": 1,
        "failing": 1,
        "given_up": 0,
        "oldest_at": "2026-03-05T12:00:00.000Z",
    }
    said = curewatch("status")
    assert said.narrow()
    assert "now: Room spray: cold on a young film (raised today 12:00)" in said.flat
    assert "Notices: 1 to be sent, 1 tried in vain and to be tried again" in said.flat


def test_whether_the_daemon_runs_is_told(curewatch: Curewatch, shop_config: Path) -> None:
    assert "The daemon is NOT running" in curewatch("status").flat
    assert curewatch("status", "--json").plain["daemon"]["running"] is False
    with daemon_lock(shop_config.parent / "shop.db"):
        assert "The daemon is running (process " in curewatch("status").flat
        assert curewatch("status", "--json").plain["daemon"]["running"] is True


def test_what_the_clock_is_worth_is_told(curewatch: Curewatch, shop_config: Path) -> None:
    assert "Now is the newest reading's time" in curewatch("status").flat
    text = shop_config.read_text("utf-8").replace('source = "readings"', 'source = "system"')
    shop_config.write_text(text, "utf-8")
    assert "system clock" in curewatch("status").flat
    assert curewatch("status", "--json").plain["daemon"]["clock"] in ("set", "not-set", "unknown")


def test_a_clock_before_the_newest_reading_is_not_set(
    curewatch: Curewatch, shop_config: Path, kept: Callable[[], Store]
) -> None:
    text = shop_config.read_text("utf-8").replace('source = "readings"', 'source = "system"')
    shop_config.write_text(text, "utf-8")
    far_ms = 4_102_444_800_000  # the year 2100
    with kept() as store:
        store.readings.add([Reading("spray-air", Quantity.TEMPERATURE, far_ms, 20.0)])
    assert "the system clock is NOT set" in curewatch("status").flat


def test_a_sensor_that_is_stuck_is_seen_without_a_daemon(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=1)  # one pair of values all day
    (room,) = [r for r in curewatch("status", "--json").plain["rooms"] if r["room"] == "spray"]
    assert room["sensors"][0]["frozen_since"] is not None


def test_the_same_assessment_is_given_as_json(
    curewatch: Curewatch, climate: StoresClimate, hang: Hangs
) -> None:
    climate("drying")
    hang("A7", "two-part-urethane", 20.0)
    plain = curewatch("status", "--json").plain
    assert (plain["format"], plain["site"]) == (1, "test-shop")
    assert plain["at"] == "2026-03-05T12:00:00.000Z"
    assert plain["pieces"][0]["clocks"]["cure"]["effective_hours"] > 0.0


@pytest.mark.parametrize("finish", ["waterborne", "dose-cured", "oil-varnish", "shellac"])
def test_no_line_is_wider_than_a_terminal(
    curewatch: Curewatch, climate: StoresClimate, hang: Hangs, finish: str
) -> None:
    climate("drying", temp_c=9.0, rh_pct=88.0)
    hang("A7", finish, 60.0, 30.0, 2.0, title="a title of many words that goes on and on and on")
    assert curewatch("status").narrow()


def test_without_a_daemon_no_alert_means_nothing(curewatch: Curewatch) -> None:
    said = curewatch("status").flat
    assert "No alert stands; nobody raises any while the daemon is not running" in said


def test_with_a_daemon_no_alert_is_an_answer(curewatch: Curewatch, shop_config: Path) -> None:
    with daemon_lock(shop_config.parent / "shop.db"):
        said = curewatch("status").flat
    assert "No alert stands. The daemon is running" in said
