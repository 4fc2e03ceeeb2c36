"""POST /v1/circuits: branch circuits, voltage rise and grid connection."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from marshmallow import fields, post_load, validates_schema

from wattpair_service.api.exchange.operation import Operation
from wattpair_service.api.operations.regions import RegionRulesSchema
from wattpair_service.api.operations.sizing import region_field
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.equipment import AC_CURRENT_LEAST_A
from wattpair_service.api.schemas.fields import COMMON_PRACTICE, Assumed, Flag, Listed, Nested, Number, Text, WholeNumber
from wattpair_service.api.schemas.results import ResultSchema, many, number, one, text, whole
from wattpair_service.api.schemas.site import FACES_MOST, require_different_names
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.circuits.circuits import (
    UNIT_SPACING_M,
    CircuitFace,
    CircuitsRequest,
    CircuitsResult,
    CircuitTerms,
    circuits,
)
from wattpair_service.engineering.circuits.grid_connection import SupplyPoint
from wattpair_service.engineering.circuits.voltage_rise import Wiring
from wattpair_service.rules import branch_circuit_rules_of, conductor_tables, connection_rules_of, region_data

BY_REGION = "the region's rules"
FROM_REQUEST = "from the request"
TRUNK_SIZE_INDEX = 1
"""Default trunk: the second thinnest conductor of a table (2.5 mm2, 12 AWG). Common practice, no source."""


class CircuitFaceSchema(InputSchema):
    """Modules on one face."""

    name = Text("Name of the face; unique", longest=100)
    module_count = WholeNumber("Modules on the face", at_least=1, at_most=1000)
    unit_spacing_m = Number(
        "Length of trunk cable from one microinverter to the next",
        unit="m",
        at_least=0.1,
        at_most=20,
        assumed=Assumed(UNIT_SPACING_M, COMMON_PRACTICE),
    )


def region_rules_field(replaces: str) -> Nested:
    """Rules of the caller's own region."""
    return Nested(RegionRulesSchema, f"Rules of the caller's own region, in place of {replaces}", required=False)


class CircuitTermsSchema(InputSchema):
    """Terms of circuits, voltage rise and grid connection; region, microinverters and faces are given elsewhere."""

    phase_count = WholeNumber(
        "Phases of the supply over which the units are distributed",
        at_least=1,
        at_most=3,
        assumed=Assumed(1, "a single-phase supply"),
    )
    device_rating_a = Number(
        "Rating of a branch circuit's circuit breaker or fuse",
        unit="A",
        at_least=1,
        at_most=125,
        assumed=Assumed(None, BY_REGION),
    )
    continuous_current_factor = Number(
        "Factor on the continuous current of a branch circuit", at_least=1, at_most=2, assumed=Assumed(None, BY_REGION)
    )
    units_per_trunk_max = WholeNumber(
        "Most microinverters on one trunk cable, according to its maker", at_least=1, at_most=100, required=False
    )
    circuits_may_cross_faces = Flag(
        "Whether a circuit may serve several faces", assumed=Assumed(False, "no trunk crosses the ridge")
    )
    face_crossing_m = Number(
        "Length of trunk cable from the last unit of one face to the first of the next",
        unit="m",
        at_least=0,
        at_most=100,
        assumed=Assumed(3.0, COMMON_PRACTICE),
    )
    trunk_feed = Text(
        "Where the home run is connected to a trunk",
        choices=("end", "centre"),
        assumed=Assumed("end", "the simpler of the two"),
    )
    voltage_v = Number(
        "Nominal voltage of a unit's circuit", unit="V", at_least=100, at_most=480, assumed=Assumed(None, BY_REGION)
    )
    voltage_rise_limit_share = Number(
        "Limit on the voltage rise as a share of the nominal voltage", above=0, at_most=0.2, assumed=Assumed(None, BY_REGION)
    )
    conductor_table = Text(
        "Table of standard copper conductors", choices=tuple(conductor_tables()), assumed=Assumed(None, BY_REGION)
    )
    conductor_temp_c = Number(
        "Operating temperature of the conductors",
        unit="degC",
        at_least=-40,
        at_most=120,
        assumed=Assumed(70.0, COMMON_PRACTICE),
    )
    trunk_size = Text(
        'Conductor of the trunk, as its table writes it: "2.5 mm2", "12 AWG"',
        longest=20,
        assumed=Assumed(
            None, f"the second thinnest of the table, or the next that its circuit breaker may protect, {COMMON_PRACTICE}"
        ),
    )
    trunk_ampacity_a = Number(
        "Current-carrying capacity of the trunk as installed, from its maker or a code; checked if given",
        unit="A",
        at_least=1,
        at_most=2000,
        required=False,
    )
    home_run_length_m = Number(
        "Length of cable from a trunk to the distribution board, one way",
        unit="m",
        at_least=0,
        at_most=1000,
        assumed=Assumed(0.0, "no home run was given: voltage rise and bill leave it out"),
    )
    home_run_size = Text(
        "Conductor of the home run; default: the smallest that meets the voltage-rise limit, or the trunk's where no limit is "
        "known",
        longest=20,
        required=False,
    )
    home_run_ampacity_a = Number(
        "Current-carrying capacity of the home run as installed, from its maker or a code; checked if given",
        unit="A",
        at_least=1,
        at_most=2000,
        required=False,
    )
    supply_length_m = Number(
        "Length of cable from the distribution board to the connection point, one way",
        unit="m",
        at_least=0,
        at_most=1000,
        assumed=Assumed(0.0, "the connection point is at the distribution board"),
    )
    supply_size = Text("Conductor of the supply cable; required with supply_length_m", longest=20, required=False)
    supply_ampacity_a = Number(
        "Current-carrying capacity of the supply cable as installed, from its maker or a code; checked if given",
        unit="A",
        at_least=1,
        at_most=2000,
        required=False,
    )
    busbar_rating_a = Number("Rating of the distribution board's busbar", unit="A", at_least=10, at_most=2000, required=False)
    main_device_a = Number(
        "Rating of the distribution board's main circuit breaker", unit="A", at_least=10, at_most=2000, required=False
    )
    several_premises = Flag(
        "Whether other premises close by are being connected in the same weeks", assumed=Assumed(False, "a single house")
    )


class CircuitFieldsSchema(CircuitTermsSchema):
    """Region, microinverter and terms of circuits, voltage rise and grid connection; the faces are given elsewhere."""

    region = region_field()
    region_rules = region_rules_field("`region`")
    unit_ac_current_a = Number("Rated AC current of one microinverter", unit="A", at_least=AC_CURRENT_LEAST_A, at_most=30)
    modules_per_unit = WholeNumber(
        "Modules on one microinverter", at_least=1, at_most=8, assumed=Assumed(1, "a unit for one module")
    )


class CircuitsRequestSchema(CircuitFieldsSchema):
    """A roof's faces with their modules, and the terms."""

    faces = Listed(Nested(CircuitFaceSchema, "A face"), "The faces of the roof, in the order of the trunk", most=FACES_MOST)

    @validates_schema
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """Names must be unique."""
        require_unique_face_names(data)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> CircuitsRequest:
        """The request for the core."""
        return circuits_request(data)


def require_unique_face_names(data: dict[str, Any]) -> None:
    """Refuse two faces of the same name. The faces are dicts."""
    named = [CircuitFace(face["name"], face["module_count"], 0.0) for face in data["faces"]]
    require_different_names({"faces": named}, "faces")


def circuits_request(data: dict[str, Any]) -> CircuitsRequest:
    """The request for the core, from the loaded fields; fields of other schemas are left alone."""
    return circuit_terms(data, data["region"], data["region_rules"]).request_for(
        tuple(CircuitFace(face["name"], face["module_count"], face["unit_spacing_m"]) for face in data["faces"]),
        unit_ac_current_a=data["unit_ac_current_a"],
        modules_per_unit=data["modules_per_unit"],
    )


def circuit_terms(data: dict[str, Any], region: str, own_rules: dict[str, Any] | None) -> CircuitTerms:
    """The terms for the core, by the rules of a region or by the caller's own."""
    region, region_rules = (FROM_REQUEST, own_rules) if own_rules is not None else (region, region_data(region))
    rules, branch = connection_rules_of(region, region_rules), branch_circuit_rules_of(region_rules)
    overrides = {name: data[name] for name in ("device_rating_a", "continuous_current_factor") if data[name] is not None}
    if overrides:
        branch = replace(branch, **overrides, source=f"{' and '.join(overrides)} {FROM_REQUEST}; else {branch.source}")
    table = conductor_tables()[data["conductor_table"] or rules.conductor_table]
    limit = data["voltage_rise_limit_share"]
    voltage_v = data["voltage_v"] or rules.voltage_v
    return CircuitTerms(
        phase_count=data["phase_count"],
        units_per_trunk_max=data["units_per_trunk_max"],
        may_cross_faces=data["circuits_may_cross_faces"],
        face_crossing_m=data["face_crossing_m"],
        branch_rules=branch,
        rules=rules,
        wiring=Wiring(
            table=table,
            conductor_temp_c=data["conductor_temp_c"],
            voltage_v=voltage_v,
            limit_share=rules.voltage_rise.value if limit is None else limit,
            limit_source=rules.voltage_rise.source if limit is None else FROM_REQUEST,
            trunk_feed=data["trunk_feed"],
            trunk_size=data["trunk_size"]
            or table.thinnest_for_device(branch.device_rating_a, from_index=TRUNK_SIZE_INDEX).size,
            home_run_length_m=data["home_run_length_m"],
            home_run_size=data["home_run_size"],
            supply_length_m=data["supply_length_m"],
            supply_size=data["supply_size"],
            trunk_ampacity_a=data["trunk_ampacity_a"],
            home_run_ampacity_a=data["home_run_ampacity_a"],
            supply_ampacity_a=data["supply_ampacity_a"],
        ),
        supply=SupplyPoint(voltage_v, data["busbar_rating_a"], data["main_device_a"], data["several_premises"]),
    )


class FaceUnitsSchema(OutputSchema):
    """Units of a circuit on one face."""

    face = fields.String(required=True, attribute="name", metadata={"description": "Name of the face"})
    unit_count = whole("Microinverters on it")


class BranchCircuitSchema(OutputSchema):
    """One branch circuit."""

    name = text("Name of the circuit")
    face = text("Face with its units; several are joined by +")
    units_by_face = many(FaceUnitsSchema, "Its units by face, in the order of the trunk")
    unit_count = whole("Microinverters on it")
    phase = whole("Phase, 1 to 3")
    current_a = number("Rated current of all its units", "A")
    device_rating_a = number("Rating of its circuit breaker or fuse", "A")


class CircuitRiseSchema(OutputSchema):
    """Voltage rise of one circuit."""

    circuit = text("Name of the circuit")
    phase = whole("Phase, 1 to 3")
    trunk_end_fed_v = number("Rise along the trunk with the home run at its end", "V")
    trunk_centre_fed_v = number("Rise along the trunk with the home run at its centre", "V")
    trunk_v = number("Rise along the trunk with the requested trunk_feed", "V")
    home_run_v = number("Rise along the home run", "V")
    circuit_share = number("Rise of trunk and home run as a share of the nominal voltage")
    supply_v = number(
        "Rise along the supply cable with all circuits of the phase feeding; the larger value, with the other phases idle or "
        "feeding",
        "V",
    )
    total_v = number("Rise up to the connection point", "V")
    total_share = number("Rise up to the connection point as a share of the nominal voltage")
    home_run_size = text("Conductor of the home run that was used")
    smallest_home_run_size = fields.String(
        required=True,
        allow_none=True,
        metadata={
            "description": "Smallest home-run conductor that meets the voltage-rise limit, not thinner than the trunk nor, "
            "where the table says so, than its circuit breaker allows. Its current-carrying capacity is not checked. Null "
            "where no conductor meets the limit or no limit is known"
        },
    )
    meets_limit = fields.Boolean(
        required=True,
        allow_none=True,
        metadata={"description": "Whether the limit is met; null where the network operator sets it"},
    )
    explanation = text("The same in words")


class PhaseTotalSchema(OutputSchema):
    """Totals of one phase."""

    phase = whole("Phase, 1 to 3")
    unit_count = whole("Microinverters on it")
    current_a = number("Rated AC current, summed without diversity", "A")
    power_va = number("Rated apparent power", "VA")


class FilingSchema(OutputSchema):
    """One document to send."""

    document = text("Document to send")
    when = text("When it is due")


class ConnectionCheckSchema(OutputSchema):
    """One check of the grid connection."""

    name = text("Name of the check")
    value = number("Computed value, in `unit`")
    limit = number("Its limit; null where the operator sets it or a figure is missing", nullable=True)
    unit = text("Unit of value and limit")
    meets = fields.Boolean(
        required=True, allow_none=True, metadata={"description": "Whether the limit is met; null where there is none"}
    )
    source = text("Clause, and how the rule was obtained")
    explanation = text("The same in words")


class ConnectionSchema(OutputSchema):
    """The grid connection procedure."""

    place = text("Country or area whose rules apply")
    edition = text("Edition of the rules")
    phases = many(PhaseTotalSchema, "Totals by phase")
    power_total_va = number("Rated apparent power of all phases", "VA")
    route = text("Procedure that applies")
    reason = text("Why it applies, and why others do not")
    filings = many(FilingSchema, "Documents to send, and when")
    allows = text("What the procedure allows")
    source = text("Clause, and how the rule was obtained")
    checks = many(ConnectionCheckSchema, "Further checks of the grid connection")


class CircuitsResultSchema(ResultSchema):
    """Circuits, voltage rise and grid connection."""

    circuits = many(BranchCircuitSchema, "Branch circuits in the order of the faces")
    circuit_rule = text("Rule that limits the circuits, with its source")
    unit_count = whole("Microinverters")
    rises = many(CircuitRiseSchema, "Voltage rise of each circuit")
    rise_highest_share = number("Highest rise up to the connection point, as a share of the nominal voltage")
    rise_limit_share = number(
        "Limit on the rise as a share of the nominal voltage; null where the network operator sets it", nullable=True
    )
    rise_limit_source = text("Where the limit comes from")
    connection = one(ConnectionSchema, "The grid connection procedure")


def handle(request: CircuitsRequest, _: StationFolder) -> CircuitsResult:
    """Compute the result."""
    return circuits(request)


OPERATION = Operation(
    path="/v1/circuits",
    operation_id="plan_circuits",
    summary="Branch circuits, voltage rise and grid connection",
    description=(
        "Distributes the microinverters over the fewest branch circuits that circuit breaker, trunk cable and balance of "
        "phases allow, as evenly as possible. Gives the voltage rise of each circuit up to the connection point, and the "
        "smallest home-run conductor that meets the limit. Names the grid connection procedure under the region's rules: "
        "documents to send and when, what it allows, and the source of each value. Values that are left out come from the "
        "region; rules of the caller's own region may be sent in the same form. The call has no side effects and may be "
        "repeated."
    ),
    request=CircuitsRequestSchema,
    response=CircuitsResultSchema,
    handle=handle,
)
