"""Location of the building, and the source of its weather."""

from __future__ import annotations

from dataclasses import dataclass

from wattpair_service.engineering.sentences import Words


@dataclass(frozen=True, slots=True)
class DesignTemperatures:
    """Lowest and highest air temperature to design for [degC], each with its source.

    `lowest_estimated` is true where neither the request nor a station near the site tells the lowest: it comes from a map, a
    typical year or a custom. `mean_yearly_lowest_c` is the mean of the coldest hours of the years at the nearest station whose
    file publishes it; None where unknown.
    """

    lowest_c: float
    lowest_source: Words
    highest_c: float
    highest_source: Words
    lowest_estimated: bool = False
    mean_yearly_lowest_c: float | None = None


@dataclass(frozen=True, slots=True)
class PublishedExtremes:
    """Extremes of air temperature of a station, as the header of its weather file publishes them [degC].

    The mean of the yearly minima, and the lowest and highest hour that return once in 20 years.
    """

    mean_yearly_lowest_c: float
    lowest_of_20_years_c: float
    highest_of_20_years_c: float

    def at_height(self, above_station_m: float, lapse_k_per_m: float) -> PublishedExtremes:
        """The same at a site above the station: only outward, so never warmer in the cold or cooler in the heat."""
        cooler_k = lapse_k_per_m * above_station_m
        return PublishedExtremes(
            self.mean_yearly_lowest_c - max(cooler_k, 0.0),
            self.lowest_of_20_years_c - max(cooler_k, 0.0),
            self.highest_of_20_years_c + max(-cooler_k, 0.0),
        )


@dataclass(frozen=True, slots=True)
class ColdFloor:
    """Temperature that a region's custom designs for where the site's own is not known [degC], with its source.

    It applies above an elevation [m] or south of a latitude [deg], everywhere where both are None.
    """

    lowest_c: float
    above_elevation_m: float | None
    south_of_latitude_deg: float | None
    source: Words

    def applies(self, latitude_deg: float, elevation_m: float) -> bool:
        """Whether the site is one of those that it is for."""
        above, south_of = self.above_elevation_m, self.south_of_latitude_deg
        return (above is None or elevation_m > above) and (south_of is None or latitude_deg < south_of)


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
    source: Words
    elevation_m: float
    station: StationUsed | None = None
    level_error_share: float | None = None
