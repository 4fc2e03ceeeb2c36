"""The limits that the contract states are those that the service enforces."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import OPERATION_IDS, changed, example, full, leaves, pointers, post, problem, refusal, strict_json
from tests.contract.test_contract import DOCUMENT, OPERATIONS
from wattpair_service.app import create_app
from wattpair_service.settings import Settings

SCHEMAS = DOCUMENT["components"]["schemas"]


def resolved(schema: Any) -> Any:
    return SCHEMAS[schema["$ref"].rsplit("/", 1)[1]] if "$ref" in schema else schema


def parts(schema: Any, pointer: str, seen: tuple[int, ...] = ()) -> Iterator[tuple[str, Any]]:
    """Everything within a request's schema by its pointer."""
    schema = resolved(schema)
    if id(schema) in seen:
        return
    yield pointer, schema
    inner = [(f"{pointer}/{name}", each) for name, each in schema.get("properties", {}).items()]
    inner += [(f"{pointer}/0", schema["items"])] if "items" in schema else []
    inner += [(pointer, each) for each in schema.get("oneOf", ())]
    for place, each in inner:
        yield from parts(each, place, (*seen, id(schema)))


def request_schema(operation_id: str) -> Any:
    return OPERATIONS[operation_id][2]["requestBody"]["content"]["application/json"]["schema"]


@pytest.mark.parametrize("operation_id", OPERATION_IDS)
def test_every_array_and_text_of_a_request_has_a_stated_limit(operation_id: str) -> None:
    endless = [
        pointer
        for pointer, schema in parts(request_schema(operation_id), "")
        if (schema.get("type") == "array" and "maxItems" not in schema)
        or (schema.get("type") == "string" and not {"maxLength", "enum", "const", "pattern", "format"} & schema.keys())
    ]
    assert endless == []


ARRAYS = [
    (operation_id, name, resolved(schema)["maxItems"])
    for operation_id in OPERATION_IDS
    for name, schema in resolved(request_schema(operation_id))["properties"].items()
    if "maxItems" in resolved(schema) and isinstance((example(operation_id).get(name) or [None])[0], dict)
]


@pytest.mark.parametrize(("operation_id", "name", "limit"), ARRAYS)
def test_one_item_more_than_stated_is_refused_and_named(client: FlaskClient, operation_id: str, name: str, limit: int) -> None:
    body = example(operation_id)
    items = [body[name][0] | {"name": f"n{number}"} for number in range(limit + 1)]
    refused = refusal(client, operation_id, body | {name: items})
    assert f"/{name}" in pointers(refused)
    taken = strict_json(post(client, operation_id, body | {name: items[:limit]}))
    assert f"/{name}" not in pointers({"errors": [], **taken})


def test_the_body_limit_is_the_operators_and_stated_by_the_running_service() -> None:
    client = create_app(Settings(body_limit_bytes=2048)).test_client()
    assert strict_json(client.get("/openapi.json"))["x-limits"]["body_bytes"] == 2048
    assert DOCUMENT["x-limits"]["body_bytes"] == Settings().body_limit_bytes
    text = json.dumps(example("list_materials"))
    assert len(text) < 2048
    assert post(client, "list_materials", text + " " * (2048 - len(text))).status_code == 200
    problem(post(client, "list_materials", text + " " * (2049 - len(text))), 413, "body-too-large")


def test_the_depth_limit_is_as_stated(client: FlaskClient) -> None:
    levels = DOCUMENT["x-limits"]["nesting_levels"]
    for depth, status in ((levels, 422), (levels + 1, 400)):
        inner = "[" * (depth - 1) + "]" * (depth - 1)
        assert post(client, "list_materials", '{"faces":' + inner + "}").status_code == status


def test_no_more_errors_are_named_than_stated_and_an_answer_is_shorter_than_its_request(client: FlaskClient) -> None:
    most = DOCUMENT["x-limits"]["errors_named"]
    body = {f"x{number}": 1 for number in range(50_000)}
    response = post(client, "list_materials", body)
    refused = problem(response, 422, "invalid-fields")
    assert len(refused["errors"]) == most
    assert refused["detail"].startswith(f"More than {most} fields")
    assert len(response.get_data()) < len(json.dumps(body))


OPEN_ENDS = [
    (operation_id, pointer, math.nextafter(schema["exclusiveMinimum"], math.inf))
    for operation_id in OPERATION_IDS
    for present in [{re.sub(r"/\d+", "/0", pointer) for pointer, _ in leaves(full(operation_id, "climate"))}]
    for pointer, schema in parts(request_schema(operation_id), "")
    if "exclusiveMinimum" in schema and any(each.startswith(pointer.rpartition("/")[0]) for each in present)
]


@pytest.mark.parametrize(("operation_id", "pointer", "value"), OPEN_ENDS)
def test_the_smallest_number_above_an_open_end_breaks_nothing(
    client: FlaskClient, operation_id: str, pointer: str, value: float
) -> None:
    body = changed(full(operation_id, "climate"), {pointer: value})
    assert post(client, operation_id, body).status_code in (200, 422)
