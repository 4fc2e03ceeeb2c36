"""Land without data in the first source: small islands and capes.

Used only when the files are built.
"""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from wattpair_service.climate.atlas.grid import LAPSE_K_PER_M, LEVELS, SEASONS, Shape
from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray

EARTH_KM = 6371.0
NEIGHBOUR_KM = 150.0
"""Largest distance of an island from the land whose data it gets; and of a remote one from a cell with surface temperatures."""
HIGHEST_LATITUDE_DEG = 66.0

COLDEST_BELOW_NIGHT_K = 11.0
"""Lowest air temperature below the coldest month's night surface. Of 300 cells in the sea with GLDAS data, left out one by one,
the lower of this and the nearest land's lowest is too warm at 3 %, never by more than the margin of 6 K."""

_AIR_OVER_NIGHT_K = 5.4  # yearly air over night surface temperature, mean of 1,315 coastal cells (1.6 K standard deviation)
_WIND_M_S = 5.0  # common practice for open coasts, no source


def add(levels: dict[str, FloatArray], *, land: BoolArray, night_c: FloatArray) -> None:
    """Fill the land cells without data in place.

    Cells with others within `NEIGHBOUR_KM` get the mean of the nearest. Else they get no level, a mean temperature from the
    night surface, and the extremes of the nearest land, moved outward by the night surface. Cells far from both stay empty.

    Parameters
    ----------
    levels : dict
        Maps by name; NaN where unknown.
    land : array of bool
        Cells with land.
    night_c : array, shape (150, 360, 12)
        Night surface temperature [degC].
    """
    known = np.isfinite(levels["temp_mean"])
    missing = np.argwhere(land & ~known & (np.abs(LEVELS.latitude_deg()) <= HIGHEST_LATITUDE_DEG)[:, None])
    filled = np.argwhere(known)
    distance, nearest = cKDTree(_points(filled, LEVELS)).query(_points(missing, LEVELS), k=4)
    near = distance[:, 0] * EARTH_KM <= NEIGHBOUR_KM
    weight = 1.0 / distance[near] ** 2
    weight /= weight.sum(axis=1, keepdims=True)
    for name in levels.keys() - {"elevation"}:
        values = _moved(levels, name, missing, filled[nearest])[near]
        levels[name][tuple(missing[near].T)] = (values * weight).sum(axis=1)
    lowest, highest = (_moved(levels, name, missing, filled[nearest])[~near] for name in ("temp_lowest", "temp_highest"))
    _from_surface(levels, missing[~near], night_c, lowest_c=lowest.min(axis=1), highest_c=highest.max(axis=1))


def _moved(levels: dict[str, FloatArray], name: str, cells: IntArray, sources: IntArray) -> FloatArray:
    """Values of the source cells of each cell, moved to its elevation, extremes outward only, shape (cells, sources)."""
    source = sources[..., 0], sources[..., 1]
    climb_m = levels["elevation"][cells[:, 0], cells[:, 1]][:, None] - levels["elevation"][source]
    cooler_k = LAPSE_K_PER_M * climb_m
    moves = {"temp_mean": cooler_k, "temp_lowest": np.maximum(cooler_k, 0.0), "temp_highest": np.minimum(cooler_k, 0.0)}
    return np.asarray(levels[name][source] - moves.get(name, 0.0))


def _from_surface(
    levels: dict[str, FloatArray], missing: IntArray, night_c: FloatArray, *, lowest_c: FloatArray, highest_c: FloatArray
) -> None:
    nights = np.argwhere(np.isfinite(night_c).all(axis=2))
    distance, nearest = cKDTree(_points(nights, SEASONS)).query(_points(missing, LEVELS))
    reached = distance * EARTH_KM <= NEIGHBOUR_KM
    night = night_c[tuple(nights[nearest[reached]].T)]
    estimates = {
        "temp_mean": night.mean(axis=1) + _AIR_OVER_NIGHT_K,
        "temp_lowest": np.minimum(lowest_c[reached], night.min(axis=1) - COLDEST_BELOW_NIGHT_K),
        "temp_highest": highest_c[reached],
        "wind": np.full(len(night), _WIND_M_S),
    }
    for name, values in estimates.items():
        levels[name][tuple(missing[reached].T)] = values


def _points(cells: IntArray, shape: Shape) -> FloatArray:
    """Cells as points on the unit sphere."""
    latitude, longitude = np.radians(shape.latitude_deg()[cells[:, 0]]), np.radians(shape.longitude_deg()[cells[:, 1]])
    return np.stack([np.cos(latitude) * np.cos(longitude), np.cos(latitude) * np.sin(longitude), np.sin(latitude)], axis=1)
