"""A witness panel from the scale's messages, or its file, to a profile of the shop's own.

The panels are planted: their mass is made by the series of `tests.test_fits`, not by the film model
that is fitted to them.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from curewatch.assembly import assemble
from curewatch.finish_files import load_text, shipped_text
from curewatch.intake import TopicTable
from curewatch.keeping import Keeping
from curewatch.room_feed import RoomFeed
from curewatch.settings import load_settings
from curewatch.shop.laws import cure_law, drying_law
from curewatch.shop.room import Room
from curewatch.storage import Store
from tests.cli.conftest import CONFIG, HOUR_MS, NOW_MS
from tests.small_shop import FakeLine, message
from tests.test_fits import AREA_CM2, DRY_UM, PLANTED, SCALE_G, share_left

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Curewatch, Said, StoresClimate

COAT_MS = NOW_MS - 24 * HOUR_MS
ROOM_C, ROOM_RH_PCT = 25.0, 45.0
SCALE = """
[[sensor]]
id = "panel-scale"
room = "drying"
topic = "shop/scale"
mass = "/mg"
mass_unit = "mg"
time = "/at"
report_every_min = 4
"""
ASKED = ("--kind", "glass", "--area-cm2", "1000", "--dry-um", "25")
SPAN = ("--sensor", "panel-scale", "--from", "24h ago", "--to", "now")


def masses(tared: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Return instants [ms] and masses [g] of a panel in the warm room."""
    finish, room = load_text(shipped_text("waterborne"), source="waterborne"), Room("drying")
    speeds = []
    for law in (drying_law(finish, room), cure_law(finish)):
        assert law is not None
        speeds.append(float(law.rates(np.array([ROOM_C]), np.array([ROOM_RH_PCT / 100.0]))[0]))
    wall_h = np.arange(1.0, 24.0 * 15.0) * 4.0 / 60.0
    drying_h, cure_h = speeds[0] * wall_h, speeds[1] * wall_h
    wet = np.maximum(65.0 - 50.0 * drying_h, 0.0)
    mass_g = 120.0 - tared + AREA_CM2 * 1e-4 * (wet + 2.0 * share_left(cure_h, 200.0, 17.0))
    mass_g += np.random.default_rng(12).normal(0.0, SCALE_G, wall_h.size)
    return COAT_MS + np.rint(wall_h * HOUR_MS).astype(np.int64), mass_g


@pytest.fixture
def weighed(shop_config: Path, climate: StoresClimate) -> Path:
    """Let the scale's messages through the mapping, the gate and into storage."""
    shop_config.write_text(CONFIG + SCALE, encoding="utf-8")
    settings = load_settings(shop_config)
    with Store.open(settings.storage.path) as store:
        shop = assemble(settings, store, COAT_MS)
        for sensor in shop.sensors:
            store.places.place(sensor.id, sensor.room, COAT_MS)
        feed = RoomFeed(store, shop)
        feed.load(COAT_MS)
        keeping = Keeping(store, shop, feed, TopicTable(settings.mappings()))
        messages = [
            message(
                at_ms,
                topic="shop/scale",
                payload=json.dumps({"mg": 1000.0 * mass_g, "at": at_ms}).encode(),
            )
            for at_ms, mass_g in zip(*(column.tolist() for column in masses()), strict=True)
        ]
        assert keeping.keep(messages, FakeLine()) == set()
        assert not shop.book.climates  # a scale is no climate
        assert not store.rejections.summary()
    climate("drying", days=2.0, temp_c=ROOM_C, rh_pct=ROOM_RH_PCT)
    return shop_config


def fitted(plain: dict[str, Any]) -> None:
    """Hold a fit against what was planted; water, rate and film, as the errors say."""
    for name, planted in PLANTED.items():
        one = plain["fit"][name]
        assert abs(one["value"] - planted) < 3.0 * one["standard_error"] + 0.01 * planted, name


def test_a_scale_s_messages_become_figures_of_a_profile_of_the_shop_s_own(
    curewatch: Curewatch, weighed: Path
) -> None:
    words = ("finish", "panel", "waterborne", *ASKED, *SPAN, "--write", "maple-clear", "--json")
    plain = curewatch(*words).plain
    fitted(plain)
    assert plain["film_decides"]
    path = weighed.parent / "finishes" / "maple-clear.toml"
    assert plain["written"] == str(path)
    assert plain["revision"] == 1
    written = tomllib.loads(path.read_text("utf-8"))
    assert written["extends"] == "waterborne"
    film = written["film"]["diffusivity_um2_h"]
    assert film["value"] == pytest.approx(plain["fit"]["diffusivity_um2_h"]["value"], rel=1e-3)
    assert film["standing"] == "learnt-here"
    assert "sprayed 2026-03-04 12:00" in film["source"]
    assert "panel-scale in drying" in film["source"]
    assert "standard error" in film["source"]
    error = plain["fit"]["diffusivity_um2_h"]["standard_error"]
    assert (film["high"] - film["low"]) / 12.0**0.5 == pytest.approx(error, rel=0.01)
    rows = {
        row["key"]: row
        for row in curewatch("finish", "show", "maple-clear", "--json").plain["figures"]
    }
    assert rows["drying.water_load_g_m2"]["standing"] == "learnt-here"
    assert rows["cure.ea_kj_mol"]["standing"] == "from-memory"


@pytest.mark.usefixtures("weighed")
def test_a_piece_under_the_learnt_profile_has_its_film_decide_beside_the_clock(
    curewatch: Curewatch,
) -> None:
    curewatch("finish", "panel", "waterborne", *ASKED, *SPAN, "--write", "maple-clear")
    for tag, finish in (("M1", "maple-clear"), ("W1", "waterborne")):
        curewatch("piece", "hang", tag, "--finish", finish, "--room", "drying", "--at", "2d ago")
        curewatch("coat", tag, "--at", "1d ago")
    learnt, generic = (
        curewatch("piece", "show", tag, "--json").plain["sink_back"] for tag in ("M1", "W1")
    )
    assert (learnt["standing"], learnt["decides"]) == ("learnt-here", True)
    assert (generic["standing"], generic["decides"]) == ("from-memory", False)


def test_in_words_it_shows_what_would_change_and_writes_nothing(
    curewatch: Curewatch, weighed: Path
) -> None:
    said = curewatch("finish", "panel", "waterborne", *ASKED, *SPAN)
    assert said.narrow()
    assert "one coat on glass, 359 weighings on panel-scale in drying" in said.flat
    assert "film.diffusivity_um2_h" in said.out
    assert "Nothing was written." in said.flat
    assert "the film decides beside the clock" in said.flat
    assert not list((weighed.parent / "finishes").iterdir())


@pytest.mark.usefixtures("weighed")
def test_the_wet_film_of_the_panel_is_brought_to_the_usual_one(curewatch: Curewatch) -> None:
    plain = curewatch(
        "finish", "panel", "waterborne", *ASKED, *SPAN, "--wet-um", "125", "--json"
    ).plain
    changes = {one["key"]: one["value"] for one in plain["changes"]}
    load = plain["fit"]["water_load_g_m2"]["value"]
    assert changes["drying.water_load_g_m2"] == pytest.approx(load / 1.25, rel=1e-3)
    assert changes["film.dry_um"] == pytest.approx(DRY_UM / 1.25)
    assert changes["film.diffusivity_um2_h"] == pytest.approx(
        plain["fit"]["diffusivity_um2_h"]["value"], rel=1e-3
    )


def test_the_shop_s_own_file_is_changed_in_place_and_what_it_said_is_kept(
    curewatch: Curewatch, weighed: Path
) -> None:
    path = weighed.parent / "finishes" / "shop-clear.toml"
    path.write_text(
        '# ours\nname = "shop-clear"\ntitle = "ours"\nextends = "waterborne"\n\n'
        '[film.diffusivity_um2_h]\nvalue = 99\nstanding = "from-memory"\nsource = "a guess"\n\n'
        '# the sheet of May\n[hours.buff]\nvalue = 400\nstanding = "data-sheet"\nsource = "May"\n',
        encoding="utf-8",
    )
    plain = curewatch("finish", "panel", "shop-clear", *ASKED, *SPAN, "--write", "--json").plain
    assert plain["revision"] == 2
    text = path.read_text("utf-8")
    assert text.startswith('# ours\nname = "shop-clear"')
    assert "# the sheet of May\n[hours.buff]\nvalue = 400" in text
    assert "a guess" not in text
    old = curewatch("finish", "show", "shop-clear", "--revision", "1", "--json").plain["figures"]
    assert {row["key"]: row["value"] for row in old}["film.diffusivity_um2_h"] == 99.0
    again = curewatch("finish", "panel", "shop-clear", *ASKED, *SPAN, "--write", "--json").plain
    assert again["revision"] == 2  # the same panel says the same


def scale_file(folder: Path, *, climate: bool, tared: float = 0.0) -> Path:
    path, (times, grams) = folder / "scale.csv", masses(tared)
    lines = ["when;grams" + (";temp;rh" if climate else "")]
    for at_ms, mass_g in zip(times.tolist(), grams.tolist(), strict=True):
        stamp = datetime.fromtimestamp(at_ms / 1000, tz=UTC).isoformat()
        air = f";{ROOM_C};{ROOM_RH_PCT}" if climate else ""
        lines.append(f"{stamp};{mass_g:.4f}{air}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def from_file(curewatch: Curewatch, path: Path, *more: str, status: int = 0) -> Said:
    words = ("--csv", str(path), "--time", "when", "--mass", "grams", *more)
    return curewatch("finish", "panel", "waterborne", *ASKED, *words, "--json", status=status)


def test_a_scale_s_file_with_the_climate_in_it_needs_no_database(
    curewatch: Curewatch, shop_config: Path
) -> None:
    (shop_config.parent / "shop.db").unlink()
    path = scale_file(shop_config.parent, climate=True, tared=121.0)
    columns = ("--temp", "temp", "--rh", "rh", "--from", "2026-03-04T12:00")
    plain = from_file(curewatch, path, *columns).plain
    fitted(plain)
    assert plain["changes"][0]["source"].count("in scale.csv") == 1


def test_a_scale_s_file_may_lean_on_a_room_s_record(
    curewatch: Curewatch, climate: StoresClimate, shop_config: Path
) -> None:
    climate("drying", days=2.0, temp_c=ROOM_C, rh_pct=ROOM_RH_PCT)
    path = scale_file(shop_config.parent, climate=False)
    plain = from_file(curewatch, path, "--room", "drying", "--from", "2026-03-04T12:00").plain
    fitted(plain)
    assert "the room's climate is missing" in from_file(curewatch, path, status=2).complaint


@pytest.mark.parametrize("kind", ["wood", "spruce", "plywood"])
def test_a_wooden_panel_is_refused_with_the_reason(curewatch: Curewatch, kind: str) -> None:
    said = curewatch("finish", "panel", "waterborne", "--kind", kind, *ASKED[2:], *SPAN, status=2)
    assert "its own moisture swings dwarf the film" in said.complaint


@pytest.mark.usefixtures("weighed")
@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((*ASKED[2:], *SPAN), "what was sprayed? Say --kind"),
        (("--kind", "glass", "--dry-um", "25", *SPAN), "--area-cm2 is missing"),
        (ASKED, "--sensor, --from, --to missing"),
        ((*ASKED, "--sensor", "panel-scale", "--from", "2h ago"), "--to missing"),
        ((*ASKED, "--csv", "x.csv"), "--time, --mass missing"),
        ((*ASKED, "--csv", "x.csv", "--time", "a", "--mass", "b", "--sensor", "s"), "two records"),
        ((*ASKED, *SPAN, "--wet-um", "0"), "--wet-um 0: give the wet film"),
        ((*ASKED, "--sensor", "s", "--from", "2h ago", "--to", "3h ago"), "is not after"),
        ((*ASKED, "--sensor", "drying-air", "--from", "2h ago", "--to", "now"), "has no mass"),
        ((*ASKED[:2], "--area-cm2", "0", *ASKED[4:], *SPAN), "area_cm2"),
    ],
)
def test_what_cannot_be_fitted_is_said(
    curewatch: Curewatch, words: tuple[str, ...], told: str
) -> None:
    said = curewatch("finish", "panel", "waterborne", *words, status=2)
    assert told in said.complaint


@pytest.mark.usefixtures("weighed")
def test_a_scale_is_listed_with_what_it_shows_and_its_masses_may_be_voided(
    curewatch: Curewatch,
) -> None:
    said = curewatch("sensor", "list")
    assert said.narrow()
    scale = next(
        row
        for row in curewatch("sensor", "list", "--json").plain["sensors"]
        if row["sensor"] == "panel-scale"
    )
    assert scale["mass_g"] == pytest.approx(120.0, abs=0.1)
    assert scale["temp_c"] is None
    assert f"{scale['mass_g']:.3f} g" in said.flat
    words = (
        "sensor",
        "void",
        "panel-scale",
        "--from",
        "25h ago",
        "--to",
        "now",
        "--why",
        "knocked",
    )
    assert "359 readings" in curewatch(*words, "--quantity", "mass").flat
    assert (
        "has no mass"
        in curewatch("finish", "panel", "waterborne", *ASKED, *SPAN, status=2).complaint
    )


@pytest.mark.usefixtures("weighed")
def test_too_few_weighings_or_a_finish_without_a_clock_are_no_base_for_a_fit(
    curewatch: Curewatch,
) -> None:
    short = ("--sensor", "panel-scale", "--from", "24h ago", "--to", "23h ago")
    said = curewatch("finish", "panel", "waterborne", *ASKED, *short, status=2)
    assert "only 15 weighings from the coat on: a fit needs 30" in said.complaint
    said = curewatch("finish", "panel", "dose-cured", *ASKED, *SPAN, status=2)
    assert "cured by dose, not by the hour" in said.complaint


@pytest.mark.usefixtures("weighed")
def test_a_gap_in_the_room_s_record_is_no_base_for_a_fit(curewatch: Curewatch) -> None:
    words = ("sensor", "void", "drying-air", "--from", "12h ago", "--to", "6h ago")
    curewatch(*words, "--why", "unplugged")
    said = curewatch("finish", "panel", "waterborne", *ASKED, *SPAN, status=2)
    assert "readings of drying cover only 7" in said.complaint


@pytest.mark.usefixtures("weighed")
def test_ten_minutes_without_readings_while_the_film_was_wet_are_too_many(
    curewatch: Curewatch,
) -> None:
    words = ("sensor", "void", "drying-air", "--from", "2026-03-04T12:05", "--to")
    curewatch(*words, "2026-03-04T12:40", "--why", "unplugged")
    said = curewatch("finish", "panel", "waterborne", *ASKED, *SPAN, status=2)
    assert "of the film's first hours: a fit needs 99 %" in said.complaint


def test_a_profile_that_comes_with_curewatch_is_never_changed(
    curewatch: Curewatch, weighed: Path
) -> None:
    said = curewatch("finish", "panel", "waterborne", *ASKED, *SPAN, "--write", status=2)
    assert "waterborne comes with curewatch and is not changed" in said.complaint
    curewatch("finish", "panel", "waterborne", *ASKED, *SPAN, "--write", "mine")
    before = (weighed.parent / "finishes" / "mine.toml").read_text("utf-8")
    said = curewatch("finish", "panel", "waterborne", *ASKED, *SPAN, "--write", "mine", status=2)
    assert "cannot be called 'mine'" in said.complaint
    assert (weighed.parent / "finishes" / "mine.toml").read_text("utf-8") == before


@pytest.mark.usefixtures("weighed")
def test_a_solvent_finish_without_a_film_model_keeps_its_figures(curewatch: Curewatch) -> None:
    said = curewatch("finish", "panel", "nitro-lacquer", *ASKED, *SPAN)
    assert "this finish is thinned with solvent" in said.flat
    assert "this profile has no film model yet" in said.flat
    assert "Nothing would change in nitro-lacquer." in said.flat
    words = ("finish", "panel", "nitro-lacquer", *ASKED, *SPAN, "--write", "mine")
    assert "there is no figure to write" in curewatch(*words, status=2).complaint


def test_the_command_leaves_no_scipy_behind(weighed: Path) -> None:
    words = ["--config", str(weighed), "finish", "panel", "waterborne", *ASKED, *SPAN, "--json"]
    code = (
        "import sys; from curewatch.cli.main import main; "
        "status = main(sys.argv[1:]); sys.exit(status or 10 * ('scipy' in sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    fitted(json.loads(done.stdout))


def test_without_scipy_it_says_what_to_install(
    curewatch: Curewatch, weighed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (weighed.parent / "scipy.py").write_text("raise ImportError('not here')\n", encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(weighed.parent))
    said = curewatch("finish", "panel", "waterborne", *ASKED, *SPAN, status=None)
    assert said.status not in {0, None}
    assert "pip install 'curewatch[fits]'" in said.complaint
