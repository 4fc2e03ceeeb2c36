"""POST /v1/circuits: branch circuits, voltage rise and grid connection."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, get_args

from marshmallow import fields, post_load, validates_schema

from wattpair_service.api.exchange.operation import Operation
from wattpair_service.api.operations.regions import RegionRulesSchema
from wattpair_service.api.operations.sizing import region_field
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.equipment import AC_CURRENT_LEAST_A
from wattpair_service.api.schemas.fields import Assumed, Flag, Listed, Nested, Number, Text, WholeNumber
from wattpair_service.api.schemas.results import ResultSchema, many, number, one, text, whole, words
from wattpair_service.api.schemas.site import FACES_MOST, require_different_names
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.circuits.board import Board
from wattpair_service.engineering.circuits.cable_checks import CableName, CableRun
from wattpair_service.engineering.circuits.circuits import (
    UNIT_SPACING_M,
    CircuitFace,
    CircuitsRequest,
    CircuitsResult,
    CircuitTerms,
    circuits,
)
from wattpair_service.engineering.circuits.conductors import INSTALLATIONS, ConductorTable, Installation
from wattpair_service.engineering.circuits.devices import DeviceRole, DeviceRules, ResidualCurrentNeed
from wattpair_service.engineering.circuits.grid_connection import ExistingGeneration, FilingStage, SupplyPoint
from wattpair_service.engineering.circuits.voltage_rise import Wiring
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.inverter.electrical_checks import VERDICTS
from wattpair_service.engineering.sentences import COMMON_PRACTICE, Sentence, Words, fixed, sentence
from wattpair_service.rules import (
    branch_circuit_rules_of,
    cable_rules_of,
    capacity_tables,
    conductor_tables,
    connection_rules_of,
    region_data,
)

BY_REGION = fixed("source.regions_rules")
FROM_REQUEST = fixed("source.from_request")
TT_SUPPLY, ASKED_FOR = fixed("device.tt_supply"), fixed("device.asked_for")
OVERRIDDEN = sentence("source.overridden", "fields", "otherwise")
CABLE_NAMES: dict[str, CableName] = {
    "trunk": "trunk",
    "home_run": "home run",
    "system_cable": "system cable",
    "supply": "supply cable",
}
"""Cables by the beginning of their fields, and their names in results."""
SOIL_C = 20.0
"""Temperature of the ground where a request says nothing: that of the IEC and NEC tables, common practice, no source."""


def unit_spacing_field(if_left_out: Words) -> Number:
    """Trunk from unit to unit."""
    return Number(
        "Length of trunk cable from one microinverter to the next",
        unit="m",
        at_least=0.1,
        at_most=20,
        assumed=Assumed(None, if_left_out),
    )


class CircuitFaceSchema(InputSchema):
    """Modules on one face."""

    name = Text("Name of the face; unique", longest=100)
    module_count = WholeNumber("Modules on the face", at_least=1, at_most=1000)
    unit_spacing_m = unit_spacing_field(sentence("source.unit_spacing", "spacing_m")(spacing_m=UNIT_SPACING_M))


def no_dc_fault_current_field() -> Flag:
    """What the makers of microinverters declare of their residual current."""
    return Flag(
        "Whether the microinverters' maker declares that no smooth DC fault current arises",
        assumed=Assumed(False, fixed("source.no_declaration")),
    )


def region_rules_field(replaces: str) -> Nested:
    """Rules of the caller's own region."""
    return Nested(RegionRulesSchema, f"Rules of the caller's own region, in place of {replaces}", required=False)


class InstallationSchema(InputSchema):
    """How a cable is installed, for its current-carrying capacity."""

    method = Text(
        "Way of installing: in free air, clipped to a wall, in a conduit on a wall, in a conduit in an insulated wall, above a "
        "ceiling beside up to 100 mm or more of insulation, surrounded by insulation, in the ground; each region's table has "
        "some of them",
        choices=tuple(INSTALLATIONS),
        assumed=Assumed(None, BY_REGION),
    )
    ambient_c = Number(
        "Highest temperature around the cable, in the ground that of the soil",
        unit="degC",
        at_least=10,
        at_most=80,
        assumed=Assumed(None, BY_REGION),
    )
    circuits_together = WholeNumber(
        "Circuits that run together in one conduit or bunch, with this one",
        at_least=1,
        at_most=100,
        assumed=Assumed(None, fixed("source.circuits_together")),
    )


class ExistingGenerationSchema(InputSchema):
    """Generation or storage that is on the premises already."""

    name = Text("What it is", longest=100, assumed=Assumed("existing generation", fixed("source.no_name")))
    current_a = Number("Its rated current on each phase that it feeds", unit="A", above=0, at_most=2000)
    phase = WholeNumber("Its phase, 1 to 3; leave out where it feeds all phases", at_least=1, at_most=3, required=False)


def _cable_length(way: str, if_left_out: Words) -> Number:
    """Length of a cable, one way; 0 where it is left out."""
    return Number(f"Length of cable {way}", unit="m", at_least=0, at_most=1000, assumed=Assumed(0.0, if_left_out))


def _declared_capacity(of: str) -> Number:
    """What a cable's maker or a code says that it carries."""
    described = f"Current-carrying capacity of {of}; without it a table's is used"
    return Number(described, unit="A", at_least=1, at_most=2000, required=False)


class CircuitTermsSchema(InputSchema):
    """Terms of circuits, voltage rise and grid connection; region, microinverters and faces are given elsewhere."""

    phase_count = WholeNumber(
        "Phases of the supply over which the units are distributed",
        at_least=1,
        at_most=3,
        assumed=Assumed(1, fixed("source.single_phase_supply")),
    )
    device_rating_a = Number(
        "Rating of a branch circuit's circuit breaker or fuse",
        unit="A",
        at_least=1,
        at_most=125,
        assumed=Assumed(None, BY_REGION),
    )
    continuous_current_factor = Number(
        "Factor on the continuous current of a branch circuit; not below the region's where that is code",
        at_least=1,
        at_most=2,
        assumed=Assumed(None, BY_REGION),
    )
    branch_device_max_a = Number(
        "Largest circuit breaker that microinverters and trunk allow, from their datasheets; asked for above 20 A",
        unit="A",
        at_least=1,
        at_most=125,
        required=False,
    )
    units_per_trunk_max = WholeNumber(
        "Most microinverters on one trunk cable, according to its maker", at_least=1, at_most=100, required=False
    )
    trunk_phase_count = WholeNumber(
        "Phases of a trunk: 1, or those of the supply behind one device with a pole for each",
        at_least=1,
        at_most=3,
        assumed=Assumed(1, fixed("source.single_phase_trunks")),
    )
    circuits_may_cross_faces = Flag(
        "Whether a circuit may serve several faces", assumed=Assumed(False, fixed("source.no_trunk_crosses"))
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
        assumed=Assumed("end", fixed("source.simpler")),
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
        at_least=20,
        at_most=120,
        assumed=Assumed(70.0, COMMON_PRACTICE),
    )
    trunk_size = Text(
        'Conductor of the trunk, as its table writes it: "2.5 mm2", "12 AWG"',
        longest=20,
        assumed=Assumed(None, fixed("source.second_thinnest")),
    )
    trunk_installation = Nested(InstallationSchema, "How the trunk is installed", required=False)
    trunk_ampacity_a = _declared_capacity("the trunk as installed, declared by its maker")
    home_run_length_m = _cable_length("from a trunk to the distribution board, one way", fixed("source.no_home_run"))
    home_run_size = Text(
        "Conductor of the home run; default: the smallest that its circuit breaker protects and that meets the voltage-rise "
        "limit, not thinner than the trunk",
        longest=20,
        required=False,
    )
    home_run_installation = Nested(InstallationSchema, "How the home run is installed", required=False)
    home_run_ampacity_a = _declared_capacity("the home run as installed")
    system_cable_length_m = _cable_length(
        "from the sub-board of several circuits to the distribution board, one way",
        fixed("source.sub_board_beside"),
    )
    system_cable_size = Text(
        "Conductor of that cable; default: the smallest that the system's circuit breaker protects", longest=20, required=False
    )
    system_cable_installation = Nested(InstallationSchema, "How that cable is installed", required=False)
    system_cable_ampacity_a = _declared_capacity("that cable as installed")
    supply_length_m = _cable_length(
        "from the distribution board to the connection point, one way; main_device_a protects it",
        fixed("source.at_the_board"),
    )
    supply_size = Text(
        "Conductor of the supply cable; default: the smallest that its device protects", longest=20, required=False
    )
    supply_installation = Nested(InstallationSchema, "How the supply cable is installed", required=False)
    supply_ampacity_a = _declared_capacity("the supply cable as installed")
    busbar_rating_a = Number(
        "Rating of the distribution board: its busbar or main switch, whichever is lower",
        unit="A",
        at_least=10,
        at_most=2000,
        required=False,
    )
    main_device_a = Number(
        "Rating of the main circuit breaker or fuse in front of the distribution board",
        unit="A",
        at_least=10,
        at_most=2000,
        required=False,
    )
    existing_generation = Listed(
        Nested(ExistingGenerationSchema, "Generation or storage"),
        "Generation and storage that is on the premises already",
        fewest=0,
        most=20,
        assumed=Assumed((), fixed("source.nothing_else_feeds_in")),
    )
    export_limit_per_phase_a = Number(
        "Export limit of each phase that a limiter keeps", unit="A", at_least=0, at_most=10000, required=False
    )
    earthing = Text(
        "Earthing of the supply: by the network (TN), or by an electrode of the house (TT)",
        choices=("tn", "tt"),
        assumed=Assumed("tn", fixed("source.more_common")),
    )
    residual_current_device_asked = Flag(
        "Whether the route of a cable or the maker of the microinverters asks for a residual-current device",
        assumed=Assumed(False, fixed("source.not_asked_for")),
    )
    busbar_fed_at_opposite_end = Flag(
        "Whether the system feeds the busbar at the end opposite the main device, with the label there; only some codes ask",
        assumed=Assumed(False, fixed("source.feed_unknown")),
    )
    plug_in = Flag("Whether the system is on a plug alone", assumed=Assumed(False, fixed("source.fixed_installation")))
    units_coupled = Flag(
        "Whether single-phase units are coupled, so that they keep the phases balanced",
        assumed=Assumed(False, fixed("source.uncoupled_units")),
    )
    supply_loop_impedance_ohm = Number(
        "Earth fault loop impedance of the supply at the board; disconnection in a fault is checked if given",
        unit="ohm",
        at_least=0.001,
        at_most=100,
        required=False,
    )
    earth_electrode_ohm = Number(
        "Resistance of the house's earth electrode; checked if given", unit="ohm", at_least=0.1, at_most=10000, required=False
    )
    several_premises = Flag(
        "Whether other premises close by are being connected in the same weeks",
        assumed=Assumed(False, fixed("source.single_house")),
    )


class CircuitFieldsSchema(CircuitTermsSchema):
    """Region, microinverter and terms of circuits, voltage rise and grid connection; the faces are given elsewhere."""

    region = region_field()
    region_rules = region_rules_field("`region`")
    unit_ac_current_a = Number("Rated AC current of one microinverter", unit="A", at_least=AC_CURRENT_LEAST_A, at_most=30)
    modules_per_unit = WholeNumber(
        "Modules on one microinverter", at_least=1, at_most=8, assumed=Assumed(1, fixed("source.one_module_unit"))
    )
    unit_phase_count = WholeNumber(
        "Phases of one microinverter: 1, or 3 where it feeds all three; its current is that of each phase",
        at_least=1,
        at_most=3,
        assumed=Assumed(1, fixed("source.single_phase_unit")),
    )


class CircuitsRequestSchema(CircuitFieldsSchema):
    """A roof's faces with their modules, and the terms."""

    no_dc_fault_current_declared = no_dc_fault_current_field()
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
        tuple(
            CircuitFace(face["name"], face["module_count"], face["unit_spacing_m"] or UNIT_SPACING_M * data["modules_per_unit"])
            for face in data["faces"]
        ),
        unit_ac_current_a=data["unit_ac_current_a"],
        modules_per_unit=data["modules_per_unit"],
        unit_phase_count=data["unit_phase_count"],
    )


def circuit_terms(data: dict[str, Any], region: str, own_rules: dict[str, Any] | None) -> CircuitTerms:
    """The terms for the core, by the rules of a region or by the caller's own.

    Raises
    ------
    EngineeringError
        A rating that is not made, a board below its main device, or an installation that contradicts itself.
    """
    region, region_rules = ("from the request", own_rules) if own_rules is not None else (region, region_data(region))
    rules, branch = connection_rules_of(region, region_rules), branch_circuit_rules_of(region_rules)
    overrides = {name: data[name] for name in ("device_rating_a", "continuous_current_factor") if data[name] is not None}
    factor = data["continuous_current_factor"]
    is_code = region_rules["branch_circuit"].get("factor_is_code")
    if is_code and factor is not None and factor < branch.continuous_current_factor:
        raise EngineeringError(
            f"at least {branch.continuous_current_factor:g}, by {branch.source}", ("continuous_current_factor",)
        )
    if overrides:
        branch = replace(branch, **overrides, source=OVERRIDDEN(fields=tuple(overrides), otherwise=branch.source))
    _require_made(data["device_rating_a"], rules.devices)
    board = Board(data["busbar_rating_a"], data["main_device_a"])
    if board.rating_a is not None and board.main_device_a is not None and board.rating_a < board.main_device_a:
        raise EngineeringError(
            f"at least the rating of the main device that protects the board, {board.main_device_a:g} A", ("busbar_rating_a",)
        )
    table = conductor_tables()[data["conductor_table"] or rules.conductor_table]
    runs = _cable_runs(data, region_rules, table)
    limit = data["voltage_rise_limit_share"]
    voltage_v = data["voltage_v"] or rules.voltage_v
    return CircuitTerms(
        phase_count=data["phase_count"],
        trunk_phase_count=data["trunk_phase_count"],
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
            trunk=runs["trunk"],
            home_run=runs["home_run"],
            home_run_length_m=data["home_run_length_m"],
            supply=runs["supply"],
            supply_length_m=data["supply_length_m"],
            system_cable=runs["system_cable"],
            system_cable_length_m=data["system_cable_length_m"],
            limit_is_binding=rules.voltage_rise_is_code if limit is None else True,
        ),
        supply=SupplyPoint(
            voltage_v,
            board,
            data["several_premises"],
            tuple(ExistingGeneration(each["name"], each["current_a"], each["phase"]) for each in data["existing_generation"]),
            data["export_limit_per_phase_a"],
            is_fed_at_opposite_end=data["busbar_fed_at_opposite_end"],
            is_plug_in=data["plug_in"],
            are_units_coupled=data["units_coupled"],
        ),
        branch_device_max_a=data["branch_device_max_a"],
        supply_loop_impedance_ohm=data["supply_loop_impedance_ohm"],
        earth_electrode_ohm=data["earth_electrode_ohm"],
        residual_current=ResidualCurrentNeed(_residual_reasons(data), bool(data.get("no_dc_fault_current_declared"))),
        installations_assumed=tuple(
            runs[name].name for name in runs if data[f"{name}_installation"] is None and data[f"{name}_ampacity_a"] is None
        ),
    )


def _require_made(rating_a: float | None, devices: DeviceRules) -> None:
    """Refuse a rating that nobody makes."""
    if rating_a is not None and rating_a not in devices.ratings_a:
        following = devices.rating_a(rating_a)
        made = ", ".join(f"{rating:g}" for rating in devices.ratings_a)
        nearest = "" if following is None else f"{following:g} A, the next that is made; "
        raise EngineeringError(f"{nearest}ratings that are made are {made} A", ("device_rating_a",))


def _residual_reasons(data: dict[str, Any]) -> tuple[Sentence, ...]:
    possible = (
        (data["earthing"] == "tt", TT_SUPPLY),
        (data["residual_current_device_asked"], ASKED_FOR),
    )
    return tuple(reason for applies, reason in possible if applies)


def _cable_runs(data: dict[str, Any], region_rules: dict[str, Any], table: ConductorTable) -> dict[str, CableRun]:
    """Trunk, home run and supply cable, as the request or the region installs them."""
    rules = cable_rules_of(region_rules)
    runs = {}
    for name, cable in CABLE_NAMES.items():
        runs[name] = CableRun(
            name=cable,
            table=table,
            installation=_installation(data, rules, name),
            loaded_conductors=2,
            size=data[f"{name}_size"],
            capacity_a=data[f"{name}_ampacity_a"],
        )
        _require_possible(runs[name], name)
    return runs


def _require_possible(run: CableRun, name: str) -> None:
    """Refuse a declared capacity without its conductor, and one that no way of installing gives it."""
    if run.capacity_a is None:
        return
    if run.size is None:
        raise EngineeringError(f"a size of the table is required where {name}_ampacity_a is given", (f"{name}_size",))
    run.table.conductor(run.size, f"{name}_size")
    most = run.installation.table.largest_capacity_a(run.size)
    if run.capacity_a > most:
        raise EngineeringError(
            f"at most {most:.4g} A, the most that the table {run.installation.table.name} has for {run.size}",
            (f"{name}_ampacity_a",),
        )


def _installation(data: dict[str, Any], rules: Mapping[str, Any], name: str) -> Installation:
    given, usual = data[f"{name}_installation"], rules["home_run" if name == "system_cable" else name]
    if given is not None and data[f"{name}_ampacity_a"] is not None:
        raise EngineeringError(
            f"either {name}_ampacity_a, the capacity as installed, or the installation to find it by", (f"{name}_installation",)
        )
    given = given or {"method": None, "ambient_c": None, "circuits_together": None}
    table = capacity_tables()[rules["trunk_capacity_table" if name == "trunk" else "capacity_table"]]
    where = f"{name}_installation/method" if given["method"] else f"{name}_installation"
    method = table.require_method(given["method"] or usual["installation"], where)
    ambient_c = given["ambient_c"]
    if ambient_c is None:
        ambient_c = SOIL_C if method.in_ground else max(usual["ambient_c"], table.reference_c)
    together = given["circuits_together"] or (None if name == "home_run" else 1)
    return Installation(table, method, float(ambient_c), together)


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
    phases = fields.List(
        fields.Integer(), required=True, metadata={"description": "Phases of its trunk, 1 to 3; its units take them in turn"}
    )
    line_conductors = text('Line conductors of its trunk: "L1-L2" with the units between the two of a split phase, else "L1"')
    units_by_phase = fields.List(
        fields.Integer(), required=True, metadata={"description": "Units that load each phase of the supply"}
    )
    current_a = number("Rated current of its fullest phase", "A")
    device_rating_a = number("Rating of its circuit breaker or fuse", "A")


class CircuitRiseSchema(OutputSchema):
    """Voltage rise of one circuit."""

    circuit = text("Name of the circuit")
    phases = fields.List(fields.Integer(), required=True, metadata={"description": "Phases of its trunk, 1 to 3"})
    trunk_end_fed_v = number("Rise along the trunk with the home run at its end", "V")
    trunk_centre_fed_v = number("Rise along the trunk with the home run at its centre", "V")
    trunk_v = number("Rise along the trunk with the requested trunk_feed", "V")
    home_run_v = number("Rise along the home run", "V")
    circuit_share = number("Rise of trunk and home run as a share of the nominal voltage")
    system_cable_v = number("Rise along the cable from the sub-board to the distribution board", "V")
    supply_v = number(
        "Rise along the supply cable with all circuits of the phase feeding; the larger value, with the other phases idle or "
        "feeding",
        "V",
    )
    total_v = number("Rise up to the connection point", "V")
    total_share = number("Rise up to the connection point as a share of the nominal voltage")
    rated_loss_share = number("Share of the units' rated power that the cables to the connection point take at that power")
    total_share_as_given = number(
        "The same with the conductors as the request gives them, where one of them must be replaced; else null", nullable=True
    )
    home_run_size = text("Conductor of the home run that is ordered")
    smallest_home_run_size = fields.String(
        required=True,
        allow_none=True,
        metadata={
            "description": "Smallest home-run conductor that its circuit breaker protects and that meets the voltage-rise "
            "limit, not thinner than the trunk. Null where there is none or no limit is known"
        },
    )
    meets_limit = fields.Boolean(
        required=True,
        allow_none=True,
        metadata={"description": "Whether the limit is met; null where the network operator sets it"},
    )
    explanation = words("The same in words")


class CableCheckSchema(OutputSchema):
    """The protection of one cable: design current, circuit breaker and carrying capacity, in this order."""

    cable = text("Trunk, home run, cable of the system to the board, or supply cable")
    circuits = fields.List(
        fields.String(), required=True, metadata={"description": "Circuits that it is alike for; none for the whole system"}
    )
    size = text("Conductor")
    loaded_conductors = whole("Conductors that carry current: 2, or 3 for three phases")
    design_current_a = number("Highest continuous current with the code's factor", "A")
    device_rating_a = number("Rating of its circuit breaker or fuse; null where it is not known", "A", nullable=True)
    capacity_a = number("Current-carrying capacity as installed; 0 where none is published", "A")
    meets = fields.Boolean(
        required=True,
        allow_none=True,
        metadata={
            "description": "Whether it is protected; if not, it must not be built so. Null where its device is not known"
        },
    )
    smallest_size = fields.String(
        required=True,
        allow_none=True,
        metadata={"description": "Smallest conductor of the table that is protected; null where none is"},
    )
    installation = words("How it is installed, with the factors")
    source = words("Clause, and how the values were obtained")
    explanation = words("The same in words")


class DeviceSchema(OutputSchema):
    """Devices of one kind, as one orders them."""

    role = text("Circuit breaker of a branch, of the system, residual-current device, or isolator", get_args(DeviceRole))
    quantity = whole("How many")
    rating_a = number("Rating; null where none that is made is large enough", "A", nullable=True)
    poles = whole("Poles")
    curve = fields.String(required=True, allow_none=True, metadata={"description": "Tripping curve; null where it has none"})
    breaking_capacity_ka = number("Breaking capacity; null where it is none of its properties", "kA", nullable=True)
    residual_current_ma = number("Rated residual current; null where it has none", "mA", nullable=True)
    residual_current_type = fields.String(
        required=True, allow_none=True, metadata={"description": "Type of residual current; null where it has none"}
    )
    is_bidirectional = fields.Boolean(
        required=True, metadata={"description": "Whether it must be suitable for power flow in both directions"}
    )
    protects = words("What it is for")
    source = words("Clause, and how it was obtained")


class PhaseTotalSchema(OutputSchema):
    """Totals of one phase."""

    phase = whole("Phase, 1 to 3")
    unit_count = whole("Microinverters on it")
    current_a = number("Rated AC current with existing generation, summed without diversity", "A")
    existing_a = number("Rated AC current of generation that is on the premises already", "A")
    power_va = number("Rated apparent power with existing generation", "VA")


class RouteFitSchema(OutputSchema):
    """How the system fits one procedure."""

    code = text("Stable name of the procedure")
    route = words("Procedure")
    applies = fields.Boolean(required=True, metadata={"description": "Whether it is the one that applies"})
    asks_nobody = fields.Boolean(
        required=True, metadata={"description": "Whether nobody needs to agree before the system is switched on"}
    )
    units_most = fields.Integer(
        required=True,
        allow_none=True,
        metadata={"description": "Most units of this kind, spread over the phases, within its limits; null where it has none"},
    )
    explanation = words("The same in words")


class FilingSchema(OutputSchema):
    """One document to send."""

    document = words("Document to send")
    when = words("When it is due")
    stage = text("Whether that is before or after the installation", get_args(FilingStage))


class ConnectionCheckSchema(OutputSchema):
    """One check of the grid connection."""

    name = text("Name of the check")
    value = number("Computed value, in `unit`")
    limit = number("Its limit; null where the operator sets it or a figure is missing", nullable=True)
    unit = text("Unit of value and limit")
    meets = fields.Boolean(
        required=True, allow_none=True, metadata={"description": "Whether the limit is met; null where there is none"}
    )
    source = words("Clause, and how the rule was obtained")
    is_binding = fields.Boolean(
        required=True,
        metadata={"description": "Whether what is beyond the limit fails; false where the limit is common practice alone"},
    )
    explanation = words("The same in words")


class ConnectionSchema(OutputSchema):
    """The grid connection procedure."""

    place = words("Country or area whose rules apply")
    edition = text("Edition of the rules")
    phases = many(PhaseTotalSchema, "Totals by phase")
    power_total_va = number("Rated apparent power of all phases", "VA")
    route_code = text("Stable name of the procedure that applies")
    route = words("Procedure that applies")
    reason = words("Why it applies, and why others do not")
    filings = many(FilingSchema, "Documents to send, and when")
    allows = words("What the procedure allows")
    source = words("Clause, and how the rule was obtained")
    routes = many(RouteFitSchema, "The procedures with a limit, and the one that applies: the largest design within each")
    checks = many(ConnectionCheckSchema, "Further checks: phases, board, protection, and the highest voltage rise")


class CircuitsResultSchema(ResultSchema):
    """Circuits, voltage rise and grid connection."""

    verdict = text(
        "fail where a cable is not protected or a binding check fails, caution where the voltage rise is above a limit of "
        "common practice or a figure is missing, else ok",
        VERDICTS,
    )
    circuits = many(BranchCircuitSchema, "Branch circuits in the order of the faces")
    cables = many(CableCheckSchema, "Protection of each cable")
    devices = many(DeviceSchema, "Circuit breakers, residual-current devices and isolator, as one orders them")
    circuit_rule = words("Rule that limits the circuits, with its source")
    unit_count = whole("Microinverters")
    rises = many(CircuitRiseSchema, "Voltage rise of each circuit")
    rise_highest_share = number("Highest rise up to the connection point, as a share of the nominal voltage")
    rise_limit_share = number(
        "Limit on the rise as a share of the nominal voltage; null where the network operator sets it", nullable=True
    )
    rise_limit_source = words("Where the limit comes from")
    connection = one(ConnectionSchema, "The grid connection procedure")


def handle(request: CircuitsRequest, _: StationFolder) -> CircuitsResult:
    """Compute the result."""
    return circuits(request)


OPERATION = Operation(
    path="/v1/circuits",
    operation_id="plan_circuits",
    summary="Branch circuits, cables and devices, voltage rise and grid connection",
    description=(
        "Distributes the microinverters over branch circuits: the phases as equal as they can be, then the fewest "
        "circuits that circuit breaker and trunk cable allow. Checks that every cable is protected as it is installed: "
        "design current, circuit breaker, carrying capacity, in this order; one that is not makes the verdict `fail`, and "
        "its smallest sufficient conductor is named. Gives the devices as one orders them, the voltage rise of each "
        "circuit up to the connection point, and whether the board bears main device and all generation, with the ways "
        "out where it does not. Names the grid connection procedure under the region's rules: documents to send and when, "
        "what it allows, the largest design within each procedure, and the source of each value. Values that are left out "
        "come from the region; rules of the caller's own region may be sent in the same form. The call has no side "
        "effects and may be repeated."
    ),
    request=CircuitsRequestSchema,
    response=CircuitsResultSchema,
    handle=handle,
)
