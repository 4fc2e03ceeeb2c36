"""Shade on a face: from what stands around it to classes of alike modules, hour by hour."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.equipment import Cells
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.shade.beam import beam_factors
from wattpair_service.engineering.shade.classes import ShadeClasses, shade_classes
from wattpair_service.engineering.shade.module_points import CORNERS, HALVES, half_points
from wattpair_service.engineering.shade.scene import Placement, Shade, on_roof, top_edges
from wattpair_service.engineering.shade.sky_masks import SkyMasks, column_azimuth_deg, horizon_deg, sky_masks
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
        corner_count=CORNERS,
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


@dataclass(frozen=True, slots=True, eq=False)
class SolidOutline:
    """An object on the roof or a building as a point sees it: its highest elevation in each direction, 0 beside it [deg]."""

    name: str
    high_deg: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class CrownOutline:
    """A tree's crown as a point sees it: its lowest and highest elevation in each direction, NaN beside it [deg]."""

    name: str
    low_deg: FloatArray
    high_deg: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Skyline:
    """What stands before the sky at one point of a face, in equal columns of azimuth, clockwise from north [deg].

    `module` is the number, from 1, of the module whose middle the point is; None where all modules see the same. `opaque_deg`
    is the elevation of the highest solid, trunks too, 0 where there is none; the horizon is apart from it. `solids` has
    objects, then buildings.
    """

    module: int | None
    azimuth_deg: FloatArray
    horizon_deg: FloatArray
    opaque_deg: FloatArray
    solids: tuple[SolidOutline, ...]
    crowns: tuple[CrownOutline, ...]


def skyline_of_face(face: Face) -> Skyline:
    """What is seen from the middle of the module that lies nearest to the middle of all."""
    shade = face.shade or NO_SHADE
    placement = shade.placement if shade.is_near else None
    module, middle = (None, np.zeros(2)) if placement is None else _middle_module(placement)
    point = on_roof(middle[:1], middle[1:], tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg)

    def seen(what: Shade) -> SkyMasks:
        edges = top_edges(what, tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg)
        return sky_masks(point[None], edges, what.trees, (), tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg)

    masks, columns = seen(shade), column_azimuth_deg()
    alone = [
        *((each.name, Shade(objects=(each,))) for each in shade.objects),
        *((each.name, Shade(buildings=(each,))) for each in shade.buildings),
    ]
    return Skyline(
        module=module,
        azimuth_deg=columns,
        horizon_deg=horizon_deg(face.horizon, columns),
        opaque_deg=_elevation_deg(masks),
        solids=tuple(SolidOutline(name, _elevation_deg(seen(each))) for name, each in alone),
        crowns=tuple(
            CrownOutline(tree.name, *(np.where(high > low, bound, np.nan) for bound in (np.maximum(low, 0.0), high)))
            for tree, low, high in zip(shade.trees, masks.crown_low_deg[:, 0], masks.crown_high_deg[:, 0], strict=True)
        ),
    )


def _elevation_deg(masks: SkyMasks) -> FloatArray:
    """Highest elevation of what is opaque in each column, at the one point of the masks."""
    return np.asarray(np.degrees(np.arctan(masks.limit_highest[0])), dtype=np.float64)


def _middle_module(placement: Placement) -> tuple[int, FloatArray]:
    """Number of the module nearest to the middle of all, and its middle in the plane of the face [m]."""
    corners = np.array(placement.corners, dtype=np.float64)
    apart_m = np.hypot(*(corners - corners.mean(axis=0)).T)
    index = int(apart_m.argmin())
    return index + 1, corners[index] + np.array([placement.module_width_m, placement.module_height_m]) / 2.0
