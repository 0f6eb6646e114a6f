from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from curewatch.science.blush import SprayedCoat, blush, sprayed_convection_w_m2k
from curewatch.science.evaporation import AIR_SPEED_M_S
from curewatch.shop.thinners import thinner_named
from tests.cli.conftest import HOUR_MS, NOW_MS

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Curewatch, StoresClimate

FINISHES = ("waterborne", "nitro-lacquer", "two-part-urethane", "oil-varnish", "shellac")


def test_typed_values_need_no_database(curewatch: Curewatch, shop_config: Path) -> None:
    (shop_config.parent / "shop.db").unlink()
    said = curewatch("check", "--finish", "waterborne", "--temp-c", "21", "--rh-pct", "50")
    assert said.out.startswith("Fit to spray, ")
    assert not (shop_config.parent / "shop.db").exists()


@pytest.mark.parametrize(
    ("temp_c", "rh_pct", "status", "verdict"),
    [
        (21.0, 50.0, 0, "fit"),
        (21.0, 70.0, 10, "tight"),  # comfortable to 65 % (common practice, no source)
        (21.0, 90.0, 20, "wait"),
        (10.0, 50.0, 20, "wait"),
        (35.0, 50.0, 20, "wait"),
    ],
)
def test_the_exit_status_is_the_verdict(
    curewatch: Curewatch, temp_c: float, rh_pct: float, status: int, verdict: str
) -> None:
    words = ("check", "--finish", "waterborne", "--temp-c", str(temp_c), "--rh-pct", str(rh_pct))
    assert curewatch(*words, "--json", status=status).plain["verdict"] == verdict
    assert curewatch(*words, status=status).narrow()


def test_a_room_is_judged_by_its_newest_climate(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=1, temp_c=lambda hours: 5.0 if hours < 23.0 else 21.0)
    found = curewatch("check", "spray", "--finish", "waterborne", "--json").plain
    assert (found["room"], found["verdict"], found["fresh"]) == ("spray", "fit", True)
    assert found["temp_c"] == pytest.approx(21.0)
    assert found["at"] == "2026-03-05T12:00:00.000Z"
    assert found["standing"]["temp_c"] == "measured"


def test_a_stale_room_cannot_be_told_and_says_how_old(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=1)
    climate("drying", days=1, until_ms=NOW_MS - 5 * HOUR_MS)
    said = curewatch("check", "drying", "--finish", "waterborne", status=30)
    assert "Cannot tell in drying" in said.flat
    assert "5.0 h old (today 7:00) and decides nothing" in said.flat
    found = curewatch("check", "drying", "--finish", "waterborne", "--json", status=30).plain
    assert (found["verdict"], found["fresh"], found["temp_c"]) == ("unknown", False, None)
    assert "5.0 h old" in found["sentence"]
    assert found["what_would_clear_it"]


def test_a_room_never_heard_cannot_be_told(curewatch: Curewatch) -> None:
    said = curewatch("check", "drying", "--finish", "nitro-lacquer", status=30)
    assert "no sensor of this room was ever heard" in said.flat


def test_one_typed_value_does_not_make_up_for_a_stale_room(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=1)
    climate("drying", days=1, until_ms=NOW_MS - 5 * HOUR_MS)
    words = ("check", "drying", "--finish", "waterborne", "--temp-c", "21")
    assert "relative humidity not measured" in curewatch(*words, status=30).flat
    curewatch(*words, "--rh-pct", "50", status=0)


def test_typed_values_stand_in_place_of_measured_ones(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=1)
    words = ("check", "spray", "--finish", "waterborne", "--json")
    found = curewatch(*words, "--rh-pct", "82", status=20).plain
    assert found["rh_pct"] == pytest.approx(82.0)
    assert (found["standing"]["rh_pct"], found["standing"]["temp_c"]) == ("typed", "measured")
    assert found["binding"]["limit"] == "humidity-high"
    found = curewatch(*words, "--liquid-c", "8", status=20).plain
    assert found["binding"]["limit"] == "liquid-low"


def test_solvent_finishes_carry_what_a_fresh_coat_does(curewatch: Curewatch) -> None:
    words = ("check", "--finish", "nitro-lacquer", "--temp-c", "25.1", "--rh-pct", "71.3")
    found = curewatch(*words, "--json", status=10).plain
    own = blush(
        25.1,
        0.713,
        blend=thinner_named("medium").blend,
        coat=SprayedCoat(wet_um=110.0),
        convection_w_m2k=sprayed_convection_w_m2k(AIR_SPEED_M_S["still"], 25.1),
    )
    assert found["blush"] == {
        "lowest_film_c": pytest.approx(float(own.lowest_film_c)),
        "margin_wood_k": pytest.approx(float(own.margin_wood_k)),
        "margin_edge_k": pytest.approx(float(own.margin_edge_k)),
        "condensed_wood_g_m2": pytest.approx(float(own.condensed_wood_g_m2)),
        "condensed_edge_g_m2": pytest.approx(float(own.condensed_edge_g_m2)),
        "thinner": "medium",
    }
    assert (found["standing"]["blush"], found["standing"]["thinner"]) == (
        "common-practice",
        "from-memory",
    )
    said = curewatch(*words, status=10)
    assert "Thinned with usual lacquer thinner ('medium'), a fresh coat over wood" in said.flat
    assert f"edges come to {-own.margin_edge_k:.1f} K below it" in said.flat
    assert f"{own.margin_wood_k:.1f} K above the dew point, give or take" in said.flat
    assert said.narrow()


def test_another_thinner_and_moving_air_change_what_a_fresh_coat_does(
    curewatch: Curewatch,
) -> None:
    words = ("check", "--finish", "nitro-lacquer", "--temp-c", "25", "--rh-pct", "72", "--json")
    fast, slow, fan = (
        curewatch(*words, *more, status=None).plain["blush"]
        for more in (
            ("--thinner", "fast"),
            ("--thinner", "retarded"),
            ("--thinner", "fast", "--air", "fan"),
        )
    )
    assert (fast["thinner"], slow["thinner"]) == ("fast", "retarded")
    assert slow["margin_wood_k"] > fast["margin_wood_k"] + 1.0
    assert fan["margin_wood_k"] != fast["margin_wood_k"]


def test_other_finishes_carry_no_blush_and_a_wrong_thinner_is_refused(
    curewatch: Curewatch,
) -> None:
    typed = ("--temp-c", "21", "--rh-pct", "50")
    for name in ("waterborne", "two-part-urethane", "oil-varnish"):
        assert curewatch("check", "--finish", name, *typed, "--json").plain["blush"] is None
    idle = curewatch("check", "--finish", "waterborne", *typed, "--thinner", "slow")
    assert "The thinner changes nothing here" in idle.flat
    wrong = curewatch("check", "--finish", "shellac", *typed, "--thinner", "quick", status=2)
    assert "thinner 'quick' is not known" in wrong.complaint


def test_the_answer_names_limit_margin_error_and_what_would_clear_it(curewatch: Curewatch) -> None:
    words = ("check", "--finish", "waterborne", "--temp-c", "16", "--rh-pct", "50")
    found = curewatch(*words, "--json", status=20).plain
    binding = found["binding"]
    assert binding["limit"] == "air-low"
    assert binding["margin"] == pytest.approx(binding["value"] - binding["allowed"])
    assert binding["error"] > 0.0
    assert found["standing"]["air-low"] == binding["standing"]
    (way,) = found["what_would_clear_it"]
    assert (way["change"], way["by"], way["unit"], way["gives"]) == ("warmer", 3.0, "K", "fit")
    said = curewatch(*words, status=20).flat
    assert "The limit that binds: air-low (common practice). Outside by 2.0 K, give or" in said
    assert "What would clear it: - room warmer by 3.0 K (its humidity then 41 %)" in said


def test_the_bias_of_the_rooms_own_sensor_is_the_error(
    curewatch: Curewatch, climate: StoresClimate, shop_config: Path
) -> None:
    climate("spray", days=1)
    words = ("check", "spray", "--finish", "waterborne", "--json")
    usual = curewatch(*words).plain
    text = shop_config.read_text("utf-8")
    better = 'id = "spray-air"\ntemperature_bias_k = 0.9\nhumidity_bias_pct = 4'
    shop_config.write_text(text.replace('id = "spray-air"', better), "utf-8")
    rough = curewatch(*words).plain
    assert (usual["temp_error_k"], rough["temp_error_k"]) == pytest.approx((0.3, 0.9))
    assert rough["rh_error_pct"] == pytest.approx(4.0)
    errors = [
        {limit["limit"]: limit["error"] for limit in found["limits"]} for found in (usual, rough)
    ]
    assert errors[1]["surface-over-dew-point"] > errors[0]["surface-over-dew-point"]


def test_a_surface_within_the_sensors_error_of_the_dew_point_cannot_be_told(
    curewatch: Curewatch,
) -> None:
    # nitro-lacquer asks 3 K; at 27 degC and 50 % RH the dew point is 15.7 degC (Magnus, by hand)
    words = ("check", "--finish", "nitro-lacquer", "--temp-c", "27", "--rh-pct", "50")
    said = curewatch(*words, "--surface-c", "19.2", status=30).flat
    assert "inside the sensors' own error" in said


@pytest.mark.parametrize("finish", FINISHES)
def test_the_safety_line_stands_last_and_lines_are_narrow(
    curewatch: Curewatch, finish: str
) -> None:
    words = ("check", "--finish", finish, "--temp-c", "12", "--rh-pct", "92")
    said = curewatch(*words, status=20)
    assert said.narrow()
    assert said.flat.endswith("the label, the data sheet and the local code come first.") or (
        "The label, the data sheet and the local code come first." in said.flat[-90:]
    )
    assert "Do not spray now" in said.out.splitlines()[0]


@pytest.mark.parametrize(
    "words",
    [
        ("--temp-c", "21", "--rh-pct", "120"),
        ("--temp-c", "21", "--rh-pct", "-1"),
        ("--temp-c", "200", "--rh-pct", "50"),
        ("--temp-c", "nan", "--rh-pct", "50"),
        ("--temp-c", "21", "--rh-pct", "50", "--surface-c", "inf"),
        ("--temp-c", "21", "--rh-pct", "50", "--liquid-c", "-90"),
    ],
)
def test_values_that_cannot_be_are_refused(curewatch: Curewatch, words: tuple[str, ...]) -> None:
    assert "cannot be: give" in curewatch("check", "--finish", "shellac", *words, status=2).err


def test_without_a_room_both_values_are_needed(curewatch: Curewatch) -> None:
    said = curewatch("check", "--finish", "shellac", "--temp-c", "21", status=2)
    assert "give both --temp-c and --rh-pct" in said.complaint


def test_an_unknown_room_and_an_unknown_finish_name_what_there_is(curewatch: Curewatch) -> None:
    said = curewatch("check", "attic", "--finish", "shellac", status=2)
    assert "there is no room 'attic' in the configuration: spray, drying" in said.complaint
    said = curewatch("check", "--finish", "varnsh", "--temp-c", "21", "--rh-pct", "50", status=2)
    assert "varnsh" in said.err


def test_nearly_dry_air_has_no_dew_point_and_is_still_judged(curewatch: Curewatch) -> None:
    words = ("check", "--finish", "waterborne", "--temp-c", "21", "--rh-pct", "0")
    said = curewatch(*words, "--json", status=None)
    assert said.plain["dew_point_c"] is None
    assert said.status in (20, 30)


# ---- what was typed


def test_fahrenheit_is_taken_as_such(curewatch: Curewatch) -> None:
    words = ("check", "--finish", "waterborne", "--rh-pct", "50", "--json")
    in_f = curewatch(*words, "--temp-f", "70", "--surface-f", "68", "--liquid-f", "68").plain
    assert in_f["temp_c"] == pytest.approx(21.111, abs=0.001)
    assert in_f["surface_c"] == in_f["liquid_c"] == pytest.approx(20.0)
    assert in_f["standing"]["surface_c"] == "typed"
    both = curewatch(*words, "--temp-f", "70", "--temp-c", "21", status=2)
    assert "not allowed with" in both.complaint


@pytest.mark.parametrize(
    ("words", "asks"),
    [
        (("--temp-c", "21", "--rh-pct", "0.5"), "did you mean 50 %?"),
        (("--temp-c", "70", "--rh-pct", "50"), "did you mean 70 degF (21.1 degC)?"),
        (("--temp-c", "21", "--rh-pct", "50", "--liquid-c", "68"), "Give --liquid-f 68"),
        (("--temp-c", "21", "--rh-pct", "50", "--surface-c", "66"), "did you mean 66 degF"),
        (("--temp-f", "180", "--rh-pct", "50"), "--temp-f 180 degF (82.2 degC) cannot be"),
        (("--temp-c", "21", "--rh-pct", "50", "--coats", "0"), "--coats 0 cannot be"),
        (("--temp-c", "21", "--rh-pct", "50", "--coats", "99"), "give 1 to 12"),
    ],
)
def test_what_was_hardly_meant_is_asked_back(
    curewatch: Curewatch, words: tuple[str, ...], asks: str
) -> None:
    assert asks in curewatch("check", "--finish", "waterborne", *words, status=2).complaint


def test_hot_air_typed_in_fahrenheit_is_not_asked_back(curewatch: Curewatch) -> None:
    words = ("check", "--finish", "waterborne", "--rh-pct", "20", "--temp-f", "120", "--json")
    assert curewatch(*words, status=20).plain["temp_c"] == pytest.approx(48.9, abs=0.05)


def test_typed_values_are_said_to_be_typed_and_measured_ones_when(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=2)
    words = ("check", "spray", "--finish", "waterborne")
    typed = curewatch("check", "--finish", "waterborne", "--temp-c", "21", "--rh-pct", "50")
    assert "Air 21.0 °C and 50 % (typed), dew point" in typed.flat
    assert "Typed values say nothing of the hours the coat needs" in typed.flat
    mixed = curewatch(*words, "--temp-c", "22", "--surface-c", "21", "--liquid-c", "20").flat
    assert "Air 22.0 °C (typed) and 50 % (measured today 12:00)" in mixed
    assert "surface 21.0 °C (typed), liquid 20.0 °C (typed)" in mixed
    assert "Ahead: what was typed in place of a reading has no hours to come." in mixed


# ---- the hours ahead


def heated(hours: float) -> float:
    """Return a shop's temperature: its record of ten days ends at noon, heating at 16 h [degC]."""
    return 21.0 if 7.0 <= (hours + 12.0) % 24.0 < 16.0 else 13.0


def test_a_steady_room_is_likely_to_stay_fit_until_the_coat_has_flashed(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=10)
    found = curewatch("check", "spray", "--finish", "waterborne", "--json").plain
    assert (found["verdict"], found["now"]["verdict"], found["ahead"]["verdict"]) == ("fit",) * 3
    assert found["ahead"]["turns"] == {"early": None, "likely": None, "late": None}
    assert found["ahead_note"] is None
    recoat = found["recoat"]
    assert recoat["earliest"] < recoat["likely"] < recoat["latest"]
    assert found["ahead"]["until"] >= recoat["at"]["latest"]
    said = curewatch("check", "spray", "--finish", "waterborne")
    assert "Ahead: likely to stay so until today 13:" in said.flat
    assert "when the coat should have flashed at the latest" in said.flat
    assert "Next coat: the profile says 60 min at 21.0 °C and 50 %; here about 4" in said.flat
    assert said.narrow()


def test_an_evening_that_turns_decides_for_many_coats_and_not_for_one(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=10, temp_c=heated)
    words = ("check", "spray", "--finish", "waterborne")
    one = curewatch(*words, "--json", status=None).plain
    assert one["now"]["verdict"] == "fit"
    assert one["verdict"] in ("fit", "tight")
    six = curewatch(*words, "--coats", "6", "--json", status=20).plain
    assert (six["verdict"], six["now"]["verdict"], six["ahead"]["limit"]) == (
        "wait",
        "fit",
        "air-low",
    )
    assert six["ahead"]["turns"]["likely"] == "2026-03-05T16:00:00.000Z"
    assert "fewer-coats" in {one["change"] for one in six["what_would_clear_it"]}
    said = curewatch(*words, "--coats", "6", status=20)
    assert said.flat.startswith("Do not spray now in spray, Waterborne, one pack: fit to spray at")
    assert "likely until about today 16:00" in said.flat
    assert "the air's cold" in said.flat
    assert "- only" in said.flat
    assert "All 6 coats flashed in about" in said.flat
    assert said.narrow()


def test_a_cold_room_that_warms_says_until_when_to_wait(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(
        "spray",
        days=10,
        temp_c=lambda hours: 13.0 if (hours + 12.0) % 24.0 < 14.0 else 21.0,
        rh_pct=45.0,
    )
    said = curewatch("check", "spray", "--finish", "waterborne", status=20)
    assert "- wait: likely from today about 14:00" in said.flat
    assert "likely no better (the air's cold)" in said.flat


def test_a_finish_cured_by_dose_says_that_no_hour_tells(curewatch: Curewatch) -> None:
    said = curewatch("check", "--finish", "dose-cured", "--temp-c", "21", "--rh-pct", "50")
    assert "cured by dose: no hour tells" in said.flat


def test_a_coat_that_does_not_flash_is_said_not_to(curewatch: Curewatch) -> None:
    words = ("check", "--finish", "waterborne", "--temp-c", "21", "--rh-pct", "100")
    assert "here it does not flash within three days" in curewatch(*words, status=20).flat
    slow = ("check", "--finish", "oil-varnish", "--temp-c", "21", "--rh-pct", "50")
    assert "more than three days" in curewatch(*slow, "--coats", "2").flat


def test_a_restless_room_is_told_to_have_little_to_spare_and_why(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    """By stretches of three hours the room has been kelvins off; now it is not."""
    off = np.random.default_rng(1).normal(size=81) * 2.0
    off[78:] = 0.0
    climate("drying", days=10, temp_c=lambda hours: 20.0 + float(off[int(hours // 3.0)]))
    words = ("check", "drying", "--finish", "waterborne", "--coats", "4")
    found = curewatch(*words, "--json", status=10).plain
    assert (found["now"]["verdict"], found["ahead"]["verdict"]) == ("fit", "tight")
    turns = found["ahead"]["turns"]
    assert turns["early"] is not None
    assert turns["likely"] is None
    said = curewatch(*words, status=10)
    assert "At the far end of what is likely here, outside by" in said.flat
    assert "should have flashed at the latest, but from about today" in said.flat
    assert "it may turn (the air's cold)" in said.flat
    assert "Also" not in said.flat
    assert said.narrow()


def test_a_span_longer_than_anybody_can_look_is_said_to_be_cut(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate("spray", days=10)
    said = curewatch("check", "spray", "--finish", "oil-varnish", "--coats", "3", status=None)
    assert "as far as anybody can look; the last of 3 coats flashes later" in said.flat


def test_where_no_single_change_serves_it_is_said(curewatch: Curewatch) -> None:
    words = ("check", "--finish", "waterborne", "--rh-pct", "60", "--temp-c")
    pair = curewatch(*words, "12", "--liquid-c", "31", status=20).flat
    assert "- both room warmer by" in pair
    assert "No single change would." in pair
    none = curewatch(*words, "-20", "--surface-c", "45", "--liquid-c", "44", status=20).flat
    assert "No single change that was tried would clear it, nor any two together." in none


def test_an_unknown_room_says_that_nothing_is_known_of_the_hours(curewatch: Curewatch) -> None:
    said = curewatch("check", "drying", "--finish", "waterborne", status=30).flat
    assert "so nothing can be said of the hours to come" in said


def test_numbers_are_told_with_where_they_come_from_when_asked(curewatch: Curewatch) -> None:
    words = ("check", "--finish", "waterborne", "--temp-c", "21", "--rh-pct", "50")
    assert "Where these numbers come from" in curewatch(*words, "--why").flat
    assert "Where these numbers come from" not in curewatch(*words).flat
