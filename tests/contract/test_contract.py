"""The committed OpenAPI description is the code's, is valid, and every example does what it says."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]
from openapi_spec_validator import validate
from werkzeug.test import TestResponse

from tests.contract.bodies import (
    DELETED,
    OPERATION_IDS,
    PATHS,
    WEATHER,
    WEATHER_USERS,
    changed,
    example,
    full,
    post,
    strict_json,
)
from wattpair_service.api.contract import contract
from wattpair_service.app import create_app
from wattpair_service.settings import Settings

COMMITTED = Path(__file__).resolve().parents[2] / "openapi" / "wattpair.v1.yaml"
DOCUMENT = contract.document()
OPERATIONS = {
    operation["operationId"]: (path, method, operation)
    for path, item in DOCUMENT["paths"].items()
    for method, operation in item.items()
}
EVERY_POST = pytest.mark.parametrize("operation_id", OPERATION_IDS)


CLOSED_COMPONENTS = DOCUMENT["components"] | {
    "schemas": {name: each | {"additionalProperties": False} for name, each in DOCUMENT["components"]["schemas"].items()}
}
"""The components with every object closed, so that an undocumented field is seen."""


def response_schema(operation_id: str, status: str = "200") -> Any:
    return OPERATIONS[operation_id][2]["responses"][status]["content"]["application/json"]["schema"]


def faults(instance: Any, schema: dict[str, Any]) -> list[str]:
    """The errors that a JSON Schema validator finds in an instance."""
    validator = Draft202012Validator(schema | {"components": CLOSED_COMPONENTS})
    return [f"{error.json_path}: {error.message[:200]}" for error in validator.iter_errors(instance)]


def test_the_committed_description_is_what_the_code_writes() -> None:
    assert COMMITTED.read_text(encoding="utf-8") == contract.as_yaml(), "run `wattpair-service contract`"


def test_it_is_valid_openapi() -> None:
    validate(DOCUMENT)
    assert DOCUMENT["openapi"] == "3.1.0"


def test_what_is_described_is_what_is_served() -> None:
    rules = [rule for rule in create_app(Settings()).url_map.iter_rules() if not rule.endpoint.startswith("pages.")]
    served = {
        (re.sub(r"<(\w+)>", r"{\1}", rule.rule), method.lower())
        for rule in rules
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }
    assert served == {(path, method) for path, method, _ in OPERATIONS.values()}


@pytest.mark.parametrize("operation_id", OPERATIONS)
def test_every_operation_is_described(operation_id: str) -> None:
    _, method, operation = OPERATIONS[operation_id]
    assert len(operation["summary"]) >= 8
    assert len(operation["description"]) >= (150 if method == "post" else 25)
    assert operation["tags"][0] in {tag["name"] for tag in DOCUMENT["tags"]}


@EVERY_POST
def test_every_example_keeps_to_its_schema_and_is_answered_as_described(client: FlaskClient, operation_id: str) -> None:
    _, method, operation = OPERATIONS[operation_id]
    assert method == "post"
    (media_type, content), *others = operation["requestBody"]["content"].items()
    assert (media_type, others) == ("application/json", [])
    body, schema = example(operation_id), content["schema"]
    assert content["examples"]["roof"]["value"] == body
    assert faults(body | {"colour": "red"}, schema) != []
    for kind in WEATHER:
        assert faults(full(operation_id, kind), schema) == [], kind
    assert faults(body, schema) == []
    require_as_described(post(client, operation_id, body), operation_id)


@EVERY_POST
@pytest.mark.parametrize(
    ("status", "data", "content_type"),
    [("400", "{", "application/json"), ("415", "{}", "text/plain"), ("422", "{}", "application/json")],
)
def test_a_problem_is_as_described(client: FlaskClient, operation_id: str, status: str, data: str, content_type: str) -> None:
    responses = OPERATIONS[operation_id][2]["responses"]
    assert set(responses) >= {"200", "400", "401", "406", "413", "415", "422", "429", "500", "503"}
    response = client.post(PATHS[operation_id], data=data, content_type=content_type)
    described = DOCUMENT["components"]["responses"][responses[status]["$ref"].rsplit("/", 1)[-1]]
    assert response.status_code == int(status)
    assert faults(strict_json(response), described["content"][response.content_type]["schema"]) == []


def test_the_example_of_a_field_is_taken(client: FlaskClient) -> None:
    examples = {
        f"{name}.{field}": described["examples"]
        for name, schema in DOCUMENT["components"]["schemas"].items()
        for field, described in schema["properties"].items()
        if "examples" in described
    }
    assert examples.keys() == {"HourlyWeather.first_label"}, "send these too"
    (label,) = examples["HourlyWeather.first_label"]
    body = changed(full("compute_clipping"), {"/weather/first_label": label, "/weather/interval_label": "start"})
    require_as_described(post(client, "compute_clipping", body), "compute_clipping")


@pytest.mark.parametrize(
    ("operation_id", "expected"),
    [
        ("check_live", {"status": "live"}),
        ("check_ready", {"status": "ready", "faults": [], "station_count": 0, "broken_station_count": 0}),
    ],
)
def test_health_is_as_described(client: FlaskClient, operation_id: str, expected: Any) -> None:
    response = client.get(OPERATIONS[operation_id][0])
    assert faults(strict_json(response), response_schema(operation_id)) == []
    assert (response.status_code, strict_json(response)) == (200, expected)


def require_as_described(response: TestResponse, operation_id: str) -> Any:
    """The answer, after making sure that it is what the description promises."""
    answer = strict_json(response)
    assert (response.status_code, response.content_type) == (200, "application/json"), answer
    assert faults(answer, response_schema(operation_id)) == []
    for part in ("assumptions", "cautions", "method"):
        assert answer[part], f"{part} must not be empty"
    return answer


@pytest.mark.parametrize("operation_id", WEATHER_USERS)
@pytest.mark.parametrize("kind", [kind for kind in WEATHER if kind != "station"])
def test_every_kind_of_weather_is_answered_as_described(client: FlaskClient, operation_id: str, kind: str) -> None:
    answer = require_as_described(post(client, operation_id, full(operation_id, kind)), operation_id)
    used = answer["selection"] if operation_id == "design_roof" else answer
    assert operation_id == "size_pairings" or used["climate"]["kind"] == kind


@pytest.mark.parametrize("operation_id", WEATHER_USERS)
def test_the_built_in_climate_stands_in_for_missing_weather(client: FlaskClient, operation_id: str) -> None:
    body = full(operation_id, "climate")
    asked = strict_json(post(client, operation_id, body))
    left_out = require_as_described(post(client, operation_id, changed(body, {"/weather": DELETED})), operation_id)
    (assumed,) = (each for each in left_out["assumptions"] if each["name"] == "weather")
    assert assumed["value"] == {"kind": "climate"}
    left_out["assumptions"].remove(assumed)
    assert left_out == asked


@pytest.mark.parametrize("name", DOCUMENT["components"]["schemas"])
def test_every_field_says_what_it_is(name: str) -> None:
    properties = DOCUMENT["components"]["schemas"][name]["properties"]
    assert properties
    for field, schema in properties.items():
        assert len(schema.get("description", "")) >= 4, f"{name}.{field}"
        unit = schema.get("x-unit")
        assert unit is None or f"[{unit}]" in schema["description"], f"{name}.{field}"


@pytest.mark.parametrize("name", [n for n in DOCUMENT["components"]["schemas"] if n.endswith("Request")])
def test_every_field_left_out_is_optional_and_says_what_is_taken(name: str) -> None:
    schema = DOCUMENT["components"]["schemas"][name]
    for field, described in schema["properties"].items():
        if "x-assumption-source" in described:
            assert field not in schema.get("required", [])
            assert described["x-assumption-source"]
