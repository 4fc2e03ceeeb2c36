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
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import Conditions, HourlyWeather, from_hourly
from wattpair_service.engineering.irradiance.subhourly import IrradianceOrigin
from wattpair_service.engineering.results import Assumption, Method
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

BUILT_IN_COLD = (
    f"the built-in map's coldest third hour of 2010 to 2018, a mean of some 25 km, less {atlas.COLD_MARGIN_K:g} K: at 95 % of "
    "the stations compared not warmer than the published 20-year minimum; not the site's record"
)
BUILT_IN_HOT = (
    f"the built-in map's warmest third hour of 2010 to 2018, a mean of some 25 km, and {atlas.HOT_MARGIN_K:g} K; not the "
    "site's record"
)

CACHED_YEARS = 8
"""Cached years of stations and files."""

BUILT_IN = Method(
    "built-in climate",
    "1",
    "GLDAS 2.1, MERRA-2 and NASA surface temperatures; the service's PROVENANCE.md has the details",
)
REPRESENTATIVE_DAYS = Method(
    "representative days",
    "1",
    "Bendt, Collares-Pereira and Rabl 1981, 10.1016/0038-092X(81)90013-2; Aguiar and Collares-Pereira 1992, "
    "10.1016/0038-092X(92)90068-L; Ridley, Boland and Lauret 2010, 10.1016/j.renene.2009.07.018; Erbs, Klein and Beckman 1983",
)
SPLIT = Method("beam and diffuse from global", "1", "Driesse, Jensen and Perez 2024, 10.1016/j.solener.2023.112245")


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
        own: str = "the weather's own extreme",
        header: StationExtremes | None = None,
    ) -> DesignTemperatures:
        """Lowest and highest air temperature to design for.

        The caller's, where given. Else the most extreme of what is known: the built-in climate's, the weather's in use, and
        what a weather file publishes for its station; the lowest is also not warmer than the region's custom.

        Parameters
        ----------
        hours_c : tuple of float, optional
            Lowest and highest hour of the weather in use [degC].
        own : str
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
            own_c = (site.temp_lowest_c, "the request", site.temp_highest_c, "the request")
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
            lowest_c, lowest_source, estimated = site.temp_lowest_c, "the request", False
        if site.temp_highest_c is not None:
            highest_c, highest_source = site.temp_highest_c, "the request"
        return DesignTemperatures(lowest_c, lowest_source, highest_c, highest_source, estimated, mean_yearly_lowest_c)

    def _station_extremes(self) -> StationExtremes | None:
        if self.station is None:
            return None
        used, weather = self.station
        return StationExtremes.of(weather, self.elevation_m, used.distance_km)

    def _floors(self) -> Iterator[tuple[float, str]]:
        """The region's temperatures that apply here [degC], each with its source."""
        for floor in self.cold_floors:
            if floor.applies(self.site.latitude_deg, self.elevation_m):
                yield floor.lowest_c, f"the region's custom, colder than other sources: {floor.source}"


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
    def lowest(self) -> tuple[float, str]:
        """Lowest hour in 20 years [degC], and its source."""
        return self.published.lowest_of_20_years_c, f"the 20-year minimum that the weather file publishes for its {self._where}"

    @property
    def highest(self) -> tuple[float, str]:
        """Highest hour in 20 years [degC], and its source."""
        return (
            self.published.highest_of_20_years_c,
            f"the 20-year maximum that the weather file publishes for its {self._where}",
        )

    @property
    def _where(self) -> str:
        return f"station, {self.away_km:.0f} km from the site"


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
        elevation_m, source = (0.0, "sea level") if air is None else (air.map_elevation_m, "mean of some 25 km, built-in map")
        assumptions = (Assumption("site.elevation_m", round(elevation_m, 1), "m", source),)
    station = stations.nearest(latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg, elevation_m=elevation_m)
    return LocatedSite(site, elevation_m, assumptions, air, unknown, station, cold_floors)


def _require_order(site: Site, design: DesignTemperatures) -> None:
    """Refuse a caller's extreme that contradicts the assumed other one."""
    if design.lowest_c < design.highest_c:
        return
    if site.temp_lowest_c is not None:
        message = f"below the highest air temperature, {design.highest_c:.1f} degC: {design.highest_source}"
        raise WeatherError(message, ("site/temp_lowest_c",))
    message = f"above the lowest air temperature, {design.lowest_c:.1f} degC: {design.lowest_source}"
    raise WeatherError(message, ("site/temp_highest_c",))


def _months_extremes(figures: monthly.MonthlyFigures) -> tuple[float, float]:
    """Means of the coldest and warmest month with a margin of 15 K: extremes of a day without other data [degC]."""
    return min(figures.temp_mean_c_by_month) - MONTH_TO_DAY_K, max(figures.temp_mean_c_by_month) + MONTH_TO_DAY_K


def _extreme(built_in_c: float | None, own_c: float | None, outward: float, own: str) -> tuple[float, str]:
    """The more extreme of the two [degC] and its source; `outward` is 1 for the highest, -1 for the lowest."""
    if built_in_c is None:
        assert own_c is not None, "one of the two is known"
        return own_c + outward * TYPICAL_YEAR_MARGIN_K, (
            f"{own}, {own_c:.1f} degC, and {TYPICAL_YEAR_MARGIN_K:g} K further: typical years leave extremes out; not a record"
        )
    if own_c is not None and outward * own_c > outward * built_in_c:
        return own_c, f"{own}, further out than the built-in climate's {built_in_c:.1f} degC; not a record"
    beside = "" if own_c is None else f"; {own} is {own_c:.1f} degC"
    return built_in_c, (BUILT_IN_COLD if outward < 0.0 else BUILT_IN_HOT) + beside


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
    maps = "built-in climate" if climate else "no source"
    assumed: tuple[Assumption, ...] = (
        Assumption("weather.linke_turbidity_by_month", [round(value, 2) for value in turbidity], None, maps),
        Assumption("weather.wind_speed_m_s", round(figures.wind_speed_m_s, 1), "m/s", maps),
    )
    if totals.temp_air_c_by_month is None:
        temps = [round(value, 1) for value in figures.temp_mean_c_by_month]
        assumed += (Assumption("weather.temp_air_c_by_month", temps, "degC", maps),)
    return SiteYear(
        conditions=monthly.conditions(figures),
        climate=ClimateUsed("monthly", "monthly totals in the request", located.elevation_m),
        design_temperatures=located.design_temperatures(
            _months_extremes(figures), own=f"a day {MONTH_TO_DAY_K:g} K beyond the extreme month's mean"
        ),
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
        cautions += (
            f"The station's elevation differs from the site's by {station.height_difference_m:+.0f} m: air temperature and "
            "irradiance differ.",
        )
    used = replace(year.climate, station=station)
    assumed = Assumption("weather.origin", "measured_hourly", None, "the operator's files are assumed to hold hourly means")
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
    calm = "light wind: the cells are rather too warm"
    return replace(year, assumptions=(Assumption("weather.wind_speed_m_s", hourly.DEFAULT_WIND_M_S, "m/s", calm),))


def _from_hours(
    located: LocatedSite, weather: HourlyWeather, *, kind: str, distance_km: float | None, origin: IrradianceOrigin
) -> SiteYear:
    if weather.dni_w_m2 is None and origin == "measured_hourly":
        origin = "measured_global_only"
    climate = located.climate()
    away = "" if distance_km is None else f", {distance_km:.0f} km from the site"
    return SiteYear(
        conditions=from_hourly(weather) if kind == "hourly" else cached_conditions(weather),
        climate=ClimateUsed(kind, weather.source + away, located.elevation_m),
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


def _hours_cautions(weather: HourlyWeather, away_km: float | None) -> Iterator[str]:
    if away_km is not None and away_km > FAR_KM:
        yield f"The weather was recorded {away_km:.0f} km from the site: irradiance and air temperature may differ."
    if weather.clock_moved_min:
        yield (
            f"The weather's times were shifted by {weather.clock_moved_min:+d} minutes, where beam, diffuse and global "
            "irradiance agree: check its time zone and labels. If it comes from satellite snapshots, say so in `origin`."
        )


@lru_cache(maxsize=CACHED_YEARS)
def file_weather(text: str, file_format: files.FileFormat) -> HourlyWeather:
    """Weather of a file, cached by its text: callers send the same weather again with other microinverters."""
    return files.from_text(text, file_format=file_format)


@lru_cache(maxsize=CACHED_YEARS)
def cached_conditions(weather: HourlyWeather) -> Conditions:
    """Conditions of a year, cached by identity: station folder and `file_weather` return the same object each time."""
    return from_hourly(weather).as_cached()
