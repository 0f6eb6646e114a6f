"""What the API's answers look like, for its OpenAPI description.

The full shapes of a room, a piece and an alert are published with the messages on MQTT
(docs/schemas); here stand the keys that always are there, and errors.
"""

from __future__ import annotations

from typing import Any

Shape = dict[str, Any]

TEXT: Shape = {"type": "string"}
FORMAT: Shape = {"type": "integer", "minimum": 1, "description": "Raised when a key changes."}


def maybe(kind: str, what: str) -> Shape:
    """Return a value that may be null where it is not known."""
    return {"type": [kind, "null"], "description": what}


def thing(what: str, /, **keys: Shape) -> Shape:
    """Return an object that has at least `keys`."""
    return {"type": "object", "description": what, "properties": keys, "required": [*keys]}


def many(of: Shape) -> Shape:
    """Return a list."""
    return {"type": "array", "items": of}


INSTANT: Shape = {"type": "string", "format": "date-time", "description": "UTC"}
LATER = maybe("string", "An instant in UTC; null where it is not known.")
SENTENCE: Shape = {"type": "string", "description": "As it is said to people."}
VERDICT: Shape = {"enum": ["fit", "tight", "wait", "unknown"]}
ROOM = thing(
    "A room as it stands: see room.schema.json.",
    room=TEXT,
    air=TEXT,
    climate_at=LATER,
    fresh={"type": "boolean", "description": "Whether its climate is young enough to decide by."},
    temp_c=maybe("number", "[degC]"),
    rh_pct=maybe("number", "[%]"),
    surface_c=maybe("number", "[degC]"),
    dew_point_c=maybe("number", "[degC]"),
    spray=many(thing("A spray check.", finish=TEXT, verdict=VERDICT, sentence=SENTENCE)),
    sensors=many(thing("A sensor.", sensor=TEXT, last_heard_at=LATER)),
)
PIECE = thing(
    "A piece as it stands: see piece.schema.json.",
    piece=TEXT,
    title=TEXT,
    finish=TEXT,
    finish_revision={"type": "integer", "minimum": 1},
    room=maybe("string", "Where it hangs."),
    coats={"type": "integer", "minimum": 0},
    sentence=SENTENCE,
    next_action=SENTENCE,
    next_at=LATER,
    clocks={"type": "object"},
    milestones=many(thing("A milestone.", name=TEXT, clock=TEXT, reached_at=LATER)),
)
ALERT = thing(
    "An alert: see alert.schema.json.",
    id={"type": "integer", "minimum": 1},
    kind=TEXT,
    subject=TEXT,
    urgency={"enum": ["now", "today", "note"]},
    phase={"enum": ["watching", "raised", "seen", "resting", "cleared"]},
    reason=SENTENCE,
    next_action=SENTENCE,
    since=INSTANT,
)
ASSESSMENT = thing(
    "The whole shop.",
    format=FORMAT,
    at=INSTANT,
    site=TEXT,
    rooms=many(ROOM),
    pieces=many(PIECE),
    alerts=many(ALERT),
)
ROOMS = thing("Every room.", format=FORMAT, rooms=many(ROOM))
PIECES = thing("Every piece that hangs in the shop.", format=FORMAT, pieces=many(PIECE))
HISTORY = thing(
    "Everything ever entered about a piece, voided entries too.",
    format=FORMAT,
    piece=TEXT,
    entries=many(thing("An entry.", what=TEXT, at=INSTANT, entered_at=INSTANT)),
)
FINISHES = thing(
    "The profiles that come with curewatch and the shop's own.",
    format=FORMAT,
    finishes=many(thing("A profile.", finish=TEXT, own={"type": "boolean"})),
)
FINISH = thing(
    "Every number of a profile with its standing and source.",
    format=FORMAT,
    finish=TEXT,
    title=TEXT,
    figures=many(thing("A number.", key=TEXT, value={"type": "number"}, standing=TEXT)),
    safety=many(SENTENCE),
)
CHECK = thing(
    "Whether a room's air is fit to spray a finish: now, and over the hours it needs.",
    room=TEXT,
    at=LATER,
    fresh={"type": "boolean"},
    finish=TEXT,
    verdict=VERDICT,
    words=TEXT,
    sentence=SENTENCE,
    reasons=many(SENTENCE),
    notes=many(SENTENCE),
)
VISITOR = thing(
    "Who asks.", who=TEXT, may_write={"type": "boolean"}, token=maybe("string", "X-Form-Token")
)
ERROR = thing("What is wrong, and what to do about it.", error=TEXT)
ASKED_BACK, GARBLED = 409, 400
FAULTS = {
    401: "The shop's passphrase is needed.",
    404: "There is nothing of that name; the nearest are named.",
    422: "Something that was asked for cannot be.",
    503: "The daemon has no time, or its database cannot be read.",
}


def answers(shape: Shape, *, asked: str = "") -> dict[int | str, dict[str, Any]]:
    """Return the answers of an operation: its own, what may be asked back, and be wrong."""
    told: dict[int | str, dict[str, Any]] = {
        200: {"description": shape["description"], "content": _json(shape)}
    }
    faults = FAULTS | ({ASKED_BACK: asked, GARBLED: "The body is no JSON."} if asked else {})
    return told | {
        status: {"description": what, "content": _json(ERROR)} for status, what in faults.items()
    }


def _json(shape: Shape) -> dict[str, Any]:
    return {"application/json": {"schema": shape}}
