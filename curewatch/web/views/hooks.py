"""On the hooks: the pieces in order of need, and logging one thing for several."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response

from curewatch.errors import BadInput
from curewatch.shop.bench_list import bench_list
from curewatch.shop.piece import WorkKind
from curewatch.web.entering import Done, Sent, key_of, new_key, once, shown_done
from curewatch.web.forms import Typed
from curewatch.web.piece_deeds import AskedTwice, Unready, carry_out
from curewatch.web.piece_entry import EARLIER_MIN, Entry
from curewatch.web.pot_facts import standing_pots
from curewatch.web.room import Room
from curewatch.web.speech import say
from curewatch.web.views.piece import blame, form_opened

if TYPE_CHECKING:
    from curewatch.shop.bench_list import Job
    from curewatch.web.desk import Counter
    from curewatch.web.pot_facts import PotNow

router = APIRouter(include_in_schema=False)
AT_ONCE = 60  # lines that a telephone shows before somebody asks for the rest
GROUPS = ("due", "ready", "coming", "waiting", "held")


@dataclass(frozen=True, slots=True)
class Hook:
    """A line: the job, the coats that are on and planned, the finish."""

    job: Job
    coats: int
    planned: int | None
    finish: str


@dataclass(frozen=True, slots=True)
class Hooks:
    """What the view shows.

    Attributes
    ----------
    groups: by their word, each in the order of its work.
    shown, found, whole: how many lines are shown, were asked for, and hang here.
    rooms: those with pieces, and how many.
    all_rooms: where pieces can be moved to.
    pots: those that may be sprayed from.
    done: what a form has just entered.
    """

    groups: tuple[tuple[str, tuple[Hook, ...]], ...]
    shown: int
    found: int
    whole: int
    rooms: tuple[tuple[str, int], ...]
    all_rooms: tuple[str, ...]
    pots: tuple[PotNow, ...]
    done: Done | None


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked for: a room, letters of a tag or title, and whether all lines are."""

    room: str = ""
    find: str = ""
    everything: bool = False

    def query(self, **more: str) -> str:
        """Return it as an address, with something more."""
        parts = {"room": self.room, "find": self.find, **more}
        return "/hooks?" + urlencode({name: value for name, value in parts.items() if value})

    def fits(self, job: Job) -> bool:
        """Whether a piece is asked for."""
        letters = self.find.casefold()
        here = not self.room or job.room == self.room
        return here and (letters in job.tag.casefold() or letters in job.title.casefold())


def look(counter: Counter, asked: Asked, key: str = "") -> Hooks:
    """Gather the facts, in the daemon's thread."""
    now, shop = counter.assessment(), counter.shop
    pieces = {piece.tag: piece for piece in now.pieces}
    listed = bench_list(now, shop.pieces, shop.words)
    whole = [(group, job) for group in GROUPS for job in getattr(listed, group)]
    found = [(group, job) for group, job in whole if asked.fits(job)]
    shown = found if asked.everything else found[:AT_ONCE]
    rooms: dict[str, int] = {}
    for _, job in whole:
        rooms[job.room or ""] = rooms.get(job.room or "", 0) + 1
    groups = tuple(
        (
            word,
            tuple(
                Hook(
                    job,
                    pieces[job.tag].coats,
                    pieces[job.tag].planned_coats,
                    pieces[job.tag].finish,
                )
                for group, job in shown
                if group == word
            ),
        )
        for word in GROUPS
    )
    return Hooks(
        groups=tuple((word, hooks) for word, hooks in groups if hooks),
        shown=len(shown),
        found=len(found),
        whole=len(whole),
        rooms=tuple(sorted((name, count) for name, count in rooms.items() if name)),
        all_rooms=tuple(shop.rooms),
        pots=standing_pots(counter, {piece.finish for piece in now.pieces}),
        done=shown_done(counter, key),
    )


@router.get("/hooks")
def hooks(
    request: Request,
    *,
    room: Annotated[str, Query(max_length=64)] = "",
    find: Annotated[str, Query(max_length=40)] = "",
    lines: Annotated[str, Query(max_length=10)] = "",
    done: Annotated[str, Query(max_length=80)] = "",
) -> Response:
    """Show the list."""
    here: Room = request.app.state.room
    here.reader(request)
    return _page(request, Asked(room, find.strip(), lines == "all"), done=done)


@router.post("/hooks")
def log(request: Request, form: Sent) -> Response:
    """Enter one thing for all pieces that were ticked."""
    here: Room = request.app.state.room
    visitor = here.writer(request, str(form.get("token", "")))
    typed = Typed(form)
    tags = typed.many("tag")
    asked = Asked(typed.text("room") or "", typed.text("find") or "", typed.text("lines") == "all")

    def deed(counter: Counter) -> Done:
        entry = Entry(typed, tags, visitor.who, counter)
        if not tags and typed.given.get("deed") != "undo":
            raise BadInput(say("hooks.none_ticked"))
        return once(counter, key_of(form), lambda at: carry_out(entry, at))

    try:
        entered = here.desk.enter(deed)
    except (Unready, AskedTwice) as question:
        return _page(request, asked, typed=typed, question=question, status=409)
    except BadInput as error:
        blame(typed, error)
        return _page(request, asked, typed=typed, status=422)
    return RedirectResponse(asked.query(done=entered.key), 303)


def _page(
    request: Request,
    asked: Asked,
    *,
    done: str = "",
    typed: Typed | None = None,
    question: Unready | AskedTwice | None = None,
    status: int = 200,
) -> Response:
    here: Room = request.app.state.room
    moment, found = here.ask(lambda counter: look(counter, asked, done))
    facts = {
        "found": found,
        "asked": asked,
        "typed": {} if typed is None else typed.given,
        "ticked": () if typed is None else typed.many("tag"),
        "faults": {} if typed is None else typed.faults,
        "form": form_opened(typed),
        "unready": question if isinstance(question, Unready) else None,
        "twice": question if isinstance(question, AskedTwice) else None,
        "new_key": new_key,
        "earlier": EARLIER_MIN,
        "kinds": tuple(WorkKind),
        "quoted": quote,
    }
    return here.render(request, "hooks.html", facts, moment=moment, status=status)
