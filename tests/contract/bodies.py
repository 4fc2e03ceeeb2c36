"""Valid bodies of every operation, ways to change them, and what every problem must look like."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import numpy as np
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG, TMY3, UTC_OFFSET_H, real_weather, real_year
from tests.open_data import pvlib_bundled
from wattpair_service.api.contract import contract
from wattpair_service.api.routes import OPERATIONS

Body = dict[str, Any]

OPERATION_IDS = tuple(operation.operation_id for operation in OPERATIONS)
PATHS = {operation.operation_id: operation.path for operation in OPERATIONS}
REQUESTS = {operation.operation_id: operation.request for operation in OPERATIONS}
WEATHER_USERS = tuple(each for each in OPERATION_IDS if "weather" in REQUESTS[each]().fields)
"""The operations that take weather."""

DELETED = object()


def example(operation_id: str) -> Body:
    """The contract's example request."""
    (operation,) = (each for each in OPERATIONS if each.operation_id == operation_id)
    return contract.example(operation)


def full(operation_id: str, kind: str = "hourly") -> Body:
    """A body with two faces, two microinverters and a kind of weather wherever the operation takes them."""
    body, roof = example(operation_id), example("compute_clipping")
    if operation_id not in WEATHER_USERS:
        return body
    for name in ("faces", "microinverters"):
        if name in REQUESTS[operation_id]().fields and len(body.get(name, ())) < 2:
            body[name] = roof[name]
    place = {"latitude_deg": LATITUDE_DEG, "longitude_deg": LONGITUDE_DEG}
    return body | {"site": body["site"] | place, "weather": WEATHER[kind]()}


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


def monthly_weather() -> Body:
    """The same year's monthly totals and temperatures, as a handbook would print them."""
    year = real_year()
    hours = np.bincount(year.month - 1)
    ghi = np.bincount(year.month - 1, weights=year.ghi_w_m2) / 1000.0
    temps = np.bincount(year.month - 1, weights=year.temp_air_c) / hours
    return {
        "kind": "monthly",
        "ghi_kwh_m2_by_month": [round(value, 1) for value in ghi.tolist()],
        "temp_air_c_by_month": [round(value, 1) for value in temps.tolist()],
    }


WEATHER: dict[str, Callable[[], Body]] = {
    "climate": lambda: {"kind": "climate"},
    "monthly": monthly_weather,
    "station": lambda: {"kind": "station"},
    "hourly": hourly_weather,
    "file": lambda: {"kind": "file", "file_format": "tmy3", "text": pvlib_bundled(TMY3)},
}
"""Each kind of weather for the place of `full`; without a folder there is no station."""


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


def refusal(client: FlaskClient, operation_id: str, body: Any) -> Body:
    """The problem that names the wrong fields of a body."""
    return problem(post(client, operation_id, body), 422, "invalid-fields")


def caution_codes(answer: Body) -> list[str]:
    """Codes of the cautions of an answer."""
    return [each["code"] for each in answer["cautions"]]


def pointers(body: Body) -> set[str]:
    """The fields that a problem names."""
    return {error["pointer"] for error in body["errors"]}
