"""Papers on the page: a piece's record and care card, as files too, and sheets of labels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response
from markupsafe import Markup

from curewatch.errors import BadInput
from curewatch.records import Record, record_of
from curewatch.records.labels import ADVICE, GRIDS, grid_named, hook_label, piece_label, sheets
from curewatch.records.pdf import can_make_pdf, pdf_bytes
from curewatch.records.plain import record_csv, record_plain
from curewatch.web.api import no_such
from curewatch.web.forms import Typed
from curewatch.web.papers import care_html, labels_html, only_here, page_base, record_html
from curewatch.web.room import Room
from curewatch.web.workroom import back_room

if TYPE_CHECKING:
    from curewatch.records.labels import Grid
    from curewatch.web.desk import Counter

router = APIRouter(include_in_schema=False)
Tag = Annotated[str, Path(min_length=1, max_length=64)]


@router.get("/record/{tag}")
def record(request: Request, tag: Tag) -> Response:
    """Show a piece's record, ready to be printed."""
    room: Room = request.app.state.room
    found = _record(request, tag)
    return HTMLResponse(record_html(found, room.settings, files=can_make_pdf()))


@router.get("/record/{tag}/care")
def care(request: Request, tag: Tag) -> Response:
    """Show a piece's care card."""
    room: Room = request.app.state.room
    return HTMLResponse(care_html(_record(request, tag), room.settings, alone=False))


@router.get("/record/{tag}/pdf")
def pdf(request: Request, tag: Tag) -> Response:
    """Hand the record out as PDF."""
    room: Room = request.app.state.room
    found = _record(request, tag)
    made = pdf_bytes(record_html(found, room.settings))
    return Response(made, media_type="application/pdf", headers=_as_file(found, "pdf"))


@router.get("/record/{tag}/csv")
def table(request: Request, tag: Tag) -> Response:
    """Hand the record out as a table."""
    found = _record(request, tag)
    kind = "text/csv; charset=utf-8"
    return Response(record_csv(found), media_type=kind, headers=_as_file(found, "csv"))


@router.get("/record/{tag}/json")
def data(request: Request, tag: Tag) -> Response:
    """Hand the record out as data."""
    found = _record(request, tag)
    return JSONResponse(record_plain(found), headers=_as_file(found, "json"))


def _record(request: Request, tag: str) -> Record:
    room: Room = request.app.state.room
    room.reader(request)
    with back_room(room) as (_, opened):
        try:
            return record_of(opened, tag)
        except BadInput:
            known = [piece.tag for piece in opened.store.pieces.load_all(left=True)]
            if tag.lower() not in (one.lower() for one in known):
                raise no_such("piece", tag, known) from None
            raise


def _as_file(found: Record, kind: str) -> dict[str, str]:
    name = f"record-{found.facts.piece.tag}.{kind}"
    return {"Content-Disposition": f'attachment; filename="{name}"'}


@router.get("/labels")
def labels(request: Request) -> Response:
    """Show the form, and the sheets that were asked for."""
    room: Room = request.app.state.room
    room.reader(request)
    typed = Typed(request.query_params)
    moment, pieces = room.ask(_hanging)
    drawn: tuple[str, ...] = ()
    if typed.text("make") is not None:
        drawn = _sheets(room, typed, pieces)[0]
    facts = {
        "pieces": pieces,
        "chosen": typed.many("piece"),
        "grids": [(grid.name, grid.words) for grid in GRIDS.values()],
        "given": typed.given,
        "faults": typed.faults,
        "sheets": [Markup(sheet) for sheet in drawn],  # noqa: S704 - our own, its words escaped
        "query": str(request.url.query),
        "advice": ADVICE,
        "base": page_base(room.settings),
        "only_here": only_here(room.settings),
        "can_make_pdf": can_make_pdf(),
    }
    status = 422 if typed.faults else 200
    return room.render(request, "labels.html", facts, moment=moment, status=status)


@router.get("/labels.svg")
def one_sheet(request: Request) -> Response:
    """Hand one sheet out as SVG."""
    drawn, _, typed = _asked_sheets(request)
    number = typed.whole("sheet") or 1
    if not 1 <= number <= len(drawn):
        raise BadInput(f"there is no sheet {number}: there are {len(drawn)}")
    name = f'attachment; filename="labels-{number}.svg"'
    headers = {"Content-Disposition": name}
    return Response(drawn[number - 1], media_type="image/svg+xml", headers=headers)


@router.get("/labels.pdf")
def all_sheets(request: Request) -> Response:
    """Hand all sheets out as PDF."""
    drawn, grid, _ = _asked_sheets(request)
    made = pdf_bytes(labels_html(drawn, grid.page))
    headers = {"Content-Disposition": 'attachment; filename="labels.pdf"'}
    return Response(made, media_type="application/pdf", headers=headers)


def _asked_sheets(request: Request) -> tuple[tuple[str, ...], Grid, Typed]:
    room: Room = request.app.state.room
    room.reader(request)
    typed = Typed(request.query_params)
    _, pieces = room.ask(_hanging)
    drawn, grid = _sheets(room, typed, pieces)
    if typed.faults:
        raise BadInput("; ".join(typed.faults.values()))
    return drawn, grid, typed


def _hanging(counter: Counter) -> dict[str, str]:
    """Return the titles of the pieces that hang, by tag."""
    now_ms = counter.now_ms
    pieces = counter.shop.pieces.values()
    return {p.tag: p.title for p in pieces if p.left_ms is None or p.left_ms > now_ms}


def _sheets(room: Room, typed: Typed, pieces: dict[str, str]) -> tuple[tuple[str, ...], Grid]:
    """Return the sheets that were asked for; faults are kept in `typed`."""
    base = page_base(room.settings)
    made = [piece_label(tag, pieces.get(tag, ""), base) for tag in typed.many("piece")]
    hooks = str(typed.given.get("hooks") or "").splitlines()
    made += [hook_label(words.strip(), base) for words in hooks if words.strip()]
    skip = typed.whole("skip") or 0
    grid = next(iter(GRIDS.values()))
    try:
        grid = grid_named(typed.text("grid") or grid.name)
        return sheets(made, grid, skip=skip), grid
    except BadInput as error:
        typed.blame(error, ("grid", "skip"), section="labels")
        return (), grid
