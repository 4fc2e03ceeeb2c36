"""Answers are written as marshmallow writes them."""

from __future__ import annotations

from typing import Any

import pytest

from tests.contract.bodies import full
from tests.contract.test_design import CASES, case
from wattpair_service.api import contract, design
from wattpair_service.api.operation import Operation
from wattpair_service.api.operations import OPERATIONS
from wattpair_service.api.writing import writer
from wattpair_service.climate.stations import StationFolder

REQUESTS = {each.operation_id: (each, contract.example(each)) for each in OPERATIONS}
REQUESTS |= {f"{each.operation_id} in full": (each, full(each.operation_id)) for each in OPERATIONS}
REQUESTS |= {f"a design: {name}": (design.OPERATION, case(name)) for name in CASES}


@pytest.mark.parametrize(("operation", "body"), REQUESTS.values(), ids=REQUESTS)
def test_an_answer_is_written_as_marshmallow_writes_it(operation: Operation, body: dict[str, Any]) -> None:
    schema, result = operation.response(), operation.handle(operation.request().load(body), StationFolder())
    assert writer(schema)(result) == schema.dump(result)
