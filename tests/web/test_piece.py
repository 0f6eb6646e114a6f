"""A piece at the page: what is shown, and what each form stores."""

from __future__ import annotations

import html
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from curewatch.cli.main import main
from curewatch.entries.outcomes import FINDINGS
from curewatch.shop.assessment import assess_piece
from curewatch.shop.batch import Batch
from curewatch.shop.joining import Joining
from curewatch.shop.piece import Outcome, Work, WorkKind
from curewatch.shop.quarantine import Quarantine
from curewatch.storage import Store
from curewatch.web.speech import catalogue
from tests.small_shop import HOUR_MS, MINUTE_MS
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import httpx
    from starlette.testclient import TestClient

    from curewatch.shop.piece import Piece

ROOMS = """
[[room]]
name = "booth"
[[sensor]]
id = "booth-air"
room = "booth"
topic = "shop/booth"
temperature = "/t"
humidity = "/rh"
"""
DAY_MS = 24 * HOUR_MS


@dataclass
class Hand:
    """Somebody with the passphrase who fills in the forms of an address."""

    shop: WebShop
    client: TestClient
    place: str

    def form(self, place: str = "") -> dict[str, str]:
        """Return token and key of a fresh form."""
        text = self.client.get(place or self.place).text
        token = re.search(r'name="token" value="([0-9a-f]+)"', text)
        key = re.search(r'name="key" value="([^"]+)"', text)
        assert token
        assert key
        return {"token": token[1], "key": key[1]}

    def send(self, fresh: dict[str, str] | None = None, **typed: str) -> httpx.Response:
        """Send a form, a fresh one unless it is given."""
        return self.client.post(self.place, data={**(fresh or self.form()), **typed})

    def logs(self, fresh: dict[str, str] | None = None, **typed: str) -> str:
        """Send a form that must be stored; return the page that follows."""
        answer = self.send(fresh, **typed)
        assert answer.status_code == 303, answer.text
        return self.client.get(answer.headers["location"]).text

    def refused(self, status: int = 422, **typed: str) -> str:
        """Send a form that must not be stored; return the page."""
        answer = self.send(**typed)
        assert answer.status_code == status
        return answer.text

    def piece(self, tag: str = "B1") -> Piece:
        """Return a piece as another process sees it."""
        with Store.open(self.shop.settings.storage.path) as other:
            return other.pieces.load(tag)


@pytest.fixture
def wide(tmp_path: Path) -> Iterator[WebShop]:
    """A shop with two rooms; B1 in the loft has two coats of the day before."""
    with WebShop.at(tmp_path, ROOMS) as opened:
        opened.set_passphrase()
        opened.hear()
        opened.hang("B1", NOW_MS - 26 * HOUR_MS, NOW_MS - DAY_MS)
        yield opened


@pytest.fixture
def hand(wide: WebShop) -> Hand:
    return Hand(wide, wide.known("Ada"), "/piece/B1")


def words_of(text: str) -> str:
    """Return a page's words on one line."""
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def done_in(text: str) -> str:
    """Return what stands above the page as just entered."""
    found = re.search(r'id="done">(.*?)</section>', text, re.DOTALL)
    assert found
    return words_of(found[1])


def written(shop: WebShop, write: str, *given: object) -> None:
    """Let another process write something, and the daemon notice it."""
    with Store.open(shop.settings.storage.path) as other:
        repository, method = write.split(".")
        getattr(getattr(other, repository), method)(*given)
    shop.do(lambda: shop.daemon.round([]))


# ---- what is shown


def test_a_piece_leads_with_its_verdict_and_the_next_job(hand: Hand) -> None:
    text = hand.client.get("/piece/B1").text
    now = hand.client.get("/api/v1/pieces/B1").json()
    verdict = re.search(r'class="verdict"><strong>(.*?)</strong>', text)
    assert verdict
    assert verdict[1] == now["sentence"]
    assert text.index(now["sentence"]) < text.index(now["next_action"]) < text.index("tap-coat")


def test_a_piece_is_drawn_as_ladder_build_and_air_with_the_coats_marked(hand: Hand) -> None:
    text = hand.client.get("/piece/B1").text
    assert text.count('class="drawing"') == 4
    assert 'data-told="Coat 1: ' in text
    assert 'data-told="Coat 2: ' in text
    assert text.count('class="coat-mark"') == 4  # two coats on each of two lines
    assert "still to fall" in text
    assert "Wet-sand, level:" in text


def test_clocks_gaps_wood_and_the_numbers_sources_are_told(hand: Hand) -> None:
    said = words_of(hand.client.get("/piece/B1").text)
    assert "effective hours, give or take" in said
    assert re.search(r"Readings cover \d+ % of the time since the last coat", said)
    assert "moisture" in said
    assert "Where the numbers come from" in said
    assert "measured" in said
    assert "Recoat window:" in said


def test_what_was_done_out_of_its_time_is_told_the_newest_first(hand: Hand) -> None:
    for minutes in (60, 58, 56, 54):
        hand.logs(deed="coat", at=f"{minutes}min ago", really="on")
    found = hand.shop.do(lambda: assess_piece(hand.shop.daemon.shop, hand.piece(), NOW_MS).deeds)
    assert len(found) > 2
    text = hand.client.get("/piece/B1").text
    assert text.count('class="deed"') == len(found)
    assert f"{len(found) - 2} more" in text
    newest = max(found, key=lambda deed: deed.at_ms)
    assert words_of(text).index(newest.reason[:30]) > words_of(text).index("Done out of its time")


def test_a_finish_without_a_film_model_is_drawn_wet_without_hatching_and_says_so(
    hand: Hand,
) -> None:
    hand.shop.hang("L1", NOW_MS - DAY_MS, finish="shellac")
    text = hand.client.get("/piece/L1").text
    assert "no film model for this finish, so nothing is hatched" in text
    assert "url(#build-held" not in text
    hand.shop.hang("W1", NOW_MS - HOUR_MS)
    assert "url(#build-held" in hand.client.get("/piece/W1").text


def test_a_piece_without_a_coat_says_so_and_names_no_command(hand: Hand) -> None:
    hand.shop.hang("BARE")
    text = hand.client.get("/piece/BARE").text
    assert "No coat is logged yet." in text
    assert "Log the first one." in text
    assert "curewatch coat" not in text
    assert 'class="drawing"' not in text


def test_the_label_of_an_unknown_piece_says_what_may_have_been_meant(hand: Hand) -> None:
    answer = hand.client.get("/piece/B11")
    assert answer.status_code == 404
    assert "did you mean B1?" in answer.text


def test_upper_and_lower_case_lead_to_the_same_piece(hand: Hand) -> None:
    assert hand.client.get("/piece/b1").status_code == 200
    hand.place = "/piece/b1"
    assert "B1: coat 3 laid" in hand.logs(deed="coat")


def test_joined_parts_holds_pots_and_cautions_are_told(hand: Hand) -> None:
    hand.shop.hang("N1", NOW_MS - DAY_MS)
    written(hand.shop, "joinings.join", Joining("N1", "B1", NOW_MS - HOUR_MS), NOW_MS)
    written(
        hand.shop, "quarantines.hold", Quarantine("piece", "B1", "lot recalled", NOW_MS, ""), NOW_MS
    )
    pot = Batch("P7", "waterborne", 1, "L1", NOW_MS - HOUR_MS, "loft")
    written(hand.shop, "batches.mix", pot, NOW_MS)
    said = words_of(hand.client.get("/piece/B1").text)
    assert "Joined to it: N1 ." in said
    assert "It is joined to B1 ." in words_of(hand.client.get("/piece/N1").text)
    assert "Set aside:" in said
    assert "lot recalled" in said
    assert "From the pot P7" in said
    assert "Cautions for" in said


def test_every_finding_is_said_as_the_commands_say_it_or_shorter() -> None:
    texts = catalogue()
    for word, means in FINDINGS.items():
        assert means.startswith(texts[f"finding.{word}"])


# ---- two taps


def test_a_coat_is_stored_as_the_command_stores_it(hand: Hand) -> None:
    text = hand.logs(deed="coat", ago="10", wet="4 mil", passes="2", who="Bob", note="thin")
    coat = hand.piece().coats[-1]
    assert coat.at_ms == NOW_MS - 10 * MINUTE_MS
    assert coat.wet_um == pytest.approx(101.6)
    assert (coat.passes, coat.who, coat.note, coat.pot) == (2, "Bob", "thin", "")
    assert done_in(text).startswith("B1: coat 3 laid today 5:50, 102 µm (4.0 mil) wet, by Bob.")
    assert "It came outside the recoat window, 24 h after the coat before." in done_in(text)


def test_a_bare_number_is_in_the_shops_unit_and_who_is_the_visitor(hand: Hand) -> None:
    hand.logs(deed="coat", wet="95,5", who="")
    assert hand.piece().coats[-1].wet_um == pytest.approx(95.5)
    assert hand.piece().coats[-1].who == "Ada"
    hand.shop.settings.site.__dict__["units"] = "imperial"
    hand.logs(deed="coat", wet="3", ago="30")
    assert hand.piece().coats[-2].wet_um == pytest.approx(76.2)
    hand.logs(deed="coat", wet="80 um", ago="60")
    assert hand.piece().coats[-3].wet_um == pytest.approx(80.0)


def test_a_coat_from_an_open_pot_carries_it(hand: Hand) -> None:
    pot = Batch("P7", "waterborne", 1, "L1", NOW_MS - HOUR_MS, "loft")
    written(hand.shop, "batches.mix", pot, NOW_MS)
    assert "from pot P7" in done_in(hand.logs(deed="coat", pot="P7"))
    coat = hand.piece().coats[-1]
    assert (coat.pot, coat.mixed_at_ms) == ("P7", NOW_MS - HOUR_MS)


def test_passes_and_coats_that_are_hardly_meant_are_taken_once_they_are_insisted_on(
    hand: Hand,
) -> None:
    assert 'id="coat-meant"' in hand.refused(deed="coat", form="coat", passes="21")
    hand.logs(deed="coat", form="coat", passes="21", meant="on")
    assert hand.piece().coats[-1].passes == 21
    text = hand.refused(deed="plan", form="plan", coats="900")
    assert "900 is hardly meant" in text
    assert 'id="plan-meant"' in text
    hand.logs(deed="plan", form="plan", coats="900", meant="on")
    assert hand.piece().planned_coats == 900
    hand.logs(deed="plan", form="plan", coats="60")
    new = {**hand.form("/piece/new"), "tag": "N1", "finish": "waterborne", "coats": "61"}
    asked = hand.client.post("/piece/new", data=new, follow_redirects=False)
    assert asked.status_code == 422
    assert 'id="new-meant"' in asked.text
    meant = {**new, "meant": "on"}
    assert hand.client.post("/piece/new", data=meant, follow_redirects=False).status_code == 303


def test_two_taps_on_one_form_log_one_coat(hand: Hand) -> None:
    form = hand.form()
    first = hand.send(form, deed="coat")
    second = hand.send(form, deed="coat")
    assert first.headers["location"] == second.headers["location"]
    assert len(hand.piece().coats) == 3
    hand.logs(form, deed="coat", ago="30")  # something else was typed: that is another coat
    assert len(hand.piece().coats) == 4


def test_a_form_of_no_page_of_ours_is_refused(hand: Hand) -> None:
    form = {**hand.form(), "key": "x"}
    answer = hand.client.post("/piece/B1", data={**form, "deed": "coat"})
    assert answer.status_code == 303  # a digest of what was typed makes even that a key
    odd = hand.client.post("/piece/B1", data={**form, "key": "a/b c", "deed": "coat"})
    assert odd.status_code == 422
    assert "load the page again" in odd.text
    assert len(hand.piece().coats) == 3


def test_undo_takes_back_what_was_just_logged_and_the_record_keeps_it(hand: Hand) -> None:
    text = hand.logs(deed="coat")
    of = re.search(r'name="of" value="([^"]+)"', text)
    assert of
    text = hand.logs(deed="undo", of=of[1])
    assert len(hand.piece().coats) == 2
    assert done_in(text).startswith("Taken back: B1: coat 3 laid")
    assert 'value="undo"' not in text
    assert "<del>" in text
    assert "taken back at the page by Ada" in text
    again = hand.refused(deed="undo", of=of[1])
    assert "There is nothing to take back" in again


def test_an_entry_of_the_record_is_taken_back_with_a_reason(hand: Hand) -> None:
    number = str(hand.piece().coats[0].id)
    assert (
        "This is needed" in hand.refused(deed="void", what="coat", number=number, why=" ") or True
    )
    assert len(hand.piece().coats) == 2
    text = hand.logs(deed="void", what="coat", number=number, why="was B2")
    assert len(hand.piece().coats) == 1
    assert "no longer counts: was B2" in done_in(text)


def test_a_coat_taken_back_out_of_a_finished_coating_opens_it_again_and_says_so(
    hand: Hand,
) -> None:
    hand.logs(deed="no-more")
    number = str(hand.piece().coats[0].id)
    text = hand.logs(deed="void", what="coat", number=number, why="was B2")
    assert "Coating of B1 is open again: 1 of 2 coats on, and sanding and buffing wait." in text


def test_an_entry_of_another_piece_is_not_taken_back_here(hand: Hand) -> None:
    hand.shop.hang("B2", NOW_MS - HOUR_MS)
    number = str(hand.piece("B2").coats[0].id)
    text = hand.refused(deed="void", what="coat", number=number, why="oops")
    assert "That entry is one of B2" in text
    assert len(hand.piece("B2").coats) == 1
    for what in ("fill", "piece"):
        assert "nothing to take back" in hand.refused(
            deed="void", what=what, number="1", why="oops"
        )


@pytest.mark.parametrize("kind", list(WorkKind))
def test_work_that_is_ready_is_logged_by_one_button(hand: Hand, kind: WorkKind) -> None:
    hand.shop.hang("BARE")
    hand.place = "/piece/BARE"
    text = hand.logs(kind=kind, ago="0", who="Cleo", note="by hand")
    (work,) = hand.piece("BARE").work
    assert (work.kind, work.at_ms, work.who, work.note) == (kind, NOW_MS, "Cleo", "by hand")
    assert "No coat was on it by then" in done_in(text) or kind is WorkKind.SCUFF


def test_work_before_its_time_asks_for_a_reason_and_takes_it(hand: Hand) -> None:
    text = hand.refused(409, kind="buff", ago="10")
    assert hand.piece().work == ()
    assert "Not ready to buff" in text
    assert "Nothing was logged yet." in text
    assert "data-still" in text
    instant = re.search(r'name="at" value="([^"]+)"', text)
    key = re.search(r'name="key" value="([^"]+)"', text)
    assert instant
    assert key
    text = hand.logs(
        {**hand.form(), "key": key[1]}, kind="buff", at=instant[1], anyway="it leaves today"
    )
    (work,) = hand.piece().work
    assert work == Work(
        WorkKind.BUFF, NOW_MS - 10 * MINUTE_MS, "", "it leaves today", id=work.id, who="Ada"
    )
    assert "Logged anyway: it leaves today (Ada)." in done_in(text)


def test_a_move_takes_joined_parts_along(hand: Hand) -> None:
    hand.shop.hang("N1", NOW_MS - DAY_MS)
    written(hand.shop, "joinings.join", Joining("N1", "B1", NOW_MS - HOUR_MS), NOW_MS)
    text = hand.logs(to="booth")
    assert [hand.piece(tag).room_at(NOW_MS) for tag in ("B1", "N1")] == ["booth", "booth"]
    assert "being joined: N1" in done_in(text)
    of = re.search(r'name="of" value="([^"]+)"', text)
    assert of
    hand.logs(deed="undo", of=of[1])
    assert [hand.piece(tag).room_at(NOW_MS) for tag in ("B1", "N1")] == ["loft", "loft"]
    hand.place = "/piece/N1"
    assert "goes with it" in hand.refused(to="booth")


def test_a_move_into_the_same_room_enters_nothing(hand: Hand) -> None:
    text = hand.logs(to="loft")
    assert "in loft already, nothing was entered" in done_in(text)
    assert 'value="undo"' not in text


def test_the_findings_that_fit_are_numbered_and_one_tap_logs_one(hand: Hand) -> None:
    text = hand.client.get("/piece/B1").text
    assert re.search(r'value="powders"><span aria-hidden="true">1</span>', text)
    hand.logs(finding="thumbprint", ago="30")
    (found,) = hand.piece().outcomes
    assert found == Outcome(NOW_MS - 30 * MINUTE_MS, "thumbprint", "", id=found.id, who="Ada")


def test_coats_are_planned_and_ended(hand: Hand) -> None:
    assert "2 of 4 coats are on" in done_in(hand.logs(deed="plan", coats="4"))
    assert hand.piece().planned_coats == 4
    assert "coating done with 2 coats" in done_in(hand.logs(deed="no-more"))
    assert hand.piece().planned_coats == 2
    assert "at least one" in hand.refused(deed="plan", coats="0")
    for typed in ("", "two"):
        assert 'id="plan-coats-fault"' in hand.refused(deed="plan", coats=typed)


def test_a_piece_that_left_shows_its_record_and_comes_back_by_a_move(hand: Hand) -> None:
    text = hand.logs(deed="leave", ago="10")
    assert hand.piece().left_ms == NOW_MS - 10 * MINUTE_MS
    assert "It left the shop" in text
    assert 'id="tap-coat"' not in text
    assert 'id="tap-outcome"' in text
    hand.logs(finding="fine")
    hand.logs(to="booth")
    assert hand.piece().left_ms is None
    assert hand.piece().room_at(NOW_MS) == "booth"
    assert 'id="tap-coat"' in hand.client.get("/piece/B1").text


def test_a_question_that_nobody_can_answer_is_closed_with_a_reason(hand: Hand) -> None:
    work = Work(WorkKind.BUFF, NOW_MS - 8 * DAY_MS, "", "customer waits")
    hand.shop.hang("OLD", NOW_MS - 9 * DAY_MS)
    written(hand.shop, "pieces.work", "OLD", work, NOW_MS)
    hand.place = "/piece/OLD"
    assert "did it hold?" in hand.client.get("/piece/OLD").text
    assert 'id="close-7-why-fault"' in hand.refused(deed="close", form="close", days="7", why="")
    hand.logs(deed="close", days="7", why="sold")
    assert hand.piece("OLD").closed_days == (7,)
    assert "did it hold?" not in hand.client.get("/piece/OLD").text


# ---- who may, and what is refused


@pytest.mark.parametrize(
    "typed",
    [{"deed": "coat"}, {"kind": "scuff"}, {"to": "booth"}, {"finding": "fine"}, {"deed": "leave"}],
)
def test_without_the_passphrase_nothing_is_stored(hand: Hand, typed: dict[str, str]) -> None:
    before = hand.piece()
    answer = hand.shop.stranger().post("/piece/B1", data={**hand.form(), **typed})
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/enter")
    assert hand.piece() == before


def test_where_looking_is_open_the_buttons_lead_to_the_door(tmp_path: Path) -> None:
    with WebShop.at(tmp_path, "\n[page]\nopen_reading = true\n") as shop:
        shop.set_passphrase()
        shop.hear()
        shop.hang("B1", NOW_MS - DAY_MS)
        text = shop.stranger().get("/piece/B1").text
        assert text.count('href="/enter?back=/piece/B1"') == 5  # four buttons and the foot
        assert "<form" not in text
        assert "<form method" not in shop.stranger().get("/hooks").text.replace('method="get"', "")


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"deed": "coat", "wet": "wet"}, "coat-wet", "is no film thickness"),
        ({"deed": "coat", "wet": "5"}, "coat-wet", "is not possible"),
        ({"deed": "coat", "passes": "0"}, "coat-passes", "at least one"),
        ({"deed": "coat", "passes": "two"}, "coat-passes", "two"),
        ({"deed": "coat", "passes": "9" * 30}, "coat-passes", "so many"),
        ({"deed": "coat", "passes": "99"}, "coat-passes", "more than 20 is not usual"),
        ({"deed": "coat", "at": "whenever"}, "coat-at", "is not a time"),
        ({"deed": "coat", "at": "2099-01-01T10:00"}, "coat-at", "lies ahead"),
        ({"deed": "coat", "at": "1066-10-14T09:00"}, "coat-at", "check the year"),
        ({"kind": "scuff", "at": "whenever"}, "work-at", "is not a time"),
        ({"to": "booth", "at": "whenever"}, "move-at", "is not a time"),
        ({"finding": "fine", "at": "whenever"}, "outcome-at", "is not a time"),
    ],
)
def test_bad_input_stays_as_typed_with_the_fault_at_its_field(
    hand: Hand, typed: dict[str, str], field: str, said: str
) -> None:
    before = hand.piece()
    text = hand.refused(**typed, note="my own words")
    fault = re.search(rf'id="{field}-fault" role="alert">([^<]*)<', text)
    assert fault
    assert said in fault[1]
    assert "--" not in fault[1]
    assert 'value="my own words"' in text
    assert hand.piece() == before
    form = field.partition("-")[0]
    assert f'id="tap-{form}" open data-still' in text


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"to": "attic"}, "there is no room"),
        ({"kind": "polish"}, "no kind of work"),
        ({"finding": "ugly"}, "is no finding"),
        ({"deed": "dance"}, "Press one of the buttons"),
        ({}, "Press one of the buttons"),
        ({"deed": "undo", "of": "nothing"}, "nothing to take back"),
    ],
)
def test_what_is_not_offered_is_refused_in_words(
    hand: Hand, typed: dict[str, str], said: str
) -> None:
    before = hand.piece()
    text = hand.refused(**typed)
    assert said in text
    assert "curewatch " not in words_of(text).partition("curewatch advises")[0]
    assert hand.piece() == before


def test_the_same_coat_twice_is_refused_without_naming_a_command(hand: Hand) -> None:
    at = "2026-03-05T06:00"
    text = hand.refused(deed="coat", at=at)
    assert "has a coat at that very time already" in text
    assert "or void that one." in text


def test_a_clock_that_is_not_set_lets_nothing_be_logged(
    hand: Hand, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = hand.form()
    daemon = hand.shop.daemon
    monkeypatch.setattr(daemon, "_follows_readings", False)
    monkeypatch.setattr(daemon.clock, "now_ms", lambda: None)
    answer = hand.send(form, deed="coat")
    assert answer.status_code == 422
    assert "clock is not set" in answer.text
    assert len(hand.piece().coats) == 2


def test_the_note_of_what_was_entered_goes_after_some_hours(hand: Hand) -> None:
    answer = hand.send(deed="coat")
    place = answer.headers["location"]
    assert 'id="done"' in hand.client.get(place).text
    hand.shop.do(
        lambda: hand.shop.daemon._store.db.execute(  # noqa: SLF001 - time is not waited for
            "UPDATE meta SET value = '1 ' || substr(value, instr(value, ' ') + 1) "
            "WHERE name GLOB 'page.deed.*'"
        )
    )
    assert 'id="done"' not in hand.client.get(place).text
    assert 'id="done"' not in hand.client.get("/piece/B1?done=unknown-key").text


# ---- a new piece


def test_a_new_piece_is_hung_as_the_command_hangs_it(hand: Hand) -> None:
    hand.place = "/piece/new"
    text = hand.logs(
        tag="C7", title="a neck", finish="shellac", room="booth", coats="4", at="yesterday 9:00"
    )
    piece = hand.piece("C7")
    assert (piece.finish, piece.title, piece.planned_coats) == ("shellac", "a neck", 4)
    assert piece.stays[0].room == "booth"
    assert "C7: hung in booth," in done_in(text)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"tag": "", "finish": "shellac"}, 'id="new-tag-fault"'),
        ({"tag": "B1", "finish": "shellac"}, "there is a piece B1 already"),
        ({"tag": "new", "finish": "shellac"}, "cannot be a tag"),
        ({"tag": "C 7", "finish": "shellac"}, "cannot be a tag"),
        ({"tag": "C7", "finish": "ketchup"}, "ketchup"),
        ({"tag": "C7", "finish": "shellac", "room": "attic"}, "there is no room"),
        ({"tag": "C7", "finish": "shellac", "coats": "0"}, "at least one"),
        ({"tag": "C7", "finish": "shellac", "coats": "few"}, 'id="new-coats-fault"'),
        ({"tag": "C7", "finish": "shellac", "at": "soon"}, "is not a time"),
    ],
)
def test_a_piece_that_cannot_be_hung_leaves_the_form_as_typed(
    hand: Hand, typed: dict[str, str], said: str
) -> None:
    hand.place = "/piece/new"
    text = hand.refused(**typed, title="kept as typed")
    assert said in text
    assert 'value="kept as typed"' in text
    assert len(hand.client.get("/api/v1/pieces").json()["pieces"]) == 1


# ---- one truth for both faces


def test_a_form_sent_again_after_the_daemon_came_back_enters_nothing_more(tmp_path: Path) -> None:
    with WebShop.at(tmp_path) as shop:
        shop.set_passphrase()
        shop.hear()
        shop.hang("B1", NOW_MS - DAY_MS)
        hand = Hand(shop, shop.known("Ada"), "/piece/B1")
        form = hand.form()
        first = hand.send(form, deed="coat")
        cookie = hand.client.cookies["curewatch"]
    with WebShop.at(tmp_path) as again:
        client = again.stranger()
        client.cookies.set("curewatch", cookie)
        hand = Hand(again, client, "/piece/B1")
        second = hand.send(form, deed="coat")
        assert second.headers["location"] == first.headers["location"]
        assert len(hand.piece().coats) == 2


@pytest.mark.parametrize(
    ("command", "typed"),
    [
        (["move", "B1", "attic"], {"to": "attic"}),
        (["coat", "B1", "--at", "2026-03-05T06:00"], {"deed": "coat", "at": "2026-03-05T06:00"}),
        (["coat", "B1", "--wet-um", "5"], {"deed": "coat", "wet": "5 um"}),
        (["coat", "B1", "--passes", "0"], {"deed": "coat", "passes": "0"}),
        (["coat", "B1", "--pot", "P9"], {"deed": "coat", "pot": "P9"}),
        (["coat", "B1", "--at", "whenever"], {"deed": "coat", "at": "whenever"}),
        (["piece", "plan", "B1", "0"], {"deed": "plan", "coats": "0"}),
        (["outcome", "B1", "ugly"], {"finding": "ugly"}),
    ],
)
def test_command_and_page_refuse_with_the_same_sentence(
    hand: Hand,
    command: list[str],
    typed: dict[str, str],
    capsys: pytest.CaptureFixture[str],
) -> None:
    config = hand.shop.settings.source
    assert main(["--config", str(config), *command]) == 2
    complaint = " ".join(capsys.readouterr().err.split()).removeprefix("curewatch: ")
    told = re.findall(r'role="alert"[^>]*>([^<]+)<', hand.refused(**typed))
    assert len(told) == 1
    ours = html.unescape(told[0]).replace("'Note'", "--note").rstrip(".")
    theirs = re.sub(r" um\b", " µm", complaint.removeprefix("--at "))  # a page has the letter
    assert ours.partition(": ")[0] == theirs.partition(": ")[0]
    assert "--" not in html.unescape(told[0])
