"""Yearly irradiation from three sources.

Used only when the files are built.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import map_coordinates

from wattpair_service.climate.atlas.grid import LEVELS, Shape
from wattpair_service.climate.monthly import representative_days
from wattpair_service.engineering.arrays import FloatArray

GLDAS_FACTOR, SATELLITE_FACTOR, REANALYSIS_FACTOR = 0.98, 1.0, 0.91
"""Correct the mean excess of GLDAS, the satellites and MERRA-2 over typical years and published levels of cities."""
ISLAND_FACTOR = 0.90
"""Corrects the satellites on islands without GLDAS data and on remote ones, where their cell is mostly sea, which has fewer
clouds: median excess over published levels of 40 islands (from memory) 11 %."""
REANALYSIS_WEIGHT = 0.25
"""Weight of MERRA-2, whose cells are the coarsest and whose years the fewest; the others share the rest."""
REANALYSIS_LIMIT = 0.15
"""Largest natural logarithm of MERRA-2 over the mean of the others that counts: its clouds are too thin in a few basins."""

REMOTE_SOUTH_OF_DEG = 66.0
"""Land nearer to the equator than this without data of MERRA-2 is a remote island. GLDAS has no clouds of its own there: Hawaii
is as bright on the windward side as on the lee. Nearer to the poles MERRA-2's table ends."""


def combined(gldas_kwh_m2: FloatArray, satellite: FloatArray, reanalysis: FloatArray) -> FloatArray:
    """Yearly irradiation of each cell [kWh/m2].

    The weighted geometric mean of the three sources, of two where MERRA-2 has no data; the satellites alone where GLDAS has
    none, and on remote islands.

    Parameters
    ----------
    gldas_kwh_m2 : array, shape of `LEVELS`
        Yearly irradiation; NaN where unknown.
    satellite, reanalysis : array, shape of `LEVELS`
        Yearly clearness index; NaN where unknown.
    """
    extraterrestrial_kwh_m2 = extraterrestrial_by_month(LEVELS).sum(axis=1)[:, None]
    is_remote = np.isnan(reanalysis) & (np.abs(LEVELS.latitude_deg()) < REMOTE_SOUTH_OF_DEG)[:, None]
    gldas = np.log(np.where(is_remote, np.nan, GLDAS_FACTOR * gldas_kwh_m2 / extraterrestrial_kwh_m2))
    first_two = (gldas + np.log(SATELLITE_FACTOR * satellite)) / 2.0
    beyond = np.clip(np.log(REANALYSIS_FACTOR * reanalysis) - first_two, -REANALYSIS_LIMIT, REANALYSIS_LIMIT)
    mean = np.exp(first_two + REANALYSIS_WEIGHT * np.nan_to_num(beyond))
    return np.asarray(np.where(np.isfinite(gldas), mean, ISLAND_FACTOR * satellite) * extraterrestrial_kwh_m2)


def yearly_clearness(clearness: FloatArray, shape: Shape) -> FloatArray:
    """Yearly clearness index on the grid `LEVELS` from that of months on another, shape (rows, columns, 12)."""
    extraterrestrial = extraterrestrial_by_month(shape)
    share = extraterrestrial / extraterrestrial.sum(axis=1, keepdims=True)
    return _interpolated((clearness * share[:, None, :]).sum(axis=2), shape)


def extraterrestrial_by_month(shape: Shape) -> FloatArray:
    """Horizontal irradiation outside the atmosphere for each row of a grid [kWh/m2], shape (rows, 12)."""
    days = (representative_days(float(latitude_deg)) for latitude_deg in shape.latitude_deg())
    return np.stack([each.month_sum(each.extraterrestrial_wh_m2) for each in days]) / 1000.0


def _interpolated(values: FloatArray, shape: Shape) -> FloatArray:
    """Bilinear mean on the grid `LEVELS` of the surrounding cells that have data, NaN where none has and beyond the map."""
    closed = np.concatenate([values, values[:, :1]], axis=1)
    known = np.isfinite(closed)
    rows = (LEVELS.latitude_deg() - shape.south_deg) / shape.step_deg
    columns = (LEVELS.longitude_deg() - shape.west_deg) % 360.0 / shape.step_deg
    at = np.meshgrid(rows, columns, indexing="ij")
    total, weight = (map_coordinates(part, at, order=1) for part in (np.where(known, closed, 0.0), known.astype(np.float64)))
    return np.where(weight > 1e-9, total / np.where(weight > 1e-9, weight, 1.0), np.nan)
