"""The summary as lines of text, 80 columns wide."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from curewatch.demo import scenario
from curewatch.shop.alert import AlertKind
from curewatch.shop.alert_words import SAYS
from curewatch.shop.words import span

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from curewatch.demo.play import Answer, Played
    from curewatch.demo.summary import Comparison, PieceStory, Summary, Told
    from curewatch.shop.words import Words

WIDTH = 80
WHEN = 17  # columns for a date and a time
LEAST_TOLD_H = 0.5  # smaller losses are not worth a word
RULE_H = 24  # the calendar's day
HEAD = f"{'piece':<9}coats  {'a day a coat':<17}{'hours earned':<17}{'to be sure':<17} days"
DEEDS = (AlertKind.COAT_EARLY, AlertKind.COAT_IN_MIDDLE, AlertKind.COAT_LATE, AlertKind.WORK_EARLY)
CALENDAR = (
    "The calendar's rule is the trade's 'one full day per coat' for waterborne, counted from the "
    "last coat (common practice, no source). 'Hours earned' is when the piece's clock shows the "
    "profile's hours; 'to be sure' is when it does even at the cautious end of its doubt. 'Days' "
    "is to be sure against the calendar; 'about' is expected, if the room goes on as in the last "
    "24 h. Every date says: now go and test. It is no promise."
)
MORNING = ("THE MORNING AFTER: THE BENCH LIST", "AND THREE COATS ON THE NEXT PIECE: THE PLAN")
SAFETY = (
    "curewatch advises; the label, the safety data sheet, the product's data sheet and the local "
    "code come first. It is no gas detector, no fire alarm and no permission to enter a booth."
)


def page(
    summary: Summary, played: Played, kept: str | None, *, morning: Sequence[str] = ()
) -> list[str]:
    """Return the summary's lines.

    Parameters
    ----------
    summary, played
        The fortnight.
    kept : str or None
        The folder that stays, if one does.
    morning : sequence of str
        What the bench list and the plan of the morning after said, under their headings.
    """
    return [
        *_opening(summary, played),
        *_heading("WHAT WAS SAID, PIECE BY PIECE, AND WHY"),
        *(line for story in summary.pieces for line in _told_of(story, summary.words, played)),
        *_heading("WHAT ELSE WAS SAID, OF ROOMS AND SENSORS"),
        *_rooms(summary),
        *_heading("WHEN MAY IT BE BUFFED: THE CALENDAR, AND THE CLOCK"),
        *_table(summary),
        "",
        *_wrapped(CALENDAR),
        *(
            line
            for head, said in zip(MORNING, morning, strict=False)
            for line in (*_heading(head), *said.strip().splitlines())
        ),
        *_heading("WHERE TO LOOK FURTHER"),
        *_further(kept),
        "",
        *_wrapped(SAFETY),
    ]


def _heading(text: str) -> list[str]:
    return ["", text, ""]


def _wrapped(text: str, *, indent: int = 0, first: str | None = None) -> list[str]:
    pad = " " * indent
    return textwrap.wrap(
        text, WIDTH, initial_indent=pad if first is None else first, subsequent_indent=pad
    )


def _opening(summary: Summary, played: Played) -> list[str]:
    words = summary.words
    cold, humid, dead = (
        f"{_hour(span.start_h, words)} to {_hour(span.stop_h, words)}"
        for span in (scenario.COLD_NIGHT, scenario.HUMID_SPELL, scenario.DEAD)
    )
    silent = next(sensor.id for sensor in scenario.SENSORS if sensor.dead is not None)
    text = (
        f"An invented shop, '{scenario.SITE}': a {scenario.SPRAY_ROOM} and a {scenario.LOFT}, "
        f"{len(scenario.SENSORS)} sensors, {len(summary.pieces)} pieces, "
        f"{scenario.DAYS} days from {_day(scenario.START_MS, words)}. "
        f"The heaters are turned down at night; the loft's stood still from {cold}; the air was "
        f"wet from {humid}; sensor {silent} was dead from {dead}. Rooms, climate, pieces and "
        "people are made up; the finishes are generic. "
        f"Real were the rest: {played.messages} MQTT messages through a broker, the daemon in a "
        f"process of its own, {len(played.answers)} commands typed while it ran, "
        f"{summary.readings} values kept. It took {played.seconds:.0f} s."
    )
    return _wrapped(text)


def _told_of(story: PieceStory, words: Words, played: Played) -> Iterator[str]:
    now = story.now
    yield f"{now.tag}, {now.title}"
    last = "" if now.last_coat_at is None else f", the last {_at(now.last_coat_at, words)}"
    yield from _wrapped(f"{now.finish}, {now.coats} coats{last}", indent=2)
    lines = [(told.at_ms, _said(told)) for told in _folded(story.told, words)]
    lines += [
        (answer.at_ms, said)
        for answer in played.answers
        if now.tag in answer.words and (said := _answered(answer))
    ]
    for at_ms, said in sorted(lines, key=lambda line: line[0]):
        yield from _entry(at_ms, said, words)
    yield ""


def _folded(told: Sequence[Told], words: Words) -> list[Told]:
    """Fold what was said after coat upon coat into one entry."""
    opened = [one for one in told if one.kind is AlertKind.RECOAT_OPEN]
    others = [one for one in told if one.kind is not AlertKind.RECOAT_OPEN]
    if len(opened) > 1:
        more = (
            f"{opened[0].reason} Said {len(opened)} times in all, last "
            f"{_at(opened[-1].at_ms, words)}."
        )
        first = opened[0]
        opened = [type(first)(first.at_ms, first.kind, first.subject, more)]
    return sorted([*opened, *others], key=lambda one: one.at_ms)


def _said(told: Told) -> str:
    """Return the reason, with a word before it where people did something out of its time."""
    name = told.subject.partition("#")[0].partition(":")[2]
    reason = told.reason.removeprefix(f"{name}: ") if told.subject[:6] == "piece:" else told.reason
    if told.kind in DEEDS:
        return f"{SAYS[told.kind].capitalize()}. {reason}"
    return reason if told.subject.startswith("room:") else reason[:1].upper() + reason[1:]


def _answered(answer: Answer) -> str:
    """Return what a command refused, or why its refusal was overruled; '' for the usual."""
    if answer.status != 0:
        first = " ".join(answer.said.strip().split("\n\n")[0].split())
        return f"The command '{answer.words[0]}' refused: {first}"
    if "--anyway" in answer.words:
        return f"Done all the same: '{answer.words[answer.words.index('--anyway') + 1]}'."
    return ""


def _entry(at_ms: int, text: str, words: Words) -> list[str]:
    return _wrapped(text, indent=WHEN + 2, first=f"  {_at(at_ms, words):<{WHEN}}")


def _rooms(summary: Summary) -> Iterator[str]:
    words = summary.words
    with_pieces = {told for story in summary.pieces for told in story.told}
    others = [told for told in (*summary.rooms, *summary.sensors) if told not in with_pieces]
    lines = [(told.at_ms, _said(told)) for told in others]
    lines += [
        (told.at_ms, f"Sensor {told.subject.partition(':')[2]} is heard again.")
        for told in summary.recovered
    ]
    for at_ms, said in sorted(lines):
        yield from _entry(at_ms, said, words)
    for refused in summary.refused:
        yield from _wrapped(f"Refused, and counted, of {refused}", indent=2)


def _table(summary: Summary) -> Iterator[str]:
    yield HEAD
    yield "-" * len(HEAD)
    for story in summary.pieces:
        compared = story.comparison
        if compared is None:
            yield f"{story.now.tag:<9}{story.now.coats:>5}  no clock answers"
            continue
        yield _row(story, compared, summary.words)
        yield from _wrapped(f"{_why(story, compared)}.", indent=16)


def _row(story: PieceStory, compared: Comparison, words: Words) -> str:
    later = compared.days_later
    cells = (
        _at(compared.calendar_ms, words),
        _date(compared.nominal_ms, words, expected=compared.expected),
        _date(compared.cautious_ms, words, expected=compared.cautious_expected),
    )
    days = "?" if later is None else f"{later:+.1f}"
    dates = "".join(f"{cell:<17}" for cell in cells)
    return f"{story.now.tag:<9}{story.now.coats:>5}  {dates}{days:>5}"


def _why(story: PieceStory, compared: Comparison) -> str:
    """Return in a few words why the clock's date is another than the calendar's."""
    lost, rule_h = compared.lost, RULE_H * story.now.coats
    parts = []
    if compared.asked_h != rule_h:
        asked = span(compared.asked_h)
        parts.append(
            f"no buffing before wet sanding's {asked}"
            if compared.asked_h == compared.wet_sand_h
            else f"its profile asks {asked}, not {span(rule_h)}"
        )
    reasons = (
        ("the cold night cost", lost.cold),
        ("cool nights", lost.cool),
        ("damp air", lost.damp),
        ("hours unheard", lost.unheard),
    )
    for what, hours in reasons:
        if abs(hours) >= LEAST_TOLD_H:
            parts.append(f"{what} {hours:.0f} h")
    if compared.expected:
        parts.append("so far")
    return ", ".join(parts) or "hardly a difference"


def _further(kept: str | None) -> list[str]:
    if kept is None:
        return _wrapped(
            "Nothing is kept. 'curewatch demo --page' shows this shop on the page of this machine; "
            "'--keep DIR' leaves database, configuration and logs to look around in."
        )
    commands = ("status", "piece show body-8", "alert list", "sensor list", "export readings")
    return [f"  curewatch --config {kept}/shop.toml {command}" for command in commands]


def _hour(hours: float, words: Words) -> str:
    return _at(scenario.START_MS + round(hours * scenario.HOUR_MS), words)


def _at(at_ms: int, words: Words) -> str:
    then = words.local(at_ms)
    return f"{_day(at_ms, words)} {then.hour}:{then.minute:02d}"


def _day(at_ms: int, words: Words) -> str:
    then = words.local(at_ms)
    return f"{then:%a} {then.day} {then:%b}"


def _date(at_ms: int | None, words: Words, *, expected: bool) -> str:
    if at_ms is None:
        return "cannot be told"
    return f"about {_day(at_ms, words)}" if expected else _at(at_ms, words)
