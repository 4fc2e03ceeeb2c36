"""One operation of the API, and the one way in which a request goes through it."""

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
    """What needs nothing more is there."""
    return True


@dataclass(frozen=True, slots=True)
class Answered:
    """A request as it was read, its result with all assumptions, and what turns that into JSON's objects."""

    asked: Any
    result: Any
    write: Writer

    def body(self) -> dict[str, Any]:
        """The answer as JSON has it."""
        body: dict[str, Any] = self.write(self.result)
        return body


@dataclass(frozen=True, slots=True)
class Export:
    """Another form of an answer, for those whose Accept asks for it.

    `write` makes it, with the operator's house style; `available` says whether what it needs is installed.
    """

    write: Callable[[Answered, House], str | bytes]
    content_type: str
    description: str
    headers: Mapping[str, str] = field(default_factory=dict)
    available: Callable[[], bool] = always


@dataclass(frozen=True, slots=True)
class Operation:
    """A pure calculation behind a POST: what it takes, what it gives, and how it is described to its users.

    `handle` takes the dataclass that `request` loads and the operator's stations, and returns the dataclass that `response`
    dumps, a `Result`. `exports` are further forms of the answer by their media type. `negotiated` points to texts of
    the body that choose a form of the answer, each with the pattern of what can be meant: where such a one is not offered, and
    nothing else is at fault, the answer is 406 instead of 422. `deprecation` announces its
    end.
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
    """A body through schema, dataclass, pure function and dataclass."""
    try:
        loaded = request_schema.load(body)
        with metrics.core_time(operation.operation_id):
            result = operation.handle(loaded, stations)
    except ValidationError as error:
        raise _unacceptable(operation, problems.from_validation(error, body)) from error
    except EngineeringError as error:
        raise problems.from_engineering(error, body) from error
    assumptions = (*filter(result.rests_on, assumptions_of(request_schema, body)), *result.assumptions)
    return Answered(loaded, replace(result, assumptions=assumptions), write)


def _unacceptable(operation: Operation, problem: problems.Problem) -> problems.Problem:
    """A problem as 406 where nothing is at fault but a text that chooses the form of the answer."""
    patterns = [(operation.negotiated.get(fault.pointer), fault.given) for fault in problem.errors]
    if not patterns or not all(pattern is not None and re.fullmatch(f'"{pattern}"', given) for pattern, given in patterns):
        return problem
    detail = "What is asked for is not offered; see errors."
    return problems.Problem(HTTPStatus.NOT_ACCEPTABLE, negotiation.NOT_ACCEPTABLE, detail, problem.errors)


def register(app: Flask, operation: Operation, stations: StationFolder, house: House) -> None:
    """Serve an operation."""
    request_schema, write = operation.request(), writer(operation.response())
    forms = {JSON: always, **{media_type: export.available for media_type, export in operation.exports.items()}}

    def view() -> Response:
        wanted = negotiation.wanted(request, forms)
        answered = answer(operation, request_schema, write, json_object(request), stations)
        if wanted == JSON:
            response = Response(dumps(answered.body()), content_type=JSON)
        else:
            export = operation.exports[wanted]
            response = Response(export.write(answered, house), headers=export.headers, content_type=export.content_type)
        if operation.exports:
            response.vary.add("Accept")
        return response

    app.add_url_rule(operation.path, operation.operation_id, view, methods=["POST"])
    if operation.deprecation is not None:
        _announce(app, operation.operation_id, operation.deprecation.headers())


def _announce(app: Flask, endpoint: str, headers: dict[str, str]) -> None:
    """Give every answer of an operation further headers, its errors too."""

    @app.after_request
    def announce(response: Response) -> Response:
        if request.endpoint == endpoint:
            response.headers.update(headers)
        return response
