"""Every operation of the API, in the order of the work, and the service's own health."""

from __future__ import annotations

from flask import Flask, Response
from flask.json import dumps

from wattpair_service.api import bill_of_materials, clipping, sizing
from wattpair_service.api.operation import Operation

OPERATIONS: tuple[Operation, ...] = (sizing.OPERATION, clipping.OPERATION, bill_of_materials.OPERATION)


def register_health(app: Flask) -> None:
    """Serve liveness: the process answers."""

    @app.get("/health/live")
    def live() -> Response:
        return Response(dumps({"status": "live"}), content_type="application/json")
