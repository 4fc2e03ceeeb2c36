"""Shade on a face: from what stands around it to classes of alike modules, hour by hour."""

from __future__ import annotations

import numpy as np

from wattpair_service.engineering.arrays import IntArray
from wattpair_service.engineering.equipment import Cells
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.shade.beam import beam_factors
from wattpair_service.engineering.shade.classes import ShadeClasses, shade_classes
from wattpair_service.engineering.shade.module_points import HALVES, half_points
from wattpair_service.engineering.shade.scene import Placement, Shade, on_roof, top_edges
from wattpair_service.engineering.shade.sky_masks import SkyMasks, sky_masks
from wattpair_service.engineering.shade.suns import SUNS_PER_HOUR, suns_inside

NO_SHADE = Shade()
ANYWHERE = Placement(((0.0, 0.0),), 0.0, 0.0, "portrait")
"""A module of no size at the face's corner: what is far away is seen alike from everywhere."""


def face_masks(face: Face, cells: Cells, *, height_factor: float = 1.0) -> SkyMasks:
    """What each half of each bypass group of a face's modules sees of the sky; one module where all see the same."""
    shade = face.shade or NO_SHADE
    placement = shade.placement if shade.is_near and shade.placement is not None else ANYWHERE
    points = half_points(placement, cells)
    on_face = on_roof(points[..., 0], points[..., 1], tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg)
    return sky_masks(
        on_face.reshape(-1, *on_face.shape[-2:]),
        top_edges(shade, tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg),
        shade.trees,
        face.horizon,
        tilt_deg=face.tilt_deg,
        azimuth_deg=face.azimuth_deg,
        height_factor=height_factor,
    )


def shade_on_face(
    face: Face,
    conditions: Conditions,
    lit: IntArray,
    cells: Cells,
    *,
    height_factor: float = 1.0,
    suns_per_hour: int = SUNS_PER_HOUR,
) -> ShadeClasses:
    """Classes of alike modules of a face in the hours at `lit`.

    `height_factor` multiplies the tangents of the elevations of all objects, for distances and heights that are guessed.
    """
    masks, suns = face_masks(face, cells, height_factor=height_factor), suns_inside(conditions, lit, per_hour=suns_per_hour)
    month, hour = conditions.month[lit][suns.hour], conditions.hour[lit][suns.hour]
    factors = beam_factors(face, masks, suns, month, hour, cells)
    dome, band = (each.reshape(12, -1, cells.group_count, HALVES).mean(axis=-1) for each in (masks.dome, masks.band))
    modules = factors.groups.shape[1]
    dome, band = (np.broadcast_to(each, (12, modules, cells.group_count)) for each in (dome, band))
    return shade_classes(suns, factors, dome, band, month)
