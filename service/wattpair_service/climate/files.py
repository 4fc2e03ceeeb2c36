"""Weather files: EPW and TMY3, whose labels stand at the end of the hour, read with pvlib."""

from __future__ import annotations

import csv
import io
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

import numpy as np
import pandas as pd
import pvlib

from wattpair_service.climate.clock import with_right_clock
from wattpair_service.climate.hourly import hours_in
from wattpair_service.climate.plausibility import require_plausible
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import HourlyWeather
from wattpair_service.engineering.sentences import sentence
from wattpair_service.engineering.site import PublishedExtremes

FileFormat = Literal["epw", "tmy3"]

TYPICAL_YEAR = 2023
"""Months of a typical year come from different years; the sun position is computed for this one, which has no leap day."""

_COLUMNS = {
    "ghi": "ghi_w_m2",
    "dni": "dni_w_m2",
    "dhi": "dhi_w_m2",
    "temp_air": "temp_air_c",
    "wind_speed": "wind_speed_m_s",
}
# Both formats mark a missing value by an impossible number: 9999 or -9900 for irradiance, 99.9 for temperature, 999 for wind.
_MISSING_ABOVE = {"ghi": 9000.0, "dni": 9000.0, "dhi": 9000.0, "temp_air": 99.0, "wind_speed": 900.0}
_MISSING_BELOW = -9000.0
TYPICAL_YEAR_AT = sentence("climate.typical_year", "format", "location")


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
    location = location_of(text, file_format=file_format)
    read: Callable[..., tuple[pd.DataFrame, dict[str, Any]]] = (
        pvlib.iotools.read_epw if file_format == "epw" else pvlib.iotools.read_tmy3
    )
    try:
        with warnings.catch_warnings():
            # Columns of mixed types are either unused or refused below with a clear message.
            warnings.simplefilter("ignore", pd.errors.DtypeWarning)
            table, _ = read(io.StringIO(text), coerce_year=TYPICAL_YEAR)
    except (ValueError, KeyError, IndexError, TypeError, AttributeError, OverflowError) as error:
        # The reader's message, without its advice to programmers.
        message = str(error).partition("\n")[0].removesuffix(" You might want to try:")
        reason = f"it has no {message}" if isinstance(error, KeyError) else message
        raise WeatherError(f"this is not a readable {file_format.upper()} file: {reason}", ("text",)) from error
    columns = {field: _column(table, name, field) for name, field in _COLUMNS.items()}
    weather = HourlyWeather(
        latitude_deg=location.latitude_deg,
        longitude_deg=location.longitude_deg,
        elevation_m=location.elevation_m,
        utc_offset_h=location.utc_offset_h,
        middle_utc=_middle_utc(table, file_format, location.utc_offset_h),
        source=TYPICAL_YEAR_AT(format=file_format.upper(), location=str(location)),
        ghi_w_m2=columns["ghi_w_m2"],
        dni_w_m2=columns["dni_w_m2"],
        dhi_w_m2=columns["dhi_w_m2"],
        temp_air_c=columns["temp_air_c"],
        wind_speed_m_s=columns["wind_speed_m_s"],
        published_extremes=published_extremes(text) if file_format == "epw" else None,
    )
    weather = with_right_clock(weather)
    try:
        require_plausible(weather)
    except WeatherError as error:
        raise WeatherError(f"{error.fields[0]}: {error}", ("text",)) from error
    return weather


@dataclass(frozen=True, slots=True)
class FileLocation:
    """Location and standard time of a weather file, from its header."""

    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    utc_offset_h: float

    def __str__(self) -> str:
        return f"{self.latitude_deg:g}, {self.longitude_deg:g}, {self.elevation_m:g} m"


HEAD_LINES: dict[FileFormat, int] = {"epw": 8, "tmy3": 2}
# Latitude, longitude, height and time zone in the first line, and how large each may be either way.
_HEAD_COLUMNS: dict[FileFormat, tuple[int, int, int, int]] = {"epw": (6, 7, 9, 8), "tmy3": (4, 5, 6, 3)}
_HEAD_LIMITS = {"latitude": 90.0, "longitude": 180.0, "elevation": 9000.0, "time zone": 14.0}


def location_of(text: str, *, file_format: FileFormat) -> FileLocation:
    """A file's location, with a quick check of header and length; `from_text` checks the whole file.

    Raises
    ------
    WeatherError
        A wrong header, or a number of hours other than that of a year.
    """
    unreadable = f"this is not a readable {file_format.upper()} file: its first line"
    # Not splitlines, which also splits at U+0085, the ellipsis of older encodings.
    lines = text.split("\n")
    try:
        fields = next(csv.reader(lines[:1]), [])
    except csv.Error as error:
        raise WeatherError(f"{unreadable} has a field that is too long", ("text",)) from error
    if file_format == "epw" and fields[:1] != ["LOCATION"]:
        raise WeatherError(f"{unreadable} does not begin with LOCATION", ("text",))
    try:
        values = [float(fields[column]) for column in _HEAD_COLUMNS[file_format]]
    except (ValueError, IndexError) as error:
        raise WeatherError(f"{unreadable} does not give latitude, longitude, height and time zone", ("text",)) from error
    for (name, largest), value in zip(_HEAD_LIMITS.items(), values, strict=True):
        if not abs(value) <= largest:
            raise WeatherError(f"the file's header gives {name} {value:g}; at most {largest:g} either way", ("text",))
    hours = len([line for line in lines[HEAD_LINES[file_format] :] if line.strip()])
    if hours != hours_in(TYPICAL_YEAR):
        raise WeatherError(f"the file has {hours} hours; a typical year has {hours_in(TYPICAL_YEAR)}", ("text",))
    return FileLocation(*values)


_EXTREMES_FIELDS = (15, 16)
"""Fields after the word "Extremes", by edition of the handbook: without and with the highest wet bulb."""


def published_extremes(text: str) -> PublishedExtremes | None:
    """Extremes of air temperature that an EPW file's header publishes, from the handbook's design conditions.

    After the word "Extremes" come wind speeds, in some editions the highest wet bulb, then twelve temperatures [degC]: mean of
    the yearly lowest and highest, their standard deviations, and the lowest and highest that return in 5, 10, 20 and 50 years.
    None where they are missing or out of order: many files leave them out.
    """
    lines = text.split("\n", 2)
    fields = [field.strip() for field in lines[1].split(",")] if len(lines) > 1 else []
    while fields and not fields[-1]:
        fields.pop()
    if fields[:1] != ["DESIGN CONDITIONS"] or "Extremes" not in fields:
        return None
    after = fields[fields.index("Extremes") + 1 :]
    if len(after) not in _EXTREMES_FIELDS:
        return None
    try:
        mean_lowest, mean_highest, _, _, *return_years = (float(field) for field in after[-12:])
    except ValueError:
        return None
    lowest, highest = [mean_lowest, *return_years[::2]], [mean_highest, *return_years[1::2]]
    in_order = all(a >= b for a, b in pairwise(lowest)) and all(a <= b for a, b in pairwise(highest))
    if not in_order or not -90.0 <= lowest[-1] < highest[-1] <= 60.0:
        return None
    _, _, _, lowest_of_20_years, _ = lowest
    _, _, _, highest_of_20_years, _ = highest
    return PublishedExtremes(mean_lowest, lowest_of_20_years, highest_of_20_years)


def _column(table: pd.DataFrame, name: str, field: str) -> np.ndarray[Any, np.dtype[np.float64]]:
    """One column as numbers; WeatherError where values are missing."""
    if name not in table:
        raise WeatherError(f"the file has no column for {field}", ("text",))
    try:
        values = pd.to_numeric(table[name], errors="coerce").to_numpy(dtype=float)
    except OverflowError as error:
        raise WeatherError(f"{field} holds a number with too many digits", ("text",)) from error
    missing = np.flatnonzero(~np.isfinite(values) | (values > _MISSING_ABOVE[name]) | (values < _MISSING_BELOW))
    if missing.size:
        raise WeatherError(
            f"{field} is missing in {missing.size} of {values.size} hours, first in hour {int(missing[0]) + 1}",
            ("text",),
        )
    return values


def _middle_utc(table: pd.DataFrame, file_format: FileFormat, utc_offset_h: float) -> pd.DatetimeIndex:
    """Middle of each hour; WeatherError unless the file has each hour of the year once and in order."""
    expected_hours = hours_in(TYPICAL_YEAR)
    if len(table) != expected_hours:
        raise WeatherError(f"the file has {len(table)} hours; a typical year has {expected_hours}", ("text",))
    index = pd.DatetimeIndex(table.index).tz_convert("UTC").tz_localize(None)
    # pvlib labels EPW rows by the start of their hour and TMY3 rows by its end.
    middle = index + pd.Timedelta(minutes=30 if file_format == "epw" else -30)
    first = pd.Timestamp(TYPICAL_YEAR, 1, 1, 0, 30) - pd.Timedelta(hours=utc_offset_h)
    if not middle.equals(pd.date_range(first, periods=expected_hours, freq="h", unit="s").astype(middle.dtype)):
        raise WeatherError("the file's hours are not each hour of the year in order", ("text",))
    return middle
