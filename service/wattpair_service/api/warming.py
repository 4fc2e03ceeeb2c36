"""Answers the contract's examples once, so that the first caller waits for nothing that every caller needs."""

from __future__ import annotations

import logging

from flask import Flask
from flask.json import dumps

from wattpair_service.api import contract
from wattpair_service.api.operations import OPERATIONS
from wattpair_service.api.writing import writer
from wattpair_service.climate.stations import StationFolder

LOG = logging.getLogger(__name__)

NO_STATIONS = StationFolder(distance_max_km=1)
"""The examples need none."""


def answer_examples(app: Flask) -> None:
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
