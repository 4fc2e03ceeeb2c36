"""The client's methods and dataclasses against the contract, both ways. Nothing here names an operation or a field."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import MISSING, asdict, fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from types import NoneType
from typing import Any, Literal, get_args, get_origin

import pytest

import wattpair
from tests.sdk.canned import DOCUMENTS
from tests.sdk.contract import CHOICES, SCHEMAS, Operation, Schema, operations, resolved, sample, types_of
from tests.sdk.recorder import recording
from wattpair import AsyncClient, Client, inputs, results
from wattpair.codec import alternatives, hints_of
from wattpair.operations import Operations

OPERATIONS = {operation.name: operation for operation in operations()}
METHODS = dict(inspect.getmembers(Operations, inspect.isfunction))
FORMS = {call.name for call, _ in DOCUMENTS}
"""The methods that ask for another form than JSON."""
SHARED = [OPERATIONS[name] for name in METHODS if name in OPERATIONS]
CLASSES = {
    name: kind
    for module in (inputs, results)
    for name, kind in vars(module).items()
    if is_dataclass(kind) and name in module.__all__
}
SCALARS = {"string": str, "number": float, "integer": int, "boolean": bool}
TEXTS = (date, datetime, Decimal)
"""What the client makes of texts that are times and amounts of money."""
by_operation = pytest.mark.parametrize("operation", SHARED, ids=lambda operation: operation.name)


def differences(hint: Any, schema: Schema, where: str, *, is_input: bool) -> Iterator[str]:
    """What a type hint says otherwise than a schema."""
    schema = resolved(schema)
    options = [option for option in alternatives(hint) if option is not NoneType]
    types = types_of(schema)
    if not is_input and (NoneType in alternatives(hint)) != ("null" in types):
        yield f"{where}: null is allowed by one side only"
    if "oneOf" in schema:
        yield from _of_choice(options, schema["oneOf"], where, is_input=is_input)
    elif "object" in types and "properties" not in schema:
        if [get_origin(option) for option in options] != [Mapping]:
            yield f"{where}: an object of any fields in the contract, {hint} here"
    elif "object" in types:
        yield from _of_choice(options, [schema], where, is_input=is_input)
    elif "array" in types:
        arrays = [option for option in options if get_origin(option) in (tuple, Sequence, Collection)]
        if len(arrays) != 1 or len(options) != 1:
            yield f"{where}: an array in the contract, {hint} here"
        else:
            yield from differences(get_args(arrays[0])[0], schema["items"], f"{where}/0", is_input=is_input)
    else:
        yield from _of_scalar(options, schema, where)


def _of_scalar(options: list[Any], schema: Schema, where: str) -> Iterator[str]:
    kinds = types_of(schema) - {"null"}
    expected = SCALARS[kinds.pop()] if kinds else object
    for option in options:
        if get_origin(option) is Literal:
            if set(get_args(option)) != set(schema.get("enum", ())):
                yield f"{where}: {option} here, {schema.get('enum')} in the contract"
        elif option is not expected and (expected is not str or option not in TEXTS):
            yield f"{where}: {option} here, {expected} in the contract"


def _of_choice(options: list[Any], schemas: list[Schema], where: str, *, is_input: bool) -> Iterator[str]:
    kinds = [option for option in options if is_dataclass(option)]
    if len(kinds) != len(schemas):
        yield f"{where}: {len(schemas)} kinds of object in the contract, {len(kinds)} here"
    if is_input and not any(get_origin(option) is Mapping for option in options):
        yield f"{where}: no plain mapping is taken"
    for kind, schema in zip(kinds, map(resolved, schemas), strict=False):
        yield from of_class(kind, schema, where)


def of_class(kind: Any, schema: Schema, where: str) -> Iterator[str]:
    """What a dataclass says otherwise than an object's schema."""
    is_input = schema.get("additionalProperties") is False
    if is_input != (kind in vars(inputs).values()):
        yield f"{where}: {kind.__name__} is in the wrong module"
    given = {each.name: each.default is MISSING or not each.init for each in fields(kind)}
    yield from _of_fields(given, hints_of(kind), schema, f"{where}({kind.__name__})", is_input=is_input)


def _of_fields(
    given: Mapping[str, bool], hints: Mapping[str, Any], schema: Schema, where: str, *, is_input: bool
) -> Iterator[str]:
    properties = schema.get("properties", {})
    yield from (f"{where}/{name}: not here" for name in properties.keys() - given.keys())
    yield from (f"{where}/{name}: not in the contract" for name in given.keys() - properties.keys())
    for name in properties.keys() & given.keys():
        if given[name] != (name in schema.get("required", ())):
            yield f"{where}/{name}: {'required' if given[name] else 'optional'} here, not so in the contract"
        yield from differences(hints[name], properties[name], f"{where}/{name}", is_input=is_input)


def reached(hint: Any) -> Iterator[Any]:
    """Every dataclass within a type hint."""
    inner = list(get_args(hint))
    if hint in CLASSES.values():
        yield hint
        inner += hints_of(hint).values()
    for each in inner:
        yield from reached(each)


def test_each_calculation_has_a_method_and_each_method_is_an_operation() -> None:
    assert (
        {operation.name for operation in OPERATIONS.values() if operation.is_calculation}
        <= METHODS.keys() - FORMS
        <= OPERATIONS.keys()
    )


def test_each_other_form_of_an_answer_has_a_method_with_the_same_arguments() -> None:
    assert sorted((operation.name, call.media_type) for call, operation in DOCUMENTS) == sorted(
        (operation.name, form)
        for operation in OPERATIONS.values()
        if operation.is_calculation
        for form in operation.other_forms
    )
    for call, operation in DOCUMENTS:
        given, expected = (inspect.signature(METHODS[name]) for name in (call.name, operation.name))
        assert given.parameters == expected.parameters
        assert given.return_annotation is wattpair.Document
        hints = dict(hints_of(METHODS[operation.name])) | {"return": wattpair.Document}
        assert hints_of(METHODS[call.name]) == hints


def test_both_clients_have_the_same_methods() -> None:
    of_both = [{name for name in dir(kind) if not name.startswith("_")} for kind in (Client, AsyncClient)]
    assert of_both[0] == of_both[1] >= METHODS.keys()
    for name in of_both[0]:
        waiting, awaiting = (inspect.signature(getattr(kind, name)).parameters for kind in (Client, AsyncClient))
        assert {each: (it.kind, it.default) for each, it in waiting.items()} == {
            each: (it.kind, it.default) for each, it in awaiting.items()
        }
    waiting, awaiting = (inspect.signature(kind).parameters for kind in (Client, AsyncClient))
    assert (
        list(waiting) == list(awaiting) == [*["base_url", "api_key", "timeout", "retries", "session", "headers", "on_exchange"]]
    )


def test_a_method_is_a_coroutine_of_the_asynchronous_client_alone() -> None:
    waiting, awaiting = Client("http://service.test"), AsyncClient("http://service.test")
    for name, described in METHODS.items():
        methods = getattr(waiting, name), getattr(awaiting, name)
        assert [inspect.iscoroutinefunction(each) for each in methods] == [False, True]
        for each in methods:
            assert each.__doc__ == described.__doc__
            assert list(inspect.signature(each).parameters) == list(inspect.signature(described).parameters)[1:]


@by_operation
def test_arguments_agree_with_the_request(operation: Operation) -> None:
    _, *parameters = inspect.signature(METHODS[operation.name]).parameters.values()
    assert all(each.kind is inspect.Parameter.KEYWORD_ONLY for each in parameters)
    given = {each.name: each.default is inspect.Parameter.empty for each in parameters}
    hints = hints_of(METHODS[operation.name])
    request = resolved(operation.request or {})
    assert list(_of_fields(given, hints, request, operation.name, is_input=True)) == []


@by_operation
def test_result_agrees_with_the_answer(operation: Operation) -> None:
    kind = hints_of(METHODS[operation.name])["return"]
    assert list(of_class(kind, resolved(operation.answer), operation.name)) == []


def test_problem_agrees_with_the_contract() -> None:
    assert list(of_class(results.Problem, SCHEMAS["Problem"], "problem")) == []


def test_no_class_is_left_over() -> None:
    hints = [hint for operation in SHARED for hint in hints_of(METHODS[operation.name]).values()]
    used = {kind.__name__ for hint in [*hints, results.Problem] for kind in reached(hint)}
    assert CLASSES.keys() - used == {"Result"}, "the base class of results alone stands for no schema"


@pytest.mark.parametrize("choice", CHOICES)
@pytest.mark.parametrize("typed", [False, True], ids=["mappings", "classes"])
@by_operation
def test_every_argument_reaches_the_service(operation: Operation, typed: bool, choice: int) -> None:
    answer = sample(operation.answer, choice)
    client, recorder = recording(answer)
    given = sample(operation.request or {"type": "object"}, choice)
    hints = hints_of(METHODS[operation.name])
    arguments = {name: _built(hints[name], value) if typed else value for name, value in given.items()}
    result = getattr(client, operation.name)(**arguments)
    assert recorder.sent[0].body == (given if operation.verb == "POST" else None)
    address = "http://service.test/base" + operation.path.format(**given)
    assert (recorder.sent[0].verb, recorder.sent[0].url) == (operation.verb, address)
    assert _with_lists(asdict(result)) == answer


@pytest.mark.parametrize("choice", CHOICES)
@pytest.mark.parametrize(
    ("operation", "status"),
    [(operation, status) for operation in SHARED for status in operation.other_answers],
    ids=lambda each: getattr(each, "name", each),
)
def test_an_answer_with_another_status_is_read_too(operation: Operation, status: int, choice: int) -> None:
    answer = sample(operation.other_answers[status], choice)
    client, _ = recording(answer, status=status)
    given = sample(operation.request or {"type": "object"}, choice)
    assert _with_lists(asdict(getattr(client, operation.name)(**given))) == answer


@by_operation
def test_what_is_left_out_is_not_sent(operation: Operation) -> None:
    client, recorder = recording(sample(operation.answer))
    request = resolved(operation.request or {})
    given = {name: sample(request["properties"][name]) for name in request.get("required", ())}
    getattr(client, operation.name)(**given)
    assert (recorder.sent[0].body or {}).keys() == (given.keys() if operation.verb == "POST" else set())


@pytest.mark.parametrize("kind", CLASSES.values(), ids=lambda kind: kind.__name__)
def test_each_field_is_documented(kind: Any) -> None:
    own = kind.__annotations__.keys()
    documented = _documented(kind)
    assert documented.keys() == own
    if kind in vars(inputs).values():
        optional = {each.name for each in fields(kind) if each.init and each.default is not MISSING}
        assert {name for name, words in documented.items() if words.endswith("optional")} == optional


@pytest.mark.parametrize("method", METHODS.values(), ids=METHODS)
def test_each_argument_is_documented(method: Callable[..., Any]) -> None:
    parameters = {name: each for name, each in inspect.signature(method).parameters.items() if name != "self"}
    documented = _documented(method)
    assert documented.keys() == parameters.keys()
    optional = {name for name, each in parameters.items() if each.default is None}
    assert {name for name, words in documented.items() if words.endswith("optional")} == optional


def test_everything_public_is_at_the_top() -> None:
    parts = {*inputs.__all__, *results.__all__, *(name for name, kind in vars(wattpair.errors).items() if _is_error(kind))}
    own = {"Client", "AsyncClient", "Document", "Exchange", "Outcome", "ResultsFileError", "__version__"}
    assert set(wattpair.__all__) == parts | own
    assert all(hasattr(wattpair, name) for name in wattpair.__all__)


def _is_error(kind: object) -> bool:
    return isinstance(kind, type) and issubclass(kind, wattpair.Error)


def _documented(described: Any) -> dict[str, str]:
    """Names and types in the sections on parameters and attributes of a docstring."""
    text = inspect.getdoc(described) or ""
    sections = re.findall(r"(?:Parameters|Attributes)\n-+\n(.*?)(?=\n\n\w+\n-+\n|\Z)", text, re.DOTALL)
    entries = re.findall(r"^(\w[\w, ]*) : (.+)$", "\n".join(sections), re.MULTILINE)
    return {name: words for names, words in entries for name in names.split(", ")}


def _built(hint: Any, value: Any) -> Any:
    """A sample with the client's classes in place of mappings."""
    if isinstance(value, list):
        return tuple(_built(get_args(alternatives(hint)[0])[0], item) for item in value)
    if not isinstance(value, dict):
        return value
    kinds: list[Any] = [option for option in alternatives(hint) if is_dataclass(option)]
    for kind in kinds:
        if {each.name: each.default for each in fields(kind) if not each.init}.items() <= value.items():
            hints = hints_of(kind)
            return kind(**{each.name: _built(hints[each.name], value[each.name]) for each in fields(kind) if each.init})
    raise AssertionError(f"no class for {value}")


def _with_lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _with_lists(item) for name, item in value.items()}
    if isinstance(value, Decimal):
        return str(value)
    return [_with_lists(item) for item in value] if isinstance(value, (list, tuple)) else value


def test_the_comparison_notices_each_kind_of_drift() -> None:
    schema = {"type": "object", "required": ["low"], "properties": {"low": {"type": "integer"}, "new": {"type": "string"}}}
    found = "\n".join(of_class(results.Range, schema, "range"))
    for expected in ("new: not here", "high: not in the contract", "low: <class 'float'> here, <class 'int'>"):
        assert expected in found
    optional = {"type": "object", "properties": {name: {"type": "string"} for name in ("name", "version", "source")}}
    assert sum("required here" in line for line in of_class(results.Method, optional, "method")) == 3
    used = resolved({"$ref": "#/components/schemas/ClimateUsed"})
    never_null = {**used, "properties": {**used["properties"], "station": used["properties"]["station"]["anyOf"][0]}}
    assert list(of_class(results.ClimateUsed, used, "climate")) == []
    assert list(of_class(results.ClimateUsed, never_null, "climate")) == [
        "climate(ClimateUsed)/station: null is allowed by one side only"
    ]
