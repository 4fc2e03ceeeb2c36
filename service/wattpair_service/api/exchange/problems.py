"""Every error as application/problem+json (RFC 9457), with JSON pointers (RFC 6901) to the fields concerned."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from http import HTTPStatus
from itertools import islice
from typing import Any

from flask import Flask, Response, g, json
from gunicorn.http.errors import NoMoreData, ParseException
from marshmallow import ValidationError
from werkzeug.exceptions import HTTPException

from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.words.catalogue import english

LOG = logging.getLogger(__name__)

MEDIA_TYPE = "application/problem+json"
TYPE_PREFIX = "urn:wattpair:problem:"
GIVEN_LENGTH = 80
ERRORS_MOST = 200
"""Errors that one problem lists at most: a response must not be many times larger than its request."""


@dataclass(frozen=True, slots=True)
class FieldError:
    """One problem of a field: its JSON pointer, what was given, what is allowed, and the three in one sentence."""

    pointer: str
    given: str
    allowed: str
    detail: str


class Problem(Exception):
    """An error that ends a request.

    Parameters
    ----------
    status : HTTPStatus
        Status of the response.
    slug : str
        Stable last part of the problem's `type`.
    detail : str
        A plain sentence for the person who reads the log.
    errors : tuple of FieldError
        The fields concerned, if any.
    headers : dict
        Further response headers.
    """

    def __init__(
        self,
        status: HTTPStatus,
        slug: str,
        detail: str,
        errors: tuple[FieldError, ...] = (),
        headers: dict[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.status = status
        self.slug = slug
        self.detail = detail
        self.errors = errors
        self.headers = headers or {}

    def response(self) -> Response:
        """The response to send."""
        text = self.document(g.get("request_id", ""))
        return Response(text, self.status.value, self.headers, content_type=MEDIA_TYPE)

    def document(self, request_id: str) -> bytes:
        """The response's body: JSON in UTF-8."""
        body = {
            "type": TYPE_PREFIX + self.slug,
            "title": self.status.phrase,
            "status": self.status.value,
            "detail": self.detail,
            "request_id": request_id,
            "errors": [asdict(error) for error in self.errors],
        }
        # A lone surrogate in a given value is valid JSON but cannot be encoded.
        return json.dumps(body).encode("utf-8", errors="replace")


NOTHING = "nothing"


def invalid_fields(errors: tuple[FieldError, ...]) -> Problem:
    """The problem of a body with errors in its fields."""
    many = "1 field is" if len(errors) == 1 else f"{len(errors)} fields are"
    if len(errors) > ERRORS_MOST:
        errors, many = errors[:ERRORS_MOST], f"More than {ERRORS_MOST} fields, of which only the first are named, are"
    return Problem(HTTPStatus.UNPROCESSABLE_ENTITY, "invalid-fields", f"{many} not as allowed; see errors.", errors)


def from_validation(error: ValidationError, payload: object) -> Problem:
    """The problem of a body that its schema refused, with all errors."""
    found = tuple(islice(_flatten(error.messages, "", payload), ERRORS_MOST + 1))
    return invalid_fields(found)


def from_engineering(error: EngineeringError, payload: object) -> Problem:
    """The problem of a valid body that a model cannot use; the error's fields are paths within the body."""
    pointers = [f"/{field}" for field in error.fields] or [""]
    return invalid_fields(tuple(_field_error(p, payload, english(error.message)) for p in pointers))


def _field_error(pointer: str, payload: object, allowed: str, before_allowed: str = "") -> FieldError:
    given = given_at(payload, pointer)
    return FieldError(pointer, given, allowed, f"{pointer or 'the body'}: {given} was given; {before_allowed}{allowed}")


def _flatten(messages: Any, pointer: str, payload: object) -> Iterator[FieldError]:
    if isinstance(messages, dict):
        for key, inner in messages.items():
            step = "" if key == "_schema" else f"/{str(key).replace('~', '~0').replace('/', '~1')}"
            yield from _flatten(inner, pointer + step, payload)
    else:
        for message in messages if isinstance(messages, list) else [messages]:
            yield _field_error(pointer, payload, str(message), "allowed is ")


def given_at(payload: object, pointer: str) -> str:
    """The value at a JSON pointer, shortened for an error message."""
    for step in pointer.split("/")[1:]:
        key = step.replace("~1", "/").replace("~0", "~")
        if isinstance(payload, dict) and key in payload:
            payload = payload[key]
        elif isinstance(payload, list) and key.isdigit() and int(key) < len(payload):
            payload = payload[int(key)]
        else:
            return NOTHING
    if isinstance(payload, dict):
        return "an object"
    if isinstance(payload, list):
        return f"an array of {len(payload)}"
    text = _shown(payload)
    return text if len(text) <= GIVEN_LENGTH else text[: GIVEN_LENGTH - 3] + "..."


def _shown(value: object) -> str:
    try:
        return str(json.dumps(value, allow_nan=True))
    except ValueError:
        # An integer too long to be written in decimal.
        return "a number with very many digits"


_SLUGS = {
    HTTPStatus.NOT_FOUND: ("not-found", "This path is unknown; /openapi.json lists the known paths."),
    HTTPStatus.METHOD_NOT_ALLOWED: ("method-not-allowed", "This path does not allow this method; see Allow."),
    HTTPStatus.REQUEST_ENTITY_TOO_LARGE: ("body-too-large", "The body is larger than this service accepts."),
    HTTPStatus.UNSUPPORTED_MEDIA_TYPE: ("unsupported-media-type", "Send application/json."),
}


def register(app: Flask) -> None:
    """Make every error of the app a problem."""

    @app.errorhandler(Problem)
    def on_problem(problem: Problem) -> Response:
        return problem.response()

    @app.errorhandler(NoMoreData)
    @app.errorhandler(ParseException)
    def on_bad_framing(_: Exception) -> Response:
        return Problem(HTTPStatus.BAD_REQUEST, "malformed-http", "The body's chunks cannot be read.").response()

    @app.errorhandler(HTTPException)
    def on_http(error: HTTPException) -> Response:
        status = HTTPStatus(error.code or HTTPStatus.INTERNAL_SERVER_ERROR)
        slug, detail = _SLUGS.get(status, (status.phrase.lower().replace(" ", "-"), f"{status.phrase}."))
        headers = {name: value for name, value in error.get_headers() if name in ("Allow", "Retry-After")}
        return Problem(status, slug, detail, headers=headers).response()

    @app.errorhandler(Exception)
    def on_exception(error: Exception) -> Response:
        LOG.exception("fault in request %s", g.get("request_id", ""), exc_info=error)
        return Problem(
            HTTPStatus.INTERNAL_SERVER_ERROR,
            "internal-fault",
            "The service failed on this request; its log has the error under the request id.",
        ).response()
