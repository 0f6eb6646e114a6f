"""What the sensors, the shelf and a profile's sheet show, from a real daemon."""

from __future__ import annotations

import html
import json
import re
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

import pytest

from curewatch.finish_files import describe, load_text, shipped_names, shipped_text, template
from curewatch.intake.families import Newcomer
from curewatch.presences import NEWCOMERS
from curewatch.shop.assessment import SensorNow
from curewatch.shop.reading import RejectReason
from curewatch.shop.room import Sensor
from curewatch.shop.words import Words
from curewatch.web.speech import Speech, catalogue
from curewatch.web.views.sensors import SensorFacts, _said, _silent_after_s
from curewatch.web.views.shelf import sheet, standings
from tests.small_shop import HOUR_MS, MINUTE_MS, message
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from pathlib import Path

SPEECH = Speech(Words(), NOW_MS)


def plain(text: str) -> str:
    """Return a page's words alone."""
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", text)))


# ---- sensors


def test_each_sensor_is_told_in_words(shop: WebShop) -> None:
    text = plain(shop.known().get("/sensors").text)
    assert (
        "Heard Fri 6 Mar 6:00; it reports every 10 min." in text or "reports every 10 min." in text
    )
    assert "air 21.0 °C, humidity 50 %" in text
    assert "may be off by 0.3 K, 2.5 points of humidity" in text
    assert text.index("bare") < text.index("rack")  # what needs a hand comes first
    assert "Never heard." in text


def test_what_was_refused_is_told_with_its_reason(shop: WebShop) -> None:
    shop.do(lambda: shop.daemon.round([message(NOW_MS + MINUTE_MS, 200.0)]))
    text = plain(shop.known().get("/sensors").text)
    assert "Refused: 1" in text
    assert "a value no room has: 1 time, last" in text


def facts(*, heard_ms: int | None, every_s: float | None = 600.0, **changes: object) -> SensorFacts:
    sensor = Sensor("s", "loft", every_s)
    given = {"temp_c": 20.0, "rh_frac": 0.5, "surface_c": None, "frozen_since": None} | changes
    now = SensorNow("s", "loft", heard_ms, refused=(), **given)  # type: ignore[arg-type]
    return SensorFacts(sensor, now, None, _silent_after_s(sensor, 3.0 * 3600.0))


def test_a_sensor_is_silent_after_three_of_its_intervals() -> None:
    young = _said(facts(heard_ms=NOW_MS - 25 * MINUTE_MS), SPEECH)
    old = _said(facts(heard_ms=NOW_MS - 31 * MINUTE_MS), SPEECH)
    assert young.stands.startswith("Heard")
    assert young.todo == ()
    assert old.stands.startswith("Silent since")
    assert "battery" in old.todo[0]


def test_where_no_interval_is_known_the_longest_gap_counts() -> None:
    assert _said(facts(heard_ms=NOW_MS - 2 * HOUR_MS, every_s=None), SPEECH).stands.endswith(":00.")
    silent = _said(facts(heard_ms=NOW_MS - 4 * HOUR_MS, every_s=None), SPEECH)
    assert silent.stands.startswith("Silent")


def test_one_that_repeats_itself_is_to_be_looked_at() -> None:
    stuck = _said(facts(heard_ms=NOW_MS, frozen_since=NOW_MS - 7 * HOUR_MS), SPEECH)
    assert "stuck" in stuck.todo[0]


def test_only_what_it_measures_can_be_off() -> None:
    said = _said(facts(heard_ms=NOW_MS, rh_frac=None), SPEECH)
    assert "points of humidity" not in said.doubt
    scale = SensorFacts(Sensor("s", "loft", air=False), facts(heard_ms=NOW_MS).now, 12.3456, 1e9)
    assert _said(scale, SPEECH).doubt == ""
    assert "12.346 g" in _said(scale, SPEECH).values
    assert _said(facts(heard_ms=None, temp_c=None, rh_frac=None), SPEECH).doubt == ""


def test_one_that_is_gone_is_told_so_however_lately_it_was_heard() -> None:
    gone = _said(replace(facts(heard_ms=NOW_MS), gone_ms=NOW_MS), SPEECH)
    assert gone.stands.startswith("Gone: the broker was told so")
    assert "battery" in gone.todo[0]


def test_moving_air_is_told_in_words() -> None:
    vane = replace(facts(heard_ms=NOW_MS), air_speed_m_s=0.4, fan_on=True)
    assert "moving air 0.40 m/s, the fan runs" in _said(vane, SPEECH).values
    assert "the fan stands" in _said(replace(vane, fan_on=False), SPEECH).values


def test_who_is_heard_without_a_place_is_shown(shop: WebShop) -> None:
    new = Newcomer("air", "b7", "shop/b7/climate", NOW_MS, NOW_MS, 3)
    shop.do(lambda: shop.daemon._store.meta.set(NEWCOMERS, json.dumps([asdict(new)])))  # noqa: SLF001 - as the daemon keeps it
    text = plain(shop.known().get("/sensors").text)
    assert "Heard without a place" in text
    assert "b7, of kind air, last" in text


def test_every_reason_of_refusal_has_its_words() -> None:
    assert {f"refused.{reason.value}" for reason in RejectReason} <= catalogue().keys()


# ---- the shelf


def test_the_shelf_lists_every_profile_with_its_standings(shop: WebShop) -> None:
    text = shop.known().get("/shelf").text
    for name in shipped_names():
        assert f'href="/shelf/{name}"' in text
    assert "18 figures from memory" in plain(text)
    assert "nobody has tried it whole" in plain(text)


def test_a_faulty_file_of_the_shops_own_is_named_and_hides_nothing(tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    (own / "house.toml").write_text(template("house", "waterborne"), "utf-8")
    (own / "broken.toml").write_text('extends = "nothing"\n', "utf-8")
    config = f'\n[page]\nopen_reading = true\n[finishes]\ndirectory = "{own}"\n'
    with WebShop.at(tmp_path, config) as shop:
        text = plain(shop.stranger().get("/shelf").text)
        assert "It cannot be used:" in text
        assert text.index("house") < text.index("acid-cure Acid")  # the shop's own come first
        assert "The shop's own" in text
        assert shop.stranger().get("/shelf/house").status_code == 200
        assert shop.stranger().get("/shelf/broken").status_code in (422, 503)


def test_standings_are_counted_the_most_first() -> None:
    rows = describe(load_text(shipped_text("waterborne"), source="waterborne"))
    said = standings(rows)
    assert sum(int(count) for count in re.findall(r"(\d+) figure", said)) == len(rows)
    assert "1 figures" not in said


# ---- a profile


@pytest.mark.parametrize("name", shipped_names())
def test_a_sheet_gives_every_figure_once_with_its_source(name: str) -> None:
    rows = describe(load_text(shipped_text(name), source=name))
    lines = [line for _, group in sheet(rows, SPEECH) for line in group]
    assert len(lines) == len(rows)
    assert len({line.what for line in lines}) == len(lines)
    assert all("." not in line.what.split()[0] for line in lines)  # a meaning, never a key
    assert all(line.standing for line in lines)


def test_a_profile_reads_as_a_sheet(shop: WebShop) -> None:
    known = shop.known()
    text = plain(known.get("/shelf/waterborne").text)
    assert "Hours are for a room of 21.0 °C and 50 %." in text
    assert "24 h (24 to 48)" in text
    assert "Our pace: films take" in text
    assert "It is no gas detector" in text
    assert "110 µm" in plain(known.get("/shelf/nitro-lacquer").text)
    assert "4.3 mil" in plain(known.get("/shelf/nitro-lacquer").text)
    wrong = known.get("/shelf/waterborn")
    assert wrong.status_code == 404
    assert "did you mean waterborne" in wrong.text


def test_in_a_shop_in_fahrenheit_the_sheet_is_too() -> None:
    rows = describe(load_text(shipped_text("waterborne"), source="waterborne"))
    lines = dict(sheet(rows, Speech(Words(imperial=True), 0)))["limits"]
    figures = [line.figure for line in lines]
    assert "64 °F" in figures  # 18 degC
    assert "5.4 °F" in figures  # 3 K


def test_films_are_told_in_both_units_and_small_ones_are_not_rounded_to_nothing() -> None:
    rows = describe(load_text(shipped_text("waterborne"), source="waterborne"))
    for imperial, wet, sink in (
        (False, "100 µm (75 to 125); 3.9 mil (3 to 4.9)", "0.5 µm"),
        (True, "3.9 mil (3 to 4.9); 100 µm (75 to 125)", "0.02 mil"),
    ):
        lines = [
            line for _, group in sheet(rows, Speech(Words(imperial=imperial), 0)) for line in group
        ]
        figures = {line.what: line.figure for line in lines}
        assert figures["usual wet film of one coat"] == wet
        assert figures["shrinkage to come that a polish bears"].startswith(sink)


def test_nothing_on_a_sheet_is_written_as_in_a_file(shop: WebShop) -> None:
    known = shop.known()
    for name in shipped_names():
        text = plain(known.get(f"/shelf/{name}").text)
        assert not re.search(
            r"\bdegC\b|\d um\b|\b[a-z]+\.[a-z]+_[a-z0-9_]+\b|curewatch [a-z]+ [a-z]+ ", text
        )
