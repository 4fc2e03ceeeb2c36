"""Serves the web pages: `/` introduces the service, `/docs` has the API to try out.

The pages are not part of the contract. Everything that a page loads comes from this service; a strict Content-Security-Policy
enforces it.
"""

from __future__ import annotations

import json
from functools import cache
from http import HTTPStatus
from pathlib import Path

import flask_swagger_ui
from flask import Blueprint, Flask, Response, abort, render_template, request

from wattpair_service.api.contract import contract
from wattpair_service.api.exchange.problems import Problem
from wattpair_service.api.exchange.reference import cached
from wattpair_service.api.routes import OPERATIONS

HTML = "text/html"
SHOWN = "design_roof"
"""The operation whose example the first page sends; its result has everything that the page announces."""

_BY_ID = {operation.operation_id: operation for operation in OPERATIONS}
_HERE = Path(__file__).parent
_SWAGGER_UI = Path(flask_swagger_ui.__file__).parent / "dist"
FILES = {
    "icon.svg": _HERE,
    "page.css": _HERE,
    "home.css": _HERE,
    "home.js": _HERE,
    "docs.css": _HERE,
    "docs.js": _HERE,
    "swagger-ui.css": _SWAGGER_UI,
    "swagger-ui-bundle.js": _SWAGGER_UI,
}
"""Files that the pages load, with their folders."""
_CONTENT_TYPES = {".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}

_PROTECTION = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}

_pages = Blueprint("pages", __name__, template_folder=str(_HERE))


def register(app: Flask) -> None:
    """Serve the pages."""
    app.register_blueprint(_pages)


@_pages.get("/")
def home() -> Response:
    """The first page, with an example that can be sent."""
    shown = _BY_ID[SHOWN]
    text = render_template("home.html", operations=OPERATIONS, shown=shown, example=_example(SHOWN), version=contract.VERSION)
    return _page(text)


@_pages.get("/docs")
def docs() -> Response:
    """The API to try out."""
    return _page(render_template("docs.html"))


@_pages.get("/docs/")
def docs_with_a_slash() -> Response:
    """Redirect to /docs. The address is relative, since a proxy may serve the service below a path."""
    return Response(status=HTTPStatus.PERMANENT_REDIRECT, headers={"Location": "../docs"})


@_pages.get("/pages/<name>")
def file(name: str) -> Response:
    """A file that a page loads."""
    if name not in FILES:
        abort(HTTPStatus.NOT_FOUND)
    return cached(Response(_content(name), content_type=_CONTENT_TYPES[Path(name).suffix]))


@_pages.get("/examples/<operation_id>.json")
def example(operation_id: str) -> Response:
    """The example request of an operation."""
    if operation_id not in _BY_ID:
        abort(HTTPStatus.NOT_FOUND)
    return cached(Response(_example(operation_id), content_type="application/json"))


@_pages.after_request
def _protect(response: Response) -> Response:
    response.headers.update(_PROTECTION)
    return response


def _example(operation_id: str) -> str:
    return json.dumps(contract.example(_BY_ID[operation_id]), indent=2, ensure_ascii=False)


@cache
def _content(name: str) -> bytes:
    return (FILES[name] / name).read_bytes()


def _page(text: str) -> Response:
    if request.accept_mimetypes and not _takes_html():
        raise Problem(
            HTTPStatus.NOT_ACCEPTABLE,
            "not-acceptable",
            f"This page is offered as {HTML} only; /openapi.json describes the service in JSON.",
            headers={"Vary": "Accept"},
        )
    response = cached(Response(text, content_type=f"{HTML}; charset=utf-8"))
    response.vary.add("Accept")
    return response


def _takes_html() -> bool:
    """Whether Accept allows HTML. Parameters such as `level=1` are ignored."""
    is_named = any(quality > 0 and kind.split(";")[0].strip().lower() == HTML for kind, quality in request.accept_mimetypes)
    return is_named or bool(request.accept_mimetypes[HTML])
