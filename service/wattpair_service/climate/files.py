"""Weather files: EPW (whose labels end the hour) and TMY3 (likewise), read with pvlib."""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable
from typing import Any, Literal

import numpy as np
import pandas as pd
import pvlib

from wattpair_service.climate.hourly import hours_in
from wattpair_service.climate.plausibility import require_plausible
from wattpair_service.engineering.conditions import HourlyWeather
from wattpair_service.engineering.errors import WeatherError

FileFormat = Literal["epw", "tmy3"]

TYPICAL_YEAR = 2023
"""Months of a typical year come from different years; the sun is computed for this one, which has no leap day."""

_COLUMNS = {
    "ghi": "ghi_w_m2",
    "dni": "dni_w_m2",
    "dhi": "dhi_w_m2",
    "temp_air": "temp_air_c",
    "wind_speed": "wind_speed_m_s",
}
# Both formats mark a missing value by a number that no sensor gives: 9999 or -9900 for light, 99.9 for air, 999 for wind.
_MISSING_ABOVE = {"ghi": 9000.0, "dni": 9000.0, "dhi": 9000.0, "temp_air": 99.0, "wind_speed": 900.0}
_MISSING_BELOW = -9000.0


def from_text(text: str, *, file_format: FileFormat) -> HourlyWeather:
    """A checked typical year from the text of a weather file.

    Parameters
    ----------
    text : str
        The whole file.
    file_format : str
        `epw` or `tmy3`.

    Raises
    ------
    WeatherError
        Not such a file, cut short, missing columns or values, impossible values.
    """
    read: Callable[..., tuple[pd.DataFrame, dict[str, Any]]] = (
        pvlib.iotools.read_epw if file_format == "epw" else pvlib.iotools.read_tmy3
    )
    try:
        with warnings.catch_warnings():
            # Columns of mixed types hold a fault that is named below, or are not used.
            warnings.simplefilter("ignore", pd.errors.DtypeWarning)
            table, place = read(io.StringIO(text), coerce_year=TYPICAL_YEAR)
        latitude, longitude = float(place["latitude"]), float(place["longitude"])
        elevation, utc_offset_h = float(place["altitude"]), float(place["TZ"])
    except (ValueError, KeyError, IndexError, TypeError, AttributeError, OverflowError) as error:
        # The reader's own words, without their advice to programmers.
        words = str(error).partition("\n")[0].removesuffix(" You might want to try:")
        reason = f"it has no {words}" if isinstance(error, KeyError) else words
        raise WeatherError(f"this is not a readable {file_format.upper()} file: {reason}", ("text",)) from error
    _require_place(latitude, longitude, elevation, utc_offset_h)
    columns = {field: _column(table, name, field) for name, field in _COLUMNS.items()}
    middle_utc = _middle_utc(table, file_format, utc_offset_h)
    weather = HourlyWeather(
        latitude_deg=latitude,
        longitude_deg=longitude,
        elevation_m=elevation,
        utc_offset_h=utc_offset_h,
        middle_utc=middle_utc,
        source=f"{file_format.upper()} typical year at {latitude:g}, {longitude:g}, {elevation:g} m",
        **columns,
    )
    try:
        require_plausible(weather)
    except WeatherError as error:
        raise WeatherError(f"{error.fields[0]}: {error}", ("text",)) from error
    return weather


def _require_place(latitude_deg: float, longitude_deg: float, elevation_m: float, utc_offset_h: float) -> None:
    ranges = {
        "latitude": (latitude_deg, 90.0),
        "longitude": (longitude_deg, 180.0),
        "elevation": (elevation_m, 9000.0),
        "time zone": (utc_offset_h, 14.0),
    }
    for name, (value, largest) in ranges.items():
        if not abs(value) <= largest:
            raise WeatherError(f"the file's header gives {name} {value:g}; at most {largest:g} either way", ("text",))


def _column(table: pd.DataFrame, name: str, field: str) -> np.ndarray[Any, np.dtype[np.float64]]:
    """One column as numbers, refused where values are missing."""
    if name not in table:
        raise WeatherError(f"the file has no column for {field}", ("text",))
    values = pd.to_numeric(table[name], errors="coerce").to_numpy(dtype=float)
    missing = np.flatnonzero(~np.isfinite(values) | (values > _MISSING_ABOVE[name]) | (values < _MISSING_BELOW))
    if missing.size:
        raise WeatherError(
            f"{field} is missing in {missing.size} of {values.size} hours, first in hour {int(missing[0]) + 1}",
            ("text",),
        )
    return values


def _middle_utc(table: pd.DataFrame, file_format: FileFormat, utc_offset_h: float) -> pd.DatetimeIndex:
    """Middle of each hour, after making sure that the file holds each hour of the year once and in order."""
    expected = hours_in(TYPICAL_YEAR)
    if len(table) != expected:
        raise WeatherError(f"the file has {len(table)} hours; a typical year has {expected}", ("text",))
    index = pd.DatetimeIndex(table.index).tz_convert("UTC").tz_localize(None)
    # pvlib labels EPW rows by the start of their hour and TMY3 rows by its end.
    middle = index + pd.Timedelta(minutes=30 if file_format == "epw" else -30)
    first = pd.Timestamp(TYPICAL_YEAR, 1, 1, 0, 30) - pd.Timedelta(hours=utc_offset_h)
    if not middle.equals(pd.date_range(first, periods=expected, freq="h", unit="s").astype(middle.dtype)):
        raise WeatherError("the file's hours are not each hour of the year in order", ("text",))
    return middle
