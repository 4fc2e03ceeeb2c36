"""Answers the contract's examples and a probe once, so that the first caller waits for nothing that every caller needs."""

from __future__ import annotations

import logging

from flask import Flask
from flask.json import dumps
from werkzeug.test import create_environ, run_wsgi_app

from wattpair_service.api.contract import contract
from wattpair_service.api.routes import OPERATIONS
from wattpair_service.api.schemas.writing import writer
from wattpair_service.climate.stations import StationFolder

LOG = logging.getLogger(__name__)

PROBED = "/health/live"
NO_STATIONS = StationFolder(distance_max_km=1)
"""The examples need none."""


def warm(app: Flask) -> None:
    """Answer what stands for all that will be asked."""
    _answer_examples(app)
    # The way of a request through the application, as a probe, which is counted but not logged.
    run_wsgi_app(app.wsgi_app, create_environ(PROBED), buffered=True)


def _answer_examples(app: Flask) -> None:
    """Import, read and compute what answers rest on, past the guards and the counts.

    What fails here does not stop the start: /health/ready says why there is no answer.
    """
    for each in OPERATIONS:
        try:
            with app.app_context():
                asked = each.request().load(contract.example(each))
                dumps(writer(each.response())(each.handle(asked, NO_STATIONS)))
        except Exception as error:
            LOG.warning("the example of %s has no answer: %s", each.operation_id, type(error).__name__)
