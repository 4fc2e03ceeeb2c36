"""Serves the pages for people: `/` says what this is, `/docs` is the API to try out.

They are no part of the contract: an answer for a program is JSON, and is described there. Everything that a page loads comes
from this service, and a strict Content-Security-Policy holds it to that.
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
"""The operation whose example the first page sends: it answers everything that the page promises."""

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
"""What the pages load, and where it lies."""
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
    """What this is, with an example that can be sent."""
    shown = _BY_ID[SHOWN]
    text = render_template("home.html", operations=OPERATIONS, shown=shown, example=_example(SHOWN), version=contract.VERSION)
    return _page(text)


@_pages.get("/docs")
def docs() -> Response:
    """The API to try out."""
    return _page(render_template("docs.html"))


@_pages.get("/docs/")
def docs_with_a_slash() -> Response:
    """The same, where a slash was put behind it; the way is relative, since a proxy may put the service below a path."""
    return Response(status=HTTPStatus.PERMANENT_REDIRECT, headers={"Location": "../docs"})


@_pages.get("/pages/<name>")
def file(name: str) -> Response:
    """What a page loads."""
    if name not in FILES:
        abort(HTTPStatus.NOT_FOUND)
    return cached(Response(_content(name), content_type=_CONTENT_TYPES[Path(name).suffix]))


@_pages.get("/examples/<operation_id>.json")
def example(operation_id: str) -> Response:
    """The example request of an operation, to be sent as it is."""
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
    """Whether the reader takes HTML; also where a parameter stands behind it, such as `level=1`, which no page here has."""
    named = any(quality > 0 and kind.split(";")[0].strip().lower() == HTML for kind, quality in request.accept_mimetypes)
    return named or bool(request.accept_mimetypes[HTML])
