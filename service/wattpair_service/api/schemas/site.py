"""Site, faces and weather as a request describes them."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, post_load, validates_schema

from wattpair_service.api.schemas.base import InputSchema
from wattpair_service.api.schemas.choice import Choice
from wattpair_service.api.schemas.fields import (
    Assumed,
    FileText,
    LocalTime,
    Nested,
    Number,
    NumberArray,
    Text,
    WholeNumber,
    composed,
)
from wattpair_service.api.schemas.shade import FaceShadeSchema, Horizon
from wattpair_service.climate.weather import BuiltInClimate, FileWeather, HourlyArrays, MonthlyTotals, NearestStation
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.methods import TRANSPOSITIONS
from wattpair_service.engineering.module.cell_temperature import MOUNTINGS
from wattpair_service.engineering.module.rear_irradiance import SHARE_SOURCE
from wattpair_service.engineering.sentences import COMMON_PRACTICE, fixed
from wattpair_service.engineering.site import Site

FACES_MOST = 16
WEATHER_FILE_LONGEST = 4_000_000
HOURS = (8760, 8784)
MONTHS = (12,)
ORIGINS = ("measured_hourly", "satellite_15_min", "satellite_30_min", "satellite_60_min", "reanalysis")


class SiteSchema(InputSchema):
    """Where the building stands."""

    latitude_deg = Number("Latitude, north positive", unit="deg", at_least=-90, at_most=90)
    longitude_deg = Number("Longitude, east positive", unit="deg", at_least=-180, at_most=180)
    elevation_m = Number(
        "Height above sea level; from the built-in map if left out",
        unit="m",
        at_least=-450,
        at_most=6000,
        required=False,
    )
    temp_lowest_c = Number(
        "Lowest expected air temperature, the site's record low; if left out, the result states the value used and its source",
        unit="degC",
        at_least=-70,
        at_most=40,
        required=False,
    )
    temp_highest_c = Number(
        "Highest expected air temperature; if left out, the result states the value used and its source",
        unit="degC",
        at_least=-20,
        at_most=60,
        required=False,
    )

    @validates_schema(skip_on_field_errors=False)
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """The extremes must be in order."""
        lowest, highest = data.get("temp_lowest_c"), data.get("temp_highest_c")
        if lowest is not None and highest is not None and lowest >= highest:
            raise ValidationError(f"below temp_highest_c, which is {highest:g} degC", "temp_lowest_c")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Site:
        """The site for the core."""
        return Site(**data)


def mounting_field() -> Text:
    """How modules are mounted."""
    return Text(
        "Mounting, which determines the cell temperature: "
        + "; ".join(f"{name}: {mounting.description}" for name, mounting in MOUNTINGS.items()),
        choices=tuple(MOUNTINGS),
        assumed=Assumed("close_roof", fixed("source.usual_pitched_roof")),
    )


def transposition_field() -> Text:
    """Transposition model."""
    return Text(
        "Transposition model: gives plane-of-array irradiance from horizontal irradiance",
        choices=tuple(TRANSPOSITIONS),
        assumed=Assumed("perez_1990", fixed("source.most_widely_validated")),
    )


class FaceSchema(InputSchema):
    """One roof plane with its modules."""

    name = Text("Name used in the result; unique among the faces", longest=100)
    tilt_deg = Number("Tilt against the horizontal", unit="deg", at_least=0, at_most=90)
    azimuth_deg = Number("Direction, clockwise from north: 180 is south", unit="deg", at_least=0, at_most=360)
    module_count = WholeNumber("Modules on the face", at_least=1, at_most=1000)
    mounting = mounting_field()
    shading_share = Number(
        "Share of irradiance lost to shading by near objects, 0 to 1, where they are not described in `shade`",
        at_least=0,
        below=1,
        assumed=Assumed(0.0, fixed("source.unshaded")),
    )
    soiling_share = Number(
        "Share of irradiance lost to soiling over the year, 0 to 1",
        at_least=0,
        below=1,
        assumed=Assumed(0.02, COMMON_PRACTICE),
    )
    albedo = Number(
        "Share of irradiance that the ground reflects, 0 to 1", at_least=0, at_most=1, assumed=Assumed(0.2, COMMON_PRACTICE)
    )
    horizon = Horizon(
        "Horizon seen from the face, linear between its points: it takes beam irradiance while the sun is below it, and its "
        "part of the sky's"
    )
    shade = Nested(FaceShadeSchema, "What stands before the sky of the face beside its horizon", required=False)
    rear_irradiance_share = Number(
        "Irradiance on the back of the modules over that on the front, 0 to 1; counts for bifacial modules",
        at_least=0,
        at_most=1,
        assumed=Assumed(None, SHARE_SOURCE),
    )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Face:
        """The face for the core."""
        return Face(**data)


def origin_field() -> Text:
    """How the irradiance was obtained."""
    return Text(
        "How the hourly irradiance was obtained. This determines how much subhourly variability it already contains: "
        "measured_hourly for means of measured minutes, satellite_N_min for one snapshot every N minutes",
        choices=ORIGINS,
        assumed=Assumed("measured_hourly", fixed("source.hourly_means")),
    )


class HourlyWeatherSchema(InputSchema):
    """An hourly year as arrays of 8,760 values, or 8,784 in a leap year."""

    kind = Text("The kind of weather", choices=("hourly",))
    first_label = LocalTime("Time label of the first value in standard time (no daylight saving), without zone")
    utc_offset_h = Number("Standard time's offset from UTC, east positive", unit="h", at_least=-12, at_most=14)
    interval_label = Text(
        "Whether a time label marks the start, the middle or the end of its hour", choices=("start", "middle", "end")
    )
    ghi_w_m2 = NumberArray("Global horizontal irradiance", unit="W/m2", lengths=HOURS)
    dni_w_m2 = NumberArray(
        "Direct normal irradiance; give it with dhi_w_m2, or both are computed from ghi_w_m2",
        unit="W/m2",
        lengths=HOURS,
        required=False,
    )
    dhi_w_m2 = NumberArray("Diffuse horizontal irradiance", unit="W/m2", lengths=HOURS, required=False)
    temp_air_c = NumberArray("Air temperature", unit="degC", lengths=HOURS)
    origin = origin_field()
    wind_speed_m_s = NumberArray(
        "Wind speed at 10 m; if left out, 1 m/s, which gives rather warm cells",
        unit="m/s",
        lengths=HOURS,
        required=False,
    )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> HourlyArrays:
        """The arrays for the climate layer."""
        del data["kind"]
        return HourlyArrays(**data)


class WeatherFileSchema(InputSchema):
    """A weather file's text: a typical year of 8,760 hours, with the station's location."""

    kind = Text("The kind of weather", choices=("file",))
    file_format = Text("Format of the file", choices=("epw", "tmy3"))
    origin = origin_field()
    text = FileText("The whole file as text", longest=WEATHER_FILE_LONGEST)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> FileWeather:
        """The file for the climate layer."""
        del data["kind"]
        return FileWeather(**data)


class BuiltInClimateSchema(InputSchema):
    """The service's built-in climate, for any land."""

    kind = Text("The kind of weather", choices=("climate",))

    @post_load
    def to_dataclass(self, _: dict[str, Any], **__: Any) -> BuiltInClimate:
        """The kind for the climate layer."""
        return BuiltInClimate()


class MonthlyTotalsSchema(InputSchema):
    """Twelve monthly figures, as national handbooks print them."""

    kind = Text("The kind of weather", choices=("monthly",))
    ghi_kwh_m2_by_month = NumberArray(
        "Global horizontal irradiation of January to December", unit="kWh/m2", lengths=MONTHS, at_least=0, at_most=400
    )
    temp_air_c_by_month = NumberArray(
        "Mean air temperature of January to December; from the built-in climate if left out",
        unit="degC",
        lengths=MONTHS,
        at_least=-70,
        at_most=50,
        required=False,
    )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> MonthlyTotals:
        """The figures for the climate layer."""
        temps = data["temp_air_c_by_month"]
        return MonthlyTotals(tuple(data["ghi_kwh_m2_by_month"].tolist()), None if temps is None else tuple(temps.tolist()))


class NearestStationSchema(InputSchema):
    """The nearest file of the operator's station folder."""

    kind = Text("The kind of weather", choices=("station",))

    @post_load
    def to_dataclass(self, _: dict[str, Any], **__: Any) -> NearestStation:
        """The kind for the climate layer."""
        return NearestStation()


def weather_field() -> Choice:
    """The year's weather."""
    return Choice(
        {
            "climate": BuiltInClimateSchema,
            "monthly": MonthlyTotalsSchema,
            "station": NearestStationSchema,
            "hourly": HourlyWeatherSchema,
            "file": WeatherFileSchema,
        },
        "The year's weather: the built-in climate, monthly totals, the operator's nearest station, hourly arrays, or the "
        "text of an EPW or TMY3 file",
        default=BuiltInClimate(),
        assumed=Assumed({"kind": "climate"}, fixed("source.no_other_weather")),
    )


def require_different_names(data: dict[str, Any], *lists: str) -> None:
    """Refuse lists in which two items have the same name."""
    errors: dict[str, dict[int, Any]] = {}
    for field in lists:
        seen: dict[str, int] = {}
        for index, item in enumerate(data[field] or []):
            name = composed(item.name)
            if name in seen:
                found = {"name": [f"a unique name; item {seen[name]} has the same"]}
                errors.setdefault(field, {})[index] = found
            seen.setdefault(name, index)
    if errors:
        raise ValidationError(errors)
