"""The limits that the contract states are those that the service enforces."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import OPERATION_IDS, example, full, pointers, post, problem, strict_json
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


@pytest.mark.parametrize("operation_id", OPERATION_IDS)
def test_one_item_more_than_stated_is_refused_and_named(client: FlaskClient, operation_id: str) -> None:
    body = example(operation_id)
    checked = 0
    for name, schema in resolved(request_schema(operation_id))["properties"].items():
        limit = resolved(schema).get("maxItems")
        if limit is not None and name in body and isinstance(body[name][0], dict):
            at_the_limit, beyond = ([{**body[name][0], "name": f"n{i}"} for i in range(count)] for count in (limit, limit + 1))
            refused = problem(post(client, operation_id, {**body, name: beyond}), 422, "invalid-fields")
            assert f"/{name}" in pointers(refused)
            taken = strict_json(post(client, operation_id, {**body, name: at_the_limit}))
            assert f"/{name}" not in pointers(taken if "errors" in taken else {"errors": []})
            checked += 1
    assert checked or operation_id == "lay_out_face"


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


def test_no_more_faults_are_named_than_stated(client: FlaskClient) -> None:
    most = DOCUMENT["x-limits"]["errors_named"]
    body = problem(post(client, "list_materials", {f"unknown_{index}": 1 for index in range(most + 50)}), 422, "invalid-fields")
    assert len(body["errors"]) == most


@pytest.mark.parametrize("operation_id", OPERATION_IDS)
def test_the_smallest_number_above_an_open_end_is_answered_or_refused(client: FlaskClient, operation_id: str) -> None:
    body = full(operation_id, "climate")
    for pointer, schema in parts(request_schema(operation_id), ""):
        _, *way, name = pointer.split("/") if pointer else ("", "")
        if "exclusiveMinimum" in schema and place_of(body, way) is not None:
            tried = copy.deepcopy(body)
            place_of(tried, way)[name] = math.nextafter(schema["exclusiveMinimum"], math.inf)
            assert post(client, operation_id, tried).status_code in (200, 422), pointer


def place_of(body: Any, way: list[str]) -> Any:
    """The object at a pointer, or None where a body has none."""
    for step in way:
        if isinstance(body, list) and body:
            body = body[0]
        elif isinstance(body, dict) and step in body:
            body = body[step]
        else:
            return None
    return body if isinstance(body, dict) else None
