"""How numbers and instants are said to people: the shop's zone and units."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.shop.ahead import Eta

UM_PER_MIL = 25.4
HOUR_MS = 3_600_000
NEAR_MS = 12 * HOUR_MS  # nearer than this an instant ahead is told to the quarter hour
FAR_MS = 72 * HOUR_MS  # farther than this to half a day: more would be false precision
VAGUE_MS = 12 * HOUR_MS  # ends farther apart than this: to half a day, however near
SHARP_MS = 3 * HOUR_MS  # and only nearer than this is a quarter of an hour worth a word
MANY_NAMES = 6


@dataclass(frozen=True, slots=True)
class Words:
    """The shop's way of saying things.

    Attributes
    ----------
    zone: time zone of the shop.
    imperial: degrees Fahrenheit and mil first.
    """

    zone: tzinfo = UTC
    imperial: bool = False

    def local(self, at_ms: int) -> datetime:
        """Return an instant [ms] on the shop's wall clock."""
        return datetime.fromtimestamp(at_ms / 1000, tz=self.zone)

    def next_day_ms(self, at_ms: int) -> int:
        """Return when the shop's next day begins after an instant [ms]."""
        here = self.local(at_ms)
        tomorrow = (here + timedelta(days=1)).date()
        begins = datetime(tomorrow.year, tomorrow.month, tomorrow.day, tzinfo=self.zone)
        return round(begins.timestamp() * 1000)

    def at(self, at_ms: int, now_ms: int) -> str:
        """Say an instant that has been, or a limit that must be kept, to the minute."""
        then, now = self.local(at_ms), self.local(now_ms)
        days = (then.date() - now.date()).days
        clock = f"{then.hour}:{then.minute:02d}"
        near = {0: "today", 1: "tomorrow", -1: "yesterday"}.get(days)
        return f"{near} {clock}" if near else f"{_date(then, now)} {clock}"

    def dated(self, at_ms: int, now_ms: int) -> str:
        """Say an instant to the minute by its date, so that it stays true when it is read later."""
        then = self.local(at_ms)
        return f"{_date(then, self.local(now_ms))} {then.hour}:{then.minute:02d}"

    def ahead(self, at_ms: int, now_ms: int, *, doubt_ms: int = 0, early: bool = False) -> str:
        """Say an expected instant no finer than it can be known.

        Parameters
        ----------
        at_ms, now_ms
            The instant and the moment [ms].
        doubt_ms
            How far apart its early and its late end lie, where both are known [ms].
        early
            Whether it is an early end: then it is rounded back, never on.
        """
        away = at_ms - now_ms
        if max(away, doubt_ms * FAR_MS // VAGUE_MS) > FAR_MS:
            then = self.local(at_ms)
            half = "morning" if then.hour < 12 else "afternoon"  # noqa: PLR2004 - noon
            return f"{_date(then, self.local(now_ms))} {half}"
        quarters = away < NEAR_MS and doubt_ms < SHARP_MS
        step = HOUR_MS // 4 if quarters else HOUR_MS
        near_ms = at_ms // step * step if early else -(-at_ms // step) * step
        day, _, clock = self.at(near_ms, now_ms).rpartition(" ")
        return f"{day} about {clock}"

    def expect(self, eta: Eta, now_ms: int) -> str:
        """Say a likely instant with its early and its late end, as far as they can be told."""
        known = [at for at in (eta.early, eta.likely, eta.late) if at is not None]
        doubt_ms = known[-1] - known[0]

        def said(at_ms: int | None, *, early: bool = False) -> str | None:
            if at_ms is None:
                return None
            return self.ahead(at_ms, now_ms, doubt_ms=doubt_ms, early=early)

        first, likely, sure = said(eta.early, early=True), said(eta.likely), said(eta.late)
        ends = [] if first in (None, likely) else [f"{first} at the earliest"]
        if sure is None:
            ends.append("how late it may get cannot be told")
        elif sure != likely:
            ends.append(f"{sure} to be sure")
        if likely is None:
            return ", ".join(["no likely time", *ends])
        return "; ".join([likely, ", ".join(ends)]) if ends else likely

    def temp(self, temp_c: float) -> str:
        """Say a temperature [degC] in the shop's unit."""
        return f"{temp_c * 1.8 + 32:.0f} °F" if self.imperial else f"{temp_c:.1f} °C"

    def kelvin(self, difference_k: float) -> str:
        """Say a temperature difference [K] in the shop's unit."""
        return f"{difference_k * 1.8:.1f} °F" if self.imperial else f"{difference_k:.1f} K"

    def film(self, film_um: float) -> str:
        """Say a film thickness [um], both units where it matters."""
        mil, um = f"{film_um / UM_PER_MIL:.1f} mil", f"{film_um:.0f} µm"
        return f"{mil} ({um})" if self.imperial else f"{um} ({mil})"


def percent(rh_frac: float) -> str:
    """Say a relative humidity [fraction]."""
    return f"{rh_frac * 100:.0f} %"


def counted(count: int, noun: str) -> str:
    """Say how many of something: '1 coat', '3 coats'."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def span(hours: float) -> str:
    """Say a span [h] as a person would: minutes, hours, then days."""
    if hours < 0.0:
        return "-" + span(-hours)
    if hours < 1.95:  # noqa: PLR2004 - up to two hours minutes are what one waits for
        return f"{hours * 60:.0f} min"
    if hours < 72.0:  # noqa: PLR2004 - three days
        return f"{hours:.1f} h" if hours < 10.0 else f"{hours:.0f} h"  # noqa: PLR2004
    return f"{hours / 24:.1f} days"


def listed(names: Iterable[str]) -> str:
    """Join names for a sentence: 'a', 'a and b', 'a, b and c', cut after a handful."""
    these = sorted(names)
    if len(these) > MANY_NAMES:
        return ", ".join(these[:MANY_NAMES]) + f" and {len(these) - MANY_NAMES} more"
    return " and ".join(filter(None, [", ".join(these[:-1]), these[-1] if these else ""]))


def _date(then: datetime, now: datetime) -> str:
    far = abs(then - now) > timedelta(days=300)
    return f"{then:%a} {then.day} {then:%b}" + (f" {then.year}" if far else "")
