"""Location of the building, and the source of its weather."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DesignTemperatures:
    """Lowest and highest air temperature to design for [degC], each with its source."""

    lowest_c: float
    lowest_source: str
    highest_c: float
    highest_source: str


@dataclass(frozen=True, slots=True)
class Site:
    """Location of the building, with its extremes of air temperature [degC]; where None, the service assumes a value."""

    latitude_deg: float
    longitude_deg: float
    elevation_m: float | None
    temp_lowest_c: float | None
    temp_highest_c: float | None


@dataclass(frozen=True, slots=True)
class StationUsed:
    """A weather file: its name, its distance from the site [km] and its elevation above the site's [m]."""

    name: str
    distance_km: float
    height_difference_m: float


@dataclass(frozen=True, slots=True)
class ClimateUsed:
    """Source of a year's weather.

    `level_error_share` is the standard error of its yearly irradiation against the long-term mean (0-1), None where unknown.
    """

    kind: str
    source: str
    elevation_m: float
    station: StationUsed | None = None
    level_error_share: float | None = None
