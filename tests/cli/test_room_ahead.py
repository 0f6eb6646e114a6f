"""What a room will do: plans entered, shown, taken back, and what follows from them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pytest

from tests.cli.conftest import CONFIG, HOUR_MS, NOW_MS

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from curewatch.storage import Store
    from tests.cli.conftest import Curewatch, StoresClimate

OFF = ("--heating-off", "--drifts-to-c", "5")


def swinging(at_h: float) -> float:
    """Return a room's usual day [degC]."""
    return 20.0 + 2.0 * math.sin(2.0 * math.pi * at_h / 24.0)


def ahead(curewatch: Curewatch, *words: str) -> Any:  # noqa: ANN401 - whatever JSON holds
    """Return what the command answers of the drying room."""
    return curewatch("room", "ahead", "drying", *words, "--json").plain


def test_a_room_without_plans_is_taken_to_go_on_as_it_did(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(temp_c=swinging)
    curewatch("piece", "hang", "A1", "--finish", "waterborne", "--room", "drying")
    said = curewatch("room", "ahead", "drying")
    assert said.narrow()
    assert "Nothing is planned for drying" in said.flat
    answer = ahead(curewatch)
    assert answer["plans"] == []
    assert [day["to_h"] for day in answer["ahead"]] == [24, 48, 72]
    for day in answer["ahead"]:
        assert day["temp_c"]["likely"] == pytest.approx(20.0, abs=0.5)
        assert day["coldest_hour_c"]["likely"] == pytest.approx(18.0, abs=0.5)
        assert day["temp_c"]["low"] < day["temp_c"]["likely"] < day["temp_c"]["high"]
        assert day["rh_pct"]["likely"] == pytest.approx(50.0, abs=3.0)
        for earned in day["effective_hours"]:
            assert earned["finish"] == "waterborne"
            so_far = earned["since_now"]
            assert 0.0 < so_far["low"] <= so_far["likely"] <= so_far["high"]
            assert 0.0 < earned["likely"] <= so_far["likely"]
    assert [e["clock"] for e in answer["ahead"][0]["effective_hours"]] == ["drying", "cure"]


def test_the_heating_off_over_the_week_end_makes_it_colder_and_earns_less_then(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate()
    usual = ahead(curewatch, "--finish", "waterborne")
    said = curewatch(
        *("room", "ahead", "drying", *OFF, "--from", "fri 18:00", "--to", "mon 7:00"),
        *("--why", "week-end"),
    )
    assert said.narrow()
    wanted = "heating off, drifts to 5.0 °C, from tomorrow 18:00 to Mon 9 Mar 7:00 (number 1)"
    assert wanted in said.flat
    planned = ahead(curewatch, "--finish", "waterborne")
    (plan,) = planned["plans"]
    assert (plan["id"], plan["heating_off"], plan["why"]) == (1, True, "week-end")
    assert (plan["start"], plan["stop"]) == ("2026-03-06T18:00:00.000Z", "2026-03-09T07:00:00.000Z")
    before, after = usual["ahead"], planned["ahead"]
    assert after[0]["temp_c"] == before[0]["temp_c"]  # now is Thursday noon
    assert after[2]["temp_c"]["likely"] == pytest.approx(5.0, abs=0.2)
    for clock in (0, 1):
        usually, then = (days[2]["effective_hours"][clock] for days in (before, after))
        assert then["likely"] < 0.5 * usually["likely"]
        assert then["since_now"]["likely"] < usually["since_now"]["low"]


def test_a_kept_humidity_holds_from_now_until_further_notice(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(rh_pct=70.0)
    answer = ahead(curewatch, "--rh-pct", "45", "--why", "dehumidifier on")
    assert answer["entered"] == answer["plans"][0]
    assert (answer["entered"]["temp_c"], answer["entered"]["rh_pct"]) == (None, 45.0)
    assert (answer["entered"]["start"], answer["entered"]["stop"]) == (
        "2026-03-05T12:00:00.000Z",
        None,
    )
    assert answer["ahead"][2]["rh_pct"]["likely"] == pytest.approx(45.0, abs=1.0)
    said = curewatch("room", "ahead", "drying", "--rh-pct", "40")
    assert (
        "drying: at most 40 % humidity, from today 12:00 until further notice (number 2)."
        in said.flat
    )


def test_a_dehumidifier_does_not_wet_a_dry_room_unless_it_is_humidified_too(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(rh_pct=30.0)
    dry = ahead(curewatch, "--rh-pct", "45")
    assert dry["entered"]["rh_at_most"] is True
    assert dry["ahead"][2]["rh_pct"]["likely"] == pytest.approx(30.0, abs=1.0)
    wetted = ahead(curewatch, "--rh-pct", "45", "--humidified")
    assert wetted["entered"]["rh_at_most"] is False
    assert wetted["ahead"][2]["rh_pct"]["likely"] == pytest.approx(45.0, abs=1.0)


def test_a_heater_does_not_cool_a_warm_room(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(temp_c=lambda _: 27.0)
    warm = ahead(curewatch, "--temp-c", "20", "--at-least")
    assert warm["entered"]["temp_at_least"] is True
    assert warm["ahead"][2]["temp_c"]["likely"] == pytest.approx(27.0, abs=0.1)
    assert "at least 20.0 °C" in curewatch("room", "ahead", "drying").flat
    cooled = ahead(curewatch, "--temp-c", "20")
    assert cooled["entered"]["temp_at_least"] is False
    assert cooled["ahead"][2]["temp_c"]["likely"] == pytest.approx(20.0, abs=0.1)


def test_a_set_point_cools_only_where_the_room_says_so(
    curewatch: Curewatch, climate: StoresClimate, shop_config: Path
) -> None:
    climate(temp_c=lambda _: 27.0)
    for more, likely_c in (("", 27.0), ("set_point_cools = true\n", 20.0)):
        room = f'name = "drying"\nset_point_c = 20\n{more}'
        shop_config.write_text(CONFIG.replace('name = "drying"\n', room, 1))
        day = ahead(curewatch)["ahead"][2]
        assert day["temp_c"]["likely"] == pytest.approx(likely_c, abs=0.1)


def test_a_set_point_is_always_on_and_unheated_c_is_what_the_heating_off_means(
    curewatch: Curewatch, climate: StoresClimate, shop_config: Path
) -> None:
    climate()
    shop_config.write_text(
        CONFIG.replace(
            'name = "drying"\n', 'name = "drying"\nset_point_c = 25\nunheated_c = 9\n', 1
        )
    )
    said = curewatch("room", "ahead", "drying")
    assert "at least 25.0 °C" in said.flat
    assert "always" in said.flat
    answer = ahead(curewatch)
    (plan,) = answer["plans"]
    assert (plan["id"], plan["start"], plan["temp_c"], plan["why"]) == (
        None,
        None,
        25.0,
        "set-point",
    )
    assert answer["ahead"][1]["temp_c"]["likely"] == pytest.approx(25.0, abs=0.1)
    colder = ahead(curewatch, "--heating-off", "--from", "in 24h")
    assert colder["entered"]["temp_c"] == 9.0
    assert colder["ahead"][2]["temp_c"]["likely"] == pytest.approx(9.0, abs=0.2)


def test_a_later_plan_rules_and_a_plan_taken_back_no_longer_counts(
    curewatch: Curewatch, climate: StoresClimate, kept: Callable[[], Store]
) -> None:
    climate()
    curewatch("room", "ahead", "drying", "--temp-c", "25")
    said = curewatch("room", "ahead", "drying", *OFF, "--to", "in 2d")
    assert "Where they overlap it rules over plan 1." in said.flat
    assert ahead(curewatch)["ahead"][1]["temp_c"]["likely"] == pytest.approx(5.0, abs=0.2)
    said = curewatch("room", "ahead", "drying", "--void", "2", "--why", "heater stays on")
    assert "plan 2 (heating off, drifts to 5.0 °C, from today 12:00 to" in said.flat
    assert "no longer counts" in said.flat
    answer = ahead(curewatch)
    assert [plan["id"] for plan in answer["plans"]] == [1]
    assert answer["ahead"][1]["temp_c"]["likely"] == pytest.approx(25.0, abs=0.2)
    with kept() as store:
        assert store.db.rows("SELECT what, target, why FROM void") == [
            ("room_plan", 2, "heater stays on")
        ]
    answer = ahead(curewatch, "--void", "#1", "--why", "sold the heater")
    assert (answer["voided"]["id"], answer["plans"]) == (1, [])


def test_what_is_over_is_not_shown_any_more(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate()
    ahead(curewatch, "--temp-c", "25", "--to", "in 2h")
    climate(days=0.5, until_ms=NOW_MS + 12 * HOUR_MS)  # the clock follows the readings
    assert ahead(curewatch)["plans"] == []


def test_a_room_never_heard_says_so_and_still_takes_plans(curewatch: Curewatch) -> None:
    answer = ahead(curewatch, "--temp-c", "20")
    assert (len(answer["plans"]), answer["ahead"]) == (1, [])
    assert "cannot be told" in curewatch("room", "ahead", "drying").flat


def test_without_a_piece_the_way_to_ask_for_a_finish_is_shown(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate()
    assert (
        "--finish NAME tells what a finish would earn" in curewatch("room", "ahead", "drying").flat
    )
    said = curewatch("room", "ahead", "drying", "--finish", "waterborne")
    assert said.narrow()
    assert "24 to 48 h" in said.flat


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("--heating-off",), "how cold does drying become without heating? It is not known: give "),
        (("--heating-off", "--temp-c", "9"), "contradict each other"),
        (("--drifts-to-c", "9"), "--drifts-to-c goes with --heating-off"),
        (("--at-least", "--rh-pct", "40"), "--at-least goes with --temp-c"),
        (("--heating-off", "--drifts-to-c", "9", "--at-least"), "--at-least goes with --temp-c"),
        (("--humidified", "--temp-c", "20"), "--humidified goes with --rh-pct"),
        (("--temp-c", "61", "--really"), "61 degC is no temperature of a room"),
        (("--temp-c", "nan"), "--temp-c nan degC cannot be"),
        (("--rh-pct", "101"), "--rh-pct 101 % cannot be"),
        (("--temp-c", "20", "--to", "2h ago"), "does not lie after --from"),
        (("--temp-c", "20", "--from", "fri 18:00", "--to", "today 7:00"), "does not lie after"),
        (("--temp-c", "20", "--from", "5h ago", "--to", "3h ago"), "that was over today 9:00"),
        (("--temp-c", "20", "--from", "soon"), "'soon' is not a time: write '18:00', 'fri 18:00'"),
        (("--from", "fri 18:00"), "what will drying be like? Give --temp-c, --rh-pct or"),
        (("--why", "week-end"), "what will drying be like?"),
        (("--void", "1", "--temp-c", "20"), "leave --temp-c out"),
        (("--void", "1", "--from", "now"), "leave --from out"),
        (("--void", "one", "--why", "typo"), "that is not the number of a plan"),
        (("--void", "9", "--why", "typo"), "there is no plan of a room with number 9"),
        (("--finish", "unheard-of"), "unheard-of"),
    ],
)
def test_what_cannot_be_meant_is_refused_and_nothing_is_stored(
    curewatch: Curewatch,
    kept: Callable[[], Store],
    climate: StoresClimate,
    words: tuple[str, ...],
    complaint: str,
) -> None:
    climate(days=1.0)
    assert complaint in curewatch("room", "ahead", "drying", *words, status=2).complaint
    with kept() as store:
        assert store.room_plans.all() == ()


def test_a_plan_is_taken_back_in_its_own_room_with_a_reason(
    curewatch: Curewatch, kept: Callable[[], Store]
) -> None:
    curewatch("room", "ahead", "spray", "--temp-c", "20")
    wrong = curewatch("room", "ahead", "drying", "--void", "1", "--why", "typo", status=2)
    assert "plan 1 is one of spray, not of drying" in wrong.complaint
    assert (
        "needs a reason" in curewatch("room", "ahead", "spray", "--void", "1", status=2).complaint
    )
    assert "there is no room 'dryin'" in curewatch("room", "ahead", "dryin", status=2).complaint
    with kept() as store:
        assert len(store.room_plans.all()) == 1
