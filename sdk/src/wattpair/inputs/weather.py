"""The ways in which a request may bring its weather."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from wattpair.inputs.shared import Numbers

IntervalLabel = Literal["start", "middle", "end"]
"""Where in its hour a time label stands."""

FileFormat = Literal["epw", "tmy3"]
"""Format of a weather file."""

IrradianceOrigin = Literal["measured_hourly", "satellite_15_min", "satellite_30_min", "satellite_60_min", "reanalysis"]
"""How the hourly irradiance was obtained. This determines how much subhourly variability it already contains."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltInClimate:
    """The service's built-in climate; it is also the default.

    Attributes
    ----------
    kind : str
        Always "climate".
    """

    kind: Literal["climate"] = field(default="climate", init=False)


# Arrays of numpy have no single truth of equality.
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MonthlyTotals:
    """Twelve monthly figures, January to December.

    Parameters
    ----------
    ghi_kwh_m2_by_month : collection of float
        Global horizontal irradiation [kWh/m2].
    temp_air_c_by_month : collection of float, optional
        Mean air temperature [degC]; the built-in climate's where it is left out.

    Attributes
    ----------
    kind : str
        Always "monthly".
    """

    kind: Literal["monthly"] = field(default="monthly", init=False)
    ghi_kwh_m2_by_month: Numbers
    temp_air_c_by_month: Numbers | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NearestStation:
    """The nearest weather file of the folder that the service's operator keeps.

    Attributes
    ----------
    kind : str
        Always "station".
    """

    kind: Literal["station"] = field(default="station", init=False)


# As above; and a year of values has no place in a repr.
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HourlyWeather:
    """An hourly year: 8,760 values of each kind, or 8,784 where the first label lies in a leap year.

    Parameters
    ----------
    first_label : str or datetime
        Time label of the first value in standard time, without zone, such as "2023-01-01T00:00".
    utc_offset_h : float
        Standard time's offset from UTC, east positive [h].
    interval_label : {"start", "middle", "end"}
        Whether a time label marks the start, the middle or the end of its hour.
    ghi_w_m2 : collection of float
        Global horizontal irradiance [W/m2].
    temp_air_c : collection of float
        Air temperature [degC].
    dni_w_m2, dhi_w_m2 : collection of float, optional
        Direct normal and diffuse horizontal irradiance [W/m2]; both, or neither and the service computes them.
    wind_speed_m_s : collection of float, optional
        Wind speed at 10 m [m/s].
    origin : {"measured_hourly", "satellite_15_min", "satellite_30_min", "satellite_60_min", "reanalysis"}, optional
        How the irradiance was obtained: means of measured minutes, one snapshot every N minutes, or a weather model.

    Attributes
    ----------
    kind : str
        Always "hourly".
    """

    kind: Literal["hourly"] = field(default="hourly", init=False)
    first_label: str | datetime
    utc_offset_h: float
    interval_label: IntervalLabel
    ghi_w_m2: Numbers = field(repr=False)
    temp_air_c: Numbers = field(repr=False)
    dni_w_m2: Numbers | None = field(default=None, repr=False)
    dhi_w_m2: Numbers | None = field(default=None, repr=False)
    wind_speed_m_s: Numbers | None = field(default=None, repr=False)
    origin: IrradianceOrigin | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherFile:
    """A weather file's text.

    Parameters
    ----------
    file_format : {"epw", "tmy3"}
        Format of the file.
    text : str
        The whole file.
    origin : {"measured_hourly", "satellite_15_min", "satellite_30_min", "satellite_60_min", "reanalysis"}, optional
        How its irradiance was obtained, as for `HourlyWeather`.

    Attributes
    ----------
    kind : str
        Always "file".
    """

    kind: Literal["file"] = field(default="file", init=False)
    file_format: FileFormat
    text: str = field(repr=False)
    origin: IrradianceOrigin | None = None


Weather = BuiltInClimate | MonthlyTotals | NearestStation | HourlyWeather | WeatherFile
"""Any of these ways."""
