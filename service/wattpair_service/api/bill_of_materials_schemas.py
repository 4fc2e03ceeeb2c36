"""Request and answer of POST /v1/bill-of-materials."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from marshmallow import fields, post_load, validates_schema

from wattpair_service.api.fields import COMMON_PRACTICE, Assumed, Listed, Nested, Number, Text, WholeNumber
from wattpair_service.api.place_schemas import FACES_MOST, require_different_names
from wattpair_service.api.result_schemas import ResultSchema, many, number, text, whole
from wattpair_service.api.schema import InputSchema, OutputSchema
from wattpair_service.api.sizing_schemas import region_field
from wattpair_service.engineering.bill_of_materials import FaceCount, Order
from wattpair_service.rules import branch_circuit_rules

BY_REGION = "the region's rules"


class FaceCountSchema(InputSchema):
    """Modules on one face."""

    name = Text("Name of the face; different from every other's", longest=100)
    module_count = WholeNumber("Modules on the face", at_least=1, at_most=1000)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> FaceCount:
        """The face for the core."""
        return FaceCount(**data)


class BillOfMaterialsRequestSchema(InputSchema):
    """Counts, and what the parts depend on."""

    faces = Listed(Nested(FaceCountSchema, "A face"), "The faces of the roof", most=FACES_MOST)
    region = region_field()
    phase_count = WholeNumber(
        "Phases of the supply that the units are spread over",
        at_least=1,
        at_most=3,
        assumed=Assumed(1, "a single-phase supply"),
    )
    unit_ac_current_a = Number("Rated AC current of one microinverter", unit="A", at_least=0.1, at_most=30)
    modules_per_unit = WholeNumber(
        "Modules on one microinverter", at_least=1, at_most=8, assumed=Assumed(1, "a unit for one module")
    )
    device_rating_a = Number(
        "Rating of a branch circuit's protective device",
        unit="A",
        at_least=1,
        at_most=125,
        assumed=Assumed(None, BY_REGION),
    )
    continuous_current_factor = Number(
        "Factor on the continuous current of a branch circuit", at_least=1, at_most=2, assumed=Assumed(None, BY_REGION)
    )
    units_per_trunk_max = WholeNumber(
        "Most microinverters on one trunk cable, by its maker", at_least=1, at_most=100, required=False
    )
    trunk_feed = Text("Where a trunk is fed", choices=("end", "centre"), assumed=Assumed("end", "the simpler of the two"))
    gateway_units_max = WholeNumber(
        "Most microinverters on one communication gateway",
        at_least=1,
        at_most=1000,
        assumed=Assumed(49, COMMON_PRACTICE),
    )
    spare_share = Number(
        "Spare microinverters as a share of those installed, 0 to 1",
        at_least=0,
        at_most=1,
        assumed=Assumed(0.02, COMMON_PRACTICE),
    )
    module_mass_kg = Number("Mass of one module", unit="kg", at_least=0.5, at_most=80)
    unit_mass_kg = Number("Mass of one microinverter", unit="kg", at_least=0.1, at_most=50)
    mounting_mass_per_module_kg = Number(
        "Mass of rails, clamps and hooks for one module",
        unit="kg",
        at_least=0,
        at_most=50,
        assumed=Assumed(3.0, COMMON_PRACTICE),
    )

    @validates_schema
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """Names must differ."""
        require_different_names(data, "faces")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Order:
        """The order for the core."""
        rules = branch_circuit_rules(data.pop("region"))
        given = {
            name: value for name in ("device_rating_a", "continuous_current_factor") if (value := data.pop(name)) is not None
        }
        if given:
            rules = replace(rules, **given, source=f"{' and '.join(given)} from the request; else {rules.source}")
        return Order(**data | {"faces": tuple(data["faces"])}, rules=rules)


class BillLineSchema(OutputSchema):
    """One line of the bill."""

    role = text("Role of the part, the same word each time")
    quantity = whole("Pieces to order")
    scope = text("What the part belongs to", ("face", "circuit", "system"))
    belongs_to = fields.String(
        required=True, allow_none=True, metadata={"description": "Name of that face or circuit; null for the system"}
    )
    derivation = text("How the quantity came about")


class BranchCircuitSchema(OutputSchema):
    """One branch circuit."""

    name = text("Name of the circuit")
    face = text("Face that it serves")
    unit_count = whole("Microinverters on it")
    phase = whole("Phase, 1 to 3")
    current_a = number("Rated current of all its units", "A")
    device_rating_a = number("Rating of its protective device", "A")


class FaceMassSchema(OutputSchema):
    """Dead load of a face."""

    face = text("Name of the face")
    mass_kg = number("Mass of modules, microinverters and mounting", "kg")


class BillOfMaterialsResultSchema(ResultSchema):
    """The bill, its circuits and its masses."""

    lines = many(BillLineSchema, "Parts in the order of installation: faces, then circuits, then the system")
    circuits = many(BranchCircuitSchema, "Branch circuits")
    circuit_rule = text("Rule by which the circuits were divided, with its source")
    unit_count = whole("Microinverters without spares")
    masses = many(FaceMassSchema, "Dead load by face")
    mass_total_kg = number("Dead load of the roof", "kg")
