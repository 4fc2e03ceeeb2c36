"""Valid bodies of every operation, ways to change them, and what every problem must look like."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from functools import cache
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG, UTC_OFFSET_H, real_weather
from wattpair_service.api import contract
from wattpair_service.api.operations import OPERATIONS

Body = dict[str, Any]

OPERATION_IDS = tuple(operation.operation_id for operation in OPERATIONS)
PATHS = {operation.operation_id: operation.path for operation in OPERATIONS}
REQUESTS = {operation.operation_id: operation.request for operation in OPERATIONS}
NEEDS_WEATHER = ("compute_clipping",)
"""Operations whose example is only answered with weather added.

Once a built-in climate stands in for it this is empty: then it goes, with `test_missing_weather_is_named`.
"""

DELETED = object()


def example(operation_id: str) -> Body:
    """The contract's example request."""
    (operation,) = (each for each in OPERATIONS if each.operation_id == operation_id)
    return contract.example(operation)


def valid(operation_id: str) -> Body:
    """A body that is answered."""
    body = example(operation_id)
    return with_weather(body) if operation_id in NEEDS_WEATHER else body


def full(operation_id: str) -> Body:
    """A body with faces and weather wherever the operation takes them."""
    body, known = example(operation_id), REQUESTS[operation_id]().fields
    if "faces" in known and "faces" not in body:
        body["faces"] = example("compute_clipping")["faces"]
    return with_weather(body) if "weather" in known else body


def with_weather(body: Body) -> Body:
    """The body with a real year and the place where it was measured."""
    place = {"latitude_deg": LATITUDE_DEG, "longitude_deg": LONGITUDE_DEG}
    return body | {"site": body["site"] | place, "weather": hourly_weather()}


@cache
def hourly_weather() -> Body:
    """The demo's typical year as arrays."""
    year = real_weather()
    assert year.dni_w_m2 is not None
    assert year.dhi_w_m2 is not None
    return {
        "kind": "hourly",
        "first_label": "2023-01-01T01:00",
        "utc_offset_h": UTC_OFFSET_H,
        "interval_label": "end",
        "ghi_w_m2": year.ghi_w_m2.tolist(),
        "dni_w_m2": year.dni_w_m2.tolist(),
        "dhi_w_m2": year.dhi_w_m2.tolist(),
        "temp_air_c": year.temp_air_c.tolist(),
        "wind_speed_m_s": year.wind_speed_m_s.tolist(),
    }


def leaves(node: Any, pointer: str = "") -> Iterator[tuple[str, Any]]:
    """JSON pointer and value of everything in a body that is neither object nor array."""
    if isinstance(node, dict | list):
        for key, inner in node.items() if isinstance(node, dict) else enumerate(node):
            yield from leaves(inner, f"{pointer}/{key}")
    else:
        yield pointer, node


def changed(body: Body, changes: dict[str, Any]) -> Body:
    """A copy with other values at JSON pointers; DELETED removes."""
    result = {key: value if key == "weather" else copy.deepcopy(value) for key, value in body.items()}
    for pointer, value in changes.items():
        *way, last = pointer.split("/")[1:]
        node: Any = result
        for step in way:
            key: Any = int(step) if isinstance(node, list) else step
            # The year's arrays are shared by all tests: only what is changed is copied.
            node[key] = copy.copy(node[key])
            node = node[key]
        place: Any = int(last) if isinstance(node, list) else last
        if value is DELETED:
            del node[place]
        else:
            node[place] = value
    return result


def post(client: FlaskClient, operation_id: str, body: Any) -> TestResponse:
    """Send a body; bytes and text go as they are."""
    data = body if isinstance(body, bytes | str) else json.dumps(body)
    return client.post(PATHS[operation_id], data=data, content_type="application/json")


def strict_json(response: TestResponse) -> Any:
    """The answer's JSON, which holds no NaN."""

    def refuse(name: str) -> Any:
        raise AssertionError(f"the answer holds {name}")

    return json.loads(response.get_data().decode("utf-8"), parse_constant=refuse)


def problem(response: TestResponse, status: int, slug: str) -> Body:
    """The answer's problem, after making sure that it is a proper one."""
    body: Body = strict_json(response)
    assert response.status_code == status, body
    assert response.content_type == "application/problem+json"
    assert body["type"] == f"urn:wattpair:problem:{slug}"
    assert body["status"] == status
    assert body["request_id"] == response.headers["X-Request-ID"] != ""
    assert body["title"]
    assert body["detail"].endswith(".")
    for error in body["errors"]:
        assert error.keys() == {"pointer", "given", "allowed", "detail"}
        assert error["allowed"]
        assert len(error["given"]) <= 80
        assert error["given"] in error["detail"]
        assert error["allowed"] in error["detail"]
    text = response.get_data(as_text=True)
    assert "Traceback" not in text
    assert ".py" not in text
    return body


def pointers(body: Body) -> set[str]:
    """The fields that a problem names."""
    return {error["pointer"] for error in body["errors"]}
