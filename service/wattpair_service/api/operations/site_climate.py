"""POST /v1/site-climate: irradiation, temperatures and turbidity at a site."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from marshmallow import ValidationError, fields, post_load, validates_schema

from wattpair_service.api.exchange.operation import Operation
from wattpair_service.api.operations.sizing import MICROINVERTERS_MOST
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.equipment import MicroinverterSchema, ModuleSchema
from wattpair_service.api.schemas.fields import Listed, Nested
from wattpair_service.api.schemas.results import (
    ClimateUsedSchema,
    DesignTemperaturesSchema,
    RangeSchema,
    ResultSchema,
    StationUsedSchema,
    many,
    number,
    numbers,
    one,
    text,
)
from wattpair_service.api.schemas.site import (
    FACES_MOST,
    FaceSchema,
    SiteSchema,
    require_different_names,
    transposition_field,
    weather_field,
)
from wattpair_service.climate.site_year import site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import Weather
from wattpair_service.engineering.energy.site_climate import (
    SEASONS,
    WITHOUT_SHADE,
    SiteClimateRequest,
    SiteClimateResult,
    site_climate,
)
from wattpair_service.engineering.site import Site


@dataclass(frozen=True, slots=True)
class SiteClimateBody:
    """A request: site and weather for the climate layer, the rest for the core."""

    site: Site
    weather: Weather
    request: SiteClimateRequest


class SiteClimateRequestSchema(InputSchema):
    """A site, and the faces, module and microinverters to describe there."""

    site = Nested(SiteSchema, "Where the building stands")
    weather = weather_field()
    faces = Listed(Nested(FaceSchema, "A face"), "Faces, for their irradiation", most=FACES_MOST, required=False)
    module = Nested(ModuleSchema, "A module, for its power at each season's irradiance; needs faces", required=False)
    microinverters = Listed(
        Nested(MicroinverterSchema, "A candidate"),
        "Microinverters, for their DC/AC ratio at each season's irradiance; needs module and faces",
        most=MICROINVERTERS_MOST,
        required=False,
    )
    transposition = transposition_field()

    @validates_schema
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """Names must be unique; a module needs faces, and microinverters need a module."""
        require_different_names(data, "microinverters", "faces")
        if data["module"] is not None and not data["faces"]:
            raise ValidationError("at least one face, where a module is given", "faces")
        if data["microinverters"] and data["module"] is None:
            raise ValidationError("a module, where microinverters are given", "module")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> SiteClimateBody:
        """The request for the core."""
        request = SiteClimateRequest(
            faces=tuple(data["faces"] or ()),
            module=data["module"],
            microinverters=tuple(data["microinverters"] or ()),
            transposition=data["transposition"],
        )
        return SiteClimateBody(data["site"], data["weather"], request)


class RatioAtIrradianceSchema(OutputSchema):
    """DC/AC ratio of one microinverter at a season's irradiance."""

    microinverter = text("Name of the microinverter")
    dc_ac_ratio = number("Module power at that irradiance over the AC limit per module")


class SeasonIrradiationSchema(OutputSchema):
    """Irradiation of a season, and its energy-weighted irradiance."""

    season = text("The season, by its months, or the year", tuple(SEASONS))
    poa_kwh_m2 = number("Plane-of-array irradiation in the season", "kWh/m2")
    irradiance_w_m2 = number("Energy-weighted mean of the plane-of-array irradiance", "W/m2")
    temp_cell_c = number(
        "Irradiance-weighted cell temperature; null without a module or without irradiation", "degC", nullable=True
    )
    module_power_w = number(
        "DC power of the module at that irradiance and temperature; null in the same cases", "W", nullable=True
    )
    ratios = many(RatioAtIrradianceSchema, "The microinverters, in the order of the request")


class FaceClimateSchema(OutputSchema):
    """Irradiation of one face."""

    face = text("Name of the face")
    poa_kwh_m2_by_month = numbers("Plane-of-array irradiation, January to December", "kWh/m2")
    poa_kwh_m2 = one(RangeSchema, "Yearly plane-of-array irradiation, with the range of single years [kWh/m2]")
    level_lower_edges_w_m2 = numbers("Lower edges of the irradiance levels", "W/m2")
    energy_share_by_level = numbers("Share of the yearly irradiation at each irradiance level, 0 to 1", "1")
    seasons = many(SeasonIrradiationSchema, "The year, then its seasons")


class HorizontalClimateSchema(OutputSchema):
    """Irradiation on the horizontal, and air temperature."""

    ghi_kwh_m2_by_month = numbers("Global horizontal irradiation, January to December", "kWh/m2")
    ghi_kwh_m2 = one(RangeSchema, "Yearly global horizontal irradiation, with the range of single years [kWh/m2]")
    diffuse_share = number("Diffuse share of the yearly global horizontal irradiation, 0 to 1")
    temp_air_c_by_month = numbers("Mean air temperature, January to December", "degC")


class SiteClimateResultSchema(ResultSchema):
    """Irradiation, temperatures and turbidity of a site."""

    climate = one(ClimateUsedSchema, "Where the year's weather comes from")
    horizontal = one(HorizontalClimateSchema, "Irradiation on the horizontal, and air temperature")
    linke_turbidity_by_month = fields.List(
        fields.Float(),
        required=True,
        allow_none=True,
        metadata={"description": "Linke turbidity, January to December; null where the maps have no data"},
    )
    design_temperatures = one(DesignTemperaturesSchema, "Temperatures to design for")
    nearest_station = fields.Nested(
        StationUsedSchema,
        required=True,
        allow_none=True,
        metadata={"description": "Nearest usable file of the operator's folder within its limit; null where there is none"},
    )
    faces = many(FaceClimateSchema, "The faces, in the order of the request")


def handle(body: SiteClimateBody, stations: StationFolder) -> SiteClimateResult:
    """Compute the result."""
    year = site_year(body.site, body.weather, stations)
    result = site_climate(body.request, year)
    # In a design, clipping and selection count them beside it.
    if any(face.is_shaded for face in body.request.faces):
        result = replace(result, cautions=(*result.cautions, WITHOUT_SHADE))
    return year.with_notes(result)


OPERATION = Operation(
    path="/v1/site-climate",
    operation_id="describe_climate",
    summary="Irradiation and temperature at a site, by month, irradiance level and season",
    description=(
        "Gives monthly irradiation on the horizontal and on each face, the share of the yearly irradiation at each irradiance "
        "level, and each season's energy-weighted irradiance, which on a roof is well below the 1000 W/m2 of test conditions. "
        "With a module and microinverters it also gives the module's power and the DC/AC ratio at that irradiance. The result "
        "has design temperatures, turbidity, the nearest station of the operator, the range of single years and the source of "
        "the weather. Horizon and shade of a face do not count here. The call has no side effects and may be repeated."
    ),
    request=SiteClimateRequestSchema,
    response=SiteClimateResultSchema,
    handle=handle,
)
