"""One operation of the API, and the one way in which a request goes through it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from flask import Flask, Response, request
from flask.json import dumps
from marshmallow import Schema, ValidationError

from wattpair_service.api import problems
from wattpair_service.api.body import json_object
from wattpair_service.api.schema import InputSchema, OutputSchema, assumptions_of
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.errors import EngineeringError

JSON = "application/json"


@dataclass(frozen=True, slots=True)
class Export:
    """Another form of an answer, for those whose Accept asks for it: what writes it, and its full content type."""

    write: Callable[[dict[str, Any]], str]
    content_type: str
    description: str


@dataclass(frozen=True, slots=True)
class Operation:
    """A pure calculation behind a POST: what it takes, what it gives, and how it is described to its users.

    `handle` takes the dataclass that `request` loads and the operator's stations, and returns the dataclass that `response`
    dumps, a `findings.Result`. `exports` are further forms of the answer by their media type.
    """

    path: str
    operation_id: str
    summary: str
    description: str
    request: type[InputSchema]
    response: type[OutputSchema]
    handle: Callable[[Any, StationFolder], Any]
    exports: Mapping[str, Export] = field(default_factory=dict)


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
    assumptions = (*filter(result.rests_on, assumptions_of(request_schema, body)), *result.assumptions)
    dumped: dict[str, Any] = response_schema.dump(replace(result, assumptions=assumptions))
    return dumped


def register(app: Flask, operation: Operation, stations: StationFolder) -> None:
    """Serve an operation."""
    request_schema, response_schema = operation.request(), operation.response()

    def view() -> Response:
        body = answer(operation, request_schema, response_schema, json_object(request), stations)
        wanted = request.accept_mimetypes.best_match([JSON, *operation.exports], default=JSON) or JSON
        if wanted == JSON:
            response = Response(dumps(body), content_type=JSON)
        else:
            export = operation.exports[wanted]
            response = Response(export.write(body), content_type=export.content_type)
        if operation.exports:
            response.vary.add("Accept")
        return response

    app.add_url_rule(operation.path, operation.operation_id, view, methods=["POST"])
