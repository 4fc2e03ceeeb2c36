"""POST /v1/sizing: whether each pairing is electrically safe at its site."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, get_args

from marshmallow import fields, post_load, validates_schema

from wattpair_service.api.exchange.operation import Operation
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.equipment import MicroinverterSchema, ModuleSchema
from wattpair_service.api.schemas.fields import Assumed, Listed, Nested, Text, WholeNumber
from wattpair_service.api.schemas.results import DesignTemperaturesSchema, ResultSchema, many, number, one, text, words
from wattpair_service.api.schemas.site import (
    FACES_MOST,
    FaceSchema,
    SiteSchema,
    mounting_field,
    require_different_names,
    transposition_field,
    weather_field,
)
from wattpair_service.climate.site_year import extremes, site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import BuiltInClimate, Weather
from wattpair_service.engineering.equipment import InputWiring, Wiring
from wattpair_service.engineering.inverter.electrical_checks import VERDICTS
from wattpair_service.engineering.inverter.sizing import SizingRequest, SizingResult, sizing
from wattpair_service.engineering.sentences import fixed
from wattpair_service.engineering.site import Site
from wattpair_service.rules import DEFAULT_REGION, electrical_rules, regions

MICROINVERTERS_MOST = 64


@dataclass(frozen=True, slots=True)
class SizingBody:
    """A request: site and weather for the climate layer, region for the rules, the rest for the core."""

    site: Site
    weather: Weather
    region: str
    request: SizingRequest


def region_field() -> Text:
    """Region whose rules apply."""
    return Text(
        "Region whose rules apply",
        choices=regions(),
        listed_by="list_regions",
        assumed=Assumed(DEFAULT_REGION, fixed("source.international_standards")),
    )


class InputWiringSchema(InputSchema):
    """Modules on each input."""

    modules_per_input = WholeNumber(
        "Modules on each input", at_least=1, at_most=4, assumed=Assumed(1, fixed("source.one_module_on_each_input"))
    )
    wiring = Text(
        "Wiring of the modules on an input: in series their voltages add, in parallel their currents",
        choices=get_args(Wiring),
        assumed=Assumed("series", fixed("source.in_series")),
    )


def input_wiring(data: dict[str, Any]) -> InputWiring:
    """The wiring for the core, from the loaded fields of `InputWiringSchema`, which it removes."""
    return InputWiring(data.pop("modules_per_input"), data.pop("wiring"))


class SizingRequestSchema(InputWiringSchema):
    """One module, its candidate microinverters and the site."""

    site = Nested(SiteSchema, "Where the building stands")
    module = Nested(ModuleSchema, "The module")
    microinverters = Listed(Nested(MicroinverterSchema, "A candidate"), "The candidates", most=MICROINVERTERS_MOST)
    mounting = mounting_field()
    region = region_field()
    cold_voltage_method = Text(
        "Method for the cold open-circuit voltage: the module's own coefficient, or the table of the region's code",
        choices=("module_coefficient", "code_table"),
        assumed=Assumed("module_coefficient", fixed("source.module_coefficient")),
    )
    faces = Listed(
        Nested(FaceSchema, "A face"),
        "Faces, for the DC/AC ratio at the site's irradiance; the checks in heat then use their mountings too",
        most=FACES_MOST,
        required=False,
    )
    weather = weather_field()
    transposition = transposition_field()

    @validates_schema
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """Names must be unique."""
        require_different_names(data, "microinverters", "faces")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> SizingBody:
        """The request for the core."""
        site, region, weather = data.pop("site"), data.pop("region"), data.pop("weather")
        method, wiring = data.pop("cold_voltage_method"), input_wiring(data)
        faces, microinverters = tuple(data.pop("faces") or ()), tuple(data.pop("microinverters"))
        request = SizingRequest(
            **data,
            faces=faces,
            microinverters=microinverters,
            input_wiring=wiring,
            cold_voltage_by_table=method == "code_table",
        )
        return SizingBody(site, weather, region, request)


class CheckSchema(OutputSchema):
    """One electrical check."""

    name = text("Name of the check")
    face = fields.String(
        required=True, allow_none=True, metadata={"description": "Name of the face that it is for; null for the pairing"}
    )
    value = number("Computed value, in `unit`")
    limit = number("Limit of the check, in `unit`; null where there is none", nullable=True)
    unit = text("Unit of value, limit and margin")
    margin = number("Distance to the limit, positive on the safe side; null where there is none", nullable=True)
    verdict = text("Verdict", VERDICTS)
    source = words("Source of the value or the limit")
    explanation = words("What is compared, and why")


class PairingSizingSchema(OutputSchema):
    """One pairing."""

    microinverter = text("Name of the microinverter")
    verdict = text("Worst verdict of the checks", VERDICTS)
    checks = many(CheckSchema, "The checks, the most severe verdict first")


class SizingResultSchema(ResultSchema):
    """Checks of every pairing."""

    module = text("Name of the module")
    place = words("Country or area whose rules were applied")
    edition = text("Edition of these rules")
    design_temperatures = one(DesignTemperaturesSchema, "Design temperatures of the checks")
    pairings = many(PairingSizingSchema, "The pairings, in the order of the request")


def handle(body: SizingBody, stations: StationFolder) -> SizingResult:
    """Compute the result."""
    rules = electrical_rules(body.region)
    if not body.request.faces and isinstance(body.weather, BuiltInClimate):
        # Without faces only the design temperatures are needed: no year is computed.
        return sizing(body.request, rules, extremes(body.site, stations, cold_floors=rules.cold_floors), None)
    year = site_year(body.site, body.weather, stations, cold_floors=rules.cold_floors)
    result = sizing(body.request, rules, year.design_temperatures, year)
    return year.with_notes(result)


OPERATION = Operation(
    path="/v1/sizing",
    operation_id="size_pairings",
    summary="Electrical checks of a module with one or many microinverters",
    description=(
        "Checks each pairing at the site's lowest and highest temperature: absolute voltage, short-circuit current, voltage "
        "windows, start-up, operating current and DC/AC ratio. Every check gives its value, limit, margin, verdict and source. "
        "A pairing whose verdict is `fail` must not be built as described; a `caution` costs energy or leaves little margin. "
        "Modules on an input may be in series or in parallel (`wiring`); irradiance on the back of bifacial modules counts in "
        "the currents. Where the cold voltage comes close to its limit at an estimated temperature, `site_record_low` asks for "
        "the site's own: do not build before it is known. With `faces`, the result also has the DC/AC ratio at the "
        "energy-weighted irradiance of each face. The lowest and highest temperature come from the request, else from the "
        "coldest and hottest of the built-in map, the weather and what the nearest weather file publishes, the lowest also "
        "from the region's custom; the result says which. "
        "The call has no side effects and may be repeated."
    ),
    request=SizingRequestSchema,
    response=SizingResultSchema,
    handle=handle,
)
