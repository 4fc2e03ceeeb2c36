"""Parts, documents and masses from counts."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import pairwise
from math import ceil, dist
from typing import Any

import pytest
from hypothesis import given, strategies as st

from tests.builders import installation, numbers, wiring
from tests.unit.circuits_api import order as order_of, specifications
from tests.unit.test_branch_circuits import RULES, requests
from wattpair_service.engineering.cautions import TRUNK_LIMIT
from wattpair_service.engineering.circuits.board import Board
from wattpair_service.engineering.circuits.branch_circuits import BranchCircuit, BranchCircuitRules, FaceUnits
from wattpair_service.engineering.circuits.circuits import CABLE_FAILS, CircuitFace, CircuitsRequest
from wattpair_service.engineering.circuits.devices import ResidualCurrentNeed
from wattpair_service.engineering.circuits.grid_connection import SupplyPoint
from wattpair_service.engineering.circuits.voltage_rise import TrunkFeed
from wattpair_service.engineering.equipment import InputWiring
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.materials.backup import BackupWish
from wattpair_service.engineering.materials.bill_lines import NO_NAMES, ROLES, BillLine, FaceDetail, ModuleSize, PartChoices
from wattpair_service.engineering.materials.bill_of_materials import (
    BALLAST,
    NO_HOME_RUN,
    TOO_HEAVY,
    BillOfMaterials,
    Order,
    bill_of_materials,
)
from wattpair_service.engineering.materials.mounting import (
    ATTACHMENTS,
    FaceRows,
    MountingSystem,
    even_segments,
    full_rows,
)
from wattpair_service.engineering.materials.placed_units import PlacedUnit, missing_leads_m, placed_units
from wattpair_service.engineering.materials.spares import SparePolicy
from wattpair_service.engineering.materials.trunk_system import Drops, TrunkSystem
from wattpair_service.engineering.money.replacements import replacements
from wattpair_service.engineering.roof.dead_load import PartMasses
from wattpair_service.engineering.roof.layout import Orientation
from wattpair_service.engineering.roof.rows import Grid
from wattpair_service.engineering.sentences import Cited
from wattpair_service.rules import connection_rules, material_rules_of, region_data, regions
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
MOUNTING = MountingSystem(
    covering="tiles",
    attachment=ATTACHMENTS["tiles"],
    rails_per_row=2,
    rail_length_m=3.3,
    overhang_m=0.1,
    offcuts_reused=False,
    column_gap_m=0.02,
    row_gap_m=0.02,
    unit_fixings_per_unit=1,
    bonding_jumpers="rail",
    earth_lugs="segment",
    cable_clips_per_module=4,
    roof_entries_per_circuit=1,
    module_lead_length_m=1.1,
)
ORDER = Order(
    circuits=CIRCUITS,
    details=(FaceDetail(),) * 2,
    module_size=ModuleSize(1.74, 1.12),
    input_wiring=InputWiring(),
    choices=PartChoices(
        gateway_units_max=49,
        spare_drops_per_circuit=0,
        transformer_secondary_a=5.0,
        no_dc_fault_current_declared=False,
        cable_allowance_share=0.0,
        rules=material_rules_of(region_data("international")),
        mounting=MOUNTING,
        trunk=TrunkSystem((1.3, 2.5), (2.1, 4.0), sold_by_length=False, disconnect_tools=1),
    ),
    spares=SparePolicy(share=0.02, failure_share_per_year=0.005, horizon_years=25, warranty_years=10),
    backup=BackupWish(wanted=False, grid_forming_units=False),
    masses=PartMasses(21.0, 1.1, 0.1, 3.0, None, 15.0),
    price_book=None,
    names=NO_NAMES,
)


def order(**changes: Any) -> Order:
    return replace(ORDER, circuits=replace(CIRCUITS, **changes))


@st.composite
def mountings(draw: st.DrawFn) -> MountingSystem:
    covering = draw(st.sampled_from([*ATTACHMENTS]))
    attachment = replace(
        ATTACHMENTS[covering], spacing_max_m=draw(numbers(0.3, 2.0)), cantilever_max_m=draw(st.just(0.0) | numbers(0.0, 0.6))
    )
    return MountingSystem(
        covering=covering,
        attachment=attachment,
        rails_per_row=draw(st.integers(0, 3)),
        rail_length_m=draw(numbers(0.8, 7.0)),
        overhang_m=draw(st.just(0.0) | numbers(0.0, 0.5)),
        offcuts_reused=draw(st.booleans()),
        column_gap_m=draw(numbers(0.0, 0.1)),
        row_gap_m=draw(numbers(0.0, 0.5)),
        unit_fixings_per_unit=draw(st.integers(0, 2)),
        bonding_jumpers=draw(st.sampled_from(("module", "rail", "none"))),
        earth_lugs=draw(st.sampled_from(("segment", "row", "none"))),
        cable_clips_per_module=draw(st.integers(0, 6)),
        roof_entries_per_circuit=draw(st.integers(0, 2)),
        module_lead_length_m=draw(numbers(0.0, 3.0)),
    )


@st.composite
def trunks(draw: st.DrawFn) -> TrunkSystem:
    portrait, landscape = (tuple(draw(st.lists(numbers(0.5, 6.0), min_size=1, max_size=3))) for _ in range(2))
    return TrunkSystem(portrait, landscape, draw(st.booleans()), draw(st.integers(0, 2)))


@st.composite
def details(draw: st.DrawFn, modules: int) -> FaceDetail:
    """Nothing, or one row in as many segments as may be."""
    segments = draw(st.none() | st.integers(1, modules).map(lambda number: (even_segments(modules, number),)))
    orientations: tuple[Orientation | None, ...] = (None, "portrait", "landscape")
    orientation = draw(st.sampled_from(orientations))
    return FaceDetail(segments, None, orientation, unit_spacing_m=draw(st.none() | numbers(0.5, 8.0)))


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
    modules_per_unit = draw(st.integers(1, 8))
    modules_per_input = draw(st.sampled_from([each for each in (1, 2, 4) if modules_per_unit % each == 0]))
    rules = material_rules_of(region_data(draw(st.sampled_from(regions()))))
    circuits = replace(
        CIRCUITS,
        faces=tuple(CircuitFace(face.name, face.unit_count, 1.8) for face in drawn.faces),
        phase_count=drawn.phase_count,
        rules=connection_rules(region),
        unit_ac_current_a=drawn.unit_ac_current_a,
        modules_per_unit=modules_per_unit,
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
        details=tuple(draw(details(face.unit_count)) for face in drawn.faces),
        input_wiring=InputWiring(modules_per_input, draw(st.sampled_from(("series", "parallel")))),
        choices=PartChoices(
            gateway_units_max=draw(st.integers(1, 100)),
            spare_drops_per_circuit=draw(st.integers(0, 3)),
            transformer_secondary_a=5.0,
            no_dc_fault_current_declared=False,
            cable_allowance_share=draw(st.just(0.0) | numbers(0.0, 1.0)),
            rules=rules,
            mounting=draw(mountings()),
            trunk=draw(trunks()),
        ),
        spares=SparePolicy(
            draw(st.none() | numbers(0.0, 1.0)),
            draw(st.none() | numbers(0.0, 0.1)),
            draw(st.integers(0, 30)),
            draw(st.integers(0, 30)),
        ),
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
    choices = request.choices
    spare_drops = choices.spare_drops_per_circuit * circuits
    assert count["module"] == modules
    if choices.trunk.sold_by_length:
        assert count["trunk_connector"] == bill.unit_count + spare_drops
        assert not {"trunk_cable_section", "trunk_spare_drop", "trunk_joint"} & set(count)
    else:
        # A section that no unit uses has its drop capped.
        assert count["trunk_cable_section"] - bill.unit_count == count["trunk_drop_cap"] - spare_drops
        assert count["trunk_spare_drop"] == spare_drops
    assert count["disconnect_tool"] == choices.trunk.disconnect_tools
    assert count["unit_fixing"] == bill.unit_count * choices.mounting.unit_fixings_per_unit
    assert count["cable_clip"] == modules * choices.mounting.cable_clips_per_module
    assert count["trunk_end_cap"] == (2 if terms.wiring.trunk_feed == "centre" else 1) * circuits
    assert count["junction_box"] == count["branch_circuit_protective_device"] == circuits
    allowance = 1.0 + choices.cable_allowance_share
    assert count["home_run_cable"] == ceil(terms.wiring.home_run_length_m * allowance - 1e-9) * circuits
    assert count["sub_board"] == count["system_circuit_breaker"] == (1 if circuits > 1 else 0)
    assert count["residual_current_device"] == (1 if terms.residual_current.reasons else 0), "one, where it is asked for"
    assert count["supply_cable"] == 0, "its device was not given"
    if circuits > 1 and any(cable.size_to_order for cable in bill.cables if cable.cable == "system cable"):
        assert count["system_cable"] == ceil(terms.wiring.system_cable_length_m * allowance - 1e-9)
    assert bill.mass_total_kg == pytest.approx(modules * 24.0 + bill.unit_count * 1.2)
    assert sum(mass.mass_kg for mass in bill.masses) == pytest.approx(bill.mass_total_kg)


OF_A_CIRCUIT = {
    "trunk_spare_drop", "trunk_drop_cap", "trunk_end_cap", "junction_box", "home_run_cable", "branch_circuit_protective_device",
    "circuit_label", "sub_board", "system_circuit_breaker", "roof_cable_entry", "trunk_connector",
}  # fmt: skip


@given(orders(), st.integers(0, 4))
def test_another_module_never_lowers_a_count(request: Order, which: int) -> None:
    faces, details = list(request.circuits.faces), list(request.details)
    index = which % len(faces)
    faces[index] = replace(faces[index], module_count=faces[index].module_count + 1)
    if (known := details[index].segments) is not None:
        more = even_segments(faces[index].module_count, len(known[0]))
        details[index] = replace(details[index], segments=(more,))
    before = bill_of_materials(request)
    larger = replace(request, circuits=replace(request.circuits, faces=tuple(faces)), details=tuple(details))
    after = bill_of_materials(larger)
    # What the network operator asks for follows the route; a trunk that ends where a row or face does needs no joint and no
    # cable to the next; a unit that is filled needs no cap; and where a unit more spares one that reached over a gap, fewer
    # extension leads and sections do.
    may_fall = {
        "network_operator_document", "trunk_joint", "trunk_extension_cable", "trunk_cable", "dc_input_cap",
        "dc_extension_leads", "trunk_cable_section", "trunk_drop_cap",
    }  # fmt: skip
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
        # South rows of 7 and 1, north one of 4. Runs: 7 x 1.12 + 6 x 0.02 + 0.2 = 8.16 m on 3 rails of 3.3 m, 1.32 m on 1,
        # 4.74 m on 2; two of each. Hooks: 7.36 / 1.2 = 6.1, 8 of them; 2; 3.94 / 1.2 = 3.3, 5; twice.
        "rail": 12,
        "rail_splice": 6,
        "rail_end_cap": 12,
        "roof_attachment": 30,
        "attachment_screw": 60,
        "end_clamp": 12,
        "mid_clamp": 18,
        "unit_fixing": 12,
        "bonding_jumper": 3,
        "earth_lug": 3,
        "cable_clip": 48,
        "roof_cable_entry": 3,
        "bonding_conductor": 18,  # 1.76 m from row to row, 3 m over the ridge, 12.5 m down
        "surge_protective_device": 1,
        "disconnect_tool": 1,
        "trunk_cable_section": 12,
        # One of the circuits turns from the south side's row of 7 to that of 1: 1.76 m.
        "trunk_joint": 2,
        "trunk_extension_cable": 2,
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
        "system_label": 4,
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
    assert (specifications["system_cable"], specifications["supply_cable"]) == ("4 x 1.5 mm2", "4 x 4 mm2")
    assert specifications["sub_board"] == "4 circuit breakers, 9 poles, 20 A"


@pytest.mark.parametrize(
    ("segments", "end_clamps", "mid_clamps", "rails", "splices"),
    [
        # Runs of 5: 5.88 m on 2 rails; of 3: 3.6 m on 2; of 4: 4.74 m on 2; of 8: 9.3 m on 3. Two runs under each segment.
        (((5,), (3,)), 8, 12, 8, 4),
        (((4, 4),), 8, 12, 8, 4),
        (((5, 3),), 8, 12, 8, 4),
        (((8,),), 4, 14, 6, 4),
    ],
)
def test_rows_of_a_layout_give_rails_and_clamps(
    segments: tuple[tuple[int, ...], ...], end_clamps: int, mid_clamps: int, rails: int, splices: int
) -> None:
    bill = bill_of_materials(replace(ORDER, details=(FaceDetail(segments), FaceDetail())))
    south = {line.role: line.quantity for line in bill.lines if line.belongs_to == "south"}
    assert (south["rail"], south["rail_splice"]) == (rails, splices)
    assert (south["end_clamp"], south["mid_clamp"]) == (end_clamps, mid_clamps)
    joints = 2 * (sum(map(len, segments)) - 1)
    assert quantities(bill)["trunk_joint"] == joints, (
        "both ends of 1.76 m to the next row, or of 2.28 m past a gap; drops reach 1.3 m"
    )
    assumed = {each.name: each.value for each in bill.assumptions}
    assert assumed == {"faces.row_module_counts": [4], "faces.module_orientation": "portrait"}


@given(mountings(), st.lists(st.integers(1, 30), min_size=1, max_size=12), numbers(0.5, 2.5))
def test_rails_cover_every_module_with_at_most_the_overhang(
    mounting: MountingSystem, segments: list[int], width_m: float
) -> None:
    grid = Grid(width_m, 1.0, mounting.column_gap_m, 0.02)
    lengths = [mounting.run_length_m(count, grid) for count in segments]
    overhang_m = mounting.overhang_m if mounting.rails_per_row else 0.0
    for count, length in zip(segments, lengths, strict=True):
        modules_m = count * width_m + (count - 1) * mounting.column_gap_m
        assert length == pytest.approx(modules_m + 2 * overhang_m)
        pieces = mounting.pieces(length)
        assert (pieces - 1) * mounting.rail_length_m < length + 1e-6
        assert pieces * mounting.rail_length_m >= length - 1e-6
        # Attachments at the cantilever from both ends, and equally spaced between.
        gaps, cantilever_m = mounting.attachments(length) - 1, min(mounting.attachment.cantilever_max_m, length / 2.0)
        spacing_m = (length - 2.0 * cantilever_m) / gaps
        assert gaps >= 1
        assert spacing_m <= mounting.attachment.spacing_max_m + 1e-6
        assert gaps == 1 or (length - 2.0 * cantilever_m) / (gaps - 1) > mounting.attachment.spacing_max_m - 1e-6
    new, reused = (replace(mounting, offcuts_reused=each).rails_to_order(lengths) for each in (False, True))
    assert new == sum(map(mounting.pieces, lengths))
    assert ceil(sum(lengths) / mounting.rail_length_m - 1e-6) <= reused <= new


def test_an_offcut_takes_the_place_of_a_rail_and_costs_no_splice() -> None:
    mounting = replace(MOUNTING, offcuts_reused=True, rail_length_m=3.6)
    # 5.36 m leave 1.84 m of the second rail, to which 3.52 m of one more add up; 7.12 m leave nothing to use.
    assert mounting.rails_to_order([5.36, 5.36]) == 3
    assert mounting.rails_to_order([7.12, 7.12]) == 4
    assert mounting.rails_to_order([5.36, 1.5]) == 2, "a short run from the offcut alone"
    assert mounting.rails_to_order([6.1, 1.05]) == 3, "1.1 m do not reach over two attachments 1.2 m apart"


@given(orders())
def test_caps_and_filled_inputs_are_all_inputs(request: Order) -> None:
    bill, terms, wired = bill_of_materials(request), request.circuits, request.input_wiring
    count, per_unit = quantities(bill), terms.modules_per_unit
    inputs = filled = 0
    for face in terms.faces:
        remaining = face.module_count
        while remaining > 0:  # one unit after the other, each input in turn
            on_unit = min(remaining, per_unit)
            inputs += per_unit // wired.modules_per_input
            filled += len(range(0, on_unit, wired.modules_per_input))
            remaining -= on_unit
    assert count["dc_input_cap"] + filled == inputs
    further = sum(face.module_count for face in terms.faces) - filled
    assert count["dc_branch_connectors"] == (further if wired.wiring == "parallel" else 0)
    assert count["dc_extension_leads"] <= count["module"]


def on_one_circuit(rows: FaceRows, per_unit: int, per_input: int = 1) -> tuple[PlacedUnit, ...]:
    """The units of a face, all on one circuit."""
    units = ceil(sum(rows.row_counts) / per_unit)
    circuit = BranchCircuit("circuit 1", (FaceUnits("roof", units),), units, (1,), (units,), 1.0 * units, 20.0)
    return placed_units("roof", rows, (circuit,), modules_per_unit=per_unit, modules_per_input=per_input, unit_phase_count=1)


@pytest.mark.parametrize(
    ("rows", "per_unit", "lead_m", "beyond"),
    [
        ((4,), 1, 0.0, 0),  # the unit is under its module
        ((4,), 2, 0.8, 0),  # 0.2 m from the edge of one of two: 0.36 m from its middle, 0.78 m from the other's
        ((4,), 2, 0.6, 2),
        ((4,), 2, 0.3, 4),
        ((4,), 4, 1.1, 2),  # 0.36 m, 0.78 m, 1.5 m and 1.92 m
        ((3,), 4, 1.1, 2),  # one in the middle, two at 1.14 m
        ((3, 3), 2, 0.8, 1),  # the third of each row share a unit: 0.67 m and 1.09 m of the 1.76 m between them
        ((3, 2), 2, 0.8, 0),  # the third of the first row has a unit of its own
    ],
)
def test_modules_beyond_their_leads(rows: tuple[int, ...], per_unit: int, lead_m: float, beyond: int) -> None:
    face = FaceRows(tuple((count,) for count in rows), Grid(1.12, 1.74, 0.02, 0.02), "portrait")
    assert len(missing_leads_m(face, on_one_circuit(face, per_unit), lead_m)) == beyond


SEGMENTS = st.lists(st.lists(st.integers(1, 6), min_size=1, max_size=3).map(tuple), min_size=1, max_size=4).map(tuple)


@given(SEGMENTS, st.sampled_from([(1, 1), (2, 1), (2, 2), (4, 1), (4, 2), (8, 1)]), numbers(0.3, 2.0), numbers(0.3, 2.0))
def test_every_unit_lies_inside_one_of_its_modules(
    segments: tuple[tuple[int, ...], ...], inputs: tuple[int, int], width_m: float, height_m: float
) -> None:
    per_unit, per_input = inputs
    rows = FaceRows(segments, Grid(width_m, height_m, 0.02, 0.02), "portrait")
    units, centres = on_one_circuit(rows, per_unit, per_input), rows.centres()
    assert sorted(module for unit in units for module in unit.modules) == [*range(len(centres))]
    assert sum(len(unit.modules) % per_input > 0 for unit in units) <= 1, "one input in part, as the checks have it"
    for unit in units:
        assert any(
            abs(centres[module][0] - unit.x_m) < width_m / 2 and abs(centres[module][1] - unit.y_m) < height_m / 2
            for module in unit.modules
        )


@pytest.mark.parametrize(
    ("segments", "per_unit", "per_input", "shares"),
    [
        (((3, 3),), 4, 1, [(0, 1, 2), (3, 4, 5)]),  # two units either way: none reaches over the gap
        (((3, 3),), 4, 2, [(0, 1, 2, 3), (4, 5)]),  # an input in part in each would not be as it was checked
        (((3, 3),), 2, 1, [(0, 1), (2, 3), (4, 5)]),  # a fourth unit would be needed
        (((3, 2),), 2, 1, [(0, 1), (2,), (3, 4)]),
        (((1, 2, 2),), 4, 1, [(0,), (1, 2, 3, 4)]),  # one gap is crossed in any case
        (((3,), (3, 2)), 2, 1, [(0, 1), (2, 7), (6, 5), (4, 3)]),
    ],
)
def test_modules_share_a_unit_across_a_gap_only_where_they_must(
    segments: tuple[tuple[int, ...], ...], per_unit: int, per_input: int, shares: list[tuple[int, ...]]
) -> None:
    rows = FaceRows(segments, Grid(1.12, 1.74, 0.02, 0.02), "portrait")
    assert [unit.modules for unit in on_one_circuit(rows, per_unit, per_input)] == shares


@given(orders())
def test_the_trunk_reaches_every_unit(request: Order) -> None:
    trunk = replace(request.choices.trunk, sold_by_length=False)
    details = tuple(replace(each, unit_spacing_m=None) for each in request.details)
    bill = bill_of_materials(replace(request, details=details, choices=replace(request.choices, trunk=trunk)))
    for circuit in bill.circuits:
        own = [unit for face in bill.placed_units for unit in face if unit.circuit == circuit.name]
        assert len(own) == circuit.unit_count
        lines = {line.role: line for line in bill.lines if line.belongs_to == circuit.name}
        if len(circuit.units_by_face) > 1 or "trunk_cable_section" not in lines:
            continue
        sections, joints = lines["trunk_cable_section"], lines.get("trunk_joint")
        assert sections.specification is not None
        made_m = float(sections.specification.partition("every ")[2].partition(" m")[0])
        apart = [dist(one.place, other.place) for one, other in pairwise(own)]
        is_gap = [one.segment[0] == other.segment[0] and one.segment != other.segment for one, other in pairwise(own)]
        # Pieces without drops are for the gaps and for the longest of the other ways; sections reach over the rest.
        pieces = (0 if joints is None else joints.quantity // 2) - sum(is_gap)
        others = sorted((length for length, gap in zip(apart, is_gap, strict=True) if not gap), reverse=True)
        assert 0 <= pieces <= len(others)
        reaching = sum(max(1, ceil(length / made_m - 1e-3)) for length in others[pieces:])
        assert sections.quantity == pytest.approx(1 + sum(is_gap) + pieces + reaching)


@given(st.integers(1, 200), numbers(0.3, 3.0), st.integers(1, 20))
def test_full_rows_and_even_segments_hold_all_modules(modules: int, pitch_m: float, parts: int) -> None:
    rows = full_rows(modules, pitch_m)
    assert sum(map(sum, rows)) == modules
    assert all(row == rows[0] for row in rows[:-1])
    assert all(sum(row) * pitch_m <= 9.0 + 1e-6 or sum(row) == 1 for row in rows)
    segments = even_segments(modules, parts)
    assert (sum(segments), len(segments)) == (modules, parts)
    assert max(segments) - min(segments) <= 1


@pytest.mark.parametrize(
    ("orientation", "spacing_m", "drops"),
    [
        ("portrait", 1.14, Drops(1.3, 1)),
        ("portrait", 1.3, Drops(1.3, 1)),
        ("portrait", 2.28, Drops(2.5, 1)),
        ("landscape", 1.76, Drops(2.1, 1)),
        ("landscape", 7.04, Drops(4.0, 2)),  # a unit for four: every second drop stays unused
    ],
)
def test_the_smallest_made_drop_spacing_that_reaches(orientation: Orientation, spacing_m: float, drops: Drops) -> None:
    assert ORDER.choices.trunk.drops(orientation, spacing_m) == drops


def test_a_trunk_sold_by_length() -> None:
    trunk = replace(ORDER.choices.trunk, sold_by_length=True)
    choices = replace(ORDER.choices, trunk=trunk, spare_drops_per_circuit=1, cable_allowance_share=0.1)
    bill = bill_of_materials(replace(order(may_cross_faces=True, unit_ac_current_a=1.3), choices=choices))
    count = quantities(bill)
    # Rows of 7, 1 and 4: ten times 1.14 m with that from the junction box, 1.76 m to the next row and 3 m over the ridge:
    # 16.16 m, with a tenth 17.8 m.
    assert (count["trunk_cable"], count["trunk_connector"], count["trunk_drop_cap"]) == (18, 13, 1)
    assert not {"trunk_cable_section", "trunk_joint", "trunk_extension_cable", "trunk_spare_drop"} & set(count)


def test_a_system_without_rails_stands_on_two_lines_of_attachments() -> None:
    mounting = replace(MOUNTING, rails_per_row=0, bonding_jumpers="module", earth_lugs="none")
    bill = bill_of_materials(replace(ORDER, choices=replace(ORDER.choices, mounting=mounting)))
    north = {line.role: line.quantity for line in bill.lines if line.belongs_to == "north"}
    # 4 x 1.12 + 3 x 0.02 = 4.54 m: (4.54 - 0.8) / 1.2 = 3.1, 5 attachments on each of two lines.
    assert (north["roof_attachment"], north["end_clamp"], north["mid_clamp"], north["bonding_jumper"]) == (10, 4, 6, 4)
    assert not {"rail", "rail_splice", "rail_end_cap", "earth_lug", "bonding_conductor"} & set(quantities(bill))


def test_without_rails_each_module_has_a_jumper_unless_the_request_says_otherwise() -> None:
    usual, without_rails, own = (
        order_of("international", 5, mounting_system=system)
        for system in ({}, {"rails_per_row": 0}, {"rails_per_row": 0, "bonding_jumpers": "none"})
    )
    jumpers = [
        sum(line["quantity"] for line in each["lines"] if line["role"] == "bonding_jumper")
        for each in (usual, without_rails, own)
    ]
    assert jumpers == [1, 5, 0]
    (assumed,) = [each for each in without_rails["assumptions"] if each["name"] == "mounting_system.bonding_jumpers"]
    assert "one for each module without rails" in assumed["source"]


@given(orders())
def test_units_take_the_phases_of_their_circuit(request: Order) -> None:
    bill = bill_of_materials(request)
    placed = [unit for face in bill.placed_units for unit in face]
    for number, circuit in enumerate(bill.circuits, 1):
        own = [unit for unit in placed if unit.circuit == circuit.name]
        assert {unit.circuit_number for unit in own} == {number}
        on_phase = Counter(phase for unit in own for phase in unit.phases)
        assert tuple(on_phase[phase + 1] for phase in range(request.circuits.phase_count)) == circuit.units_by_phase


def test_l_feet_stand_on_rafters() -> None:
    # 48 in: every second rafter of 24 in, every third of 16 in.
    assert ATTACHMENTS["shingles"].spacing_max_m == pytest.approx(1.2192)


def test_ballast_is_not_on_the_bill_of_a_flat_roof() -> None:
    flat = replace(MOUNTING, covering="flat", attachment=ATTACHMENTS["flat"])
    bill = bill_of_materials(replace(ORDER, choices=replace(ORDER.choices, mounting=flat)))
    assert BALLAST in bill.cautions
    assert BALLAST not in bill_of_materials(ORDER).cautions


def test_a_line_in_each_conductor_has_its_transformer_where_the_phase_is_split() -> None:
    rules = material_rules_of(region_data("united_states"))
    bill = bill_of_materials(replace(ORDER, choices=replace(ORDER.choices, rules=rules)))
    assert quantities(bill)["current_transformer_grid"] == 2
    assert quantities(bill)["current_transformer_production"] == 1
    assert "surge_protective_device" not in quantities(bill), "asked for with a new service alone"


def test_a_trunk_that_crosses_the_ridge_needs_a_joint_at_both_ends() -> None:
    in_one_row = (FaceDetail(((8,),)), FaceDetail())
    bill = bill_of_materials(replace(order(may_cross_faces=True, unit_ac_current_a=1.3), details=in_one_row))
    assert [(line.belongs_to, line.quantity) for line in lines_of(bill, "trunk_joint")] == [("circuit 1", 2)]


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
    assert {line.specification for line in lines_of(bill, "home_run_cable")} == {"3 x 6 mm2"}
    assert {line.specification for line in lines_of(bill, "trunk_cable_section")} == {"3 x 6 mm2, drops every 1.3 m, portrait"}
    assert all("6 mm2 is protected" in english(line.derivation) for line in lines_of(bill, "home_run_cable"))
    assert [cable.meets for cable in bill.cables] == [False] * len(bill.cables)
    assert CABLE_FAILS in bill.cautions


def test_a_bill_lists_no_conductor_where_none_is_protected() -> None:
    cables = wiring(installed=installation("iec_pvc_70", ambient_c=80.0), home_run_length_m=5.0, supply_length_m=2.0)
    bill = bill_of_materials(order(wiring=cables))
    assert not {"trunk_cable_section", "home_run_cable", "supply_cable"} & {line.role for line in bill.lines}
    assert all(cable.size_to_order is None and cable.capacity_a == 0.0 for cable in bill.cables)


def test_what_a_request_says_goes_before_the_regions_rules() -> None:
    usual, asked = (
        order_of("great_britain", 4, home_run_length_m=10.0),
        order_of(
            "great_britain", 4, home_run_length_m=10.0, surge_protection=False, generation_meter=False,
            cable_allowance_share=0.0, mounting_system={"bonding_conductor_size": "10 mm2"},
        ),
    )  # fmt: skip
    roles = {line["role"] for line in usual["lines"]}
    assert roles - {line["role"] for line in asked["lines"]} == {"surge_protective_device", "generation_meter"}
    assert specifications(usual, "bonding_conductor") == {"6 mm2"}
    (bonding,) = [line for line in asked["lines"] if line["role"] == "bonding_conductor"]
    assert (bonding["quantity"], bonding["specification"]) == (10, "10 mm2")
    assert bonding["derivation"].endswith("from the request")


@pytest.mark.parametrize(
    ("covering", "kind", "screws", "flashings"),
    [
        ("tiles", "tile hook", 2, 0), ("slates", "slate hook", 2, 1), ("shingles", "L-foot", 1, 1),
        ("standing_seam", "seam clamp", 0, 0), ("sheet_metal", "sheet-metal bracket", 4, 0),
        ("corrugated", "hanger bolt", 0, 0), ("flat", "ballast foot", 0, 0),
    ],
)  # fmt: skip
def test_the_roof_covering_decides_the_attachment(covering: str, kind: str, screws: int, flashings: int) -> None:
    bill = order_of("international", 5, mounting_system={"roof_covering": covering, "attachment_spacing_max_m": 0.8})
    count = {line["role"]: line["quantity"] for line in bill["lines"]}
    # 5 x 1.13 + 4 x 0.02 + 0.2 = 5.93 m: (5.93 - 0.8) / 0.8 = 6.4, 8 attachments under each of two rails.
    assert count["roof_attachment"] == 16
    assert specifications(bill, "roof_attachment") == {kind}
    assert (count.get("attachment_screw", 0), count.get("flashing", 0)) == (16 * screws, 16 * flashings)
    assert all(each and each.endswith(f" for {kind}") for each in specifications(bill, "attachment_screw"))
    assert specifications(bill, "flashing") <= {f"for {kind}"}


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
    details = (FaceDetail(None, 40.0), FaceDetail())
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
        (SparePolicy(0.0, 0.5, 25, 0), 0),
        (SparePolicy(0.25, 0.0, 25, 25), 3),
        (SparePolicy(None, None, 25, 10), 0),  # 12 x (0.999^10 - 0.999^25) = 0.18
        (SparePolicy(None, 0.005, 25, 10), 0),  # 12 x (0.995^10 - 0.995^25) = 0.83: less than a whole one
        (SparePolicy(None, 0.005, 25, 0), 1),  # 12 x (1 - 0.995^25) = 1.41
        (SparePolicy(None, 0.9, 1, 0), 10),  # 10.8
        (SparePolicy(None, 0.9, 25, 2), 0),  # nearly all fail within the warranty: 12 x 0.1^2
        (SparePolicy(None, 0.1, 10, 25), 0),  # the warranty outlasts the horizon
    ],
    ids=str,
)
def test_spares_are_what_fails_after_the_warranty(policy: SparePolicy, count: int) -> None:
    bill = bill_of_materials(replace(ORDER, spares=policy))
    assert quantities(bill)["microinverter_spare"] == count
    assert bill.spares.expected_after_warranty <= bill.spares.expected_failures


def test_the_order_has_the_failure_rate_of_the_ranking() -> None:
    found = bill_of_materials(replace(ORDER, spares=SparePolicy(None, None, 25, 10))).spares
    ranked = replacements(12, None, 25)
    assert (found.expected_failures, found.probability_of_any) == (ranked.expected, ranked.chance_of_any)
    assert "0.1 % a year over 25 years" in english(found.derivation)


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
