"""What every view needs: the desk, the door, and rendering in the shop's words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import jinja2
from fastapi import Request
from fastapi.responses import HTMLResponse

from curewatch.clock import system_ms
from curewatch.web.access import COOKIE, Access, NotAllowed, Visitor, is_our_form
from curewatch.web.speech import Speech

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from curewatch.settings import Settings
    from curewatch.web.desk import Counter, Desk

T = TypeVar("T")
VIEW_NAMES = ("today", "hooks", "spray-day", "shelf", "test-boards", "sensors", "alerts")
PLACES = {name: "/" if name == "today" else f"/{name}" for name in VIEW_NAMES}


BELOW = {
    "piece": "hooks",
    "pots": "hooks",
    "pot": "hooks",
    "record": "hooks",
    "labels": "hooks",
    "room": "today",
    "wall": "today",
}


def view_of(path: str) -> str:
    """Return the view that an address belongs to, its own or that below it; '' for none."""
    first = path.strip("/").partition("/")[0]
    name = BELOW.get(first, first or "today")
    return name if name in PLACES else ""


@dataclass(frozen=True, slots=True)
class Moment:
    """When an answer was given: the moment judged at [ms], and whether the clock is believed."""

    now_ms: int
    clock_set: bool


class Room:
    """The room behind the page, one for the application.

    Attributes
    ----------
    desk, settings, access: as given.
    """

    def __init__(self, desk: Desk, settings: Settings, access: Access) -> None:
        """Render the answers of `desk`."""
        self.desk = desk
        self.settings = settings
        self.access = access
        self._pages = jinja2.Environment(
            loader=jinja2.PackageLoader("curewatch.web", "pages"),
            autoescape=True,
            undefined=jinja2.StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )

    def visitor(self, request: Request) -> Visitor:
        """Return who asks."""
        return self.access.visitor(request.cookies.get(COOKIE))

    def reader(self, request: Request) -> Visitor:
        """Return who asks, if they may look.

        Raises
        ------
        NotAllowed
            When they may not.
        """
        visitor = self.visitor(request)
        if not self.access.may_read(visitor):
            raise NotAllowed
        return visitor

    def writer(self, request: Request, token: str) -> Visitor:
        """Return who asks, if they may write and the form is ours.

        Raises
        ------
        NotAllowed
            When they may not, or the form came from elsewhere.
        """
        visitor = self.visitor(request)
        if not is_our_form(visitor, token):
            raise NotAllowed
        return visitor

    def ask(self, question: Callable[[Counter], T]) -> tuple[Moment, T]:
        """Return a question's answer and the moment it was given at."""

        def with_moment(counter: Counter) -> tuple[Moment, T]:
            return Moment(counter.now_ms, counter.clock_set), question(counter)

        return self.desk.ask(with_moment)

    def speech(self, now_ms: int) -> Speech:
        """Return how the page speaks at a moment [ms]."""
        twelve = self.settings.page.clock == "12"
        return Speech(self.settings.words(), now_ms, twelve_hours=twelve)

    def render(
        self,
        request: Request,
        page: str,
        facts: Mapping[str, object],
        *,
        moment: Moment | None = None,
        status: int = 200,
    ) -> HTMLResponse:
        """Return a page with its facts in the shop's words."""
        when = moment or Moment(system_ms(), clock_set=True)
        speech = self.speech(when.now_ms)
        try:
            visitor = self.visitor(request)
        except Exception:  # noqa: BLE001 - the error page must come up while nothing answers
            visitor = Visitor()
        path = request.url.path
        faults = facts.get("faults", {})
        if isinstance(faults, dict):  # what stands beside a field speaks as the rest does
            facts = {**facts, "faults": {at: speech.sentence(one) for at, one in faults.items()}}
        text = self._pages.get_template(page).render(
            **facts,
            speech=speech,
            say=speech.say,
            visitor=visitor,
            places=PLACES,
            here=view_of(path),
            path=path,
            shop=self.settings.site.name,
            moment=when,
            generation=self.desk.generation,
            clock=self.settings.page.clock,
        )
        return HTMLResponse(text, status)
