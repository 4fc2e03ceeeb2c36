"""The fake service that users write their own tests with."""

from __future__ import annotations

import json
from typing import Any

import pytest
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]

from tests.sdk.both import kinds, opened
from tests.sdk.canned import FOLDER, OPERATIONS
from tests.sdk.conftest import MODULE, PLACE, UNITS
from tests.sdk.contract import DOCUMENT, Operation, sample
from wattpair import (
    BadAnswer,
    ConnectionFailed,
    FieldError,
    InvalidFields,
    ServiceUnavailable,
    TimedOut,
    TooManyRequests,
)
from wattpair.codec import plain
from wattpair.testing import FakeService

SIZING: dict[str, Any] = {"site": PLACE, "module": MODULE, "microinverters": UNITS[:2]}
by_operation = pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.name)


def ask(client: Any, **changes: Any) -> Any:
    return client.size_pairings(**(SIZING | changes))


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
    with pytest.raises(ValueError, match="status: 200"):
        FakeService().refuse("size_pairings", 200)
