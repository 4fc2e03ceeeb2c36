"""Refuses weather series that cannot be what they claim, before anything is computed from them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pvlib

from wattpair_service.engineering.conditions import HourlyWeather
from wattpair_service.engineering.errors import WeatherError

FloatArray = npt.NDArray[np.float64]

SOLAR_CONSTANT_W_M2 = 1361.0
# Light while the sun stands this far below the horizon for the whole interval belongs to another hour or zone.
NIGHT_ZENITH_DEG = 100.0
NIGHT_W_M2 = 20.0
NIGHT_HOURS_TOLERATED = 10
HALF_STEP_H = 0.5

TEMP_RANGE_C = (-90.0, 60.0)
WIND_RANGE_M_S = (0.0, 60.0)


def require_plausible(weather: HourlyWeather) -> None:
    """Raise WeatherError where a value is beyond physics or the clock cannot be right.

    Upper limits of irradiance: the "physically possible" ones of the Baseline Surface Radiation Network (Long and Shi
    2008, 10.2174/1874282300802010023), with the highest sun within half an hour of the interval's middle.
    """
    _require_within("temp_air_c", weather.temp_air_c, TEMP_RANGE_C, "degC")
    _require_within("wind_speed_m_s", weather.wind_speed_m_s, WIND_RANGE_M_S, "m/s")
    cosine = _highest_cosine(weather)
    limits = {
        "ghi_w_m2": (weather.ghi_w_m2, 1.5 * SOLAR_CONSTANT_W_M2 * cosine**1.2 + 100.0),
        "dhi_w_m2": (weather.dhi_w_m2, 0.95 * SOLAR_CONSTANT_W_M2 * cosine**1.2 + 50.0),
        "dni_w_m2": (weather.dni_w_m2, np.full_like(cosine, SOLAR_CONSTANT_W_M2 * 1.034)),
    }
    _require_clock(weather)
    for field, (values, highest) in limits.items():
        if values is not None:
            _require_possible(field, values, highest)


def _require_within(field: str, values: FloatArray, allowed: tuple[float, float], unit: str) -> None:
    outside = np.flatnonzero((values < allowed[0]) | (values > allowed[1]) | ~np.isfinite(values))
    if outside.size:
        first = int(outside[0])
        raise WeatherError(
            f"interval {first} is {values[first]:g} {unit}, and {outside.size} of {values.size} are outside "
            f"{allowed[0]:g} to {allowed[1]:g} {unit} or missing",
            (field,),
        )


def _require_possible(field: str, values: FloatArray, highest: FloatArray) -> None:
    outside = np.flatnonzero((values < 0.0) | (values > highest) | ~np.isfinite(values))
    if outside.size:
        first = int(outside[0])
        raise WeatherError(
            f"interval {first} is {values[first]:g} W/m2, where 0 to {highest[first]:.0f} W/m2 is possible; "
            f"{outside.size} of {values.size} are impossible or missing",
            (field,),
        )


def _highest_cosine(weather: HourlyWeather) -> FloatArray:
    """Cosine of the zenith at its smallest within the interval, 0 at night."""
    zenith = [_zenith_deg(weather, shift_h) for shift_h in (-HALF_STEP_H, 0.0, HALF_STEP_H)]
    return np.asarray(np.maximum(np.cos(np.radians(np.min(zenith, axis=0))), 0.0))


def _zenith_deg(weather: HourlyWeather, shift_h: float) -> FloatArray:
    """A cheap zenith (Spencer 1971): a tenth of a degree is enough to judge a series by."""
    times = weather.middle_utc
    day = times.dayofyear.to_numpy().astype(float)
    hour = times.hour.to_numpy() + times.minute.to_numpy() / 60.0 + shift_h
    declination = np.asarray(pvlib.solarposition.declination_spencer71(day))
    equation_min = np.asarray(pvlib.solarposition.equation_of_time_spencer71(day))
    hour_angle = np.radians(15.0 * (hour - 12.0) + weather.longitude_deg + equation_min / 4.0)
    latitude = np.radians(weather.latitude_deg)
    cosine = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _require_clock(weather: HourlyWeather) -> None:
    night = _zenith_deg(weather, 0.0) > NIGHT_ZENITH_DEG
    lit = int(np.sum(weather.ghi_w_m2[night] > NIGHT_W_M2))
    if lit > NIGHT_HOURS_TOLERATED:
        raise WeatherError(
            f"{lit} intervals have light while the sun is far below the horizon at {weather.latitude_deg:g}, "
            f"{weather.longitude_deg:g}: the time zone, the interval label or the coordinates are not those of the series",
            ("ghi_w_m2",),
        )
