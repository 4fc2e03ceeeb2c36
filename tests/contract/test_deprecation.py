"""How an operation announces its end, on an operation made here."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from email.utils import parsedate_to_datetime
from typing import Any

import pytest
from flask import Flask

from tests.contract.bodies import OPERATION_IDS, example, post
from wattpair_service import app as service
from wattpair_service.api import contract, operations
from wattpair_service.api.deprecation import Deprecation
from wattpair_service.settings import Settings

ENDING = Deprecation(date(2026, 1, 1), date(2027, 1, 1), "use POST /v2/sizing.")
HEADERS = {"Deprecation": "@1767225600", "Sunset": "Fri, 01 Jan 2027 00:00:00 GMT"}


@pytest.fixture
def with_an_end(monkeypatch: pytest.MonkeyPatch) -> Flask:
    """The service with one operation that is to go."""
    made = tuple(
        replace(each, deprecation=ENDING) if each.operation_id == "size_pairings" else each for each in operations.OPERATIONS
    )
    monkeypatch.setattr(operations, "OPERATIONS", made)
    monkeypatch.setattr(contract, "OPERATIONS", made)
    return service.create_app(Settings())


def test_every_answer_of_it_announces_it_and_no_other_does(with_an_end: Flask) -> None:
    client = with_an_end.test_client()
    for operation_id in OPERATION_IDS:
        for body in (example(operation_id), {}, "{"):
            headers = post(client, operation_id, body).headers
            expected: dict[str, str | None] = {**HEADERS} if operation_id == "size_pairings" else dict.fromkeys(HEADERS)
            assert {name: headers.get(name) for name in HEADERS} == expected
    assert datetime.fromtimestamp(int(HEADERS["Deprecation"][1:]), UTC).date() == ENDING.since
    assert parsedate_to_datetime(HEADERS["Sunset"]).date() == ENDING.sunset


def test_the_contract_announces_it(with_an_end: Flask) -> None:
    paths: Any = contract.document()["paths"]
    described = paths["/v1/sizing"]["post"]
    assert described["deprecated"] is True
    assert described["description"].endswith("may be gone from 2027-01-01: use POST /v2/sizing.")
    assert HEADERS.keys() <= described["responses"]["200"]["headers"].keys()
    assert "deprecated" not in paths["/v1/clipping"]["post"]


def test_nothing_is_kept_beyond_its_end() -> None:
    ends = {each.operation_id: each.deprecation.sunset for each in operations.OPERATIONS if each.deprecation is not None}
    assert [name for name, end in ends.items() if end <= datetime.now(UTC).date()] == []
