"""What people ask of a plan and of a what-if, as they typed it: nothing here is checked yet."""

from __future__ import annotations

from dataclasses import dataclass

from curewatch.shop.clocks_ahead import LEVELS

DEFAULT_COAT_MIN = 10.0


@dataclass(frozen=True, slots=True)
class PlanWish:
    """A plan that is asked for; texts as they were typed, None where nothing was said.

    Attributes
    ----------
    finish: name of what is to be sprayed.
    coats: how many more on every piece.
    pieces: tags with a comma between, in the order they are sprayed.
    room: where they will hang.
    temp_c, rh_pct: a room kept so [degC, %].
    air: how its air moves.
    start: not before this time; day: the hours somebody is there, such as '8:00-18:00' (which is
        taken where nobody says), or 'always'.
    coat_min, clean_min: minutes a coat takes on one piece, and cleaning after each round [min].
    wet_um: wet film [um].
    per_day: most coats on a piece in a day.
    scuff: whether a film whose window closed is scuffed and coated on.
    unfit_too: whether coats are laid, and marked, while the room is likely not fit.
    sure: how sure, in a hundred, what opens must be open.
    mixed_at: when the pot was mixed.
    really: whether unlikely figures are meant; None where nobody could say so.
    """

    finish: str
    coats: int
    pieces: str | None = None
    room: str | None = None
    temp_c: float | None = None
    rh_pct: float | None = None
    air: str | None = None
    start: str | None = None
    day: str | None = None
    coat_min: float = DEFAULT_COAT_MIN
    clean_min: float = 0.0
    wet_um: float | None = None
    per_day: int | None = None
    scuff: bool = False
    unfit_too: bool = False
    sure: int = LEVELS[-1]
    mixed_at: str | None = None
    really: bool | None = None


@dataclass(frozen=True, slots=True)
class ChangeWish:
    """A change that is asked about; exactly one thing of the second row is to be given.

    Attributes
    ----------
    room, finish, piece, from_temp_c, from_rh_pct, coats: whose clocks, in which air.
    temp_c, rh_pct, cabinet_c, heater with hours, fan, lamp, other_finish, fewer_coats: the change.
    really: whether unlikely figures are meant; None where nobody could say so.
    """

    room: str | None = None
    finish: str | None = None
    piece: str | None = None
    from_temp_c: float | None = None
    from_rh_pct: float | None = None
    coats: int | None = None
    temp_c: float | None = None
    rh_pct: float | None = None
    cabinet_c: float | None = None
    heater: float | None = None
    hours: str | None = None
    fan: bool | None = None
    other_finish: str | None = None
    fewer_coats: int | None = None
    lamp: bool | None = None
    really: bool | None = None
