"""Serves the contract as JSON and as YAML. An ETag spares those who have it already: they are told so with a 304."""

from __future__ import annotations

from functools import cache

from flask import Flask, Response, request
from flask.json import dumps

from wattpair_service.api import contract


def register(app: Flask) -> None:
    """Serve both forms, each of which is written when it is first asked for."""

    @app.get("/openapi.json")
    def openapi_json() -> Response:
        return _answer(_json(), "application/json")

    @app.get("/openapi.yaml")
    def openapi_yaml() -> Response:
        return _answer(_yaml(), "application/yaml")


def _answer(text: str, content_type: str) -> Response:
    response = Response(text, content_type=content_type)
    # The next version of the service may have another contract at once, and asking whether it has costs next to nothing.
    response.cache_control.no_cache = True
    response.add_etag()
    response.make_conditional(request)
    return response


@cache
def _json() -> str:
    return str(dumps(contract.document()))


@cache
def _yaml() -> str:
    return contract.as_yaml()
