"""A fast sun position for checks of a series, by Spencer 1971: error a tenth of a degree on average, a quarter at most.

Results are computed with the full algorithm.
"""

from __future__ import annotations

import numpy as np
import pvlib

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.irradiance.conditions import HourlyWeather

BRIGHTEST_W_M2 = 1500.0


def solar_hour(weather: HourlyWeather, shift_h: float = 0.0) -> FloatArray:
    """Hours from solar noon, -12 to 12, `shift_h` after the middle of each interval."""
    times = weather.middle_utc
    equation_min = np.asarray(pvlib.solarposition.equation_of_time_spencer71(_day_of_year(weather)))
    hour = times.hour.to_numpy() + times.minute.to_numpy() / 60.0 + shift_h
    return np.asarray(np.mod(hour + weather.longitude_deg / 15.0 + equation_min / 60.0, 24.0) - 12.0)


def irradiation_middle_h(weather: HourlyWeather, shift_h: float = 0.0) -> float:
    """Middle of the year's irradiation [hours from solar noon], with times `shift_h` later; 0 without irradiation."""
    # Impossible values are refused elsewhere and must not move the middle.
    ghi = np.clip(np.nan_to_num(weather.ghi_w_m2), 0.0, BRIGHTEST_W_M2)
    total = float(ghi.sum())
    return float(ghi @ solar_hour(weather, shift_h)) / total if total > 0.0 else 0.0


def zenith_deg(weather: HourlyWeather, shift_h: float = 0.0) -> FloatArray:
    """Zenith of the sun [deg], `shift_h` after the middle of each interval."""
    declination = np.asarray(pvlib.solarposition.declination_spencer71(_day_of_year(weather)))
    hour_angle = np.radians(15.0 * solar_hour(weather, shift_h))
    latitude = np.radians(weather.latitude_deg)
    cosine = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _day_of_year(weather: HourlyWeather) -> FloatArray:
    """Day of the year from 1, with fraction: around the equinoxes the declination changes by 0.4 degrees a day."""
    times = weather.middle_utc
    return np.asarray(times.dayofyear.to_numpy() + times.hour.to_numpy() / 24.0)
