"""The year at a site from any kind of weather, and the temperatures to design for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from wattpair_service.climate import atlas, files, hourly, monthly
from wattpair_service.climate.geography import distance_km
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import (
    BuiltInClimate,
    FileWeather,
    HourlyArrays,
    MonthlyTotals,
    NearestStation,
    Weather,
)
from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.cautions import Caution, caution_form
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import Conditions, HourlyWeather, from_hourly
from wattpair_service.engineering.irradiance.subhourly import IrradianceOrigin
from wattpair_service.engineering.results import Assumption
from wattpair_service.engineering.sentences import THE_REQUEST, Words, family, fixed, sentence
from wattpair_service.engineering.site import (
    ClimateUsed,
    ColdFloor,
    DesignTemperatures,
    PublishedExtremes,
    Site,
    StationUsed,
)
from wattpair_service.engineering.site_year import SiteYear

FAR_KM = 50.0
FAR_HEIGHT_M = 300.0
TURBIDITY_WITHOUT_MAP = 3.5
WIND_WITHOUT_MAP_M_S = 3.0
TYPICAL_YEAR_MARGIN_K = 5.0
"""Margin beyond a typical year's extremes without other data: such years are chosen for their means. Safety margin, no
source."""

MONTH_TO_DAY_K = 15.0
"""Margin from a month's mean to its extreme day; safety margin, no source."""

BUILT_IN_COLD = sentence("source.built_in_cold", "margin_k")(margin_k=atlas.COLD_MARGIN_K)
BUILT_IN_HOT = sentence("source.built_in_hot", "margin_k")(margin_k=atlas.HOT_MARGIN_K)
OWN_EXTREME = fixed("source.own_extreme")
OF_MONTHS = sentence("source.extreme_of_months", "margin_k")(margin_k=MONTH_TO_DAY_K)
OF_REGION = sentence("source.regions_custom", "source")
STATION_LOWEST, STATION_HIGHEST = (sentence(f"source.station_{each}", "distance_km") for each in ("lowest", "highest"))
WITH_MARGIN = sentence("source.with_margin", "own", "temp_c", "margin_k")
FURTHER_OUT = sentence("source.further_out", "own", "temp_c")
BESIDE = sentence("source.beside", "built_in", "own", "temp_c")
SEA_LEVEL, MAP_MEAN, HOURLY_FILES, CALM = (
    fixed(f"source.{each}") for each in ("sea_level", "map_mean", "hourly_files", "calm")
)
MAPS, NO_MAPS = fixed("source.built_in_climate"), fixed("source.no_source")
MONTHLY_TOTALS = fixed("climate.monthly")
AWAY = sentence("climate.away", "source", "distance_km")
FAR_HEIGHT = caution_form("station_height", "office", "estimate", "height_m")
FAR_WEATHER = caution_form("far_weather", "office", "estimate", "distance_km")
CLOCK_MOVED = caution_form("clock_moved", "office", "estimate", "minutes")
NOT_BELOW, NOT_ABOVE = (sentence(f"error.{each}", "temp_c", "source") for each in ("not_below_highest", "not_above_lowest"))
family(
    "name",
    ("elevation_m", "linke_turbidity_by_month", "wind_speed_m_s", "temp_air_c_by_month", "origin"),
)
family("value", ("measured_hourly",))

CACHED_YEARS = 8
"""Cached years of stations and files."""

BUILT_IN = methods.method("built_in_climate", "2")
REPRESENTATIVE_DAYS = methods.method(
    "representative_days",
    "1",
    "Bendt, Collares-Pereira and Rabl 1981, 10.1016/0038-092X(81)90013-2; Aguiar and Collares-Pereira 1992, "
    "10.1016/0038-092X(92)90068-L; Ridley, Boland and Lauret 2010, 10.1016/j.renene.2009.07.018; Erbs, Klein and Beckman 1983",
)
SPLIT = methods.method("split", "1", "Driesse, Jensen and Perez 2024, 10.1016/j.solener.2023.112245")


@dataclass(frozen=True, slots=True)
class LocatedSite:
    """A site with its elevation, the built-in climate's air temperatures and the operator's nearest station.

    Where the built-in climate has no data, `air` is None and `unknown` says why; `station` is None where none is near.
    `cold_floors` are those of the region.
    """

    site: Site
    elevation_m: float
    assumptions: tuple[Assumption, ...]
    air: atlas.SiteAir | None
    unknown: atlas.NoClimateError | None
    station: tuple[StationUsed, HourlyWeather] | None
    cold_floors: tuple[ColdFloor, ...] = ()

    def climate(self) -> atlas.SiteClimate | None:
        """The built-in climate, where it has data."""
        site = self.site
        return None if self.air is None else atlas.at(site.latitude_deg, site.longitude_deg, site.elevation_m)

    def design_temperatures(
        self,
        hours_c: tuple[float, float] | None = None,
        *,
        own: Words = OWN_EXTREME,
        header: StationExtremes | None = None,
    ) -> DesignTemperatures:
        """Lowest and highest air temperature to design for.

        The caller's, where given. Else the most extreme of what is known: the built-in climate's, the weather's in use, and
        what a weather file publishes for its station; the lowest is also not warmer than the region's custom.

        Parameters
        ----------
        hours_c : tuple of float, optional
            Lowest and highest hour of the weather in use [degC].
        own : Words
            Description of these for the result.
        header : StationExtremes, optional
            What the file in use publishes.

        Raises
        ------
        NoClimateError
            Neither the caller, nor the built-in climate, nor the weather has them.
        """
        site = self.site
        headers = [each for each in (header, self._station_extremes()) if each is not None]
        mean_yearly_lowest_c = headers[0].published.mean_yearly_lowest_c if headers else None
        if site.temp_lowest_c is not None and site.temp_highest_c is not None:
            own_c = (site.temp_lowest_c, THE_REQUEST, site.temp_highest_c, THE_REQUEST)
            return DesignTemperatures(*own_c, mean_yearly_lowest_c=mean_yearly_lowest_c)
        if self.unknown is not None and hours_c is None:
            raise self.unknown
        built_in_c = (self.air.temp_lowest_c, self.air.temp_highest_c) if self.air else (None, None)
        coldest, warmest = hours_c or (None, None)
        lowest = [_extreme(built_in_c[0], coldest, -1.0, own), *(each.lowest for each in headers), *self._floors()]
        highest = [_extreme(built_in_c[1], warmest, 1.0, own), *(each.highest for each in headers)]
        lowest_c, lowest_source = min(lowest, key=lambda each: each[0])
        highest_c, highest_source = max(highest, key=lambda each: each[0])
        estimated = not any(each.away_km <= FAR_KM for each in headers)
        if site.temp_lowest_c is not None:
            lowest_c, lowest_source, estimated = site.temp_lowest_c, THE_REQUEST, False
        if site.temp_highest_c is not None:
            highest_c, highest_source = site.temp_highest_c, THE_REQUEST
        return DesignTemperatures(lowest_c, lowest_source, highest_c, highest_source, estimated, mean_yearly_lowest_c)

    def _station_extremes(self) -> StationExtremes | None:
        if self.station is None:
            return None
        used, weather = self.station
        return StationExtremes.of(weather, self.elevation_m, used.distance_km)

    def _floors(self) -> Iterator[tuple[float, Words]]:
        """The region's temperatures that apply here [degC], each with its source."""
        for floor in self.cold_floors:
            if floor.applies(self.site.latitude_deg, self.elevation_m):
                yield floor.lowest_c, OF_REGION(source=floor.source)


@dataclass(frozen=True, slots=True)
class StationExtremes:
    """What a weather file publishes for its station, at the site's height, and the station's distance from the site [km]."""

    published: PublishedExtremes
    away_km: float

    @classmethod
    def of(cls, weather: HourlyWeather, elevation_m: float, away_km: float) -> StationExtremes | None:
        """Those of a file; None where it publishes none."""
        published = weather.published_extremes
        if published is None:
            return None
        return cls(published.at_height(elevation_m - weather.elevation_m, atlas.LAPSE_K_PER_M), away_km)

    @property
    def lowest(self) -> tuple[float, Words]:
        """Lowest hour in 20 years [degC], and its source."""
        return self.published.lowest_of_20_years_c, STATION_LOWEST(distance_km=self.away_km)

    @property
    def highest(self) -> tuple[float, Words]:
        """Highest hour in 20 years [degC], and its source."""
        return self.published.highest_of_20_years_c, STATION_HIGHEST(distance_km=self.away_km)


def site_year(site: Site, weather: Weather, stations: StationFolder, *, cold_floors: tuple[ColdFloor, ...] = ()) -> SiteYear:
    """The year at a site from any kind of weather; `cold_floors` are those of its region.

    Raises
    ------
    WeatherError
        Unusable weather, a site without built-in climate, or no station near; its fields are paths within a request.
    """
    located = locate(site, stations, cold_floors=cold_floors)
    try:
        year = _year(located, weather, stations.distance_max_km)
    except atlas.NoClimateError as error:
        raise error.within("site") from error
    except WeatherError as error:
        raise error.within("weather") from error
    _require_order(site, year.design_temperatures)
    nearest = None if located.station is None else located.station[0]
    return replace(year, assumptions=(*located.assumptions, *year.assumptions), nearest_station=nearest)


def extremes(site: Site, stations: StationFolder, *, cold_floors: tuple[ColdFloor, ...] = ()) -> DesignTemperatures:
    """Temperatures to design for without weather in the request; WeatherError's fields are paths within a request."""
    try:
        design = locate(site, stations, cold_floors=cold_floors).design_temperatures()
    except atlas.NoClimateError as error:
        missing = [name for name in ("temp_lowest_c", "temp_highest_c") if getattr(site, name) is None]
        message = "the expected extreme of air temperature [degC]: the built-in climate has no data for this location"
        raise WeatherError(message, tuple(f"site/{name}" for name in missing)) from error
    _require_order(site, design)
    return design


def locate(site: Site, stations: StationFolder, *, cold_floors: tuple[ColdFloor, ...] = ()) -> LocatedSite:
    """A site with its elevation, built-in climate and nearest station."""
    air, unknown, assumptions = None, None, tuple[Assumption, ...]()
    try:
        air = atlas.air(site.latitude_deg, site.longitude_deg, site.elevation_m)
    except atlas.NoClimateError as error:
        unknown = error
    elevation_m = site.elevation_m
    if elevation_m is None:
        elevation_m, source = (0.0, SEA_LEVEL) if air is None else (air.map_elevation_m, MAP_MEAN)
        assumptions = (Assumption("site.elevation_m", round(elevation_m, 1), "m", source),)
    station = stations.nearest(latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg, elevation_m=elevation_m)
    return LocatedSite(site, elevation_m, assumptions, air, unknown, station, cold_floors)


def _require_order(site: Site, design: DesignTemperatures) -> None:
    """Refuse a caller's extreme that contradicts the assumed other one."""
    if design.lowest_c < design.highest_c:
        return
    if site.temp_lowest_c is not None:
        message = NOT_BELOW(temp_c=design.highest_c, source=design.highest_source)
        raise WeatherError(message, ("site/temp_lowest_c",))
    raise WeatherError(NOT_ABOVE(temp_c=design.lowest_c, source=design.lowest_source), ("site/temp_highest_c",))


def _months_extremes(figures: monthly.MonthlyFigures) -> tuple[float, float]:
    """Means of the coldest and warmest month with a margin of 15 K: extremes of a day without other data [degC]."""
    return min(figures.temp_mean_c_by_month) - MONTH_TO_DAY_K, max(figures.temp_mean_c_by_month) + MONTH_TO_DAY_K


def _extreme(built_in_c: float | None, own_c: float | None, outward: float, own: Words) -> tuple[float, Words]:
    """The more extreme of the two [degC] and its source; `outward` is 1 for the highest, -1 for the lowest."""
    if built_in_c is None:
        assert own_c is not None, "one of the two is known"
        source = WITH_MARGIN(own=own, temp_c=own_c, margin_k=TYPICAL_YEAR_MARGIN_K)
        return own_c + outward * TYPICAL_YEAR_MARGIN_K, source
    if own_c is not None and outward * own_c > outward * built_in_c:
        return own_c, FURTHER_OUT(own=own, temp_c=built_in_c)
    built_in = BUILT_IN_COLD if outward < 0.0 else BUILT_IN_HOT
    return built_in_c, built_in if own_c is None else BESIDE(built_in=built_in, own=own, temp_c=own_c)


def _year(located: LocatedSite, weather: Weather, distance_max_km: float) -> SiteYear:
    if isinstance(weather, BuiltInClimate):
        return _from_built_in_climate(located)
    if isinstance(weather, MonthlyTotals):
        return _from_months(located, weather)
    if isinstance(weather, NearestStation):
        return _from_station(located, distance_max_km)
    if isinstance(weather, FileWeather):
        return _from_file(located, weather)
    return _from_arrays(located, weather)


def _from_built_in_climate(located: LocatedSite) -> SiteYear:
    climate = located.climate()
    if climate is None:
        assert located.unknown is not None, "without a climate there is a reason"
        raise located.unknown
    return SiteYear(
        conditions=atlas.conditions(climate),
        climate=ClimateUsed("climate", climate.source, located.elevation_m, level_error_share=climate.ghi_error_share),
        design_temperatures=located.design_temperatures(),
        irradiance_origin="representative_days",
        linke_turbidity_by_month=climate.linke_turbidity_by_month,
        cautions=(cautions.BUILT_IN_CLIMATE,),
        method=(BUILT_IN, REPRESENTATIVE_DAYS, methods.SUN_OF_REPRESENTATIVE_DAYS),
    )


def _from_months(located: LocatedSite, totals: MonthlyTotals) -> SiteYear:
    climate = located.climate()
    if climate is None and totals.temp_air_c_by_month is None:
        raise WeatherError(
            "twelve mean air temperatures: the built-in climate has no data for this location", ("temp_air_c_by_month",)
        )
    turbidity = (TURBIDITY_WITHOUT_MAP,) * 12 if climate is None else climate.linke_turbidity_by_month
    figures = monthly.MonthlyFigures(
        latitude_deg=located.site.latitude_deg,
        longitude_deg=located.site.longitude_deg,
        elevation_m=located.elevation_m,
        ghi_kwh_m2_by_month=totals.ghi_kwh_m2_by_month,
        temp_mean_c_by_month=totals.temp_air_c_by_month or (climate.temp_mean_c_by_month if climate else ()),
        linke_turbidity_by_month=turbidity,
        wind_speed_m_s=climate.wind_speed_m_s if climate else WIND_WITHOUT_MAP_M_S,
        temp_range_k_by_month=climate.temp_range_k_by_month if climate else None,
    )
    maps = MAPS if climate else NO_MAPS
    assumed: tuple[Assumption, ...] = (
        Assumption("weather.linke_turbidity_by_month", [round(value, 2) for value in turbidity], None, maps),
        Assumption("weather.wind_speed_m_s", round(figures.wind_speed_m_s, 1), "m/s", maps),
    )
    if totals.temp_air_c_by_month is None:
        temps = [round(value, 1) for value in figures.temp_mean_c_by_month]
        assumed += (Assumption("weather.temp_air_c_by_month", temps, "degC", maps),)
    return SiteYear(
        conditions=monthly.conditions(figures),
        climate=ClimateUsed("monthly", MONTHLY_TOTALS, located.elevation_m),
        design_temperatures=located.design_temperatures(_months_extremes(figures), own=OF_MONTHS),
        irradiance_origin="representative_days",
        linke_turbidity_by_month=turbidity,
        assumptions=assumed,
        method=(REPRESENTATIVE_DAYS, methods.SUN_OF_REPRESENTATIVE_DAYS),
    )


def _from_station(located: LocatedSite, distance_max_km: float) -> SiteYear:
    if located.station is None:
        raise WeatherError(
            f'another kind, such as "climate": no usable station lies within {distance_max_km:g} km of the site', ("kind",)
        )
    station, weather = located.station
    year = _from_hours(located, weather, kind="station", distance_km=station.distance_km, origin="measured_hourly")
    cautions = year.cautions
    if abs(station.height_difference_m) > FAR_HEIGHT_M:
        cautions += (FAR_HEIGHT(height_m=station.height_difference_m),)
    used = replace(year.climate, station=station)
    assumed = Assumption("weather.origin", "measured_hourly", None, HOURLY_FILES)
    return replace(year, climate=used, assumptions=(assumed,), cautions=cautions)


def _from_file(located: LocatedSite, weather: FileWeather) -> SiteYear:
    site, read = located.site, file_weather(weather.text, weather.file_format)
    away_km = float(distance_km(site.latitude_deg, site.longitude_deg, read.latitude_deg, read.longitude_deg))
    return _from_hours(located, read, kind="file", distance_km=away_km, origin=weather.origin)


def _from_arrays(located: LocatedSite, weather: HourlyArrays) -> SiteYear:
    read = hourly.from_arrays(
        latitude_deg=located.site.latitude_deg,
        longitude_deg=located.site.longitude_deg,
        elevation_m=located.elevation_m,
        first_label=weather.first_label,
        utc_offset_h=weather.utc_offset_h,
        interval_label=weather.interval_label,
        ghi_w_m2=weather.ghi_w_m2,
        dni_w_m2=weather.dni_w_m2,
        dhi_w_m2=weather.dhi_w_m2,
        temp_air_c=weather.temp_air_c,
        wind_speed_m_s=weather.wind_speed_m_s,
    )
    year = _from_hours(located, read, kind="hourly", distance_km=None, origin=weather.origin)
    if weather.wind_speed_m_s is not None:
        return year
    return replace(year, assumptions=(Assumption("weather.wind_speed_m_s", hourly.DEFAULT_WIND_M_S, "m/s", CALM),))


def _from_hours(
    located: LocatedSite, weather: HourlyWeather, *, kind: str, distance_km: float | None, origin: IrradianceOrigin
) -> SiteYear:
    if weather.dni_w_m2 is None and origin == "measured_hourly":
        origin = "measured_global_only"
    climate = located.climate()
    source = weather.source if distance_km is None else AWAY(source=weather.source, distance_km=distance_km)
    return SiteYear(
        conditions=from_hourly(weather) if kind == "hourly" else cached_conditions(weather),
        climate=ClimateUsed(kind, source, located.elevation_m),
        design_temperatures=located.design_temperatures(
            _hours_extremes(located, weather), header=StationExtremes.of(weather, located.elevation_m, distance_km or 0.0)
        ),
        irradiance_origin=origin,
        linke_turbidity_by_month=climate.linke_turbidity_by_month if climate else None,
        cautions=tuple(_hours_cautions(weather, distance_km)),
        method=(methods.SUN_POSITION, *(() if weather.dni_w_m2 is not None else (SPLIT,))),
    )


def _hours_extremes(located: LocatedSite, weather: HourlyWeather) -> tuple[float, float]:
    """Coldest and warmest hour [degC], corrected to the site's elevation where that makes them more extreme."""
    cooler_k = atlas.LAPSE_K_PER_M * (located.elevation_m - weather.elevation_m)
    lowest, highest = float(np.min(weather.temp_air_c)), float(np.max(weather.temp_air_c))
    return lowest - max(cooler_k, 0.0), highest + max(-cooler_k, 0.0)


def _hours_cautions(weather: HourlyWeather, away_km: float | None) -> Iterator[Caution]:
    if away_km is not None and away_km > FAR_KM:
        yield FAR_WEATHER(distance_km=away_km)
    if weather.clock_moved_min:
        yield CLOCK_MOVED(minutes=weather.clock_moved_min)


@lru_cache(maxsize=CACHED_YEARS)
def file_weather(text: str, file_format: files.FileFormat) -> HourlyWeather:
    """Weather of a file, cached by its text: callers send the same weather again with other microinverters."""
    return files.from_text(text, file_format=file_format)


@lru_cache(maxsize=CACHED_YEARS)
def cached_conditions(weather: HourlyWeather) -> Conditions:
    """Conditions of a year, cached by identity: station folder and `file_weather` return the same object each time."""
    return from_hourly(weather).as_cached()
