"""All operations of the API in the order of use, the reference data, and the health endpoints."""

from __future__ import annotations

from flask import Flask, Response
from flask.json import dumps

from wattpair_service.api.exchange.operation import Operation
from wattpair_service.api.exchange.reference import Reference
from wattpair_service.api.operations import (
    bill_of_materials,
    circuits,
    clipping,
    design,
    layout,
    regions,
    selection,
    site_climate,
    sizing,
)
from wattpair_service.climate import atlas
from wattpair_service.climate.stations import StationFolder

OPERATIONS: tuple[Operation, ...] = (
    site_climate.OPERATION,
    sizing.OPERATION,
    clipping.OPERATION,
    selection.OPERATION,
    layout.OPERATION,
    circuits.OPERATION,
    bill_of_materials.OPERATION,
    design.OPERATION,
)

REFERENCES: tuple[Reference, ...] = (regions.LIST, regions.READ)


def register_health(app: Flask, stations: StationFolder) -> None:
    """Serve liveness (the process responds) and readiness (its data can be read)."""

    @app.get("/health/ready")
    def ready() -> Response:
        faults = [fault for fault in (atlas.fault(), stations.fault_now()) if fault is not None]
        body = {
            "status": "not ready" if faults else "ready",
            "faults": faults,
            "station_count": len(stations.stations),
            # This endpoint is public, so the names of the operator's files stand only in the log.
            "broken_station_count": len(stations.broken),
        }
        return Response(dumps(body), 503 if faults else 200, content_type="application/json")

    @app.get("/health/live")
    def live() -> Response:
        return Response(dumps({"status": "live"}), content_type="application/json")
