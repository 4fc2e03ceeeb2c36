"""Data that an answer may quote: looked up with GET, and kept by caches with their ETag."""

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
    """Something to look up: where it is, and what it gives.

    `read` takes the names in the path, in braces there, as keywords and returns a mapping that `response` dumps, or raises a
    Problem. `names` has the values that each of them may take.
    """

    path: str
    operation_id: str
    summary: str
    description: str
    response: type[OutputSchema]
    read: Callable[..., dict[str, Any]]
    names: dict[str, tuple[str, ...]]


def register(app: Flask, reference: Reference) -> None:
    """Serve something to look up."""
    schema = reference.response()

    def view(**names: str) -> Response:
        return cached(Response(dumps(schema.dump(reference.read(**names))), content_type="application/json"))

    app.add_url_rule(reference.path.replace("{", "<").replace("}", ">"), reference.operation_id, view, methods=["GET"])


def cached(response: Response) -> Response:
    """The answer with its ETag, or 304 where the caller has it already; raises a Problem where If-Match rules it out."""
    if request.if_match and not request.if_match.star_tag:
        # It compares strongly (RFC 9110, 13.1.1), so that no weak tag ever matches.
        raise Problem(
            HTTPStatus.PRECONDITION_FAILED,
            "precondition-failed",
            "If-Match compares byte for byte, and an ETag here names the data in every coding; send it as If-None-Match.",
        )
    # The next version of the service may have other data at once, and asking whether it has costs next to nothing.
    response.cache_control.no_cache = True
    # Weak, since it names the data in each coding that it is sent in.
    response.add_etag(weak=True)
    # What is left of If-Match is "*", which any data fulfils; werkzeug looks for a tag of this name.
    response.make_conditional({name: value for name, value in request.environ.items() if name != "HTTP_IF_MATCH"})
    return response
