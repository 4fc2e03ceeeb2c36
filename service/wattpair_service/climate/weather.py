"""The kinds of weather in a request."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from wattpair_service.climate.files import FileFormat
from wattpair_service.climate.hourly import IntervalLabel
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.irradiance.subhourly import IrradianceOrigin


@dataclass(frozen=True, slots=True)
class BuiltInClimate:
    """The built-in climate of the site; see `atlas`."""


@dataclass(frozen=True, slots=True)
class MonthlyTotals:
    """Twelve horizontal totals [kWh/m2] and, if known, mean air temperatures [degC], January first; see `monthly`."""

    ghi_kwh_m2_by_month: tuple[float, ...]
    temp_air_c_by_month: tuple[float, ...] | None


@dataclass(frozen=True, slots=True)
class NearestStation:
    """The nearest file of the operator's station folder; see `stations`."""


@dataclass(frozen=True, slots=True, eq=False)
class HourlyArrays:
    """An hourly year as arrays; see `hourly.from_arrays`."""

    first_label: datetime
    utc_offset_h: float
    interval_label: IntervalLabel
    ghi_w_m2: FloatArray
    dni_w_m2: FloatArray | None
    dhi_w_m2: FloatArray | None
    temp_air_c: FloatArray
    wind_speed_m_s: FloatArray | None
    origin: IrradianceOrigin = "measured_hourly"


@dataclass(frozen=True, slots=True)
class FileWeather:
    """A weather file's text; see `files.from_text`."""

    file_format: FileFormat
    text: str
    origin: IrradianceOrigin = "measured_hourly"


Weather = BuiltInClimate | MonthlyTotals | NearestStation | HourlyArrays | FileWeather
