"""Who may ask: every path but a few needs a key where keys are on."""

from __future__ import annotations

from http import HTTPStatus

from flask import Flask, Request, Response, g, request

from wattpair_service.api.exchange.problems import Problem
from wattpair_service.api.guards.keys import Keyring

PUBLIC_PATHS = frozenset({"/", "/docs", "/openapi.json", "/openapi.yaml", "/health/live", "/health/ready"})
PUBLIC_FOLDERS = ("/pages/", "/examples/")
"""What tells nothing that a stranger may not know: the pages for people, the contract, the service's health."""
SCHEME = "bearer"
HEADERS = {"X-Content-Type-Options": "nosniff"}
"""What a caller wrote comes back as JSON or text, and no browser may guess that it is a page."""
_FORM = 'send the header "Authorization: Bearer KEY" with a key that the operator of this service gave you'


def register(app: Flask, keyring: Keyring | None) -> None:
    """Ask for a key before anything else of a request is looked at; without a keyring anyone may ask."""

    @app.before_request
    def require_key() -> None:
        g.key = None
        if keyring is None or _is_public(request):
            return
        scheme, _, given = request.headers.get("Authorization", "").partition(" ")
        if scheme.lower() != SCHEME or not given:
            raise _refused("key-missing", f"This service needs a key; {_FORM}.")
        g.key = keyring.find(given.strip())
        if g.key is None:
            raise _refused("key-unknown", f"The key is not known here, or no longer; {_FORM}.")

    @app.after_request
    def keep_type(response: Response) -> Response:
        response.headers.update(HEADERS)
        return response


def _is_public(request: Request) -> bool:
    reads = request.method in ("GET", "HEAD", "OPTIONS")
    return reads and (request.path in PUBLIC_PATHS or request.path.startswith(PUBLIC_FOLDERS))


def _refused(slug: str, detail: str) -> Problem:
    return Problem(HTTPStatus.UNAUTHORIZED, slug, detail, headers={"WWW-Authenticate": 'Bearer realm="wattpair"'})
