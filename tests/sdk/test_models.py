"""The client's methods and dataclasses against the contract, both ways. Nothing here names an operation or a field."""

from __future__ import annotations

import inspect
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import MISSING, asdict, fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from types import NoneType
from typing import Any, Literal, get_args, get_origin

import pytest

import wattpair
from tests.sdk.canned import DOCUMENTS
from tests.sdk.contract import SCHEMAS, Operation, Schema, alternatives_most, operations, resolved, sample, types_of
from tests.sdk.recorder import recording
from wattpair import AsyncClient, Client, inputs, results
from wattpair.codec import alternatives, hints_of
from wattpair.operations import Operations

OPERATIONS = {operation.name: operation for operation in operations()}
METHODS: dict[str, Any] = dict(inspect.getmembers(Operations, inspect.isfunction))
FORMS = {call.name for call, _ in DOCUMENTS}
"""The methods that ask for another form than JSON."""
SHARED = [OPERATIONS[name] for name in METHODS if name in OPERATIONS]
INPUTS, RESULTS = (
    {name: kind for name, kind in vars(module).items() if is_dataclass(kind) and name in module.__all__}
    for module in (inputs, results)
)
KINDS = {float: "number", int: "integer", bool: "boolean", object: "anything", Mapping: "object"}
KINDS |= dict.fromkeys((str, date, datetime, Decimal), "string")
Facts = Iterator[tuple[str, object]]
by_operation = pytest.mark.parametrize("operation", SHARED, ids=lambda operation: operation.name)


def facts_of_schema(schema: Schema, where: str, *, is_input: bool) -> Facts:
    """What a schema says of a value, each fact with its place; `facts_of_hint` says the same of a type hint."""
    schema = resolved(schema)
    types = types_of(schema)
    if not is_input:
        yield f"{where} may be null", "null" in types
    kinds = [resolved(each) for each in schema.get("oneOf", [schema] if "properties" in schema else [])]
    if "items" in schema:
        yield from facts_of_schema(schema["items"], f"{where}[]", is_input=is_input)
    elif kinds:
        yield f"{where} may be a mapping", is_input
        for number, kind in enumerate(kinds):
            yield from facts_of_object(kind, f"{where}<{number}>")
    else:
        yield where, {*types - {"null"}} or {"anything"}
        if "enum" in schema:
            yield f"{where} is one of", set(schema["enum"])


def facts_of_object(schema: Schema, where: str) -> Facts:
    is_input = schema.get("additionalProperties") is False
    yield f"{where} is an input", is_input
    for name, inner in schema.get("properties", {}).items():
        yield f"{where}/{name} is required", name in schema.get("required", ())
        yield from facts_of_schema(inner, f"{where}/{name}", is_input=is_input)


def facts_of_hint(hint: Any, where: str, *, is_input: bool) -> Facts:
    options = [option for option in alternatives(hint) if option is not NoneType]
    if not is_input:
        yield f"{where} may be null", NoneType in alternatives(hint)
    kinds = [option for option in options if is_dataclass(option)]
    if get_origin(options[0]) in (tuple, Sequence, Collection):
        (array,) = options
        yield from facts_of_hint(get_args(array)[0], f"{where}[]", is_input=is_input)
    elif kinds:
        yield f"{where} may be a mapping", any(get_origin(option) is Mapping for option in options)
        for number, kind in enumerate(kinds):
            yield from facts_of_class(kind, f"{where}<{number}>")
    else:
        literals = [option for option in options if get_origin(option) is Literal]
        yield where, {"string" if option in literals else KINDS[get_origin(option) or option] for option in options}
        if literals:
            yield f"{where} is one of", {text for option in literals for text in get_args(option)}


def facts_of_class(kind: Any, where: str) -> Facts:
    is_input = kind in INPUTS.values()
    required = {each.name: each.default is MISSING or not each.init for each in fields(kind)}
    yield from facts_of_members(required, hints_of(kind), where, is_input=is_input)


def facts_of_members(required: Mapping[str, bool], hints: Mapping[str, Any], where: str, *, is_input: bool) -> Facts:
    yield f"{where} is an input", is_input
    for name, is_required in required.items():
        yield f"{where}/{name} is required", is_required
        yield from facts_of_hint(hints[name], f"{where}/{name}", is_input=is_input)


def assert_agree(here: Facts, schema: Schema) -> None:
    """The client and the contract say the same; texts of which the contract names some may be any text to the client."""
    of_client, of_contract = dict(here), dict(facts_of_object(resolved(schema), ""))
    any_text = {where for where in of_contract.keys() - of_client.keys() if where.endswith(" is one of")}
    assert of_client == {where: fact for where, fact in of_contract.items() if where not in any_text}


def classes_within(hint: Any) -> Iterator[Any]:
    """Every dataclass within a type hint."""
    inner, kind = list(get_args(hint)), hint
    if is_dataclass(hint):
        yield hint
        inner += hints_of(kind).values()
    for each in inner:
        yield from classes_within(each)


def built(hint: Any, value: Any) -> Any:
    """A sample with the client's classes in place of mappings."""
    if isinstance(value, list):
        return tuple(built(get_args(alternatives(hint)[0])[0], item) for item in value)
    if not isinstance(value, dict):
        return value
    kinds: list[Any] = [option for option in alternatives(hint) if is_dataclass(option)]
    constants = ({each.name: each.default for each in fields(kind) if not each.init} for kind in kinds)
    kind = next(kind for kind, constant in zip(kinds, constants, strict=True) if constant.items() <= value.items())
    hints = hints_of(kind)
    return kind(**{each.name: built(hints[each.name], value[each.name]) for each in fields(kind) if each.init})


def as_json(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: as_json(item) for name, item in value.items()}
    if isinstance(value, Decimal):
        return str(value)
    return [as_json(item) for item in value] if isinstance(value, (list, tuple)) else value


def test_each_calculation_has_a_method_and_each_method_is_an_operation() -> None:
    calculations = {operation.name for operation in OPERATIONS.values() if operation.is_calculation}
    assert calculations <= METHODS.keys() - FORMS <= OPERATIONS.keys()


def test_each_other_form_of_an_answer_has_a_method_with_the_same_arguments() -> None:
    assert sorted((operation.name, call.media_type) for call, operation in DOCUMENTS) == sorted(
        (operation.name, form)
        for operation in OPERATIONS.values()
        if operation.is_calculation
        for form in operation.other_forms
    )
    for call, operation in DOCUMENTS:
        form, original = METHODS[call.name], METHODS[operation.name]
        assert inspect.signature(form).parameters == inspect.signature(original).parameters
        assert hints_of(form) == {**hints_of(original), "return": wattpair.Document}


def test_both_clients_have_the_same_methods() -> None:
    waiting, awaiting = ({name for name in dir(kind) if not name.startswith("_")} for kind in (Client, AsyncClient))
    assert waiting == awaiting >= METHODS.keys()
    for name in [*waiting, "__init__"]:
        one, other = (inspect.signature(getattr(kind, name)).parameters for kind in (Client, AsyncClient))
        assert [(each, it.kind, it.default) for each, it in one.items()] == [
            (each, it.kind, it.default) for each, it in other.items()
        ], name
    options = ["base_url", "api_key", "timeout", "retries", "session", "headers", "on_exchange"]
    assert list(inspect.signature(Client).parameters) == options


def test_a_method_is_a_coroutine_of_the_asynchronous_client_alone() -> None:
    waiting, awaiting = Client("http://service.test"), AsyncClient("http://service.test")
    for name, described in METHODS.items():
        methods = getattr(waiting, name), getattr(awaiting, name)
        assert [inspect.iscoroutinefunction(each) for each in methods] == [False, True]
        for each in methods:
            assert each.__doc__ == described.__doc__
            assert list(inspect.signature(each).parameters) == list(inspect.signature(described).parameters)[1:]


@by_operation
def test_arguments_and_results_agree_with_the_contract(operation: Operation) -> None:
    method = METHODS[operation.name]
    _, *parameters = inspect.signature(method).parameters.values()
    assert all(each.kind is inspect.Parameter.KEYWORD_ONLY for each in parameters)
    required, hints = {each.name: each.default is inspect.Parameter.empty for each in parameters}, hints_of(method)
    assert_agree(facts_of_members(required, hints, "", is_input=True), operation.request)
    assert_agree(facts_of_class(hints["return"], ""), operation.answer)


def test_problem_agrees_with_the_contract() -> None:
    assert_agree(facts_of_class(results.Problem, ""), SCHEMAS["Problem"])


def test_no_class_is_left_over() -> None:
    hints = [hint for operation in SHARED for hint in hints_of(METHODS[operation.name]).values()]
    used = {kind.__name__ for hint in [*hints, results.Problem] for kind in classes_within(hint)}
    assert (INPUTS | RESULTS).keys() - used == {"Result"}, "the base class of results alone stands for no schema"


@pytest.mark.parametrize("typed", [False, True], ids=["mappings", "classes"])
@pytest.mark.parametrize(
    ("operation", "choice"),
    [(each, choice) for each in SHARED for choice in range(max(map(alternatives_most, (each.request, each.answer))))],
    ids=lambda each: getattr(each, "name", each),
)
def test_every_argument_reaches_the_service(operation: Operation, typed: bool, choice: int) -> None:
    answer = sample(operation.answer, choice)
    client, recorder = recording(answer)
    given = sample(operation.request, choice)
    hints = hints_of(METHODS[operation.name])
    arguments = {name: built(hints[name], value) if typed else value for name, value in given.items()}
    result = getattr(client, operation.name)(**arguments)
    assert recorder.sent[0].body == (given if operation.verb == "POST" else None)
    address = "http://service.test/base" + operation.path.format(**given)
    assert (recorder.sent[0].verb, recorder.sent[0].url) == (operation.verb, address)
    assert as_json(asdict(result)) == answer


@pytest.mark.parametrize(
    ("operation", "status", "choice"),
    [
        (operation, status, choice)
        for operation in SHARED
        for status, schema in operation.other_answers.items()
        for choice in range(alternatives_most(schema))
    ],
    ids=lambda each: getattr(each, "name", each),
)
def test_an_answer_with_another_status_is_read_too(operation: Operation, status: int, choice: int) -> None:
    answer = sample(operation.other_answers[status], choice)
    client, _ = recording(answer, status=status)
    assert as_json(asdict(getattr(client, operation.name)(**sample(operation.request, choice)))) == answer


@by_operation
def test_what_is_left_out_is_not_sent(operation: Operation) -> None:
    client, recorder = recording(sample(operation.answer))
    request = resolved(operation.request)
    given = {name: sample(request["properties"][name]) for name in request.get("required", ())}
    getattr(client, operation.name)(**given)
    assert (recorder.sent[0].body or {}).keys() == (given.keys() if operation.verb == "POST" else set())


@pytest.mark.parametrize("described", [*INPUTS.values(), *RESULTS.values(), *METHODS.values()], ids=lambda each: each.__name__)
def test_each_field_and_argument_is_documented(described: Any) -> None:
    sections = re.findall(
        r"(?:Parameters|Attributes)\n-+\n(.*?)(?=\n\n\w+\n-+\n|\Z)", inspect.getdoc(described) or "", re.DOTALL
    )
    entries = re.findall(r"^(\w[\w, ]*) : (.+)$", "\n".join(sections), re.MULTILINE)
    documented = {name: words.endswith("optional") for names, words in entries for name in names.split(", ")}
    if is_dataclass(described):
        own = [each for each in fields(described) if each.name in described.__annotations__]
        optional = {each.name: each.init and each.default is not MISSING for each in own}
    else:
        _, *parameters = inspect.signature(described).parameters.values()
        optional = {each.name: each.default is None for each in parameters}
    assert documented.keys() == optional.keys()
    assert documented == optional or described in RESULTS.values()


def test_everything_public_is_at_the_top() -> None:
    errors = {
        name for name, kind in vars(wattpair.errors).items() if isinstance(kind, type) and issubclass(kind, wattpair.Error)
    }
    own = {"Client", "AsyncClient", "Document", "Exchange", "Outcome", "ResultsFileError", "__version__"}
    assert set(wattpair.__all__) == {*inputs.__all__, *results.__all__, *errors, *own}
    assert all(hasattr(wattpair, name) for name in wattpair.__all__)
