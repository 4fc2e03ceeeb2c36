"""One operation of the API, and the one way in which a request goes through it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from flask import Flask, Response, request
from flask.json import dumps
from marshmallow import Schema, ValidationError

from wattpair_service.api import problems
from wattpair_service.api.body import json_object
from wattpair_service.api.schema import InputSchema, OutputSchema, assumptions_of
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.errors import EngineeringError


@dataclass(frozen=True, slots=True)
class Operation:
    """A pure calculation behind a POST: what it takes, what it gives, and how it is described to its users.

    `handle` takes the dataclass that `request` loads and the operator's stations, and returns the dataclass that `response`
    dumps, a `findings.Result`.
    """

    path: str
    operation_id: str
    summary: str
    description: str
    request: type[InputSchema]
    response: type[OutputSchema]
    handle: Callable[[Any, StationFolder], Any]


def answer(
    operation: Operation, request_schema: Schema, response_schema: Schema, body: dict[str, Any], stations: StationFolder
) -> dict[str, Any]:
    """A body through schema, dataclass, pure function, dataclass and schema."""
    try:
        loaded = request_schema.load(body)
        result = operation.handle(loaded, stations)
    except ValidationError as error:
        raise problems.from_validation(error, body) from error
    except EngineeringError as error:
        raise problems.from_engineering(error, body) from error
    assumptions = (*assumptions_of(request_schema, body), *result.assumptions)
    dumped: dict[str, Any] = response_schema.dump(replace(result, assumptions=assumptions))
    return dumped


def register(app: Flask, operation: Operation, stations: StationFolder) -> None:
    """Serve an operation."""
    request_schema, response_schema = operation.request(), operation.response()

    def view() -> Response:
        body = answer(operation, request_schema, response_schema, json_object(request), stations)
        return Response(dumps(body), content_type="application/json")

    app.add_url_rule(operation.path, operation.operation_id, view, methods=["POST"])
