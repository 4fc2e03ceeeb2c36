"""The built-in climate: a year for any land where its sources have data, without a network.

`at` reads the maps, `conditions` makes a year of them. PROVENANCE.md has the sources and the errors against typical years.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
import numpy.typing as npt

from wattpair_service.climate import monthly
from wattpair_service.climate.atlas.grid import DAYS, LAPSE_K_PER_M, LEVELS, SATELLITE, SEASONS, Grid, NoClimateError, opened
from wattpair_service.climate.atlas.records import (
    ALTITUDE_ORIGIN_M,
    ALTITUDE_UNIT_M,
    ANOMALY_UNIT_K,
    CLEARNESS_UNIT,
    RANGE_UNIT_K,
    TEMP_ORIGIN_C,
    TEMP_UNIT_K,
    TURBIDITY_UNIT,
    WIND_UNIT_M_S,
)
from wattpair_service.climate.clearness import bendt_days, levelled_days
from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.sentences import Sentence, Words, fixed, sentence

__all__ = ["LAPSE_K_PER_M", "NoClimateError", "SiteAir", "SiteClimate", "air", "at", "conditions", "fault", "figures"]

LOG = logging.getLogger(__name__)


LEVEL_REACH_KM, SEASON_REACH_KM, SATELLITE_REACH_KM, DAY_REACH_KM = 50.0, 150.0, 150.0, 350.0
"""Largest distance of a location from a cell with data in each map; beyond the last, days follow a published distribution."""

LEVEL_ERROR_SHARE, ESTIMATED_ERROR_SHARE = 0.055, 0.08
"""Standard error of the yearly irradiation: against 51 years and the published levels of 161 cities; and where GLDAS or MERRA-2
has no level: 5 % against those of 40 islands (from memory), which chose a factor, so that it is taken wider."""

SATELLITE_SHARE = 0.7
"""Weight of the satellites in the shape of the months; MERRA-2, of five years and cells of 3 degrees, has the rest."""

COLD_MARGIN_K, HOT_MARGIN_K = 6.0, 2.0
"""Margins beyond the extremes of a cell's mean at every third hour of nine years: frost hollows, hours between, older years.

In the cold: with 6 K the lowest is not warmer than the published 20-year minimum at 95 % of the stations of
`tests.validation.cold_extremes`, whose files publish it. In the heat: safety margin, no source."""
BUILT_IN = sentence("climate.built_in", "latitude_deg", "longitude_deg", "level")
MAPPED, ESTIMATED = fixed("climate.mapped_level"), fixed("climate.estimated_level")


@dataclass(frozen=True, slots=True)
class SiteClimate:
    """The built-in climate of a location; months from January.

    Attributes
    ----------
    latitude_deg, longitude_deg : float
        As in the request.
    elevation_m : float
        As in the request, else `map_elevation_m` [m].
    map_elevation_m : float
        Elevation of the map's cells, a mean over some 25 km [m].
    ghi_kwh_m2_by_month : 12 values
        Global horizontal irradiation [kWh/m2].
    clearness_by_month : 12 times 8 values
        Mean daily clearness index of each eighth of the month's days, rising; 0 in months without sun.
    temp_mean_c_by_month, temp_range_k_by_month : 12 values
        Air temperature, mean of day and night [degC], and warmest less coldest hour of the mean day [K].
    temp_lowest_c, temp_highest_c : float
        Lowest and highest air temperature to design for, on the safe side [degC].
    linke_turbidity_by_month : 12 values
        Of a clear day.
    wind_speed_m_s : float
        Yearly mean at 10 m [m/s].
    ghi_error_share : float
        Standard error of the yearly irradiation against the long-term mean (0-1), without differences from year to year.
    source : str
        A plain sentence for the result.
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    map_elevation_m: float
    ghi_kwh_m2_by_month: tuple[float, ...]
    clearness_by_month: tuple[tuple[float, ...], ...]
    temp_mean_c_by_month: tuple[float, ...]
    temp_range_k_by_month: tuple[float, ...]
    temp_lowest_c: float
    temp_highest_c: float
    linke_turbidity_by_month: tuple[float, ...]
    wind_speed_m_s: float
    ghi_error_share: float
    source: Words

    @property
    def ghi_kwh_m2(self) -> float:
        """Yearly global horizontal irradiation [kWh/m2]."""
        return sum(self.ghi_kwh_m2_by_month)


@dataclass(frozen=True, slots=True)
class SiteAir:
    """Elevations [m] and extremes of air temperature [degC] of a location, as in `SiteClimate`.

    `cooler_k` is how much the site's elevation makes its air cooler than the map's cell [K].
    """

    elevation_m: float
    map_elevation_m: float
    temp_lowest_c: float
    temp_highest_c: float
    cooler_k: float


@cache
def _maps() -> tuple[Grid, Grid, Grid, Grid]:
    return opened("levels", LEVELS), opened("seasons", SEASONS), opened("satellite", SATELLITE), opened("days", DAYS)


def fault() -> str | None:
    """Why the maps cannot be read; None where they can."""
    try:
        _maps()
    except (OSError, ValueError) as error:
        LOG.error("the built-in climate cannot be read: %s", error)
        # Without the file's path, which belongs in the log only.
        return f"the built-in climate cannot be read: {getattr(error, 'strerror', None) or error}"
    return None


def _cells(latitude_deg: float, longitude_deg: float) -> tuple[tuple[IntArray, FloatArray], ...]:
    """Indexes of the records of each map that a location needs, with their weights: all but the last."""
    for field, value, limit in (("latitude_deg", latitude_deg, 90.0), ("longitude_deg", longitude_deg, 180.0)):
        if not -limit <= value <= limit:
            raise WeatherError(f"{value:g}; {-limit:g} to {limit:g} is possible", (field,))
    reaches = (LEVEL_REACH_KM, SEASON_REACH_KM, SATELLITE_REACH_KM)
    return tuple(
        each.weights(latitude_deg, longitude_deg, reach_km=reach) for each, reach in zip(_maps(), reaches, strict=False)
    )


def _days_clearness(latitude_deg: float, longitude_deg: float) -> FloatArray | None:
    """Mean daily clearness index of each eighth of a month's days by MERRA-2, shape (12, 8); None on remote islands."""
    *_, days = _maps()
    try:
        index, weight = days.weights(latitude_deg, longitude_deg, reach_km=DAY_REACH_KM)
    except NoClimateError:
        return None
    return np.asarray(np.tensordot(weight, days.records[index]["clearness"] * CLEARNESS_UNIT, axes=1))


def _mean(records: npt.NDArray[np.void], weight: FloatArray, name: str) -> float:
    return float(weight @ records[name].astype(np.float64))


@lru_cache(maxsize=256)
def air(latitude_deg: float, longitude_deg: float, elevation_m: float | None = None) -> SiteAir:
    """Air temperatures of a location: the same as in `at`, with the same arguments and errors, but much faster."""
    (index, weight), *_ = _cells(latitude_deg, longitude_deg)
    level = np.asarray(_maps()[0].records)[index]
    map_elevation_m = ALTITUDE_ORIGIN_M + ALTITUDE_UNIT_M * _mean(level, weight, "elevation")
    site_elevation_m = map_elevation_m if elevation_m is None else elevation_m
    cooler_k = LAPSE_K_PER_M * (site_elevation_m - map_elevation_m)
    lowest_c = TEMP_ORIGIN_C + TEMP_UNIT_K * _mean(level, weight, "temp_lowest") - COLD_MARGIN_K - max(cooler_k, 0.0)
    highest_c = TEMP_ORIGIN_C + TEMP_UNIT_K * _mean(level, weight, "temp_highest") + HOT_MARGIN_K + max(-cooler_k, 0.0)
    return SiteAir(site_elevation_m, map_elevation_m, lowest_c, highest_c, cooler_k)


@lru_cache(maxsize=32)
def at(latitude_deg: float, longitude_deg: float, elevation_m: float | None = None) -> SiteClimate:
    """The climate of a location.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        North and east [deg].
    elevation_m : float, optional
        Elevation of the site [m]; corrects temperatures for its difference from the map's. Extremes are corrected outward only:
        the lowest temperature is lower at a site above the map's elevation, the highest is higher at one below.

    Raises
    ------
    NoClimateError
        Sea, poles and islands without data; the message says what to send instead.
    WeatherError
        Coordinates out of range.
    """
    site_air = air(latitude_deg, longitude_deg, elevation_m)
    cells = _cells(latitude_deg, longitude_deg)
    level, season, satellite = (grid.records[index] for grid, (index, _) in zip(_maps(), cells, strict=False))
    level_weight, season_weight, satellite_weight = (weight for _, weight in cells)

    def mean(name: str) -> float:
        return _mean(level, level_weight, name)

    def by_month(name: str, unit: float) -> FloatArray:
        return np.asarray(season_weight @ (season[name].astype(np.float64) * unit))

    estimated = mean("estimated") > 0.5
    turbidity = by_month("turbidity", TURBIDITY_UNIT)
    ghi, clearness = _irradiation_and_clearness(
        latitude_deg,
        yearly_kwh_m2=mean("ghi_kwh_m2"),
        satellite_clearness=satellite_weight @ (satellite["clearness"] * CLEARNESS_UNIT),
        days_clearness=_days_clearness(latitude_deg, longitude_deg),
        elevation_m=site_air.elevation_m,
        turbidity=tuple(turbidity.tolist()),
    )
    temp_mean_c = TEMP_ORIGIN_C + TEMP_UNIT_K * mean("temp_mean") + by_month("temp_anomaly", ANOMALY_UNIT_K) - site_air.cooler_k
    return SiteClimate(
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=site_air.elevation_m,
        map_elevation_m=site_air.map_elevation_m,
        ghi_kwh_m2_by_month=tuple(ghi.tolist()),
        clearness_by_month=tuple(tuple(row) for row in clearness.tolist()),
        temp_mean_c_by_month=tuple(temp_mean_c.tolist()),
        temp_range_k_by_month=tuple(by_month("temp_range", RANGE_UNIT_K).tolist()),
        temp_lowest_c=site_air.temp_lowest_c,
        temp_highest_c=site_air.temp_highest_c,
        linke_turbidity_by_month=tuple(turbidity.tolist()),
        wind_speed_m_s=WIND_UNIT_M_S * mean("wind"),
        ghi_error_share=ESTIMATED_ERROR_SHARE if estimated else LEVEL_ERROR_SHARE,
        source=_source(latitude_deg, longitude_deg, estimated=estimated),
    )


def _source(latitude_deg: float, longitude_deg: float, *, estimated: bool) -> Sentence:
    return BUILT_IN(latitude_deg=latitude_deg, longitude_deg=longitude_deg, level=ESTIMATED if estimated else MAPPED)


def _irradiation_and_clearness(
    latitude_deg: float,
    *,
    yearly_kwh_m2: float,
    satellite_clearness: FloatArray,
    days_clearness: FloatArray | None,
    elevation_m: float,
    turbidity: tuple[float, ...],
) -> tuple[FloatArray, FloatArray]:
    """Monthly irradiation [kWh/m2], shape (12,), and clearness of each eighth of a month's days, shape (12, 8).

    The shape of the months is the weighted geometric mean of the satellites' and MERRA-2's. The days are the mean of two
    estimates: MERRA-2's, with another mean, and the published distribution; that alone where MERRA-2 has no data.
    """
    days = monthly.representative_days(latitude_deg)
    extraterrestrial_kwh_m2 = days.month_sum(days.extraterrestrial_wh_m2) / 1000.0
    reanalysis_clearness = satellite_clearness if days_clearness is None else days_clearness.mean(axis=1)
    shape = satellite_clearness**SATELLITE_SHARE * reanalysis_clearness ** (1.0 - SATELLITE_SHARE)
    scale = yearly_kwh_m2 / float(shape @ extraterrestrial_kwh_m2)
    ghi = np.minimum(shape * extraterrestrial_kwh_m2 * scale, extraterrestrial_kwh_m2)
    sunny = ghi > 0.0
    clearness = np.divide(ghi, extraterrestrial_kwh_m2, out=np.zeros_like(ghi), where=sunny)
    clear = monthly.clear_sky_clearness(days, elevation_m=elevation_m, linke_turbidity_by_month=turbidity)
    clear_day = monthly.clear_day_clearness(days, clear).reshape(monthly.MONTHS, -1).mean(axis=1)
    by_day = bendt_days(clearness, clear_day, monthly.DAYS_A_MONTH)
    if days_clearness is not None:
        by_day = (by_day + levelled_days(days_clearness, clearness, clear_day)) / 2.0
    return ghi, np.where(sunny[:, None], by_day, 0.0)


def figures(climate: SiteClimate) -> monthly.MonthlyFigures:
    """The climate as monthly figures, so that a caller's own can replace any of them."""
    return monthly.MonthlyFigures(
        latitude_deg=climate.latitude_deg,
        longitude_deg=climate.longitude_deg,
        elevation_m=climate.elevation_m,
        ghi_kwh_m2_by_month=climate.ghi_kwh_m2_by_month,
        temp_mean_c_by_month=climate.temp_mean_c_by_month,
        linke_turbidity_by_month=climate.linke_turbidity_by_month,
        wind_speed_m_s=climate.wind_speed_m_s,
        temp_range_k_by_month=climate.temp_range_k_by_month,
        clearness_by_month=climate.clearness_by_month,
    )


@lru_cache(maxsize=8)
def conditions(climate: SiteClimate) -> Conditions:
    """The year of a climate. Cached for the last 8 locations (some 1 MB), so its arrays cannot be written to."""
    return monthly.conditions(figures(climate)).as_cached()
