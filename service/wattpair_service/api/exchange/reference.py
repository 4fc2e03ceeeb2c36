"""Reference data, read with GET and revalidated by ETag."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from flask import Flask, Response, request
from flask.json import dumps

from wattpair_service.api.exchange.problems import Problem
from wattpair_service.api.schemas.base import OutputSchema


@dataclass(frozen=True, slots=True)
class Reference:
    """A path with reference data, and its description.

    `read` takes the path's parameters (in braces) as keywords and returns a mapping that `response` dumps, or raises a Problem.
    `names` has the allowed values of each parameter, which the operation `listed_by` lists.
    """

    path: str
    operation_id: str
    summary: str
    description: str
    response: type[OutputSchema]
    read: Callable[..., dict[str, Any]]
    names: dict[str, tuple[str, ...]]
    listed_by: str | None = None


def register(app: Flask, reference: Reference) -> None:
    """Serve reference data."""
    schema = reference.response()

    def view(**names: str) -> Response:
        return cached(Response(dumps(schema.dump(reference.read(**names))), content_type="application/json"))

    app.add_url_rule(reference.path.replace("{", "<").replace("}", ">"), reference.operation_id, view, methods=["GET"])


def cached(response: Response) -> Response:
    """The response with its ETag, or 304 where the caller has it already; raises a Problem (412) where If-Match has a tag."""
    if request.if_match and not request.if_match.star_tag:
        # If-Match needs a strong tag (RFC 9110, 13.1.1); the tags here are weak, so none can match.
        raise Problem(
            HTTPStatus.PRECONDITION_FAILED,
            "precondition-failed",
            "If-Match needs a strong ETag, and ETags here are weak; send them as If-None-Match.",
        )
    # The data may change with the next version of the service, and revalidation costs next to nothing.
    response.cache_control.no_cache = True
    # Weak, since the tag is the same for the plain and the compressed body.
    response.add_etag(weak=True)
    # If-Match: * matches any data, but werkzeug would look for a tag named "*": leave the header out.
    response.make_conditional({name: value for name, value in request.environ.items() if name != "HTTP_IF_MATCH"})
    return response
