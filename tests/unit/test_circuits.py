"""Circuits, voltage rise and connection route together."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given

from tests.builders import installation, wiring
from tests.unit.test_bill_of_materials import CIRCUITS, WIRING, orders
from wattpair_service.engineering.cautions import Caution
from wattpair_service.engineering.circuits.board import Board
from wattpair_service.engineering.circuits.cable_checks import CABLES
from wattpair_service.engineering.circuits.circuits import (
    ABOVE_RISE_LIMIT,
    CABLE_FAILS,
    CAPACITY_FROM_TABLES,
    INSTALLATION_ASSUMED,
    CircuitFace,
    circuits,
)
from wattpair_service.engineering.circuits.grid_connection import ExistingGeneration
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.materials.bill_of_materials import Order
from wattpair_service.words.catalogue import english

LONG = replace(wiring("2.5 mm2", "2.5 mm2", "10 mm2"), home_run_length_m=10.0, supply_length_m=5.0)


@given(orders())
def test_circuits_rises_phases_cables_and_devices_agree(order: Order) -> None:
    terms = replace(order.circuits.wiring, supply_length_m=5.0)
    request = replace(order.circuits, wiring=terms)
    result = circuits(request)
    assert [rise.circuit for rise in result.rises] == [circuit.name for circuit in result.circuits]
    for phase in result.connection.phases:
        assert phase.unit_count == sum(c.units_by_phase[phase.phase - 1] for c in result.circuits)
        assert phase.current_a == pytest.approx(phase.unit_count * request.unit_ac_current_a)
    assert result.unit_count == sum(units.unit_count for units in request.face_units())
    assert result.rise_highest_share == max(rise.total_share for rise in result.rises)
    for rise in result.rises:
        assert rise.total_v == pytest.approx(rise.trunk_v + rise.home_run_v + rise.supply_v)
    names = {circuit.name for circuit in result.circuits}
    for cable, length_m in (("trunk", 1.0), ("home run", terms.home_run_length_m)):
        checked = [name for check in result.cables if check.cable == cable for name in check.circuits]
        assert sorted(checked) == (sorted(names) if length_m > 0.0 else [])
    assert [check.circuits for check in result.cables if check.cable == "supply cable"] == [()]
    device = {device.role: device for device in result.devices}
    assert device["branch_breaker"].quantity == len(result.circuits)
    assert ("pv_main_breaker" in device) is (len(result.circuits) > 1)
    for each in result.devices:
        assert each.rating_a is None or each.rating_a >= request.branch_rules.device_rating_a
        if each.rating_a is not None and each.role != "branch_breaker":
            highest = max(phase.current_a for phase in result.connection.phases)
            assert each.rating_a >= highest * request.branch_rules.continuous_current_factor * (1.0 - 1e-6)


ASSUMED, BOTH_ASSUMED = (
    INSTALLATION_ASSUMED(cables=tuple(CABLES[name] for name in names)) for names in (("trunk",), ("trunk", "supply cable"))
)


@pytest.mark.parametrize(
    ("changes", "caution", "expected"),
    [
        (
            {"installations_assumed": ("trunk", "supply cable")},
            INSTALLATION_ASSUMED(cables=(CABLES["trunk"], CABLES["supply cable"])),
            True,
        ),
        ({"installations_assumed": ("trunk",)}, ASSUMED, True),
        ({"installations_assumed": ("home run",), "wiring": WIRING}, ASSUMED, False),
        ({}, ASSUMED, False),
        ({}, CAPACITY_FROM_TABLES, True),
        ({"wiring": replace(LONG, home_run_length_m=200.0)}, ABOVE_RISE_LIMIT, True),
        ({}, ABOVE_RISE_LIMIT, False),
        ({"wiring": wiring("1.5 mm2", installed=installation("iec_pvc_70"))}, CABLE_FAILS, True),
        ({}, CABLE_FAILS, False),
    ],
)
def test_cautions_on_the_cables(changes: dict[str, Any], caution: Caution, expected: bool) -> None:
    result = circuits(replace(CIRCUITS, **{"wiring": LONG} | changes))
    assert (caution in result.cautions) is expected


@pytest.mark.parametrize("short_a", [0.0, 0.1])
@pytest.mark.parametrize(
    ("cable", "main_device_a", "needed_a"),
    # 12 units of 1.5 A are 18 A, times 1.25 is 22.5 A: the system's breaker is 25 A.
    [("trunk", None, 20.0), ("home run", None, 20.0), ("system cable", None, 25.0), ("supply cable", 63.0, 63.0)],
)
def test_a_declared_capacity_is_checked(cable: str, main_device_a: float | None, needed_a: float, short_a: float) -> None:
    declared = {cable: needed_a - short_a}
    terms = replace(wiring("2.5 mm2", "2.5 mm2", "16 mm2", ampacities_a=declared), home_run_length_m=10.0, supply_length_m=5.0)
    supply = replace(CIRCUITS.supply, board=Board(100.0 if main_device_a else None, main_device_a))
    result = circuits(replace(CIRCUITS, wiring=terms, supply=supply))
    checks = [each for each in result.cables if each.cable == cable]
    assert checks
    for check in checks:
        assert (check.device_rating_a, check.capacity_a, check.meets) == (needed_a, needed_a - short_a, short_a == 0.0)
        assert english(check.source).endswith("capacity from the request")
        assert english(check.installation) == "as the request declares it"
    assert (CABLE_FAILS in result.cautions) is (short_a > 0.0)
    assert (result.verdict == "fail") is (short_a > 0.0)


def test_a_declared_capacity_below_the_tables_lowers_that_of_other_sizes() -> None:
    run = wiring("4 mm2", ampacities_a={"trunk": 10.0}).trunk
    # 4 mm2 carries 45 A by Table B.52.3, method C: what is declared says that this run is installed worse.
    assert run.capacity_of("4 mm2", 16.0) == 10.0
    assert run.capacity_of("1.5 mm2", 16.0) == pytest.approx(24.0 * 10.0 / 45.0)
    assert next(run.protected(16.0)).size == "10 mm2"  # 80 x 10 / 45 = 17.8 A; 6 mm2 has 12.9
    better = wiring("4 mm2", ampacities_a={"trunk": 60.0}).trunk
    assert (better.capacity_of("4 mm2", 16.0), better.capacity_of("6 mm2", 16.0)) == (60.0, 58.0)


def test_the_supply_cable_carries_existing_generation_too() -> None:
    existing = (ExistingGeneration("older array", 20.0, None),)
    supply = replace(CIRCUITS.supply, existing_generation=existing, board=Board(125.0, 40.0))
    (check,) = [each for each in circuits(replace(CIRCUITS, wiring=LONG, supply=supply)).cables if each.cable == "supply cable"]
    assert check.design_current_a == pytest.approx(1.25 * (18.0 + 20.0))
    assert not check.meets
    assert "the device is smaller than the design current" in english(check.explanation)
    without_main = replace(supply, board=Board(None, None))
    result = circuits(replace(CIRCUITS, wiring=LONG, supply=without_main))
    (check,) = [each for each in result.cables if each.cable == "supply cable"]
    assert (check.device_rating_a, check.meets, result.verdict) == (None, None, "caution")
    assert [rise.supply_v for rise in result.rises] == pytest.approx([2.0 * 38.0 * 5.0 * 1.83e-3 * 1.1965] * 2, rel=1e-4)


def test_more_than_5000_units_are_refused() -> None:
    faces = tuple(CircuitFace(str(index), 1000, 1.0) for index in range(5))
    assert circuits(replace(CIRCUITS, faces=faces)).unit_count == 5000
    with pytest.raises(EngineeringError, match="at most 5000 microinverters together; these are 5001") as error:
        circuits(replace(CIRCUITS, faces=(*faces, CircuitFace("one", 1, 1.0))))
    assert error.value.fields == ("faces",)


def test_the_crossing_of_a_ridge_is_part_of_the_trunk() -> None:
    faces = (CircuitFace("a", 2, 1.0), CircuitFace("b", 2, 1.0))
    terms = replace(WIRING, conductor_temp_c=20.0)
    (rise,) = circuits(replace(CIRCUITS, faces=faces, may_cross_faces=True, face_crossing_m=5.0, wiring=terms)).rises
    # Units at 0, 1, 6 and 7 m from the feed: 14 m times 1.5 A, there and back.
    assert rise.trunk_end_fed_v == pytest.approx(2.0 * 7.41e-3 * 1.5 * 14.0)
