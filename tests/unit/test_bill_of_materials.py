"""Parts, documents and masses from counts."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from math import ceil
from typing import Any

import pytest
from hypothesis import given, strategies as st

from tests.builders import installation, numbers, wiring
from tests.unit.test_branch_circuits import RULES, requests
from wattpair_service.engineering.cautions import TRUNK_LIMIT
from wattpair_service.engineering.circuits.board import Board
from wattpair_service.engineering.circuits.branch_circuits import BranchCircuitRules
from wattpair_service.engineering.circuits.circuits import CABLE_FAILS, CircuitFace, CircuitsRequest
from wattpair_service.engineering.circuits.devices import ResidualCurrentNeed
from wattpair_service.engineering.circuits.grid_connection import SupplyPoint
from wattpair_service.engineering.circuits.voltage_rise import TrunkFeed
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.materials.backup import BackupWish
from wattpair_service.engineering.materials.bill_lines import ROLES, BillLine, FaceDetail, PartChoices
from wattpair_service.engineering.materials.bill_of_materials import (
    NO_HOME_RUN,
    TOO_HEAVY,
    BillOfMaterials,
    Order,
    bill_of_materials,
)
from wattpair_service.engineering.materials.spares import SparePolicy
from wattpair_service.engineering.roof.dead_load import PartMasses
from wattpair_service.engineering.sentences import Cited
from wattpair_service.rules import connection_rules
from wattpair_service.words.catalogue import english

WIRING = wiring()
CIRCUITS = CircuitsRequest(
    faces=(CircuitFace("south", 8, 1.8), CircuitFace("north", 4, 1.8)),
    phase_count=1,
    unit_ac_current_a=1.5,
    modules_per_unit=1,
    units_per_trunk_max=None,
    may_cross_faces=False,
    face_crossing_m=3.0,
    branch_rules=RULES,
    rules=connection_rules("international"),
    wiring=WIRING,
    supply=SupplyPoint(230.0, Board(None, None), False),
)
ORDER = Order(
    circuits=CIRCUITS,
    details=(FaceDetail(None, None),) * 2,
    choices=PartChoices(49, 0, 5.0, no_dc_fault_current_declared=False),
    spares=SparePolicy(share=0.02, failure_share_per_year=0.005, horizon_years=25),
    backup=BackupWish(wanted=False, grid_forming_units=False),
    masses=PartMasses(21.0, 1.1, 0.1, 3.0, None, 15.0),
    price_book=None,
)


def order(**changes: Any) -> Order:
    return replace(ORDER, circuits=replace(CIRCUITS, **changes))


@st.composite
def orders(draw: st.DrawFn) -> Order:
    drawn = draw(requests())
    region = draw(
        st.sampled_from({1: ("international", "united_states"), 2: ("international",), 3: ("germany",)}[drawn.phase_count])
    )
    feeds: tuple[TrunkFeed, ...] = ("end", "centre")
    cables = replace(
        WIRING,
        trunk_feed=draw(st.sampled_from(feeds)),
        home_run_length_m=draw(st.just(0.0) | numbers(0.5, 50.0)),
        supply_length_m=draw(st.just(0.0) | numbers(0.5, 50.0)),
    )
    reasons = draw(st.sampled_from([(), ("a maker asks for it",)]))
    circuits = replace(
        CIRCUITS,
        faces=tuple(CircuitFace(face.name, face.unit_count, 1.8) for face in drawn.faces),
        phase_count=drawn.phase_count,
        rules=connection_rules(region),
        unit_ac_current_a=drawn.unit_ac_current_a,
        modules_per_unit=draw(st.integers(1, 8)),
        branch_rules=drawn.rules,
        units_per_trunk_max=drawn.units_per_trunk_max,
        may_cross_faces=drawn.may_cross_faces,
        trunk_phase_count=drawn.trunk_phase_count,
        unit_phase_count=drawn.unit_phase_count,
        wiring=cables,
        residual_current=ResidualCurrentNeed(tuple(map(Cited, reasons)), is_declared_free_of_dc=False),
    )
    return replace(
        ORDER,
        circuits=circuits,
        details=tuple(FaceDetail(draw(st.none() | st.just((face.unit_count,))), None) for face in drawn.faces),
        choices=PartChoices(draw(st.integers(1, 100)), draw(st.integers(0, 3)), 5.0, no_dc_fault_current_declared=False),
        spares=SparePolicy(draw(st.none() | numbers(0.0, 1.0)), draw(numbers(0.0, 0.1)), draw(st.integers(0, 30))),
        backup=BackupWish(draw(st.booleans()), draw(st.booleans())),
    )


def quantities(bill: BillOfMaterials) -> Counter[str]:
    count: Counter[str] = Counter()
    for line in bill.lines:
        count[line.role] += line.quantity
    return count


def lines_of(bill: BillOfMaterials, role: str) -> list[BillLine]:
    return [line for line in bill.lines if line.role == role]


@given(orders())
def test_lines_faces_circuits_and_masses_add_up(request: Order) -> None:
    bill, terms = bill_of_materials(request), request.circuits
    belongs: dict[str, set[str | None]] = {
        "face": {*(face.name for face in terms.faces)},
        "circuit": {*(circuit.name for circuit in bill.circuits)},
        "system": {None},
    }
    for line in bill.lines:
        assert type(line.quantity) is int
        assert line.quantity > 0
        assert line.derivation
        assert line.role in ROLES
        assert line.belongs_to in belongs[line.scope]
    units = {line.belongs_to: line.quantity for line in lines_of(bill, "microinverter")}
    assert units == {face.name: ceil(face.module_count / terms.modules_per_unit) for face in terms.faces}
    assert bill.unit_count == sum(circuit.unit_count for circuit in bill.circuits) == sum(units.values())
    count, circuits, modules = quantities(bill), len(bill.circuits), sum(face.module_count for face in terms.faces)
    assert count["module"] == modules
    assert count["trunk_cable_section"] == bill.unit_count
    assert count["trunk_spare_drop"] == count["trunk_drop_cap"] == request.choices.spare_drops_per_circuit * circuits
    assert count["trunk_end_cap"] == (2 if terms.wiring.trunk_feed == "centre" else 1) * circuits
    assert count["junction_box"] == count["branch_circuit_protective_device"] == circuits
    assert count["home_run_cable"] == ceil(terms.wiring.home_run_length_m) * circuits
    assert count["sub_board"] == count["system_circuit_breaker"] == (1 if circuits > 1 else 0)
    assert count["residual_current_device"] == (1 if terms.residual_current.reasons else 0), "one, where it is asked for"
    assert count["supply_cable"] == 0, "its device was not given"
    if circuits > 1 and any(cable.size_to_order for cable in bill.cables if cable.cable == "system cable"):
        assert count["system_cable"] == ceil(terms.wiring.system_cable_length_m)
    assert bill.mass_total_kg == pytest.approx(modules * 24.0 + bill.unit_count * 1.2)
    assert sum(mass.mass_kg for mass in bill.masses) == pytest.approx(bill.mass_total_kg)


OF_A_CIRCUIT = {
    "trunk_spare_drop", "trunk_drop_cap", "trunk_end_cap", "junction_box", "home_run_cable", "branch_circuit_protective_device",
    "circuit_label", "sub_board", "system_circuit_breaker",
}  # fmt: skip


@given(orders(), st.integers(0, 4))
def test_another_module_never_lowers_a_count(request: Order, which: int) -> None:
    faces, details = list(request.circuits.faces), list(request.details)
    index = which % len(faces)
    faces[index] = replace(faces[index], module_count=faces[index].module_count + 1)
    if details[index].row_module_counts is not None:
        details[index] = FaceDetail((faces[index].module_count,), None)
    before = bill_of_materials(request)
    larger = replace(request, circuits=replace(request.circuits, faces=tuple(faces)), details=tuple(details))
    after = bill_of_materials(larger)
    # What the network operator asks for follows the route; and a trunk that ends where a face does needs no joint.
    may_fall = {"network_operator_document", "trunk_joint"}
    terms = request.circuits
    if terms.phase_count > 1 and terms.trunk_phase_count == terms.unit_phase_count == 1:
        # Equal phases come first: with a unit more, fewer circuits may do.
        may_fall |= OF_A_CIRCUIT
    else:
        assert len(after.circuits) >= len(before.circuits)
    assert set(quantities(before) - quantities(after)) <= may_fall
    assert after.mass_total_kg > before.mass_total_kg


def test_an_order_by_hand() -> None:
    cables = replace(
        WIRING, trunk_feed="centre", home_run_length_m=12.5, supply_length_m=3.2, system_cable_length_m=1.5,
        system_cable=replace(WIRING.supply, name="system cable"),
    )  # fmt: skip
    supply = replace(CIRCUITS.supply, board=Board(63.0, 40.0))
    bill = bill_of_materials(order(phase_count=2, wiring=cables, supply=supply))
    assert quantities(bill) == {
        "module": 12,
        "microinverter": 12,
        "mounting_set": 12,
        "trunk_cable_section": 12,
        "trunk_end_cap": 6,
        "junction_box": 3,
        "home_run_cable": 39,
        "branch_circuit_protective_device": 3,
        "circuit_label": 3,
        "sub_board": 1,
        "system_circuit_breaker": 1,
        "system_cable": 2,
        "supply_cable": 4,
        "ac_isolator": 1,
        "communication_gateway": 1,
        "current_transformer_production": 2,
        "current_transformer_grid": 2,
        "system_label": 1,
        "microinverter_spare": 1,
        "commissioning_document": 2,
        "network_operator_document": 1,
    }
    # Six units on each phase: the eight of the south face need two circuits for that.
    assert sorted((c.face, c.unit_count) for c in bill.circuits) == [("north", 4), ("south", 2), ("south", 6)]
    assert bill.connection.phases[0].unit_count == bill.connection.phases[1].unit_count == 6
    specifications = {line.role: line.specification for line in bill.lines}
    # Six units of 1.5 A are 9 A, times 1.25 is 11.25 A; never below the 20 A of a circuit.
    assert specifications["system_circuit_breaker"] == "20 A, 3 poles, curve B, 6 kA, bidirectional"
    assert specifications["branch_circuit_protective_device"] == "20 A, 2 poles, curve B, 6 kA, bidirectional"
    assert specifications["ac_isolator"] == "20 A, 3 poles"
    assert specifications["current_transformer_production"] == "10 A to 5 A"
    # Method C, XLPE, three loaded, IEC 60364-5-52 Table B.52.5: 1.5 mm2 has 22 A, 4 mm2 40 A.
    assert (specifications["system_cable"], specifications["supply_cable"]) == ("1.5 mm2", "4 mm2")
    assert specifications["sub_board"] == "4 circuit breakers, 9 poles, 20 A"


@pytest.mark.parametrize(
    ("rows", "segments", "end_clamps", "mid_clamps"), [((5, 3), None, 8, 12), ((8,), (2,), 8, 12), ((8,), None, 4, 14)]
)
def test_rows_of_a_layout_give_rails_and_clamps(
    rows: tuple[int, ...], segments: tuple[int, ...] | None, end_clamps: int, mid_clamps: int
) -> None:
    bill = bill_of_materials(replace(ORDER, details=(FaceDetail(rows, None, segments), FaceDetail(None, None))))
    south = {line.role: (line.quantity, line.unit) for line in bill.lines if line.belongs_to == "south"}
    assert south == {
        "module": (8, "piece"),
        "microinverter": (8, "piece"),
        "rail": (29, "m"),  # 2 x 8 x 1.8 m = 28.8 m
        "end_clamp": (end_clamps, "piece"),
        "mid_clamp": (mid_clamps, "piece"),
    } | ({"trunk_joint": (1, "piece")} if len(rows) > 1 else {})
    assert [line.belongs_to for line in lines_of(bill, "mounting_set")] == ["north"]


def test_a_trunk_that_crosses_the_ridge_needs_a_joint() -> None:
    bill = bill_of_materials(order(may_cross_faces=True, unit_ac_current_a=1.3))
    assert [(line.belongs_to, line.quantity) for line in lines_of(bill, "trunk_joint")] == [("circuit 1", 1)]


@pytest.mark.parametrize(("declared", "kind"), [(False, "type B"), (True, "type A")])
def test_the_residual_current_device_follows_the_declaration(declared: bool, kind: str) -> None:
    # IEC 60364-7-712, 712.530.3.101: type B unless separated or declared by the maker.
    asked = order(residual_current=ResidualCurrentNeed((Cited("the maker asks for it"),), is_declared_free_of_dc=False))
    choices = replace(ORDER.choices, no_dc_fault_current_declared=declared)
    (line,) = lines_of(bill_of_materials(replace(asked, choices=choices)), "residual_current_device")
    assert line.specification == f"25 A, 2 poles, 30 mA, {kind}, bidirectional"
    assert "no other circuit: the maker asks for it" in english(line.derivation)


def test_no_residual_current_device_is_ordered_where_none_is_asked_for() -> None:
    assert not lines_of(bill_of_materials(ORDER), "residual_current_device")


def test_a_bill_lists_the_smallest_conductors_that_are_protected() -> None:
    # 25 A behind method A2 with PVC and two circuits together: 4 mm2 carries 25 x 0.8, 6 mm2 32 x 0.8 = 25.6 A.
    cables = wiring(
        "2.5 mm2", "2.5 mm2", "2.5 mm2",
        installed=installation("iec_pvc_70", "insulated_wall", together=2),
        home_run_length_m=5.0, supply_length_m=2.0,
    )  # fmt: skip
    supply = replace(CIRCUITS.supply, board=Board(100.0, 25.0))
    bill = bill_of_materials(order(branch_rules=BranchCircuitRules(25.0, 1.25, Cited("a code")), wiring=cables, supply=supply))
    assert {line.specification for role in ("trunk_cable_section", "home_run_cable") for line in lines_of(bill, role)} == {
        "6 mm2"
    }
    assert all("6 mm2 is protected" in english(line.derivation) for line in lines_of(bill, "home_run_cable"))
    assert [cable.meets for cable in bill.cables] == [False] * len(bill.cables)
    assert CABLE_FAILS in bill.cautions


def test_a_bill_lists_no_conductor_where_none_is_protected() -> None:
    cables = wiring(installed=installation("iec_pvc_70", ambient_c=80.0), home_run_length_m=5.0, supply_length_m=2.0)
    bill = bill_of_materials(order(wiring=cables))
    assert not {"trunk_cable_section", "home_run_cable", "supply_cable"} & {line.role for line in bill.lines}
    assert all(cable.size_to_order is None and cable.capacity_a == 0.0 for cable in bill.cables)


BACKUP_ROLES = ["backup_isolating_device", "backup_controller", "backup_label"]


@pytest.mark.parametrize(
    ("wish", "works", "roles"),
    [
        (BackupWish(False, True), False, []),
        (BackupWish(True, True), True, BACKUP_ROLES),
        (BackupWish(True, False), True, [*BACKUP_ROLES, "grid_forming_source"]),
    ],
)
def test_backup_needs_its_parts(wish: BackupWish, works: bool, roles: list[str]) -> None:
    bill = bill_of_materials(replace(ORDER, backup=wish))
    assert bill.backup.works_in_outage is works
    assert "isolating device" in english(bill.backup.explanation)
    assert [line.role for line in bill.lines if line.role.startswith(("backup", "grid_forming"))] == roles


def test_dead_load_against_the_guide_value() -> None:
    details = (FaceDetail(None, 40.0), FaceDetail(None, None))
    request = replace(ORDER, details=details, masses=replace(ORDER.masses, module_area_m2=1.95))
    south, north = bill_of_materials(request).masses
    assert south.load_face_kg_m2 == pytest.approx(8 * 25.2 / 40.0)
    assert south.load_modules_kg_m2 == pytest.approx(25.2 / 1.95)
    assert (south.within_guide, north.load_face_kg_m2) == (True, None)
    heavy = bill_of_materials(replace(request, masses=replace(request.masses, guide_kg_m2=12.0)))
    assert heavy.masses[1].within_guide is False
    assert TOO_HEAVY in heavy.cautions
    assert bill_of_materials(ORDER).masses[0].within_guide is None


@pytest.mark.parametrize(
    ("policy", "count"),
    [
        (SparePolicy(0.0, 0.5, 25), 0),
        (SparePolicy(0.25, 0.0, 25), 3),
        (SparePolicy(None, 0.005, 25), 2),
        (SparePolicy(None, 0.0, 25), 0),
        (SparePolicy(None, 1.0, 1), 12),
    ],
    ids=str,
)
def test_spares_by_share_or_by_expected_failures(policy: SparePolicy, count: int) -> None:
    assert quantities(bill_of_materials(replace(ORDER, spares=policy)))["microinverter_spare"] == count


def test_cautions_of_a_bill() -> None:
    assert {TRUNK_LIMIT, NO_HOME_RUN} <= {*bill_of_materials(ORDER).cautions}
    known = order(wiring=replace(WIRING, home_run_length_m=1.0), units_per_trunk_max=10)
    assert not {TRUNK_LIMIT, NO_HOME_RUN} & {*bill_of_materials(known).cautions}


@pytest.mark.parametrize(
    ("changes", "message", "field"),
    [
        ({"unit_ac_current_a": 16.1}, "a larger device is needed", "unit_ac_current_a"),
        ({"faces": (CircuitFace("south", 5001, 1.0),) * 2}, "at most 5000 microinverters", "faces"),
        ({"rules": connection_rules("great_britain"), "phase_count": 2}, "1 or 3 phases", "phase_count"),
    ],
    ids=["unit", "count", "phases"],
)
def test_refused_orders(changes: dict[str, Any], message: str, field: str) -> None:
    with pytest.raises(EngineeringError, match=message) as error:
        bill_of_materials(order(**changes))
    assert error.value.fields == (field,)
