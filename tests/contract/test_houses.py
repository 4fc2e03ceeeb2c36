"""The orders of three invented houses (`tests/houses/`), line by line, against a hand count.

The count is that of a foreman with the datasheets, a tape and the default systems of the contract: module 1.74 m x 1.12 m, gap
20 mm, rails of 3.3 m with 0.1 m past the last module, tile hooks at most 1.2 m apart and 0.4 m from the rail's end, one tenth
of cable on top. Each house has its sums in comments beside the lines that they give.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
import yaml
from flask.testing import FlaskClient

from tests.contract.bodies import post, strict_json

HOUSES = Path(__file__).parents[1] / "houses"
Line = tuple[str | None, str, int, str | None]
"""What it belongs to, role, quantity, specification."""


def of(belongs_to: str | None, *lines: tuple[str, int] | tuple[str, int, str]) -> list[Line]:
    """Lines of one face, circuit or (None) the system."""
    return [(belongs_to, line[0], line[1], line[2] if len(line) > 2 else None) for line in lines]


MODULE = "Module 425"
TILE_HOOK, HOOK_SCREW = "tile hook", "wood screw for tile hook"
BRITISH_BREAKER = "20 A, 2 poles, curve B, 6 kA, bidirectional"
BRITAIN = [
    # Two rows of 3 in portrait. A run: 3 x 1.12 + 2 x 0.02 + 2 x 0.1 = 3.60 m: 2 rails, 1 splice; two runs a row make 4.
    # Hooks of a run: (3.60 - 2 x 0.4) / 1.2 = 2.33, so 3 spans on 4 hooks; 16 in all, 2 screws each.
    *of(
        "garden side", ("module", 6, MODULE), ("microinverter", 6, "Unit 345"), ("rail", 8, "3.3 m"), ("rail_splice", 4),
        ("rail_end_cap", 8), ("roof_attachment", 16, TILE_HOOK),
        ("attachment_screw", 32, HOOK_SCREW), ("end_clamp", 8), ("mid_clamp", 8),
        ("unit_fixing", 6), ("bonding_jumper", 2), ("earth_lug", 2), ("cable_clip", 24),
    ),
    # One row of 4. A run: 4 x 1.12 + 3 x 0.02 + 0.2 = 4.74 m: 2 rails, 1 splice; two runs.
    # Hooks of a run: (4.74 - 0.8) / 1.2 = 3.28, so 4 spans on 5 hooks.
    *of(
        "lane side", ("module", 4, MODULE), ("microinverter", 4, "Unit 345"), ("rail", 4, "3.3 m"), ("rail_splice", 2),
        ("rail_end_cap", 4),
        ("roof_attachment", 10, TILE_HOOK), ("attachment_screw", 20, HOOK_SCREW), ("end_clamp", 4), ("mid_clamp", 6),
        ("unit_fixing", 4), ("bonding_jumper", 1), ("earth_lug", 1), ("cable_clip", 16),
    ),
    # From unit to unit 1.14 m: drops every 1.3 m. One trunk on two rows: 1.74 + 0.02 = 1.76 m to the next, beyond the drops;
    # with a tenth 1.94 m. Line, neutral and earth. Home runs of 12 m, with a tenth 13.2 m.
    *of(
        "circuit 1", ("trunk_cable_section", 6, "3 x 2.5 mm2, drops every 1.3 m, portrait"), ("trunk_joint", 2),
        ("trunk_extension_cable", 2, "3 x 2.5 mm2"), ("trunk_end_cap", 1), ("junction_box", 1), ("roof_cable_entry", 1),
        ("home_run_cable", 14, "3 x 4 mm2"),
        ("branch_circuit_protective_device", 1, BRITISH_BREAKER), ("circuit_label", 1, "circuit 1"),
    ),
    *of(
        "circuit 2", ("trunk_cable_section", 4, "3 x 2.5 mm2, drops every 1.3 m, portrait"), ("trunk_end_cap", 1),
        ("junction_box", 1), ("roof_cable_entry", 1), ("home_run_cable", 14, "3 x 4 mm2"),
        ("branch_circuit_protective_device", 1, BRITISH_BREAKER), ("circuit_label", 1, "circuit 2"),
    ),
    # 10 x 345 W / 230 V = 15 A, times 1.25 is 18.75 A: 20 A. Breakers: 2 x 2 + 2 = 6 poles. System cable 4 m, with a tenth 4.4.
    # The supply cable is there. Bonding: 1.76 m from lug to lug, 3 m over the ridge, 12 m down: 16.76, with a tenth 18.4 m.
    # Ten units, 0.1 % a year, years 13 to 25: 0.13 fail, so no spare.
    *of(
        None, ("sub_board", 1, "3 circuit breakers, 6 poles, 20 A"), ("system_circuit_breaker", 1, BRITISH_BREAKER),
        ("ac_isolator", 1, "20 A, 2 poles"), ("system_cable", 5, "3 x 4 mm2"),
        ("surge_protective_device", 1, "AC, type 2, 2 poles"), ("bonding_conductor", 19, "6 mm2"),
        ("generation_meter", 1, "single-phase, at least 15 A"), ("communication_gateway", 1),
        ("current_transformer_production", 1, "15 A to 5 A"), ("current_transformer_grid", 1, "100 A to 5 A"),
        ("system_label", 4, "Warning: dual supply. Isolate both mains and on-site generation before carrying out work."),
        ("system_label", 1, "Solar PV: AC isolator"),
        ("system_label", 1, "Schematic, settings of the interface protection, and the installer's telephone number"),
        ("disconnect_tool", 1),
        ("commissioning_document", 1, "G98 or G99 commissioning form"),
        ("commissioning_document", 1, "electrical installation certificate with test results"),
        ("commissioning_document", 1, "certificate of the installer scheme, where payment for export is wanted"),
        ("commissioning_document", 1, "handover pack with schematic, datasheets and isolation instructions"),
        ("network_operator_document", 1, "entry of each unit in the register of type-tested equipment"),
        ("network_operator_document", 1, "notification to the network operator"),
    ),
]  # fmt: skip


def dutch_face(name: str) -> Iterable[Line]:
    """Rows of 4 and 3 in landscape on ballast feet; the caller's rails of 3.6 m, offcuts reused.

    Run of the row of 4: 4 x 1.74 + 3 x 0.02 + 2 x 0.05 = 7.12 m: 2 rails, nothing left over; two runs take 4 rails.
    Run of the row of 3: 3 x 1.74 + 2 x 0.02 + 0.1 = 5.36 m: 2 rails, 1.84 m over; the second run takes that and 1 rail: 3.
    One splice in each of the four runs.
    Feet at most 1.5 m apart, 0.3 m from the end: (7.12 - 0.6) / 1.5 = 4.35, 6 feet; (5.36 - 0.6) / 1.5 = 3.17, 5 feet; twice.
    Seven modules on twin units: 4 units, 8 inputs, one cap. A full unit sits under one of its modules, 0.2 m from the edge:
    0.67 m from the middle of that one and 1.09 m from that of the other, and their leads have 0.8 m: 3 extensions of 0.29 m;
    the single module has its unit under it.
    The drops reach 3.6 m, so the trunk runs on to the next row, 1.14 m up and 1.34 m aside, without a joint.
    """
    return of(
        name, ("module", 7, MODULE), ("microinverter", 4, "Unit 2 x 400"), ("rail", 7, "3.6 m"), ("rail_splice", 4),
        ("rail_end_cap", 8),
        ("roof_attachment", 22, "ballast foot"), ("end_clamp", 8), ("mid_clamp", 10), ("unit_fixing", 4), ("bonding_jumper", 2),
        ("earth_lug", 2), ("cable_clip", 28), ("dc_extension_leads", 3, "at least 0.3 m"), ("dc_input_cap", 1),
    )  # fmt: skip


NETHERLANDS = [
    *dutch_face("east"),
    *dutch_face("west"),
    # Eight units of 800 W / 230 V = 3.48 A in turn on three phases: 3, 3, 2; 10.4 A, times 1.25 is 13.0 A behind 16 A.
    # From unit to unit 2 x 1.76 = 3.52 m: drops every 3.6 m. Three lines, neutral and earth. From face to face 3 m, which they
    # reach. Home run 19.8 m, of single wires in a conduit.
    *of(
        "circuit 1", ("trunk_cable_section", 8, "5 x 2.5 mm2, drops every 3.6 m, landscape"),
        ("trunk_end_cap", 1), ("junction_box", 1),
        ("roof_cable_entry", 1), ("home_run_cable", 20, "5 x 4 mm2, single wires"),
        ("branch_circuit_protective_device", 1, "16 A, 4 poles, curve B, 6 kA, bidirectional"),
        ("circuit_label", 1, "circuit 1"),
    ),
    # One circuit: no sub-board, no breaker of the system. Bonding: 1.14 m on each face, 3 m between them, 18 m down: 23.28,
    # with a tenth 25.6 m.
    *of(
        None, ("ac_isolator", 1, "16 A, 4 poles"), ("surge_protective_device", 1, "AC, type 2, 4 poles"),
        ("bonding_conductor", 26, "6 mm2"), ("communication_gateway", 1),
        ("current_transformer_production", 3, "15 A to 5 A"), ("current_transformer_grid", 3, "25 A to 5 A"),
        ("system_label", 2, "Let op: twee voedingen. Schakel net en zonnestroominstallatie uit voor werkzaamheden."),
        ("system_label", 1, "Zonnestroominstallatie: werkschakelaar"),
        ("disconnect_tool", 1),
        ("commissioning_document", 1, "electrical test record"),
        ("commissioning_document", 1, "handover pack with schematic, datasheets and isolation instructions"),
        ("network_operator_document", 1, "registration of the system at the operators' common register"),
    ),
]  # fmt: skip

AMERICAN_BREAKER = "20 A, 2 poles, 10 kA, bidirectional"
L_FOOT, LAG_SCREW, FLASHING = "L-foot", "lag screw for L-foot", "for L-foot"
FRAME = "frame of 35 mm"


def american_circuit(name: str) -> Iterable[Line]:
    """Eight units of 1.6 A: 12.8 A, times 1.25 is 16 A behind 20 A. Drops every 1.3 m; home run 15 m, with a tenth 16.5 m."""
    return of(
        name, ("trunk_cable_section", 8, "3 x 12 AWG, drops every 1.3 m, portrait"), ("trunk_end_cap", 1), ("junction_box", 1),
        ("roof_cable_entry", 1), ("home_run_cable", 17, "3 x 10 AWG, single wires"),
        ("branch_circuit_protective_device", 1, AMERICAN_BREAKER),
        ("circuit_label", 1, name),
    )  # fmt: skip


TEXAS = [
    # Rows of 8 in portrait. A run: 8 x 44.1 in + 7 x 0.5 in + 2 x 3 in, or 8.96 + 0.089 + 0.152 = 9.20 m (30 ft 2 in): 3 rails
    # of 14 ft, 2 splices. L-feet: (9.201 - 2 x 0.4064) / 1.2192 = 6.88, so 7 spans on 8 feet, each with a screw and a flashing.
    # Four runs on the south side, two on the west. The clamps bond, so one lug for each row and no jumpers.
    *of(
        "south", ("module", 16, MODULE), ("microinverter", 16, "Unit 384"), ("rail", 12, "4.267 m"), ("rail_splice", 8),
        ("rail_end_cap", 8),
        ("roof_attachment", 32, L_FOOT), ("attachment_screw", 32, LAG_SCREW), ("flashing", 32, FLASHING),
        ("end_clamp", 8, FRAME), ("mid_clamp", 28, FRAME), ("unit_fixing", 16), ("earth_lug", 2), ("cable_clip", 64),
    ),
    *of(
        "west", ("module", 8, MODULE), ("microinverter", 8, "Unit 384"), ("rail", 6, "4.267 m"), ("rail_splice", 4),
        ("rail_end_cap", 4),
        ("roof_attachment", 16, L_FOOT), ("attachment_screw", 16, LAG_SCREW), ("flashing", 16, FLASHING),
        ("end_clamp", 4, FRAME), ("mid_clamp", 14, FRAME), ("unit_fixing", 8), ("earth_lug", 1), ("cable_clip", 32),
    ),
    *american_circuit("circuit 1"),
    *american_circuit("circuit 2"),
    *american_circuit("circuit 3"),
    # 24 x 1.6 A = 38.4 A, times 1.25 is 48 A: 50 A; the disconnect has 60 A. Breakers: 3 x 2 + 2 = 8 poles. System cable 6.1 m,
    # with a tenth 6.71 m. Bonding: 1.74 + 0.0127 m between the rows, 3 m from face to face, 15 m down: 19.75, with a tenth
    # 21.7 m. Two line conductors: two transformers at the main. The warranty is as long as the horizon: no spare.
    *of(
        None, ("sub_board", 1, "4 circuit breakers, 8 poles, 50 A"),
        ("system_circuit_breaker", 1, "50 A, 2 poles, 10 kA, bidirectional"), ("ac_isolator", 1, "60 A, 2 poles"),
        ("system_cable", 7, "3 x 6 AWG, single wires"), ("bonding_conductor", 22, "6 AWG"), ("communication_gateway", 1),
        ("current_transformer_production", 1, "40 A to 5 A"), ("current_transformer_grid", 2, "200 A to 5 A"),
        ("system_label", 2, "WARNING: TWO SOURCES OF POWER. THE SECOND SOURCE IS A PHOTOVOLTAIC SYSTEM."),
        ("system_label", 1, "WARNING: POWER SOURCE OUTPUT CONNECTION. DO NOT RELOCATE THIS OVERCURRENT DEVICE."),
        ("system_label", 1, "PHOTOVOLTAIC AC DISCONNECT. RATED AC OUTPUT CURRENT 38.4 A, NOMINAL AC VOLTAGE 240 V."),
        ("system_label", 1, "SOLAR PV SYSTEM IS EQUIPPED WITH RAPID SHUTDOWN."),
        ("disconnect_tool", 1),
        ("commissioning_document", 1, "interconnection agreement"),
        ("commissioning_document", 1, "inspection record of the authority having jurisdiction"),
        ("commissioning_document", 1, "handover pack with schematic, datasheets and isolation instructions"),
        ("network_operator_document", 1, "building and electrical permit application"),
        ("network_operator_document", 1, "simplified interconnection application with one-line diagram"),
    ),
]  # fmt: skip


def house(name: str) -> Any:
    """The request of a house."""
    return yaml.safe_load((HOUSES / f"{name}.yaml").read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    ("name", "by_hand"), [("britain", BRITAIN), ("netherlands", NETHERLANDS), ("texas", TEXAS)], ids=["GB", "NL", "US"]
)
def test_the_order_of_a_house_is_the_hand_count(client: FlaskClient, name: str, by_hand: list[Line]) -> None:
    answer = strict_json(post(client, "design_roof", house(name)))
    lines = answer["bill_of_materials"]["lines"]
    found = [(line["belongs_to"], line["role"], line["quantity"], line["specification"]) for line in lines]
    assert found == by_hand
    metres = {line["role"] for line in lines if line["unit"] == "m"}
    assert metres <= {"home_run_cable", "system_cable", "trunk_extension_cable", "bonding_conductor"}
    assert answer["circuits"]["verdict"] != "fail"


UNDER_A_SKYLIGHT = {
    "name": "garden side", "tilt_deg": 35, "azimuth_deg": 170,
    "layout": {
        "width_m": 6.9, "height_m": 4.2, "orientation": "portrait", "edge_distance_m": 0.3, "obstruction_distance_m": 0.1,
        "obstructions": [{"outline": [{"x_m": x, "y_m": y} for x, y in ((2.9, 2.6), (3.7, 2.6), (3.7, 3.6), (2.9, 3.6))]}],
    },
}  # fmt: skip
"""A row of 5, left corners at 0.3, 1.44, 2.58, 3.72 and 4.86 m, and above it 2 on each side of a skylight: at 0.3 and 1.44 m,
and 0.1 m past the skylight at 3.8 and 4.94 m."""


@pytest.mark.parametrize(
    ("units", "most", "face", "by_hand"),
    [
        # A unit under each module. From 5.42 m up to 5.50 m in the next row are 1.76 m; past the skylight from 4.36 to 2.00 m
        # are 2.36 m. Together 4.12 m, with a tenth 4.5 m.
        ("britain", 9, UNDER_A_SKYLIGHT, {"circuit 1": (9, 4, 5)}),
        # Twin units, 0.2 m from the edge: the row of 5 has a single module at its end, so that no unit serves both sides of the
        # skylight. Circuit 1 is the first row. From 5.14 m to 1.64 m are 3.5 m, with a tenth 3.9 m.
        ("netherlands", 3, UNDER_A_SKYLIGHT, {"circuit 1": (3, 0, 0), "circuit 2": (2, 2, 4)}),
        # Two circuits on three rows of 4: each turns once from row to row, 1.76 m, with a tenth 1.9 m.
        (
            "britain",
            6,
            {"name": "south", "tilt_deg": 35, "azimuth_deg": 170, "module_count": 12, "row_module_counts": [4, 4, 4]},
            {"circuit 1": (6, 2, 2), "circuit 2": (6, 2, 2)},
        ),
    ],
    ids=["a skylight", "twin units", "three rows"],
)
def test_the_trunk_of_a_circuit_is_the_hand_count(
    client: FlaskClient, units: str, most: int, face: dict[str, Any], by_hand: dict[str, tuple[int, int, int]]
) -> None:
    body = house("britain") | {"candidates": house(units)["candidates"], "faces": [face]}
    body["circuits"]["units_per_trunk_max"] = most
    lines = strict_json(post(client, "design_roof", body))["bill_of_materials"]["lines"]
    roles = ("trunk_cable_section", "trunk_joint", "trunk_extension_cable")
    found = {circuit: tuple(quantity(lines, circuit, role) for role in roles) for circuit in by_hand}
    assert found == by_hand
    assert {line["belongs_to"] for line in lines if line["role"] == roles[0]} == {*by_hand}
    assert not [line for line in lines if line["role"] == "dc_extension_leads"], "0.78 m at most, and leads have 1.1 m"


def quantity(lines: list[Any], belongs_to: str, role: str) -> int:
    """Ordered of a role for one face or circuit."""
    return sum(line["quantity"] for line in lines if (line["belongs_to"], line["role"]) == (belongs_to, role))
