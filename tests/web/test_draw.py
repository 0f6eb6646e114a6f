"""Drawings: what is drawn where, that nothing breaks out, and that thinning hides nothing."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime
from itertools import pairwise
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.web.draw.build import Captions, Layer, build
from curewatch.web.draw.ladder import Rung, ladder
from curewatch.web.draw.scale import Frame, Scale, time_marks
from curewatch.web.draw.series import READ_OUT, Edge, Track, series
from curewatch.web.draw.svg import WIDTH, Svg
from curewatch.web.draw.thin import least_and_most

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import tzinfo

HOUR_MS = 3_600_000
BERLIN = ZoneInfo("Europe/Berlin")
START_MS = round(datetime(2026, 3, 2, tzinfo=UTC).timestamp() * 1000)
SVG = "{http://www.w3.org/2000/svg}"
NASTY = "<b> & \"quotes\" 'and' ]]>"
CAPTIONS = Captions("the build", "three coats", "maple", "the surface will fall", "um", "mil")


def read(drawing: Svg) -> ET.Element:
    """Return a drawing as a reader of XML sees it; every number in it must be one."""
    text = str(drawing)
    assert "nan" not in text
    assert "inf" not in text
    assert "style=" not in text
    return ET.fromstring(text)  # noqa: S314 - it is our own


def all_of(drawing: Svg, kind: str, look: str | None = None) -> list[ET.Element]:
    found = read(drawing).iter(f"{SVG}{kind}")
    return [one for one in found if look is None or look in one.get("class", "").split()]


def words_of(drawing: Svg) -> list[str]:
    return [one.text or "" for one in all_of(drawing, "text")]


def frame(zone: tzinfo = UTC) -> Frame:
    return Frame("air", "the air", zone)


# ---- the builder


def test_nothing_that_is_drawn_breaks_out_of_the_drawing() -> None:
    drawing = Svg(NASTY, height=100.0, title=NASTY, description=NASTY)
    drawing.text((1.0, 2.0), NASTY, NASTY, turn=-30.0)
    drawing.spot((0.0, 0.0), (5.0, 5.0), NASTY)
    drawing.tell(NASTY)
    drawing.hatch(NASTY, spacing=4.0, look=NASTY)
    drawing.fading("x", ((0.0, 0.0), (1.0, 1.0)), NASTY)
    drawing.box((0.0, 0.0), (-3.0, 4.0), "", fill=NASTY)
    root = read(drawing)
    assert [one.text for one in root.iter(f"{SVG}title")] == [NASTY, NASTY]
    assert [one.text for one in root.iter(f"{SVG}text")] == [NASTY]
    assert root.get("data-read-out") == NASTY
    assert list(root.iter(f"{SVG}b")) == []
    assert next(root.iter(f"{SVG}rect")).get("tabindex") == "0"
    assert [one.get("width") for one in root.iter(f"{SVG}rect")] == ["5", "0"]


def test_a_drawing_says_what_it_is_to_who_does_not_see_it() -> None:
    root = read(Svg("a", height=10.0, title="the air", description="warm and dry"))
    assert root.get("role") == "img"
    ids = {one.get("id"): one.text for one in root.iter() if one.get("id")}
    told = [ids[name] for name in (root.get("aria-labelledby") or "").split()]
    assert told == ["the air", "warm and dry"]


def test_a_line_needs_two_points_and_a_lonely_one_among_runs_is_a_dot() -> None:
    drawing = Svg("a", height=10.0, title="", description="")
    drawing.path([(1.0, 1.0)], "x")
    drawing.paths([], "x")
    assert all_of(drawing, "path") == []
    drawing.path([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0)], "x", closed=True)
    drawing.paths([[(0.0, 0.0), (2.0, 2.04)], [(5.0, 5.0)]], "x")
    area, runs = (one.get("d") for one in all_of(drawing, "path"))
    assert area == "M0 0 L1 0 L1 1Z"
    assert runs == "M0 0 L2 2M5 5h.01"


# ---- scales


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6), st.integers(1, 12), st.floats(0.0, 1.0))
def test_marks_are_round_inside_and_about_as_many_as_wanted(
    low: float, span: float, about: int, share: float
) -> None:
    scale = Scale(low, low + span, 0.0, 100.0)
    marks = scale.marks(about)
    step = 10.0 ** math.floor(math.log10((scale.high - scale.low) / about))
    assert len(marks) <= about + 1
    assert all(scale.low - step <= mark <= scale.high + step for mark in marks)
    assert 0.0 <= scale.at(low + share * span) <= 100.0 + 1e-6


def test_a_scale_of_one_value_has_one_mark_and_draws_it_at_its_start() -> None:
    scale = Scale(5.0, 5.0, 10.0, 90.0)
    assert scale.marks() == [5.0]
    assert scale.at(5.0) == 10.0
    assert Scale(0.0, 10.0, 0.0, 1.0).marks() == [0.0, 5.0, 10.0]
    assert Scale(0.0, 1.0, 100.0, 0.0).at(0.25) == 75.0


@given(
    st.integers(0, 400 * 24), st.floats(0.5, 200 * 24.0), st.sampled_from(["UTC", "Europe/Berlin"])
)
def test_marks_of_time_stand_inside_in_order_and_apart(
    begins_h: int, span_h: float, zone: str
) -> None:
    low = START_MS + begins_h * HOUR_MS
    high = low + round(span_h * HOUR_MS)
    marks = time_marks(low, high, frame(ZoneInfo(zone)))
    times = [mark.at_ms for mark in marks]
    assert times == sorted(set(times))
    assert all(low <= at <= high for at in times)
    assert len(times) <= 9  # six and what a change of the clocks and both ends may add
    for mark in marks:
        here = datetime.fromtimestamp(mark.at_ms / 1000, ZoneInfo(zone))
        assert (here.minute, here.second) == (0, 0)


def test_clocks_are_changed_and_the_marks_keep_to_the_wall_clock() -> None:
    # the last Sunday of March 2026 in central Europe: 2:00 is skipped (IANA time zone database)
    night = datetime(2026, 3, 29, tzinfo=BERLIN)
    low = round(night.timestamp() * 1000)
    marks = time_marks(low, low + 5 * HOUR_MS, frame(BERLIN))
    assert [mark.says for mark in marks] == ["Sun 29", "1:00", "3:00", "4:00", "5:00", "6:00"]
    days = time_marks(low - 24 * HOUR_MS, low + 70 * HOUR_MS, frame(BERLIN), most=5)
    assert [mark.says for mark in days] == ["Sat 28", "Sun 29", "Mon 30", "Tue 31"]


def test_a_shop_that_keeps_twelve_hours_reads_them_on_the_axis() -> None:
    low = round(datetime(2026, 7, 1, tzinfo=BERLIN).timestamp() * 1000)
    halves = Frame("air", "the air", BERLIN, half_days=True)
    marks = time_marks(low, low + 24 * HOUR_MS, halves)
    assert [mark.says for mark in marks] == ["Wed 1", "6 am", "12 pm", "6 pm", "Thu 2"]
    assert [mark.is_day for mark in marks] == [True, False, False, False, True]


def test_a_span_too_long_for_all_steps_is_marked_by_months() -> None:
    marks = time_marks(START_MS, START_MS + 3000 * 24 * HOUR_MS, frame())
    assert all(":" not in mark.says and mark.says.split()[1].isalpha() for mark in marks)


# ---- thinning


def values(known: Sequence[float | None]) -> np.ndarray:
    return np.array([math.nan if value is None else value for value in known])


@given(
    st.lists(st.one_of(st.none(), st.floats(-50.0, 50.0)), max_size=400),
    st.integers(1, 40),
)
def test_thinning_keeps_every_gap_and_the_extremes_of_every_pixel(
    known: list[float | None], pixels: int
) -> None:
    y = values(known)
    x = np.arange(y.size, dtype=np.float64) * 60.0
    runs = least_and_most(x, y, pixels=pixels)
    breaks = np.diff(np.concatenate(([0], np.isfinite(y).astype(int))))
    assert len(runs) == int((breaks == 1).sum())
    kept = {(float(at), float(value)) for run in runs for at, value in zip(*run, strict=True)}
    assert kept <= {(float(at), float(v)) for at, v in zip(x, y, strict=True) if np.isfinite(v)}
    if y.size < 2:
        return
    column = np.floor(x / (x[-1] / pixels))
    for number in np.unique(column):
        here = y[column == number]
        here = here[np.isfinite(here)]
        if here.size:
            mine = [value for at, value in kept if math.floor(at / (x[-1] / pixels)) == number]
            assert (min(mine), max(mine)) == (here.min(), here.max())


def test_a_fortnight_of_seconds_becomes_a_few_points_a_pixel() -> None:
    x = np.arange(60_000, dtype=np.float64)
    y = np.sin(x / 500.0)
    y[31_234] = 40.0  # a lonely spike
    ((thin_x, thin_y),) = least_and_most(x, y, pixels=700)
    assert thin_x.size <= 4 * 701
    assert thin_y.max() == 40.0
    assert (np.diff(thin_x) > 0).all()
    assert least_and_most(np.array([]), np.array([]), pixels=700) == []


# ---- time series


def hours(count: int) -> np.ndarray:
    return START_MS + np.arange(count, dtype=np.float64) * HOUR_MS


def test_a_gap_is_drawn_as_a_gap() -> None:
    at_ms = hours(48)
    warm = 20.0 + np.sin(at_ms / HOUR_MS / 4.0)
    warm[20:30] = math.nan
    drawing = series(frame(), at_ms, [Track("air", warm)], unit="°C")
    (line,) = all_of(drawing, "path", "stroke-full")
    assert (line.get("d") or "").count("M") == 2
    told = json.loads(read(drawing).get("data-read-out") or "")
    assert len(told["lines"][0]["values"]) == READ_OUT
    assert None in told["lines"][0]["values"]
    assert (told["from"], told["to"]) == (START_MS, START_MS + 47 * HOUR_MS)
    assert "legend" not in str(drawing)
    assert "air" not in words_of(drawing)  # one line needs no name beside its title


def test_limits_are_edges_hatched_outside_and_those_out_of_sight_are_left_out() -> None:
    warm = np.linspace(18.0, 22.0, 10)
    edges = [
        Edge(16.0, "too cold", ceiling=False),
        Edge(24.0, "too warm", ceiling=True),
        Edge(90.0, "far off", ceiling=True),
    ]
    tracks = [Track("air", warm), Track("wood", warm - 1.0, "broken")]
    drawing = series(frame(), hours(10), tracks, unit="°C", edges=edges)
    assert {"too cold", "too warm", "air", "wood"} <= set(words_of(drawing))
    assert "far off" not in words_of(drawing)
    lines = [float(one.get("y1") or 0) for one in all_of(drawing, "line", "edge")]
    hatched = [float(one.get("y") or 0) for one in all_of(drawing, "rect") if one.get("fill")]
    cold, hot = lines
    assert cold > hot  # up is warm
    assert hatched[0] == pytest.approx(cold, abs=0.1)  # below the floor
    assert hatched[1] < hot  # above the ceiling
    assert len(all_of(drawing, "path", "stroke-broken")) == 1


def test_where_nothing_is_known_that_is_said() -> None:
    nothing = np.full(5, math.nan)
    drawing = series(frame(), hours(5), [Track("air", nothing)], unit="%")
    assert "air: nothing known" in str(drawing)
    assert all_of(drawing, "path", "stroke-full") == []
    short = series(frame(), hours(1), [Track("air", np.array([1.0]))], unit="%")
    assert "1 to 1 %" in str(short)
    within = series(
        frame(), START_MS + np.array([600_000.0, 1_200_000.0]), [Track("air", np.ones(2))], unit="%"
    )
    assert " to ." in str(within)  # no whole hour lies inside


# ---- the ladder


def climb(*rungs: Rung, now_h: float = 30.0) -> Svg:
    now_ms = START_MS + round(now_h * HOUR_MS)
    return ladder(frame(BERLIN), rungs, start_ms=START_MS, now_ms=now_ms, now_says="now")


def x_of(drawing: Svg, look: str) -> list[float]:
    return [float(one.get("x1") or 0) for one in all_of(drawing, "line", look)]


@pytest.mark.parametrize("start_h", range(1, 25))
def test_no_days_label_is_clipped_at_an_edge(start_h: int) -> None:
    begin_ms = START_MS + start_h * HOUR_MS
    drawing = ladder(
        frame(BERLIN),
        [Rung("buff", "", early_ms=begin_ms + 24 * 14 * HOUR_MS)],
        start_ms=begin_ms,
        now_ms=begin_ms + HOUR_MS,
        now_says="now",
    )
    days = [
        float(one.get("x") or 0)
        for one in all_of(drawing, "text", "mark")
        if one.get("text-anchor") == "middle"
    ]
    assert days
    assert all(24.0 <= x <= WIDTH - 24.0 for x in days)
    assert all(right - left >= 46.0 for left, right in pairwise(days))


def at_h(hours_: float) -> int:
    return START_MS + round(hours_ * HOUR_MS)


def test_rungs_tell_what_was_reached_what_is_likely_and_what_is_in_doubt() -> None:
    drawing = climb(
        Rung("recoat", "since yesterday", reached_ms=at_h(4)),
        Rung("wet sand", "Friday", early_ms=at_h(60), likely_ms=at_h(90), late_ms=at_h(140)),
        Rung("buff", "not before June", early_ms=at_h(200)),
        Rung("cured", "cannot be told"),
    )
    (now,) = x_of(drawing, "now")
    (reached,) = x_of(drawing, "reached")
    (likely,) = x_of(drawing, "likely-mark")
    assert 0.0 < reached < now < likely < WIDTH
    doubts = all_of(drawing, "rect", "doubt")
    assert len(doubts) == 2
    assert float(doubts[1].get("x") or 0) + float(doubts[1].get("width") or 0) == pytest.approx(
        WIDTH - 10.0, abs=1.0
    )  # how late cannot be told: to the edge
    assert [one.get("data-told") for one in all_of(drawing, "rect", "spot")] == [
        "Friday",
        "not before June",
    ]
    assert "cured: cannot be told" in words_of(drawing)


def test_a_limit_that_closes_is_hatched_from_its_earliest_end_on() -> None:
    closes = {"says": "closes", "told": "at noon", "closes": True}
    early = climb(Rung(**closes, early_ms=at_h(40), likely_ms=at_h(80)))
    likely = climb(Rung(**closes, likely_ms=at_h(80)))
    gone = climb(Rung(**closes, reached_ms=at_h(10)))
    unknown = climb(Rung(**closes))
    assert x_of(early, "edge") < x_of(likely, "edge")
    assert x_of(gone, "edge") < x_of(gone, "now")
    assert x_of(unknown, "edge") == []
    assert len(all_of(early, "rect", "closed")) == 1


@given(
    st.lists(st.one_of(st.none(), st.floats(0.0, 2000.0)), min_size=3, max_size=3),
    st.floats(0.0, 3000.0),
)
def test_no_rung_leaves_the_drawing(ends: list[float | None], now_h: float) -> None:
    early, likely, late = (None if end is None else at_h(end) for end in ends)
    drawing = climb(Rung("x", "y", None, early, likely, late), now_h=now_h)
    for kind, names in (("line", ("x1", "x2")), ("rect", ("x",)), ("text", ("x",))):
        for one in all_of(drawing, kind):
            for name in names:
                assert 0.0 <= float(one.get(name) or 0) <= WIDTH


def test_the_word_for_now_is_never_cut() -> None:
    for now_h, anchor in ((0.0, "start"), (30.0, "middle"), (5000.0, "end")):
        drawing = climb(Rung("x", "y", likely_ms=at_h(200)), now_h=now_h)
        (word,) = (one for one in all_of(drawing, "text") if one.text == "now")
        assert word.get("text-anchor") == anchor


# ---- the build


def test_each_coat_is_as_thick_as_it_was_laid_and_hatched_by_what_it_holds() -> None:
    layers = [
        Layer(50.0, 0.0, "coat 1"),
        Layer(100.0, 0.03, "coat 2"),
        Layer(50.0, 0.2, "coat 3"),
    ]
    drawing = build("b", layers, fall_um=20.0, captions=CAPTIONS)
    coats = all_of(drawing, "rect", "coat")
    heights = [float(one.get("height") or 0) for one in coats]
    assert heights[1] == pytest.approx(2.0 * heights[0], abs=0.2)
    tops = [float(one.get("y") or 0) for one in coats]
    assert tops == sorted(tops, reverse=True)  # the first lies lowest
    fills = [one.get("fill") for one in all_of(drawing, "rect") if one.get("fill")]
    assert fills == ["url(#b-held-2)", "url(#b-held-0)"]
    (now,) = all_of(drawing, "line", "surface")
    (then,) = all_of(drawing, "line", "surface-to-come")
    falls = float(then.get("y1") or 0) - float(now.get("y1") or 0)
    assert falls == pytest.approx(heights[0] * 20.0 / 50.0, abs=0.2)
    assert [one.get("data-told") for one in all_of(drawing, "rect", "spot")] == [
        "coat 1",
        "coat 2",
        "coat 3",
    ]
    assert {"um", "mil", "maple", "1", "2", "3"} <= set(words_of(drawing))


def test_a_fall_too_small_to_see_is_told_and_not_drawn_and_an_unknown_one_neither() -> None:
    layers = [Layer(100.0, 0.0, "coat 1")]
    settled = build("b", layers, fall_um=0.1, captions=CAPTIONS)
    assert all_of(settled, "line", "surface-to-come") == []
    assert CAPTIONS.falls in words_of(settled)
    unknown = build("b", layers, fall_um=None, captions=CAPTIONS)
    assert all_of(unknown, "line", "surface") == []
    assert CAPTIONS.falls not in words_of(unknown)


def test_bare_wood_is_drawn_as_bare_wood() -> None:
    bare = build("b", [], fall_um=3.0, captions=CAPTIONS)
    assert all_of(bare, "rect", "coat") == []
    assert all_of(bare, "line", "surface") == []
    assert len(all_of(bare, "rect", "wood")) == 1


def test_thin_coats_carry_no_number_and_a_single_coat_does_not_fill_the_page() -> None:
    many = build("b", [Layer(20.0, 0.0, "x")] * 30, fall_um=None, captions=CAPTIONS)
    numbers = [one for one in all_of(many, "text", "mark") if one.get("x") == "54"]
    assert numbers == []
    one = build("b", [Layer(30.0, 0.0, "x")], fall_um=None, captions=CAPTIONS)
    (coat,) = all_of(one, "rect", "coat")
    assert float(coat.get("height") or 0) == pytest.approx(85.0, abs=0.1)  # half of 60 um
