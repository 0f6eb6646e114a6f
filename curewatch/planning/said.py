"""How a plan and a date worked back from are said: sentences for the commands and the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.shop.coat_window import stretches
from curewatch.shop.words import percent, span

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curewatch.planning.known import Known
    from curewatch.shop.coat_window import CoatWindow
    from curewatch.shop.day_plan import Ask, DayPlan, PlannedCoat
    from curewatch.shop.finish_by import Deadline, FinishBy
    from curewatch.shop.plan_cautions import Caution

HOUR_MS = 3_600_000
STEP_MS = 5 * 60_000  # edges are shown no finer: what opens is rounded up, what closes down
DONE = {"buff": "ready to buff", "ship": "fully cured"}
NOT_FIT = "room not fit"
COLUMNS = ("start", "piece", "coat", "next: early", "likely", "surely", "closes")
ABOUT_COLUMNS = (
    "The last four columns are for the coat after it; 'closes' is the early end: end the next coat "
    "before it."
)
NO_VERDICT = (
    "A start is a time to go and test, not a verdict: run `curewatch check` before you spray."
)
NOT_TRIED = "Nobody has tried this profile whole: put your data sheet's figures in."
NO_CLOCK = (
    "Its film is cured by dose, or the room earns too little, or it takes longer than an outlook "
    "reaches (60 days): a climate typed with --temp-c and --rh-pct reaches further."
)
ON_TOP = "Levelling, buffing and packing come on top. The test decides that day, not the date."


def plan_head(known: Known, ask: Ask) -> str:
    """Say what is planned."""
    many = "" if len(known.hooks) == 1 else f" on each of {len(known.hooks)} pieces"
    coats = f"{ask.coats} coat{'s' * (ask.coats > 1)}{many}"
    return f"{known.finish.title}: {coats}, one gun, from {ask.at(ask.start_ms)} on."


def plan_led(found: DayPlan, known: Known, ask: Ask) -> list[str]:
    """Say what is planned, after why nothing is, or how many starts are none to spray at."""
    head = plan_head(known, ask)
    if not found.coats:
        return [*(f"No coat is planned: {why}" for why in cautions_said(_bars(found))), head]
    if not found.unfit:
        return [head]
    many = f"{found.unfit} of the {len(found.coats)} coats" if len(found.coats) > 1 else "The coat"
    lie = "lie" if found.unfit > 1 else "lies"
    return [f"{many} {lie} where the room is likely not fit to spray: do not spray then.", head]


def _bars(found: DayPlan) -> list[Caution]:
    return [caution for caution in found.cautions if caution.kind == "not-planned"]


def coat_row(coat: PlannedCoat, ask: Ask) -> tuple[str, ...]:
    """Say a planned coat in the columns' order."""
    window, opens = coat.window, coat.window.opens
    start = moment(coat.at_ms, ask)
    return (
        start if coat.unfit_ms is None else f"{start} {NOT_FIT}",
        coat.piece,
        str(coat.number),
        moment(opens.early, ask),
        moment(opens.likely, ask),
        surely(window, ask),
        closes(window, ask),
    )


def surely(window: CoatWindow, ask: Ask) -> str:
    """Say when the next coat may surely be laid: past a forbidden middle that comes before."""
    spans = stretches(window, ask.level)
    if spans and spans[0].past_middle:
        return f"{moment(spans[0].start_ms, ask)} past the middle"
    return moment(window.sure_open(ask.level), ask)


def closes(window: CoatWindow, ask: Ask) -> str:
    """Say when a window closes, at its early end."""
    limit = window.limit
    if limit is None or limit.early is None:
        return "no limit"
    said = moment(limit.early // STEP_MS * STEP_MS, ask)
    if window.middle is not None and limit == window.middle[0]:
        return f"{said} middle begins"
    return said


def moment(at_ms: int | None, ask: Ask) -> str:
    """Say an instant [ms] on the wall clock, with its day where that is not the first one."""
    if at_ms is None:
        return "not known"
    then = ask.words.local(-(-at_ms // STEP_MS) * STEP_MS if at_ms % 60_000 else at_ms)
    clock = f"{then.hour}:{then.minute:02d}"
    days = (then.date() - ask.words.local(ask.start_ms).date()).days
    if days == 0:
        return clock
    return f"{then:%a} {clock}" if days < 7 else f"{then.day} {then:%b} {clock}"  # noqa: PLR2004 - a week


def pots_said(found: DayPlan, ask: Ask) -> list[str]:
    """Say what pots the plan needs."""
    said = []
    for pot in found.pots:
        coats = f"{pot.coats} coat{'s' * (pot.coats != 1)} of this plan"
        over = ask.at(pot.over_ms // 60_000 * 60_000)
        mixed = ask.at(pot.mixed_ms)
        said.append(f"A pot mixed {mixed} serves {coats}; it is over {over}, at its early end.")
    return said


def evening_said(found: DayPlan, ask: Ask) -> list[str]:
    """Say the last start of the first day, where it turns."""
    if found.turns_ms is None or not found.coats:
        return []
    first_ms = found.coats[0].at_ms
    if found.turns_ms <= first_ms:
        return [
            f"The room is likely not fit to spray {ask.at(first_ms)}: `curewatch check` says why."
        ]
    turn = ask.at(found.turns_ms)
    if found.last_start_ms is None:
        begun = ask.at(first_ms)
        return [f"A coat begun {begun} is not surely dry to recoat before the day turns {turn}."]
    last = ask.at(found.last_start_ms // STEP_MS * STEP_MS)
    return [
        f"Last safe start {last}: begun later, a coat is not surely dry when the day turns {turn}."
    ]


def cautions_said(cautions: Iterable[Caution]) -> list[str]:
    """Say cautions as sentences; pots that are over are said with the pots."""
    said = []
    for caution in cautions:
        if caution.kind == "pot-over":
            continue
        about = "" if caution.piece is None else f"{caution.piece}, coat {caution.coat}: "
        text = caution.words if about else caution.words[:1].upper() + caution.words[1:]
        said.append(f"{about}{text}.")
    return said


def plan_warnings(found: DayPlan, known: Known) -> list[str]:
    """Say everything that is to be known before one begins."""
    bars = () if found.coats else _bars(found)  # they lead, where nothing is planned
    said = cautions_said(c for c in (*known.cautions, *found.cautions) if c not in bars)
    if found.unplanned and found.coats:
        said.append(f"{found.unplanned} of the coats could not be planned.")
    if not known.finish.tried:
        said.append(NOT_TRIED)
    return said


def finish_by_said(
    found: FinishBy, deadline: Deadline, goal: str, *, known: Known, ask: Ask
) -> list[str]:
    """Say whether a date can be met, the last coat and the first, or why not."""
    due, done = ask.at(deadline.at_ms), DONE[goal]
    sure = "as likely as not" if ask.level == 50 else f"{ask.level} times in 100"  # noqa: PLR2004 - in a hundred
    said = []
    if found.possible is None:
        title = known.finish.title
        said.append(f"Cannot tell: no time can be told at which {title} is {done} here.")
        said.append(NO_CLOCK)
    elif found.possible:
        said += _latest(found, f"{due}, {sure}", done, ask=ask)
    else:
        short = _short(found, deadline)
        said.append(f"It cannot be done: {done} by {due}, {sure}, is too soon{short}.")
    if found.possible is not None and found.sure_ms is not None:
        soonest = ask.words.ahead(found.sure_ms, known.now_ms)
        said.append(f"Begun {ask.at(ask.start_ms)}, it is {done} {soonest} at that confidence.")
    climate = climate_said(found, known)
    return said if climate is None else [*said, climate]


def _latest(found: FinishBy, due: str, done: str, *, ask: Ask) -> list[str]:
    assert found.last_coat_ms is not None  # noqa: S101 - it is possible
    assert found.first_coat_ms is not None  # noqa: S101 - as above
    last, first = (
        ask.at(_hour_down(at_ms, ask)) for at_ms in (found.last_coat_ms, found.first_coat_ms)
    )
    a_day = "" if ask.per_day is None else f", {ask.per_day} a day at most"
    begun = "It is begun" if ask.coats == 1 else f"First of {ask.coats} coats begun"
    said = [
        f"Last coat on by {last} at the latest: {done} by {due}.",
        f"{begun} by {first} at the latest{a_day}.",
    ]
    if found.bound:
        said.append(f"Not later, for then one could not be laid: {found.bound}.")
    if found.horizon:
        said.append("Perhaps later: an outlook reaches 60 days and no further.")
    return said


def _hour_down(at_ms: int, ask: Ask) -> int:
    """Return an instant, rounded down to the hour unless that lies before the start [ms]."""
    hour_ms = at_ms // HOUR_MS * HOUR_MS
    return hour_ms if hour_ms >= ask.start_ms else at_ms // 60_000 * 60_000


def _short(found: FinishBy, deadline: Deadline) -> str:
    if found.sure_ms is None or found.plan.unplanned:
        return ""
    return f" by {span((found.sure_ms - deadline.at_ms) / HOUR_MS)}"


def climate_said(found: FinishBy, known: Known) -> str | None:
    """Say which climate, or whether a scuff, would do it; None where neither was looked for."""
    if found.scuffed_ms is not None:
        ready = known.words.ahead(found.scuffed_ms, known.now_ms)
        return f"Not without a scuff: with --scuff it is ready {ready} at that confidence."
    if found.possible or known.climate is None or found.searched_to_c is None:
        return None
    words, air = known.words, found.would_do
    now = f"{words.temp(known.climate.temp_c)} and {percent(known.climate.rh_frac)}"
    since = "as typed" if known.record_days is None else "on the mean of its last day"
    if air is None:
        top = words.temp(found.searched_to_c)
        return (
            f"No climate would do it: not even {top} from now on, where more warmth earns no more."
        )
    return (
        f"A room kept at {words.temp(air.temp_c)} from now on would do it: its air, {now} {since}, "
        f"is then at {percent(air.rh_frac)}."
    )


def finish_by_warnings(found: FinishBy, known: Known) -> list[str]:
    """Say what is to be known before one begins or heats."""
    latest = () if found.latest is None else found.latest.cautions
    plan = found.plan.cautions if found.plan.unplanned else latest
    return [*found.cautions, *cautions_said((*known.cautions, *plan))]
