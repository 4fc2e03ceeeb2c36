"""Share of the beam that reaches each bypass group, at each position of the sun."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.equipment import Cells
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.shade.module_points import COLUMNS as COLUMNS_OF_GROUP, HALVES, rows_of_half
from wattpair_service.engineering.shade.scene import BeamSurvey, Tree
from wattpair_service.engineering.shade.sky_masks import COLUMN_DEG, COLUMNS, PAIRS_TOGETHER, SkyMasks, horizon_deg
from wattpair_service.engineering.shade.suns import Suns

EVEN = 0
BRIGHT_STEPS = 4
ONE_HALF_UNEVEN = BRIGHT_STEPS + 1
"""One half of the group has both cells in the sun and cells out of it, the other has not."""
FIRST_CELL_SHARE = 0.75
"""Beam on the outermost cell while a shadow covers a corner of the half but not yet the cell's middle: between 0.5 and 1."""
_SAME_LIMIT = 1e-6
"""Limits of a half that differ by less are the same."""


@dataclass(frozen=True, slots=True, eq=False)
class BeamFactors:
    """Shares of the beam (0-1).

    `groups`, shape (suns, modules, groups), is that of the darkest cell of each half, which holds the group's current; `area`,
    shape (suns, modules), is that of the module's whole area. `unevenness`, of the shape of `groups`, says how the cells of a
    group differ: `EVEN`, 1 to `BRIGHT_STEPS` by the share of cells in the sun, or `ONE_HALF_UNEVEN`.
    """

    groups: FloatArray
    area: FloatArray
    unevenness: npt.NDArray[np.int8]


def beam_factors(face: Face, masks: SkyMasks, suns: Suns, month: IntArray, hour: IntArray, cells: Cells) -> BeamFactors:
    """Share of the beam at each sun; `month` (1 to 12) and `hour` (0 to 23) are those of each sun."""
    step = max(1, PAIRS_TOGETHER // len(masks.limit_highest))
    together = (slice(start, start + step) for start in range(0, max(suns.hour.size, 1), step))
    parts = [_geometric(face, masks, suns.at(each), month[each], cells) for each in together]
    groups, area = np.concatenate([each.groups for each in parts]), np.concatenate([each.area for each in parts])
    unevenness = np.concatenate([each.unevenness for each in parts])
    survey = face.shade.survey if face.shade is not None else None
    if survey is not None:
        surveyed = _surveyed(survey, month, hour)
        groups, area = groups * surveyed[..., None], area * surveyed
    return BeamFactors(groups, area, unevenness)


def _geometric(face: Face, masks: SkyMasks, suns: Suns, month: IntArray, cells: Cells) -> BeamFactors:
    """Of horizon, objects and trees."""
    modules = len(masks.limit_highest) // (cells.group_count * HALVES)
    column = (suns.azimuth_deg / COLUMN_DEG).astype(np.int64) % COLUMNS
    trees = face.shade.trees if face.shade is not None else ()
    # The horizon is the same for all points and known in finer steps than the columns.
    is_up = (suns.elevation_tangent > np.tan(np.radians(horizon_deg(face.horizon, suns.azimuth_deg))))[:, None]
    is_lit = (suns.elevation_tangent[:, None] > masks.limit_corner.T[column]) & is_up
    area = is_lit.astype(np.float64)
    darkest = area.copy()
    sun, half = np.nonzero(is_up & ~is_lit)
    tangent, at = suns.elevation_tangent[sun], (half, column[sun])
    lowest, highest = masks.limit_lowest[at], masks.limit_highest[at]
    limits = lowest, masks.limit_middle[at], highest
    area[sun, half] = _lit_area(tangent, *limits, edge_share=_edge_share(face, cells))
    darkest[sun, half] = np.where(tangent > highest, FIRST_CELL_SHARE, 0.0)
    unevenness = _unevenness(area, darkest < 1.0, cells)
    for index, tree in enumerate(trees):
        rows, passed = _through_crown(masks, index, tree, suns, column, month)
        darkest[rows] *= passed
        area[rows] *= passed
    darkest = darkest.reshape(len(darkest), modules, cells.group_count, HALVES)
    groups = darkest.mean(axis=-1) if cells.half_cut else darkest.min(axis=-1)
    return BeamFactors(groups, area.reshape(len(area), modules, cells.group_count * HALVES).mean(axis=-1), unevenness)


def _unevenness(area: FloatArray, is_dark: BoolArray, cells: Cells) -> npt.NDArray[np.int8]:
    """How the cells of each group differ, by the lit area of its halves and whether a shadow has reached their cells."""
    shape = len(area), -1, cells.group_count, HALVES
    lit, partly = area.reshape(shape), ((area > _SAME_LIMIT) & is_dark).reshape(shape)
    steps = np.clip(np.ceil(lit.mean(axis=-1) * BRIGHT_STEPS), 1, BRIGHT_STEPS).astype(np.int8)
    if not cells.half_cut:
        # All cells are in series: any in the sun beside any out of it.
        is_uneven = (lit > _SAME_LIMIT).any(axis=-1) & is_dark.reshape(shape).any(axis=-1)
        return np.where(is_uneven, steps, np.int8(EVEN))
    by_count = np.where(partly.all(axis=-1), steps, np.int8(ONE_HALF_UNEVEN))
    return np.where(partly.any(axis=-1), by_count, np.int8(EVEN))


def _edge_share(face: Face, cells: Cells) -> float:
    """How far the outermost points of a half lie from its upper and lower edge, over its height."""
    placement = face.shade.placement if face.shade is not None else None
    is_portrait = placement is None or placement.orientation == "portrait"
    return 0.5 / (rows_of_half(cells) if is_portrait else COLUMNS_OF_GROUP)


def _lit_area(
    tangent: FloatArray, lowest: FloatArray, middle: FloatArray, highest: FloatArray, *, edge_share: float
) -> FloatArray:
    """Share of a half's area in the sun (0-1), from the limits at its outermost points and in its middle.

    Behind a level edge the lit length is a quotient of linear functions of the tangent, which three points determine. The
    outermost points are `edge_share` of the length away from the edges.
    """
    upper = (tangent - lowest) * (highest - middle)
    lower = (highest - tangent) * (middle - lowest)
    is_step = np.abs(upper + lower) < _SAME_LIMIT**2
    lit = (1.0 - edge_share) * upper + edge_share * lower
    area = np.divide(lit, upper + lower, out=(tangent > middle).astype(np.float64), where=~is_step)
    # Beyond its pole the quotient starts anew.
    area = np.where((tangent > highest) & (area < 1.0 - edge_share), 1.0, area)
    area = np.where((tangent < lowest) & (area > edge_share), 0.0, area)
    return np.asarray(np.clip(area, 0.0, 1.0))


def _through_crown(
    masks: SkyMasks, index: int, tree: Tree, suns: Suns, column: IntArray, month: IntArray
) -> tuple[IntArray, FloatArray]:
    """Suns in the columns of a crown, and the share of the beam that it then lets pass to each half, shape (suns, halves)."""
    low_deg, high_deg = masks.crown_low_deg[index], masks.crown_high_deg[index]
    rows = np.flatnonzero((high_deg > low_deg).any(axis=0)[column])
    elevation_deg = np.degrees(np.arctan(suns.elevation_tangent[rows]))[:, None]
    is_behind = (elevation_deg >= low_deg.T[column[rows]]) & (elevation_deg <= high_deg.T[column[rows]])
    transmittance = np.array(tree.transmittance_by_month)[month[rows] - 1]
    return rows, np.where(is_behind, transmittance[:, None], 1.0)


def _surveyed(survey: BeamSurvey, month: IntArray, hour: IntArray) -> FloatArray:
    """The surveyor's factors, shape (suns, modules); one table stands for all modules."""
    return np.array(survey.factors)[:, month - 1, hour].T
