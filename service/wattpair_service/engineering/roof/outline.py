"""Polygons in the plane of a face: x along the eaves, y up the slope [m]."""

from __future__ import annotations

from itertools import pairwise
from math import hypot

import numpy as np

from wattpair_service.engineering.arrays import BoolArray, FloatArray
from wattpair_service.engineering.errors import EngineeringError

Point = tuple[float, float]
Polygon = tuple[Point, ...]
Segment = tuple[Point, Point]

TOLERANCE_M = 1e-9


def rectangle(width_m: float, height_m: float) -> Polygon:
    """A rectangle with its lower left corner at the origin."""
    return ((0.0, 0.0), (width_m, 0.0), (width_m, height_m), (0.0, height_m))


def signed_area_m2(polygon: Polygon) -> float:
    """Area of a polygon, positive where its corners run counterclockwise."""
    return 0.5 * sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in segments(polygon))


def segments(polygon: Polygon) -> list[Segment]:
    """The edges of a polygon."""
    return list(zip(polygon, (*polygon[1:], polygon[0]), strict=True))


def contains(polygon: Polygon, x: FloatArray, y: FloatArray) -> BoolArray:
    """Whether each point lies inside a polygon, by counting the edges that a ray to the right crosses."""
    inside = np.zeros(x.shape, bool)
    for (x1, y1), (x2, y2) in segments(polygon):
        if y1 != y2:
            inside ^= ((y1 > y) != (y2 > y)) & (x < x1 + (y - y1) * (x2 - x1) / (y2 - y1))
    return inside


def require_simple(polygon: Polygon, fields: tuple[str, ...]) -> None:
    """Refuse a polygon without area, with an edge of no length, or whose edges cross or touch."""
    edges = segments(polygon)
    if any(hypot(x2 - x1, y2 - y1) < TOLERANCE_M for (x1, y1), (x2, y2) in edges):
        raise EngineeringError("corners that differ from their neighbours; the last is joined to the first by itself", fields)
    if abs(signed_area_m2(polygon)) < TOLERANCE_M:
        raise EngineeringError("corners that enclose an area", fields)
    count = len(edges)
    for first in range(count):
        for second in range(first + 1, count):
            neighbours = second == first + 1 or (first == 0 and second == count - 1)
            if (_folds_back if neighbours else _intersect)(edges[first], edges[second]):
                raise EngineeringError("an outline that does not cross or touch itself", fields)


def apart_m(one: Polygon, other: Polygon) -> float:
    """Least distance between two sequences of edges [m]: 0 where they cross or touch."""
    return min(_segments_apart_m(a, b) for a in pairwise(one) for b in pairwise(other))


def _segments_apart_m(one: Segment, other: Segment) -> float:
    if _intersect(one, other):
        return 0.0
    pairs = ((one[0], other), (one[1], other), (other[0], one), (other[1], one))
    return min(_point_apart_m(point, segment) for point, segment in pairs)


def _point_apart_m(point: Point, segment: Segment) -> float:
    (x1, y1), (x2, y2) = segment
    along_x, along_y = x2 - x1, y2 - y1
    share = ((point[0] - x1) * along_x + (point[1] - y1) * along_y) / (along_x**2 + along_y**2)
    share = min(max(share, 0.0), 1.0)
    return hypot(point[0] - x1 - share * along_x, point[1] - y1 - share * along_y)


def _cross_product(a: Point, b: Point, c: Point) -> float:
    """Of the vectors from a to b and from a to c; positive where c lies left of the line."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _intersect(one: Segment, other: Segment) -> bool:
    """Whether two segments have a point in common."""
    sides = (
        _cross_product(*one, other[0]),
        _cross_product(*one, other[1]),
        _cross_product(*other, one[0]),
        _cross_product(*other, one[1]),
    )
    if sides[0] * sides[1] < 0.0 and sides[2] * sides[3] < 0.0:
        return True
    ends = ((one, other[0]), (one, other[1]), (other, one[0]), (other, one[1]))
    return any(side == 0.0 and _between(*pair) for side, pair in zip(sides, ends, strict=True))


def _between(segment: Segment, point: Point) -> bool:
    """Whether a point on the line through a segment lies on the segment."""
    (x1, y1), (x2, y2) = segment
    return min(x1, x2) <= point[0] <= max(x1, x2) and min(y1, y2) <= point[1] <= max(y1, y2)


def _folds_back(one: Segment, other: Segment) -> bool:
    """Whether an edge runs back along its neighbour."""
    shared = one[1] if one[1] in other else one[0]
    a = one[0] if shared == one[1] else one[1]
    b = other[1] if shared == other[0] else other[0]
    along = (a[0] - shared[0]) * (b[0] - shared[0]) + (a[1] - shared[1]) * (b[1] - shared[1])
    return _cross_product(shared, a, b) == 0.0 and along > 0.0
