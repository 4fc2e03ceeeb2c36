"""Answers the contract's examples once, so that the first caller waits for nothing that every caller needs."""

from __future__ import annotations

import logging

from flask import Flask

from wattpair_service.api import contract
from wattpair_service.api.operations import OPERATIONS

LOG = logging.getLogger(__name__)


def answer_examples(app: Flask) -> None:
    """Import, read and compute what answers rest on, past the guards: no key, no turn, no line in the log.

    What fails here does not stop the start: /health/ready says why there is no answer.
    """
    for each in OPERATIONS:
        try:
            with app.test_request_context(each.path, method="POST", json=contract.example(each)):
                app.view_functions[each.operation_id]()
        except Exception as error:
            LOG.warning("the example of %s has no answer: %s", each.operation_id, type(error).__name__)
