"""Sun position by the NREL algorithm (Reda and Andreas 2004, 10.1016/j.solener.2003.12.003), fast enough for a whole year.

The sun's geocentric position changes so smoothly that a cubic spline through one point a day gives it to a millionth of a
degree. The part that depends on the location is computed at each time. Neglected: the change of the difference between
terrestrial and universal time over the years (67 s are assumed; a minute moves the sun by less than 0.001 degrees).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd
import pvlib
from pvlib import spa
from scipy.interpolate import CubicSpline

from wattpair_service.engineering.arrays import FloatArray, IntArray

DELTA_T_S = 67.0
TEMP_AIR_C = 12.0
"""Mean air temperature for the refraction; 20 K more change it by 0.04 degrees at the horizon, and by nothing at high sun."""
REFRACTION_AT_RISE_DEG = 0.5667
DAY_S = 86400.0
MARGIN_DAYS = 1.0
"""How far a year's spline reaches into the years before and after."""
CACHED_YEARS = 32
"""Years whose splines are cached."""


@dataclass(frozen=True, slots=True, eq=False)
class SunPosition:
    """Zenith with and without refraction, and azimuth clockwise from north, at each time [deg]."""

    apparent_zenith_deg: FloatArray
    zenith_deg: FloatArray
    azimuth_deg: FloatArray


def sun_position(times_utc: pd.DatetimeIndex, *, latitude_deg: float, longitude_deg: float, elevation_m: float) -> SunPosition:
    """Sun position at a location.

    Parameters
    ----------
    times_utc : DatetimeIndex
        n times, UTC, without zone, of any years from 1800 to 2200.
    latitude_deg, longitude_deg, elevation_m : float
        Location: -90 to 90, -180 to 180 [deg], elevation above sea level [m].

    Returns
    -------
    SunPosition
        Within 1e-6 degrees of the algorithm at each time.
    """
    seconds = times_utc.as_unit("us").asi8 / 1e6
    days = seconds / DAY_S
    rotation, declination, parallax = np.radians(_geocentric_at(days))
    hour_angle = rotation + np.radians(longitude_deg + (seconds - np.floor(days) * DAY_S) * (360.0 / DAY_S))
    cos_declination, sin_parallax = np.cos(declination), np.sin(parallax)
    u = spa.uterm(latitude_deg)
    x, y = spa.xterm(u, latitude_deg, elevation_m), spa.yterm(u, latitude_deg, elevation_m)
    # Direction of the sun from the location, not from the centre of the earth: to the equator in the meridian, west, and pole.
    equator, west, pole = (
        cos_declination * np.cos(hour_angle) - x * sin_parallax,
        cos_declination * np.sin(hour_angle),
        np.sin(declination) - y * sin_parallax,
    )
    sine, cosine = np.sin(np.radians(latitude_deg)), np.cos(np.radians(latitude_deg))
    south, up = equator * sine - pole * cosine, equator * cosine + pole * sine
    elevation_deg = np.degrees(np.arctan2(up, np.hypot(south, west)))
    pressure_hpa = float(pvlib.atmosphere.alt2pres(elevation_m)) / 100.0
    refraction = spa.atmospheric_refraction_correction(pressure_hpa, TEMP_AIR_C, elevation_deg, REFRACTION_AT_RISE_DEG)
    azimuth = np.mod(np.degrees(np.arctan2(west, south)) + 180.0, 360.0)
    return SunPosition(90.0 - (elevation_deg + refraction), 90.0 - elevation_deg, azimuth)


def _geocentric_at(days: FloatArray) -> FloatArray:
    """Rotation of the sky against the clock, declination and parallax [deg], shape (3, n), at days since 1970."""
    # A year in the site's time begins or ends in another year by UTC.
    middle, early, late = _year(np.array([days[days.size // 2], days.min() + MARGIN_DAYS, days.max() - MARGIN_DAYS])).tolist()
    if early >= middle >= late:
        return np.asarray(_geocentric(middle)(days).T)
    years, position = _year(days), np.empty((3, days.size))
    for year in np.unique(years).tolist():
        in_year = years == year
        position[:, in_year] = _geocentric(year)(days[in_year]).T
    return position


def _year(days: FloatArray) -> IntArray:
    """Calendar year of days since 1970."""
    return np.floor(days).astype(np.int64).astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64) + 1970


@lru_cache(maxsize=CACHED_YEARS)
def _geocentric(year: int) -> CubicSpline:
    """Rotation of the sky against the clock, declination and parallax [deg] over the days since 1970 of one year."""
    first = pd.Timestamp(year=year, month=1, day=1).timestamp() / DAY_S
    days = first + np.arange(-1.0 - MARGIN_DAYS, 368.0 + MARGIN_DAYS)
    julian = spa.julian_day(days * DAY_S)
    century = spa.julian_century(julian)
    ephemeris = spa.julian_ephemeris_century(spa.julian_ephemeris_day(julian, DELTA_T_S))
    millennium = spa.julian_ephemeris_millennium(ephemeris)
    radius = spa.heliocentric_radius_vector(millennium)
    longitude = spa.geocentric_longitude(spa.heliocentric_longitude(millennium))
    latitude = spa.geocentric_latitude(spa.heliocentric_latitude(millennium))
    elements = (
        spa.mean_elongation(ephemeris),
        spa.mean_anomaly_sun(ephemeris),
        spa.mean_anomaly_moon(ephemeris),
        spa.moon_argument_latitude(ephemeris),
        spa.moon_ascending_longitude(ephemeris),
    )
    nutation = np.empty((2, days.size))
    spa.longitude_obliquity_nutation(ephemeris, *elements, nutation)
    obliquity = spa.true_ecliptic_obliquity(spa.mean_ecliptic_obliquity(millennium), nutation[1])
    apparent = spa.apparent_sun_longitude(longitude, nutation[0], spa.aberration_correction(radius))
    sidereal = spa.apparent_sidereal_time(spa.mean_sidereal_time(julian, century), nutation[0], obliquity)
    ascension = spa.geocentric_sun_right_ascension(apparent, obliquity, latitude)
    rotation = np.unwrap(sidereal - ascension, period=360.0)
    declination = spa.geocentric_sun_declination(apparent, obliquity, latitude)
    return CubicSpline(days, np.stack([rotation, declination, spa.equatorial_horizontal_parallax(radius)], axis=1))
