"""The views that are looked at, drawn and checked: a name and an address each.

A new view gets a line here; axe, the pictures and the check without script then cover it.
"""

VIEWS: dict[str, str] = {
    "today": "/",
    "alerts": "/alerts",
    "sensors": "/sensors",
    "sensor": "/sensors/booth-air",
    "shelf": "/shelf",
    "finish": "/shelf/waterborne",
    "room": "/room/drying-loft",
    "booth": "/room/booth?finish=shellac&span=7d",
    "the-door": "/enter",
    "hooks": "/hooks",
    "piece": "/piece/B3",
    "piece-solvent": "/piece/A12",
    "piece-bare": "/piece/F2",
    "piece-new": "/piece/new",
    "piece-mixed": "/piece/G4",
    "pots": "/pots",
    "pot": "/pot/can-2",
    "spray-day": "/spray-day",
    "plan": "/spray-day?ask=plan&finish=waterborne&coats=3&piece=F2&piece=C7&scuff=on&coat_min=15",
    "finish-by": "/spray-day?ask=finish-by&finish=waterborne&coats=3&date=2030-01-01&room=booth",
    "what-if": "/spray-day?ask=what-if&piece=B3&change=cabinet&cabinet_c=32&room=booth",
    "what-if-stack": "/spray-day?ask=what-if&finish=waterborne&room=booth&change=fewer_coats"
    "&fewer_coats=2&coats=6",
    "faults": "/spray-day?ask=plan&finish=waterborne&coats=900",
    "test-boards": "/test-boards",
    "record": "/record/A12",
    "care": "/record/A12/care",
    "labels": "/labels?make=yes&piece=A12&piece=B3&hooks=left+rail",
    "wall": "/wall",
    "wall-room": "/wall?room=booth",
    "not-there": "/nowhere",
}
WIDTHS = (390, 1280)
SCHEMES = ("light", "dark")
