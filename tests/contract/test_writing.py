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

NOWHERE = StationFolder()
ASKED = [(each.operation_id, each, contract.example(each)) for each in OPERATIONS]
ASKED += [(f"{each.operation_id} in full", each, full(each.operation_id)) for each in OPERATIONS]
ASKED += [(f"a design: {name}", design.OPERATION, case(name)) for name in CASES]


@pytest.mark.parametrize(("operation", "body"), [each[1:] for each in ASKED], ids=[each[0] for each in ASKED])
def test_the_plan_writes_what_marshmallow_does(operation: Operation, body: dict[str, Any]) -> None:
    schema, result = operation.response(), operation.handle(operation.request().load(body), NOWHERE)
    assert writer(schema)(result) == schema.dump(result)
