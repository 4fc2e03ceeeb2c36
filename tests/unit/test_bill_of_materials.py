"""Parts, circuits and masses from counts."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.builders import numbers
from wattpair_service.engineering.bill_of_materials import (
    BillOfMaterials,
    BranchCircuitRules,
    FaceCount,
    Order,
    bill_of_materials,
    units_per_circuit,
)
from wattpair_service.engineering.errors import EngineeringError

RULES = BranchCircuitRules(device_rating_a=20.0, continuous_current_factor=1.25, source="a code")
ORDER = Order(
    faces=(FaceCount("south", 8), FaceCount("north", 4)),
    phase_count=1,
    unit_ac_current_a=1.5,
    modules_per_unit=1,
    rules=RULES,
    units_per_trunk_max=None,
    trunk_feed="end",
    gateway_units_max=49,
    spare_share=0.02,
    module_mass_kg=21.0,
    unit_mass_kg=1.1,
    mounting_mass_per_module_kg=3.0,
)


@st.composite
def orders(draw: st.DrawFn) -> Order:
    """Valid orders."""
    counts = draw(st.lists(st.integers(1, 300), min_size=1, max_size=5))
    rating = draw(st.sampled_from([16.0, 20.0, 25.0, 63.0]))
    factor = draw(numbers(1.0, 2.0))
    return replace(
        ORDER,
        faces=tuple(FaceCount(f"face {i}", count) for i, count in enumerate(counts)),
        phase_count=draw(st.integers(1, 3)),
        unit_ac_current_a=draw(numbers(0.1, rating / factor)),
        modules_per_unit=draw(st.integers(1, 8)),
        rules=BranchCircuitRules(rating, factor, "a code"),
        units_per_trunk_max=draw(st.none() | st.integers(1, 30)),
        trunk_feed=draw(st.sampled_from(["end", "centre"])),
        gateway_units_max=draw(st.integers(1, 100)),
        spare_share=draw(numbers(0.0, 1.0)),
    )


def quantities(bill: BillOfMaterials) -> Counter[str]:
    """Pieces to order by role."""
    count: Counter[str] = Counter()
    for line in bill.lines:
        count[line.role] += line.quantity
    return count


@given(orders())
def test_quantities_are_whole_and_positive(order: Order) -> None:
    bill = bill_of_materials(order)
    assert all(type(line.quantity) is int and line.quantity > 0 for line in bill.lines)
    assert all(line.derivation for line in bill.lines)


@given(orders())
def test_units_over_circuits_are_the_units_of_the_faces(order: Order) -> None:
    bill = bill_of_materials(order)
    for face in order.faces:
        units = sum(circuit.unit_count for circuit in bill.circuits if circuit.face == face.name)
        assert units * order.modules_per_unit >= face.module_count > (units - 1) * order.modules_per_unit
    assert bill.unit_count == sum(circuit.unit_count for circuit in bill.circuits)
    assert quantities(bill)["microinverter"] == bill.unit_count
    assert quantities(bill)["module"] == sum(face.module_count for face in order.faces)


@given(orders())
def test_no_circuit_is_over_its_limit(order: Order) -> None:
    for circuit in bill_of_materials(order).circuits:
        loaded = circuit.unit_count * order.unit_ac_current_a * order.rules.continuous_current_factor
        assert loaded <= circuit.device_rating_a * (1.0 + 1e-9)
        assert circuit.current_a == pytest.approx(circuit.unit_count * order.unit_ac_current_a)
        assert circuit.unit_count <= (order.units_per_trunk_max or circuit.unit_count)
        assert 1 <= circuit.phase <= order.phase_count


@given(orders())
def test_circuits_are_the_fewest_and_even(order: Order) -> None:
    bill, most = bill_of_materials(order), units_per_circuit(order)
    for face in order.faces:
        sizes = [circuit.unit_count for circuit in bill.circuits if circuit.face == face.name]
        assert max(sizes) - min(sizes) <= 1
        assert sum(sizes) > (len(sizes) - 1) * most


@given(orders(), st.integers(0, 4))
def test_another_module_never_lowers_a_count(order: Order, which: int) -> None:
    faces = list(order.faces)
    index = which % len(faces)
    faces[index] = replace(faces[index], module_count=faces[index].module_count + 1)
    before, after = bill_of_materials(order), bill_of_materials(replace(order, faces=tuple(faces)))
    fewer = quantities(before) - quantities(after)
    assert not fewer
    assert after.mass_total_kg > before.mass_total_kg


@given(orders())
def test_masses_add_up(order: Order) -> None:
    bill = bill_of_materials(order)
    modules = sum(face.module_count for face in order.faces)
    expected = modules * (order.module_mass_kg + order.mounting_mass_per_module_kg)
    expected += bill.unit_count * order.unit_mass_kg
    assert bill.mass_total_kg == pytest.approx(expected)
    assert sum(mass.mass_kg for mass in bill.masses) == pytest.approx(expected)


@pytest.mark.parametrize(("current_a", "most"), [(16.0, 1), (8.0, 2), (1.6, 10), (1.6001, 9), (1.0, 16), (16.0 / 3.0, 3)])
def test_units_on_a_device(current_a: float, most: int) -> None:
    assert units_per_circuit(replace(ORDER, unit_ac_current_a=current_a)) == most


def test_rounding_does_not_cost_a_unit_that_fits_exactly() -> None:
    # 45 x 1.12 A x 1.25 is 63 A, but 63 / 1.25 / 1.12 is a hair below 45 in floating point.
    order = replace(ORDER, unit_ac_current_a=1.12, rules=BranchCircuitRules(63.0, 1.25, "a code"))
    assert units_per_circuit(order) == 45


def test_a_trunk_may_carry_fewer_than_its_device() -> None:
    assert units_per_circuit(replace(ORDER, units_per_trunk_max=5)) == 5
    assert units_per_circuit(replace(ORDER, units_per_trunk_max=50)) == 10


def test_a_unit_too_large_for_the_device_is_refused() -> None:
    with pytest.raises(EngineeringError, match="a larger device is needed") as error:
        bill_of_materials(replace(ORDER, unit_ac_current_a=16.1))
    assert error.value.fields == ("unit_ac_current_a",)


def test_an_order_by_hand() -> None:
    bill = bill_of_materials(replace(ORDER, phase_count=2, trunk_feed="centre"))
    assert quantities(bill) == {
        "module": 12,
        "microinverter": 12,
        "mounting_set": 12,
        "trunk_cable_section": 12,
        "trunk_end_cap": 4,
        "branch_circuit_protective_device": 2,
        "ac_isolator": 1,
        "communication_gateway": 1,
        "current_transformer_production": 2,
        "current_transformer_grid": 2,
        "microinverter_spare": 1,
    }
    assert [(c.face, c.unit_count, c.phase) for c in bill.circuits] == [("south", 8, 1), ("north", 4, 2)]


def test_no_spares_when_none_are_wanted() -> None:
    assert "microinverter_spare" not in quantities(bill_of_materials(replace(ORDER, spare_share=0.0)))
    assert quantities(bill_of_materials(replace(ORDER, spare_share=0.25)))["microinverter_spare"] == 3


def test_without_the_trunks_own_limit_the_result_says_so() -> None:
    with_limit = replace(ORDER, units_per_trunk_max=10)
    assert any("trunk" in caution for caution in bill_of_materials(ORDER).cautions)
    assert not any("trunk" in caution for caution in bill_of_materials(with_limit).cautions)
