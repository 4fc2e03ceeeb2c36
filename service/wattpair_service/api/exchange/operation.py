"""One operation of the API, and how a request is processed."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from http import HTTPStatus
from typing import Any

from flask import Flask, Response, request
from flask.json import dumps
from marshmallow import Schema, ValidationError

from wattpair_service.api.exchange import negotiation, problems
from wattpair_service.api.exchange.body import json_object
from wattpair_service.api.exchange.deprecation import Deprecation
from wattpair_service.api.guards import metrics
from wattpair_service.api.schemas.base import InputSchema, OutputSchema, assumptions_of
from wattpair_service.api.schemas.writing import Writer, writer
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.report.house import House

JSON = "application/json"


def always() -> bool:
    """For media types that need no optional library."""
    return True


@dataclass(frozen=True, slots=True)
class Answered:
    """A loaded request, its result with all assumptions, and the function that turns the result into JSON objects."""

    request: Any
    result: Any
    write: Writer

    def body(self) -> dict[str, Any]:
        """The result as JSON objects."""
        body: dict[str, Any] = self.write(self.result)
        return body


@dataclass(frozen=True, slots=True)
class Export:
    """A result in another media type, for requests whose Accept asks for it.

    `write` makes it, with the operator's house style; `available` says whether its libraries are installed.
    """

    write: Callable[[Answered, House], str | bytes]
    content_type: str
    description: str
    headers: Mapping[str, str] = field(default_factory=dict)
    available: Callable[[], bool] = always


@dataclass(frozen=True, slots=True)
class Operation:
    """A pure calculation behind a POST, with its schemas and its description.

    `handle` takes the dataclass that `request` loads and the operator's stations, and returns the dataclass that `response`
    dumps, a `Result`. `exports` are further forms of the result by media type. `negotiated` has the pointers of fields that
    choose a form of the result, such as its language, each with the pattern of a well-formed value: if such values are the only
    errors, the status is 406 instead of 422. `deprecation` announces the operation's end.
    """

    path: str
    operation_id: str
    summary: str
    description: str
    request: type[InputSchema]
    response: type[OutputSchema]
    handle: Callable[[Any, StationFolder], Any]
    exports: Mapping[str, Export] = field(default_factory=dict)
    negotiated: Mapping[str, str] = field(default_factory=dict)
    deprecation: Deprecation | None = None


def answer(
    operation: Operation, request_schema: Schema, write: Writer, body: dict[str, Any], stations: StationFolder
) -> Answered:
    """Load a body, compute its result and add the assumptions."""
    try:
        loaded = request_schema.load(body)
        with metrics.core_time(operation.operation_id):
            result = operation.handle(loaded, stations)
    except ValidationError as error:
        raise _as_not_acceptable(operation, problems.from_validation(error, body)) from error
    except EngineeringError as error:
        raise problems.from_engineering(error, body) from error
    assumptions = (*filter(result.rests_on, assumptions_of(request_schema, body)), *result.assumptions)
    return Answered(loaded, replace(result, assumptions=assumptions), write)


def _as_not_acceptable(operation: Operation, problem: problems.Problem) -> problems.Problem:
    """The problem as 406 if its only errors are well-formed values that choose a form of the result."""
    patterns = [(operation.negotiated.get(error.pointer), error.given) for error in problem.errors]
    if not patterns or not all(pattern is not None and re.fullmatch(f'"{pattern}"', given) for pattern, given in patterns):
        return problem
    detail = "The requested form is not offered; see errors."
    return problems.Problem(HTTPStatus.NOT_ACCEPTABLE, negotiation.NOT_ACCEPTABLE, detail, problem.errors)


def register(app: Flask, operation: Operation, stations: StationFolder, house: House) -> None:
    """Serve an operation."""
    request_schema, write = operation.request(), writer(operation.response())
    forms = {JSON: always, **{media_type: export.available for media_type, export in operation.exports.items()}}

    def view() -> Response:
        media_type = negotiation.media_type_for(request, forms)
        answered = answer(operation, request_schema, write, json_object(request), stations)
        if media_type == JSON:
            response = Response(dumps(answered.body()), content_type=JSON)
        else:
            export = operation.exports[media_type]
            response = Response(export.write(answered, house), headers=export.headers, content_type=export.content_type)
        if operation.exports:
            response.vary.add("Accept")
        return response

    app.add_url_rule(operation.path, operation.operation_id, view, methods=["POST"])
    if operation.deprecation is not None:
        _announce(app, operation.operation_id, operation.deprecation.headers())


def _announce(app: Flask, endpoint: str, headers: dict[str, str]) -> None:
    """Add headers to every response of an operation, problems too."""

    @app.after_request
    def announce(response: Response) -> Response:
        if request.endpoint == endpoint:
            response.headers.update(headers)
        return response
