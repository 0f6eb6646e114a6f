"""The minute's look around the shop with ten, a thousand and ten thousand pieces."""

from __future__ import annotations

import statistics
import time
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from curewatch.assembly import assemble
from curewatch.keeping import note_heard
from curewatch.room_feed import RoomFeed
from curewatch.shop.watch import Watch
from curewatch.storage import Store
from tests.bench.measured import Goal, Row, Section, ratios, seconds
from tests.bench.report import grid
from tests.bench.scene import DAY_MS, MINUTE_MS, Layout, hang_pieces, readings, store_climate

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.settings import Settings

LAYOUT = Layout(rooms=20, sensors=20)
SIZES = (10, 1_000, 10_000)
DAYS = 15
MINUTES = 375  # from the first look past the time by which every piece is looked at again
REPEATS = 3  # so many stretches of consecutive minutes, each with its own average
NOW_MS = 1_760_000_040_000 // MINUTE_MS * MINUTE_MS


@dataclass
class Scene:
    """One shop of a size, minute after minute."""

    settings: Settings
    store: Store
    step_s: list[float] = field(default_factory=list)
    feed_s: list[float] = field(default_factory=list)
    looks: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Read its record and look at everything once."""
        self.shop = assemble(self.settings, self.store, NOW_MS)
        self._feed = RoomFeed(self.store, self.shop)
        self._feed.load(NOW_MS - DAYS * DAY_MS)
        self._watch = Watch(self.shop)
        begun = time.perf_counter()
        self._watch.step(NOW_MS)
        self.first_s = time.perf_counter() - begun

    def minute(self, at_ms: int) -> None:
        """Take one minute's readings in, then look."""
        new = readings(LAYOUT.sensor_names(), at_ms)
        self._watch.looked.clear()
        begun = time.perf_counter()
        self._feed.take(new)
        note_heard(self.shop, new)
        fed = time.perf_counter()
        self._watch.step(at_ms)
        self.step_s.append(time.perf_counter() - fed)
        self.feed_s.append(fed - begun)
        self.looks.append(len(self._watch.looked))

    def averages(self, times: Sequence[float]) -> list[float]:
        """Return the mean of each stretch of minutes [s]."""
        each = MINUTES // REPEATS
        return [statistics.fmean(times[i * each : (i + 1) * each]) for i in range(REPEATS)]


def measure() -> Section:
    """Measure the tick of three shops side by side, minute for minute."""
    with TemporaryDirectory() as name:
        scenes = [scene_of(size, Path(name)) for size in SIZES]
        for minute in range(1, MINUTES + 1):
            for scene in scenes:
                scene.minute(NOW_MS + minute * MINUTE_MS)
        for scene in scenes:
            scene.store.close()
    few = scenes[0].averages(scenes[0].step_s)
    rows = []
    for size, scene in zip(SIZES[1:], scenes[1:], strict=True):
        many = scene.averages(scene.step_s)
        rows.append(
            Row(
                f"a tick with {size:,} pieces over one with 10",
                ratios(many, few),
                goal=Goal(3.0) if size == SIZES[-1] else None,
                ours=seconds(many),
                against=seconds(few),
            )
        )
    every = [s.averages([a + b for a, b in zip(s.step_s, s.feed_s, strict=True)]) for s in scenes]
    rows.append(
        Row(
            "the same with the minute's readings taken in",
            ratios(every[-1], every[0]),
            ours=seconds(every[-1]),
            against=seconds(every[0]),
        )
    )
    return Section(
        title="The tick",
        what=(
            f"`Watch.step` once a minute for {MINUTES} minutes in {LAYOUT.rooms} rooms with one "
            "sensor each; pieces of two finishes with three coats each, the last coats spread over "
            f"14 days. Each minute's readings come in through the room feed first. {REPEATS} "
            f"stretches of {MINUTES // REPEATS} minutes; the three shops take turns minute by "
            "minute. Nearly flat is read here as at most three times the tick of ten pieces."
        ),
        rows=rows,
        notes=[sizes(scenes)],
    )


def scene_of(size: int, folder: Path) -> Scene:
    """Return a shop with so many pieces, its record read and everything looked at once."""
    folder /= str(size)
    folder.mkdir()
    settings = LAYOUT.settings(folder)
    store = Store.open(settings.storage.path)
    store_climate(
        store,
        LAYOUT.sensor_names(),
        NOW_MS - DAYS * DAY_MS,
        NOW_MS + 1,
        every_ms=5 * MINUTE_MS,
    )
    hang_pieces(store, settings, count=size, first_ms=NOW_MS - 14 * DAY_MS, last_ms=NOW_MS)
    return Scene(settings, store)


def sizes(scenes: Sequence[Scene]) -> str:
    """Say what each size costs, the worst minute too."""
    rows = [("pieces", "middle minute", "average", "worst minute", "looked at a minute", "first")]
    for size, scene in zip(SIZES, scenes, strict=True):
        worst = max(range(MINUTES), key=lambda i: scene.step_s[i])
        rows.append(
            (
                f"{size:,}",
                seconds(scene.step_s),
                seconds([statistics.fmean(scene.step_s)]),
                f"{seconds([scene.step_s[worst]])} (minute {worst + 1}, {scene.looks[worst]:,})",
                f"{statistics.fmean(scene.looks):.1f}",
                seconds([scene.first_s]),
            )
        )
    return "\n".join(grid(rows))
