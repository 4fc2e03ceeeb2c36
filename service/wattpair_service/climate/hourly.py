"""A weather year given as arrays."""

from __future__ import annotations

from calendar import isleap
from datetime import datetime
from typing import Literal, get_args

import numpy as np
import pandas as pd

from wattpair_service.climate.clock import with_right_clock
from wattpair_service.climate.plausibility import require_plausible
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import HourlyWeather
from wattpair_service.engineering.sentences import family, sentence

IntervalLabel = Literal["start", "middle", "end"]

MIDDLE_AFTER_LABEL_MIN = {"start": 30, "middle": 0, "end": -30}
CLOCK_SHIFT_MAX_MIN = 45
"""Less is a snapshot within its hour; more contradicts the labels that the caller gives."""

DEFAULT_WIND_M_S = 1.0
HOURLY_VALUES = sentence("climate.hourly_values", "first", "label")
LABELS = family("interval_label", get_args(IntervalLabel))


def hours_in(year: int) -> int:
    """Hours of a calendar year."""
    return 8784 if isleap(year) else 8760


def middle_of_hours(*, first_label: datetime, interval_label: IntervalLabel, utc_offset_h: float) -> pd.DatetimeIndex:
    """Middle of each hour of a year from its first label in standard time, as UTC without zone."""
    shift = pd.Timedelta(minutes=MIDDLE_AFTER_LABEL_MIN[interval_label]) - pd.Timedelta(hours=utc_offset_h)
    first = (pd.Timestamp(first_label) + shift).round("s")
    return pd.date_range(first, periods=hours_in(first_label.year), freq="h", unit="s")


def from_arrays(
    *,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float,
    first_label: datetime,
    utc_offset_h: float,
    interval_label: IntervalLabel,
    ghi_w_m2: FloatArray,
    dni_w_m2: FloatArray | None,
    dhi_w_m2: FloatArray | None,
    temp_air_c: FloatArray,
    wind_speed_m_s: FloatArray | None,
) -> HourlyWeather:
    """A plausible year from arrays of 8,760 values (8,784 where the first label lies in a leap year).

    `first_label` is the first value's time in standard time, without zone; `interval_label` says whether labels are at the
    start, the middle or the end of their hour.

    Raises
    ------
    WeatherError
        A wrong length, only one of beam and diffuse, impossible values, or impossible times.
    """
    expected = hours_in(first_label.year)
    arrays = {
        "ghi_w_m2": ghi_w_m2,
        "dni_w_m2": dni_w_m2,
        "dhi_w_m2": dhi_w_m2,
        "temp_air_c": temp_air_c,
        "wind_speed_m_s": wind_speed_m_s,
    }
    for name, values in arrays.items():
        if values is not None and values.size != expected:
            raise WeatherError(f"{values.size} values; a year from {first_label.year} has {expected} hours", (name,))
    if (dni_w_m2 is None) != (dhi_w_m2 is None):
        raise WeatherError("beam and diffuse irradiance go together: both or neither", ("dni_w_m2", "dhi_w_m2"))
    weather = HourlyWeather(
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=elevation_m,
        utc_offset_h=utc_offset_h,
        middle_utc=middle_of_hours(first_label=first_label, interval_label=interval_label, utc_offset_h=utc_offset_h),
        ghi_w_m2=ghi_w_m2,
        dni_w_m2=dni_w_m2,
        dhi_w_m2=dhi_w_m2,
        temp_air_c=temp_air_c,
        wind_speed_m_s=np.full(expected, DEFAULT_WIND_M_S) if wind_speed_m_s is None else wind_speed_m_s,
        source=HOURLY_VALUES(first=f"{first_label:%Y-%m-%d %H:%M}", label=LABELS[interval_label]),
    )
    weather = with_right_clock(weather)
    if abs(weather.clock_moved_min) >= CLOCK_SHIFT_MAX_MIN:
        raise WeatherError(
            f"beam, diffuse and global irradiance agree only {weather.clock_moved_min:+d} minutes from the times given: "
            "first_label, interval_label, utc_offset_h or the coordinates are not those of the series",
            ("ghi_w_m2",),
        )
    require_plausible(weather)
    return weather
