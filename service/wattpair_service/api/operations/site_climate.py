"""POST /v1/site-climate: what the light and the air at a site are like."""

from __future__ import annotations

from dataclasses import dataclass
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
from wattpair_service.engineering.energy.site_climate import SEASONS, SiteClimateRequest, SiteClimateResult, site_climate
from wattpair_service.engineering.site import Site


@dataclass(frozen=True, slots=True)
class SiteClimateBody:
    """A request with what the layers below the core need of it."""

    site: Site
    weather: Weather
    request: SiteClimateRequest


class SiteClimateRequestSchema(InputSchema):
    """A site, and what to look at there."""

    site = Nested(SiteSchema, "Where the building stands")
    weather = weather_field()
    faces = Listed(Nested(FaceSchema, "A face"), "Faces whose light is wanted", most=FACES_MOST, required=False)
    module = Nested(ModuleSchema, "A module whose power at each season's light is wanted; needs faces", required=False)
    microinverters = Listed(
        Nested(MicroinverterSchema, "A candidate"),
        "Microinverters whose DC/AC ratio at each season's light is wanted; needs module and faces",
        most=MICROINVERTERS_MOST,
        required=False,
    )
    transposition = transposition_field()

    @validates_schema
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """Names must differ, and each thing needs what it stands on."""
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
    """One microinverter at a light."""

    microinverter = text("Name of the microinverter")
    dc_ac_ratio = number("Module power at that light over the AC limit that it has to itself")


class SeasonIrradiationSchema(OutputSchema):
    """The light at which a season's energy arrives."""

    season = text("The season, by its months, or the year", tuple(SEASONS))
    poa_kwh_m2 = number("Irradiation of the plane in the season", "kWh/m2")
    irradiance_w_m2 = number("Mean irradiance, weighted with its own energy", "W/m2")
    temp_cell_c = number(
        "Cell temperature, weighted like the light; null without a module or without light", "degC", nullable=True
    )
    module_power_w = number("DC power of the module there; likewise", "W", nullable=True)
    ratios = many(RatioAtIrradianceSchema, "The microinverters, in the order of the request")


class FaceClimateSchema(OutputSchema):
    """Light on one face."""

    face = text("Name of the face")
    poa_kwh_m2_by_month = numbers("Irradiation of the plane, January to December", "kWh/m2")
    poa_kwh_m2 = one(RangeSchema, "Yearly irradiation of the plane, with the range of single years [kWh/m2]")
    level_lower_edges_w_m2 = numbers("Lower edges of the levels of irradiance", "W/m2")
    energy_share_by_level = numbers("Share of the year's energy that arrives at each level, 0 to 1", "1")
    seasons = many(SeasonIrradiationSchema, "The year, then its seasons")


class HorizontalClimateSchema(OutputSchema):
    """Light on the horizontal, and the air."""

    ghi_kwh_m2_by_month = numbers("Global horizontal irradiation, January to December", "kWh/m2")
    ghi_kwh_m2 = one(RangeSchema, "Its yearly sum, with the range of single years [kWh/m2]")
    diffuse_share = number("Diffuse share of it, 0 to 1")
    temp_air_c_by_month = numbers("Mean air temperature, January to December", "degC")


class SiteClimateResultSchema(ResultSchema):
    """The site's light and air."""

    climate = one(ClimateUsedSchema, "Where the year's weather comes from")
    horizontal = one(HorizontalClimateSchema, "Light on the horizontal, and the air")
    linke_turbidity_by_month = fields.List(
        fields.Float(),
        required=True,
        allow_none=True,
        metadata={"description": "Linke turbidity of clear days, January to December; null where the maps have no data"},
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
    """Answer a request."""
    year = site_year(body.site, body.weather, stations)
    result = site_climate(body.request, year)
    return year.with_notes(result)


OPERATION = Operation(
    path="/v1/site-climate",
    operation_id="describe_climate",
    summary="Light and air at a site, by month, level and season",
    description=(
        "Monthly irradiation on the horizontal and on each face, the share of the year's energy at each level of irradiance, "
        "and for each season the light at which the energy arrives: 1000 W/m2 is a laboratory's light, not a roof's. With a "
        "module and microinverters also the module's power and the DC/AC ratio at that light. Design temperatures, turbidity, "
        "the nearest station of the operator and the range of a single year stand beside it, with the source that was used. "
        "The call changes nothing and may be repeated safely."
    ),
    request=SiteClimateRequestSchema,
    response=SiteClimateResultSchema,
    handle=handle,
)
