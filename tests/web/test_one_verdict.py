"""One room, one finish, one moment: one verdict, whoever is asked and whoever tells it.

The daemon has been looking all along, minute by minute; the commands come fresh to what it stored.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from curewatch.cli.check import EXIT
from curewatch.cli.main import main
from curewatch.shop.spray_terms import Verdict
from curewatch.telling import StateBoard
from tests.small_shop import HOUR_MS, MINUTE_MS, FakeLine, message
from tests.web_shop import NOW_MS, TestClient, WebShop

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from curewatch.intake import Arrived

    Air = Callable[[float], tuple[float, float | None]]

OPEN = "\n[page]\nopen_reading = true\nmetrics = true\n"
FINISHES = ("waterborne", "nitro-lacquer")
LATELY_MIN = 11  # so long the daemon tells and answers at every reading


@dataclass(frozen=True)
class Case:
    """A climate by hours before the moment, the moment's minutes past an hour, what is wanted.

    Attributes
    ----------
    air: temperature [degC] and humidity [%] so many hours before; None: not measured.
    past_min: minutes past the hour [min].
    now, verdict: of the waterborne at this moment alone, and with the hours ahead.
    """

    air: Air
    past_min: int
    now: Verdict
    verdict: Verdict


CASES = {
    "steady": Case(lambda _: (21.0, 50.0), 0, Verdict.FIT, Verdict.FIT),
    "cold": Case(lambda _: (12.0, 50.0), 3, Verdict.WAIT, Verdict.WAIT),
    "damp": Case(lambda _: (21.0, 84.0), 4, Verdict.WAIT, Verdict.WAIT),
    "cooling": Case(lambda left: (19.4 + 0.8 * left, 50.0), 2, Verdict.FIT, Verdict.TIGHT),
    "cold by day": Case(
        lambda left: (9.0 if 7.0 < (6.0 - left) % 24.0 < 18.0 else 21.0, 50.0),  # 7 h comes soon
        7,
        Verdict.FIT,
        Verdict.WAIT,
    ),
    "humidity unheard": Case(
        lambda left: (21.0, 50.0 if left > 1.0 else None), 4, Verdict.UNKNOWN, Verdict.UNKNOWN
    ),
}


def watched(shop: WebShop, case: Case, until_ms: int) -> list[dict[str, Any]]:
    """Let the daemon hear the climate and tell it; return the room's messages."""
    line = FakeLine()
    board = shop.do(lambda: StateBoard(shop.daemon.shop, shop.daemon.watch, site="yard", line=line))

    def reading(at_ms: int) -> Arrived:
        temp_c, rh_pct = case.air((until_ms - at_ms) / HOUR_MS)
        said = {"t": round(temp_c, 3), "at": at_ms}
        if rh_pct is not None:
            said["rh"] = round(rh_pct, 3)
        return message(at_ms, payload=json.dumps(said).encode())

    def heard(at_ms: int) -> None:
        shop.daemon.round([reading(at_ms)])
        board.tell(at_ms, generation=1)

    lately_ms = until_ms - LATELY_MIN * MINUTE_MS
    before = [reading(at) for at in range(until_ms - 30 * HOUR_MS, lately_ms, 10 * MINUTE_MS)]
    shop.do(lambda: shop.daemon.round(before))
    for at_ms in range(lately_ms, until_ms + 1, MINUTE_MS):
        shop.do(partial(heard, at_ms))
    return [json.loads(payload) for topic, payload, *_ in line.sent if "/room/" in topic]


def commanded(shop: WebShop, capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, Any]:
    folder = shop.settings.storage.path.parent
    status = main(["--config", str(folder / "curewatch.toml"), *words, "--json"])
    return status, json.loads(capsys.readouterr().out)


def by_finish(room: dict[str, Any]) -> dict[str, str]:
    return {check["finish"]: check["verdict"] for check in room["spray"]}


def scraped(text: str) -> dict[str, str]:
    return {
        sample.labels["finish"]: sample.labels["curewatch_room_spray"]
        for family in text_string_to_metric_families(text)
        for sample in family.samples
        if family.name == "curewatch_room_spray" and sample.value == 1.0
    }


def scraper(shop: WebShop) -> TestClient:
    return TestClient(shop.app, "http://localhost", client=("127.0.0.1", 40_000))


def on_page(text: str) -> set[str]:
    return set(re.findall(r'class="verdict mark-(\w+)"', text))


@pytest.mark.parametrize("name", CASES)
def test_every_face_gives_the_same_verdict_at_the_same_moment(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    case = CASES[name]
    until_ms = NOW_MS + case.past_min * MINUTE_MS
    with WebShop.at(tmp_path, OPEN) as shop:
        shop.set_passphrase()
        for finish in FINISHES:
            shop.hang(f"B-{finish}", finish=finish)
        told = watched(shop, case, until_ms)[-1]
        visitor = shop.stranger()
        checks = {
            finish: commanded(shop, capsys, "check", "loft", "--finish", finish)
            for finish in FINISHES
        }
        truth = {finish: answer["verdict"] for finish, (_, answer) in checks.items()}
        _, status = commanded(shop, capsys, "status")
        _, listed = commanded(shop, capsys, "room", "list")
        _, shown = commanded(shop, capsys, "room", "show", "loft")
        api = {
            finish: visitor.get(f"/api/v1/check?room=loft&finish={finish}").json()
            for finish in FINISHES
        }
        faces = {
            "status": by_finish(status["rooms"][0]),
            "room list": by_finish(listed["rooms"][0]),
            "room show": by_finish(shown),
            "message": by_finish(told),
            "API, assessment": by_finish(visitor.get("/api/v1/assessment").json()["rooms"][0]),
            "API, room": by_finish(visitor.get("/api/v1/rooms/loft").json()),
            "API, check": {finish: answer["verdict"] for finish, answer in api.items()},
            "metrics": scraped(scraper(shop).get("/metrics").text),
        }
        pages = {place: on_page(visitor.get(place).text) for place in ("/", "/room/loft", "/wall")}
    assert truth["waterborne"] == case.verdict
    assert checks["waterborne"][1]["now"]["verdict"] == case.now
    assert all(found == truth for found in faces.values()), faces
    assert all(found == set(truth.values()) for found in pages.values()), pages
    for answered, answer in checks.values():
        assert answered == EXIT[Verdict(answer["verdict"])]
    judged = {
        check["ahead"] and check["ahead"]["judged_at"]
        for room in (status["rooms"][0], told)
        for check in room["spray"]
    }
    assert len(judged) == 1


def test_the_hours_ahead_are_judged_anew_every_fifth_minute_and_say_when(tmp_path: Path) -> None:
    with WebShop.at(tmp_path, OPEN) as shop:
        shop.hang("B1")
        told = watched(shop, CASES["cooling"], NOW_MS + 7 * MINUTE_MS)
    judged = {check["ahead"]["judged_at"] for state in told for check in state["spray"]}
    assert len(judged) == 3  # of eleven minutes
    assert all(re.search(r":[0-5][05]:00\.000Z$", at) for at in judged)
