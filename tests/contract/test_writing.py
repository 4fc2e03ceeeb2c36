"""Answers are written as marshmallow writes them."""

from __future__ import annotations

from typing import Any

import pytest

from tests.contract.bodies import full
from tests.contract.test_design import CASES, case
from wattpair_service.api.contract import contract
from wattpair_service.api.exchange.operation import Operation
from wattpair_service.api.operations import design
from wattpair_service.api.routes import OPERATIONS
from wattpair_service.api.schemas.writing import writer
from wattpair_service.climate.stations import StationFolder

REQUESTS = {each.operation_id: (each, contract.example(each)) for each in OPERATIONS}
REQUESTS |= {f"{each.operation_id} in full": (each, full(each.operation_id)) for each in OPERATIONS}
REQUESTS |= {f"a design: {name}": (design.OPERATION, case(name)) for name in CASES}


@pytest.mark.parametrize(("operation", "body"), REQUESTS.values(), ids=REQUESTS)
def test_an_answer_is_written_as_marshmallow_writes_it(operation: Operation, body: dict[str, Any]) -> None:
    schema, result = operation.response(), operation.handle(operation.request().load(body), StationFolder())
    assert writer(schema)(result) == schema.dump(result)
