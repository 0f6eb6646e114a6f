"""`curewatch air`: what follows from a temperature and a humidity."""

from __future__ import annotations

import json

import pytest

from curewatch.cli.main import main


def air(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, float | None]:
    """Return the command's JSON answer."""
    assert main(["air", *words, "--json"]) == 0
    answer: dict[str, float | None] = json.loads(capsys.readouterr().out)
    return answer


def test_air_at_the_reference_climate_has_the_published_dew_point_and_wood_moisture(
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = air(capsys, "--temp-c", "20", "--rh-pct", "50")
    assert found["dew_point_c"] == pytest.approx(9.274, abs=0.02)  # IAPWS SR1-86
    assert found["wet_bulb_c"] == pytest.approx(13.78, abs=0.03)  # ASHRAE RP-1485, CoolProp
    assert found["wood_emc_pct"] == pytest.approx(9.271, abs=0.01)  # Wood Handbook eq. 4-5
    assert found["vapour_pressure_pa"] == pytest.approx(1169.6, rel=3e-4)
    assert found["vapour_pressure_deficit_pa"] == pytest.approx(1169.6, rel=6e-4)
    assert found["humidity_ratio_kg_kg"] == pytest.approx(0.007262, rel=6e-3)
    assert found["frost_point_c"] is None


def test_air_below_freezing_tells_the_frost_point_beside_the_dew_point(
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = air(capsys, "--temp-c", "-5", "--rh-pct", "50")
    dew, frost = found["dew_point_c"], found["frost_point_c"]
    assert dew is not None
    assert frost is not None
    assert dew == pytest.approx(-13.817, abs=0.02)  # over water, IAPWS SR1-86
    assert dew < frost < 0.0


def test_air_of_no_humidity_has_no_dew_point(capsys: pytest.CaptureFixture[str]) -> None:
    found = air(capsys, "--temp-c", "20", "--rh-pct", "0")
    assert found["dew_point_c"] is None
    assert found["frost_point_c"] is None
    assert main(["air", "--temp-c", "20", "--rh-pct", "0"]) == 0
    assert "No dew point" in capsys.readouterr().out


def test_altitude_and_pressure_change_the_wet_bulb_and_not_the_dew_point(
    capsys: pytest.CaptureFixture[str],
) -> None:
    low = air(capsys, "--temp-c", "20", "--rh-pct", "30")
    high = air(capsys, "--temp-c", "20", "--rh-pct", "30", "--pressure-pa", "84000")
    hill = air(capsys, "--temp-c", "20", "--rh-pct", "30", "--altitude-m", "1000")
    assert high["wet_bulb_c"] == pytest.approx(10.107, abs=0.03)  # PsychroLib, 84 kPa
    assert high["dew_point_c"] == low["dew_point_c"]
    assert hill["pressure_pa"] == pytest.approx(89875, abs=1)  # ASHRAE 2017 ch. 1 Table 1
    assert high["wet_bulb_c"] < hill["wet_bulb_c"] < low["wet_bulb_c"]  # type: ignore[operator]


@pytest.mark.parametrize(
    ("temp", "rh", "said"),
    [("20", "120", "120"), ("200", "50", "200"), ("20", "nan", "nan"), ("nan", "50", "nan")],
)
def test_air_that_cannot_be_is_refused_by_its_value(
    capsys: pytest.CaptureFixture[str], temp: str, rh: str, said: str
) -> None:
    assert main(["air", "--temp-c", temp, "--rh-pct", rh]) == 2
    assert said in capsys.readouterr().err.lower()


def test_the_sentences_fit_an_eighty_column_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["air", "--temp-c", "-5", "--rh-pct", "90", "--air", "fan"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert any("Frost point" in line for line in lines)
    assert max(map(len, lines)) <= 80
