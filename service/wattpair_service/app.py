"""Puts the service together."""

from __future__ import annotations

import os
import re
import uuid

from flask import Flask, Response, g, request
from flask.json.provider import DefaultJSONProvider

from wattpair_service.api import contract_files, operation, operations, problems, reference
from wattpair_service.climate.stations import StationFolder
from wattpair_service.pages import routes as pages
from wattpair_service.report.house import House, read_house
from wattpair_service.settings import Settings

REQUEST_ID = "X-Request-ID"
_REQUEST_ID_FORM = re.compile(r"[A-Za-z0-9._-]{1,64}")


class StrictJson(DefaultJSONProvider):
    """JSON that holds no NaN and keeps the order of fields."""

    sort_keys = False

    def dumps(self, obj: object, **options: object) -> str:
        """Like the default, but a NaN is an error instead of a word that JSON does not know."""
        return super().dumps(obj, **{"allow_nan": False, "ensure_ascii": False, "separators": (",", ":")} | options)


def create_app(settings: Settings | None = None) -> Flask:
    """The WSGI application."""
    settings = settings or Settings.read(os.environ)
    app = Flask("wattpair_service", static_folder=None)
    app.json = StrictJson(app)
    app.config["MAX_CONTENT_LENGTH"] = settings.body_limit_bytes
    app.before_request(_name_request)
    app.after_request(_return_name)
    problems.register(app)
    stations = _stations(settings)
    house = House() if settings.sheet_file is None else read_house(settings.sheet_file)
    for each in operations.OPERATIONS:
        operation.register(app, each, stations, house)
    for looked_up in operations.REFERENCES:
        reference.register(app, looked_up)
    operations.register_health(app, stations)
    contract_files.register(app, settings.body_limit_bytes)
    pages.register(app)
    return app


def _stations(settings: Settings) -> StationFolder:
    if settings.station_folder is None:
        return StationFolder(distance_max_km=settings.station_distance_max_km)
    return StationFolder.read(settings.station_folder, distance_max_km=settings.station_distance_max_km)


def _name_request() -> None:
    given = request.headers.get(REQUEST_ID, "")
    g.request_id = given if _REQUEST_ID_FORM.fullmatch(given) else uuid.uuid4().hex


def _return_name(response: Response) -> Response:
    response.headers[REQUEST_ID] = g.get("request_id", "")
    return response
