"""The year at a site, whatever its weather came as, and the temperatures to design for."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TypeVar

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
from wattpair_service.engineering import cautions
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import Conditions, HourlyWeather, from_hourly
from wattpair_service.engineering.irradiance.subhourly import IntraHourSpread, LightOrigin, intra_hour_spread
from wattpair_service.engineering.results import Assumption, Method, Result
from wattpair_service.engineering.site import ClimateUsed, DesignTemperatures, Site, StationUsed

ResultT = TypeVar("ResultT", bound=Result)
KnownT = TypeVar("KnownT")

FAR_KM = 50.0
FAR_HEIGHT_M = 300.0
TURBIDITY_WITHOUT_MAP = 3.5
WIND_WITHOUT_MAP_M_S = 3.0
TYPICAL_YEAR_MARGIN_K = 5.0
"""Beyond a typical year's extremes where nothing else is known: such years are chosen for their means. Stated safety, no
source."""

MONTH_TO_DAY_K = 15.0
"""From a month's mean to its extreme day, likewise."""

PLACES_KEPT = 8
"""Places of the built-in climate whose spread inside the hour is kept, as the atlas keeps their hours."""
YEARS_KEPT = 8
"""Years of stations and files that are kept, with all that belongs to them."""

BUILT_IN = Method(
    "built-in climate",
    "1",
    "GLDAS 2.1, MERRA-2 and NASA surface temperatures; the service's PROVENANCE.md has the whole account",
)
REPRESENTATIVE_DAYS = Method(
    "representative days",
    "1",
    "Bendt, Collares-Pereira and Rabl 1981, 10.1016/0038-092X(81)90013-2; Aguiar and Collares-Pereira 1992, "
    "10.1016/0038-092X(92)90068-L; Ridley, Boland and Lauret 2010, 10.1016/j.renene.2009.07.018; Erbs, Klein and Beckman 1983",
)
SPLIT = Method("beam and diffuse from global", "1", "Driesse, Jensen and Perez 2024, 10.1016/j.solener.2023.112245")


@dataclass(frozen=True, slots=True, eq=False)
class SiteYear:
    """A year of conditions with what is known of its making.

    `linke_turbidity_by_month` is that of the built-in maps, where they have the place.
    """

    conditions: Conditions
    climate: ClimateUsed
    design: DesignTemperatures
    origin: LightOrigin
    linke_turbidity_by_month: tuple[float, ...] | None = None
    assumptions: tuple[Assumption, ...] = ()
    cautions: tuple[str, ...] = ()
    method: tuple[Method, ...] = ()

    def spread(self) -> IntraHourSpread:
        """What happens inside the hours."""
        find = kept_spread if self.conditions.kept else _spread
        return find(self.conditions, self.origin, self.climate.elevation_m, self.linke_turbidity_by_month)

    def with_findings(self, result: ResultT) -> ResultT:
        """A result that was computed for this year, with what is to be said of the year, each thing once."""
        return replace(
            result,
            assumptions=(*result.assumptions, *self.assumptions),
            cautions=tuple(dict.fromkeys((*result.cautions, *self.cautions))),
            method=tuple(dict.fromkeys((*self.method, *result.method))),
        )


def _spread(
    conditions: Conditions, origin: LightOrigin, elevation_m: float, linke_turbidity_by_month: tuple[float, ...] | None
) -> IntraHourSpread:
    return intra_hour_spread(
        conditions, origin=origin, elevation_m=elevation_m, linke_turbidity_by_month=linke_turbidity_by_month
    )


kept_spread = lru_cache(maxsize=PLACES_KEPT)(_spread)


def site_year(site: Site, weather: Weather, stations: StationFolder) -> SiteYear:
    """The year at a site.

    Raises
    ------
    WeatherError
        A weather that cannot be used, a place that the built-in climate does not know, or no station near; its fields are
        paths within a request.
    """
    try:
        year = _year(site, weather, stations)
    except atlas.NoClimateError as error:
        raise error.within("site") from error
    except WeatherError as error:
        raise error.within("weather") from error
    _require_order(site, year.design)
    return year


def _year(site: Site, weather: Weather, stations: StationFolder) -> SiteYear:
    if isinstance(weather, BuiltInClimate):
        return _built_in(site)
    if isinstance(weather, MonthlyTotals):
        return _from_months(site, weather)
    if isinstance(weather, NearestStation):
        return _from_station(site, stations)
    return _from_hours(site, weather)


def design_temperatures(
    site: Site, hours_c: tuple[float, float] | None = None, *, own: str = "the weather's own extreme"
) -> DesignTemperatures:
    """Lowest and highest air temperature to design for.

    The caller's own stand. Else the built-in climate's extremes, or those of the weather's own hours where they lie beyond.

    Parameters
    ----------
    site : Site
        Its temperatures are the caller's.
    hours_c : tuple of float, optional
        Lowest and highest hour of the weather in use [degC].
    own : str
        What these are, for the result.

    Raises
    ------
    NoClimateError
        Neither the caller, nor the built-in climate, nor hours know them.
    """
    if site.temp_lowest_c is not None and site.temp_highest_c is not None:
        return DesignTemperatures(site.temp_lowest_c, "the request", site.temp_highest_c, "the request")
    air = _or_none(_air, site) if hours_c is not None else _air(site)
    known = (air.temp_lowest_c, air.temp_highest_c) if air else (None, None)
    coldest, warmest = hours_c or (None, None)
    lowest, lowest_source = _extreme(known[0], coldest, -1.0, own)
    highest, highest_source = _extreme(known[1], warmest, 1.0, own)
    if site.temp_lowest_c is not None:
        lowest, lowest_source = site.temp_lowest_c, "the request"
    if site.temp_highest_c is not None:
        highest, highest_source = site.temp_highest_c, "the request"
    return DesignTemperatures(lowest, lowest_source, highest, highest_source)


def extremes(site: Site) -> DesignTemperatures:
    """Temperatures to design for where no weather is asked for; WeatherError's fields are paths within a request."""
    try:
        design = design_temperatures(site)
    except atlas.NoClimateError as error:
        missing = [name for name in ("temp_lowest_c", "temp_highest_c") if getattr(site, name) is None]
        message = "the expected extreme of air temperature [degC]: the built-in climate does not know this place"
        raise WeatherError(message, tuple(f"site/{name}" for name in missing)) from error
    _require_order(site, design)
    return design


def _require_order(site: Site, design: DesignTemperatures) -> None:
    """Refuse a caller's extreme that lies beyond the other one, which the service took."""
    if design.lowest_c < design.highest_c:
        return
    if site.temp_lowest_c is not None:
        message = f"below the highest air temperature, {design.highest_c:.1f} degC: {design.highest_source}"
        raise WeatherError(message, ("site/temp_lowest_c",))
    message = f"above the lowest air temperature, {design.lowest_c:.1f} degC: {design.lowest_source}"
    raise WeatherError(message, ("site/temp_highest_c",))


def _months_extremes(figures: monthly.MonthlyFigures) -> tuple[float, float]:
    """Coldest and warmest month's mean, 15 K beyond: what a day may be where nothing else is known."""
    return min(figures.temp_mean_c_by_month) - MONTH_TO_DAY_K, max(figures.temp_mean_c_by_month) + MONTH_TO_DAY_K


def _extreme(built_in_c: float | None, own_c: float | None, outward: float, own: str) -> tuple[float, str]:
    """The more extreme of the two, and why; `outward` is 1 for the highest, -1 for the lowest."""
    if built_in_c is None:
        assert own_c is not None, "one of the two is known"
        return own_c + outward * TYPICAL_YEAR_MARGIN_K, (
            f"{own}, {own_c:.1f} degC, and {TYPICAL_YEAR_MARGIN_K:g} K further: typical years leave extremes out; not a record"
        )
    if own_c is not None and outward * own_c > outward * built_in_c:
        return own_c, f"{own}, further out than the built-in climate's {built_in_c:.1f} degC; not a record"
    beside = "" if own_c is None else f"; {own} is {own_c:.1f} degC"
    return built_in_c, f"the built-in climate's extreme of 2010 to 2018 with a margin of 2 K or more; not a record{beside}"


def _air(site: Site) -> atlas.SiteAir:
    return atlas.air(site.latitude_deg, site.longitude_deg, site.elevation_m)


def _atlas(site: Site) -> atlas.SiteClimate:
    return atlas.at(site.latitude_deg, site.longitude_deg, site.elevation_m)


def _or_none(find: Callable[[Site], KnownT], site: Site) -> KnownT | None:
    """What the built-in climate knows of a site, where it knows the place."""
    try:
        return find(site)
    except atlas.NoClimateError:
        return None


def _elevation(site: Site) -> tuple[float, tuple[Assumption, ...]]:
    """Height of the site, and the assumption where the caller did not give it."""
    if site.elevation_m is not None:
        return site.elevation_m, ()
    air = _or_none(_air, site)
    height, source = (0.0, "sea level") if air is None else (air.map_elevation_m, "mean of some 25 km, built-in map")
    return height, (Assumption("site.elevation_m", round(height, 1), "m", source),)


def _built_in(site: Site) -> SiteYear:
    climate = _atlas(site)
    height, assumed = _elevation(site)
    return SiteYear(
        conditions=atlas.conditions(climate),
        climate=ClimateUsed("climate", climate.source, height, level_error_share=climate.ghi_error_share),
        design=design_temperatures(site),
        origin="representative_days",
        linke_turbidity_by_month=climate.linke_turbidity_by_month,
        assumptions=assumed,
        cautions=(cautions.BUILT_IN_CLIMATE,),
        method=(BUILT_IN, REPRESENTATIVE_DAYS),
    )


def _from_months(site: Site, totals: MonthlyTotals) -> SiteYear:
    height, assumed = _elevation(site)
    climate = _or_none(_atlas, site)
    if climate is None and totals.temp_air_c_by_month is None:
        raise WeatherError(
            "twelve mean air temperatures: the built-in climate does not know this place", ("temp_air_c_by_month",)
        )
    turbidity = (TURBIDITY_WITHOUT_MAP,) * 12 if climate is None else climate.linke_turbidity_by_month
    figures = monthly.MonthlyFigures(
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        elevation_m=height,
        ghi_kwh_m2_by_month=totals.ghi_kwh_m2_by_month,
        temp_mean_c_by_month=totals.temp_air_c_by_month or (climate.temp_mean_c_by_month if climate else ()),
        linke_turbidity_by_month=turbidity,
        wind_speed_m_s=climate.wind_speed_m_s if climate else WIND_WITHOUT_MAP_M_S,
        temp_range_k_by_month=climate.temp_range_k_by_month if climate else None,
    )
    maps = "built-in climate" if climate else "no source"
    assumed += (
        Assumption("weather.linke_turbidity_by_month", [round(value, 2) for value in turbidity], None, maps),
        Assumption("weather.wind_speed_m_s", round(figures.wind_speed_m_s, 1), "m/s", maps),
    )
    if totals.temp_air_c_by_month is None:
        temps = [round(value, 1) for value in figures.temp_mean_c_by_month]
        assumed += (Assumption("weather.temp_air_c_by_month", temps, "degC", maps),)
    return SiteYear(
        conditions=monthly.conditions(figures),
        climate=ClimateUsed("monthly", "monthly totals in the request", height),
        design=design_temperatures(
            site, _months_extremes(figures), own=f"a day {MONTH_TO_DAY_K:g} K beyond the extreme month's mean"
        ),
        origin="representative_days",
        linke_turbidity_by_month=turbidity,
        assumptions=assumed,
        cautions=(),
        method=(REPRESENTATIVE_DAYS,),
    )


def _from_station(site: Site, stations: StationFolder) -> SiteYear:
    height, assumed = _elevation(site)
    found = stations.nearest(latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg, elevation_m=height)
    if found is None:
        raise WeatherError(
            f'another kind, such as "climate": no usable station lies within {stations.distance_max_km:g} km of the site',
            ("kind",),
        )
    near, weather = found
    year = _of_hours(site, weather, kind="station", away_km=near.distance_km, origin="measured_hourly")
    cautions = year.cautions
    if abs(near.height_difference_m) > FAR_HEIGHT_M:
        cautions += (f"The station stands {near.height_difference_m:+.0f} m against the site: its air and light differ.",)
    used = replace(year.climate, station=near, elevation_m=height)
    assumed += (Assumption("weather.origin", "measured_hourly", None, "the operator's files are taken for hourly means"),)
    return replace(year, climate=used, assumptions=assumed, cautions=cautions)


def _from_hours(site: Site, weather: HourlyArrays | FileWeather) -> SiteYear:
    height, assumed = _elevation(site)
    if isinstance(weather, FileWeather):
        read = file_weather(weather.text, weather.file_format)
        away_km = float(distance_km(site.latitude_deg, site.longitude_deg, read.latitude_deg, read.longitude_deg))
        year = _of_hours(site, read, kind="file", away_km=away_km, origin=weather.origin)
        return replace(year, climate=replace(year.climate, elevation_m=height), assumptions=assumed)
    read = hourly.from_arrays(
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        elevation_m=height,
        first_label=weather.first_label,
        utc_offset_h=weather.utc_offset_h,
        interval_label=weather.interval_label,
        ghi_w_m2=weather.ghi_w_m2,
        dni_w_m2=weather.dni_w_m2,
        dhi_w_m2=weather.dhi_w_m2,
        temp_air_c=weather.temp_air_c,
        wind_speed_m_s=weather.wind_speed_m_s,
    )
    if weather.wind_speed_m_s is None:
        assumed += (
            Assumption("weather.wind_speed_m_s", hourly.DEFAULT_WIND_M_S, "m/s", "light wind: on the warm side for the cells"),
        )
    return replace(_of_hours(site, read, kind="hourly", away_km=None, origin=weather.origin), assumptions=assumed)


def _of_hours(site: Site, weather: HourlyWeather, *, kind: str, away_km: float | None, origin: LightOrigin) -> SiteYear:
    if weather.dni_w_m2 is None and origin == "measured_hourly":
        origin = "measured_global_only"
    climate = _or_none(_atlas, site)
    return SiteYear(
        conditions=from_hourly(weather) if kind == "hourly" else kept_conditions(weather),
        climate=ClimateUsed(
            kind,
            weather.source + ("" if away_km is None else f", {away_km:.0f} km from the site"),
            weather.elevation_m,
        ),
        design=design_temperatures(site, _hours_extremes(site, weather)),
        origin=origin,
        linke_turbidity_by_month=climate.linke_turbidity_by_month if climate else None,
        cautions=tuple(_hours_cautions(weather, away_km)),
        method=() if weather.dni_w_m2 is not None else (SPLIT,),
    )


def _hours_extremes(site: Site, weather: HourlyWeather) -> tuple[float, float]:
    """Coldest and warmest hour, moved to the site's height where that is on the safe side."""
    height, _ = _elevation(site)
    cooler_k = atlas.LAPSE_K_PER_M * (height - weather.elevation_m)
    lowest, highest = float(np.min(weather.temp_air_c)), float(np.max(weather.temp_air_c))
    return lowest - max(cooler_k, 0.0), highest + max(-cooler_k, 0.0)


def _hours_cautions(weather: HourlyWeather, away_km: float | None) -> Iterator[str]:
    if away_km is not None and away_km > FAR_KM:
        yield f"The weather was taken {away_km:.0f} km from the site: light and air may differ."
    if weather.clock_moved_min:
        yield (
            f"The weather's clock was moved by {weather.clock_moved_min:+d} minutes, where beam, diffuse and global light "
            "belong together: look at its time zone and labels. If it comes from satellite snapshots, say so in `origin`."
        )


@lru_cache(maxsize=YEARS_KEPT)
def file_weather(text: str, file_format: files.FileFormat) -> HourlyWeather:
    """Kept by value: who sends a roof's weather once sends it again with the next microinverter."""
    return files.from_text(text, file_format=file_format)


@lru_cache(maxsize=YEARS_KEPT)
def kept_conditions(weather: HourlyWeather) -> Conditions:
    """Kept by identity: station folder and files hand out the same year each time."""
    return from_hourly(weather).as_kept()


def nearest_station(site: Site, stations: StationFolder) -> StationUsed | None:
    """The operator's nearest usable station within the limit, whatever weather is in use."""
    height, _ = _elevation(site)
    found = stations.nearest(latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg, elevation_m=height)
    return found[0] if found else None
