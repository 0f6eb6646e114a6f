from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from curewatch.assembly import finish_text
from curewatch.demo import climate, scenario
from curewatch.demo.page import WIDTH, page
from curewatch.demo.play import Answer, Played
from curewatch.demo.scenario import Message, at
from curewatch.demo.summary import Summary, summarise
from curewatch.errors import StorageError
from curewatch.settings import load_settings
from curewatch.shop.alert import Alert, AlertKind, AlertPhase
from curewatch.shop.piece import Coat
from curewatch.shop.reading import Quantity, Reading, Urgency
from curewatch.storage import Store

if TYPE_CHECKING:
    from pathlib import Path

DAYS = 6
STEP_MS = climate.STEP_MIN * scenario.MINUTE_MS


@pytest.fixture
def config(tmp_path: Path) -> Path:
    path = tmp_path / "shop.toml"
    path.write_text(scenario.configuration(1883))
    return path


def fill(config: Path, temps_c: list[float]) -> None:
    """Keep readings of one loft sensor at 50 %, and a piece with two coats on the first day."""
    settings = load_settings(config)
    with Store.open(settings.storage.path) as store:
        rows = [
            Reading("loft-rail", quantity, scenario.START_MS + step * STEP_MS, value)
            for step, temp_c in enumerate(temps_c)
            for quantity, value in ((Quantity.TEMPERATURE, temp_c), (Quantity.HUMIDITY, 0.5))
        ]
        with store.db.transaction():
            store.readings.add(rows)
        text = finish_text(settings, "waterborne")
        revision = store.finishes.keep("waterborne", text, 0)
        store.pieces.hang(
            "lid-2",
            "waterborne",
            revision,
            title="lid",
            at_ms=at(0, "8:00"),
            entered_ms=0,
            room=scenario.LOFT,
            planned_coats=3,
        )
        for clock in ("9:00", "11:00", "13:00"):
            store.pieces.coat("lid-2", Coat(at(0, clock)), 0)
        for number, clock in enumerate(("9:50", "11:50")):
            tell(store, AlertKind.RECOAT_OPEN, "piece:lid-2", at(0, clock), number)
        tell(store, AlertKind.COLD_YOUNG_FILM, "room:drying-loft#waterborne", at(1, "3:00"), 2)


def tell(store: Store, kind: AlertKind, subject: str, at_ms: int, number: int) -> None:
    alert = store.alerts.save(
        Alert(
            kind,
            subject,
            Urgency.NOTE,
            AlertPhase.RAISED,
            since_ms=at_ms,
            reason=f"reason {number} (lid-2)",
            next_action="",
            raised_ms=at_ms,
        ),
        at_ms=at_ms,
    )
    cleared = Alert(
        kind,
        subject,
        Urgency.NOTE,
        AlertPhase.CLEARED,
        since_ms=at_ms,
        reason=f"reason {number} (lid-2)",
        next_action="",
        raised_ms=at_ms,
        cleared_ms=at_ms + STEP_MS,
        id=alert.id,
    )
    store.alerts.save(cleared, at_ms=at_ms + STEP_MS)


def steady(temp_c: float, days: int = DAYS) -> list[float]:
    return [temp_c] * (days * climate.STEPS_A_DAY)


def summary_of(config: Path, temps_c: list[float]) -> Summary:
    fill(config, temps_c)
    return summarise(config)


def test_at_the_reference_climate_clock_and_calendar_agree(config: Path) -> None:
    compared = summary_of(config, steady(21.0)).pieces[0].comparison
    assert compared is not None
    assert compared.calendar_ms == at(3, "13:00")
    assert compared.nominal_ms == pytest.approx(compared.calendar_ms, abs=1000)
    assert compared.cautious_ms is not None
    assert compared.cautious_ms > compared.calendar_ms
    assert compared.lost.total == pytest.approx(0.0, abs=1e-6)
    assert not compared.expected


def test_losses_add_up_to_the_difference_between_hook_and_clock(config: Path) -> None:
    night = 8 * 12
    temps = steady(21.0, 1) + [12.0] * night + steady(18.0, DAYS - 1)
    story = summary_of(config, temps).pieces[0]
    compared = story.comparison
    assert compared is not None
    assert compared.nominal_ms is not None
    hook_h = (compared.nominal_ms - at(0, "13:00")) / scenario.HOUR_MS
    assert hook_h - compared.lost.total == pytest.approx(compared.asked_h, abs=0.02)
    assert compared.lost.cold == pytest.approx(8.0, abs=0.2)  # and a sliver of each slope
    assert compared.lost.cool > 5.0
    assert compared.lost.damp == pytest.approx(0.0, abs=1e-6)


def test_hours_without_readings_are_told_apart(config: Path) -> None:
    temps = steady(21.0)
    fill(config, temps)
    settings = load_settings(config)
    with Store.open(settings.storage.path) as store:
        store.readings.void("loft-rail", at(1, "0:00"), at(1, "6:00"), why="a trial", at_ms=0)
    compared = summarise(config).pieces[0].comparison
    assert compared is not None
    assert compared.lost.unheard == pytest.approx(6.0, abs=0.2)
    assert compared.nominal_ms == pytest.approx(at(3, "19:00"), abs=10 * 60_000)


def test_a_date_that_lies_ahead_is_called_expected(config: Path) -> None:
    compared = summary_of(config, steady(21.0, 2)).pieces[0].comparison
    assert compared is not None
    assert compared.expected
    assert compared.nominal_ms == pytest.approx(at(3, "13:00"), abs=10 * 60_000)


def test_what_was_said_of_a_room_stands_with_the_piece_it_names(config: Path) -> None:
    summary = summary_of(config, steady(21.0))
    assert [told.kind for told in summary.pieces[0].told] == [
        AlertKind.RECOAT_OPEN,
        AlertKind.RECOAT_OPEN,
        AlertKind.COLD_YOUNG_FILM,
    ]
    assert summary.kinds == {AlertKind.RECOAT_OPEN, AlertKind.COLD_YOUNG_FILM}
    plain = summary.plain()
    assert plain["invented"] is True
    assert plain["alert_kinds"] == ["cold-young-film", "recoat-open"]


def test_an_empty_database_is_an_error_that_says_so(config: Path) -> None:
    with Store.open(load_settings(config).storage.path):
        pass
    with pytest.raises(StorageError, match="no reading arrived"):
        summarise(config)


def lines_of(config: Path, kept: str | None = None) -> list[str]:
    answers = (
        Answer(at(2, "9:00"), ("work", "lid-2", "buff"), 20, "lid-2: Not ready.\n\nAdvice."),
        Answer(at(2, "9:00"), ("work", "lid-2", "buff", "--anyway", "a show"), 0, "done"),
    )
    played = Played(config, messages=1728, seconds=1.0, answers=answers)
    return page(summary_of(config, steady(21.0)), played, kept)


def test_the_page_is_eighty_columns_of_plain_text(config: Path) -> None:
    lines = lines_of(config, kept="/somewhere/far/away")
    assert max(len(line) for line in lines) <= WIDTH
    assert all(line.isprintable() for line in lines)


def test_the_page_says_invented_first_and_safety_last(config: Path) -> None:
    text = "\n".join(lines_of(config))
    assert text.startswith("An invented shop")
    assert "made up" in text
    assert " ".join(text.split()).endswith("no permission to enter a booth.")


def test_the_page_folds_what_was_said_after_every_coat(config: Path) -> None:
    text = " ".join("\n".join(lines_of(config)).split())
    assert "Said 2 times in all, last Mon 6 Oct 11:50." in text


def test_the_page_tells_what_a_command_refused_and_why_it_was_done(config: Path) -> None:
    text = " ".join("\n".join(lines_of(config)).split())
    assert "The command 'work' refused: lid-2: Not ready." in text
    assert "Done all the same: 'a show'." in text


def test_a_message_says_its_own_time() -> None:
    message = Message(12345, "demo/room/sensor", 20.5, 51.0)
    assert message.payload() == {"at": 12345, "temperature": 20.5, "humidity": 51.0}
