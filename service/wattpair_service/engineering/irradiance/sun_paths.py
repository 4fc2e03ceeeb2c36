"""The sun's path over one day in true solar time, for drawings: the year's energy comes from `sun_position`.

The sun's declination is taken as constant over the day, and refraction is neglected: each moves it by less than half
a degree.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray

OBLIQUITY_DEG = 23.44
"""Of the ecliptic: the declination at the solstices (Meeus, Astronomical Algorithms, 2nd edition, chapter 22, from memory)."""
SOLSTICES_AND_EQUINOX_DEG = (OBLIQUITY_DEG, 0.0, -OBLIQUITY_DEG)
"""Declinations of 21 June, 21 March and 21 September, and 21 December."""
DEG_PER_HOUR = 15.0


@dataclass(frozen=True, slots=True, eq=False)
class SunPath:
    """The sun at hours of true solar time (12 is noon) while it is up: azimuth clockwise from north, and elevation [deg]."""

    hour: FloatArray
    azimuth_deg: FloatArray
    elevation_deg: FloatArray


def sun_path(latitude_deg: float, declination_deg: float, *, steps_per_hour: int = 6) -> SunPath:
    """From sunrise to sunset; without points where the sun does not rise, over 24 hours where it does not set."""
    half_day_h = _half_day_h(latitude_deg, declination_deg)
    hours = np.arange(-12 * steps_per_hour, 12 * steps_per_hour + 1) / steps_per_hour
    hours = hours[np.abs(hours) < half_day_h] if half_day_h < 12.0 else hours
    if 0.0 < half_day_h < 12.0:
        hours = np.concatenate([[-half_day_h], hours, [half_day_h]])
    azimuth_deg, elevation_deg = sun_at(latitude_deg, declination_deg, hours)
    return SunPath(hours + 12.0, azimuth_deg, np.maximum(elevation_deg, 0.0))


def sun_at(latitude_deg: float, declination_deg: float, hours_from_noon: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Azimuth and elevation [deg]."""
    latitude, declination = np.radians(latitude_deg), np.radians(declination_deg)
    angle = np.radians(hours_from_noon * DEG_PER_HOUR)
    east = -np.cos(declination) * np.sin(angle)
    north = np.cos(latitude) * np.sin(declination) - np.sin(latitude) * np.cos(declination) * np.cos(angle)
    up = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(angle)
    elevation = np.arcsin(np.clip(up, -1.0, 1.0))
    return np.degrees(np.arctan2(east, north)) % 360.0, np.degrees(elevation)


def _half_day_h(latitude_deg: float, declination_deg: float) -> float:
    """Hours from sunrise to noon."""
    cosine = -np.tan(np.radians(latitude_deg)) * np.tan(np.radians(declination_deg))
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))) / DEG_PER_HOUR
