"""One sensor: what it may be off by, its checks, and checking it step by step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated
from urllib.parse import quote

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import RedirectResponse, Response

from curewatch.entries import sensor_checks as entries
from curewatch.entries.times import past_ms
from curewatch.errors import BadInput
from curewatch.shop.calibration import CHECKABLE, NEW
from curewatch.shop.reading import Quantity
from curewatch.shop.salt_jar import BENCH_SALTS, Stage, keeps_rh_frac
from curewatch.shop.trust import counts_from_ms
from curewatch.shop.trust_conditions import apart_said, checked_ms, due_ms, off_by
from curewatch.shop.typed import HardlyMeant
from curewatch.web.api import no_such
from curewatch.web.entering import Done, Sent, key_of, new_key, once, opened, shown_done
from curewatch.web.forms import REALLY, Typed, in_page_words
from curewatch.web.piece_entry import Faulty, stop_at_faults
from curewatch.web.plainly import without_commands
from curewatch.web.room import Room
from curewatch.web.speech import say

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.datastructures import FormData

    from curewatch.opened import Opened
    from curewatch.shop.calibration import Check, Correction
    from curewatch.shop.room import Sensor
    from curewatch.shop.salt_jar import Settling
    from curewatch.web.desk import Counter
    from curewatch.web.speech import Speech

router = APIRouter(include_in_schema=False)
Name = Annotated[str, Path(min_length=1, max_length=200)]
Number = Annotated[int, Path(ge=1, le=2**63 - 1)]
Key = Annotated[str, Query(max_length=120)]


@dataclass(frozen=True, slots=True)
class Facts:
    """One sensor and its checks.

    Attributes
    ----------
    here: where its check stands.
    off: what each of its quantities may be off by now.
    made: what corrects each of them now.
    checks: every check of it, newest first, with the reason where it is void.
    checked_ms, due_ms: when it was last checked and when it is next due [ms].
    apart: what it and its neighbours say of one another, in sentences.
    done: what was entered just now, None where nothing was.
    """

    here: entries.Standing
    off: dict[Quantity, float]
    made: dict[Quantity, Correction]
    checks: tuple[tuple[Check, str | None], ...]
    checked_ms: int | None
    due_ms: int | None
    apart: tuple[str, ...]
    done: Done | None


def look(counter: Counter, name: str, key: str) -> Facts:
    """Gather the facts, in the daemon's thread."""
    shop, now_ms = counter.shop, counter.now_ms
    sensor = next((one for one in shop.sensors if one.id == name and one.air), None)
    if sensor is None:
        raise no_such("sensor", name, [one.id for one in shop.sensors if one.air])
    told = [quantity for quantity in CHECKABLE if quantity in sensor.measures]
    kept = counter.store.sensor_checks
    voids = kept.voids()
    mine = [check for check in kept.all(voided=True) if check.sensor == name]
    beside = shop.book.beside.get(sensor.room)
    pairs = beside.apart if beside is not None and beside.speaks_at(now_ms) else ()
    rulings = {quantity: shop.trust.ruling(name, quantity, now_ms) for quantity in told}
    return Facts(
        here=entries.standing(opened(counter), name),
        off={quantity: _off(counter, sensor, quantity) for quantity in told},
        made={quantity: one for quantity, one in rulings.items() if one is not None},
        checks=tuple((check, voids.get(check.id)) for check in reversed(mine)),
        checked_ms=checked_ms(shop, sensor, now_ms),
        due_ms=due_ms(shop, sensor, now_ms),
        apart=tuple(apart_said(pair) for pair in pairs if name in (pair.sensor, pair.other)),
        done=shown_done(counter, key),
    )


def _off(counter: Counter, sensor: Sensor, quantity: Quantity) -> float:
    shop, now_ms = counter.shop, counter.now_ms
    heard = shop.heard.get((sensor.id, quantity))
    rh = None
    if quantity is Quantity.HUMIDITY and heard is not None:
        rh = shop.trust.value(sensor.id, quantity, now_ms, heard.value)
    return off_by(shop, sensor, quantity, now_ms, rh)


@router.get("/sensors/{name}")
def sensor(request: Request, name: Name, done: Key = "") -> Response:
    """Show one sensor."""
    room: Room = request.app.state.room
    room.reader(request)
    return _page(request, name, done=done)


def _page(
    request: Request, name: str, *, done: str = "", typed: Typed | None = None, status: int = 200
) -> Response:
    room: Room = request.app.state.room
    moment, facts = room.ask(lambda counter: look(counter, name, done))
    speech = room.speech(moment.now_ms)
    told = {
        "facts": facts,
        "sensor": facts.here.sensor,
        "lead": lead(facts, speech),
        "trust": trust_lines(facts, speech),
        "jar": jar_lines(facts, speech),
        "checks": [_check_line(check, why, speech) for check, why in facts.checks],
        "salts": _salts(),
        "settled": facts.here.check is not None,
        "humid": Quantity.HUMIDITY in facts.off,
        "probe": Quantity.SURFACE_TEMPERATURE in facts.off,
        "warm": Quantity.TEMPERATURE in facts.off,
        "unit": "°F" if speech.words.imperial else "°C",
        "small_unit": "°F" if speech.words.imperial else "K",
        "typed": {} if typed is None else typed.given,
        "faults": {} if typed is None else typed.faults,
        "new_key": new_key,
    }
    return room.render(request, "sensor.html", told, moment=moment, status=status)


def lead(facts: Facts, speech: Speech) -> str:
    """Say in a sentence how the sensor stands: the worst first."""
    if any(one.replace for one in facts.made.values()):
        return say("sensor.replace")
    if facts.here.jar is not None:
        return say("sensor.in_jar", salt=entries.called(facts.here.jar.salt))
    if facts.due_ms is not None and facts.due_ms < speech.now_ms:
        return say("sensor.due", at=speech.when(facts.due_ms))
    if facts.checked_ms is not None:
        return say("sensor.checked", at=speech.when(facts.checked_ms))
    humid = Quantity.HUMIDITY in facts.here.sensor.measures  # what is looked at where it is told
    return say("sensor.unchecked_humidity") if humid else say("sensor.unchecked")


def trust_lines(facts: Facts, speech: Speech) -> list[str]:
    """Say what it may be off by, what corrects it, and what its neighbours say."""
    lines = [
        say(f"sensor.off_{quantity.word}", by=_amount(quantity, by, speech))
        for quantity, by in facts.off.items()
    ]
    for quantity, one in facts.made.items():
        if one.replace:
            lines.append(say("sensor.not_corrected", why=one.replace))
        for read, shift in zip(one.reads, one.shifts, strict=True):
            by = _amount(quantity, abs(shift), speech)
            key = "sensor.adds" if shift >= 0.0 else "sensor.takes"
            lines.append(say(key, by=by, read=_value(quantity, read, speech)))
        if one.reads and quantity is Quantity.HUMIDITY and not one.two_points:
            lines.append(say("sensor.one_point"))
    return [*lines, *(f"{line[0].upper()}{line[1:]}." for line in facts.apart)]


def jar_lines(facts: Facts, speech: Speech) -> list[str]:
    """Say how far it has come in its jar; nothing where it is in none."""
    jar, seen = facts.here.jar, facts.here.seen
    if jar is None or seen is None:
        return []
    lines = [say("sensor.jar_since", at=speech.when(jar.start_ms))]
    if seen.read is not None:
        lines.append(_reads(seen))
    wait = entries.WAIT[seen.stage]
    stage = say("sensor.settled") if seen.stage is Stage.SETTLED else f"{wait}."
    return [*lines, f"{stage[0].upper()}{stage[1:]}"]


def _reads(seen: Settling) -> str:
    assert seen.read is not None  # noqa: S101 - the caller has looked
    read = f"{100.0 * seen.read:.1f} %"
    if seen.keeps is None:
        return say("sensor.jar_reads", read=read)
    return say("sensor.jar_keeps", read=read, keeps=f"{100.0 * seen.keeps:.1f} %")


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A check as it is listed: its number, in a sentence, and why it is void."""

    number: int
    said: str
    void: str | None


def _check_line(check: Check, void: str | None, speech: Speech) -> CheckLine:
    at, who = speech.when(check.from_ms), check.who or say("sensor.nobody")
    if check.against == NEW:
        return CheckLine(check.id, say("sensor.was_new", at=at, who=who), void)
    said = say(
        "sensor.was_checked",
        at=at,
        against=entries.called(check.against),
        kept=_value(check.quantity, check.reference, speech),
        read=_value(check.quantity, check.read, speech),
        who=who,
    )
    return CheckLine(check.id, said, void)


def _salts() -> list[tuple[str, str]]:
    found = []
    for word, salt in BENCH_SALTS.items():
        keeps = keeps_rh_frac(word, 20.0)
        assert keeps is not None  # noqa: S101 - at room temperature every one has a value
        found.append((word, f"{salt.called}, {100.0 * keeps:.0f} %: {salt.mind}"))
    return found


def _amount(quantity: Quantity, by: float, speech: Speech) -> str:
    if quantity is Quantity.HUMIDITY:
        return say("sensor.points", points=f"{100.0 * by:.1f}")
    return speech.kelvin(by)


def _value(quantity: Quantity, value: float, speech: Speech) -> str:
    return f"{100.0 * value:.1f} %" if quantity is Quantity.HUMIDITY else speech.temp(value)


@router.post("/sensors/{name}/jar")
def into_jar(request: Request, name: Name, form: Sent) -> Response:
    """Say that it is in a jar over a salt."""

    def deed(at: Opened, typed: Typed, who: str) -> Done:
        at_ms = _put_in_ms(at, typed)
        entries.put_in(at, name, typed.text("salt") or "", at_ms, who=who)
        alone = entries.measured_by_it_alone(at, name)
        more = f". {say('sensor.no_other', room=alone)}" if alone else ""
        return Done(say("sensor.put_in") + more)

    return _entered(request, name, form, deed)


@router.post("/sensors/{name}/keep")
def keep(request: Request, name: Name, form: Sent) -> Response:
    """Keep the check of a sensor that has settled."""

    def deed(at: Opened, _: Typed, who: str) -> Done:
        entries.keep(at, name, who=who)
        return Done(say("sensor.kept"))

    return _entered(request, name, form, deed)


@router.post("/sensors/{name}/hang")
def hang(request: Request, name: Name, form: Sent) -> Response:
    """Say that it hangs in its room again."""

    def deed(at: Opened, _: Typed, __: str) -> Done:
        jar = entries.hang(at, name, at.now_ms)
        counts_ms = counts_from_ms(jar.start_ms, max(at.now_ms, jar.start_ms))
        return Done(say("sensor.back_counts", at=at.words.at(counts_ms, at.now_ms)))

    return _entered(request, name, form, deed)


@router.post("/sensors/{name}/beside")
def beside(request: Request, name: Name, form: Sent) -> Response:
    """Keep that a trusted thermometer beside it shows a temperature."""
    room: Room = request.app.state.room
    imperial = room.settings.words().imperial

    def deed(at: Opened, typed: Typed, who: str) -> Done:
        temp_c = typed.temp_c("shows", imperial=imperial)
        error = typed.number("error")
        for field in ("shows", "error"):
            typed.needed(field)
        stop_at_faults(typed)
        assert temp_c is not None and error is not None  # noqa: S101, PT018 - both are needed
        shown = entries.Beside(
            temp_c,
            error / 1.8 if imperial else error,
            surface=typed.text("which") == "probe",
            in_f=imperial,
            really=typed.really,
        )
        entries.beside(at, name, shown, who=who)
        return Done(say("sensor.kept"))

    return _entered(request, name, form, deed)


@router.post("/sensors/{name}/renew")
def renew(request: Request, name: Name, form: Sent) -> Response:
    """Say that another sensor hangs in its place."""

    def deed(at: Opened, _: Typed, who: str) -> Done:
        entries.renew(at, name, at.now_ms, who=who)
        return Done(say("sensor.renewed"))

    return _entered(request, name, form, deed)


@router.post("/sensors/{name}/checks/{number}/undo")
def undo(request: Request, name: Name, number: Number, form: Sent) -> Response:
    """Take one of its checks back."""

    def deed(at: Opened, typed: Typed, who: str) -> Done:
        kept = at.store.sensor_checks.all(voided=True)
        if not any(check.id == number and check.sensor == name for check in kept):
            raise BadInput(say("sensor.not_its_check", number=number, sensor=name))
        why = typed.text("why") or say("sensor.taken_back", who=who or say("sensor.nobody"))
        stop_at_faults(typed)
        entries.take_back(at, number, why)
        return Done(say("sensor.void", why=why))

    return _entered(request, name, form, deed)


def _entered(
    request: Request, name: str, form: FormData, deed: Callable[[Opened, Typed, str], Done]
) -> Response:
    """Enter once what a form says, and show the sensor; refused, with all that was typed."""
    room: Room = request.app.state.room
    who = room.writer(request, str(form.get("token", ""))).who
    typed = Typed(form)
    try:
        if not form.get("key"):  # buttons that say nothing more are told apart by it alone
            raise BadInput(say("log.old_form"))  # noqa: TRY301 - shown as any other refusal
        done = room.desk.enter(
            lambda counter: once(counter, key_of(form), lambda at: deed(at, typed, who))
        )
    except BadInput as error:
        _blame(typed, error)
        return _page(request, name, typed=typed, status=422)
    return RedirectResponse(f"/sensors/{quote(name, safe='')}?done={done.key}", 303)


def _blame(typed: Typed, error: BadInput) -> None:
    """Put an error where it is of: at its field, else above all."""
    if isinstance(error, Faulty):
        return
    plain = in_page_words(without_commands(str(error)), "sensor")
    if isinstance(error, HardlyMeant):
        typed.faults["shows"], typed.faults[REALLY] = plain, say("form.really_hint")
    else:
        typed.faults.setdefault("", plain)


def _put_in_ms(at: Opened, typed: Typed) -> int:
    said = typed.text("at")
    stop_at_faults(typed)
    try:
        return past_ms(at, said)
    except BadInput as error:
        typed.faults["at"] = without_commands(str(error).removeprefix("--at ").strip())
        raise Faulty(str(error)) from error
