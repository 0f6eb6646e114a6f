"""`curewatch replay`: clocks, milestones, gaps and alerts over a logger's file."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from scipy.integrate import quad

from curewatch.cli.main import main
from curewatch.cli.replay import known_sentence
from curewatch.science.outlook import Hindcast

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

START = datetime(2026, 3, 1, tzinfo=UTC)
COLUMNS = ["--time", "time", "--temp", "temp", "--rh", "rh"]
R_J_MOLK, ZERO_C_K = 8.314462618, 273.15

Answer = dict[str, Any]


@pytest.fixture
def replay(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., Answer]:
    """Write a log of (hours, degC, percent) rows, replay it, return the JSON answer."""

    def run(rows: list[tuple[float, float, float]], *words: str) -> Answer:
        path = tmp_path / "log.csv"
        lines = [f"{at(hours)},{temp},{rh}" for hours, temp, rh in rows]
        path.write_text("\n".join(["time,temp,rh", *lines]) + "\n")
        assert main(["replay", str(path), *COLUMNS, *words, "--json"]) == 0, capsys.readouterr().err
        answer: Answer = json.loads(capsys.readouterr().out)
        return answer

    return run


def at(hours: float) -> str:
    """Return an instant of the record as a logger writes it."""
    return (START + timedelta(hours=hours)).isoformat().replace("+00:00", "Z")


def steady(hours: int, temp_c: float = 21.0, rh_pct: float = 50.0) -> list[tuple[float, ...]]:
    """Return rows of a constant climate, every half hour."""
    return [(half / 2, temp_c, rh_pct) for half in range(2 * hours + 1)]


def stone(answer: Answer, name: str) -> Answer:
    """Return one milestone."""
    found: Answer = next(s for s in answer["milestones"] if s["name"] == name)
    return found


def test_at_the_reference_climate_effective_hours_are_hours(replay: Callable[..., Answer]) -> None:
    answer = replay(steady(100), "--finish", "waterborne", "--coat", at(4))
    clocks = answer["piece"]["clocks"]
    for clock in ("cure", "drying", "wall"):
        assert clocks[clock]["effective_hours"] == pytest.approx(96.0, rel=1e-9)
    assert clocks["wall"]["standard_error"] == 0.0
    assert clocks["cure"]["standard_error"] > 0.0
    assert answer["coverage_pct"] == pytest.approx(100.0)
    assert answer["gaps"] == []


def test_every_milestone_of_the_contract_is_there_with_its_keys(
    replay: Callable[..., Answer],
) -> None:
    answer = replay(steady(100), "--finish", "waterborne", "--coat", at(4))
    names = ["recoat-opens", "recoat-closes", "dry-sand", "wet-sand", "buff", "full-cure"]
    assert [s["name"] for s in answer["milestones"]] == names
    for found in answer["milestones"]:
        keys = {"clock", "required_hours", "reached_hours", "reached_at", "cautious_at"}
        assert keys <= found.keys()
    assert stone(answer, "wet-sand")["reached_at"] == at(64).replace("Z", ".000Z")
    assert stone(answer, "full-cure")["reached_at"] is None
    assert stone(answer, "full-cure")["cautious_at"] is None


def test_swinging_climate_across_the_floor_agrees_with_scipy_quad(
    replay: Callable[..., Answer],
) -> None:
    rows = [
        (h / 2, 16.0 + 6.0 * math.sin(h / 7.0), 55.0 + 10.0 * math.cos(h / 9.0)) for h in range(240)
    ]
    answer = replay(rows, "--finish", "waterborne", "--coat", at(3.137))

    def rate(hours: float) -> float:
        hs, temps, rhs = (np.array(column) for column in zip(*rows, strict=True))
        temp, rh = float(np.interp(hours, hs, temps)), float(np.interp(hours, hs, rhs)) / 100
        kelvin = min(max(temp, 15.0), 32.0) + ZERO_C_K
        full = math.exp(-55000 / R_J_MOLK * (1 / kelvin - 1 / (21 + ZERO_C_K)))
        return full * min(max(temp - 14.0, 0.0), 1.0) * ((1 - rh) / 0.5) ** 0.3

    edges = [3.137, *(h / 2 for h in range(7, 240))]
    wanted = sum(quad(rate, a, b)[0] for a, b in pairwise(edges))
    got = answer["piece"]["clocks"]["cure"]["effective_hours"]
    assert got == pytest.approx(wanted, rel=1e-4)  # asked for: 1e-3


def test_a_clock_law_replaces_the_profiles_and_lifts_its_limits(
    replay: Callable[..., Answer],
) -> None:
    law = "ea_kj_mol=50,humidity_exponent=0,reference_temp_c=20,reference_rh_pct=50"
    words = ["--finish", "waterborne", "--coat", at(0), "--clock-law", law]
    answer = replay(steady(48, temp_c=5.0), *words)
    factor = math.exp(-50000 / R_J_MOLK * (1 / (5 + ZERO_C_K) - 1 / (20 + ZERO_C_K)))
    got = answer["piece"]["clocks"]["cure"]["effective_hours"]
    assert got == pytest.approx(48 * factor, rel=1e-9)
    cold = replay(steady(48, temp_c=5.0), "--finish", "waterborne", "--coat", at(0))
    assert cold["piece"]["clocks"]["cure"]["effective_hours"] == 0.0


def test_a_silence_longer_than_allowed_earns_nothing_and_is_listed(
    replay: Callable[..., Answer],
) -> None:
    rows = [row for row in steady(48) if not 10 < row[0] < 20]
    answer = replay(rows, "--finish", "waterborne", "--coat", at(2), "--longest-gap-min", "60")
    assert answer["gaps"] == [{"start": stamp(10), "stop": stamp(20)}]
    assert answer["piece"]["clocks"]["cure"]["effective_hours"] == pytest.approx(36.0)
    assert answer["coverage_pct"] == pytest.approx(100 * 36 / 46)
    assert "gap" in {alert["kind"] for alert in answer["alerts"]}
    bridged = replay(rows, "--finish", "waterborne", "--coat", at(2), "--longest-gap-min", "601")
    assert bridged["gaps"] == []


def stamp(hours: float) -> str:
    """Return an instant as the answer writes it."""
    return at(hours).replace("Z", ".000Z")


def test_until_judges_inside_the_record_and_beyond_its_end(
    replay: Callable[..., Answer],
) -> None:
    words = ["--finish", "waterborne", "--coat", at(0)]
    inside = replay(steady(48), *words, "--until", at(10))
    assert inside["piece"]["clocks"]["cure"]["effective_hours"] == pytest.approx(10.0)
    beyond = replay(steady(48), *words, "--until", at(60))
    assert beyond["piece"]["clocks"]["cure"]["effective_hours"] == pytest.approx(48.0)
    assert beyond["gaps"] == [{"start": stamp(48), "stop": stamp(60)}]


def test_a_milestone_not_reached_says_early_likely_and_late_when_it_will_be(
    replay: Callable[..., Answer],
) -> None:
    words = ["--finish", "waterborne", "--coat", at(0), "--until", at(40)]
    answer = replay(steady(48), *words)
    buff = stone(answer, "buff")
    assert buff["reached_at"] is None
    assert buff["eta"]["early"] < buff["eta"]["likely"] < buff["eta"]["late"]
    assert stamp(59) < buff["eta"]["likely"] < stamp(61)
    assert buff["expected_at"] == buff["eta"]["likely"]
    assert buff["expected_cautious_at"] == buff["eta"]["late"]
    assert stone(answer, "recoat-opens")["eta"] == dict.fromkeys(("early", "likely", "late"))
    assert answer["piece"]["milestones"] == answer["milestones"]
    cold = replay(steady(48, temp_c=3.0), *words)
    assert stone(cold, "buff")["eta"] == dict.fromkeys(("early", "likely", "late"))
    assert "no date can be told" in cold["piece"]["sentence"]


def test_a_thicker_wet_film_takes_longer_and_moving_air_less(
    replay: Callable[..., Answer],
) -> None:
    words = ["--finish", "waterborne"]
    usual = replay(steady(12), *words, "--coat", at(1))
    thick = replay(steady(12), *words, "--coat", f"{at(1)}@150")
    fan = replay(steady(12), *words, "--coat", at(1), "--air", "fan")
    opens = [stone(answer, "recoat-opens")["reached_at"] for answer in (fan, usual, thick)]
    assert opens == sorted(opens)
    assert len(set(opens)) == 3


def test_naive_times_are_read_in_the_zone_for_record_and_coats_alike(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "log.csv"
    rows = "\n".join(f"2026-03-01 {h:02d}:00;21,0;50,0" for h in range(24))
    path.write_text(f"Zeit;T;F\n{rows}\n")
    words = ["replay", str(path), "--time", "Zeit", "--temp", "T", "--rh", "F", "--json"]
    words += ["--zone", "Europe/Vienna", "--finish", "waterborne", "--coat", "2026-03-01T03:00"]
    assert main(words) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["piece"]["last_coat_at"] == "2026-03-01T02:00:00.000Z"
    assert answer["piece"]["clocks"]["cure"]["effective_hours"] == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "no coat"),
        (["--coat", "soon"], "not a time"),
        (["--coat", "2030-01-01T00:00Z"], "after the end"),
        (["--coat", "2026-03-01T01:00Z@thick"], "not a wet film"),
        (["--coat", "2026-03-01T01:00Z@9999"], "9999"),
        (["--coat", "2026-03-01T01:00Z", "--zone", "Mars/Base"], "Mars/Base"),
        (["--coat", "2026-03-01T01:00Z", "--longest-gap-min", "0"], "above nought"),
        (["--coat", "2026-03-01T01:00Z", "--clock-law", "ea=3"], "not part of a clock law"),
        (["--coat", "2026-03-01T01:00Z", "--clock-law", "ea_kj_mol=x"], "not a number"),
    ],
)
def test_input_that_cannot_be_meant_says_what_is_wrong(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    path = tmp_path / "log.csv"
    path.write_text("time,temp,rh\n" + "\n".join(f"{at(h)},21,50" for h in range(10)))
    assert main(["replay", str(path), *COLUMNS, "--finish", "waterborne", *words]) == 2
    assert said in capsys.readouterr().err


def test_a_finish_nobody_knows_is_answered_with_the_nearest(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "log.csv"
    path.write_text(f"time,temp,rh\n{at(0)},21,50\n{at(1)},21,50\n")
    words = ["replay", str(path), *COLUMNS, "--finish", "watterborne", "--coat", at(0)]
    assert main(words) == 2
    assert "waterborne" in capsys.readouterr().err


def test_a_dose_cured_finish_answers_with_unknown(replay: Callable[..., Answer]) -> None:
    answer = replay(steady(10), "--finish", "dose-cured", "--coat", at(1))
    assert answer["piece"]["window"]["state"] == "unknown"
    assert all(s["reached_at"] is None for s in answer["milestones"])


def test_the_story_for_people_fits_eighty_columns(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "log.csv"
    rows = [f"{at(h)},21,50" for h in range(100) if not 20 < h < 40]
    path.write_text("\n".join(["time,temp,rh", *rows]))
    words = ["replay", str(path), *COLUMNS, "--finish", "waterborne", "--coat", at(1)]
    assert main(words) == 0
    out = capsys.readouterr().out
    assert "Without credit" in out
    assert "Said on the way" in out
    assert max(map(len, out.splitlines())) <= 80


def test_in_words_the_film_s_sinking_is_told_and_how_well_the_room_is_known(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "log.csv"
    rows = [
        f"{at(h)},{18.0 + 3.0 * math.sin(h / 24 * 2 * math.pi) + 2.0 * math.sin(h / 90):.2f},55"
        for h in range(24 * 30)
    ]
    path.write_text("\n".join(["time,temp,rh", *rows]))
    coats = [word for hour in range(1, 24, 3) for word in ("--coat", at(hour))]
    words = ["replay", str(path), *COLUMNS, *coats, "--hindcast", "24"]
    assert main([*words, "--finish", "waterborne", "--until", at(30)]) == 0
    out = capsys.readouterr().out
    told = " ".join(out.split())
    assert "If you buff now you will lose" in told
    assert "24 h ahead this room is known well: the hours come out within about" in told
    assert max(map(len, out.splitlines())) <= 80
    assert main([*words, "--finish", "nitro-lacquer", "--until", at(30)]) == 0
    assert "No film model for this finish" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (Hindcast(24, 800, 80.0, 5.0, 9.0, 6.0), "24 h ahead this room is known well"),
        (Hindcast(24, 800, 80.0, 5.0, 9.0, 6.0), "better than supposing"),
        (Hindcast(24, 800, 80.0, 12.0, 9.0, 12.0), "is fairly known"),
        (Hindcast(24, 800, 80.0, 12.0, 9.0, 12.0), "no better than supposing"),
        (Hindcast(72, 50, 98.0, 60.0, 90.0, 80.0), "is hardly known"),
        (Hindcast(72, 50, 98.0, 60.0, 90.0, 80.0), "Only 2 windows apart: that is little."),
        (Hindcast(72, 0), "72 h ahead: the record is too short to say"),
    ],
)
def test_how_well_a_room_is_known_is_a_sentence(row: Hindcast, told: str) -> None:
    assert told in known_sentence(row)


def test_hindcast_says_how_well_the_outlook_would_have_known_the_room(
    replay: Callable[..., Answer],
) -> None:
    days = 30
    rows = [
        (h / 2, 16.0 + 3.0 * math.sin(h / 48 * 2 * math.pi) + 2.0 * math.sin(h / 300), 55.0)
        for h in range(48 * days)
    ]
    words = ["--finish", "waterborne", "--coat", at(1), "--hindcast", "24,72"]
    found = {row["horizon_h"]: row for row in replay(rows, *words)["hindcast"]}
    assert set(found) == {24, 72}
    for row in found.values():
        assert row["n"] > 50
        assert row["rmse_pct"] < 0.5 * row["rmse_as_now_pct"]  # the day's swing is known
        assert 30.0 <= row["coverage_80_pct"] <= 100.0  # a made-up drift, not a real room


def test_a_record_too_short_for_a_hindcast_says_so_and_a_wrong_horizon_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "log.csv"
    path.write_text("time,temp,rh\n" + "\n".join(f"{at(h)},21,50" for h in range(10)))
    words = ["replay", str(path), *COLUMNS, "--finish", "waterborne", "--coat", at(1)]
    assert main([*words, "--hindcast", "24"]) == 0
    assert "too short" in capsys.readouterr().out
    assert main([*words, "--hindcast", "soon"]) == 2
    assert "whole hours" in capsys.readouterr().err
    assert main([*words[:-3], "dose-cured", *words[-2:], "--hindcast", "24"]) == 2
    assert "no cure clock" in capsys.readouterr().err
