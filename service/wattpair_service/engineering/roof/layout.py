"""How many modules fit on a face, in rows, around obstructions.

The outline and its obstructions are polygons with straight edges. A module, widened by the required distance, may touch but not
cross an edge. The distance is measured along and across the rows, so at corners it is slightly larger than required. Each row
is filled from its left with as many modules as fit, for several heights of the first row. The count is therefore the best of
the heights tried with rows at equal pitch, not a proven optimum. Columns are counted along each row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import floor, hypot, inf
from typing import Literal

from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.results import Result

Orientation = Literal["portrait", "landscape"]
OrientationChoice = Literal["portrait", "landscape", "best"]
Point = tuple[float, float]
Polygon = tuple[Point, ...]
Segment = tuple[Point, Point]

TOLERANCE_M = 1e-9
LENGTH_DIGITS = 9
"""Decimals of a length that is a sum or product of given lengths; further digits are rounding."""
MODULES_MOST = 1000
WORK_MOST = 5e7
"""Upper bound on the comparisons of a layout in one orientation: a few seconds."""
START_HEIGHTS = 12
"""Evenly spaced heights of the first row that are tried, from the lowest to one pitch above it."""
CORNER_HEIGHTS_MOST = 24
"""Further heights that are tried because rows may touch corners there: those of the outline first."""


@dataclass(frozen=True, slots=True)
class LayoutRequest:
    """A face and its modules. Lengths in m: x along the eaves, y up the slope, both in the plane of the face.

    `shape_fields` name the request fields that define the outline.
    """

    outline: Polygon
    obstructions: tuple[Polygon, ...]
    module_length_m: float
    module_width_m: float
    orientation: OrientationChoice
    edge_distance_m: float
    obstruction_distance_m: float
    column_gap_m: float
    row_gap_m: float
    shape_fields: tuple[str, ...] = ("outline",)


@dataclass(frozen=True, slots=True)
class PlacedModule:
    """One module by its lower left corner [m]; row and column count from 1."""

    row: int
    column: int
    x_m: float
    y_m: float


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Modules in one orientation, row by row from the eaves."""

    orientation: Orientation
    module_width_m: float
    module_height_m: float
    module_count: int
    row_module_counts: tuple[int, ...]
    row_segment_counts: tuple[int, ...]
    column_count_most: int
    modules: tuple[PlacedModule, ...]


@dataclass(frozen=True, slots=True)
class OrientationCount:
    """Number of modules that fit in one orientation."""

    orientation: Orientation
    module_count: int


@dataclass(frozen=True, slots=True, eq=False)
class LayoutResult(Result):
    """The best arrangement, the count of each orientation tried, and areas [m2]."""

    arrangement: Arrangement
    tried: tuple[OrientationCount, ...]
    unit_spacing_m: float
    face_area_m2: float
    module_area_m2: float
    covered_share: float


def layout(request: LayoutRequest) -> LayoutResult:
    """Arrange as many modules on a face as fit.

    Raises
    ------
    EngineeringError
        An outline crosses itself, the face is too large, or no module fits.
    """
    _require_simple(request.outline, request.shape_fields)
    for index, obstruction in enumerate(request.obstructions):
        _require_simple(obstruction, (f"obstructions/{index}",))
    area = abs(signed_area_m2(request.outline))
    module_area = request.module_length_m * request.module_width_m
    if area / module_area > 4 * MODULES_MOST:
        raise EngineeringError(
            f"a face of at most {4 * MODULES_MOST * module_area:.0f} m2 for such modules; split it", request.shape_fields
        )
    _require_little_work(request)
    orientations: tuple[Orientation, ...] = (
        ("portrait", "landscape") if request.orientation == "best" else (request.orientation,)
    )
    arrangements = [_arrange(request, orientation) for orientation in orientations]
    best = max(arrangements, key=lambda each: each.module_count)
    if best.module_count == 0:
        raise EngineeringError(
            f"a face on which a module of {request.module_length_m:g} m x {request.module_width_m:g} m fits with its edge "
            f"distance of {request.edge_distance_m:g} m; none does",
            request.shape_fields,
        )
    if best.module_count > MODULES_MOST:
        raise EngineeringError(
            f"a face for at most {MODULES_MOST} modules; {best.module_count} fit: split it", request.shape_fields
        )
    covered = best.module_count * module_area
    return LayoutResult(
        arrangement=best,
        tried=tuple(OrientationCount(each.orientation, each.module_count) for each in arrangements),
        unit_spacing_m=round(best.module_width_m + request.column_gap_m, LENGTH_DIGITS),
        face_area_m2=area,
        module_area_m2=covered,
        covered_share=min(covered / area, 1.0),
        cautions=cautions.ORDER_CAUTIONS,
        method=(methods.FACE_LAYOUT,),
    )


def signed_area_m2(polygon: Polygon) -> float:
    """Area of a polygon, positive where its corners run counterclockwise."""
    return 0.5 * sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in segments(polygon))


def segments(polygon: Polygon) -> list[Segment]:
    """The edges of a polygon."""
    return list(zip(polygon, (*polygon[1:], polygon[0]), strict=True))


def _arrange(request: LayoutRequest, orientation: Orientation) -> Arrangement:
    long, short = request.module_length_m, request.module_width_m
    width, height = (short, long) if orientation == "portrait" else (long, short)
    best: list[list[Point]] = []
    for start in _starts(request, height):
        rows = _rows(request, width, height, start)
        if sum(map(len, rows)) > sum(map(len, best)):
            best = rows
    modules = tuple(
        PlacedModule(row, column, x, y) for row, corners in enumerate(best, 1) for column, (x, y) in enumerate(corners, 1)
    )
    counts = tuple(map(len, best))
    pitch = width + request.column_gap_m + TOLERANCE_M * 1e3
    segment_counts = tuple(1 + sum(right - left > pitch for (left, _), (right, _) in pairwise(row)) for row in best)
    return Arrangement(orientation, width, height, len(modules), counts, segment_counts, max(counts, default=0), modules)


def _require_little_work(request: LayoutRequest) -> None:
    """Refuse, before any row is filled, a face that would take too long: heights x rows x edges x gaps between edges."""
    edges = len(request.outline) + sum(map(len, request.obstructions))
    side = request.module_width_m
    xs, ys = zip(*request.outline, strict=True)
    rows = (max(ys) - min(ys)) / (side + request.row_gap_m) + 1.0
    columns = (max(xs) - min(xs)) / (side + request.column_gap_m) + 1.0
    work = (START_HEIGHTS + CORNER_HEIGHTS_MOST) * rows * edges * (1.0 + min(edges, columns))
    if work > WORK_MOST:
        raise EngineeringError(
            f"a face with {work / WORK_MOST:.3g} times fewer rows and corners for such small modules; split it",
            request.shape_fields,
        )


def _starts(request: LayoutRequest, height: float) -> list[float]:
    """Heights of the first row to try: at the bottom, at the top, at corners, and in even steps."""
    pitch = height + request.row_gap_m
    ys = [y for _, y in request.outline]
    bottom, top = min(ys) + request.edge_distance_m, max(ys) - request.edge_distance_m - height
    if top < bottom - TOLERANCE_M:
        return []
    heights = [bottom, top]
    for polygon, distance in _shapes(request):
        heights += [touching for _, y in polygon for touching in (y + distance, y - distance - height)]
    # A row at such a height has its first row a whole number of pitches lower.
    lowest = dict.fromkeys(each - pitch * floor((each - bottom) / pitch + TOLERANCE_M) for each in heights)
    steps = [bottom + pitch * step / START_HEIGHTS for step in range(START_HEIGHTS)]
    return [start for start in dict.fromkeys([*list(lowest)[:CORNER_HEIGHTS_MOST], *steps]) if start <= top + TOLERANCE_M]


Shape = tuple[Polygon, float]
"""A polygon and the distance that modules keep from it."""


def _shapes(request: LayoutRequest) -> list[Shape]:
    """The outline, then the obstructions."""
    return [
        (request.outline, request.edge_distance_m),
        *((obstruction, request.obstruction_distance_m) for obstruction in request.obstructions),
    ]


def _rows(request: LayoutRequest, width: float, height: float, start: float) -> list[list[Point]]:
    top = max(y for _, y in request.outline) - request.edge_distance_m - height
    outline, *obstructions = _shapes(request)
    extents = [
        (min(y for _, y in polygon) - distance, max(y for _, y in polygon) + distance) for polygon, distance in obstructions
    ]
    rows: list[list[Point]] = []
    index = 0
    while (y := start + index * (height + request.row_gap_m)) <= top + TOLERANCE_M:
        in_row = [shape for shape, (low, high) in zip(obstructions, extents, strict=True) if low < y + height and high > y]
        row = _row([outline, *in_row], (width, height), y, request.column_gap_m)
        if row:
            rows.append(row)
        index += 1
    return rows


def _row(shapes: Sequence[Shape], size: tuple[float, float], y: float, gap: float) -> list[Point]:
    """Lower left corners of one row, each as far left as the previous ones allow; the first shape is the outline.

    Each edge blocks a range of left corners. Between blocked ranges a module crosses no edge, so its centre decides whether it
    lies inside the outline and outside all obstructions.
    """
    width, height = size
    blocked: list[tuple[float, float]] = []
    for polygon, distance in shapes:
        for segment in segments(polygon):
            x_range = _x_range(segment, y - distance, y + height + distance)
            if x_range is not None:
                blocked.append((x_range[0] - width - distance, x_range[1] + distance))
    blocked.sort()
    row: list[Point] = []
    x = -inf
    for low, high in blocked:
        if -inf < x <= low + TOLERANCE_M and _usable(shapes, (x + width / 2.0, y + height / 2.0)):
            while x <= low + TOLERANCE_M:
                row.append((x, y))
                x += width + gap
        x = max(x, high)
    return row


def _usable(shapes: Sequence[Shape], point: Point) -> bool:
    """Whether a point lies inside the outline, the first shape, and outside all obstructions."""
    (outline, _), *obstructions = shapes
    return contains(outline, point) and not any(contains(polygon, point) for polygon, _ in obstructions)


def _x_range(segment: Segment, low: float, high: float) -> tuple[float, float] | None:
    """Lowest and highest x of a segment between two heights; None where it does not lie between them."""
    (x1, y1), (x2, y2) = segment if segment[0][1] <= segment[1][1] else (segment[1], segment[0])
    low, high = low + TOLERANCE_M, high - TOLERANCE_M
    if y2 <= low or y1 >= high:
        return None
    slope = (x2 - x1) / (y2 - y1) if y2 > y1 else 0.0
    ends = [x1 + (max(y1, low) - y1) * slope, x1 + (min(y2, high) - y1) * slope] if y2 > y1 else [x1, x2]
    return min(ends), max(ends)


def contains(polygon: Polygon, point: Point) -> bool:
    """Whether a point lies inside a polygon, by counting the edges that a ray to the right crosses."""
    x, y = point
    inside = False
    for (x1, y1), (x2, y2) in segments(polygon):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) * (x2 - x1) / (y2 - y1):
            inside = not inside
    return inside


def _require_simple(polygon: Polygon, fields: tuple[str, ...]) -> None:
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


def rectangle(width_m: float, height_m: float) -> Polygon:
    """A rectangle with its lower left corner at the origin."""
    return ((0.0, 0.0), (width_m, 0.0), (width_m, height_m), (0.0, height_m))
