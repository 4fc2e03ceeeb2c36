"""Request and answer of POST /v1/clipping."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from marshmallow import fields, post_load, validates_schema

from wattpair_service.api.equipment_schemas import MicroinverterSchema, ModuleSchema
from wattpair_service.api.fields import Listed, Nested
from wattpair_service.api.place_schemas import (
    FACES_MOST,
    FaceSchema,
    SiteSchema,
    require_different_names,
    transposition_field,
    weather_field,
)
from wattpair_service.api.result_schemas import (
    RangeSchema,
    ResultSchema,
    many,
    number,
    numbers,
    one,
    text,
    whole,
)
from wattpair_service.api.schema import InputSchema, OutputSchema
from wattpair_service.api.sizing_schemas import MICROINVERTERS_MOST, modules_per_input_field
from wattpair_service.climate.request import Weather
from wattpair_service.engineering.clipping import ClippingRequest
from wattpair_service.engineering.electrical_checks import Site


@dataclass(frozen=True, slots=True)
class ClippingBody:
    """A request with what the layers below the core need of it."""

    site: Site
    weather: Weather | None
    request: ClippingRequest


class ClippingRequestSchema(InputSchema):
    """Faces with one kind of module, and the microinverters to compare."""

    site = Nested(SiteSchema, "Where the building stands")
    weather = weather_field()
    module = Nested(ModuleSchema, "The module")
    microinverters = Listed(Nested(MicroinverterSchema, "A candidate"), "The candidates", most=MICROINVERTERS_MOST)
    faces = Listed(Nested(FaceSchema, "A face"), "The faces of the roof", most=FACES_MOST)
    modules_per_input = modules_per_input_field()
    transposition = transposition_field()

    @validates_schema
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """Names must differ."""
        require_different_names(data, "microinverters", "faces")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> ClippingBody:
        """The request for the core."""
        request = ClippingRequest(
            module=data["module"],
            microinverters=tuple(data["microinverters"]),
            faces=tuple(data["faces"]),
            transposition=data["transposition"],
            modules_per_input=data["modules_per_input"],
        )
        return ClippingBody(data["site"], data["weather"], request)


class BalanceSchema(OutputSchema):
    """An energy balance: `available_kwh` less every loss is `delivered_kwh`."""

    available_kwh = number("At the maximum power point of the module", "kWh")
    start_up_kwh = number("Lost because the voltage or power was too low to start", "kWh")
    voltage_window_kwh = number("Lost because the operating window kept the module off its maximum power point", "kWh")
    input_current_limit_kwh = number("Lost because the input took no more current", "kWh")
    conversion_kwh = number("Lost as heat in conversion, counted before clipping", "kWh")
    clipping_kwh = number("Lost because AC output was at its limit", "kWh")
    thermal_derating_kwh = number("Lost because heat lowered the AC limit further", "kWh")
    night_draw_kwh = number("Drawn from the grid while giving nothing", "kWh")
    delivered_kwh = number("Delivered to the AC side, net of the night draw", "kWh")


class DurationSchema(OutputSchema):
    """Power duration curve before the AC limit, for one module."""

    ac_power_w = numbers("Levels of AC power, rising from zero", "W")
    hours_h = numbers("Hours of the year with at least that power", "h")


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
    duration = one(DurationSchema, "Power duration curve, to be read against the AC limit")


class PairingClippingSchema(OutputSchema):
    """One microinverter on a face."""

    microinverter = text("Name of the microinverter")
    ac_limit_per_module_w = number("AC limit that each module has to itself", "W")
    clipped_share = one(RangeSchema, "Clipping as a share of the AC energy without a limit, 0 to 1")
    per_module = one(PairingYearSchema, "Energy of one module")


class FaceLightSchema(OutputSchema):
    """Light on a face."""

    in_plane_kwh_m2 = number("Yearly irradiation of the plane", "kWh/m2")
    in_plane_kwh_m2_by_month = numbers("The same for January to December", "kWh/m2")
    effective_kwh_m2 = number("What reaches the cells after shading, soiling and reflection", "kWh/m2")
    energy_weighted_irradiance_w_m2 = number("Light at which the year's energy arrives", "W/m2")


class FaceClippingSchema(OutputSchema):
    """One face with every microinverter."""

    face = text("Name of the face")
    module_count = whole("Modules on the face")
    light = one(FaceLightSchema, "Light on the face")
    pairings = many(PairingClippingSchema, "The microinverters, in the order of the request")


class RoofTotalSchema(OutputSchema):
    """All faces with the same microinverter."""

    microinverter = text("Name of the microinverter")
    balance = one(BalanceSchema, "Energy of all modules")
    delivered_range_kwh = one(RangeSchema, "Delivered energy of a single year with its range [kWh]")
    clipped_share = one(RangeSchema, "Clipping as a share of the AC energy without a limit, 0 to 1")
    specific_yield_kwh_per_kwp = number("Delivered energy for each kilowatt of module power", "kWh/kWp")


class ClippingResultSchema(ResultSchema):
    """Faces and roof."""

    module = text("Name of the module")
    weather_source = text("Where the weather comes from")
    ghi_kwh_m2 = number("Yearly global horizontal irradiation", "kWh/m2")
    faces = many(FaceClippingSchema, "The faces, in the order of the request")
    totals = many(RoofTotalSchema, "The whole roof for each microinverter, in the order of the request")
