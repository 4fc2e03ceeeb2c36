"""Edges of a face: eaves, ridge, rake, hip or valley, and the edges that form its left and right side."""

from __future__ import annotations

from math import cos, hypot, radians
from typing import Literal, get_args

from wattpair_service.engineering.roof.outline import Polygon, segments, signed_area_m2

EdgeKind = Literal["eaves", "ridge", "rake", "hip", "valley"]
EDGE_KINDS: tuple[EdgeKind, ...] = get_args(EdgeKind)
Side = Literal["left", "right"]
SIDES: tuple[Side, ...] = get_args(Side)

SQUARE_WITHIN_DEG = 5.0
"""Largest angle to the horizontal of eaves and ridge, and to the line of steepest slope of a rake. Common practice, no source:
hips and valleys lie at 45 degrees and more to the eaves."""
_SQUARE = cos(radians(SQUARE_WITHIN_DEG))


def edge_kinds(outline: Polygon) -> tuple[EdgeKind, ...]:
    """Kind of each edge of an outline, from its direction and the side on which the face lies.

    A horizontal edge below the face is eaves, one above it a ridge. An edge at right angles to the eaves is a rake. An oblique
    edge that looks up the slope is a hip: there the face widens towards the eaves. One that looks down the slope is a valley:
    there it narrows.

    Parameters
    ----------
    outline : Polygon
        Corners [m] in either direction: x along the eaves, y up the slope.

    Returns
    -------
    tuple of EdgeKind
        The first is that of the edge from the first corner to the second.
    """
    turn = 1.0 if signed_area_m2(outline) > 0.0 else -1.0
    return tuple(_kind(turn * (x2 - x1), turn * (y2 - y1)) for (x1, y1), (x2, y2) in segments(outline))


def _kind(dx: float, dy: float) -> EdgeKind:
    """Kind of an edge by its direction, where the face lies on its left: it then looks to (dy, -dx)."""
    length = hypot(dx, dy)
    if abs(dx) >= _SQUARE * length:
        return "eaves" if dx > 0.0 else "ridge"
    if abs(dy) >= _SQUARE * length:
        return "rake"
    return "valley" if dx > 0.0 else "hip"


def side_edges(outline: Polygon, side: Side) -> frozenset[int]:
    """Indexes of the edges that form one side of a face, from its lowest to its highest edge or corner.

    Steps of the side belong to it, so that a strip along all these edges leads from the eaves to the ridge without a break.
    """
    count = len(outline)
    counterclockwise = signed_area_m2(outline) > 0.0
    corners = range(count) if counterclockwise else range(count - 1, -1, -1)
    around = [outline[index] for index in corners]
    outwards = 1.0 if side == "right" else -1.0
    lowest, highest = (
        max((i for i in range(count) if around[i][1] == height), key=lambda i: outwards * around[i][0])
        for height in (min(y for _, y in around), max(y for _, y in around))
    )
    start, end = (lowest, highest) if side == "right" else (highest, lowest)
    steps = [(start + step) % count for step in range((end - start) % count)]
    kinds = edge_kinds(tuple(around))
    # A ridge or eaves that is not quite level has one lowest or highest corner: it is no part of the side.
    while steps and kinds[steps[0]] in ("eaves", "ridge"):
        del steps[0]
    while steps and kinds[steps[-1]] in ("eaves", "ridge"):
        del steps[-1]
    return frozenset(step if counterclockwise else (count - 2 - step) % count for step in steps)
