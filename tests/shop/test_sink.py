"""Sink-back of a piece: what its film still holds, beside the clock's rule."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.cli.main import main
from curewatch.shop.assessment import assess_piece
from curewatch.shop.conditions import piece_conditions
from curewatch.shop.deeds import deeds
from curewatch.shop.finish import Figure, Finish, MilestoneName
from curewatch.shop.piece import Coat, WorkKind
from curewatch.shop.plain import piece_plain
from curewatch.shop.reading import Standing
from tests.shop.scene import at_h, every, finish, piece, readings, shop_of, steady

if TYPE_CHECKING:
    from pathlib import Path

    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.milestones import Milestone

WATER = finish("waterborne")


def known_here(rate_um2_h: float = 200.0) -> Finish:
    """Waterborne with both rates as from a data sheet."""
    film = WATER.film
    assert film is not None
    sheet = Figure(rate_um2_h, Standing.DATA_SHEET)
    return replace(
        WATER,
        film=replace(
            film, diffusivity_um2_h=sheet, transfer_um_h=Figure(17.0, Standing.DATA_SHEET)
        ),
    )


def seen(
    coats_h: list[float | Coat], now_h: float, *, profile: Finish = WATER, temp_c: float = 21.0
) -> PieceNow:
    """Return how a piece stands in a steady room at the reference humidity."""
    mine = piece(profile.name, coats_h, planned=len(coats_h))
    shop = shop_of({"loft": steady(now_h / 24 + 1, temp_c)}, finishes=[profile], pieces=[mine])
    return assess_piece(shop, mine, at_h(now_h))


def buff(now: PieceNow) -> Milestone:
    stone = now.milestone(MilestoneName.BUFF)
    assert stone is not None
    return stone


def a_day(count: int, coats_a_day: int, hours_between: float = 1.2) -> list[float]:
    """Hours of so many coats a day, the first at midnight."""
    return [24.0 * (i // coats_a_day) + hours_between * (i % coats_a_day) for i in range(count)]


@pytest.mark.parametrize(("coats_a_day", "lost_um"), [(3, 4.37), (5, 8.02), (10, 10.64)])
def test_ten_coats_levelled_twelve_hours_after_the_last_still_sink_by_micrometres(
    coats_a_day: int, lost_um: float
) -> None:
    coats = a_day(10, coats_a_day)
    now = seen([*coats], coats[-1] + 12)
    assert now.sink_back is not None
    assert now.sink_back.lost_if_buffed_now_um == pytest.approx(lost_um, abs=0.01)
    assert f"lose {lost_um:.1f} um" in now.sink_back.sentence
    assert "over open grain" in now.sink_back.sentence


def test_the_deed_of_levelling_early_says_how_far_the_film_will_sink() -> None:
    coats = list(np.linspace(0.0, 36.0, 10))
    mine = piece("waterborne", coats, planned=10, work=[(WorkKind.LEVEL, 48.0)])
    shop = shop_of({"loft": steady(4)}, finishes=[WATER], pieces=[mine])
    told = [deed.reason for deed in deeds(mine, shop, at_h(50)) if "level" in deed.mark]
    now = seen(coats, 48.0)
    assert now.sink_back is not None
    assert f"still shrinking by {now.sink_back.lost_if_buffed_now_um:.1f} um" in told[0]


def test_eight_coats_three_a_day_come_under_the_tolerance_after_about_eight_days() -> None:
    coats = a_day(8, 3)
    now = seen([*coats], coats[-1] + 24 * 9)
    assert now.sink_back is not None
    under_h = now.sink_back.under_tolerance_h
    assert under_h is not None
    assert under_h / 24 == pytest.approx(7.8, abs=0.05)
    assert now.sink_back.under_tolerance_at == pytest.approx(at_h(coats[-1] + under_h), abs=2000)
    just = seen([*coats], coats[-1] + under_h)
    assert just.sink_back is not None
    assert just.sink_back.remaining_um == pytest.approx(0.5, abs=1e-3)


def test_a_film_from_memory_only_moves_the_cautious_end() -> None:
    coats = list(np.linspace(0.0, 24.0, 12))
    rule_h = 24 * 12
    now = seen(coats, 24 + rule_h + 1)
    assert now.sink_back is not None
    under_h = now.sink_back.under_tolerance_h
    assert under_h is not None
    assert under_h > rule_h + 24
    stone = buff(now)
    assert stone.reached_at == pytest.approx(at_h(24 + rule_h), abs=2000)
    assert stone.cautious_at is None
    assert stone.required_hours == rule_h
    assert stone.cautious_hours == under_h
    assert not now.sink_back.decides
    assert "advice" in now.sink_back.sentence
    mine = piece("waterborne", coats, planned=12, work=[(WorkKind.LEVEL, 24 + 200.0)])
    shop = shop_of({"loft": steady(40)}, finishes=[WATER], pieces=[mine])
    at = assess_piece(shop, mine, at_h(24 + rule_h + 1))
    assert "um still to fall" in at.sentence
    assert not [c for c in piece_conditions(at, mine, at_h(24 + rule_h + 1)) if "buff" in c.kind]
    late = buff(assess_piece(shop, mine, at_h(24 + under_h * 1.3)))
    assert late.cautious_at is not None
    assert late.cautious_at > at_h(24 + under_h)


def test_rates_known_here_decide_beside_the_clock() -> None:
    coats = list(np.linspace(0.0, 24.0, 12))
    now = seen(coats, 24 + 24 * 12 + 1, profile=known_here())
    assert now.sink_back is not None
    assert now.sink_back.decides
    stone = buff(now)
    assert stone.reached_at is None
    assert stone.required_hours == now.sink_back.under_tolerance_h
    thin = seen([0.0, 24.0], 24 + 49.0, profile=known_here())  # here the clock is the later one
    assert thin.sink_back is not None
    assert thin.sink_back.under_tolerance_at is not None
    assert buff(thin).required_hours == 60.0
    assert buff(thin).reached_at is None


def test_a_finish_without_film_figures_has_no_sink_back() -> None:
    mine = piece("nitro-lacquer", [0.0, 5.0], planned=2)
    shop = shop_of({"loft": steady(3)}, finishes=[finish("nitro-lacquer")], pieces=[mine])
    now = assess_piece(shop, mine, at_h(30))
    assert now.sink_back is None
    assert piece_plain(now)["sink_back"] is None


def test_a_thicker_wet_film_sinks_farther_and_longer() -> None:
    usual = seen([0.0, 3.0, 6.0], 60).sink_back
    thick = seen([Coat(at_h(h), wet_um=150.0) for h in (0.0, 3.0, 6.0)], 60).sink_back
    assert usual is not None
    assert thick is not None
    assert thick.remaining_um > 1.5 * usual.remaining_um
    assert (thick.under_tolerance_h or 0) > (usual.under_tolerance_h or 0)


def test_a_cold_room_leaves_more_in_the_film() -> None:
    warm, cold = (seen([0.0, 3.0], 40, temp_c=t).sink_back for t in (24.0, 17.0))
    assert warm is not None
    assert cold is not None
    assert cold.remaining_um > warm.remaining_um
    assert cold.under_tolerance_h != warm.under_tolerance_h  # the coats' own gap was shorter


def test_more_coats_than_the_model_takes_have_no_answer() -> None:
    assert seen([float(h) for h in range(41)], 50).sink_back is None


def test_a_film_that_never_lies_still_gives_no_date_and_no_ready() -> None:
    film = WATER.film
    assert film is not None
    stuck = replace(
        known_here(0.01), film=replace(film, diffusivity_um2_h=Figure(0.01, Standing.DATA_SHEET))
    )
    now = seen([0.0, 3.0], 24 * 10, profile=stuck)
    assert now.sink_back is not None
    assert now.sink_back.under_tolerance_h is None
    assert now.sink_back.expected_at is None
    assert buff(now).cautious_at is None
    json.dumps(piece_plain(now))


@settings(max_examples=25)
@given(
    gaps=st.lists(st.floats(0.0, 30.0), min_size=1, max_size=9),
    wait_h=st.floats(0.0, 400.0),
    swing_k=st.floats(0.0, 6.0),
    wet_um=st.sampled_from([None, 60.0, 150.0]),
)
def test_the_cautious_end_never_comes_before_the_clocks_own(
    gaps: list[float], wait_h: float, swing_k: float, wet_um: float | None
) -> None:
    coats: list[float | Coat] = [Coat(at_h(h), wet_um=wet_um) for h in np.cumsum(gaps)]
    last_h = float(np.sum(gaps))
    hours = every(30.0, last_h + wait_h + 1)
    room = readings(hours, 21 + swing_k * np.sin(hours / 24 * 2 * np.pi), 0.5)
    mine = piece("waterborne", coats, planned=len(coats))
    clock_only = replace(WATER, film=None)
    now, bare = (
        assess_piece(
            shop_of({"loft": room}, finishes=[one], pieces=[mine]), mine, at_h(last_h + wait_h)
        )
        for one in (WATER, clock_only)
    )
    assert now.sink_back is not None
    assert now.sink_back.remaining_um >= 0.0
    for name in (MilestoneName.WET_SAND, MilestoneName.BUFF, MilestoneName.FULL_CURE):
        with_film, without = now.milestone(name), bare.milestone(name)
        assert with_film is not None
        assert without is not None
        assert with_film.reached_at == without.reached_at
        if with_film.cautious_at is not None:
            assert without.cautious_at is not None
            assert with_film.cautious_at >= without.cautious_at
        if with_film.eta_cautious_at is not None and without.eta_cautious_at is not None:
            assert with_film.eta_cautious_at >= without.eta_cautious_at


def test_a_replay_tells_the_sink_back_and_null_without_a_film_model(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "log.csv"
    rows = [f"2026-03-{1 + h // 24:02d}T{h % 24:02d}:00:00,21.0,50.0" for h in range(24 * 5)]
    log.write_text("time,temp,rh\n" + "\n".join(rows) + "\n")
    told: dict[str, dict[str, object]] = {}
    for name in ("waterborne", "nitro-lacquer"):
        words = ["replay", str(log), "--time", "time", "--temp", "temp", "--rh", "rh"]
        words += ["--zone", "UTC", "--longest-gap-min", "90", "--finish", name, "--json"]
        words += ["--coat", "2026-03-01T08:00:00", "--coat", "2026-03-01T12:00:00"]
        assert main(words) == 0
        told[name] = json.loads(capsys.readouterr().out)["piece"]
    assert told["nitro-lacquer"]["sink_back"] is None
    film = told["waterborne"]["sink_back"]
    assert isinstance(film, dict)
    assert film["tolerance_um"] == 0.5
    assert film["remaining_um"] == film["lost_if_buffed_now_um"] < 0.05
    under_h = datetime.fromisoformat(str(film["under_tolerance_at"])) - datetime(
        2026, 3, 1, 12, tzinfo=UTC
    )
    assert under_h.total_seconds() / 3600 == pytest.approx(film["under_tolerance_h"], abs=0.01)
