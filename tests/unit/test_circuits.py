"""Circuits, voltage rise and connection route together."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given

from tests.unit.test_bill_of_materials import CIRCUITS, WIRING, orders
from wattpair_service.engineering.circuits.circuits import CircuitFace, circuits
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.materials.bill_of_materials import Order

LONG = replace(WIRING, home_run_length_m=10.0, home_run_size="2.5 mm2", supply_length_m=5.0, supply_size="10 mm2")


@given(orders())
def test_circuits_rises_and_phases_agree(order: Order) -> None:
    wiring = replace(order.circuits.wiring, supply_length_m=5.0, supply_size="10 mm2")
    request = replace(order.circuits, wiring=wiring)
    result = circuits(request)
    assert [rise.circuit for rise in result.rises] == [circuit.name for circuit in result.circuits]
    for phase in result.connection.phases:
        assert phase.unit_count == sum(c.unit_count for c in result.circuits if c.phase == phase.phase)
        assert phase.current_a == pytest.approx(phase.unit_count * request.unit_ac_current_a)
    assert result.unit_count == sum(units.unit_count for units in request.face_units())
    assert result.rise_highest_share == max(rise.total_share for rise in result.rises)
    for rise in result.rises:
        assert rise.total_v == pytest.approx(rise.trunk_v + rise.home_run_v + rise.supply_v)


KNOWN = {f"{cable}_ampacity_a": 25.0 for cable in ("trunk", "home_run", "supply")}
UNCHECKED, VOLTAGE_ONLY, ABOVE = "these cables was not checked", "by voltage only", "voltage rise of a circuit is above"


@pytest.mark.parametrize(
    ("wiring", "changes", "caution", "expected"),
    [
        (LONG, {}, f"{UNCHECKED}: trunk, home run, supply.", True),
        (LONG, {"trunk_ampacity_a": 25.0}, f"{UNCHECKED}: home run, supply.", True),
        (WIRING, {}, f"{UNCHECKED}: trunk.", True),
        (LONG, KNOWN, "not checked", False),
        (WIRING, {}, VOLTAGE_ONLY, True),
        (LONG, {}, VOLTAGE_ONLY, False),
        (WIRING, {"home_run_length_m": 200.0}, ABOVE, True),
        (WIRING, {}, ABOVE, False),
    ],
)
def test_cautions_on_the_cables(wiring: Any, changes: dict[str, float], caution: str, expected: bool) -> None:
    result = circuits(replace(CIRCUITS, wiring=replace(wiring, **changes)))
    assert (caution in " ".join(result.cautions)) is expected


@pytest.mark.parametrize("short_a", [0.0, 0.1])
@pytest.mark.parametrize(
    ("cable", "main_device_a", "needed_a"),
    [("trunk", None, 20.0), ("home_run", None, 20.0), ("supply", None, 22.5), ("supply", 63.0, 63.0)],
)
def test_an_ampacity_is_checked(cable: str, main_device_a: float | None, needed_a: float, short_a: float) -> None:
    changes: dict[str, Any] = {f"{cable}_ampacity_a": needed_a - short_a}
    supply = replace(CIRCUITS.supply, main_device_a=main_device_a)
    result = circuits(replace(CIRCUITS, wiring=replace(LONG, **changes), supply=supply))
    (check,) = [each for each in result.connection.checks if each.name.endswith("carrying capacity")]
    assert check.value == pytest.approx(needed_a)
    assert (check.limit, check.meets) == (needed_a - short_a, short_a == 0.0)
    assert ("A check of the connection fails" in " ".join(result.cautions)) is (short_a > 0.0)


def test_more_than_5000_units_are_refused() -> None:
    faces = tuple(CircuitFace(str(index), 1000, 1.0) for index in range(5))
    assert circuits(replace(CIRCUITS, faces=faces)).unit_count == 5000
    with pytest.raises(EngineeringError, match="at most 5000 microinverters together; these are 5001") as error:
        circuits(replace(CIRCUITS, faces=(*faces, CircuitFace("one", 1, 1.0))))
    assert error.value.fields == ("faces",)


def test_the_crossing_of_a_ridge_is_part_of_the_trunk() -> None:
    faces = (CircuitFace("a", 2, 1.0), CircuitFace("b", 2, 1.0))
    wiring = replace(WIRING, conductor_temp_c=20.0)
    (rise,) = circuits(replace(CIRCUITS, faces=faces, may_cross_faces=True, face_crossing_m=5.0, wiring=wiring)).rises
    # Units at 0, 1, 6 and 7 m from the feed: 14 m times 1.5 A, there and back.
    assert rise.trunk_end_fed_v == pytest.approx(2.0 * 7.41e-3 * 1.5 * 14.0)
