"""How a piece stands, in sentences that every face shows: the doubt of a clock, the window."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.finish import MilestoneName

if TYPE_CHECKING:
    from curewatch.shop.assessment import PieceNow
    from curewatch.shop.finish import ClockName
    from curewatch.shop.piece_clocks import ClockReading
    from curewatch.shop.words import Words

LEAST_TOLD_H = 0.05  # smaller shares of a doubt are not worth a word
DOUBTS = {
    "temp": "what the thermometers may be off by",
    "rh": "what the hygrometers may be off by",
    "ea": "how strongly warmth speeds this finish",
    "air": "how much the air really moves",
}


def doubt_sentence(name: ClockName, clock: ClockReading) -> str:
    """Return where the doubt of a clock comes from, and what was earned beyond its law [h]."""
    shares = clock.shares
    given = {} if shares is None else {word: getattr(shares, word) for word in DOUBTS}
    parts = sorted((hours, word) for word, hours in given.items() if hours >= LEAST_TOLD_H)
    beyond = (
        f" {clock.beyond_h:.1f} h were earned above the warmth the law is good for."
        if clock.beyond_h >= LEAST_TOLD_H
        else ""
    )
    if not parts:
        return f"The {name} clock's doubt is below {LEAST_TOLD_H:g} h.{beyond}"
    named = "; ".join(f"{DOUBTS[word]} ({hours:.1f} h)" for hours, word in reversed(parts))
    return f"The {name} clock's doubt comes from {named}.{beyond}"


def window_sentence(now: PieceNow, words: Words, now_ms: int) -> str:
    """Return when the recoat window opens and closes; '' where nothing answers."""
    opens, window = now.milestone(MilestoneName.RECOAT_OPENS), now.window
    if opens is None or window is None or opens.required_hours is None:
        return ""
    said = "Recoat window: "
    if opens.cautious_at is not None:
        said += f"open since {words.at(opens.cautious_at, now_ms)}"
    elif opens.eta_cautious_at is None:
        said += "when it opens cannot be told"
    else:
        near = opens.reached_at or opens.eta_at or opens.eta_cautious_at
        sure = words.ahead(opens.eta_cautious_at, now_ms)
        plain = words.ahead(near, now_ms)
        said += f"opens {plain}" + (f", {sure} to be sure" if sure != plain else "")
        said += ", if the room goes as planned" if opens.planned else ""
    if window.closes_at is None:
        return f"{said}; no closing limit as things are."
    if opens.cautious_at is not None and window.closes_at <= opens.cautious_at:
        closed = words.at(window.closes_at, now_ms)
        return f"Recoat window: none that is sure; it may have closed {closed} already."
    verb = "closes" if window.closes_at > now_ms else "closed"
    return f"{said}; {verb} {words.at(window.closes_at, now_ms)}, counted at its early end."
