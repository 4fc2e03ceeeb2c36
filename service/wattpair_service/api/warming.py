"""Answers the contract's examples once, so that the first caller waits for nothing that every caller needs."""

from __future__ import annotations

from flask import Flask

from wattpair_service.api import contract
from wattpair_service.api.operations import OPERATIONS


def answer_examples(app: Flask) -> None:
    """Import, read and compute what answers rest on, past the guards: no key, no turn, no line in the log."""
    for each in OPERATIONS:
        with app.test_request_context(each.path, method="POST", json=contract.example(each)):
            app.view_functions[each.operation_id]()
