"""POST /v1/bill-of-materials: what to order for a roof."""

from __future__ import annotations

from dataclasses import replace
from operator import lt
from typing import Any, get_args

from marshmallow import ValidationError, fields, post_load, validates_schema

from wattpair_service.api.exchange.operation import Export, Operation
from wattpair_service.api.operations import bill_of_materials_csv
from wattpair_service.api.operations.circuits import (
    BY_REGION,
    FROM_REQUEST,
    BranchCircuitSchema,
    CableCheckSchema,
    CircuitFaceSchema,
    CircuitFieldsSchema,
    ConnectionSchema,
    DeviceSchema,
    circuits_request,
    no_dc_fault_current_field,
    require_unique_face_names,
    unit_spacing_field,
)
from wattpair_service.api.operations.sizing import InputWiringSchema, input_wiring
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.fields import Assumed, Flag, Group, Listed, Nested, Number, Text, WholeNumber
from wattpair_service.api.schemas.mounting import MountingSystemSchema, TrunkSystemSchema
from wattpair_service.api.schemas.prices import PriceBookSchema, PricesSchema
from wattpair_service.api.schemas.results import ResultSchema, many, number, one, text, whole, words
from wattpair_service.api.schemas.site import FACES_MOST
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.inverter.electrical_checks import VERDICTS
from wattpair_service.engineering.materials.backup import BackupWish
from wattpair_service.engineering.materials.bill_lines import ROLES, FaceDetail, ModuleSize, PartChoices, ordered_spacing_m
from wattpair_service.engineering.materials.bill_of_materials import BillOfMaterials, MaterialTerms, Order, bill_of_materials
from wattpair_service.engineering.materials.material_rules import Demand, MaterialRules
from wattpair_service.engineering.materials.mounting import even_segments
from wattpair_service.engineering.materials.spares import HORIZON_YEARS, SparePolicy
from wattpair_service.engineering.money.replacements import BAND_CENTRE, BAND_CENTRE_SOURCE
from wattpair_service.engineering.roof.layout import Orientation
from wattpair_service.engineering.sentences import COMMON_PRACTICE, Words, fixed
from wattpair_service.rules import material_rules_of, region_data

COMMON_MODULE_SIZE = fixed("source.common_module_size")


def spare_rate_field(percent: float | None, source: Words) -> Number:
    """Yearly failure rate, for the number of spares."""
    return Number(
        "Share of the microinverters that fails each year", unit="%", at_least=0, at_most=20, assumed=Assumed(percent, source)
    )


def spare_horizon_field(years: int | None, source: Words) -> WholeNumber:
    """Years that the spares must last for."""
    return WholeNumber("Years that the spares must last for", at_least=0, at_most=50, assumed=Assumed(years, source))


def spare_warranty_field(years: int | None, source: Words) -> WholeNumber:
    """Years in which the maker replaces what fails."""
    return WholeNumber(
        "Years in which the maker replaces a microinverter that fails, so that it needs no spare",
        at_least=0,
        at_most=40,
        assumed=Assumed(years, source),
    )


def row_counts_field(description: str, item: str) -> Listed:
    """A figure for each row of modules."""
    return Listed(WholeNumber(item, at_least=1, at_most=1000), description, most=1000, required=False)


def _side(description: str, metres: float) -> Number:
    """Length of a side of a module."""
    return Number(description, unit="m", at_least=0.2, at_most=3, assumed=Assumed(metres, COMMON_MODULE_SIZE))


class FaceDetailSchema(InputSchema):
    """Rows and area of a face, where known."""

    row_module_counts = row_counts_field(
        "Modules in each row, as in a layout; rails and clamps are then counted by row", "Modules in the row"
    )
    row_segment_counts = row_counts_field(
        "Groups of adjoining modules in each row, as in a layout; a gap between them counts as wide as a module; default: one",
        "Segments of the row",
    )
    segment_module_counts = row_counts_field(
        "Modules in each of these groups, row by row, as in a layout; default: as equal as whole modules allow",
        "Modules of the segment",
    )
    module_orientation = Text(
        "How the modules lie: portrait with their long side up the slope, or landscape; default: portrait",
        choices=get_args(Orientation),
        required=False,
    )
    area_m2 = Number("Area of the face, for its dead load", unit="m2", at_least=0.01, at_most=100000, required=False)


class FaceCountSchema(FaceDetailSchema, CircuitFaceSchema):
    """Modules on one face."""

    unit_spacing_m = unit_spacing_field(fixed("source.drops_as_made"))

    @validates_schema
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """The rows must have all modules of the face."""
        require_rows_to_hold(data)


def require_rows_to_hold(face: dict[str, Any]) -> None:
    """Refuse rows whose modules do not add up to those of their face."""
    rows = face["row_module_counts"]
    if rows is not None and sum(rows) != face["module_count"]:
        raise ValidationError(
            f"rows that hold module_count modules together, which is {face['module_count']}", "row_module_counts"
        )
    parts = face["row_segment_counts"]
    if parts is not None and (rows is None or len(parts) != len(rows) or any(map(lt, rows, parts))):
        raise ValidationError(
            "one number for each of row_module_counts, none above the modules of its row", "row_segment_counts"
        )
    if face["segment_module_counts"] is not None and (rows is None or _segments(face) is None):
        raise ValidationError(
            "the modules of each segment, row by row, which hold those of each row (row_module_counts) in as many segments as "
            "row_segment_counts says, if given",
            "segment_module_counts",
        )


def _segments(face: dict[str, Any]) -> tuple[tuple[int, ...], ...] | None:
    """Modules of each segment of each row; None where the segments given do not fill the rows."""
    rows, parts, given = (face[name] for name in ("row_module_counts", "row_segment_counts", "segment_module_counts"))
    if given is None:
        return tuple(even_segments(count, number) for count, number in zip(rows, parts or (1,) * len(rows), strict=True))
    remaining, segments = list(given), []
    for count in rows:
        row: list[int] = []
        while remaining and sum(row) < count:
            row.append(remaining.pop(0))
        if sum(row) != count:
            return None
        segments.append(tuple(row))
    found = tuple(segments)
    return None if remaining or (parts is not None and tuple(map(len, found)) != tuple(parts)) else found


def price_book_field(suffix: str = "") -> Nested:
    """The caller's prices."""
    return Nested(PriceBookSchema, f"The caller's prices; if left out, the result has none{suffix}", required=False)


class BackupSchema(InputSchema):
    """Output in an outage of the grid."""

    wanted = Flag("Whether output in an outage is wanted", required=True)
    grid_forming_units = Flag(
        "Whether the microinverters can form a grid, according to their maker",
        assumed=Assumed(False, fixed("source.most_need_the_grid")),
    )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> BackupWish:
        """The wish for the core."""
        return BackupWish(**data)


class MaterialTermsSchema(InputSchema):
    """Terms of the bill; circuits, module and microinverter are given elsewhere."""

    gateway_units_max = WholeNumber(
        "Most microinverters on one communication gateway",
        at_least=1,
        at_most=1000,
        assumed=Assumed(49, COMMON_PRACTICE),
    )
    spare_drops_per_circuit = WholeNumber(
        "Drops of each trunk that stay unused and are capped",
        at_least=0,
        at_most=100,
        assumed=Assumed(0, fixed("source.no_spare_drop")),
    )
    no_dc_fault_current_declared = no_dc_fault_current_field()
    current_transformer_secondary_a = Number(
        "Rated secondary current of the current transformers",
        unit="A",
        at_least=0.01,
        at_most=5,
        assumed=Assumed(5.0, COMMON_PRACTICE),
    )
    mounting_system = Group(MountingSystemSchema, "The mounting system as its maker sells it; default: an invented one")
    trunk_system = Group(TrunkSystemSchema, "The trunk as its maker sells it; default: an invented one")
    cable_allowance_share = Number(
        "Cable ordered beyond its length, as a share of it, for the way around corners and into boxes",
        at_least=0,
        at_most=1,
        assumed=Assumed(0.1, COMMON_PRACTICE),
    )
    surge_protection = Flag(
        "Whether a surge protective device, AC, type 2, goes to the board; false where there is one already",
        assumed=Assumed(None, BY_REGION),
    )
    generation_meter = Flag("Whether a meter of the generation is ordered", assumed=Assumed(None, BY_REGION))
    spare_share = Number(
        "Spare microinverters as a share of those installed, 0 to 1; default: the whole failures expected after the warranty",
        at_least=0,
        at_most=1,
        required=False,
    )
    failure_percent_per_year = spare_rate_field(BAND_CENTRE * 100.0, BAND_CENTRE_SOURCE)
    spare_horizon_years = spare_horizon_field(HORIZON_YEARS, COMMON_PRACTICE)
    spare_warranty_years = spare_warranty_field(10, COMMON_PRACTICE)
    backup = Nested(BackupSchema, "Output in an outage; default: none", required=False)
    unit_bracket_mass_kg = Number(
        "Mass of a microinverter's bracket",
        unit="kg",
        at_least=0,
        at_most=20,
        assumed=Assumed(0.0, fixed("source.bracket_included")),
    )
    mounting_mass_per_module_kg = Number(
        "Mass of rails, clamps and hooks for one module",
        unit="kg",
        at_least=0,
        at_most=50,
        assumed=Assumed(3.0, COMMON_PRACTICE),
    )
    dead_load_guide_kg_m2 = Number(
        "Guide value of the dead load",
        unit="kg/m2",
        above=0,
        at_most=1000,
        assumed=Assumed(15.0, fixed("source.usual_dead_load")),
    )


class BillOfMaterialsRequestSchema(MaterialTermsSchema, InputWiringSchema, CircuitFieldsSchema):
    """A roof's faces with their modules, and the terms."""

    faces = Listed(Nested(FaceCountSchema, "A face"), "The faces of the roof, in the order of the trunk", most=FACES_MOST)
    module_mass_kg = Number("Mass of one module", unit="kg", at_least=0.5, at_most=80)
    unit_mass_kg = Number("Mass of one microinverter", unit="kg", at_least=0.1, at_most=50)
    module_length_m = _side("Long side of a module, for rows and rails", 1.76)
    module_width_m = _side("Short side of a module, for rows and rails", 1.13)
    module_area_m2 = Number("Area of one module, for the dead load", unit="m2", at_least=0.04, at_most=6, required=False)
    price_book = price_book_field()

    @validates_schema
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """Names must be unique; a unit has whole inputs."""
        require_unique_face_names(data)
        if data["modules_per_unit"] % data["modules_per_input"]:
            raise ValidationError(
                f"a divisor of modules_per_unit, which is {data['modules_per_unit']}: all inputs alike", "modules_per_input"
            )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Order:
        """The order for the core."""
        terms = material_terms(data, data["region"], data["region_rules"])
        size = ModuleSize(data["module_length_m"], data["module_width_m"])
        details = tuple(face_detail(face, face["unit_spacing_m"]) for face in data["faces"])
        request = circuits_request(data)
        faces = tuple(
            face
            if detail.unit_spacing_m
            else replace(
                face,
                unit_spacing_m=ordered_spacing_m(detail, face.module_count, request.modules_per_unit, size, terms.choices),
            )
            for face, detail in zip(request.faces, details, strict=True)
        )
        return terms.order(
            replace(request, faces=faces),
            details,
            module_size=size,
            input_wiring=input_wiring(data),
            module_mass_kg=data["module_mass_kg"],
            module_area_m2=data["module_area_m2"],
            unit_mass_kg=data["unit_mass_kg"],
            price_book=data["price_book"],
        )


def face_detail(face: dict[str, Any], unit_spacing_m: float | None) -> FaceDetail:
    """Rows and area of a face for the core."""
    segments = None if face["row_module_counts"] is None else _segments(face)
    return FaceDetail(segments, face["area_m2"], face["module_orientation"], unit_spacing_m=unit_spacing_m)


def material_terms(data: dict[str, Any], region: str, own_rules: dict[str, Any] | None) -> MaterialTerms:
    """The terms for the core, from the loaded fields, by the rules of a region or by the caller's own.

    Fields of other schemas are left alone.
    """
    rate = data["failure_percent_per_year"]
    rules = material_rules_of(region_data(region) if own_rules is None else own_rules)
    return MaterialTerms(
        choices=PartChoices(
            gateway_units_max=data["gateway_units_max"],
            spare_drops_per_circuit=data["spare_drops_per_circuit"],
            transformer_secondary_a=data["current_transformer_secondary_a"],
            no_dc_fault_current_declared=data["no_dc_fault_current_declared"],
            cable_allowance_share=data["cable_allowance_share"],
            rules=_as_requested(rules, data),
            mounting=data["mounting_system"].system,
            trunk=data["trunk_system"],
        ),
        spares=SparePolicy(
            data["spare_share"],
            None if rate is None else rate / 100.0,
            data["spare_horizon_years"],
            data["spare_warranty_years"],
        ),
        backup=data["backup"] or BackupWish(wanted=False, grid_forming_units=False),
        unit_bracket_kg=data["unit_bracket_mass_kg"],
        mounting_per_module_kg=data["mounting_mass_per_module_kg"],
        guide_kg_m2=data["dead_load_guide_kg_m2"],
    )


def _as_requested(rules: MaterialRules, data: dict[str, Any]) -> MaterialRules:
    """The region's rules with what the request decides itself."""
    surge, meter, size = data["surge_protection"], data["generation_meter"], data["mounting_system"].bonding_conductor_size
    return replace(
        rules,
        surge_protection=rules.surge_protection if surge is None else Demand(surge, FROM_REQUEST),
        generation_meter=rules.generation_meter if meter is None else Demand(meter, FROM_REQUEST),
        bonding_size=size or rules.bonding_size,
        bonding_source=rules.bonding_source if size is None else FROM_REQUEST,
    )


class BillLineSchema(OutputSchema):
    """One line of the bill."""

    role = text("Role of the part", ROLES)
    quantity = whole("Quantity to order, in `unit`")
    unit = text("Unit of the quantity", ("piece", "m"))
    specification = fields.String(
        required=True,
        allow_none=True,
        metadata={
            "description": "Size, rating, type or name; null where the role is enough. A cable has the number of conductors "
            "before their size, neutral and earth among them: `3 x 2.5 mm2`; in a conduit `3 x 2.5 mm2, single wires`, each as "
            "long as `quantity`"
        },
    )
    scope = text("Whether the part belongs to a face, a circuit or the system", ("face", "circuit", "system"))
    belongs_to = fields.String(
        required=True, allow_none=True, metadata={"description": "Name of that face or circuit; null for the system"}
    )
    derivation = words("How the quantity was derived")


class FaceMassSchema(OutputSchema):
    """Dead load of a face."""

    face = text("Name of the face")
    mass_kg = number("Mass of modules, microinverters, brackets and mounting", "kg")
    load_modules_kg_m2 = number("Mass over the area of the modules; null without module_area_m2", "kg/m2", nullable=True)
    load_face_kg_m2 = number("Mass over the area of the face; null without its area_m2", "kg/m2", nullable=True)
    within_guide = fields.Boolean(
        required=True,
        allow_none=True,
        metadata={"description": "Whether the larger load is within the guide value; null without an area"},
    )


class SparesSchema(OutputSchema):
    """Spare microinverters."""

    expected_failures = number("Expected failures of microinverters over the horizon")
    expected_after_warranty = number("Those of them after the warranty, which spares are for")
    probability_of_any = number("Probability that at least one fails, 0 to 1")
    spare_count = whole("Spares on the bill")
    derivation = words("How the number was derived")


class BackupPartSchema(OutputSchema):
    """A part that is needed for backup."""

    role = text("Role of the part")
    reason = words("Why it is needed")


class BackupResultSchema(OutputSchema):
    """Output in an outage."""

    works_in_outage = fields.Boolean(required=True, metadata={"description": "Whether there is output in an outage"})
    explanation = words("The same in words")
    parts = many(BackupPartSchema, "Parts that backup needs")


class BillOfMaterialsResultSchema(ResultSchema):
    """The bill, its circuits, its masses and its prices."""

    lines = many(BillLineSchema, "Parts in the order of installation: faces, then circuits, then the system")
    verdict = text("Worst of all checks of cables, devices, board and phases, as in circuits", VERDICTS)
    circuits = many(BranchCircuitSchema, "Branch circuits")
    cables = many(CableCheckSchema, "Protection of each cable")
    devices = many(DeviceSchema, "Circuit breakers, residual-current devices and isolator, as one orders them")
    circuit_rule = words("Rule that limits the circuits, with its source")
    unit_count = whole("Microinverters without spares")
    masses = many(FaceMassSchema, "Dead load by face; wind and snow are not covered")
    mass_total_kg = number("Dead load of the roof", "kg")
    dead_load_guide_kg_m2 = number("Guide value that the dead loads are compared with", "kg/m2")
    spares = one(SparesSchema, "Spare microinverters")
    backup = one(BackupResultSchema, "Output in an outage")
    connection = one(ConnectionSchema, "The grid connection procedure")
    prices = fields.Nested(
        PricesSchema, required=True, allow_none=True, metadata={"description": "Prices; null without a price book"}
    )


def handle(order: Order, _: StationFolder) -> BillOfMaterials:
    """Compute the result."""
    return bill_of_materials(order)


OPERATION = Operation(
    path="/v1/bill-of-materials",
    operation_id="list_materials",
    summary="Parts to order, branch circuits, masses and prices, from counts",
    description=(
        "Takes the modules on each face, the microinverter's current, and what mounting and trunk are made as. Gives the "
        "branch circuits, every part with its quantity and the derivation of the quantity, the documents that the region "
        "requires, the dead load of each face, and with the caller's price book net, tax, total and margin in decimals. "
        "Circuits do not cross from one face to another unless circuits_may_cross_faces allows it. Send `Accept: text/csv` for "
        "the lines as CSV (RFC 4180); their order is always the same. The call has no side effects and may be repeated."
    ),
    request=BillOfMaterialsRequestSchema,
    response=BillOfMaterialsResultSchema,
    handle=handle,
    exports={
        bill_of_materials_csv.MEDIA_TYPE: Export(
            lambda answered, _: bill_of_materials_csv.as_csv(answered.body()),
            bill_of_materials_csv.CONTENT_TYPE,
            "The bill's lines with their prices, RFC 4180",
        )
    },
)
