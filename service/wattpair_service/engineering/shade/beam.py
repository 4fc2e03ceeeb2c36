"""Share of the beam that reaches each bypass group, at each position of the sun."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.equipment import Cells
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.shade.module_points import HALVES
from wattpair_service.engineering.shade.scene import BeamSurvey, Tree
from wattpair_service.engineering.shade.sky_masks import COLUMN_DEG, COLUMNS, PAIRS_TOGETHER, SkyMasks, horizon_deg
from wattpair_service.engineering.shade.suns import Suns


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
    step = max(1, PAIRS_TOGETHER // len(masks.limit_highest))
    together = (slice(start, start + step) for start in range(0, max(suns.hour.size, 1), step))
    parts = [_geometric(face, masks, suns.at(each), month[each], cells) for each in together]
    groups, area = np.concatenate([each.groups for each in parts]), np.concatenate([each.area for each in parts])
    survey = face.shade.survey if face.shade is not None else None
    if survey is not None:
        surveyed = _surveyed(survey, month, hour)
        groups, area = groups * surveyed[..., None], area * surveyed
    return BeamFactors(groups, area)


def _geometric(face: Face, masks: SkyMasks, suns: Suns, month: IntArray, cells: Cells) -> BeamFactors:
    """Of horizon, objects and trees."""
    modules = len(masks.limit_highest) // (cells.group_count * HALVES)
    column = (suns.azimuth_deg / COLUMN_DEG).astype(np.int64) % COLUMNS
    tangent = suns.elevation_tangent[:, None]
    trees = face.shade.trees if face.shade is not None else ()
    # The horizon is the same for all points and known in finer steps than the columns.
    is_up = suns.elevation_tangent > np.tan(np.radians(horizon_deg(face.horizon, suns.azimuth_deg)))
    highest, lowest = masks.limit_highest.T[column], masks.limit_lowest.T[column]
    is_lit = (tangent > highest) & is_up[:, None]
    darkest = is_lit.astype(np.float64)
    area = darkest.copy()
    partly = np.nonzero((tangent > lowest) & is_up[:, None] & ~is_lit)
    area[partly] = (suns.elevation_tangent[partly[0]] - lowest[partly]) / (highest[partly] - lowest[partly])
    for index, tree in enumerate(trees):
        rows, passed = _through_crown(masks, index, tree, suns, column, month)
        darkest[rows] *= passed
        area[rows] *= passed
    darkest = darkest.reshape(len(darkest), modules, cells.group_count, HALVES)
    groups = darkest.mean(axis=-1) if cells.half_cut else darkest.min(axis=-1)
    return BeamFactors(groups, area.reshape(len(area), modules, cells.group_count * HALVES).mean(axis=-1))


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
