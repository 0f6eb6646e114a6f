"""The API: the same objects as --json, its errors, and what its description promises."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema
import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from curewatch.assembly import finish_text
from curewatch.cli.main import main
from curewatch.shop.batch import Batch
from curewatch.shop.piece import Outcome
from curewatch.storage import Store
from curewatch.web.api_shapes import ASKED_BACK, FAULTS, GARBLED
from tests.small_shop import HOUR_MS
from tests.web_shop import NOW_MS, WebShop

if TYPE_CHECKING:
    from collections.abc import Iterator

SCHEMAS = Path(__file__).parents[2] / "docs" / "schemas"
NAMES = [
    *("rooms/lift", "pieces/B2", "pieces/B2/history", "pieces/B2/record", "finishes/waterborn"),
    "pots/P2",
]
WITH_A_BODY = {str(ASKED_BACK), str(GARBLED)}
CHECK = "check?room=loft&finish=waterborne"
KNOWN = {
    "name": ["loft", "waterborne", "P1"],
    "tag": ["B1", "B7"],
    "room": ["loft"],
    "finish": ["waterborne", "nitro-lacquer", "shellac"],
    "thinner": ["", "retarded"],
    "number": [1, 2],
}
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
MOST = settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.fixture(scope="module")
def busy(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WebShop]:
    """A shop where everybody may look, with a piece that has a history."""
    folder = tmp_path_factory.mktemp("busy")
    with WebShop.at(folder, "\n[page]\nopen_reading = true\n") as opened:
        opened.set_passphrase()
        opened.hear()
        opened.hang("B1", NOW_MS - 24 * HOUR_MS, NOW_MS - 20 * HOUR_MS)
        opened.hang("B7")
        with Store.open(opened.settings.storage.path) as other:
            other.pieces.outcome("B1", Outcome(NOW_MS - HOUR_MS, "fine"), NOW_MS)
            text = finish_text(opened.settings, "acid-cure")
            revision = other.finishes.keep("acid-cure", text, NOW_MS)
            pot = Batch("P1", "acid-cure", revision, "L7", NOW_MS - HOUR_MS, "loft", 10.0, "C3")
            other.batches.mix(pot, NOW_MS)
        yield opened


def ask(shop: WebShop, place: str) -> Any:  # noqa: ANN401 - whatever JSON holds
    answer = shop.stranger().get(f"/api/v1/{place}")
    assert answer.status_code == 200, answer.text
    return answer.json()


# ---- the same objects as the commands


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("rooms", ["room", "list"]),
        ("rooms/loft", ["room", "show", "loft"]),
        ("pieces", ["piece", "list"]),
        ("pieces/B1", ["piece", "show", "B1"]),
        ("pieces/B1/history", ["piece", "history", "B1"]),
        ("alerts", ["alert", "list"]),
        ("finishes", ["finish", "list"]),
        ("finishes/waterborne", ["finish", "show", "waterborne"]),
        (CHECK, ["check", "loft", "--finish", "waterborne"]),
        ("pots", ["pot", "list"]),
        ("pots/P1", ["pot", "show", "P1"]),
        ("pieces/B1/record", ["record", "B1"]),
        (f"{CHECK}&coats=3", ["check", "loft", "--finish", "waterborne", "--coats", "3"]),
        (
            "check?room=loft&finish=nitro-lacquer&thinner=retarded",
            ["check", "loft", "--finish", "nitro-lacquer", "--thinner", "retarded"],
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_the_api_answers_as_the_command_does(
    busy: WebShop, place: str, words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    config = busy.settings.source
    main(["--config", str(config), *words, "--json"])
    assert ask(busy, place) == json.loads(capsys.readouterr().out)


def test_the_assessment_is_the_status_without_what_concerns_the_machine(
    busy: WebShop, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["--config", str(busy.settings.source), "status", "--json"])
    status = json.loads(capsys.readouterr().out)
    for key in ("bench_list", "notices", "daemon", "mirror"):
        del status[key]
        status["standing"].pop(key, None)
    assert ask(busy, "assessment") == status


def test_a_climate_too_old_decides_nothing(tmp_path: Path) -> None:
    with WebShop.at(tmp_path, "\n[page]\nopen_reading = true\n") as shop:
        answer = ask(shop, CHECK)
        assert answer["verdict"] == "unknown"
        assert answer["reasons"] == ["no sensor of this room was ever heard"]
        shop.hear(hours=1)
        shop.do(lambda: setattr(shop.daemon.clock, "_now_ms", NOW_MS + 9 * HOUR_MS))
        answer = ask(shop, CHECK)
        assert answer["verdict"] == "unknown"
        assert "9.0 h old" in answer["reasons"][0]


@pytest.mark.parametrize("kind", ["room", "piece", "alert"])
def test_what_it_answers_fits_the_published_schemas(busy: WebShop, kind: str) -> None:
    schema = json.loads((SCHEMAS / f"{kind}.schema.json").read_text("utf-8"))
    now = ask(busy, "assessment")
    found = now[f"{kind}s"]
    assert found
    for one in found:
        jsonschema.validate({"format": now["format"], "at": now["at"], **one}, schema)


def test_a_record_fits_its_published_schema(busy: WebShop) -> None:
    schema = json.loads((SCHEMAS / "record.schema.json").read_text("utf-8"))
    record = ask(busy, "pieces/B1/record")
    jsonschema.validate(record, schema)
    assert set(schema["required"]) == set(record)
    assert set(schema["properties"]) == set(record)


# ---- errors


@pytest.mark.parametrize("place", NAMES)
def test_a_name_that_is_not_known_is_answered_with_the_nearest(busy: WebShop, place: str) -> None:
    answer = busy.stranger().get(f"/api/v1/{place}")
    assert answer.status_code == 404
    assert "did you mean" in answer.json()["error"]


def test_where_nothing_hangs_that_is_said(tmp_path: Path) -> None:
    with WebShop.at(tmp_path, "\n[page]\nopen_reading = true\n") as empty:
        answer = empty.stranger().get("/api/v1/pieces/B1")
        assert answer.json() == {"error": "there is no piece here 'B1': there is none at all"}


def test_a_name_like_no_other_is_answered_too(busy: WebShop) -> None:
    answer = busy.stranger().get("/api/v1/rooms/zzz")
    assert answer.json() == {"error": "there is no room 'zzz': there is 1, such as loft"}
    answer = busy.stranger().get("/api/v1/pieces/zzz")
    assert answer.json() == {"error": "there is no piece here 'zzz': there are 2, such as B1"}


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("", "room: Field required; finish: Field required"),
        ("room=loft&finish=waterborne&coats=0", "coats"),
        ("room=loft&finish=waterborne&coats=13", "coats"),
        ("room=loft&finish=waterborne&thinner=paint", "paint"),
    ],
)
def test_what_cannot_be_asked_is_said(busy: WebShop, query: str, says: str) -> None:
    answer = busy.stranger().get(f"/api/v1/check?{query}")
    assert answer.status_code == 422
    assert says in answer.json()["error"]


def test_a_place_that_is_not_there_is_an_object_too(busy: WebShop) -> None:
    answer = busy.stranger().get("/api/v1/nothing")
    assert answer.status_code == 404
    assert answer.json() == {"error": "There is nothing at /api/v1/nothing."}
    refused = busy.stranger().delete("/api/v1/rooms")
    assert refused.status_code == 405
    assert refused.headers["allow"] == "GET"


# ---- writing


def test_an_alert_is_taken_on_with_cookie_and_token(shop: WebShop) -> None:
    known = shop.known("Ada")
    visitor = known.get("/api/v1/visitor").json()
    assert (visitor["who"], visitor["may_write"]) == ("Ada", True)
    (alert,) = known.get("/api/v1/alerts").json()
    place = f"/api/v1/alerts/{alert['id']}/seen"
    assert known.post(place).status_code == 401
    assert known.post(place, headers={"X-Form-Token": "0" * 32}).status_code == 401
    token = {"X-Form-Token": visitor["token"]}
    answer = known.post(place, headers=token)
    assert (answer.json()["phase"], answer.json()["seen_by"]) == ("seen", "Ada")
    missing = known.post("/api/v1/alerts/9/seen", headers=token)
    assert missing.status_code == 404
    for number in (0, 2**63, 10**30):
        assert known.post(f"/api/v1/alerts/{number}/seen", headers=token).status_code == 422


def test_a_coat_is_logged_and_told_as_the_command_tells_it(
    shop: WebShop, capsys: pytest.CaptureFixture[str]
) -> None:
    known = shop.known("Ada")
    token = {"X-Form-Token": known.get("/api/v1/visitor").json()["token"]}
    place = "/api/v1/pieces/B1/coats"
    assert known.post(place, json={}).status_code == 401
    answer = known.post(place, json={"wet_um": 100.0, "note": "thin"}, headers=token)
    assert answer.status_code == 200, answer.text
    (coat,) = answer.json()["coats"]
    assert (coat["coat"], coat["wet_um"], coat["who"], coat["note"]) == (2, 100.0, "Ada", "thin")
    config = str(shop.settings.source)
    main(["--config", config, "coat", "B1", "--at", "1h ago", "--json"])
    (by_command,) = json.loads(capsys.readouterr().out)["coats"]
    assert set(by_command) == set(coat)


def test_a_coat_that_may_be_logged_already_is_asked_about_by_the_api_too(shop: WebShop) -> None:
    known = shop.known("Bo")
    token = {"X-Form-Token": known.get("/api/v1/visitor").json()["token"]}
    place = "/api/v1/pieces/B1/coats"
    assert known.post(place, json={"at": "3min ago", "who": "Ada"}, headers=token).is_success
    asked = known.post(place, json={}, headers=token)
    assert asked.status_code == 409
    assert asked.json() == {
        "error": "B1 got a coat 3 min ago by Ada. Is this another one? Then send it with "
        "really: true."
    }
    assert known.post(place, json={"really": True}, headers=token).is_success


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        ({"wet": 100}, "wet: Extra inputs are not permitted"),
        ({"wet_um": "100"}, "wet_um"),
        ({"wet_um": 5}, "greater than or equal to 15"),
        ({"at": "2099-01-01 9:00"}, "lies ahead"),
        ({"pot": "P9"}, "there is no pot"),
        ({"passes": 0}, "passes"),
    ],
)
def test_a_coat_that_cannot_be_is_refused_in_words(
    shop: WebShop, sent: dict[str, object], says: str
) -> None:
    known = shop.known("Bo")
    token = {"X-Form-Token": known.get("/api/v1/visitor").json()["token"]}
    answer = known.post("/api/v1/pieces/B1/coats", json=sent, headers=token)
    assert answer.status_code == 422
    assert says in answer.json()["error"]
    missing = known.post("/api/v1/pieces/B9/coats", json={}, headers=token)
    assert missing.status_code == 404


def test_a_stranger_is_nobody(shop: WebShop) -> None:
    visitor = shop.stranger().get("/api/v1/visitor").json()
    assert visitor == {"who": "", "may_write": False, "token": None}
    for place in ("assessment", "rooms/loft", "pieces/B1", "alerts", CHECK):
        answer = shop.stranger().get(f"/api/v1/{place}")
        assert answer.status_code == 401
        assert answer.json() == {"error": "the shop's passphrase is needed"}


# ---- the description


def test_every_operation_is_described_with_its_answer_and_its_errors(busy: WebShop) -> None:
    told = ask(busy, "openapi.json")
    assert "no gas detector" in told["info"]["description"]
    assert len(told["paths"]) >= 13
    for path, operations in told["paths"].items():
        assert path.startswith("/api/v1/")
        for operation in operations.values():
            assert operation["summary"]
            assert operation["description"]
            assert set(operation["responses"]) - WITH_A_BODY == {"200", *map(str, FAULTS)}
            shape = operation["responses"]["200"]["content"]["application/json"]["schema"]
            assert shape["type"] in ("object", "array")
            for parameter in operation.get("parameters", []):
                assert parameter["description"]


@pytest.mark.parametrize("mode", list(schemathesis.GenerationMode), ids=str)
@pytest.mark.parametrize("may_write", [False, True], ids=["stranger", "known"])
def test_no_request_breaks_it_and_every_answer_is_as_described(
    busy: WebShop, mode: schemathesis.GenerationMode, *, may_write: bool
) -> None:
    described = schemathesis.openapi.from_asgi(
        "/api/v1/openapi.json", busy.app, headers={"Host": "localhost"}
    )
    visitor = busy.known() if may_write else busy.stranger()
    token = visitor.get("/api/v1/visitor").json()["token"]
    headers = {"Host": "localhost", **({"X-Form-Token": token} if token else {})}
    for found in described.get_all_operations():
        _fuzz(found.ok(), mode, headers, dict(visitor.cookies))


def _fuzz(
    operation: schemathesis.APIOperation,
    mode: schemathesis.GenerationMode,
    headers: dict[str, str],
    cookies: dict[str, str],
) -> None:
    """Send what may come and what should not; half of it asks for names that are known."""
    parameters = [*operation.path_parameters, *operation.query, *operation.headers]
    if mode is schemathesis.GenerationMode.NEGATIVE and not parameters:
        return  # nothing of it can be wrong

    @MOST
    @given(
        case=operation.as_strategy(generation_mode=mode),
        known=st.booleans(),
        pick=st.integers(0, 2),
    )
    def fuzz(case: schemathesis.Case, *, known: bool, pick: int) -> None:
        if known and mode is schemathesis.GenerationMode.POSITIVE:
            for given_ in (case.path_parameters, case.query):
                for name in set(KNOWN) & set(given_ or {}):
                    given_[name] = KNOWN[name][pick % len(KNOWN[name])]
        answer = case.call(headers=headers, cookies=cookies)
        case.validate_response(answer, checks=CHECKS)

    fuzz()
