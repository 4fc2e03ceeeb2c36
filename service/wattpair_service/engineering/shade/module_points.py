"""Points on the halves of a module's bypass groups, at the centres of cells.

Groups lie side by side across the module's short side. The two halves of a group, along the module's long side, are in parallel
in a module of half-cut cells, and in series in one of full cells. Within a half one dark cell holds the current, so the points
include the outermost cells.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.equipment import Cells
from wattpair_service.engineering.shade.scene import Placement

HALVES = 2
COLUMNS = 2
"""Columns of cells of a group."""
ROWS_OF_HALF = 10
"""Half-cut cells of a half along the module's long side, or 5 full ones. Common practice, no source."""
ROWS_LOOKED_AT = 5
"""Of them, evenly spaced from the first to the last."""


CORNERS = 4
"""Further points of a half, at its corners: whether a shadow has begun to cover its outermost cells."""


def half_points(placement: Placement, cells: Cells) -> FloatArray:
    """Points of each half in the plane of the face [m]: shape (modules, groups, halves, points, 2), the corners last."""
    across, along = _shares(cells)
    within = [*product(across, along), *product((0.0, 1.0), (0.0, 1.0))]
    grid = np.array(
        [(group + x, half + y) for group, half in product(range(cells.group_count), range(HALVES)) for x, y in within]
    )
    short_share, long_share = grid[:, 0] / cells.group_count, grid[:, 1] / HALVES
    shares = (short_share, long_share) if placement.orientation == "portrait" else (long_share, short_share)
    within_m = np.stack([shares[0] * placement.module_width_m, shares[1] * placement.module_height_m], axis=-1)
    points = np.array(placement.corners, dtype=np.float64)[:, None] + within_m
    return np.asarray(points.reshape(len(placement.corners), cells.group_count, HALVES, len(within), 2))


def rows_of_half(cells: Cells) -> int:
    """Cells of a half along the module's long side."""
    return ROWS_OF_HALF if cells.half_cut else ROWS_OF_HALF // 2


def _shares(cells: Cells) -> tuple[FloatArray, FloatArray]:
    """Where the points lie, over a group's width and over a half's length (0-1)."""
    margin = 0.5 / rows_of_half(cells)
    return (np.arange(COLUMNS) + 0.5) / COLUMNS, np.linspace(margin, 1.0 - margin, ROWS_LOOKED_AT)
