"""What throws shade on a face: objects on the roof, buildings and trees around it, or a surveyor's own table.

Two frames. In the plane of the face x runs along the eaves to the right and y up the slope, as in a layout. Around the roof,
metres east, north and up are counted from the face's corner, where x and y are 0.

Every solid is a vertical prism. What a point sees of it is bounded by its top edges, so a solid enters the calculation as the
straight edges of its top; a gabled top has its ridge as one more. Neglected: light that objects reflect or let through,
overhanging parts, and the space below a raised solid.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from math import cos, radians, sin, tan
from typing import Literal

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.roof.outline import Point, Polygon, segments

TopShape = Literal["flat", "sloped", "gabled"]
RidgeDirection = Literal["up_slope", "along_eaves"]
Orientation = Literal["portrait", "landscape"]

OPAQUE_BY_MONTH = (0.0,) * 12
TOLERANCE_SHARE = 0.10
"""Distances and heights as they are guessed from the ground. Common practice, no source."""
TRUNK_CORNERS = 6
SHADED_MODULES_MOST = 200
"""Modules of a roof whose shade is computed one by one: they take 3 s and 0.5 GB in an hourly year, with optimisers 8 s and
1 GB."""


@dataclass(frozen=True, slots=True)
class RoofObject:
    """A chimney, dormer, vent or parapet on the face.

    `outline` lies in the plane of the face [m]. `height_m` is that of its top above the roof, measured vertically at the middle
    of the outline: of a flat top, of the middle of a sloped one, of the ridge of a gabled one. A sloped top falls towards the
    eaves by `top_slope_deg`. A gabled top has its eaves at `eaves_height_m`, measured likewise.
    """

    name: str
    outline: Polygon
    height_m: float
    top: TopShape = "flat"
    top_slope_deg: float = 0.0
    eaves_height_m: float = 0.0
    ridge: RidgeDirection = "up_slope"

    @property
    def middle(self) -> Point:
        """Middle of the outline's bounding box [m]."""
        (left, right), (low, high) = self.extent
        return (left + right) / 2.0, (low + high) / 2.0

    @property
    def extent(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Bounds of the outline in x and in y [m]."""
        xs, ys = zip(*self.outline, strict=True)
        return (min(xs), max(xs)), (min(ys), max(ys))


@dataclass(frozen=True, slots=True)
class Building:
    """A box with a flat or gabled top: its middle, its length along `length_azimuth_deg`, and the heights of ridge and eaves.

    `top_up_m` and `eaves_up_m` are counted up from the face's corner; the ridge runs along the length. They are equal for a
    flat top.
    """

    name: str
    east_m: float
    north_m: float
    length_m: float
    width_m: float
    length_azimuth_deg: float
    top_up_m: float
    eaves_up_m: float


@dataclass(frozen=True, slots=True)
class Tree:
    """A tree with an ellipsoid for its crown: `transmittance_by_month` is the share of light that passes it (0-1).

    `ground_up_m` is the ground at the tree, up from the face's corner, usually negative; heights count from there.
    """

    name: str
    east_m: float
    north_m: float
    ground_up_m: float
    height_m: float
    crown_base_m: float
    crown_diameter_m: float
    trunk_diameter_m: float
    transmittance_by_month: tuple[float, ...] = OPAQUE_BY_MONTH


@dataclass(frozen=True, slots=True)
class BeamSurvey:
    """The surveyor's share of beam irradiance that arrives (0-1): for each month from January the hours 0 to 23.

    `factors` has one table for the whole face, or one for each module in the order of the placement.
    """

    factors: tuple[tuple[tuple[float, ...], ...], ...]


@dataclass(frozen=True, slots=True)
class Placement:
    """Lower left corner of each module of a face [m], and the size of a module as it lies there."""

    corners: tuple[Point, ...]
    module_width_m: float
    module_height_m: float
    orientation: Orientation


@dataclass(frozen=True, slots=True)
class Shade:
    """All that throws shade on a face beside its horizon; objects of each kind together.

    `placement` is None where the modules' positions are unknown; only a survey of the whole face applies then.
    `tolerance_share` is that of distances and heights (0-1), for the range of the loss. `corner_m` is the face's corner east,
    north and up of the point that the surroundings of the whole site are measured from. The last `site_buildings` and
    `site_trees` are the site's, which all its faces have.
    """

    objects: tuple[RoofObject, ...] = ()
    buildings: tuple[Building, ...] = ()
    trees: tuple[Tree, ...] = ()
    survey: BeamSurvey | None = None
    placement: Placement | None = None
    tolerance_share: float = TOLERANCE_SHARE
    corner_m: tuple[float, float, float] = (0.0, 0.0, 0.0)
    site_buildings: int = field(default=0, compare=False)
    site_trees: int = field(default=0, compare=False)

    @property
    def is_anything(self) -> bool:
        """Whether it throws any shade."""
        return bool(self.objects or self.buildings or self.trees or self.survey)

    @property
    def is_near(self) -> bool:
        """Whether it differs from module to module."""
        return bool(self.objects or self.buildings or self.trees) or (self.survey is not None and len(self.survey.factors) > 1)


def on_roof(x_m: FloatArray, y_m: FloatArray, *, tilt_deg: float, azimuth_deg: float) -> FloatArray:
    """Points in the plane of a face in metres east, north and up: shape (..., 3)."""
    up_slope, tilt = radians(azimuth_deg + 180.0), radians(tilt_deg)
    along_m = y_m * cos(tilt)
    east = x_m * cos(up_slope) + along_m * sin(up_slope)
    north = -x_m * sin(up_slope) + along_m * cos(up_slope)
    return np.stack([east, north, y_m * sin(tilt)], axis=-1)


def top_edges(shade: Shade, *, tilt_deg: float, azimuth_deg: float) -> FloatArray:
    """Top edges of everything opaque: metres east, north and up, shape (edges, 2, 3)."""
    edges: list[FloatArray] = []
    for roof_object in shade.objects:
        plan, up_m = _object_top(roof_object, tilt_deg)
        corners = on_roof(plan[..., 0], plan[..., 1], tilt_deg=tilt_deg, azimuth_deg=azimuth_deg)
        corners[..., 2] = up_m
        edges.append(corners)
    edges += [_building_top(each) for each in shade.buildings]
    edges += [_trunk_top(each) for each in shade.trees if each.trunk_diameter_m > 0.0 and each.crown_base_m > 0.0]
    return np.concatenate(edges) if edges else np.empty((0, 2, 3))


def _object_top(roof_object: RoofObject, tilt_deg: float) -> tuple[FloatArray, FloatArray]:
    """Edges of the top in the plane of the face, shape (edges, 2, 2), and how far up their ends are [m]."""
    (left, right), (low, high) = roof_object.extent
    _, middle_y = roof_object.middle
    up_to_top_m = middle_y * sin(radians(tilt_deg)) + roof_object.height_m
    if roof_object.top == "gabled":
        across, half_m = (0, (right - left) / 2.0) if roof_object.ridge == "up_slope" else (1, (high - low) / 2.0)
        edges = np.array([*_with_ridge(roof_object.outline, across, roof_object.middle[across])])
        fall_m = (roof_object.height_m - roof_object.eaves_height_m) / half_m
        return edges, up_to_top_m - fall_m * np.abs(edges[..., across] - roof_object.middle[across])
    edges = np.array(segments(roof_object.outline))
    slope = tan(radians(roof_object.top_slope_deg)) * cos(radians(tilt_deg)) if roof_object.top == "sloped" else 0.0
    return edges, up_to_top_m + slope * (edges[..., 1] - middle_y)


def _with_ridge(outline: Polygon, across: int, ridge: float) -> Iterator[tuple[Point, Point]]:
    """Edges of an outline, divided where they cross the ridge, and the ridge itself."""
    along, crossings = 1 - across, []
    for start, end in segments(outline):
        if (start[across] - ridge) * (end[across] - ridge) >= 0.0:
            yield start, end
            if start[across] == ridge:
                crossings.append(start)
            continue
        share = (ridge - start[across]) / (end[across] - start[across])
        crossing = (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))
        crossings.append(crossing)
        yield start, crossing
        yield crossing, end
    yield from pairwise(sorted(crossings, key=lambda point: point[along]))


def _building_top(building: Building) -> FloatArray:
    half_length, half_width = building.length_m / 2.0, building.width_m / 2.0
    outline = ((-half_length, -half_width), (half_length, -half_width), (half_length, half_width), (-half_length, half_width))
    plan = np.array([*_with_ridge(outline, 1, 0.0)])
    fall_m = (building.top_up_m - building.eaves_up_m) / half_width
    turn = radians(building.length_azimuth_deg)
    along, across = plan[..., 0], plan[..., 1]
    return np.stack(
        [
            building.east_m + along * sin(turn) + across * cos(turn),
            building.north_m + along * cos(turn) - across * sin(turn),
            building.top_up_m - fall_m * np.abs(across),
        ],
        axis=-1,
    )


def _trunk_top(tree: Tree) -> FloatArray:
    """Of a trunk that ends inside the crown."""
    angles = np.linspace(0.0, 2.0 * np.pi, TRUNK_CORNERS + 1)
    radius_m = tree.trunk_diameter_m / 2.0
    up_m = tree.ground_up_m + (tree.crown_base_m + tree.height_m) / 2.0
    ring = np.stack(
        [tree.east_m + radius_m * np.sin(angles), tree.north_m + radius_m * np.cos(angles), np.full(angles.size, up_m)], axis=-1
    )
    return np.stack([ring[:-1], ring[1:]], axis=1)
