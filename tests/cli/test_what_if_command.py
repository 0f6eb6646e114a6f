"""What-if at the bench: one change at a time, a range for an answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.cli.conftest import NOW_MS

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Curewatch, Said, StoresClimate

TYPED = ("--from-temp-c", "18", "--from-rh-pct", "45")


def ask(curewatch: Curewatch, *words: str, finish: str = "waterborne") -> Said:
    """Ask about a finish."""
    return curewatch("what-if", "--finish", finish, *words)


def hang(curewatch: Curewatch, tag: str = "B12", coats: int = 2) -> None:
    """Hang a piece in the drying room and lay coats of the day before."""
    curewatch("piece", "hang", tag, "--finish", "waterborne", "--room", "drying",
              "--coats", "4", "--at", "2026-03-01T08:00")  # fmt: skip
    for n in range(coats):
        curewatch("coat", tag, "--at", f"2026-03-04T{8 + 2 * n:02d}:00")


def test_typed_air_needs_no_database(curewatch: Curewatch, shop_config: Path) -> None:
    (shop_config.parent / "shop.db").unlink()
    said = ask(curewatch, *TYPED, "--temp-c", "27")
    assert said.out.startswith("At 27.0 °C, with the air's water kept: it would cure x1.7 to x2.9")
    assert said.narrow()
    assert not (shop_config.parent / "shop.db").exists()


def test_the_contract_without_a_room(curewatch: Curewatch) -> None:
    plain = ask(curewatch, "--temp-c", "27", "--rh-pct", "50", "--json").plain
    rate = plain["rate"]["against_reference"]
    assert rate["low"] == pytest.approx(1.33, abs=0.01)  # 35 kJ/mol by hand
    assert rate["likely"] == pytest.approx(1.57, abs=0.01)  # 55
    assert rate["high"] == pytest.approx(1.93, abs=0.01)  # 80
    assert plain["rate"]["against_room"] is None
    assert plain["rate"]["why_not_against_room"] == "no room was named"
    assert plain["wood_emc_pct"]["then"] == pytest.approx(9.1, abs=0.05)
    assert plain["cautions"]


def test_a_room_is_compared_with_as_it_is(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(temp_c=18.0, rh_pct=45.0)
    plain = ask(curewatch, "drying", "--cabinet-c", "32", "--json").plain
    assert plain["from"]["source"] == "measured"
    assert plain["from"]["temp_c"] == pytest.approx(18.0)
    assert plain["to"]["rh_pct"] == pytest.approx(19.5, abs=0.1)
    ratio = plain["rate"]["against_room"]
    assert 1.0 < ratio["low"] < ratio["likely"] < ratio["high"]
    assert plain["wood_emc_pct"]["as_it_is"] == pytest.approx(8.5, abs=0.1)
    assert plain["wood_emc_pct"]["then"] == pytest.approx(4.2, abs=0.1)
    said = ask(curewatch, "drying", "--cabinet-c", "38")
    assert "More heat earns nothing above 32.0 °C" in said.flat
    assert "a separate over-temperature cut" in said.flat
    assert "as the room" not in said.flat
    assert said.narrow()


def test_a_room_not_heard_lately_is_unknown(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(temp_c=18.0, until_ms=NOW_MS - 6 * 3_600_000)
    climate("spray")
    said = ask(curewatch, "drying", "--temp-c", "27")
    assert "drying: no fresh reading" in said.flat
    assert "the air is not known" in said.flat
    plain = ask(curewatch, "drying", "--temp-c", "27", "--rh-pct", "40", "--json").plain
    assert plain["rate"]["against_room"] is None
    assert plain["rate"]["against_reference"]["likely"] > 1.0


def test_humidity_alone_can_be_asked(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(temp_c=20.0, rh_pct=75.0)
    plain = ask(curewatch, "drying", "--rh-pct", "50", "--json").plain
    assert plain["to"] == {"temp_c": pytest.approx(20.0), "rh_pct": 50.0}
    assert plain["drying_rate"]["against_room"]["low"] > 1.5
    assert "dried" in next(c["text"] for c in plain["cautions"] if c["about"] == "humidity")
    said = ask(curewatch, "drying", "--rh-pct", "50", finish="nitro-lacquer")
    assert "hardly a rate" in said.flat


def test_a_heater_is_laid_over_the_rooms_own_days(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate(days=10.0, temp_c=lambda hour: 21.0 if 8.0 <= (hour + 12.0) % 24.0 < 18.0 else 16.0)
    night = ("drying", "--heater", "21", "--hours", "18:00-8:00")
    plain = ask(curewatch, *night, "--json").plain
    assert plain["from"]["source"] == "usual days"
    assert plain["from"]["known_pct"] == pytest.approx(100.0, abs=0.5)
    assert plain["rate"]["against_reference"]["likely"] > 0.98
    assert plain["rate"]["against_room"]["low"] > 1.05
    by_day = ask(curewatch, "drying", "--heater", "20", "--hours", "8:00-18:00", "--json").plain
    assert by_day["rate"]["against_room"]["high"] < 1.05  # warm already: the heater rests
    said = ask(curewatch, *night)
    assert "its last 7 days, 100 % of them measured" in said.flat
    assert said.narrow()


def test_a_heater_over_typed_air(curewatch: Curewatch) -> None:
    said = ask(curewatch, *TYPED, "--heater", "21", "--hours", "8:00-18:00")
    assert said.out.startswith("A heater at 21.0 °C from 8:00-18:00: it would cure x1.1 to x1.2")


def test_a_fan_answers_for_drying(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(temp_c=20.0)
    said = ask(curewatch, "drying", "--fan")
    assert said.out.startswith("With a fan on: it would dry x1.9 to x2.3 as fast")
    assert "No fan while the coat flows" in said.flat
    assert "It would cure about x1.0 as fast as now" in said.flat


def test_a_piece_is_told_what_it_gains(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(temp_c=18.0)
    hang(curewatch)
    said = curewatch("what-if", "--piece", "B12", "--cabinet-c", "27")
    assert "B12, if no further coat is laid:" in said.out
    assert "Buffing: " in said.out
    assert "sooner." in said.out
    assert said.narrow()
    plain = curewatch("what-if", "drying", "--piece", "B12", "--temp-c", "27", "--json").plain
    buff = next(stone for stone in plain["milestones"] if stone["milestone"] == "buff")
    assert 0.0 < buff["saved_h"]["low"] < buff["saved_h"]["high"]
    assert buff["then"]["likely"] < buff["as_it_is"]["likely"]
    heat = curewatch("what-if", "--piece", "B12", "--heater", "24", "--hours", "0:00-23:59",
                     "--json").plain  # fmt: skip
    assert heat["milestones"][0]["saved_h"]["low"] > 0.0


def test_another_finish_and_fewer_coats(curewatch: Curewatch, climate: StoresClimate) -> None:
    climate(temp_c=20.0)
    other = ask(curewatch, "drying", "--other-finish", "two-part-urethane", "--coats", "6")
    assert "Two-part polyurethane" in other.out
    assert "from the last coat to" in other.out
    assert other.narrow()
    fewer = ask(curewatch, "drying", "--fewer-coats", "2", "--coats", "8")
    assert "6 coats instead of 8: buffing comes" in fewer.flat
    assert "a sand-through shows" in fewer.flat
    hang(curewatch)
    plain = curewatch("what-if", "--piece", "B12", "--fewer-coats", "1", "--json").plain
    assert plain["asked"] == "3 coats instead of 4"
    assert plain["rate"]["against_room"] is None
    complaint = curewatch("what-if", "--piece", "B12", "--fewer-coats", "3", status=2).complaint
    assert "2 of them are on" in complaint


def test_a_finish_cured_by_dose_cannot_be_told(curewatch: Curewatch) -> None:
    said = ask(curewatch, "--temp-c", "30", finish="dose-cured")
    assert "cannot be told: it is cured by dose" in said.flat
    plain = ask(curewatch, "--temp-c", "30", "--json", finish="dose-cured").plain
    assert plain["rate"] is None


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        ((), "nothing is asked"),
        (("--temp-c", "27", "--fan"), "--temp-c and --fan is asked"),
        (("--temp-c", "270"), "--temp-c 270 degC cannot be: give -40 to 80"),
        (("--temp-c", "nan"), "cannot be"),
        (("--rh-pct", "120"), "--rh-pct 120 % cannot be: give 0 to 100"),
        (("--heater", "21"), "belong together"),
        (("--heater", "21", "--hours", "8-18"), "write when it is on"),
        (("--heater", "21", "--hours", "8:00-8:00"), "write when it is on"),
        (("--heater", "21", "--hours", "8:75-9:00"), "write when it is on"),
        (("--temp-c", "27", "--from-rh-pct", "50"), "needs --from-temp-c"),
        (("drying", "--temp-c", "27", "--from-temp-c", "18"), "name no room"),
        (("--temp-c", "27", "--coats", "3"), "goes with --other-finish"),
        (("--fewer-coats", "2"), "how many coats"),
        (("--fewer-coats", "0", "--coats", "3"), "leave at least one"),
        (("--fewer-coats", "3", "--coats", "3"), "leave at least one"),
        (("--other-finish", "waterborne", "--coats", "0"), "how many coats"),
        (("attic", "--temp-c", "27"), "there is no room 'attic'"),
    ],
)
def test_what_cannot_be_meant_is_refused(
    curewatch: Curewatch, words: tuple[str, ...], complaint: str
) -> None:
    said = curewatch("what-if", "--finish", "waterborne", *words, status=2)
    assert complaint in said.complaint
    assert not said.out


def test_a_piece_brings_its_own_room_and_finish(
    curewatch: Curewatch, climate: StoresClimate
) -> None:
    climate()
    hang(curewatch, coats=0)
    for words, complaint in (
        (("--finish", "shellac"), "is sprayed with waterborne"),
        (("spray",), "hangs in drying, not in spray"),
        ((), "keeps its finish"),
    ):
        change = ("--temp-c", "27") if words else ("--other-finish", "shellac", "--coats", "3")
        said = curewatch("what-if", *words, "--piece", "B12", *change, status=2)
        assert complaint in said.complaint
    assert "whose clocks?" in curewatch("what-if", "--temp-c", "27", status=2).complaint
    curewatch("piece", "leave", "B12", status=None)
    gone = curewatch("what-if", "--piece", "B12", "--temp-c", "27", status=2)
    assert "hangs in no room" in gone.complaint
