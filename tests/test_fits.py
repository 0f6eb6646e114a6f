"""A weighed panel's fit against panels whose numbers were planted, made by a series of its own."""

from __future__ import annotations

import json
import subprocess
import sys
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.optimize import brentq

from curewatch import fits
from curewatch.errors import BadInput, CurewatchError
from curewatch.panel import Estimate, PanelFit, panel_of

if TYPE_CHECKING:
    from pathlib import Path

PLANTED = {
    "water_load_g_m2": 65.0,
    "drying_rate_g_m2_h": 50.0,
    "retained_g_m2": 2.0,
    "volatile_frac": 0.08,
    "diffusivity_um2_h": 200.0,
    "transfer_um_h": 17.0,
}
DRY_UM = 25.0
AREA_CM2 = 1000.0
SCALE_G = 0.001


@lru_cache
def terms(biot: float, count: int = 60) -> tuple[np.ndarray, np.ndarray]:
    """Return roots of beta tan(beta) = L and the weights of the share left.

    J. Crank, The Mathematics of Diffusion, 2nd ed. (1975), equation 4.53: a plane sheet that loses
    by evaporation at its surface.
    """
    roots = np.array(
        [
            brentq(
                lambda x: x * np.sin(x) - biot * np.cos(x),
                number * np.pi,
                (number + 0.5) * np.pi,
                xtol=1e-13,
            )
            for number in range(count)
        ]
    )
    return roots, 2.0 * biot**2 / (roots**2 * (roots**2 + biot**2 + biot))


def share_left(hours: np.ndarray, diffusivity: float, transfer: float) -> np.ndarray:
    roots, weights = terms(transfer * DRY_UM / diffusivity)
    return np.exp(-np.outer(hours, roots**2 * diffusivity / DRY_UM**2)) @ weights


def weighed(
    rng: np.random.Generator | None = None,
    *,
    scale_g: float = SCALE_G,
    hours: float = 24.0,
    start_h: float = 0.02,
    drift_g: float = 0.0,
) -> list[dict[str, float]]:
    """Weigh a panel with the planted numbers; its two clocks do not run alike."""
    cure_h = np.arange(start_h, hours, 4.0 / 60.0)
    drying_h = 0.8 * cure_h
    wet = np.maximum(65.0 - 50.0 * drying_h, 0.0)
    mass_g = 120.0 + AREA_CM2 * 1e-4 * (wet + 2.0 * share_left(cure_h, 200.0, 17.0))
    mass_g += drift_g * np.sin(cure_h)
    if rng is not None:
        mass_g += rng.normal(0.0, scale_g, cure_h.size)
    rows = zip(drying_h.tolist(), cure_h.tolist(), mass_g.tolist(), strict=True)
    return [{"drying_h": d, "cure_h": c, "mass_g": m} for d, c, m in rows]


def request(weighings: list[dict[str, float]], **changed: object) -> str:
    told = {"support": "glass", "area_cm2": AREA_CM2, "dry_um": DRY_UM, "readings": weighings}
    return json.dumps(told | changed)


def estimates(fit: PanelFit) -> dict[str, Estimate]:
    return {name: getattr(fit, name) for name in PLANTED}


def test_a_panel_without_noise_gives_back_what_was_planted() -> None:
    fit = fits.fit_panel(panel_of(request(weighed())))
    for name, estimate in estimates(fit).items():
        # The film's eight cells a coat are good to 0.1 % of the curve; D and k lean on its detail.
        off = 0.03 if name in {"diffusivity_um2_h", "transfer_um_h"} else 0.002
        assert estimate.value == pytest.approx(PLANTED[name], rel=off), name
    assert fit.misfit_g < 0.1 * SCALE_G


def test_standard_errors_cover_what_was_planted_as_often_as_they_say() -> None:
    rng = np.random.default_rng(2026)
    panels = 40
    inside = dict.fromkeys(PLANTED, 0)
    for _ in range(panels):
        fit = fits.fit_panel(panel_of(request(weighed(rng))))
        for name, estimate in estimates(fit).items():
            assert estimate.low is not None, name
            assert estimate.high is not None, name
            inside[name] += estimate.low <= PLANTED[name] <= estimate.high
        assert fit.misfit_g == pytest.approx(SCALE_G, rel=0.2)
    # 0.90 by promise; 40 panels know it to 0.047, and this is three of those for each number.
    for name, count in inside.items():
        assert count / panels >= 0.90 - 3 * 0.047, name
    assert 0.85 <= sum(inside.values()) / (panels * len(inside)) <= 0.98


def test_a_coarse_scale_is_told_that_it_does_not_know() -> None:
    rng = np.random.default_rng(4)
    for _ in range(5):
        fit = fits.fit_panel(panel_of(request(weighed(rng, scale_g=0.02))))
        assert fit.diffusivity_um2_h.value is None
        assert fit.transfer_um_h.value is None
        assert "does not determine it" in fit.transfer_um_h.why
        assert fit.water_load_g_m2.value == pytest.approx(65.0, rel=0.02)


def test_readings_that_hang_together_widen_the_errors() -> None:
    plain = fits.fit_panel(panel_of(request(weighed(np.random.default_rng(1)))))
    wavy = fits.fit_panel(panel_of(request(weighed(np.random.default_rng(1), drift_g=0.002))))
    assert plain.water_load_g_m2.standard_error is not None
    assert wavy.water_load_g_m2.standard_error is not None
    # The misfit alone grows by about 1.7; the rest is for readings that count as fewer.
    assert wavy.water_load_g_m2.standard_error > 3.0 * plain.water_load_g_m2.standard_error


def test_an_unsure_film_thickness_widens_what_leans_on_it() -> None:
    readings = weighed(np.random.default_rng(1))
    exact = fits.fit_panel(panel_of(request(readings)))
    unsure = fits.fit_panel(panel_of(request(readings, dry_um_error=1.25)))
    assert any("taken as exact" in caution for caution in exact.cautions)
    assert not any("taken as exact" in caution for caution in unsure.cautions)
    for name, power in (("volatile_frac", 1), ("diffusivity_um2_h", 2), ("transfer_um_h", 1)):
        one, other = estimates(exact)[name], estimates(unsure)[name]
        assert one.standard_error is not None
        assert other.standard_error is not None
        assert one.value is not None
        expected = np.hypot(one.standard_error / one.value, 0.05 * power)
        assert other.standard_error / one.value == pytest.approx(expected, rel=1e-6), name
    assert unsure.water_load_g_m2 == exact.water_load_g_m2


@pytest.mark.parametrize("start_h", [1.2, 1.4, 2.0])
def test_a_record_begun_late_tells_no_water_load(start_h: float) -> None:
    readings = weighed(np.random.default_rng(6), start_h=start_h)
    fit = fits.fit_panel(panel_of(request(readings)))
    assert fit.water_load_g_m2.value is None
    assert fit.drying_rate_g_m2_h.value is None
    if start_h < 65.0 / 50.0 / 0.8:
        assert any("weigh sooner" in caution for caution in fit.cautions)


def test_a_record_broken_off_tells_the_water_and_not_what_the_film_retains() -> None:
    fit = fits.fit_panel(panel_of(request(weighed(np.random.default_rng(6), hours=2.1))))
    assert fit.water_load_g_m2.value == pytest.approx(65.0, rel=0.01)
    assert any("weigh for longer" in caution for caution in fit.cautions)
    for name in ("retained_g_m2", "volatile_frac", "diffusivity_um2_h", "transfer_um_h"):
        assert estimates(fit)[name].value is None


@pytest.mark.parametrize("support", ["wood", "maple offcut", "plywood", "MDF board", "card"])
def test_wood_is_refused_with_the_reason(support: str) -> None:
    with pytest.raises(BadInput, match="moisture swings dwarf the film"):
        panel_of(request(weighed(), support=support))


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"support": "ice"}, "glass, foil, metal"),
        ({"area_cm2": 0.0}, "area_cm2"),
        ({"area_cm2": "100"}, "area_cm2"),
        ({"dry_um": 25_000.0}, "dry_um"),
        ({"readings": weighed()[:10]}, "readings"),
        ({"readings": weighed()[::-1]}, "drying_h goes back at reading 1"),
        (
            {"readings": [row | {"cure_h": 1.0} for row in weighed()]},
            "cure_h stands still",
        ),
        ({"readings": [row | {"mass_g": -1.0} for row in weighed()]}, "readings.0.mass_g"),
        ({"colour": "amber"}, "colour"),
    ],
)
def test_a_record_that_cannot_be_meant_is_refused_by_key(
    changed: dict[str, object], named: str
) -> None:
    with pytest.raises(BadInput, match=named):
        panel_of(request(weighed(), **changed))


def test_a_mass_that_grows_is_no_drying_film() -> None:
    growing = [row | {"mass_g": 100.0 + row["cure_h"]} for row in weighed()]
    with pytest.raises(BadInput, match="does not fall"):
        fits.fit_panel(panel_of(request(growing)))


# ---- the child


def test_a_child_fits_what_is_fitted_here_and_leaves_no_scipy_behind() -> None:
    readings = weighed(np.random.default_rng(8))
    code = (
        "import sys, curewatch.fits, curewatch.panel, curewatch.daemon;"
        "fit = curewatch.fits.fit_apart(curewatch.panel.panel_of(sys.stdin.read()));"
        "print(fit.model_dump_json()); sys.exit('scipy' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        input=request(readings),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    here = fits.fit_panel(panel_of(request(readings)))
    apart = PanelFit.model_validate_json(done.stdout)
    assert apart.diffusivity_um2_h.value == pytest.approx(here.diffusivity_um2_h.value, rel=1e-6)


def test_what_a_child_fits_comes_back_whole() -> None:
    panel = panel_of(request(weighed(np.random.default_rng(9))))
    apart, here = fits.fit_apart(panel), fits.fit_panel(panel)
    assert apart.cautions == here.cautions
    assert apart.water_load_g_m2.value == pytest.approx(here.water_load_g_m2.value, rel=1e-9)


def test_the_child_answers_faults_as_json() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "curewatch.fits"],
        input=request(weighed(), support="wood"),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == fits.BAD_INPUT
    assert "moisture swings" in json.loads(done.stdout)["error"]


def test_what_the_child_refuses_is_refused_here() -> None:
    growing = [row | {"mass_g": 100.0 + row["cure_h"]} for row in weighed()]
    with pytest.raises(BadInput, match="does not fall"):
        fits.fit_apart(panel_of(request(growing)))


def test_a_child_that_takes_too_long_is_stopped() -> None:
    with pytest.raises(CurewatchError, match=r"stopped after 0\.01 s"):
        fits.fit_apart(panel_of(request(weighed())), timeout_s=0.01)


def broken_scipy(folder: Path, monkeypatch: pytest.MonkeyPatch, line: str) -> None:
    """Put a scipy that does not import before the real one, for child processes."""
    (folder / "scipy.py").write_text(line, encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(folder))


def test_a_shop_without_scipy_is_told_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken_scipy(tmp_path, monkeypatch, "raise ImportError('not here')\n")
    with pytest.raises(CurewatchError, match=r"pip install 'curewatch\[fits\]'") as told:
        fits.fit_apart(panel_of(request(weighed())))
    assert not isinstance(told.value, BadInput)


def test_a_child_that_breaks_says_its_last_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken_scipy(tmp_path, monkeypatch, "raise RuntimeError('a broken installation')\n")
    with pytest.raises(CurewatchError, match="fit failed: RuntimeError: a broken installation"):
        fits.fit_apart(panel_of(request(weighed())))
