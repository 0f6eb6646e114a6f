"""The air chart as a drawing: sound XML, everything on the paper, lines in order, words escaped."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.finish_files import shipped_names
from curewatch.shop.air_edges import RegionEdge
from curewatch.shop.air_region import AirRegion, Place, Regions
from curewatch.shop.clocks import Bias
from curewatch.web.air_facts import edge_name, letters
from curewatch.web.draw import air_chart as drawn
from curewatch.web.draw.air_chart import Chart, Plane, Spread, air_chart, hull, short_edges
from curewatch.web.draw.air_edges import lettered
from curewatch.web.draw.svg import WIDTH
from tests.shop.scene import finish

REGIONS = Regions()
WORDS = {"now": "now", "ahead": "in {hours} h", "temp": "air, °C", "moisture": "water, g/kg"}
TEMPS = st.floats(-10.0, 45.0)
HUMID = st.floats(0.02, 1.0)
AIR = st.tuples(TEMPS, HUMID)


def region(name: str, over_k: float | None = None) -> AirRegion:
    return REGIONS.of(finish(name), Place(0.1, 101325.0, Bias(), over_k))


def chart(of: AirRegion, **changes: object) -> Chart:
    edges = {edge.limit: edge_name(edge) for edge in (*of.edges, *of.beyond)}
    plain = Chart(
        name="air",
        title="a title",
        description="what it shows",
        region=of,
        now=(21.0, 0.5),
        trail=[(20.0 + 0.1 * number, 0.5) for number in range(20)],
        ahead=[Spread(12.0, (22.0, 0.48), ((21.0, 0.5), (23.0, 0.46), (22.0, 0.52)))],
        pressure_pa=101325.0,
        imperial=False,
        edges=edges,
        words=WORDS,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def parts(of: Chart, look: str) -> list[ET.Element]:
    root = ET.fromstring(str(air_chart(of)))  # noqa: S314 - our own drawing
    return [one for one in root.iter() if look in (one.get("class") or "").split()]


def places(path: ET.Element) -> list[tuple[float, float]]:
    return [
        (float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.get("d") or "")
    ]


def words(of: Chart) -> list[str]:
    root = ET.fromstring(str(air_chart(of)))  # noqa: S314 - our own drawing
    return [one.text or "" for one in root.iter() if one.tag.endswith("}text")]


def on_paper(x: float, y: float) -> bool:
    side = drawn.LEFT - 0.1, WIDTH - drawn.RIGHT + 0.1
    return side[0] <= x <= side[1] and drawn.TOP - 0.1 <= y <= drawn.HEIGHT - drawn.BOTTOM + 0.1


@pytest.mark.parametrize("over_k", [None, -3.0])
@pytest.mark.parametrize("name", shipped_names())
def test_it_is_sound_and_its_ids_are_its_own(name: str, over_k: float | None) -> None:
    text = str(air_chart(chart(region(name, over_k))))
    root = ET.fromstring(text)  # noqa: S314 - our own drawing
    ids = [one.get("id") for one in root.iter() if one.get("id")]
    assert len(ids) == len(set(ids))
    assert all(found in ids for found in re.findall(r"url\(#([^)]+)\)", text))
    assert "style=" not in text
    assert "nan" not in text.lower()


@given(trail=st.lists(st.one_of(st.none(), AIR), max_size=30), now=AIR, likely=AIR, end=AIR)
def test_trail_and_cone_stay_on_the_paper(
    trail: list[tuple[float, float] | None],
    now: tuple[float, float],
    likely: tuple[float, float],
    end: tuple[float, float],
) -> None:
    shown = chart(region("waterborne"), trail=trail, now=now, ahead=[Spread(3.0, likely, (end,))])
    for look in ("trail", "cone", "ahead", "bound"):
        for path in parts(shown, look):
            assert all(on_paper(x, y) for x, y in places(path)), look


@given(trail=st.lists(AIR, min_size=1, max_size=20))
def test_damper_air_lies_higher_at_every_temperature(trail: list[tuple[float, float]]) -> None:
    shown = chart(region("waterborne"), trail=trail)
    lines = [dict(places(path)) for path in parts(shown, "line-of-rh")]
    assert lines
    for drier, damper in pairwise(lines):
        both = (drier.keys() & damper.keys()) - {max(damper)}
        assert all(damper[x] < drier[x] for x in both)  # up is less on paper


def test_a_line_of_humidity_lies_where_the_air_of_that_humidity_does() -> None:
    shown = chart(region("waterborne"))
    plane = Plane(shown)
    x, y = plane.at((22.0, 0.6))
    line = sorted(places(parts(shown, "line-of-rh")[2]))
    across, up = zip(*line, strict=True)
    assert float(np.interp(x, across, up)) == pytest.approx(y, abs=0.3)


def test_a_gap_in_the_day_is_a_gap_in_the_trail() -> None:
    whole: list[tuple[float, float] | None] = [(20.0 + 0.1 * at, 0.5) for at in range(40)]
    torn = [*whole[:12], None, None, *whole[14:]]
    begins = {
        name: sum(
            (path.get("d") or "").count("M")
            for path in parts(chart(region("waterborne"), trail=trail), "trail")
        )
        for name, trail in (("whole", whole), ("torn", torn))
    }
    assert begins["torn"] == begins["whole"] + 1


def test_the_newer_part_of_the_trail_comes_later_and_is_drawn_thicker() -> None:
    trail = [(15.0 + 0.1 * at, 0.5) for at in range(80)]
    found = [parts(chart(region("waterborne"), trail=trail), f"trail-{part}") for part in range(4)]
    starts = [places(one[0])[0][0] for one in found]
    assert starts == sorted(starts)


def test_every_edge_that_is_long_enough_carries_its_name() -> None:
    named = words(chart(region("shellac")))
    assert {"too cold", "too damp", "too warm"} <= set(named)
    assert "would blush" not in named  # comes after the others here
    assert "would blush" in words(chart(region("nitro-lacquer", 1.0))) or parts(
        chart(region("nitro-lacquer", 1.0)), "beyond"
    )


@pytest.mark.parametrize("over_k", [None, -3.0])
@pytest.mark.parametrize("name", shipped_names())
def test_every_limit_is_named_along_its_edge_or_by_a_letter_of_the_caption(
    name: str, over_k: float | None
) -> None:
    shown = chart(region(name, over_k))
    marks, caption = words(shown), " ".join(letters(shown))
    lettered_ones = [*short_edges(shown), *lettered(shown.region.beyond)]
    for letter, edge in lettered_ones:
        assert marks.count(letter) == 1
        assert f"{letter} {edge_name(edge)}" in caption
    by_letter = [edge for _, edge in lettered_ones]
    for edge in shown.region.edges:
        assert not edge.limit or edge in by_letter or edge_name(edge) in marks


def test_a_chart_of_nothing_has_no_letters() -> None:
    assert letters(chart(AirRegion("invented", ()))) == []


def test_the_hatching_lies_outside() -> None:
    shown = chart(region("waterborne"))
    plane = Plane(shown)
    inside = [plane.at((temp, 0.5)) for temp in (18.5, 22.0, 26.5)]
    for band in parts(shown, "band"):
        corners = places(band)
        assert not any(_within(corners, point) for point in inside)
    outside = plane.at((17.6, 0.5))
    assert any(_within(places(band), outside) for band in parts(shown, "band"))


def _within(corners: list[tuple[float, float]], point: tuple[float, float]) -> bool:
    """Whether a point lies in an area, by counting how often a ray meets its border."""
    x, y = point
    inside = False
    for (x1, y1), (x2, y2) in zip(corners, [*corners[1:], corners[0]], strict=True):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) / (y2 - y1) * (x2 - x1):
            inside = not inside
    return inside


def test_words_are_escaped() -> None:
    text = str(
        air_chart(
            chart(
                region("dose-cured"),
                title="<b>&",
                description='"quoted" <i>',
                words=WORDS | {"now": "<script>"},
            )
        )
    )
    assert "<script>" not in text
    assert "<b>" not in text
    ET.fromstring(text)  # noqa: S314 - our own drawing


def test_where_nothing_is_known_the_lines_still_stand() -> None:
    nowhere = AirRegion("invented", ())
    bare = chart(nowhere, now=None, trail=(), ahead=())
    assert parts(bare, "line-of-rh")
    assert not parts(bare, "here")
    assert not parts(bare, "band")


def test_a_shop_in_fahrenheit_reads_fahrenheit_and_grains() -> None:
    marks = words(chart(region("waterborne"), imperial=True))
    assert "70" in marks
    assert "50" in marks or "100" in marks


def test_the_words_of_now_and_ahead_do_not_lie_over_each_other() -> None:
    for step in (-2.0, 0.0, 2.0):
        shown = chart(region("waterborne"), ahead=[Spread(12.0, (21.0 + step, 0.5), ())])
        root = ET.fromstring(str(air_chart(shown)))  # noqa: S314 - our own drawing
        anchors = {
            one.text: (one.get("text-anchor"), float(one.get("x") or 0))
            for one in root.iter()
            if one.text in ("now", "in 12 h")
        }
        (_, here), (_, there) = anchors["now"], anchors["in 12 h"]
        assert anchors["now"][0] != anchors["in 12 h"][0]
        assert (here < there) == (anchors["now"][0] == "end")


@given(st.lists(st.tuples(st.floats(0.0, 100.0), st.floats(0.0, 100.0)), min_size=1, max_size=12))
def test_a_hull_holds_every_point_and_has_no_dent(points: list[tuple[float, float]]) -> None:
    corners = hull(points)
    assert set(corners) <= set(points)
    turns = (
        [
            (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
            for a, b, c in zip(
                corners, [*corners[1:], corners[0]], [*corners[2:], *corners[:2]], strict=True
            )
        ]
        if len(corners) > 2
        else []
    )
    assert all(turn > 0.0 for turn in turns)
    assert min(points) in corners
    assert max(points) in corners


def test_every_limit_of_the_check_has_a_name_along_its_edge() -> None:
    for name in shipped_names():
        found = region(name)
        for edge in (*found.edges, *found.beyond):
            assert edge_name(edge) or edge.limit == ""
    assert edge_name(RegionEdge("", "bottom", ())) == ""


def test_no_piece_is_spoken_of_where_none_is_measured() -> None:
    edge = RegionEdge("surface-over-dew-point", "top", ())
    assert edge_name(edge) == "piece too near dew"
    assert edge_name(edge, measured=False) == "near dew (surface not measured)"
