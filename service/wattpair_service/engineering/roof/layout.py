"""How many modules fit on a face, in rows, around obstructions and access paths.

The outline and its obstructions are polygons with straight edges; `rows` places the modules. Where the distance from the ridge
depends on the share of the face that is covered, the face is laid out with the smaller distance first, and with the larger one
where that would cover more. The code counts the whole roof in plan; here each face counts by itself.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from itertools import groupby, pairwise
from math import dist
from typing import Literal

import numpy as np

from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.cautions import caution
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.results import Assumption, Result
from wattpair_service.engineering.roof.access import Access, AccessTerms, access, access_cautions
from wattpair_service.engineering.roof.edges import EdgeKind, Side, edge_kinds, side_edges
from wattpair_service.engineering.roof.outline import (
    TOLERANCE_M,
    Polygon,
    apart_m,
    contains,
    require_simple,
    segments,
    signed_area_m2,
)
from wattpair_service.engineering.roof.rows import Grid, clear_area, rows_with_most_modules, work
from wattpair_service.engineering.sentences import Words, family, fixed

Orientation = Literal["portrait", "landscape"]
OrientationChoice = Literal["portrait", "landscape", "best"]

LENGTH_DIGITS = 9
"""Decimals of a length that is a sum or product of given lengths; further digits are rounding."""
MODULES_MOST = 1000
WORK_MOST = 5e7
"""Upper bound on the comparisons of a layout in one orientation: a few seconds."""
SEGMENT_GAP_M = 1e-6
"""Modules of a row that are further apart than their gap by more than this are no longer adjoining."""
KINDS_SOURCE = fixed("source.edge_directions")
OBSTRUCTED_PATH = caution("obstructed_path", "office", "roof")
family("name", ("edge_kinds", *(each.name for each in fields(AccessTerms) if each.name != "rules")))


@dataclass(frozen=True, slots=True)
class LayoutRequest:
    """A face and its modules. Lengths in m: x along the eaves, y up the slope, both in the plane of the face.

    `edge_kinds` has the kind of each edge, the first from the first corner to the second; None where they follow from the
    outline. `shape_fields` name the request fields that define the outline. `left_out` has the numbers of modules, from 1 row
    by row, that stay away: those whose shade does not let them earn their cost.
    """

    outline: Polygon
    obstructions: tuple[Polygon, ...]
    module_length_m: float
    module_width_m: float
    orientation: OrientationChoice
    access: AccessTerms
    obstruction_distance_m: float
    column_gap_m: float
    row_gap_m: float
    edge_kinds: tuple[EdgeKind, ...] | None = None
    shape_fields: tuple[str, ...] = ("outline",)
    left_out: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class PlacedModule:
    """One module by its lower left corner [m]; row and column count from 1."""

    row: int
    column: int
    x_m: float
    y_m: float


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Modules in one orientation, row by row from the eaves; `segments` counts those of each row that adjoin without a gap."""

    orientation: Orientation
    module_width_m: float
    module_height_m: float
    module_count: int
    row_module_counts: tuple[int, ...]
    row_segment_counts: tuple[int, ...]
    segments: tuple[tuple[int, ...], ...]
    column_count_most: int
    modules: tuple[PlacedModule, ...]

    @property
    def segment_module_counts(self) -> tuple[int, ...]:
        """Modules of each segment, row by row."""
        return tuple(count for row in self.segments for count in row)


@dataclass(frozen=True, slots=True)
class OrientationCount:
    """Number of modules that fit in one orientation."""

    orientation: Orientation
    module_count: int


@dataclass(frozen=True, slots=True)
class LaidOutEdge:
    """One edge of the outline [m], the distance that modules keep from it, and where this distance comes from."""

    kind: EdgeKind
    length_m: float
    distance_m: float
    source: Words


@dataclass(frozen=True, slots=True)
class AccessPath:
    """A strip without modules along one side of the face, from the eaves to the ridge."""

    side: Side
    width_m: float
    source: Words


@dataclass(frozen=True, slots=True, eq=False)
class LayoutResult(Result):
    """The best arrangement, the count of each orientation tried, areas [m2], and the distances kept.

    `edges` are in the order of the outline.
    """

    arrangement: Arrangement
    tried: tuple[OrientationCount, ...]
    unit_spacing_m: float
    face_area_m2: float
    module_area_m2: float
    covered_share: float
    edges: tuple[LaidOutEdge, ...]
    access_paths: tuple[AccessPath, ...]


def layout(request: LayoutRequest) -> LayoutResult:
    """Arrange as many modules on a face as fit.

    Raises
    ------
    EngineeringError
        An outline crosses itself, the face is too large, or no module fits.
    """
    require_simple(request.outline, request.shape_fields)
    for index, obstruction in enumerate(request.obstructions):
        require_simple(obstruction, (f"obstructions/{index}",))
    area = abs(signed_area_m2(request.outline))
    module_area = request.module_length_m * request.module_width_m
    if area / module_area > 4 * MODULES_MOST:
        raise EngineeringError(
            f"a face of at most {4 * MODULES_MOST * module_area:.0f} m2 for such modules; split it", request.shape_fields
        )
    _require_little_work(request)
    kinds = request.edge_kinds or edge_kinds(request.outline)
    used = access(request.access, kinds)
    found = _most_modules(request, kinds, used)
    narrow_share = _share(found.best.module_count * module_area, area)
    if (by_share := access(request.access, kinds, narrow_share)) != used:
        used, found = by_share, _most_modules(request, kinds, by_share)
    best = found.best
    if best.module_count == 0:
        raise EngineeringError(
            f"a face on which a module of {request.module_length_m:g} m x {request.module_width_m:g} m fits with its distances "
            f"({_in_words(used)}); none does",
            request.shape_fields,
        )
    if best.module_count > MODULES_MOST:
        raise EngineeringError(
            f"a face for at most {MODULES_MOST} modules; {best.module_count} fit: split it", request.shape_fields
        )
    best = _without(best, request)
    covered = best.module_count * module_area
    kinds_assumed = request.edge_kinds is None and "outline" in request.shape_fields
    return LayoutResult(
        arrangement=best,
        tried=found.tried,
        unit_spacing_m=round(best.module_width_m + request.column_gap_m, LENGTH_DIGITS),
        face_area_m2=area,
        module_area_m2=covered,
        covered_share=_share(covered, area),
        edges=_edges(request, kinds, used, found.sides),
        access_paths=_paths(used, found.sides),
        assumptions=(
            *([Assumption("edge_kinds", list(kinds), None, KINDS_SOURCE)] if kinds_assumed else []),
            *used.assumptions(),
        ),
        cautions=(
            *cautions.ORDER_CAUTIONS,
            *access_cautions(request.access, used, narrow_share),
            *([OBSTRUCTED_PATH] if _obstructed(request, used, found.sides) else []),
        ),
        method=(methods.FACE_LAYOUT,),
    )


@dataclass(frozen=True, slots=True)
class _Found:
    """The arrangement with the most modules, the sides of its access paths, and the count of each orientation."""

    best: Arrangement
    sides: tuple[Side, ...]
    tried: tuple[OrientationCount, ...]


def _most_modules(request: LayoutRequest, kinds: tuple[EdgeKind, ...], used: Access) -> _Found:
    """The most modules in each orientation; of the sides that the path may take, one without obstructions has precedence.

    Of equal counts the first is taken.
    """
    orientations: tuple[Orientation, ...] = (
        ("portrait", "landscape") if request.orientation == "best" else (request.orientation,)
    )
    by_sides = [
        (sides, [_arrange(request, _distances_m(request, kinds, used, sides), orientation) for orientation in orientations])
        for sides in used.sides()
    ]
    sides, arrangements = max(
        by_sides,
        key=lambda each: (
            -len(_obstructed(request, used, each[0])), max(arrangement.module_count for arrangement in each[1]),
        ),
    )  # fmt: skip
    tried = tuple(OrientationCount(each.orientation, each.module_count) for each in arrangements)
    return _Found(max(arrangements, key=lambda each: each.module_count), sides, tried)


def _obstructed(request: LayoutRequest, used: Access, sides: tuple[Side, ...]) -> list[Side]:
    """The sides whose path an obstruction on the face narrows."""
    if used.path is None:
        return []
    outline = request.outline
    closed = (*outline, outline[0])
    on_face = [
        (*each, each[0])
        for each in request.obstructions
        if contains(outline, *np.array(each).T).any() or apart_m((*each, each[0]), closed) == 0.0
    ]
    width_m = used.path.width.distance_m - TOLERANCE_M
    return [
        side
        for side in sides
        if any(apart_m(each, closed[edge : edge + 2]) < width_m for each in on_face for edge in side_edges(outline, side))
    ]


def _share(covered_m2: float, area_m2: float) -> float:
    """Covered share of a face; modules that fill it may cover more of it by rounding."""
    return min(covered_m2 / area_m2, 1.0)


def _distances_m(request: LayoutRequest, kinds: tuple[EdgeKind, ...], used: Access, sides: tuple[Side, ...]) -> list[float]:
    """Distance of modules from each edge [m]: at least the path's width on its sides."""
    return [each.distance_m for each in _edges(request, kinds, used, sides)]


def _edges(
    request: LayoutRequest, kinds: tuple[EdgeKind, ...], used: Access, sides: tuple[Side, ...]
) -> tuple[LaidOutEdge, ...]:
    beside_path = frozenset[int]().union(*(side_edges(request.outline, side) for side in sides))
    edges = []
    for index, (kind, (start, end)) in enumerate(zip(kinds, segments(request.outline), strict=True)):
        kept = used.edges[kind]
        if used.path is not None and index in beside_path and used.path.width.distance_m > kept.distance_m:
            kept = used.path.width
        edges.append(LaidOutEdge(kind, round(dist(start, end), LENGTH_DIGITS), kept.distance_m, kept.source))
    return tuple(edges)


def _paths(used: Access, sides: tuple[Side, ...]) -> tuple[AccessPath, ...]:
    if used.path is None:
        return ()
    return tuple(AccessPath(side, used.path.width.distance_m, used.path.width.source) for side in sides)


def _in_words(used: Access) -> str:
    """The distances of a face for an error message."""
    words = [f"{kind} {each.distance_m:g} m" for kind, each in used.edges.items()]
    return ", ".join([*words, *([f"access path {used.path.width.distance_m:g} m"] if used.path else [])])


def _arrange(request: LayoutRequest, distances_m: list[float], orientation: Orientation) -> Arrangement:
    long, short = request.module_length_m, request.module_width_m
    width, height = (short, long) if orientation == "portrait" else (long, short)
    area = clear_area(request.outline, distances_m, request.obstructions, request.obstruction_distance_m)
    rows = rows_with_most_modules(area, Grid(width, height, request.column_gap_m, request.row_gap_m))
    modules = tuple(
        PlacedModule(row, column, x, y) for row, corners in enumerate(rows, 1) for column, (x, y) in enumerate(corners, 1)
    )
    return _arrangement(request, orientation, width, height, modules)


def _arrangement(
    request: LayoutRequest, orientation: Orientation, width: float, height: float, modules: tuple[PlacedModule, ...]
) -> Arrangement:
    rows = [[each.x_m for each in row] for _, row in groupby(modules, key=lambda each: each.row)]
    counts = tuple(map(len, rows))
    pitch = width + request.column_gap_m + SEGMENT_GAP_M
    segments = tuple(_segments(row, pitch) for row in rows)
    return Arrangement(
        orientation, width, height, len(modules), counts, tuple(map(len, segments)), segments, max(counts, default=0), modules
    )


def _without(best: Arrangement, request: LayoutRequest) -> Arrangement:
    """The arrangement without the modules that stay away; the others keep their rows and columns."""
    if not request.left_out:
        return best
    if unknown := [number for number in request.left_out if number > best.module_count]:
        raise EngineeringError(
            f"numbers from 1 to {best.module_count}, as that many modules fit; it has {unknown[0]}", ("left_out",)
        )
    kept = tuple(each for number, each in enumerate(best.modules, 1) if number not in request.left_out)
    if not kept:
        raise EngineeringError(f"fewer than all of the {best.module_count} modules that fit", ("left_out",))
    return _arrangement(request, best.orientation, best.module_width_m, best.module_height_m, kept)


def _segments(lefts_m: list[float], pitch_m: float) -> tuple[int, ...]:
    """Modules of each part of a row without a gap, from the left corners of its modules [m]."""
    starts = [0, *(index for index, (left, right) in enumerate(pairwise(lefts_m), 1) if right - left > pitch_m)]
    return tuple(end - start for start, end in pairwise([*starts, len(lefts_m)]))


def _require_little_work(request: LayoutRequest) -> None:
    """Refuse, before any row is filled, a face that would take too long."""
    edges = len(request.outline) + sum(map(len, request.obstructions))
    side = request.module_width_m
    ratio = work(request.outline, edges, Grid(side, side, request.column_gap_m, request.row_gap_m)) / WORK_MOST
    if ratio > 1.0:
        raise EngineeringError(
            f"a face with {ratio:.3g} times fewer rows and corners for such small modules; split it", request.shape_fields
        )
