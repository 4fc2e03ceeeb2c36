"""How a deprecated operation announces its end."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import example, post
from wattpair_service.api import routes as operations
from wattpair_service.api.contract import contract
from wattpair_service.api.exchange.deprecation import Deprecation
from wattpair_service.app import create_app
from wattpair_service.settings import Settings

ENDING = Deprecation(date(2026, 1, 1), date(2027, 1, 1), "use POST /v2/sizing.")
HEADERS = {"Deprecation": "@1767225600", "Sunset": "Fri, 01 Jan 2027 00:00:00 GMT"}


@pytest.fixture
def ending(monkeypatch: pytest.MonkeyPatch) -> FlaskClient:
    """A client of the service where POST /v1/sizing is deprecated."""
    changed = tuple(
        replace(each, deprecation=ENDING) if each.operation_id == "size_pairings" else each for each in operations.OPERATIONS
    )
    for module in (operations, contract):
        monkeypatch.setattr(module, "OPERATIONS", changed)
    return create_app(Settings()).test_client()


@pytest.mark.parametrize("body", ["as in the example", {}, "{"], ids=["answered", "refused", "not JSON"])
def test_every_answer_announces_the_end_and_no_other_operation_does(ending: FlaskClient, body: Any) -> None:
    for operation_id, expected in (("size_pairings", HEADERS), ("plan_circuits", {})):
        headers = post(ending, operation_id, example(operation_id) if body == "as in the example" else body).headers
        assert {name: headers[name] for name in ("Deprecation", "Sunset") if name in headers} == expected


def test_the_contract_announces_the_end(ending: FlaskClient) -> None:
    paths: Any = contract.document()["paths"]
    described = paths["/v1/sizing"]["post"]
    assert described["deprecated"] is True
    assert described["description"].endswith("may be gone from 2027-01-01: use POST /v2/sizing.")
    assert HEADERS.keys() <= described["responses"]["200"]["headers"].keys()
    assert "deprecated" not in paths["/v1/clipping"]["post"]


def test_nothing_is_kept_beyond_its_end() -> None:
    ends = {each.operation_id: each.deprecation.sunset for each in operations.OPERATIONS if each.deprecation is not None}
    assert [name for name, end in ends.items() if end <= datetime.now(UTC).date()] == []
