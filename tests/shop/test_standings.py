"""No number is shown without where it comes from."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from curewatch.science.learning import learn
from curewatch.shop.assessment import assess_piece, assess_room
from curewatch.shop.finish import MilestoneName
from curewatch.shop.pace import pace_now, pace_plain, prior_of
from curewatch.shop.piece import WorkKind
from curewatch.shop.plain import piece_plain, room_plain, sensor_plain
from curewatch.shop.plain_check import check_plain
from curewatch.shop.reading import Standing
from curewatch.shop.standings import (
    KEY,
    MEASURED,
    answers_itself,
    entry_name,
    numbers,
    piece_standings,
    replay_standings,
    told_at,
)
from curewatch.shop.standings_told import TYPED
from tests.shop.scene import at_h, every, finish, piece, readings, shop_of
from tests.shop.test_plain import busy_shop

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain, PlainValue
    from curewatch.shop.shop import Shop

NAMES = (
    "waterborne",
    "waterborne-crosslinked",
    "nitro-lacquer",
    "acrylic-lacquer",
    "two-part-urethane",
    "acid-cure",
    "oil-varnish",
    "shellac",
    "dose-cured",
)
WORDS = {MEASURED, TYPED, *map(str, Standing)}


def untold(plain: PlainValue, place: str = "") -> list[str]:
    """Return the places of numbers in an answer, and in its parts, that no standing answers for."""
    if isinstance(plain, list):
        return [lost for part in plain for lost in untold(part, place)]
    if not isinstance(plain, dict):
        return []
    parts = [lost for key, part in plain.items() if key != KEY for lost in untold(part, f"{key}:")]
    told = plain.get(KEY)
    if not isinstance(told, dict):
        return parts if place else [*(where for where, _ in numbers(plain)), *parts]
    found = {where: told_at(told, where) for where, _ in numbers(plain)}
    lost = [place + where for where, entry in found.items() if entry is None]
    assert {entry[0] for entry in found.values() if entry} <= WORDS
    return lost + parts


def unsourced(plain: Plain) -> list[str]:
    """Return the places whose standing carries no source in words."""
    told = plain[KEY]
    assert isinstance(told, dict)
    return [place for place in told if not (told_at(told, place) or ("", ""))[1]]


def hung_shop(name: str) -> Shop:
    record = readings(every(20, 60 * 24.0), 21.0, 0.5, surface_c=19.0)
    work = [(WorkKind.LEVEL, 601.0)]
    one = piece(name, [580.0, 581.0], work=work, planned=3)
    return shop_of({"loft": record}, finishes=[finish(name)], pieces=[one])


@pytest.mark.parametrize("name", NAMES)
def test_every_number_of_a_piece_says_where_it_comes_from(name: str) -> None:
    shop = hung_shop(name)
    plain = piece_plain(assess_piece(shop, shop.pieces["B12"], at_h(30 * 24.0)))
    assert len(list(numbers(plain))) > 10
    assert untold(plain) == []
    assert unsourced(plain) == []


@pytest.mark.parametrize("name", NAMES)
def test_every_number_of_a_room_and_of_its_checks_says_where_it_comes_from(name: str) -> None:
    room = assess_room(hung_shop(name), "loft", at_h(30 * 24.0))
    plain = room_plain(room)
    assert len(list(numbers(plain))) > 5
    assert untold(plain) == []
    assert unsourced(plain) == []
    (check,) = room.checks
    assert unsourced(check_plain(check)) == []
    assert len(list(numbers(check_plain(check)))) > 5
    assert untold(check_plain(check)) == []


def test_every_number_of_a_sensor_says_where_it_comes_from() -> None:
    room = assess_room(busy_shop(), "loft", at_h(20.0))
    plain = sensor_plain(room.sensors[0])
    assert {where for where, _ in numbers(plain)} >= {"temp_c", "rejected.duplicate.count"}
    assert untold(plain) == []


def test_a_pace_says_where_it_comes_from() -> None:
    plain = pace_plain(pace_now(finish("waterborne"), None))
    assert answers_itself(plain)
    assert plain[KEY] == "common-practice"
    learnt = learn((), prior_of(finish("waterborne")))
    assert answers_itself(pace_plain(pace_now(finish("waterborne"), learnt)))


def test_every_number_of_a_replay_says_where_it_comes_from() -> None:
    shop = hung_shop("waterborne")
    one = piece_plain(assess_piece(shop, shop.pieces["B12"], at_h(30 * 24.0)))
    plain: Plain = {
        "finish_revision": 1,
        "readings": 300,
        "rejected": 2,
        "piece": one,
        "milestones": one["milestones"],
        "coverage_pct": 99.0,
        "hindcast": [{"horizon_h": 24, "n": 30}],
        KEY: replay_standings(one),
    }
    assert untold(plain) == []


def test_a_number_that_nobody_answers_for_is_found() -> None:
    known: Plain = {"temp_c": {"standing": "measured", "source": "the rack"}}
    assert untold({"temp_c": 1.0, "dew_c": 2.0, "fresh": True, KEY: known}) == ["dew_c"]
    within: Plain = {"spray": [{"asked_k": 3.0, KEY: {}}], KEY: known}
    assert untold(within) == ["spray:asked_k"]


# ---- what is said


def test_hours_asked_carry_the_words_of_the_profile_they_come_from() -> None:
    shop = hung_shop("waterborne")
    told = piece_standings(assess_piece(shop, shop.pieces["B12"], at_h(30 * 24.0)))
    buff = finish("waterborne").requirements[MilestoneName.BUFF].hours
    found = told["milestones.buff.required_hours"]
    assert found == {"standing": str(buff.standing), "source": buff.source}
    closes = finish("waterborne").requirements.get(MilestoneName.RECOAT_CLOSES)
    assert ("milestones.recoat-closes.required_hours" in told) is (closes is not None)


def test_a_window_that_opens_by_its_water_names_the_water() -> None:
    of = finish("waterborne")
    load = replace(of.limits.temp_low_c, value=60.0, source="weighed here")
    share = replace(of.limits.temp_low_c, value=0.9)
    drying = replace(of.drying, water_load_g_m2=load, water_fraction_to_leave=share)
    asked = {k: v for k, v in of.requirements.items() if k is not MilestoneName.RECOAT_OPENS}
    shop = hung_shop("waterborne")
    shop.finishes["waterborne", 1] = replace(of, drying=drying, requirements=asked)
    told = piece_standings(assess_piece(shop, shop.pieces["B12"], at_h(30 * 24.0)))
    opens = told["milestones.recoat-opens.required_hours"]
    assert isinstance(opens, dict)
    assert opens["source"] == "weighed here"


@pytest.mark.parametrize(
    ("name", "standing", "words"),
    [
        ("waterborne", "physics", "wet surface"),
        ("nitro-lacquer", "physics", "vapour pressure of n-butyl acetate"),
        ("acid-cure", "from-memory", "Arrhenius"),
    ],
)
def test_a_drying_clock_names_its_law(name: str, standing: str, words: str) -> None:
    shop = hung_shop(name)
    told = piece_standings(assess_piece(shop, shop.pieces["B12"], at_h(30 * 24.0)))
    found = told["clocks.drying"]
    assert isinstance(found, dict)
    assert found[KEY] == standing
    assert words in str(found["source"])


@pytest.mark.parametrize("which", ["diffusivity_um2_h", "transfer_um_h"])
def test_sink_back_names_the_weaker_of_its_two_rates(which: str) -> None:
    of = finish("waterborne")
    assert of.film is not None
    sheet = replace(of.film.dry_um, standing=Standing.DATA_SHEET, source="the sheet")
    film = replace(
        of.film,
        diffusivity_um2_h=replace(sheet, value=of.film.diffusivity_um2_h.value),
        transfer_um_h=replace(sheet, value=of.film.transfer_um_h.value),
    )
    weak = replace(getattr(of.film, which), standing=Standing.FROM_MEMORY, source="a guess")
    shop = hung_shop("waterborne")
    shop.finishes["waterborne", 1] = replace(of, film=replace(film, **{which: weak}))
    told = piece_standings(assess_piece(shop, shop.pieces["B12"], at_h(30 * 24.0)))
    found = told["sink_back"]
    assert isinstance(found, dict)
    assert found[KEY] == "from-memory"
    assert str(found["source"]).endswith("a guess")


def test_what_is_not_known_of_its_profile_is_told_of_what_people_entered_alone() -> None:
    shop = hung_shop("waterborne")
    now = replace(assess_piece(shop, shop.pieces["B12"], at_h(700.0)), profile=None)
    assert "coats" in piece_standings(now)
    assert not any(place.startswith("clocks") for place in piece_standings(now))


def test_entries_go_by_their_names() -> None:
    assert entry_name({"name": "buff", "limit": "x"}, 3) == "buff"
    assert entry_name({"value": 1}, 3) == "3"
    assert entry_name(5.0, 3) == "3"
    assert list(numbers({"gaps": [1.0, 2.0], "on": True})) == [("gaps.0", 1.0), ("gaps.1", 2.0)]


def test_a_place_answers_for_what_is_under_it() -> None:
    told: Plain = {"a": "physics", "a.b.c": {"standing": "measured", "source": "x"}}
    assert told_at(told, "a.b.c.d") == ("measured", "x")
    assert told_at(told, "a.b") == ("physics", "")
    assert told_at(told, "b") is None
