"""Rows of modules on a face, at equal pitch, each filled from its left.

Each edge blocks a strip: the edge, widened by its distance on both sides and at both ends. A module may touch but not cross a
strip. So the distance is exact along an edge; past the end of an edge modules keep it along the edge or across it, and are at
corners up to 1.41 times as far away. In a row, a strip blocks a range of left corners. Between blocked ranges a module crosses
no edge, so its centre decides whether it lies inside the outline and outside all obstructions.

The count depends only on the height of the first row. As this height rises, the ends of the blocked ranges move in straight
lines, except where a row touches a corner of a strip. The count is therefore highest where a row touches such a corner, or
where modules exactly fill the room between two strips. All these heights are tried, so that no other height has more modules,
and a larger distance never has more. With very many edges only the first corners and evenly spaced heights are tried.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.roof.outline import TOLERANCE_M, Point, Polygon, contains, segments

FITS_WORK_MOST = 1e6
"""Most comparisons (heights x pairs of strips x columns) in the search for heights at which modules exactly fill a room."""
START_HEIGHTS = 12
"""Evenly spaced heights of the first row that are tried where there are more comparisons."""
CORNER_HEIGHTS_MOST = 24
"""Further heights that are tried then because rows touch corners there: those of the outline first."""
CELLS_MOST = 200_000
"""Heights times strips that are looked at together, which bounds the memory."""
APART_M = 1e-7
"""Corners at a smaller difference in height count as one."""


@dataclass(frozen=True, slots=True, eq=False)
class ClearArea:
    """Where modules may lie. `strips` has the four corners [m] of each edge's strip: edge, corner, coordinate."""

    outline: Polygon
    obstructions: tuple[Polygon, ...]
    strips: FloatArray


@dataclass(frozen=True, slots=True)
class Grid:
    """Size of a module on the face and the gaps between modules [m]."""

    width_m: float
    height_m: float
    column_gap_m: float
    row_gap_m: float


def clear_area(
    outline: Polygon, distances_m: Sequence[float], obstructions: tuple[Polygon, ...], obstruction_distance_m: float
) -> ClearArea:
    """The area that is left to modules.

    Parameters
    ----------
    outline : Polygon
        Corners of the face [m].
    distances_m : sequence of float
        Distance of modules from each edge of the outline [m].
    obstructions : tuple of Polygon
        Corners of each obstruction [m].
    obstruction_distance_m : float
        Distance of modules from every obstruction [m].
    """
    edges = [*zip(segments(outline), distances_m, strict=True)]
    edges += [(edge, obstruction_distance_m) for each in obstructions for edge in segments(each)]
    ends, distances = np.array([edge for edge, _ in edges]), np.array([distance for _, distance in edges])
    along = ends[:, 1] - ends[:, 0]
    along *= (distances / np.hypot(along[:, 0], along[:, 1]))[:, None]
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    start, end = ends[:, 0] - along, ends[:, 1] + along
    strips = np.stack([start - across, end - across, end + across, start + across], axis=1)
    return ClearArea(outline, obstructions, strips)


def rows_with_most_modules(area: ClearArea, grid: Grid) -> list[list[Point]]:
    """Lower left corners of the modules [m], row by row from the eaves; of equal counts, the one nearest to the eaves."""
    heights = _row_heights(area, grid)
    if heights.size == 0:
        return []
    chunk = max(1, CELLS_MOST // (heights.shape[1] * len(area.strips)))
    counts = np.concatenate([_counts(area, grid, heights[i : i + chunk]) for i in range(0, len(heights), chunk)])
    totals = counts.sum(axis=1)
    occupied = counts > 0
    lowest = np.where(occupied.any(axis=1), np.take_along_axis(heights, occupied.argmax(axis=1)[:, None], axis=1)[:, 0], np.inf)
    best = np.lexsort((lowest, -totals))[0]
    first_x, in_room = _fill(area, grid, heights[best])
    pitch = grid.width_m + grid.column_gap_m
    rows = [
        [(float(x + step * pitch), float(y)) for x, count in zip(xs, ns, strict=True) for step in range(count)]
        for y, xs, ns in zip(heights[best], first_x, in_room, strict=True)
    ]
    return [row for row in rows if row]


def _counts(area: ClearArea, grid: Grid, heights: FloatArray) -> IntArray:
    """Modules in each row, for heights of any shape."""
    return np.asarray(_fill(area, grid, heights.ravel())[1].sum(axis=1).reshape(heights.shape))


def _row_heights(area: ClearArea, grid: Grid) -> FloatArray:
    """Heights of all rows [m] for each height of the first row that is tried; the last rows may lie above the face."""
    ys = [y for _, y in area.outline]
    bottom, top = min(ys), max(ys) - grid.height_m
    if top < bottom - TOLERANCE_M:
        return np.empty((0, 0))
    pitch = grid.height_m + grid.row_gap_m
    corners = area.strips[:, :, 1].ravel()
    touching = np.array([bottom, top, *np.stack([corners, corners - grid.height_m], axis=1).ravel()])
    touching = touching[(touching >= bottom - TOLERANCE_M) & (touching <= top + TOLERANCE_M)]
    touching = touching[np.sort(np.unique(np.round(touching, 9), return_index=True)[1])]
    knots = np.sort(touching)
    knots = knots[np.diff(knots, prepend=-np.inf) > APART_M]
    columns = int((max(x for x, _ in area.outline) - min(x for x, _ in area.outline)) / (grid.width_m + grid.column_gap_m)) + 1
    if len(knots) * len(area.strips) ** 2 * columns <= FITS_WORK_MOST:
        tried = np.concatenate([touching, _fitting_heights(area, grid, knots, columns)])
    else:
        tried = np.concatenate([touching[:CORNER_HEIGHTS_MOST], bottom + pitch * np.arange(START_HEIGHTS) / START_HEIGHTS])
    # A row at such a height has its first row a whole number of pitches lower.
    starts = tried - pitch * np.floor((tried - bottom) / pitch + TOLERANCE_M)
    starts = starts[np.unique(np.round(starts, 9), return_index=True)[1]]
    return np.asarray(starts[:, None] + pitch * np.arange(int((top - bottom) / pitch + TOLERANCE_M) + 1))


def _fitting_heights(area: ClearArea, grid: Grid, knots: FloatArray, columns: int) -> FloatArray:
    """Heights [m] of a row, between the knots, at which a number of modules exactly fills the room between two strips."""
    low_y, span = knots[:-1], np.diff(knots)
    quarter, three_quarters = (_blocked(area, grid, low_y + share * span) for share in (0.25, 0.75))
    # Two ends that move alike, or nearly so, meet at no height between the knots: their share is infinite or none.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        # Each as height, strip: the end at the lower knot, and its rise to the upper knot.
        (low, low_rise), (high, high_rise) = (
            (one - (other - one) * 0.5, (other - one) * 2.0) for one, other in zip(quarter, three_quarters, strict=True)
        )
        room = low[:, None, :] - high[:, :, None]
        rise = low_rise[:, None, :] - high_rise[:, :, None]
        pitch = grid.width_m + grid.column_gap_m
        found = [np.empty(0)]
        for gaps in range(columns):
            share = (gaps * pitch - room) / rise
            at, left, right = np.nonzero((share > 0.0) & (share < 1.0))
            part = share[at, left, right]
            starts, ends = low[at] + low_rise[at] * part[:, None], high[at] + high_rise[at] * part[:, None]
            edge = np.arange(len(part))
            between = (starts < starts[edge, right][:, None] - TOLERANCE_M) & (ends > ends[edge, left][:, None] + TOLERANCE_M)
            found.append((low_y[at] + span[at] * part)[~between.any(axis=1)])
    return np.concatenate(found)


def _blocked(area: ClearArea, grid: Grid, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Range of left corners that each strip blocks in a row at each height [m]: its ends, as height, strip.

    A strip that the row does not touch has an infinite start and end.
    """
    low, high = heights[:, None, None] + TOLERANCE_M, heights[:, None, None] + grid.height_m - TOLERANCE_M
    x1, y1 = area.strips[:, :, 0], area.strips[:, :, 1]
    x2, y2 = np.roll(x1, -1, axis=1), np.roll(y1, -1, axis=1)
    level = y1 == y2
    slope = np.where(level, 0.0, (x2 - x1) / np.where(level, 1.0, y2 - y1))
    in_row = (np.maximum(y1, y2) > low) & (np.minimum(y1, y2) < high)
    ends = [x1 + (np.clip(y1, low, high) - y1) * slope, np.where(level, x2, x1 + (np.clip(y2, low, high) - y1) * slope)]
    first = np.where(in_row, np.minimum(*ends), np.inf).min(axis=2)
    last = np.where(in_row, np.maximum(*ends), -np.inf).max(axis=2)
    return first - grid.width_m, last


def _fill(area: ClearArea, grid: Grid, heights: FloatArray) -> tuple[FloatArray, IntArray]:
    """Left corner of the first module [m] and number of modules in the room before each blocked range, from the left."""
    low, high = _blocked(area, grid, heights)
    order = np.argsort(low, axis=1, kind="stable")
    low, high = np.take_along_axis(low, order, axis=1), np.take_along_axis(high, order, axis=1)
    pitch = grid.width_m + grid.column_gap_m
    first_x, counts = np.zeros(low.shape), np.zeros(low.shape, np.int64)
    x = np.full(len(heights), -np.inf)
    for index in range(low.shape[1]):
        free = np.flatnonzero(np.isfinite(x) & np.isfinite(low[:, index]) & (x <= low[:, index] + TOLERANCE_M))
        free = free[_usable(area, x[free] + grid.width_m / 2.0, heights[free] + grid.height_m / 2.0)]
        first_x[free, index] = x[free]
        counts[free, index] = np.floor((low[free, index] + TOLERANCE_M - x[free]) / pitch).astype(np.int64) + 1
        x[free] += counts[free, index] * pitch
        x = np.maximum(x, high[:, index])
    return first_x, counts


def _usable(area: ClearArea, x: FloatArray, y: FloatArray) -> BoolArray:
    """Whether each point lies inside the outline and outside all obstructions."""
    usable = contains(area.outline, x, y)
    for obstruction in area.obstructions:
        usable &= ~contains(obstruction, x, y)
    return usable


def work(outline: Polygon, edge_count: int, grid: Grid) -> float:
    """Upper bound on the comparisons of a layout with many edges: heights x rows x edges x rooms between edges."""
    xs, ys = zip(*outline, strict=True)
    rows: float = (max(ys) - min(ys)) / (grid.height_m + grid.row_gap_m) + 1.0
    columns: float = (max(xs) - min(xs)) / (grid.width_m + grid.column_gap_m) + 1.0
    return (START_HEIGHTS + CORNER_HEIGHTS_MOST) * rows * edge_count * (1.0 + min(edge_count, columns))
