"""Modules on a face: none overlaps another, leaves the outline or lies on an obstruction."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, sin
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings, strategies as st

from tests.builders import numbers
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.roof.layout import LayoutRequest, LayoutResult, Point, Polygon, layout, rectangle, segments

SLACK_M = 1e-6
"""What a comparison of coordinates may be off by: far below what can be built."""

REQUEST = LayoutRequest(
    outline=rectangle(10.0, 6.0),
    obstructions=(),
    module_length_m=1.7,
    module_width_m=1.1,
    orientation="best",
    edge_distance_m=0.3,
    obstruction_distance_m=0.3,
    column_gap_m=0.02,
    row_gap_m=0.02,
)


def star(centre: Point, radii: list[float], turn: float = 0.0) -> Polygon:
    """A polygon around a centre with one corner in each direction: it never crosses itself, but may have bays."""
    step = 2.0 * pi / len(radii)
    return tuple((centre[0] + r * cos(turn + i * step), centre[1] + r * sin(turn + i * step)) for i, r in enumerate(radii))


@st.composite
def requests(draw: st.DrawFn) -> LayoutRequest:
    """Faces of all kinds: rectangles, convex ones, ones with bays, with chimneys in, on and beside them."""
    if draw(st.booleans()):
        outline = rectangle(draw(numbers(1.0, 15.0)), draw(numbers(1.0, 10.0)))
    else:
        radii = draw(st.lists(numbers(0.5, 9.0), min_size=3, max_size=9))
        outline = star((draw(numbers(-5.0, 5.0)), draw(numbers(-5.0, 5.0))), radii, draw(numbers(0.0, 6.0)))
    places = st.tuples(numbers(-6.0, 12.0), numbers(-6.0, 8.0))
    obstructions = tuple(
        star(draw(places), draw(st.lists(numbers(0.1, 2.0), min_size=3, max_size=6))) for _ in range(draw(st.integers(0, 3)))
    )
    long = draw(numbers(0.5, 2.5))
    return LayoutRequest(
        outline=outline,
        obstructions=obstructions,
        module_length_m=long,
        module_width_m=draw(numbers(0.4, min(1.4, long))) if long > 0.4 else long,
        orientation=draw(st.sampled_from(["portrait", "landscape", "best"])),
        edge_distance_m=draw(st.just(0.0) | numbers(0.0, 0.8)),
        obstruction_distance_m=draw(st.just(0.0) | numbers(0.0, 0.8)),
        column_gap_m=draw(st.just(0.0) | numbers(0.0, 0.2)),
        row_gap_m=draw(st.just(0.0) | numbers(0.0, 1.0)),
    )


def distances_to_boxes(segment: tuple[Point, Point], low: FloatArray, high: FloatArray) -> FloatArray:
    """Least distance along an axis (the larger of x and y) from a segment to each box (rows of corners), by search along it."""
    start, way = np.array(segment[0]), np.array(segment[1]) - np.array(segment[0])

    def at(share: FloatArray) -> FloatArray:
        point = start + share[:, None] * way
        return np.asarray(np.max(np.maximum(low - point, point - high), axis=1))

    # The distance is convex along the segment: a ternary search finds its least.
    left, right = np.zeros(len(low)), np.ones(len(low))
    for _ in range(60):
        a, b = left + (right - left) / 3.0, right - (right - left) / 3.0
        nearer = at(a) < at(b)
        left, right = np.where(nearer, left, a), np.where(nearer, b, right)
    return np.asarray(np.min([at(left * 0.0), at(left * 0.0 + 1.0), at((left + right) / 2.0)], axis=0))


def windings(polygon: Polygon, points: FloatArray) -> FloatArray:
    """How often a polygon goes around each point, by the angles that its corners are seen under."""
    corners = np.array(polygon)[None, :, :] - points[:, None, :]
    angles = np.arctan2(corners[..., 1], corners[..., 0])
    turns = np.diff(np.concatenate([angles, angles[:, :1]], axis=1), axis=1)
    return np.asarray(np.abs(np.sum((turns + pi) % (2.0 * pi) - pi, axis=1)) / (2.0 * pi))


def assert_sound(request: LayoutRequest, result: LayoutResult) -> None:
    """Every module lies where it may, by means that share nothing with the layout's own."""
    placed = result.arrangement
    width, height = placed.module_width_m, placed.module_height_m
    low = np.array([(module.x_m, module.y_m) for module in placed.modules])
    high = low + np.array([width, height])
    middle = (low + high) / 2.0
    assert windings(request.outline, middle) == pytest.approx(1.0, abs=1e-6)
    for edge in segments(request.outline):
        assert (distances_to_boxes(edge, low, high) >= request.edge_distance_m - SLACK_M).all()
    for obstruction in request.obstructions:
        assert windings(obstruction, middle) == pytest.approx(0.0, abs=1e-6)
        for edge in segments(obstruction):
            assert (distances_to_boxes(edge, low, high) >= request.obstruction_distance_m - SLACK_M).all()
    x, y = low.T
    apart_x = np.abs(x[:, None] - x) >= width + request.column_gap_m - SLACK_M
    apart_y = np.abs(y[:, None] - y) >= height + request.row_gap_m - SLACK_M
    assert (apart_x | apart_y | np.eye(len(x), dtype=bool)).all()


@settings(max_examples=settings().max_examples * 2)
@given(requests())
def test_modules_never_overlap_or_leave_the_outline(request: LayoutRequest) -> None:
    try:
        result = layout(request)
    except EngineeringError as error:
        assume("none does" not in str(error))
        raise
    assert_sound(request, result)
    placed = result.arrangement
    assert placed.module_count == len(placed.modules) == sum(placed.row_module_counts) > 0
    assert [(m.row, m.column) for m in placed.modules] == [
        (row, column) for row, count in enumerate(placed.row_module_counts, 1) for column in range(1, count + 1)
    ]
    assert placed.module_count == max(tried.module_count for tried in result.tried)
    assert 0.0 < result.covered_share <= 1.0


@given(numbers(1.0, 15.0), numbers(1.0, 10.0), numbers(0.0, 0.5), numbers(0.0, 0.1), st.sampled_from(["portrait", "landscape"]))
def test_a_rectangle_is_filled(width: float, height: float, edge: float, gap: float, orientation: str) -> None:
    request = replace(
        REQUEST,
        outline=rectangle(width, height),
        edge_distance_m=edge,
        column_gap_m=gap,
        row_gap_m=gap,
        orientation=orientation,  # type: ignore[arg-type]
    )
    across, up = (1.1, 1.7) if orientation == "portrait" else (1.7, 1.1)
    columns = int((width - 2 * edge + gap + 1e-9) / (across + gap))
    rows = int((height - 2 * edge + gap + 1e-9) / (up + gap))
    if columns > 0 and rows > 0 and width > 2 * edge and height > 2 * edge:
        assert layout(request).arrangement.row_module_counts == (columns,) * rows
    else:
        with pytest.raises(EngineeringError, match="none does"):
            layout(request)


def test_covered_share_is_at_most_one() -> None:
    tight = replace(REQUEST, edge_distance_m=0.0, obstruction_distance_m=0.0, column_gap_m=0.0, row_gap_m=0.0)
    request = replace(tight, outline=rectangle(1.0, 1.0), module_length_m=0.2, module_width_m=0.1)
    assert layout(request).covered_share == 1.0  # 50 * (0.2 * 0.1) is more in binary


def test_the_better_orientation_is_taken_and_both_are_reported() -> None:
    result = layout(replace(REQUEST, outline=rectangle(9.0, 2.4)))
    assert {tried.orientation: tried.module_count for tried in result.tried} == {"portrait": 7, "landscape": 4}
    assert result.arrangement.orientation == "portrait"
    assert result.unit_spacing_m == pytest.approx(1.12)
    assert layout(replace(REQUEST, outline=rectangle(9.0, 1.8))).arrangement.orientation == "landscape"


def test_a_chimney_splits_a_row_and_both_sides_are_filled() -> None:
    chimney = ((4.0, 0.0), (5.0, 0.0), (5.0, 2.5), (4.0, 2.5))
    request = replace(REQUEST, outline=rectangle(9.0, 2.4), obstructions=(chimney,), orientation="portrait")
    placed = layout(request).arrangement
    assert (placed.row_module_counts, placed.row_segment_counts) == ((6,), (2,))
    assert min(m.x_m for m in placed.modules) < 4.0 < 5.3 <= max(m.x_m for m in placed.modules)
    assert set(layout(REQUEST).arrangement.row_segment_counts) == {1}


def test_large_problems_are_refused_before_any_row_is_filled(monkeypatch: pytest.MonkeyPatch) -> None:
    saw = [(x, y) for step in range(24) for x, y in ((step * 8.0, 0.0), (step * 8.0 + 4.0, 199.0))]
    outline = (*saw, (192.0, -0.2), (-1.0, -0.2))
    bars = tuple(tuple((8.0 * i + x, y) for x, y in rectangle(0.5, 190.0)) for i in range(24))
    request = replace(REQUEST, module_length_m=3.0, module_width_m=0.2, obstructions=bars)
    monkeypatch.setattr("wattpair_service.engineering.roof.layout._arrange", lambda *_: pytest.fail("a row is filled"))
    for each in (rectangle(12.0, 198.0), outline):
        with pytest.raises(EngineeringError, match="split it") as error:
            layout(replace(request, outline=each))
        assert error.value.fields == ("outline",)


@pytest.mark.parametrize("step", [1, -1], ids=["counter-clockwise", "clockwise"])
def test_the_direction_of_the_outline_does_not_matter(step: int) -> None:
    outline = ((0.0, 0.0), (11.4, 0.0), (9.1, 6.2), (2.3, 6.2))
    assert layout(replace(REQUEST, outline=outline[::step])).arrangement.module_count == 21


KNOT = ((0.0, 0.0), (4.0, 4.0), (4.0, 0.0), (0.0, 5.0))
WHOLE_FACE = ((-1.0, -1.0), (20.0, -1.0), (20.0, 20.0), (-1.0, 20.0))


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"outline": ((0.0, 0.0), (1.0, 1.0), (2.0, 2.0))}, "outline", "enclose an area"),
        ({"outline": KNOT}, "outline", "cross or touch itself"),
        ({"outline": ((0.0, 0.0), (4.0, 0.0), (4.0, 0.0), (0.0, 4.0))}, "outline", "differ from their neighbours"),
        ({"outline": ((0.0, 0.0), (4.0, 0.0), (2.0, 0.0), (2.0, 4.0))}, "outline", "cross or touch itself"),
        ({"outline": ((0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (2.0, 0.0), (0.0, 4.0))}, "outline", "cross or touch itself"),
        ({"outline": rectangle(1.0, 1.0)}, "outline", "none does"),
        ({"outline": rectangle(190.0, 190.0)}, "outline", "split it"),
        ({"outline": rectangle(60.0, 45.0)}, "outline", "split it"),
        ({"obstructions": (WHOLE_FACE,)}, "outline", "none does"),
        ({"obstructions": (rectangle(1.0, 1.0), KNOT)}, "obstructions/1", "cross"),
    ],
)
def test_faces_that_cannot_be_laid_out_are_refused(changes: dict[str, Any], field: str, says: str) -> None:
    with pytest.raises(EngineeringError, match=says) as error:
        layout(replace(REQUEST, **changes))
    assert error.value.fields == (field,)
