"""The assessment of the shop at a moment: what every face shows and every alert comes from.

A pure function of what is stored and of 'now'. Nothing else computes a truth of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from curewatch.science import humid_air, wood
from curewatch.shop.ahead import ahead_in
from curewatch.shop.assumed import assumed_said, fills_under
from curewatch.shop.chill import chilled_h
from curewatch.shop.deeds import deeds
from curewatch.shop.finish import ClockName, DryingLaw, MilestoneName
from curewatch.shop.gone import quiet_s
from curewatch.shop.milestones import Milestone, PieceClocks, milestones
from curewatch.shop.moving_air import MovingAir, moves_said, moving_air
from curewatch.shop.sink import SinkBack, sink_back
from curewatch.shop.spray_answer import Job, room_look
from curewatch.shop.spray_here import heard_at, here_at
from curewatch.shop.spray_terms import LEAST_RH_FRAC
from curewatch.shop.unmeasured import not_measured
from curewatch.shop.verdict import next_milestone, verdict, with_wood
from curewatch.shop.whole import with_others
from curewatch.shop.window import RecoatWindow, recoat_window
from curewatch.shop.wood_history import WoodNow, wood_now

if TYPE_CHECKING:
    from curewatch.shop.climate import Climate
    from curewatch.shop.deeds import Deed
    from curewatch.shop.finish import Finish
    from curewatch.shop.piece import Fill, Piece
    from curewatch.shop.piece_clocks import ClockReading
    from curewatch.shop.shop import Refusals, Shop
    from curewatch.shop.spray_answer import SprayAnswer
    from curewatch.shop.spray_terms import SprayCheck

DAY_MS = 86_400_000
POOR_COVERAGE_PCT = 80.0


@dataclass(frozen=True, slots=True)
class SensorNow:
    """A sensor as it stands: when it was last heard [ms], and what was refused of it."""

    id: str
    room: str
    last_heard_at: int | None
    temp_c: float | None
    rh_frac: float | None
    surface_c: float | None
    frozen_since: int | None
    refused: tuple[Refusals, ...]


@dataclass(frozen=True, slots=True)
class RoomNow:
    """A room as it stands.

    Attributes
    ----------
    air, moving: how the air moves as configured, and just now.
    climate: the newest climate known by now, None where nothing was ever heard.
    fresh: whether it is young enough to speak for the air; a stale one decides nothing.
    dew_point_c, wood_emc_pct, surface_over_dew_k: [degC], [%], [K]; None where not measured.
    sprays: the spray check for every finish in use in the shop: now, and the hours a coat needs.
    unmeasured: why the room is not measured, where its sensors are in jars; else ''.
    """

    name: str
    air: str
    climate: Climate | None
    fresh: bool
    dew_point_c: float | None
    wood_emc_pct: float | None
    surface_over_dew_k: float | None
    coverage_24h_pct: float
    sprays: tuple[SprayAnswer, ...]
    sensors: tuple[SensorNow, ...]
    moving: MovingAir
    unmeasured: str = ""

    @property
    def moves(self) -> str:
        """How the air moves just now, in a few words."""
        return moves_said(self.air, self.moving)

    @property
    def checks(self) -> tuple[SprayCheck, ...]:
        """The checks of this moment alone, which say nothing of the hours ahead."""
        return tuple(answer.now for answer in self.sprays)


@dataclass(frozen=True, slots=True)
class PieceNow:
    """A piece as it stands.

    Attributes
    ----------
    clocks: reading of each clock since the last coat.
    milestones: in order.
    window: the recoat window, None before the first coat.
    wet, young: whether the film still dries, and is in its first days.
    chilled_h: hours any coat was below the finish's floor in its first days [h].
    gaps: stretches without credit since the last coat [ms].
    coverage_pct: share of the time since the last coat that readings bridge.
    fills: what was filled in of that time.
    assumed: how much of the hours rests on that, as a sentence; '' where nothing does.
    deeds: what was done out of its time.
    sentence, next_action: the verdict with its reason, and the next job.
    next_at: when the next job is due or expected [ms].
    sink_back: how far the film has still to fall; None where the finish has no film model.
    wood: what its rooms have made of the wood under it; None where no room can tell.
    profile: the finish it was sprayed under.
    parts, part_of: tags of what is joined to it, and of what it is joined onto.
    held_back_by: the part that keeps the whole from its next job.
    held: why no work is done on it; None where nothing holds it.
    """

    tag: str
    title: str
    finish: str
    finish_revision: int
    room: str | None
    coats: int
    planned_coats: int | None
    last_coat_at: int | None
    clocks: dict[ClockName, ClockReading]
    milestones: tuple[Milestone, ...]
    window: RecoatWindow | None
    coating_done: bool
    wet: bool
    young: bool
    chilled_h: float
    gaps: tuple[tuple[int, int], ...]
    coverage_pct: float | None
    deeds: tuple[Deed, ...]
    sentence: str
    next_action: str
    next_at: int | None
    sink_back: SinkBack | None = None
    wood: WoodNow | None = None
    profile: Finish | None = None
    parts: tuple[str, ...] = ()
    part_of: str | None = None
    held_back_by: str | None = None
    held: str | None = None
    fills: tuple[Fill, ...] = ()
    assumed: str = ""

    def milestone(self, name: MilestoneName) -> Milestone | None:
        """Return one milestone, None before the first coat."""
        return next((m for m in self.milestones if m.name is name), None)

    @property
    def poorly_covered(self) -> bool:
        """Whether readings bridge too little of its time to trust the hours."""
        return self.coverage_pct is not None and self.coverage_pct < POOR_COVERAGE_PCT


@dataclass(frozen=True, slots=True)
class Assessment:
    """The shop at a moment."""

    at_ms: int
    rooms: tuple[RoomNow, ...]
    pieces: tuple[PieceNow, ...]


def assess(shop: Shop, now_ms: int) -> Assessment:
    """Return the assessment of the whole shop at `now_ms`."""
    return Assessment(
        at_ms=now_ms,
        rooms=tuple(assess_room(shop, name, now_ms) for name in shop.rooms),
        pieces=tuple(
            assess_piece(shop, piece, now_ms)
            for piece in shop.pieces.values()
            if piece.left_ms is None or piece.left_ms > now_ms
        ),
    )


def assess_room(shop: Shop, name: str, now_ms: int) -> RoomNow:
    """Return one room's standing."""
    room = shop.room(name)
    track = shop.book.climates.get(name)
    climate, fresh = heard_at(shop, name, now_ms)
    here = here_at(shop, name, now_ms)
    dew = emc = over = None
    if here.temp_c is not None and here.rh_frac is not None:
        emc = float(wood.emc_pct(here.temp_c, here.rh_frac))
        if here.rh_frac >= LEAST_RH_FRAC:
            dew = float(humid_air.dew_point_c(here.temp_c, here.rh_frac))
            over = None if here.surface_c is None else here.surface_c - dew
    return RoomNow(
        name=name,
        air=room.air,
        climate=climate,
        fresh=fresh,
        dew_point_c=dew,
        wood_emc_pct=emc,
        surface_over_dew_k=over,
        coverage_24h_pct=0.0 if track is None else track.coverage_pct(now_ms - DAY_MS, now_ms),
        sprays=tuple(
            room_look(shop, name, Job(finish), now_ms=now_ms).answer
            for finish in finishes_in_use(shop)
        ),
        sensors=tuple(_sensor(shop, s.id, now_ms) for s in shop.sensors if s.room == name),
        moving=moving_air(shop, name, now_ms if climate is None else climate.at_ms),
        unmeasured=not_measured(shop, name, now_ms),
    )


def finishes_in_use(shop: Shop) -> tuple[Finish, ...]:
    """Return the profiles that pieces in the shop are under, by name; of each the newest."""
    found: dict[str, Finish] = {}
    for finish in map(shop.finish_of, shop.pieces.values()):
        if finish.name not in found or finish.revision > found[finish.name].revision:
            found[finish.name] = finish
    return tuple(found[name] for name in sorted(found))


def _sensor(shop: Shop, sensor: str, now_ms: int) -> SensorNow:
    newest = {quantity: r for (name, quantity), r in shop.heard.items() if name == sensor}
    values = {q.word: r.value for q, r in newest.items()}
    room = next(s.room for s in shop.sensors if s.id == sensor)
    return SensorNow(
        id=sensor,
        room=room,
        last_heard_at=shop.last_heard_ms(sensor, now_ms),
        temp_c=values.get("temperature"),
        rh_frac=values.get("humidity"),
        surface_c=values.get("surface_temperature"),
        frozen_since=shop.frozen_since.get(sensor),
        refused=shop.refusals.get(sensor, ()),
    )


def assess_piece(shop: Shop, piece: Piece, now_ms: int) -> PieceNow:
    """Return one piece's standing, with what is joined to it and what holds it."""
    return with_others(_alone(shop, piece, now_ms), piece, shop, now_ms, alone=_alone)


def _alone(shop: Shop, piece: Piece, now_ms: int) -> PieceNow:
    """Return the standing of a piece's own film."""
    finish = shop.finish_of(piece)
    blank = PieceNow(
        tag=piece.tag,
        title=piece.title,
        finish=piece.finish,
        finish_revision=piece.finish_revision,
        room=piece.room_at(now_ms),
        coats=len(piece.coats_until(now_ms)),
        planned_coats=piece.planned_coats,
        last_coat_at=None,
        clocks={},
        milestones=(),
        window=None,
        coating_done=piece.coating_done(now_ms),
        wet=False,
        young=False,
        chilled_h=0.0,
        gaps=(),
        coverage_pct=None,
        deeds=(),
        sentence="No coat is logged yet.",
        next_action=f"Log the first one: curewatch coat {piece.tag}",
        next_at=None,
        wood=wood_now(shop, piece, now_ms),
        profile=finish,
    )
    if not blank.coats:
        alone = (blank.sentence, blank.next_action, blank.next_at)
        sentence, action, due = with_wood(blank, piece, alone, now_ms)
        return replace(blank, sentence=sentence, next_action=action, next_at=due)
    clocks = PieceClocks(
        piece,
        finish,
        book=shop.book,
        rooms=shop.rooms,
        now_ms=now_ms,
        learnt=shop.learnt_of(finish),
        ahead_of=ahead_in(shop, now_ms),
    )
    now = _with_clocks(blank, clocks, shop)
    now = _with_fills(now, piece, shop, now_ms)
    sentence, action, due = verdict(now, piece, shop.words, now_ms)
    sentence = " ".join(filter(None, [sentence, now.assumed]))
    return replace(now, sentence=sentence, next_action=action, next_at=due)


def _with_fills(now: PieceNow, piece: Piece, shop: Shop, now_ms: int) -> PieceNow:
    """Return a standing that says which of its hours a person assumed."""
    stone = next_milestone(now, piece, now_ms)
    clock = ClockName.CURE if stone is None or stone.clock not in now.clocks else stone.clock
    reading = now.clocks.get(clock)
    if reading is None or reading.filled_h <= 0.0:
        return now
    fills = fills_under(shop.fills, piece.stays, now.last_coat_at or 0, now_ms)
    return replace(now, fills=fills, assumed=assumed_said(reading.filled_h, fills, stone))


def _with_clocks(blank: PieceNow, clocks: PieceClocks, shop: Shop) -> PieceNow:
    readings = {
        name: reading
        for name in (ClockName.DRYING, ClockName.CURE, ClockName.WALL)
        if (reading := clocks.reading(name)) is not None
    }
    found = {stone.name: stone for stone in milestones(clocks)}
    young_h = clocks.finish.young_h
    wall_h = readings[ClockName.WALL].effective_hours
    dry = found[MilestoneName.DRY_SAND]
    if dry.required_hours is None:
        dry = found[MilestoneName.RECOAT_OPENS]
    lead = readings.get(ClockName.CURE)
    return replace(
        blank,
        last_coat_at=clocks.start_ms,
        clocks=readings,
        milestones=tuple(found.values()),
        window=recoat_window(clocks, found[MilestoneName.RECOAT_OPENS], shop.words),
        wet=clocks.finish.drying.law is not DryingLaw.NONE and dry.reached_at is None,
        young=young_h is not None and wall_h < young_h.value,
        chilled_h=chilled_h(clocks, shop.book),
        gaps=clocks.gaps(partial(quiet_s, shop)),
        coverage_pct=None if lead is None or wall_h <= 0.0 else 100.0 * lead.covered_h / wall_h,
        deeds=deeds(clocks.piece, shop, clocks.now_ms),
        sink_back=sink_back(clocks),
    )
