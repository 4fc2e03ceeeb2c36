"""Where the building stands, and what is known of the weather there."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DesignTemperatures:
    """Lowest and highest air temperature to design for [degC], each with the reason why."""

    lowest_c: float
    lowest_source: str
    highest_c: float
    highest_source: str


@dataclass(frozen=True, slots=True)
class Site:
    """Where the building stands, with its extremes of air temperature [degC]; None is left to the service."""

    latitude_deg: float
    longitude_deg: float
    elevation_m: float | None
    temp_lowest_c: float | None
    temp_highest_c: float | None


@dataclass(frozen=True, slots=True)
class StationUsed:
    """A weather file: its name, its distance from the site [km] and how much higher it stands [m]."""

    name: str
    distance_km: float
    height_difference_m: float


@dataclass(frozen=True, slots=True)
class ClimateUsed:
    """Where a year's weather comes from.

    `level_error_share` is the standard error of its yearly light as a mean of years (0-1), None where it is not known.
    """

    kind: str
    source: str
    elevation_m: float
    station: StationUsed | None = None
    level_error_share: float | None = None
