"""The fake service that users write their own tests with."""

from __future__ import annotations

import asyncio
import inspect
import json
import re
from typing import Any
from unittest.mock import AsyncMock, create_autospec

import pytest
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]

import wattpair
from tests.sdk.both import Driven, opened, opened_fake
from tests.sdk.canned import DOCUMENTS, FOLDER, OPERATIONS, answer_of, file_of
from tests.sdk.conftest import MODULE, PLACE, UNITS
from tests.sdk.contract import DOCUMENT, Operation, sample
from wattpair import AsyncClient, BadAnswer, Client, Document, InvalidFields, ServiceUnavailable
from wattpair.document import is_whole
from wattpair.testing import FakeService

SIZING: dict[str, Any] = {"site": PLACE, "module": MODULE, "microinverters": UNITS[:2]}
PDF = "application/pdf"
by_form = pytest.mark.parametrize(("call", "operation"), DOCUMENTS, ids=lambda each: each.name)
by_form_of_today = pytest.mark.parametrize(
    ("call", "operation"),
    [pytest.param(*each, marks=[pytest.mark.release] * (each[0].media_type == PDF), id=each[0].name) for each in DOCUMENTS],
)
by_operation = pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.name)


def ask(client: Any, **changes: Any) -> Any:
    return client.size_pairings(**(SIZING | changes))


def carried(operation: Operation) -> Any:
    return json.loads((FOLDER / f"{operation.name}.json").read_text(encoding="utf-8"))


@by_operation
def test_what_it_carries_is_of_the_contract_without_a_field_too_many(operation: Operation) -> None:
    components = json.loads(json.dumps(DOCUMENT["components"]))
    for schema in components["schemas"].values():
        schema["additionalProperties"] = False
    validator = Draft202012Validator({**operation.answer, "components": components})
    faults = [f"{fault.json_path}: {fault.message[:200]}" for fault in validator.iter_errors(carried(operation))]
    assert faults == [], "run python -m tests.sdk.canned"


@by_operation
def test_every_operation_is_answered_and_recorded(operation: Operation, kind: str) -> None:
    fake, arguments = FakeService(), sample(operation.request)
    with opened_fake(kind, fake, api_key="secret") as client:
        result = getattr(client, operation.name)(**arguments)
    assert result.to_dict() == carried(operation)
    assert [(call.operation, call.arguments) for call in fake.calls] == [(operation.name, arguments)]
    assert fake.calls[0].headers["authorization"] == "Bearer secret"


@by_form
def test_every_form_is_answered_and_recorded(call: Any, operation: Operation, kind: str) -> None:
    fake, arguments, whole = FakeService(), operation.examples[0], file_of(call).read_bytes()
    mine = whole[:20] + b"mine" + whole[-20:]
    with opened_fake(kind, fake) as client:
        ask_for = getattr(client, call.name)
        assert ask_for(**arguments) == Document(media_type=call.media_type, content=whole)
        assert [(each.operation, each.arguments) for each in fake.calls] == [(call.name, arguments)]
        assert getattr(client, operation.name)(**arguments).method, "the same path answers JSON too"
        for answer in (mine, Document(media_type=call.media_type, content=mine), lambda _: mine):
            fake.answer(call.name, answer)
            assert ask_for(**arguments).content == mine
        fake.answer(call.name, Document(media_type="text/plain", content=whole), times=1)
        fake.answer(call.name, whole[:30], times=1)
        for text in ("is not .* but .*text/plain", "is cut off"):
            with pytest.raises(BadAnswer, match=text):
                ask_for(**arguments)
        with pytest.raises(TypeError, match=r"\{\} \(dict\) was given as an answer; allowed is a Document or bytes"):
            fake.answer(call.name, {})


def shape(text: bytes) -> list[bytes]:
    """The headings of a page, else the columns of a table: figures may change as models get better."""
    return re.findall(rb"<h[1-3][^>]*>.*?</h[1-3]>", text) or text.splitlines()[:1]


@by_form_of_today
def test_the_documents_it_carries_are_those_of_the_service(call: Any, operation: Operation) -> None:
    stored, today = file_of(call).read_bytes(), answer_of(operation, call.media_type)
    for content in (stored, today):
        assert is_whole(Document(media_type=call.media_type, content=content))
    if call.media_type != PDF:  # of which nothing but its ends can be read
        assert shape(stored) == shape(today), "run python -m tests.sdk.canned"
    documents = {file_of(each).name for each, _ in DOCUMENTS}
    assert {each.name for each in FOLDER.iterdir()} == {*documents, *(f"{each.name}.json" for each in OPERATIONS)}


def test_code_that_makes_its_client_itself_takes_a_session(kind: str) -> None:
    fake = FakeService()
    for url in ("https://quotes.test/wattpair/", "http://localhost:1"):
        session: Any = fake.session() if kind == "waiting" else fake.async_session()
        with opened(kind, url, session=session, api_key="secret") as client:
            assert ask(client).pairings
            assert client.read_region(name="ireland").name
            assert [outcome.unwrap().pairings for outcome in client.many(client.size_pairings, [SIZING] * 3)]
            fake.refuse("size_pairings", 503, retry_after=121, times=1)
            with pytest.raises(ServiceUnavailable):
                ask(client)
    assert {call.operation for call in fake.calls} == {"size_pairings", "read_region"}


def test_many_workers_take_each_of_the_next_answers_once() -> None:
    fake = FakeService()
    fake.refuse("size_pairings", 500, times=50)
    sites = [PLACE | {"latitude_deg": 45 + number / 100} for number in range(100)]
    with fake.client() as client:
        outcomes = client.many(client.size_pairings, [SIZING | {"site": site} for site in sites], workers=8)
    assert sum(outcome.error is not None for outcome in outcomes) == 50


def test_a_request_that_is_no_call_is_named() -> None:
    with FakeService().session() as session, pytest.raises(AssertionError, match=r"GET /metrics with Accept .* is no call"):
        session.get("http://wattpair.test/metrics")


@pytest.mark.parametrize("spec", [Client, AsyncClient])
def test_a_mock_of_a_client_has_its_methods_with_their_arguments(spec: Any) -> None:
    mock = create_autospec(spec, instance=True)
    sheet = Document(media_type="application/pdf", content=b"")
    mock.sheet_pdf.return_value = sheet
    answered = mock.sheet_pdf(site=PLACE, modules=[], candidates=[], faces=[])
    assert (asyncio.run(answered) if spec is AsyncClient else answered) is sheet
    mock.sheet_pdf.assert_called_once_with(site=PLACE, modules=[], candidates=[], faces=[])
    for wrong in ({"site": PLACE}, {**SIZING, "colour": "red"}):
        with pytest.raises(TypeError):
            mock.size_pairings(**wrong)
    with pytest.raises(TypeError):
        mock.check_live(3)
    with pytest.raises(AttributeError):
        mock.size_pairing  # noqa: B018
    made = create_autospec(spec)("http://wattpair.test", retries=0)
    assert isinstance(made.size_pairings, AsyncMock) == (spec is AsyncClient)
    with pytest.raises(TypeError):
        create_autospec(spec)("http://wattpair.test", retry=0)


def test_methods_are_plain_functions_of_their_class() -> None:
    class Own(Client):
        def check_live(self) -> Any:
            return "own"

    with Own("http://wattpair.test", session=FakeService().session()) as client:
        assert client.check_live() == "own"
        assert Client.check_live(client).status == "live"
        assert Own.size_pairings is Client.size_pairings
    assert (inspect.isfunction(Client.sheet_pdf), Client.sheet_pdf.__qualname__) == (True, "Operations.sheet_pdf")


def caution(text: str) -> dict[str, str]:
    return {"code": "a_code", "reader": "customer", "task": "estimate", "text": text}


def test_answers_are_json_results_or_callables(kind: str) -> None:
    fake = FakeService()
    with opened_fake(kind, fake) as client:
        canned = ask(client)
        as_json = canned.to_dict()
        fake.answer("size_pairings", as_json | {"cautions": [caution("as JSON")]}, times=1)
        fake.answer("size_pairings", lambda arguments: as_json | {"cautions": [caution(arguments["module"]["name"])]})
        assert [each.text for each in ask(client).cautions] == ["as JSON"]
        assert [each.text for each in ask(client).cautions] == [MODULE.name]
        fake.answer("size_pairings", canned)
        assert ask(client) == canned
        fake.answer("size_pairings", {"pairings": []})
        with pytest.raises(BadAnswer, match="missing required field"):
            ask(client)
        fake.answer("size_pairings", lambda _: 3)
        with pytest.raises(TypeError, match=r"3 \(int\) was given as an answer"):
            ask(client)


def test_errors_on_demand(kind: str) -> None:
    fake = FakeService()
    error = wattpair.FieldError(pointer="/microinverters/0/ac_power_w", given="1", allowed="more", detail="-")
    with opened_fake(kind, fake) as client:
        fake.refuse("size_pairings", errors=[error], times=1)
        fake.refuse("size_pairings", 429, retry_after=7, times=1)
        fake.break_connection("size_pairings", times=1)
        fake.stay_silent("size_pairings", times=1)
        for raised in (InvalidFields, wattpair.TooManyRequests, wattpair.ConnectionFailed, wattpair.TimedOut):
            with pytest.raises(raised):
                ask(client)
        assert ask(client).pairings
        fake.refuse("size_pairings", errors=[error])
        for _ in range(2):
            with pytest.raises(InvalidFields) as caught:
                ask(client)
            assert caught.value.field_errors[0].argument == "microinverters[0].ac_power_w"


def test_its_clients_check_and_repeat_as_the_real_ones(kind: str) -> None:
    fake = FakeService()
    fake.refuse("size_pairings", 503, retry_after=30, times=2)
    with asyncio.Runner() as runner:
        client: Any = fake.client(retries=2) if kind == "waiting" else Driven(fake.async_client(retries=2), runner)
        with pytest.raises(TypeError, match=r"site\.latitude_deg: '52'"):
            ask(client, site={"latitude_deg": "52"})
        assert fake.calls == []
        assert ask(client).pairings
        assert len(fake.calls) == 3
        fake.refuse("size_pairings", 503)
        with pytest.raises(ServiceUnavailable):
            ask(client)
        assert len(fake.calls) == 6


@pytest.mark.parametrize(
    ("method", "arguments", "raised", "text"),
    [
        ("break_connection", {"operation": "sizing"}, ValueError, "operation: 'sizing' was given; allowed .*size_pairings"),
        ("answer", {"operation": "sizing", "answer": {}}, ValueError, "operation: 'sizing' was given"),
        ("refuse", {"status": 200}, ValueError, "status: 200"),
        ("answer", {"answer": {}, "times": 0}, ValueError, "times: 0 was given; allowed is one or more"),
        ("answer", {"answer": {}, "times": -1}, ValueError, "times: -1 was given; allowed is one or more"),
        ("answer", {"answer": [1]}, TypeError, r"\[1\] \(list\) was given as an answer; allowed is a mapping or a result"),
    ],
)
def test_wrong_instructions_are_refused(method: str, arguments: dict[str, Any], raised: type[Exception], text: str) -> None:
    with pytest.raises(raised, match=text):
        getattr(FakeService(), method)(**({"operation": "size_pairings"} | arguments))
