"""The weighted operating points of a year, the common form of all weather.

Neglected: the horizon of the site (a face has its own), air pressure other than by elevation in the sun's refraction. For
variability inside an interval see `subhourly`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pvlib

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.irradiance.sun_position import sun_position
from wattpair_service.engineering.sentences import Words
from wattpair_service.engineering.site import PublishedExtremes

HOURS_PER_YEAR = 8760.0
SECONDS_PER_DAY = 86400
MONTH_OF_DAY = np.repeat(np.arange(1, 13), [31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
"""Month of each day of a leap year."""
LEAP_DAY = 59
"""Index of 29 February among them."""


@dataclass(frozen=True, slots=True, eq=False)
class Conditions:
    """Operating points of a year: one-dimensional arrays of equal length.

    Attributes
    ----------
    zenith_deg, azimuth_deg : array
        Apparent sun position at the middle of the interval [deg], azimuth clockwise from north.
    ghi_w_m2, dni_w_m2, dhi_w_m2 : array
        Global horizontal, direct normal and diffuse horizontal irradiance [W/m2], not negative.
    dni_extra_w_m2 : array
        Extraterrestrial normal irradiance [W/m2].
    temp_air_c, wind_speed_m_s : array
        Air temperature [degC] and wind speed at 10 m [m/s].
    weight_h : array
        Hours of the year that the point stands for; they add up to a year.
    month, hour : array of int
        Month 1 to 12 and hour of day 0 to 23, in the site's standard time.
    sequence : array of int
        Neighbouring points with equal numbers follow one another in time; each representative day has its own number.
    utc_offset_h : float
        Of the standard time that month and hour are in.
    after_hour_h : float
        Time from the start of `hour` to that of the interval, -0.5 to 0.5 [h]; representative days are in true solar time.
    hour_of_year : array of int or None
        Hour from 1 January on in a leap year's calendar, in the same time; None for representative days.
    latitude_deg : float or None
        Of the sun's path; None where unknown.
    is_cached : bool
        Whether the service caches the year between requests, so that results computed for it may be cached too.
    """

    zenith_deg: FloatArray
    azimuth_deg: FloatArray
    ghi_w_m2: FloatArray
    dni_w_m2: FloatArray
    dhi_w_m2: FloatArray
    dni_extra_w_m2: FloatArray
    temp_air_c: FloatArray
    wind_speed_m_s: FloatArray
    weight_h: FloatArray
    month: IntArray
    hour: IntArray
    sequence: IntArray
    utc_offset_h: float = 0.0
    after_hour_h: float = 0.0
    hour_of_year: IntArray | None = None
    latitude_deg: float | None = None
    is_cached: bool = False

    def __post_init__(self) -> None:
        lengths = {name: each.shape for name, each in self.arrays().items()}
        if len(set(lengths.values())) != 1:
            raise ValueError(f"arrays of unequal shape: {lengths}")

    @property
    def ghi_kwh_m2(self) -> float:
        """Yearly global horizontal irradiation [kWh/m2]."""
        return float(self.ghi_w_m2 @ self.weight_h) / 1000.0

    def where(self, mask: BoolArray) -> Conditions:
        """The points where `mask` is true."""
        points: dict[str, Any] = {name: each[mask] for name, each in self.arrays().items()}
        return replace(self, is_cached=False, **points)

    def as_cached(self) -> Conditions:
        """The same year marked as cached; its arrays can no longer be written to."""
        for each in self.arrays().values():
            each.flags.writeable = False
        return replace(self, is_cached=True)

    def arrays(self) -> dict[str, npt.NDArray[Any]]:
        """The arrays by name."""
        values = {each.name: getattr(self, each.name) for each in fields(self)}
        return {name: each for name, each in values.items() if isinstance(each, np.ndarray)}


@dataclass(frozen=True, slots=True, eq=False)
class HourlyWeather:
    """A year of equal intervals as read, before the sun position is computed.

    `middle_utc` is the middle of each interval (UTC, without zone). `dni_w_m2` and `dhi_w_m2` are both None where only
    the global irradiance is known. `source` is a plain sentence for the result. `clock_moved_min` is the correction of the
    times [min], 0 without one; see `climate.clock`. `published_extremes` are those of the file's header, where it has them.
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    utc_offset_h: float
    middle_utc: pd.DatetimeIndex
    ghi_w_m2: FloatArray
    dni_w_m2: FloatArray | None
    dhi_w_m2: FloatArray | None
    temp_air_c: FloatArray
    wind_speed_m_s: FloatArray
    source: Words
    clock_moved_min: int = 0
    published_extremes: PublishedExtremes | None = None


def from_hourly(weather: HourlyWeather) -> Conditions:
    """Conditions of a year of equal intervals: one point for each interval, all of equal weight.

    Where beam and diffuse are not given, they are split from the global irradiance. Sun position by the NREL algorithm (Reda
    and Andreas 2004, 10.1016/j.solener.2003.12.003). Beam in an interval whose middle lies below the horizon is dropped.
    """
    sun = sun_position(
        weather.middle_utc,
        latitude_deg=weather.latitude_deg,
        longitude_deg=weather.longitude_deg,
        elevation_m=weather.elevation_m,
    )
    zenith = sun.apparent_zenith_deg
    extra = _over_days(weather.middle_utc, lambda days: pvlib.irradiance.get_extra_radiation(days.dayofyear.to_numpy()))
    ghi, dni, dhi = weather.ghi_w_m2, weather.dni_w_m2, weather.dhi_w_m2
    if dni is None or dhi is None:
        dni, dhi = beam_and_diffuse(ghi, sun.zenith_deg, extra)
    local = weather.middle_utc + pd.Timedelta(hours=weather.utc_offset_h)
    count, hour = len(ghi), local.hour.to_numpy().astype(np.int64)
    return Conditions(
        zenith_deg=zenith,
        azimuth_deg=sun.azimuth_deg,
        ghi_w_m2=ghi,
        dni_w_m2=np.where(zenith < 90.0, dni, 0.0),
        dhi_w_m2=dhi,
        dni_extra_w_m2=extra,
        temp_air_c=weather.temp_air_c,
        wind_speed_m_s=weather.wind_speed_m_s,
        weight_h=np.full(count, HOURS_PER_YEAR / count),
        month=_over_days(local, lambda days: days.month).astype(np.int64),
        hour=hour,
        sequence=np.zeros(count, dtype=np.int64),
        utc_offset_h=weather.utc_offset_h,
        latitude_deg=weather.latitude_deg,
        hour_of_year=_over_days(local, _day_of_leap_year).astype(np.int64) * 24 + hour,
    )


def beam_and_diffuse(ghi_w_m2: FloatArray, zenith_deg: FloatArray, dni_extra_w_m2: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Direct normal and diffuse horizontal irradiance [W/m2] from the global, each array of the same n intervals.

    The Erbs model in its continuous form (Driesse, Jensen and Perez 2024, 10.1016/j.solener.2023.112245).
    """
    split = pvlib.irradiance.erbs_driesse(ghi_w_m2, zenith_deg, dni_extra=dni_extra_w_m2)
    return np.nan_to_num(split["dni"]), np.nan_to_num(split["dhi"])


def _day_of_leap_year(days: pd.DatetimeIndex) -> npt.ArrayLike:
    """Days since 1 January, in the calendar of a leap year."""
    after_february = (days.month > 2) & ~np.asarray(days.is_leap_year)
    return days.dayofyear.to_numpy() - 1 + after_february


def _over_days(times: pd.DatetimeIndex, of_days: Callable[[pd.DatetimeIndex], npt.ArrayLike]) -> npt.NDArray[Any]:
    """A quantity that depends on the day only, at each time; computed once for consecutive times of the same day."""
    day = times.as_unit("s").asi8 // SECONDS_PER_DAY
    first_of_day = np.flatnonzero(np.diff(day, prepend=day[:1] - 1))
    return np.repeat(np.asarray(of_days(times[first_of_day])), np.diff(first_of_day, append=day.size))
