"""What is promised to programs: options, keys and exit statuses, asked as an outsider would.

Every command is run as one would type it, in a process' worth of its own; a missing key fails.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import icalendar
import pytest

from tests.questions_shop import QuestionsShop, questions_shop

OFFICE = Path(__file__).parent / "data" / "office-climate-2015-02.csv"
LOG = (
    "--time", "time", "--temp", "temperature_c", "--rh", "relative_humidity_percent",
    "--finish", "waterborne",
    "--coat", "2015-02-04T20:00", "--coat", "2015-02-04T23:00",
)  # fmt: skip
STANDINGS = {"data-sheet", "learnt-here", "common-practice", "from-memory", "physics"}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> QuestionsShop:
    """Return a shop to ask."""
    return questions_shop(tmp_path_factory.mktemp("contracts"))


def keys(found: Any, *names: str) -> Any:  # noqa: ANN401 - whatever JSON holds
    """Return an object that has all these keys, or fail."""
    assert isinstance(found, dict), found
    missing = [name for name in names if name not in found]
    assert not missing, f"{missing} not in {sorted(found)}"
    return found


def instant(text: str) -> datetime:
    """Return an instant; it must be in UTC and ISO 8601."""
    found = datetime.fromisoformat(text)
    assert found.tzinfo is not None
    return found


def in_order(*texts: str | None) -> None:
    """Early, likely and late must stand in that order, as far as they are told."""
    told = [instant(text) for text in texts if text is not None]
    assert told == sorted(told)


CHECKS = [
    ("fit", 0, ("--temp-c", "23", "--rh-pct", "45", "--surface-c", "23", "--liquid-c", "22")),
    ("tight", 10, ("--temp-c", "21", "--rh-pct", "72", "--surface-c", "21", "--liquid-c", "21")),
    ("wait", 20, ("--temp-c", "12", "--rh-pct", "60", "--surface-c", "12", "--liquid-c", "12")),
]


@pytest.mark.parametrize(("verdict", "status", "air"), CHECKS, ids=[row[0] for row in CHECKS])
def test_check_typed(shop: QuestionsShop, verdict: str, status: int, air: tuple[str, ...]) -> None:
    answer = shop.ask("check", "--finish", "waterborne", *air, "--json")
    told = keys(
        answer.plain, "verdict", "binding", "reasons", "what_would_clear_it", "recoat", "standing"
    )
    assert (told["verdict"], answer.status) == (verdict, status)
    assert isinstance(told["reasons"], list)
    assert isinstance(told["what_would_clear_it"], list)
    recoat = keys(told["recoat"], "earliest", "likely", "latest")
    assert recoat["earliest"] <= recoat["likely"] <= recoat["latest"]
    if verdict != "fit":
        keys(told["binding"], "limit", "value", "allowed", "margin", "error")
        assert told["reasons"]
        assert told["what_would_clear_it"]
    numbers = ("temp_c", "rh_pct", "surface_c", "liquid_c", "recoat", "limits")
    assert any(name in place for name in numbers for place in told["standing"])


def test_check_in_a_room_and_one_that_nobody_hears(shop: QuestionsShop) -> None:
    known = shop.ask("check", "spray", "--finish", "waterborne", "--json")
    assert (known.plain["verdict"], known.status) == ("fit", 0)
    unheard = shop.ask("check", "shed", "--finish", "waterborne", "--json")
    assert (unheard.plain["verdict"], unheard.status) == ("unknown", 30)


@pytest.mark.parametrize("air", ["still", "gentle", "fan"])
def test_check_adds_blush_for_solvent_finishes_alone(shop: QuestionsShop, air: str) -> None:
    words = ("check", "--temp-c", "24", "--rh-pct", "70", "--surface-c", "22", "--air", air)
    lacquer = shop.ask(*words, "--finish", "nitro-lacquer", "--thinner", "slow", "--json").plain
    blush = keys(
        lacquer["blush"],
        "lowest_film_c",
        "margin_wood_k",
        "margin_edge_k",
        "condensed_wood_g_m2",
        "condensed_edge_g_m2",
    )
    assert blush["lowest_film_c"] < 22.0
    assert blush["margin_edge_k"] <= blush["margin_wood_k"]
    assert shop.ask(*words, "--finish", "waterborne", "--json").plain["blush"] is None


def test_plan_and_its_calendar_read_back(shop: QuestionsShop, tmp_path: Path) -> None:
    path = tmp_path / "day.ics"
    words = ("plan", "--finish", "waterborne", "--coats", "2", "--start", "2026-03-05T13:00")
    answer = shop.ask(*words, "--pieces", "NEXT,YOUNG", "--ics", str(path), "--json")
    assert answer.status == 0
    told = keys(answer.plain, "coats", "warnings")
    assert isinstance(told["warnings"], list)
    assert len(told["coats"]) == 4
    for coat in told["coats"]:
        keys(coat, "piece", "at", "window_opens", "window_closes")
        for window in ("window_opens", "window_closes"):
            ends = keys(coat[window], "early", "likely", "late")
            in_order(ends["early"], ends["likely"], ends["late"])
    assert {coat["piece"] for coat in told["coats"]} == {"NEXT", "YOUNG"}
    events = icalendar.Calendar.from_ical(path.read_bytes()).walk("VEVENT")
    begins = {event.decoded("dtstart").astimezone(UTC) for event in events}
    for coat in told["coats"]:
        at = instant(coat["at"])
        assert any(abs(begin - at) < timedelta(minutes=1) for begin in begins), coat
    for event in events:
        assert event["uid"]
        assert event["dtstamp"]


def test_what_if_gives_ranges_wood_and_cautions(shop: QuestionsShop) -> None:
    words = ("what-if", "--finish", "waterborne", "--temp-c", "27", "--rh-pct", "40", "--json")
    told = keys(shop.ask(*words).plain, "rate", "wood_emc_pct", "cautions")
    ends = keys(told["rate"], "against_reference", "against_room")["against_reference"]
    keys(ends, "low", "likely", "high")
    assert ends["low"] < ends["likely"] < ends["high"]
    assert told["rate"]["against_room"] is None
    room = shop.ask("what-if", "drying", *words[1:]).plain
    keys(room["rate"]["against_room"], "low", "likely", "high")
    assert keys(room["wood_emc_pct"], "then")["then"] > 0.0
    assert room["cautions"]


def test_replay_says_sink_back_and_what_is_ahead(shop: QuestionsShop) -> None:
    answer = shop.ask("replay", str(OFFICE), *LOG, "--until", "2015-02-06T12:00", "--json")
    assert answer.status == 0
    piece = keys(answer.plain, "piece")["piece"]
    film = keys(
        piece["sink_back"],
        "remaining_um",
        "tolerance_um",
        "under_tolerance_at",
        "lost_if_buffed_now_um",
    )
    assert film["under_tolerance_at"] is None or instant(film["under_tolerance_at"])
    ahead = [
        stone
        for stone in piece["milestones"]
        if stone["reached_at"] is None and stone["required_hours"] is not None
    ]
    assert ahead
    for stone in ahead:
        ends = keys(stone["eta"], "early", "likely", "late")
        in_order("2015-02-06T12:00:00Z", ends["early"], ends["likely"], ends["late"])


def test_replay_tells_how_well_it_would_have_known(shop: QuestionsShop) -> None:
    rows = shop.ask("replay", str(OFFICE), *LOG, "--hindcast", "24,72", "--json").plain["hindcast"]
    assert [row["horizon_h"] for row in rows] == [24, 72]
    for row in rows:
        keys(
            row,
            "horizon_h",
            "n",
            "coverage_80_pct",
            "rmse_pct",
            "rmse_as_now_pct",
            "rmse_mean_24h_pct",
        )
        assert row["n"] > 0


@pytest.mark.parametrize("words", [("add",), ()])
def test_outcomes_expose_the_pace(shop: QuestionsShop, words: tuple[str, ...]) -> None:
    before = shop.ask("finish", "show", "waterborne", "--json").plain["pace"]
    answer = shop.ask("outcome", *words, "STACK", "nail-dent", "--at", "1h ago", "--json")
    assert answer.status == 0
    (row,) = answer.plain["outcomes"]
    told = keys(row["pace"], "median", "p10", "p90", "outcomes", "standing")
    assert told["p10"] <= told["median"] <= told["p90"]
    assert told["standing"] in STANDINGS
    after = keys(
        shop.ask("finish", "show", "waterborne", "--json").plain["pace"],
        "median",
        "p10",
        "p90",
        "outcomes",
        "standing",
    )
    assert after["outcomes"] >= before["outcomes"]
    assert after == told


def test_what_is_wrong_is_an_object_with_status_two(shop: QuestionsShop) -> None:
    for words in (
        ("check", "--finish", "no-such-finish", "--temp-c", "21", "--rh-pct", "50"),
        ("plan", "--finish", "waterborne", "--coats", "0"),
        ("what-if", "--finish", "waterborne"),
        ("replay", "no-such-file.csv", *LOG),
        ("outcome", "add", "STACK", "hums"),
    ):
        status, out = shop.complain(*words, "--json")
        assert status == 2, words
        keys(out["error"], "kind", "message")
