"""The client's models and methods are those of the contract: made from it, the same byte for byte, and complete."""

from __future__ import annotations

import inspect
import subprocess
import sys
from collections.abc import Mapping
from typing import Any

import pytest

from tests.sdk.contract import ROOT, SCHEMAS, Operation, alternatives_most, operations, resolved, sample
from tests.sdk.recorder import recording
from wattpair import AsyncClient, Client, models
from wattpair.operations import CALLS

OPERATIONS = [operation for operation in operations() if operation.name in CALLS]
by_operation = pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.name)


@pytest.mark.release
def test_the_generator_writes_what_is_committed() -> None:
    assert subprocess.run([sys.executable, "sdk/generate.py", "--check"], cwd=ROOT, check=False).returncode == 0


def test_every_calculation_of_the_contract_has_a_method_in_both_clients() -> None:
    assert {each.name for each in operations() if each.is_calculation} <= CALLS.keys()
    for name in CALLS:
        assert inspect.isfunction(getattr(Client, name))
        assert inspect.iscoroutinefunction(getattr(AsyncClient, name))
        assert inspect.signature(getattr(Client, name)) == inspect.signature(getattr(AsyncClient, name))


@by_operation
def test_a_method_takes_what_the_contract_takes_and_says_so(operation: Operation) -> None:
    method = getattr(Client, operation.name)
    parameters = dict(inspect.signature(method).parameters)
    del parameters["self"]
    assert parameters.keys() == resolved(operation.request).get("properties", {}).keys()
    needed = {name for name, each in parameters.items() if each.default is each.empty}
    assert needed == set(resolved(operation.request).get("required", ()))
    assert all(each.kind is each.KEYWORD_ONLY for each in parameters.values())
    documentation = inspect.getdoc(method) or ""
    for name in parameters:
        assert f"\n{name} : " in documentation, name


@pytest.mark.parametrize(
    ("operation", "choice"),
    [(each, choice) for each in OPERATIONS for choice in range(max(map(alternatives_most, (each.request, each.answer))))],
    ids=lambda value: value.name if isinstance(value, Operation) else str(value),
)
def test_a_sample_goes_there_and_comes_back(operation: Operation, choice: int) -> None:
    """All that the contract allows in a request is sent as it is; all that it promises of an answer is read."""
    answer = sample(operation.answer, choice)
    client, recorder = recording(answer)
    given = sample(operation.request, choice)
    result = getattr(client, operation.name)(**given)
    assert type(result).__name__ == operation.answer.get("$ref", "/Liveness").rpartition("/")[2]
    (sent,) = recorder.sent
    assert (sent.verb, sent.url) == (operation.verb, "http://service.test/base" + operation.path.format(**given))
    if operation.verb == "POST":
        assert sent.body == given
    assert_holds(result, answer)


@by_operation
def test_what_is_left_out_is_not_sent(operation: Operation) -> None:
    client, recorder = recording(sample(operation.answer))
    request = resolved(operation.request)
    given = {name: sample(request["properties"][name]) for name in request.get("required", ())}
    getattr(client, operation.name)(**given)
    assert recorder.sent[0].body == (given if operation.verb == "POST" else None)


def test_every_model_stands_in_the_package_and_nothing_else_of_its_file() -> None:
    in_a_fresh_process = """
import wattpair
assert wattpair.models.Site is wattpair.Site
assert set(wattpair.models.__all__) <= set(dir(wattpair))
assert all(isinstance(getattr(wattpair, name), type) for name in wattpair.models.__all__)
assert not any(hasattr(wattpair, name) for name in ("dataclass", "Literal", "Model"))
"""
    subprocess.run([sys.executable, "-c", in_a_fresh_process], check=True)
    assert SCHEMAS.keys() <= set(models.__all__)


def assert_holds(result: Any, answer: Any) -> None:
    """A result has every value of an answer."""
    if isinstance(answer, Mapping):
        for name, value in answer.items():
            assert_holds(result[name] if isinstance(result, Mapping) else getattr(result, name), value)
    elif isinstance(answer, list):
        assert len(result) == len(answer)
        for one, other in zip(result, answer, strict=True):
            assert_holds(one, other)
    else:
        assert str(result) == str(answer)
