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

from tests.sdk.both import kinds, opened
from tests.sdk.canned import DOCUMENTS, FOLDER, OPERATIONS, answer_of, file_of
from tests.sdk.conftest import MODULE, PLACE, UNITS
from tests.sdk.contract import DOCUMENT, Operation, sample
from wattpair import (
    AsyncClient,
    BadAnswer,
    Client,
    ConnectionFailed,
    Document,
    FieldError,
    InvalidFields,
    ServiceUnavailable,
    TimedOut,
    TooManyRequests,
)
from wattpair.codec import plain
from wattpair.document import is_whole
from wattpair.testing import FakeService

SIZING: dict[str, Any] = {"site": PLACE, "module": MODULE, "microinverters": UNITS[:2]}
by_form = pytest.mark.parametrize(("call", "operation"), DOCUMENTS, ids=lambda each: each.name)
by_operation = pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.name)


def ask(client: Any, **changes: Any) -> Any:
    return client.size_pairings(**(SIZING | changes))


def shape(text: bytes) -> list[bytes]:
    """The headings of a page, else the columns of a table: figures may change as models get better."""
    return re.findall(rb"<h[1-3][^>]*>.*?</h[1-3]>", text) or text.splitlines()[:1]


def as_json(result: Any) -> dict[str, Any]:
    answer = plain(result)
    assert isinstance(answer, dict)
    return answer


def of_kind(kind: str, fake: FakeService, **options: Any) -> Any:
    client: Any = fake.client() if kind == "waiting" else fake.async_client()
    return opened(kind, "http://wattpair.test", **({"session": client._session, "retries": 0} | options))


@by_operation
def test_what_it_carries_is_of_the_contract_without_a_field_too_many(operation: Operation) -> None:
    components = json.loads(json.dumps(DOCUMENT["components"]))
    for schema in components["schemas"].values():
        schema["additionalProperties"] = False
    answer = json.loads((FOLDER / f"{operation.name}.json").read_text(encoding="utf-8"))
    validator = Draft202012Validator({**operation.answer, "components": components})
    assert [f"{fault.json_path}: {fault.message[:200]}" for fault in validator.iter_errors(answer)] == [], (
        "run python -m tests.sdk.canned"
    )


@kinds
@by_operation
def test_every_operation_is_answered_and_recorded(operation: Operation, kind: str) -> None:
    fake = FakeService()
    arguments = sample(operation.request or {"type": "object"})
    with of_kind(kind, fake, api_key="secret") as client:
        result = getattr(client, operation.name)(**arguments)
    assert plain(result) == json.loads((FOLDER / f"{operation.name}.json").read_text(encoding="utf-8"))
    assert [(call.operation, call.arguments) for call in fake.calls] == [(operation.name, arguments)]
    assert fake.calls[0].headers["authorization"] == "Bearer secret"


@kinds
@by_form
def test_every_form_is_answered_and_recorded(call: Any, operation: Operation, kind: str) -> None:
    fake = FakeService()
    with of_kind(kind, fake) as client:
        ask_for = getattr(client, call.name)
        assert ask_for(**operation.examples[0]) == Document(media_type=call.media_type, content=file_of(call).read_bytes())
        assert [(each.operation, each.arguments) for each in fake.calls] == [(call.name, operation.examples[0])]
        assert getattr(client, operation.name)(**operation.examples[0]).method, "the same path answers JSON too"
        whole = file_of(call).read_bytes()
        mine = whole[:20] + b"mine" + whole[-20:]
        for answer in (mine, Document(media_type=call.media_type, content=mine), lambda _: mine):
            fake.answer(call.name, answer)
            assert ask_for(**operation.examples[0]).content == mine
        fake.answer(call.name, Document(media_type="text/plain", content=whole), times=1)
        fake.answer(call.name, whole[:30], times=1)
        for text in ("is not .* but .*text/plain", "is cut off"):
            with pytest.raises(BadAnswer, match=text):
                ask_for(**operation.examples[0])
        with pytest.raises(TypeError, match=r"\{\} \(dict\) was given as an answer; allowed is a Document or bytes"):
            fake.answer(call.name, {})


@by_form
def test_the_documents_it_carries_are_those_of_the_service(call: Any, operation: Operation) -> None:
    carried, today = file_of(call).read_bytes(), answer_of(operation, call.media_type)
    for content in (carried, today):
        assert is_whole(Document(media_type=call.media_type, content=content))
    if call.media_type != "application/pdf":  # of which nothing but its ends can be read
        assert shape(carried) == shape(today), "run python -m tests.sdk.canned"
    assert {each.name for each in FOLDER.iterdir()} == {
        *(file_of(each).name for each, _ in DOCUMENTS),
        *(f"{each.name}.json" for each in OPERATIONS),
    }


def test_code_that_makes_its_client_itself_takes_a_session() -> None:
    fake = FakeService()
    for url in ("https://quotes.test/wattpair/", "http://localhost:1"):
        with Client(url, session=fake.session(), api_key="secret") as client:
            assert ask(client).pairings
            assert client.read_region(name="ireland").name
            assert [outcome.unwrap().pairings for outcome in client.many(client.size_pairings, [SIZING] * 3)]
    assert {call.operation for call in fake.calls} == {"size_pairings", "read_region"}
    fake.refuse("size_pairings", 503, retry_after=121)
    with Client("https://quotes.test", session=fake.session()) as client, pytest.raises(ServiceUnavailable):
        ask(client)


def test_code_that_makes_its_asynchronous_client_itself_takes_a_session() -> None:
    fake = FakeService()
    with opened("asynchronous", "https://quotes.test/wattpair", session=fake.async_session()) as client:
        assert ask(client).pairings
        assert client.read_region(name="ireland").name
    assert [call.operation for call in fake.calls] == ["size_pairings", "read_region"]


def test_many_workers_take_each_of_the_next_answers_once() -> None:
    fake = FakeService()
    fake.refuse("size_pairings", 500, times=50)
    sites = [PLACE | {"latitude_deg": 45 + place / 100} for place in range(100)]
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
    assert (inspect.isfunction(Client.sheet_pdf), Client.sheet_pdf.__qualname__) == (True, "DesignOperations.sheet_pdf")


@kinds
def test_answers_are_json_results_or_callables(kind: str) -> None:
    fake = FakeService()
    with of_kind(kind, fake) as client:
        canned = ask(client)
        fake.answer("size_pairings", as_json(canned) | {"cautions": ["as JSON"]}, times=1)
        fake.answer("size_pairings", lambda arguments: as_json(canned) | {"cautions": [arguments["module"]["name"]]})
        assert ask(client).cautions == ("as JSON",)
        assert ask(client).cautions == (MODULE.name,)
        fake.answer("size_pairings", canned)
        assert ask(client) == canned
        fake.answer("size_pairings", {"pairings": []})
        with pytest.raises(BadAnswer, match="the field is required"):
            ask(client)
        fake.answer("size_pairings", lambda _: 3)
        with pytest.raises(TypeError, match=r"3 \(int\) was given as an answer"):
            ask(client)


@kinds
def test_errors_on_demand(kind: str) -> None:
    fake = FakeService()
    error = FieldError(pointer="/microinverters/0/ac_power_w", given="1", allowed="more", detail="-")
    with of_kind(kind, fake) as client:
        fake.refuse("size_pairings", errors=[error], times=1)
        fake.refuse("size_pairings", 429, retry_after=7, times=1)
        fake.break_connection("size_pairings", times=1)
        fake.stay_silent("size_pairings", times=1)
        for raised in (InvalidFields, TooManyRequests, ConnectionFailed, TimedOut):
            with pytest.raises(raised):
                ask(client)
        assert ask(client).pairings
        fake.refuse("size_pairings", errors=[error])
        for _ in range(2):
            with pytest.raises(InvalidFields) as caught:
                ask(client)
            assert caught.value.field_errors[0].argument == "microinverters[0].ac_power_w"


def test_its_clients_check_and_repeat_as_the_real_ones() -> None:
    fake = FakeService()
    fake.refuse("size_pairings", 503, retry_after=30, times=2)
    with fake.client(retries=2) as client:
        with pytest.raises(TypeError, match=r"site\.latitude_deg: '52'"):
            ask(client, site={"latitude_deg": "52"})
        assert fake.calls == []
        assert ask(client).pairings
        assert len(fake.calls) == 3
        fake.refuse("size_pairings", 503)
        with pytest.raises(ServiceUnavailable):
            ask(client)
        assert len(fake.calls) == 6


def test_an_operation_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match=r"operation: 'sizing' was given; allowed is one of .*size_pairings"):
        FakeService().break_connection("sizing")
    with pytest.raises(ValueError, match=r"operation: 'sizing' was given"):
        FakeService().answer("sizing", {})
    with pytest.raises(ValueError, match="status: 200"):
        FakeService().refuse("size_pairings", 200)
    for times in (0, -1):
        with pytest.raises(ValueError, match=f"times: {times} was given; allowed is one or more"):
            FakeService().answer("size_pairings", {}, times=times)
    wrong: Any = [1]
    with pytest.raises(TypeError, match=r"\[1\] \(list\) was given as an answer; allowed is a mapping or a result"):
        FakeService().answer("size_pairings", wrong)
