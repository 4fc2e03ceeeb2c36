"""What the log says of each request, and by what a request is found again.

A line for each request names operation, status, duration and the key's name.
"""

from __future__ import annotations

import logging
import time
from http import HTTPStatus

from flask import Flask, Response, g, request

from wattpair_service.api.guards.identity import REQUEST_ID, TRACE_PARENT, Identity

LOG = logging.getLogger("wattpair_service.requests")

PROBES = frozenset({"live", "ready", "metrics"})
"""What machines ask every few seconds; only its failures are logged."""


def register(app: Flask) -> None:
    """Give every request its id and trace, return both, and write its line."""

    @app.before_request
    def begin() -> None:
        g.began_s = time.monotonic()
        g.identity = Identity.of(request.headers.get(REQUEST_ID, ""), request.headers.get(TRACE_PARENT, ""))
        g.request_id = g.identity.request_id

    @app.after_request
    def end(response: Response) -> Response:
        response.headers.update(g.identity.headers)
        if request.endpoint in PROBES and response.status_code == HTTPStatus.OK:
            return response
        key = g.get("key")
        LOG.info(
            "%s",
            request.endpoint or "unknown",
            extra={
                "fields": {
                    **g.identity.fields,
                    "key": key.name if key is not None else None,
                    "method": request.method if request.endpoint else None,
                    "operation": request.endpoint or "unknown",
                    "status": response.status_code,
                    "duration_ms": round((time.monotonic() - g.began_s) * 1000.0, 2),
                    "outcome": _outcome(response.status_code),
                }
            },
        )
        return response


def _outcome(status: int) -> str:
    """One word for what became of a request."""
    named = {
        HTTPStatus.UNAUTHORIZED: "without key",
        HTTPStatus.TOO_MANY_REQUESTS: "limited",
        HTTPStatus.SERVICE_UNAVAILABLE: "busy",
    }
    if status in named:
        return named[HTTPStatus(status)]
    if status >= HTTPStatus.INTERNAL_SERVER_ERROR:
        return "failed"
    return "refused" if status >= HTTPStatus.BAD_REQUEST else "answered"
