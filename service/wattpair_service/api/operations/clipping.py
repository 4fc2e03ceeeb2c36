"""POST /v1/clipping: what each microinverter delivers and loses on each face over the year."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, get_args

from marshmallow import fields, post_load, validates_schema

from wattpair_service.api.exchange.operation import Operation
from wattpair_service.api.operations.sizing import MICROINVERTERS_MOST, InputWiringSchema, input_wiring
from wattpair_service.api.schemas.base import OutputSchema
from wattpair_service.api.schemas.equipment import MicroinverterSchema, ModuleSchema
from wattpair_service.api.schemas.fields import Assumed, Listed, Nested, Number
from wattpair_service.api.schemas.results import (
    ClimateUsedSchema,
    RangeSchema,
    ResultSchema,
    many,
    number,
    numbers,
    one,
    text,
    whole,
)
from wattpair_service.api.schemas.shade import faces_in_surroundings, surroundings_field
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
from wattpair_service.engineering.energy.clipping import ClippingRequest, ClippingResult, clipping
from wattpair_service.engineering.irradiance.subhourly import IrradianceOrigin
from wattpair_service.engineering.sentences import fixed
from wattpair_service.engineering.site import Site


@dataclass(frozen=True, slots=True)
class ClippingBody:
    """A request: site and weather for the climate layer, the rest for the core."""

    site: Site
    weather: Weather
    request: ClippingRequest


class ClippingRequestSchema(InputWiringSchema):
    """Faces with one module, and the microinverters to compare."""

    site = Nested(SiteSchema, "Where the building stands")
    weather = weather_field()
    module = Nested(ModuleSchema, "The module")
    microinverters = Listed(Nested(MicroinverterSchema, "A candidate"), "The candidates", most=MICROINVERTERS_MOST)
    faces = Listed(Nested(FaceSchema, "A face"), "The faces of the roof", most=FACES_MOST)
    degradation_percent_per_year = Number(
        "Power that the module loses from each year to the next, compounding",
        unit="%",
        at_least=0,
        at_most=5,
        assumed=Assumed(0.5, fixed("source.median_degradation")),
    )
    surroundings = surroundings_field()
    transposition = transposition_field()

    @validates_schema
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """Names must be unique."""
        require_different_names(data, "microinverters", "faces")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> ClippingBody:
        """The request for the core."""
        request = ClippingRequest(
            module=data["module"],
            microinverters=tuple(data["microinverters"]),
            faces=faces_in_surroundings(data["faces"], data["surroundings"], data["module"]),
            transposition=data["transposition"],
            input_wiring=input_wiring(data),
            degradation_share_per_year=data["degradation_percent_per_year"] / 100.0,
        )
        return ClippingBody(data["site"], data["weather"], request)


class BalanceSchema(OutputSchema):
    """An energy balance: `unshaded_kwh` minus all losses is `delivered_kwh`; `available_kwh` is what shade leaves of it."""

    unshaded_kwh = number("At the maximum power point of the module, without shade by horizon and objects", "kWh")
    shade_irradiance_kwh = number("Lost because shade takes irradiance, as if power went with it", "kWh")
    shade_mismatch_kwh = number(
        "Lost because cells and modules in series carry one current, and shaded groups are bypassed", "kWh"
    )
    available_kwh = number("At the highest maximum power point of the module", "kWh")
    tracker_kwh = number("Lost because a local tracker stays off the highest maximum", "kWh")
    start_up_kwh = number("Lost because the voltage or power was too low to start", "kWh")
    voltage_window_kwh = number("Lost because the operating window kept the module off its maximum power point", "kWh")
    input_current_limit_kwh = number("Lost because the input current was at its limit", "kWh")
    conversion_kwh = number("Lost in conversion, before clipping", "kWh")
    clipping_kwh = number("Lost because AC output was at its limit", "kWh")
    thermal_derating_kwh = number("Lost because heat lowered the AC limit further", "kWh")
    night_draw_kwh = number("Drawn from the grid while delivering nothing", "kWh")
    delivered_kwh = number("Delivered to the AC side, net of the night draw", "kWh")


class DurationSchema(OutputSchema):
    """Power duration curve before the AC limit, for one module."""

    ac_power_w = numbers("Levels of AC power, rising from zero", "W")
    hours_h = numbers("Hours of the year with at least that power", "h")


class AgedYearSchema(OutputSchema):
    """One year of the module's life."""

    year = whole("Year of the module's life, from 1")
    remaining_share = number("Module power over that of the first year, 0 to 1")
    clipped_share = number("Clipping as a share of the AC energy without a limit, 0 to 1")
    delivered_kwh = number("Delivered to the AC side, net of the night draw", "kWh")


class PairingYearSchema(OutputSchema):
    """A year of one module with one microinverter."""

    year = one(BalanceSchema, "The year")
    months = many(BalanceSchema, "January to December")
    clipped_hours_h = number("Hours at the AC limit", "h")
    clipped_kwh_by_month_hour = fields.List(
        fields.List(fields.Float()),
        required=True,
        metadata={
            "description": "Clipped energy: 12 months of 24 hours of the day in standard time [kWh]",
            "x-unit": "kWh",
        },
    )
    duration = one(DurationSchema, "Power duration curve, to compare with the AC limit")
    ageing = many(AgedYearSchema, "Years 1, 10 and 25 of the module's life")


class PairingClippingSchema(OutputSchema):
    """One microinverter on a face."""

    microinverter = text("Name of the microinverter")
    ac_limit_per_module_w = number("AC limit per module of a full unit", "W")
    clipped_share = one(RangeSchema, "Clipping as a share of the AC energy without a limit, 0 to 1, with subhourly variability")
    clipped_share_hourly_means = number("The same from hourly means, without subhourly variability")
    per_module = one(PairingYearSchema, "Energy of one module")


class FaceIrradiationSchema(OutputSchema):
    """Irradiation of a face."""

    poa_kwh_m2 = number("Yearly plane-of-array irradiation", "kWh/m2")
    poa_kwh_m2_by_month = numbers("Plane-of-array irradiation, January to December", "kWh/m2")
    effective_irradiation_kwh_m2 = number(
        "Yearly irradiation that reaches the cells after shading_share, soiling and reflection, without horizon and shade",
        "kWh/m2",
    )
    energy_weighted_irradiance_w_m2 = number("Energy-weighted mean irradiance of the year", "W/m2")


class ShadeOfModuleSchema(OutputSchema):
    """What shade takes of one module."""

    module_number = whole("Number of the module, from 1, in the order of its places or its layout")
    x_m = number("Lower left corner, along the eaves", "m")
    y_m = number("Lower left corner, up the slope", "m")
    unshaded_kwh = number("DC energy of a year without shade", "kWh")
    loss_kwh = number("What shade takes of it", "kWh")
    loss_share = number("The same as a share, 0 to 1")
    loss_kwh_by_month = numbers("The same in January to December", "kWh")


class ShadeOfFaceSchema(OutputSchema):
    """What shade takes of a face before any microinverter."""

    unshaded_kwh = number("DC energy of all modules in a year without shade", "kWh")
    loss_share = one(RangeSchema, "Share of it that shade takes, 0 to 1, with the range by tolerances of distances and heights")
    loss_kwh_by_month = numbers("What shade takes of all modules, January to December", "kWh")
    modules = many(ShadeOfModuleSchema, "Each module; empty where all of them are shaded alike")


class FaceClippingSchema(OutputSchema):
    """One face with every microinverter."""

    face = text("Name of the face")
    module_count = whole("Modules on the face")
    irradiation = one(FaceIrradiationSchema, "Irradiation of the face")
    shade = fields.Nested(
        ShadeOfFaceSchema,
        required=True,
        allow_none=True,
        metadata={"description": "What shade takes; null where nothing stands before the sky"},
    )
    pairings = many(PairingClippingSchema, "The microinverters, in the order of the request")


class RoofTotalSchema(OutputSchema):
    """All faces with the same microinverter."""

    microinverter = text("Name of the microinverter")
    balance = one(BalanceSchema, "Energy of all modules")
    delivered_range_kwh = one(RangeSchema, "Delivered energy of a single year with its range [kWh]")
    clipped_share = one(RangeSchema, "Clipping as a share of the AC energy without a limit, 0 to 1, with subhourly variability")
    clipped_share_hourly_means = number("The same from hourly means, without subhourly variability")
    ageing = many(AgedYearSchema, "Years 1, 10 and 25 of the modules' life, of the whole roof")
    specific_yield_kwh_per_kwp = number("Delivered energy per kilowatt of module power", "kWh/kWp")


class SubhourlyUsedSchema(OutputSchema):
    """Subhourly variability that was used."""

    origin = text(
        "How the irradiance was obtained",
        get_args(IrradianceOrigin),
    )
    variability_factor = number(
        "Subhourly variability that was added, over what hourly means of measured irradiance lack: below 1 for snapshots, "
        "which contain some of it, above 1 for irradiance that is smoother than hourly means"
    )
    linke_turbidity = number("Mean Linke turbidity of the clear-sky model")
    turbidity_from_hours_share = number("Share of hours whose turbidity follows from their own irradiance, 0 to 1")


class ClippingResultSchema(ResultSchema):
    """Energy of each face and of the roof."""

    module = text("Name of the module")
    climate = one(ClimateUsedSchema, "Where the year's weather comes from")
    subhourly = one(SubhourlyUsedSchema, "Subhourly variability that was used")
    ghi_kwh_m2 = number("Yearly global horizontal irradiation", "kWh/m2")
    faces = many(FaceClippingSchema, "The faces, in the order of the request")
    totals = many(RoofTotalSchema, "The whole roof for each microinverter, in the order of the request")


def handle(body: ClippingBody, stations: StationFolder) -> ClippingResult:
    """Compute the result."""
    year = site_year(body.site, body.weather, stations)
    return year.with_notes(clipping(body.request, year))


OPERATION = Operation(
    path="/v1/clipping",
    operation_id="compute_clipping",
    summary="Yearly energy and losses of each face with each microinverter",
    description=(
        "Gives for every face and microinverter: the yearly and monthly energy balance of one module, the hours at the AC "
        "limit, clipped energy by month and hour of day, the power duration curve, and clipping as the module ages; then the "
        "whole roof for each microinverter. The losses and the delivered energy add up to the energy available at maximum "
        "power. `clipped_share` includes subhourly variability and has a range; `clipped_share_hourly_means` is what hourly "
        "means alone would show. The call has no side effects and may be repeated."
    ),
    request=ClippingRequestSchema,
    response=ClippingResultSchema,
    handle=handle,
)
