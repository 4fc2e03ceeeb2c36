"""Share of the beam that reaches each bypass group, at each position of the sun."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.equipment import Cells
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.shade.module_points import COLUMNS as COLUMNS_OF_GROUP, HALVES, rows_of_half
from wattpair_service.engineering.shade.scene import BeamSurvey, Tree
from wattpair_service.engineering.shade.sky_masks import COLUMN_DEG, COLUMNS, SkyMasks, horizon_deg
from wattpair_service.engineering.shade.suns import Suns

_SAME_LIMIT = 1e-6
"""Limits of a half that differ by less are the same."""


@dataclass(frozen=True, slots=True, eq=False)
class BeamFactors:
    """Shares of the beam (0-1).

    `groups`, shape (suns, modules, groups), is that of the darkest cell of each half, which holds the group's current; `area`,
    shape (suns, modules), is that of the module's whole area.
    """

    groups: FloatArray
    area: FloatArray


def beam_factors(face: Face, masks: SkyMasks, suns: Suns, month: IntArray, hour: IntArray, cells: Cells) -> BeamFactors:
    """Share of the beam at each sun; `month` (1 to 12) and `hour` (0 to 23) are those of each sun."""
    halves = len(masks.limit_highest)
    modules = halves // (cells.group_count * HALVES)
    column = (suns.azimuth_deg / COLUMN_DEG).astype(np.int64) % COLUMNS
    tangent = suns.elevation_tangent[:, None]
    trees, survey = (face.shade.trees, face.shade.survey) if face.shade is not None else ((), None)
    # The horizon is the same for all points and known in finer steps than the columns.
    is_up = suns.elevation_tangent > np.tan(np.radians(horizon_deg(face.horizon, suns.azimuth_deg)))
    highest, lowest = masks.limit_highest.T[column], masks.limit_lowest.T[column]
    darkest = ((tangent > highest) & is_up[:, None]).astype(np.float64)
    area = darkest.copy()
    partly = np.nonzero((highest - lowest > _SAME_LIMIT) & is_up[:, None])
    limits = (each[partly] for each in (lowest, masks.limit_middle.T[column], highest))
    area[partly] = _lit_area(suns.elevation_tangent[partly[0]], *limits, edge_share=_edge_share(face, cells))
    for index, tree in enumerate(trees):
        rows, passed = _through_crown(masks, index, tree, suns, column, month)
        darkest[rows] *= passed
        area[rows] *= passed
    darkest = darkest.reshape(-1, modules, cells.group_count, HALVES)
    groups = darkest.mean(axis=-1) if cells.half_cut else darkest.min(axis=-1)
    mean_area = area.reshape(len(area), modules, -1).mean(axis=-1)
    if survey is not None:
        surveyed = _surveyed(survey, month, hour)
        groups, mean_area = groups * surveyed[..., None], mean_area * surveyed
    return BeamFactors(groups, mean_area)


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
