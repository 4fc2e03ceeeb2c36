"""Yearly levels for land without data in the first source: small islands and capes.

Used only when the files are built.
"""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from wattpair_service.climate.atlas.grid import DAYS, LEVELS, SEASONS, Shape
from wattpair_service.climate.monthly import representative_days
from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray

LEVEL_FACTOR = 0.98
"""Corrects the mean excess of the yearly level over 38 typical years (1.8 %) and over published levels of 90 cities."""
EARTH_KM = 6371.0
NEIGHBOUR_KM = 150.0
"""Largest distance of an island from the land whose level it gets."""
REANALYSIS_KM = 350.0
"""Largest distance from a cell of the coarse second source."""
HIGHEST_LATITUDE_DEG = 66.0

# ln(first source / second source) of yearly clearness over 1,670 cells of 3 degrees that both have, weighted by area; standard
# deviation of the residual 6 %. k: clearness of the second less 0.57; a: |latitude| / 30 deg less 1.2. The second is too bright
# under the clouds of middle latitudes and right in the tropics and the north.
_INTERCEPT, _K, _K2, _A, _A2, _A3, _KA, _KA2 = -0.1125, 0.0908, -0.1522, -0.1046, 0.1396, 0.1300, -0.1462, -0.9165

_AIR_OVER_NIGHT_K = 5.4  # yearly air over night surface temperature, mean of 1,315 coastal cells (1.6 K standard deviation)
_WIND_M_S = 5.0  # common practice for open coasts, no source


def add(levels: dict[str, FloatArray], *, land: BoolArray, clearness: FloatArray, night_c: FloatArray) -> None:
    """Fill the land cells without a level in place, and mark them in `estimated`.

    Cells with others within `NEIGHBOUR_KM` get the mean of the nearest. Else they get the second source's level, corrected, and
    the temperature extremes of the nearest land, which are wider than an island's. Cells out of reach of both stay empty.
    """
    known = np.isfinite(levels["ghi"])
    latitude = LEVELS.south_deg + LEVELS.step_deg * np.arange(LEVELS.rows)
    missing = np.argwhere(land & ~known & (np.abs(latitude) <= HIGHEST_LATITUDE_DEG)[:, None])
    filled = np.argwhere(known)
    names = [name for name in levels if name != "elevation"]
    levels["estimated"] = np.zeros_like(levels["ghi"])
    distance, nearest = cKDTree(_points(filled, LEVELS)).query(_points(missing, LEVELS), k=4)
    near = distance[:, 0] * EARTH_KM <= NEIGHBOUR_KM
    weight = 1.0 / distance[near] ** 2
    weight /= weight.sum(axis=1, keepdims=True)
    rows, columns = filled[nearest[near], 0], filled[nearest[near], 1]
    target = tuple(missing[near].T)
    for name in names:
        levels[name][target] = (levels[name][rows, columns] * weight).sum(axis=1)
    levels["estimated"][target] = 1.0
    far_rows, far_columns = filled[nearest[~near], 0], filled[nearest[~near], 1]
    lowest = levels["temp_lowest"][far_rows, far_columns].min(axis=1)
    highest = levels["temp_highest"][far_rows, far_columns].max(axis=1)
    _from_reanalysis(levels, missing[~near], clearness, night_c, lowest_c=lowest, highest_c=highest)


def _from_reanalysis(
    levels: dict[str, FloatArray],
    missing: IntArray,
    clearness: FloatArray,
    night_c: FloatArray,
    *,
    lowest_c: FloatArray,
    highest_c: FloatArray,
) -> None:
    yearly = _corrected_yearly(clearness)
    cells, nights = np.argwhere(np.isfinite(yearly)), np.argwhere(np.isfinite(night_c).all(axis=2))
    points = _points(missing, LEVELS)
    distance, nearest = cKDTree(_points(cells, DAYS)).query(points, k=3)
    night_km, night_at = cKDTree(_points(nights, SEASONS)).query(points)
    reached = (distance[:, 0] * EARTH_KM <= REANALYSIS_KM) & (night_km * EARTH_KM <= NEIGHBOUR_KM)
    weight = np.where(distance * EARTH_KM <= REANALYSIS_KM, 1.0 / distance**2, 0.0)[reached]
    source_cell = cells[nearest[reached]]
    ghi_kwh_m2 = (yearly[source_cell[..., 0], source_cell[..., 1]] * weight).sum(axis=1) / weight.sum(axis=1)
    night_cell = nights[night_at[reached]]
    estimates = {
        "ghi": ghi_kwh_m2,
        "temp_mean": night_c[night_cell[:, 0], night_cell[:, 1]].mean(axis=1) + _AIR_OVER_NIGHT_K,
        "temp_lowest": lowest_c[reached],
        "temp_highest": highest_c[reached],
        "wind": np.full(len(ghi_kwh_m2), _WIND_M_S),
        "estimated": np.ones(len(ghi_kwh_m2)),
    }
    target = tuple(missing[reached].T)
    for name, values in estimates.items():
        levels[name][target] = values


def _corrected_yearly(clearness: FloatArray) -> FloatArray:
    """Yearly irradiation of the second source at the level of the first [kWh/m2], shape (44, 120)."""
    result = np.full(clearness.shape[:2], np.nan)
    for row in range(DAYS.rows):
        latitude = DAYS.south_deg + DAYS.step_deg * row
        days = representative_days(latitude)
        extraterrestrial = days.month_sum(days.extraterrestrial_wh_m2) / 1000.0
        mean = (clearness[row].mean(axis=2) * extraterrestrial).sum(axis=1) / extraterrestrial.sum()
        k, a = mean - 0.57, abs(latitude) / 30.0 - 1.2
        log_ratio = _INTERCEPT + _K * k + _K2 * k**2 + _A * a + _A2 * a**2 + _A3 * a**3 + _KA * k * a + _KA2 * k * a**2
        result[row] = mean * np.exp(log_ratio) * extraterrestrial.sum() * LEVEL_FACTOR
    return result


def _points(cells: IntArray, shape: Shape) -> FloatArray:
    """Cells as points on the unit sphere."""
    latitude = np.radians(shape.south_deg + shape.step_deg * cells[:, 0])
    longitude = np.radians(shape.west_deg + shape.step_deg * cells[:, 1])
    return np.stack([np.cos(latitude) * np.cos(longitude), np.cos(latitude) * np.sin(longitude), np.sin(latitude)], axis=1)
