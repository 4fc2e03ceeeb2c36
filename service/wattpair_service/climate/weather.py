"""The ways in which a request may bring its weather, and the one thing that they all become."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from math import asin, cos, radians, sin, sqrt

import numpy as np
import numpy.typing as npt

from wattpair_service.climate import files, hourly
from wattpair_service.engineering.conditions import Conditions, HourlyWeather, from_hourly
from wattpair_service.engineering.electrical_checks import Site
from wattpair_service.engineering.errors import WeatherError

FloatArray = npt.NDArray[np.float64]

EARTH_RADIUS_KM = 6371.0


@dataclass(frozen=True, slots=True, eq=False)
class HourlyArrays:
    """An hourly year as arrays; see `hourly.from_arrays`."""

    first_label: datetime
    utc_offset_h: float
    interval_label: hourly.IntervalLabel
    ghi_w_m2: FloatArray
    dni_w_m2: FloatArray | None
    dhi_w_m2: FloatArray | None
    temp_air_c: FloatArray
    wind_speed_m_s: FloatArray | None


@dataclass(frozen=True, slots=True)
class FileWeather:
    """A weather file's text; see `files.from_text`."""

    file_format: files.FileFormat
    text: str


Weather = HourlyArrays | FileWeather


@dataclass(frozen=True, slots=True, eq=False)
class SiteYear:
    """A year of conditions and a plain sentence on where it comes from."""

    conditions: Conditions
    source: str


def site_year(site: Site, weather: Weather | None) -> SiteYear:
    """The year at a site.

    Raises
    ------
    WeatherError
        No weather, or one that cannot be used; its fields are relative to the request.
    """
    if weather is None:
        raise WeatherError(
            'an object whose kind is "hourly" (arrays of 8,760 values) or "file" (the text of an EPW or TMY3 file)',
            ("weather",),
        )
    try:
        read = _read(site, weather)
    except WeatherError as error:
        raise error.within("weather") from error
    distance = f", {_distance_km(site, read):.0f} km from the site" if isinstance(weather, FileWeather) else ""
    return SiteYear(from_hourly(read), read.source + distance)


def _distance_km(site: Site, read: HourlyWeather) -> float:
    """Great-circle distance (haversine)."""
    north, south = radians(site.latitude_deg), radians(read.latitude_deg)
    east = radians(site.longitude_deg - read.longitude_deg)
    half_chord = sin((north - south) / 2.0) ** 2 + cos(north) * cos(south) * sin(east / 2.0) ** 2
    return 2.0 * EARTH_RADIUS_KM * asin(sqrt(min(half_chord, 1.0)))


def _read(site: Site, weather: Weather) -> HourlyWeather:
    if isinstance(weather, FileWeather):
        return files.from_text(weather.text, file_format=weather.file_format)
    return hourly.from_arrays(
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        elevation_m=site.elevation_m,
        first_label=weather.first_label,
        utc_offset_h=weather.utc_offset_h,
        interval_label=weather.interval_label,
        ghi_w_m2=weather.ghi_w_m2,
        dni_w_m2=weather.dni_w_m2,
        dhi_w_m2=weather.dhi_w_m2,
        temp_air_c=weather.temp_air_c,
        wind_speed_m_s=weather.wind_speed_m_s,
    )
