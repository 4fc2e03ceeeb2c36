"""The committed OpenAPI description is the code's, is valid, and every example does what it says."""

from __future__ import annotations

import copy
import re
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]
from openapi_spec_validator import validate
from werkzeug.test import TestResponse

from tests.contract.bodies import OPERATION_IDS, PATHS, WEATHER, WEATHER_USERS, example, full, post, strict_json
from wattpair_service.api import contract
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


def closed_components() -> dict[str, Any]:
    """The components with every object closed, so that an undocumented field is seen."""
    components: dict[str, Any] = copy.deepcopy(DOCUMENT["components"])
    for schema in components["schemas"].values():
        schema["additionalProperties"] = False
    return components


def faults(instance: Any, schema: dict[str, Any]) -> list[str]:
    """What a JSON Schema validator says to an instance."""
    validator = Draft202012Validator(schema | {"components": closed_components()})
    return [f"{error.json_path}: {error.message[:200]}" for error in validator.iter_errors(instance)]


def test_the_committed_description_is_what_the_code_writes() -> None:
    assert COMMITTED.read_text(encoding="utf-8") == contract.as_yaml(), "run `wattpair-service contract`"


def test_it_is_valid_openapi() -> None:
    validate(DOCUMENT)
    assert DOCUMENT["openapi"] == "3.1.0"


def test_it_is_served(client: FlaskClient) -> None:
    assert strict_json(client.get("/openapi.json")) == DOCUMENT


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
def test_every_calculation_has_an_example_and_its_problems(operation_id: str) -> None:
    _, method, operation = OPERATIONS[operation_id]
    assert method == "post"
    (media_type, content), *others = operation["requestBody"]["content"].items()
    assert (media_type, others) == ("application/json", [])
    assert content["examples"]["roof"]["value"] == example(operation_id)
    assert set(operation["responses"]) >= {"200", "400", "401", "406", "413", "415", "422", "429", "500", "503"}


@EVERY_POST
def test_every_example_keeps_to_the_request_schema(operation_id: str) -> None:
    schema = OPERATIONS[operation_id][2]["requestBody"]["content"]["application/json"]["schema"]
    assert faults(example(operation_id), schema) == []
    for kind in WEATHER:
        assert faults(full(operation_id, kind), schema) == []
    assert faults(example(operation_id) | {"colour": "red"}, schema) != []


def require_as_described(response: TestResponse, operation_id: str) -> Any:
    """The answer, after making sure that it is what the description promises."""
    answer = strict_json(response)
    assert (response.status_code, response.content_type) == (200, "application/json"), answer
    schema = OPERATIONS[operation_id][2]["responses"]["200"]["content"]["application/json"]["schema"]
    assert faults(answer, schema) == []
    for part in ("assumptions", "cautions", "method"):
        assert answer[part], f"{part} must not be empty"
    return answer


@EVERY_POST
def test_every_example_is_answered_as_described(client: FlaskClient, operation_id: str) -> None:
    require_as_described(post(client, operation_id, example(operation_id)), operation_id)


def test_every_example_of_a_field_is_taken(client: FlaskClient) -> None:
    examples = {
        f"{name}.{field}": described["examples"]
        for name, schema in DOCUMENT["components"]["schemas"].items()
        for field, described in schema["properties"].items()
        if "examples" in described
    }
    (label,) = examples.pop("HourlyWeather.first_label")
    body = full("compute_clipping", "hourly")
    body["weather"] = body["weather"] | {"first_label": label, "interval_label": "start"}
    require_as_described(post(client, "compute_clipping", body), "compute_clipping")
    assert examples == {}, "send these too"


@pytest.mark.parametrize("operation_id", WEATHER_USERS)
@pytest.mark.parametrize("kind", [kind for kind in WEATHER if kind != "station"])
def test_every_kind_of_weather_is_answered_as_described(client: FlaskClient, operation_id: str, kind: str) -> None:
    answer = require_as_described(post(client, operation_id, full(operation_id, kind)), operation_id)
    used = answer["selection"] if operation_id == "design_roof" else answer
    assert operation_id == "size_pairings" or used["climate"]["kind"] == kind


@pytest.mark.parametrize("operation_id", WEATHER_USERS)
def test_the_built_in_climate_stands_in_for_missing_weather(client: FlaskClient, operation_id: str) -> None:
    body = full(operation_id, "climate")
    asked = require_as_described(post(client, operation_id, body), operation_id)
    left_out = require_as_described(post(client, operation_id, {k: v for k, v in body.items() if k != "weather"}), operation_id)
    (assumed,) = (each for each in left_out["assumptions"] if each["name"] == "weather")
    assert assumed["value"] == {"kind": "climate"}
    left_out["assumptions"].remove(assumed)
    assert left_out == asked


def test_readiness_is_as_described(client: FlaskClient) -> None:
    response = client.get("/health/ready")
    schema = OPERATIONS["check_ready"][2]["responses"]["200"]["content"]["application/json"]["schema"]
    answer = strict_json(response)
    assert faults(answer, schema) == []
    assert (response.status_code, answer) == (
        200, {"status": "ready", "faults": [], "station_count": 0, "broken_station_count": 0},
    )  # fmt: skip


@EVERY_POST
def test_every_problem_is_as_described(client: FlaskClient, operation_id: str) -> None:
    responses = OPERATIONS[operation_id][2]["responses"]
    sent = {"400": (b"{", "application/json"), "415": (b"{}", "text/plain"), "422": (b"{}", "application/json")}
    for status, (data, content_type) in sent.items():
        response = client.post(PATHS[operation_id], data=data, content_type=content_type)
        described = DOCUMENT["components"]["responses"][responses[status]["$ref"].rsplit("/", 1)[-1]]
        assert response.status_code == int(status)
        assert faults(strict_json(response), described["content"][response.content_type]["schema"]) == []


def test_liveness_is_as_described(client: FlaskClient) -> None:
    schema = OPERATIONS["check_live"][2]["responses"]["200"]["content"]["application/json"]["schema"]
    assert faults(strict_json(client.get("/health/live")), schema) == []


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
