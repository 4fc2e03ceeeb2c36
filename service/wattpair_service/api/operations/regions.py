"""GET /v1/regions: the published rules that the service has."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any, get_args

from marshmallow import ValidationError, fields, validates_schema

from wattpair_service.api.exchange.problems import Problem
from wattpair_service.api.exchange.reference import Reference
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.choice import Worded
from wattpair_service.api.schemas.fields import Flag, Listed, Nested, Number, Text, WholeNumber
from wattpair_service.api.schemas.results import CautionSchema, many, text, words
from wattpair_service.engineering.cautions import caution
from wattpair_service.engineering.circuits.conductors import INSTALLATIONS
from wattpair_service.engineering.circuits.grid_connection import FilingStage
from wattpair_service.engineering.roof.access import PATH_CHOICES
from wattpair_service.rules import capacity_tables, conductor_tables, connection_rules, region_data, regions

LONG = 500


class SourcedSchema(InputSchema):
    """A rule with its clause and how its value was obtained; both are required."""

    clause = Worded("Clause or document of the rule")
    obtained = Worded("How the value was obtained: read where, or from memory")


class StandardTimeSchema(SourcedSchema):
    """Standard time of a country that has one; used by other operations."""

    utc_offset_h = Number("Offset from UTC, east positive", unit="h", at_least=-14, at_most=14)


class ShortCircuitRuleSchema(SourcedSchema):
    """Factor on the short-circuit current; used by other operations."""

    factor = Number("Factor on the short-circuit current", at_least=1, at_most=2)


class ColdVoltageRuleSchema(SourcedSchema):
    """Factors on the cold open-circuit voltage; used by other operations."""

    factors = Listed(
        Listed(Number("Lower edge of a band, or its factor", at_least=-100, at_most=100), "One band", fewest=2, most=2),
        "Lower edge of each temperature band [degC] with its factor",
        most=50,
        required=False,
    )
    lowest_temperature = Worded("The code's own definition of the lowest temperature", required=False)


class ColdFloorSchema(SourcedSchema):
    """A temperature that the region's custom designs for; used by other operations."""

    lowest_c = Number("Lowest temperature to design for, unless the site's own is known", unit="degC", at_least=-70, at_most=40)
    above_elevation_m = Number("It applies above this elevation only", unit="m", at_least=-450, at_most=6000, required=False)
    south_of_latitude_deg = Number(
        "It applies south of this latitude only", unit="deg", at_least=-90, at_most=90, required=False
    )


class HighDcVoltageRuleSchema(SourcedSchema):
    """What a high DC voltage asks for; used by other operations."""

    at_least_v = Number("Cold open-circuit voltage from which it holds", unit="V", above=0, at_most=1500)
    says = Worded("What it asks for")


class BranchCircuitRuleSchema(SourcedSchema):
    """Limits of a branch circuit."""

    continuous_current_factor = Number("Factor on the continuous current", at_least=1, at_most=2)
    factor_is_code = Flag("Whether a request may not have a smaller factor")
    device_rating_a = Number("Rating of its circuit breaker or fuse", unit="A", at_least=1, at_most=125)


class SupplyRuleSchema(SourcedSchema):
    """Supplies of the region."""

    phase_counts = Listed(WholeNumber("Phases", at_least=1, at_most=3), "Numbers of phases that a supply may have", most=3)
    voltage_v = Number("Nominal voltage of a unit's circuit", unit="V", at_least=100, at_most=480)
    split_phase = Flag("Whether what counts as one phase has two line conductors")


class StandardDevicesRuleSchema(SourcedSchema):
    """Standard ratings of circuit breakers and fuses."""

    ratings_a = Listed(Number("A rating", unit="A", at_least=1, at_most=1000), "Standard ratings [A]", most=60)


class OvercurrentDeviceRuleSchema(SourcedSchema):
    """What circuit breakers and isolators are made as."""

    isolator_ratings_a = Listed(Number("A rating", unit="A", at_least=1, at_most=1000), "Ratings of isolators [A]", most=60)
    poles_of_one_phase = WholeNumber("Poles of a circuit breaker on one phase", at_least=1, at_most=4)
    poles_of_three_phases = WholeNumber("Poles of a circuit breaker on three phases", at_least=3, at_most=4)
    curve = Text("Tripping curve; leave out where breakers have none", choices=("B", "C", "D"), required=False)
    breaking_capacity_ka = Number("Breaking capacity", unit="kA", at_least=1, at_most=100)
    direction = Worded("What is asked of the direction of power flow, and where")


class InstallationRuleSchema(InputSchema):
    """How a cable is installed where a request says nothing."""

    installation = Text("Way of installing", choices=tuple(INSTALLATIONS))
    ambient_c = Number("Temperature around the cable", unit="degC", at_least=-40, at_most=80)


class CablesRuleSchema(SourcedSchema):
    """Carrying capacities, and how cables are installed where a request says nothing."""

    capacity_table = Text("Table of carrying capacities of home run and supply cable", choices=tuple(capacity_tables()))
    trunk_capacity_table = Text("Table of carrying capacities of the trunk", choices=tuple(capacity_tables()))
    trunk = Nested(InstallationRuleSchema, "The trunk")
    home_run = Nested(InstallationRuleSchema, "The home run")
    supply = Nested(InstallationRuleSchema, "The supply cable")


class ConductorsRuleSchema(SourcedSchema):
    """Standard conductors."""

    table = Text("Table of standard conductors", choices=tuple(conductor_tables()))


class VoltageRiseRuleSchema(SourcedSchema):
    """Limit on the voltage rise."""

    limit_share = Number(
        "Limit as a share of the nominal voltage; leave out where the network operator sets it",
        above=0,
        at_most=0.2,
        required=False,
    )
    limit_is_code = Flag("Whether a published rule sets the limit: what is above it fails, else it is a caution")


class PhaseBalanceRuleSchema(SourcedSchema):
    """Limit on the difference between phases."""

    difference_max_va = Number(
        "Highest difference between two phases; leave out where the network operator sets it",
        unit="VA",
        above=0,
        required=False,
    )
    counts_one_phase = Flag("Whether it limits the power of a single-phase supply too")
    uncoupled_max_va = Number(
        "Highest power of single-phase units that are not coupled; leave out where there is none",
        unit="VA",
        above=0,
        required=False,
    )


class ResidualCurrentRuleSchema(SourcedSchema):
    """Type of the residual-current device."""

    type_without_declaration = Text("Type where the maker declares nothing", choices=("A", "F", "B"), required=False)
    type_if_declared = Text(
        "Type where the maker declares that no DC fault current arises", choices=("A", "F", "B"), required=False
    )

    @validates_schema(skip_on_field_errors=True)
    def both_or_neither(self, data: dict[str, Any], **_: Any) -> None:
        """With one type alone, the other case would have no device."""
        names = ("type_without_declaration", "type_if_declared")
        missing = [name for name in names if data[name] is None]
        if len(missing) == 1:
            raise ValidationError("both types or neither; the field is required with the other", missing[0])


class BusbarRuleSchema(SourcedSchema):
    """Limit on the feed into a board beside its main circuit breaker or fuse."""

    share = Number("Limit on main device plus feed, as a share of the board's rating", at_least=1, at_most=2)
    continuous_current_factor = Number("Factor on the output current", at_least=1, at_most=2)
    opposite_end = Flag("Whether the feed must enter at the end opposite the main device")
    elsewhere = Nested(SourcedSchema, "Rule where it enters elsewhere: a share of 1", required=False)
    sum_of_devices = Text("Clause of the rule that sums all breakers instead; leave out where there is none", required=False)
    supply_side = Text("Clause of a connection on the supply side; leave out where there is none", required=False)
    power_control = Text("Clause of power control systems; leave out where there is none", required=False)


class CentralProtectionRuleSchema(SourcedSchema):
    """Power above which protection in one place is asked for."""

    above_va = Number("Power of all phases above which it is asked for", unit="VA", above=0)


class ArrayBondingRuleSchema(SourcedSchema):
    """Bonding of the array's metal."""

    size = Text("Smallest bonding conductor", longest=20)


class DemandRuleSchema(SourcedSchema):
    """Whether a part is asked for."""

    asked = Flag("Whether it is asked for", required=True)


class LabelRuleSchema(SourcedSchema):
    """A label of the system."""

    text = Text(
        "Its text, in the language of the place; {current} and {voltage} stand for the system's rated values", longest=LONG
    )
    count = WholeNumber("How many", at_least=1, at_most=20)
    where = Worded("Where they go")


class EdgeRuleSchema(SourcedSchema):
    """Distance of modules from one kind of edge."""

    distance_m = Number("Distance of modules from such an edge", unit="m", at_least=0, at_most=10)


class RidgeRuleSchema(EdgeRuleSchema):
    """Distance of modules from the ridge, which may depend on the share of the roof that they cover."""

    covered_share_max = Number(
        "Largest covered share, 0 to 1, at which distance_m is enough; leave out where it always is",
        above=0,
        below=1,
        required=False,
    )
    distance_above_m = Number("Distance where modules cover more", unit="m", at_least=0, at_most=10, required=False)

    @validates_schema(skip_on_field_errors=True)
    def both_or_neither(self, data: dict[str, Any], **_: Any) -> None:
        """A share means nothing without the distance above it, which cannot be smaller."""
        names = ("covered_share_max", "distance_above_m")
        missing = [name for name in names if data[name] is None]
        if len(missing) == 1:
            raise ValidationError("a number, or neither field; the field is required with the other", missing[0])
        if not missing and data["distance_above_m"] < data["distance_m"]:
            raise ValidationError(f"at least distance_m, which is {data['distance_m']:g} m", "distance_above_m")


class PathRuleSchema(SourcedSchema):
    """Access path from the eaves to the ridge."""

    width_m = Number("Width of the path", unit="m", above=0, at_most=10)
    side = Text("Side of the face on which it lies", choices=tuple(choice for choice in PATH_CHOICES if choice != "none"))


class AccessRuleSchema(SourcedSchema):
    """Distances of modules from the edges of a face, and access paths."""

    edge_distance_m = Number("Distance from edges without a rule of their own", unit="m", at_least=0, at_most=10)
    eaves = Nested(EdgeRuleSchema, "Distance from the eaves", required=False)
    ridge = Nested(RidgeRuleSchema, "Distance from the ridge", required=False)
    rake = Nested(EdgeRuleSchema, "Distance from the rake, or verge", required=False)
    hip = Nested(EdgeRuleSchema, "Distance from a hip", required=False)
    valley = Nested(EdgeRuleSchema, "Distance from a valley", required=False)
    path = Nested(PathRuleSchema, "Access path, where a rule asks for one", required=False)
    cautions = Listed(Worded("A sentence"), "What the rules ask for beyond one face", most=10, required=False)


class CommissioningRuleSchema(SourcedSchema):
    """Documents of the commissioning."""

    documents = Listed(Worded("A document"), "Documents of the commissioning", fewest=0, most=20)


class FilingRuleSchema(InputSchema):
    """One document to send."""

    document = Worded("Document to send")
    when = Worded("When it is due")
    stage = Text(
        "Whether that is before or after the installation; default: before", choices=get_args(FilingStage), required=False
    )


class RouteRuleSchema(SourcedSchema):
    """One grid connection procedure. They are tried in order; a limit that is left out does not restrict."""

    code = Text("Stable name of the procedure; default: from its name", longest=100, required=False)
    name = Worded("Name of the procedure")
    phase_counts = Listed(
        WholeNumber("Phases", at_least=1, at_most=3), "Supplies that it applies to, by number of phases", most=3, required=False
    )
    current_per_phase_max_a = Number("Highest rated current of a phase", unit="A", above=0, at_most=10000, required=False)
    power_per_phase_max_va = Number("Highest power of a phase", unit="VA", above=0, at_most=1e7, required=False)
    power_total_max_va = Number("Highest power of all phases", unit="VA", above=0, at_most=1e8, required=False)
    export_per_phase_max_a = Number(
        "Highest export limit of a phase that it asks for; leave out where it asks for none",
        unit="A",
        above=0,
        at_most=10000,
        required=False,
    )
    asks_nobody = Flag("Whether nobody needs to agree before the system is switched on")
    is_plug_in = Flag("Whether it is for systems on a plug alone")
    several_premises = Flag("Whether it applies to several premises close by; leave out where that makes no difference")
    filings = Listed(Nested(FilingRuleSchema, "A document"), "Documents to send, and when", fewest=0, most=20)
    allows = Worded("What the procedure allows")


class RegionRulesSchema(InputSchema):
    """Rules of the caller's own region, in the form of the service's rule files."""

    place = Worded("Country or area where the rules apply")
    edition = Text("Edition of the rules")
    standard_time = Nested(StandardTimeSchema, "Not used by this operation; a rule file may have it", required=False)
    short_circuit_current = Nested(
        ShortCircuitRuleSchema, "Not used by this operation; a rule file may have it", required=False
    )
    cold_voltage = Nested(ColdVoltageRuleSchema, "Not used by this operation; a rule file may have it", required=False)
    cold_floor = Listed(
        Nested(ColdFloorSchema, "A temperature"), "Not used by this operation; a rule file may have it", most=20, required=False
    )
    high_dc_voltage = Nested(HighDcVoltageRuleSchema, "Not used by this operation; a rule file may have it", required=False)
    branch_circuit = Nested(BranchCircuitRuleSchema, "Branch circuits")
    supply = Nested(SupplyRuleSchema, "Supplies")
    standard_devices = Nested(StandardDevicesRuleSchema, "Circuit breakers and fuses")
    overcurrent_device = Nested(
        OvercurrentDeviceRuleSchema, "What devices are made as; without it as in the international rules", required=False
    )
    conductors = Nested(ConductorsRuleSchema, "Conductors")
    cables = Nested(
        CablesRuleSchema, "Carrying capacities and installation; without it as in the international rules", required=False
    )
    voltage_rise = Nested(VoltageRiseRuleSchema, "Voltage rise")
    phase_balance = Nested(PhaseBalanceRuleSchema, "Balance of phases")
    residual_current = Nested(ResidualCurrentRuleSchema, "Residual-current device")
    busbar = Nested(BusbarRuleSchema, "Rating of the board, where the code has such a rule", required=False)
    main_device = Nested(
        SourcedSchema,
        "Rating of the main device against all generation; without it as in the international rules",
        required=False,
    )
    rapid_shutdown = Nested(DemandRuleSchema, "Rapid shutdown; without it none is asked for", required=False)
    central_protection = Nested(CentralProtectionRuleSchema, "Protection in one place, where it is asked for", required=False)
    commissioning = Nested(CommissioningRuleSchema, "Commissioning")
    array_bonding = Nested(
        ArrayBondingRuleSchema, "Bonding of the array; without it as in the international rules", required=False
    )
    surge_protection = Nested(
        DemandRuleSchema, "Surge protection, AC; without it as in the international rules", required=False
    )
    generation_meter = Nested(
        DemandRuleSchema, "Meter of the generation; without it as in the international rules", required=False
    )
    labels = Listed(
        Nested(LabelRuleSchema, "A label"),
        "Labels of the system; without them as in the international rules",
        fewest=0,
        most=20,
        required=False,
    )
    access = Nested(
        AccessRuleSchema, "Distances from edges and access paths of a layout; default: those of `region`", required=False
    )
    routes = Listed(Nested(RouteRuleSchema, "A procedure"), "Grid connection procedures, in the order of trying", most=20)

    @validates_schema
    def ends_in_a_route_for_all(self, data: dict[str, Any], **_: Any) -> None:
        """Every supply needs a procedure without limits, so that one always applies."""
        for phases in data["supply"]["phase_counts"]:
            if not any(_is_open(route, phases) for route in data["routes"]):
                raise ValidationError(f"routes of which the last for {phases} phases has no limit", "routes")


def _is_open(route: dict[str, Any], phase_count: int) -> bool:
    limits = (
        route["current_per_phase_max_a"],
        route["power_per_phase_max_va"],
        route["power_total_max_va"],
        route["export_per_phase_max_a"],
        route["several_premises"],
    )
    return phase_count in (route["phase_counts"] or (phase_count,)) and all(limit is None for limit in limits)


CAUTION = caution("region_rules", "electrician", "connection")


class RegionNameSchema(OutputSchema):
    """A region whose rules the service has."""

    name = text("Name of the region, as requests take it")
    place = words("Country or area where its rules apply")
    edition = text("Edition of the rules")


class RegionsSchema(OutputSchema):
    """The regions whose rules the service has."""

    regions = many(RegionNameSchema, "The regions, in alphabetical order")


class RegionSchema(RegionNameSchema):
    """The rules of a region."""

    rules = fields.Dict(
        required=True,
        metadata={
            # Some generators of clients name its class by this, and by the field's name as they name `RegionRules`.
            "title": "PublishedRules",
            "description": "The rules, each with its clause and how it was obtained, in the form that `region_rules` takes",
        },
    )
    cautions = many(CautionSchema, "What must stay with the rules")


def _list() -> dict[str, Any]:
    return {"regions": [_name(name) for name in regions()]}


def _name(name: str) -> dict[str, Any]:
    data = region_data(name)
    return {"name": name, "place": connection_rules(name).place, "edition": data["edition"]}


def _read(name: str) -> dict[str, Any]:
    if name not in regions():
        raise Problem(HTTPStatus.NOT_FOUND, "not-found", f"The region is unknown; known regions are {', '.join(regions())}.")
    return _name(name) | {"rules": region_data(name), "cautions": [CAUTION]}


LIST = Reference(
    path="/v1/regions",
    operation_id="list_regions",
    summary="Regions whose rules the service has",
    description="Names of the regions that requests may name, with the place and edition of their rules.",
    response=RegionsSchema,
    read=_list,
    names={},
)
READ = Reference(
    path="/v1/regions/{name}",
    operation_id="read_region",
    summary="The rules of a region",
    description=(
        "The published rules that apply where a request names the region: limits, ratings, distances from the edges of a "
        "face, and grid connection procedures, each with its clause and how the value was obtained. A changed copy can be sent "
        "as `region_rules`."
    ),
    response=RegionSchema,
    read=_read,
    names={"name": regions()},
    listed_by="list_regions",
)
