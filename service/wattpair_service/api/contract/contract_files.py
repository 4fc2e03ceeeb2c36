"""Serves the contract as JSON and as YAML, with an ETag: callers who have it already get a 304."""

from __future__ import annotations

from functools import cache

from flask import Flask, Response
from flask.json import dumps

from wattpair_service.api.contract import contract
from wattpair_service.api.exchange.reference import cached


def register(app: Flask, body_limit_bytes: int) -> None:
    """Serve both forms; each is generated at its first request."""

    @app.get("/openapi.json")
    def openapi_json() -> Response:
        return cached(Response(_json(body_limit_bytes), content_type="application/json"))

    @app.get("/openapi.yaml")
    def openapi_yaml() -> Response:
        return cached(Response(_yaml(body_limit_bytes), content_type="application/yaml"))


@cache
def _json(body_limit_bytes: int) -> str:
    return str(dumps(contract.document(body_limit_bytes)))


@cache
def _yaml(body_limit_bytes: int) -> str:
    return contract.as_yaml(body_limit_bytes)
