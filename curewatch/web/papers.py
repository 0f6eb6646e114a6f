"""Papers: a piece's record, its care card and its labels as whole documents, for page and file."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import TYPE_CHECKING

import jinja2
from markupsafe import Markup

from curewatch.shop.piece import Work
from curewatch.shop.plain import instant
from curewatch.shop.words import span
from curewatch.web.names import is_loopback, own_names, page_url
from curewatch.web.speech import Speech

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curewatch.records import Record
    from curewatch.settings import Settings
    from curewatch.shop.deeds import Deed
    from curewatch.shop.record import CoatFacts, RecordFacts, StageFacts
    from curewatch.storage.history import Entry

ALL_NETWORKS = ("0.0.0.0", "::")  # noqa: S104 - compared with, not bound to
TOLD = ("move", "join", "hold", "release")


@dataclass(frozen=True, slots=True)
class Chapter:
    """One thing that happened, in its place in time: a coat, work or a finding, or an entry."""

    at_ms: int
    kind: str
    coat: CoatFacts | None = None
    stage: StageFacts | None = None
    entry: Entry | None = None
    deeds: tuple[Deed, ...] = ()


def chapters(facts: RecordFacts, entries: Sequence[Entry]) -> list[Chapter]:
    """Return what happened to a piece in order of time."""
    deeds = facts.standing.deeds

    def untimely(at_ms: int) -> tuple[Deed, ...]:
        return tuple(deed for deed in deeds if deed.at_ms == at_ms)

    found = [
        Chapter(c.coat.at_ms, "coat", coat=c, deeds=untimely(c.coat.at_ms)) for c in facts.coats
    ]
    found += [
        Chapter(
            stage.entry.at_ms,
            "work" if isinstance(stage.entry, Work) else "finding",
            stage=stage,
            deeds=untimely(stage.entry.at_ms),
        )
        for stage in facts.stages
    ]
    found += [Chapter(entry.at_ms, entry.what, entry=entry) for entry in entries]
    return sorted(found, key=lambda one: one.at_ms)


def record_html(record: Record, settings: Settings, *, files: bool | None = None) -> str:
    """Return a piece's record as one document.

    Parameters
    ----------
    record : Record
        What it tells.
    settings : Settings
        For the shop's zone, units and clock.
    files : bool or None
        On the page: whether PDF can be made here. None: the document stands alone, with its style
        inside and no links.
    """
    facts = {
        "record": record,
        "told": [(one, chapters(one, _entries(record, one))) for one in record.all],
        "files": files,
    }
    return _paper("record.html", facts, settings, record.now_ms, alone=files is None)


def care_html(record: Record, settings: Settings, *, alone: bool) -> str:
    """Return a piece's care card, half a page, as one document."""
    return _paper("care.html", {"record": record}, settings, record.now_ms, alone=alone)


def labels_html(sheets: Sequence[str], page_mm: tuple[float, float]) -> str:
    """Return sheets of labels as a document without margins, to be made PDF."""
    wide, high = page_mm
    body = "".join(f'<div class="sheet">{sheet}</div>' for sheet in sheets)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>labels</title><style>'
        f"@page {{ size: {wide:g}mm {high:g}mm; margin: 0 }} body {{ margin: 0 }} "
        f".sheet {{ width: {wide:g}mm; height: {high:g}mm; break-inside: avoid }} "
        "svg { display: block }"
        f"</style></head><body>{body}</body></html>"
    )


def page_base(settings: Settings) -> str:
    """Return the address by which others reach the page: a name it was given, or has."""
    page = settings.page
    if page.names:
        host = page.names[0]
    elif page.host in ALL_NETWORKS:
        host = own_names()[-1]
    else:
        host = page.host
    return page_url(host, page.port)


def only_here(settings: Settings) -> bool:
    """Whether the page is reached from this computer alone."""
    return is_loopback(settings.page.host) and not settings.page.names


def _entries(record: Record, facts: RecordFacts) -> tuple[Entry, ...]:
    """Return what else happened; of parts only their own coats and work are told."""
    return record.told(*TOLD) if facts is record.facts else ()


class Stamps:
    """Instants of a document that is read years later: with their date and their zone."""

    def __init__(self, speech: Speech) -> None:
        """Say them as the page says clocks."""
        self._speech = speech

    def long(self, at_ms: int) -> Markup:
        """Say date, clock and the zone's own short name."""
        then = self._speech.words.local(at_ms)
        return self._time(at_ms, f"{self._said(at_ms)} {then:%Z}")

    def short(self, at_ms: int) -> Markup:
        """Say date and clock."""
        return self._time(at_ms, self._said(at_ms))

    def day(self, at_ms: int) -> Markup:
        """Say the date."""
        then = self._speech.words.local(at_ms)
        return self._time(at_ms, f"{then.day} {then:%b %Y}")

    def _said(self, at_ms: int) -> str:
        then = self._speech.words.local(at_ms)
        return f"{then.day} {then:%b %Y} {self._speech.clock(at_ms)}"

    def _time(self, at_ms: int, said: str) -> Markup:
        return Markup('<time datetime="{}">{}</time>').format(instant(at_ms), said.strip())


def _paper(
    page: str, facts: dict[str, object], settings: Settings, now_ms: int, *, alone: bool
) -> str:
    speech = Speech(settings.words(), now_ms, twelve_hours=settings.page.clock == "12")
    return (
        _papers()
        .get_template(page)
        .render(
            **facts,
            speech=speech,
            say=speech.say,
            stamp=Stamps(speech),
            span=span,
            style=Markup(_style(imperial=settings.words().imperial)) if alone else None,  # noqa: S704 - our own file
        )
    )


@lru_cache(maxsize=1)
def _papers() -> jinja2.Environment:
    return jinja2.Environment(
        loader=jinja2.PackageLoader("curewatch.web", "pages"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _style(*, imperial: bool) -> str:
    """Return the papers' style; letter paper where the shop measures in its units."""
    size = "@page { size: letter }\n" if imperial else ""
    return size + (resources.files("curewatch.web") / "look" / "paper.css").read_text("utf-8")
