"""The views that are looked at, drawn and checked: a name and an address each.

A new view gets a line here; axe, the pictures and the check without script then cover it.
"""

VIEWS: dict[str, str] = {
    "today": "/",
    "alerts": "/alerts",
    "sensors": "/sensors",
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
    "not-there": "/nowhere",
}
WIDTHS = (390, 1280)
SCHEMES = ("light", "dark")
