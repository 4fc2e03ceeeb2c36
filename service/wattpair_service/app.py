"""Puts the service together."""

from __future__ import annotations

import os
from functools import cache

from flask import Flask
from flask.json.provider import DefaultJSONProvider

from wattpair_service.api import routes
from wattpair_service.api.contract import contract_files
from wattpair_service.api.exchange import operation, problems, reference
from wattpair_service.api.guards import access, admission, logs, metrics, rate_limits
from wattpair_service.api.guards.keys import Keyring
from wattpair_service.api.schemas.base import assumed_words
from wattpair_service.climate.stations import StationFolder
from wattpair_service.pages import routes as pages
from wattpair_service.report.house import House, read_house
from wattpair_service.rules import require_languages
from wattpair_service.settings import Settings
from wattpair_service.words.catalogue import require_words

OPERATION_IDS = frozenset(each.operation_id for each in routes.OPERATIONS)


class StrictJson(DefaultJSONProvider):
    """JSON that holds no NaN and keeps the order of fields."""

    sort_keys = False

    def dumps(self, obj: object, **options: object) -> str:
        """Like the default, but a NaN is an error instead of a word that JSON does not know."""
        return super().dumps(obj, **{"allow_nan": False, "ensure_ascii": False, "separators": (",", ":")} | options)


def create_app(settings: Settings | None = None, keyring: Keyring | None = None) -> Flask:
    """The WSGI application; it reads the keys where nobody has."""
    require_complete_words()
    settings = settings or Settings.read(os.environ)
    if keyring is None and settings.keys_file:
        keyring = Keyring(settings.keys_file)
    app = Flask("wattpair_service", static_folder=None)
    app.json = StrictJson(app)
    app.config["MAX_CONTENT_LENGTH"] = settings.body_limit_bytes
    problems.register(app)
    _register_guards(app, settings, keyring)
    stations = _stations(settings)
    house = House() if settings.sheet_file is None else read_house(settings.sheet_file)
    for each in routes.OPERATIONS:
        operation.register(app, each, stations, house)
    for looked_up in routes.REFERENCES:
        reference.register(app, looked_up)
    routes.register_health(app, stations)
    contract_files.register(app, settings.body_limit_bytes)
    pages.register(app)
    return app


@cache
def require_complete_words() -> None:
    """Refuse to start, with a RuntimeError, while anything that the service can say lacks words in a language."""
    require_words(code for each in routes.OPERATIONS for code in assumed_words(each.request()))
    require_languages()


def _register_guards(app: Flask, settings: Settings, keyring: Keyring | None) -> None:
    """What each request passes, in this order: its name and trace, the counts, its key, the key's limit, a turn."""
    logs.register(app)
    metrics.register(app)
    access.register(app, keyring)
    per_key = rate_limits.RateLimits(requests_per_minute=settings.requests_per_minute, redis_url=settings.redis_url)
    turns = admission.Admission(queue_length=settings.queue_length, wait_max_s=settings.request_time_max_s / 2.0)
    rate_limits.register(app, per_key, OPERATION_IDS, lambda: turns.is_full)
    admission.register(app, turns, OPERATION_IDS)


def _stations(settings: Settings) -> StationFolder:
    if settings.station_folder is None:
        return StationFolder(distance_max_km=settings.station_distance_max_km)
    return StationFolder.read(settings.station_folder, distance_max_km=settings.station_distance_max_km)
