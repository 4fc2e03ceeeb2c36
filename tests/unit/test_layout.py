"""Modules on a face: none overlaps another, leaves the outline, lies on an obstruction or on an access path."""

from __future__ import annotations

from dataclasses import replace
from math import cos, floor, hypot, inf, pi, sin, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings, strategies as st

from tests.builders import numbers
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.roof import rows
from wattpair_service.engineering.roof.access import (
    EDGE_TOO_NEAR,
    EDGES,
    NO_PATH,
    PATH_CHOICES,
    PATH_LEFT_OUT,
    PATH_TOO_NARROW,
    AccessTerms,
    PathChoice,
)
from wattpair_service.engineering.roof.edges import EDGE_KINDS, EdgeKind, Side, edge_kinds, side_edges
from wattpair_service.engineering.roof.layout import OBSTRUCTED_PATH, LayoutRequest, LayoutResult, layout
from wattpair_service.engineering.roof.outline import Point, Polygon, rectangle, segments
from wattpair_service.rules import access_rules
from wattpair_service.words.catalogue import english

SLACK_M = 1e-6
"""What a comparison of coordinates may be off by: far below what can be built."""

INTERNATIONAL, UNITED_STATES = (AccessTerms(access_rules(name)) for name in ("international", "united_states"))
REQUEST = LayoutRequest(
    outline=rectangle(10.0, 6.0),
    obstructions=(),
    module_length_m=1.7,
    module_width_m=1.1,
    orientation="best",
    access=INTERNATIONAL,
    obstruction_distance_m=0.3,
    column_gap_m=0.02,
    row_gap_m=0.02,
)


def star(centre: Point, radii: list[float], turn: float = 0.0) -> Polygon:
    """A polygon around a centre with one corner in each direction: it never crosses itself, but may have bays."""
    step = 2.0 * pi / len(radii)
    return tuple((centre[0] + r * cos(turn + i * step), centre[1] + r * sin(turn + i * step)) for i, r in enumerate(radii))


def distance() -> st.SearchStrategy[float]:
    return st.just(0.0) | numbers(0.0, 0.8)


@st.composite
def terms(draw: st.DrawFn) -> AccessTerms:
    """Each kind of edge with a distance of its own, most often a path too."""
    own: dict[str, Any] = {f"{kind}_distance_m": draw(distance()) for kind in EDGE_KINDS}
    side = draw(st.sampled_from(PATH_CHOICES))
    width = None if side == "none" else draw(numbers(0.1, 1.5))
    return replace(INTERNATIONAL, **own, access_path_width_m=width, access_path_side=side)


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
        access=draw(terms()),
        obstruction_distance_m=draw(distance()),
        column_gap_m=draw(st.just(0.0) | numbers(0.0, 0.2)),
        row_gap_m=draw(st.just(0.0) | numbers(0.0, 1.0)),
    )


def distances_to_boxes(segment: tuple[Point, Point], low: FloatArray, high: FloatArray) -> FloatArray:
    """Least distance from a segment to each box (rows of corners), negative inside, by search along the segment."""
    start, way = np.array(segment[0]), np.array(segment[1]) - np.array(segment[0])

    def at(share: FloatArray) -> FloatArray:
        point = start + share[:, None] * way
        beyond = np.maximum(low - point, point - high)
        return np.asarray(np.where((beyond < 0.0).all(axis=1), beyond.max(axis=1), np.hypot(*np.maximum(beyond, 0.0).T)))

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
    for edge, laid_out in zip(segments(request.outline), result.edges, strict=True):
        asked = getattr(request.access, f"{laid_out.kind}_distance_m")
        assert laid_out.distance_m >= (0.3 if asked is None else asked)
        assert laid_out.length_m == pytest.approx(hypot(edge[1][0] - edge[0][0], edge[1][1] - edge[0][1]))
        assert (distances_to_boxes(edge, low, high) >= laid_out.distance_m - SLACK_M).all()
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
        access=replace(INTERNATIONAL, edge_distance_m=edge),
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


def module_count(request: LayoutRequest) -> int:
    """Modules on a face; none where none fits."""
    try:
        return layout(request).arrangement.module_count
    except EngineeringError as error:
        if "none does" not in str(error):
            raise
        return 0


DISTANCE_FIELDS = [f"{kind}_distance_m" for kind in EDGE_KINDS]


@given(requests(), st.sets(st.sampled_from([*DISTANCE_FIELDS, "access_path_width_m"]), min_size=1), numbers(0.0, 0.6))
def test_a_larger_distance_never_has_more_modules(request: LayoutRequest, fields: set[str], more: float) -> None:
    given_fields = {name: getattr(request.access, name) for name in fields}
    larger = {name: value + more for name, value in given_fields.items() if value is not None}
    assume(larger)
    # Of either side the one without obstructions has precedence, and a wider path may meet one.
    assume(not request.obstructions or request.access.access_path_side != "either")
    assert module_count(replace(request, access=replace(request.access, **larger))) <= module_count(request)


OTHER_SIDE: dict[PathChoice | None, PathChoice] = {"left": "right", "right": "left"}


@given(requests())
def test_a_mirrored_face_has_as_many_modules(request: LayoutRequest) -> None:
    def mirrored(polygon: Polygon) -> Polygon:
        return tuple((-x, y) for x, y in polygon)

    side = OTHER_SIDE.get(request.access.access_path_side, request.access.access_path_side)
    other = replace(
        request,
        outline=mirrored(request.outline),
        obstructions=tuple(map(mirrored, request.obstructions)),
        access=replace(request.access, access_path_side=side),
    )
    assert edge_kinds(other.outline) == edge_kinds(request.outline)
    assert module_count(other) == module_count(request)


@st.composite
def hips_and_valleys(draw: st.DrawFn) -> Polygon:
    """A face with four edges, eaves and ridge level, whose sides lean in or out; its corners in either direction."""
    wide, high, top = draw(numbers(3.0, 14.0)), draw(numbers(2.0, 8.0)), draw(numbers(1.0, 14.0))
    shift = draw(numbers(-6.0, 6.0))
    return ((0.0, 0.0), (wide, 0.0), (shift + top, high), (shift, high))[:: draw(st.sampled_from([1, -1]))]


def rows_by_half_planes(request: LayoutRequest, result: LayoutResult, start: float) -> int:
    """Modules in rows from a height, kept inside the line of each edge of a convex outline moved inwards by its distance."""
    placed, count, y = result.arrangement, 0, start
    middle = np.mean(request.outline, axis=0)
    while y < 20.0:
        left, right = -inf, inf
        for ((x1, y1), (x2, y2)), edge in zip(segments(request.outline), result.edges, strict=True):
            inwards = np.array([y1 - y2, x2 - x1]) / hypot(x2 - x1, y2 - y1)
            if inwards @ (middle - (x1, y1)) < 0.0:
                inwards = -inwards
            # The module's corner that is nearest to the edge: inwards @ (corner - start of the edge) >= distance.
            lower = y if inwards[1] >= 0.0 else y + placed.module_height_m
            needed = edge.distance_m - 1e-9 - inwards[1] * (lower - y1)
            if abs(inwards[0]) < 1e-12:
                left = inf if needed > 0.0 else left
            elif inwards[0] > 0.0:
                left = max(left, x1 + needed / inwards[0])
            else:
                right = min(right, x1 + needed / inwards[0])
        room = right - left - placed.module_width_m
        count += floor(room / (placed.module_width_m + request.column_gap_m)) + 1 if room >= 0.0 else 0
        y += placed.module_height_m + request.row_gap_m
    return count


@given(hips_and_valleys(), terms(), st.sampled_from(["portrait", "landscape"]), st.lists(numbers(0.0, 2.0), max_size=30))
def test_no_height_of_the_first_row_has_more_modules(
    outline: Polygon, access: AccessTerms, orientation: Any, starts: list[float]
) -> None:
    request = replace(REQUEST, outline=outline, access=access, orientation=orientation)
    assume(module_count(request) > 0)
    result = layout(request)
    lowest = result.arrangement.modules[0].y_m
    assert max(rows_by_half_planes(request, result, y) for y in [*starts, lowest]) <= result.arrangement.module_count


def test_with_very_many_edges_some_heights_are_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    round_face = star((0.0, 0.0), [5.0 + 0.2 * sin(5.0 * index) for index in range(60)])
    chimneys = tuple(star((x, 0.5), [0.4] * 24) for x in (-2.0, 1.0))
    request = replace(REQUEST, outline=round_face, obstructions=chimneys)
    found = layout(request)
    assert_sound(request, found)
    hip = replace(REQUEST, outline=HIP)
    best = module_count(hip)
    monkeypatch.setattr(rows, "FITS_WORK_MOST", 0.0)
    some = layout(hip)
    assert_sound(hip, some)
    assert best - 2 <= some.arrangement.module_count <= best


HIP = ((0.0, 0.0), (12.0, 0.0), (8.0, 4.0), (4.0, 4.0))
"""Hips at 45 degrees in the plane of the face."""
VALLEY = tuple((x, 4.0 - y) for x, y in HIP)
SMALL = replace(REQUEST, module_length_m=1.5, module_width_m=1.0, orientation="portrait", column_gap_m=0.0, row_gap_m=0.0)
STEPPED = ((0.0, 0.0), (10.0, 0.0), (10.0, 3.0), (6.0, 3.0), (6.0, 7.0), (0.0, 7.0))
"""The right side has a step."""


@pytest.mark.parametrize(
    ("outline", "kinds"),
    [
        (rectangle(10.0, 5.0), "eaves rake ridge rake"),
        (HIP, "eaves hip ridge hip"),
        (HIP[::-1], "ridge hip eaves hip"),
        (VALLEY, "ridge valley eaves valley"),
        (((0.0, 0.0), (8.0, 0.0), (4.0, 5.0)), "eaves hip hip"),
        (((0.0, 0.0), (8.0, 0.0), (12.0, 5.0), (0.0, 5.0)), "eaves valley ridge rake"),
        (((0.0, 0.0), (8.0, 0.1), (8.2, 5.0), (0.1, 5.2)), "eaves rake ridge rake"),
        (STEPPED, "eaves rake ridge rake ridge rake"),
    ],
)
def test_the_kind_of_an_edge_follows_from_its_direction(outline: Polygon, kinds: str) -> None:
    assert " ".join(edge_kinds(outline)) == kinds


@pytest.mark.parametrize(
    ("outline", "left", "right"),
    [
        (rectangle(10.0, 5.0), {3}, {1}),
        (((0.0, 0.0), (0.0, 5.0), (10.0, 5.0), (10.0, 0.0)), {0}, {2}),
        (HIP, {3}, {1}),
        (((0.0, 0.0), (8.0, 0.0), (4.0, 5.0)), {2}, {1}),
        (((0.0, 0.0), (8.0, 0.1), (8.2, 5.0), (0.1, 5.2)), {3}, {1}),
        (STEPPED, {5}, {1, 2, 3}),
    ],
)
def test_a_side_leads_from_the_eaves_to_the_ridge(outline: Polygon, left: set[int], right: set[int]) -> None:
    assert side_edges(outline, "left") == frozenset(left)
    assert side_edges(outline, "right") == frozenset(right)


@pytest.mark.parametrize(("hip_m", "counts"), [(0.45, (7, 4)), (0.5, (6, 3))])
def test_distance_from_hip_and_valley_is_at_a_right_angle_to_them(hip_m: float, counts: tuple[int, ...]) -> None:
    # By hand: at 45 degrees the module's upper corners, 1.8 m and 3.3 m up the slope, stay hip_m * sqrt(2) beside the hip:
    # 12 - 2 * (1.8 + 0.636) = 7.13 and 12 - 2 * (3.3 + 0.636) = 4.13 m are left at 0.45 m, 6.99 and 3.99 m at 0.5 m.
    assert 12.0 - 2.0 * (1.8 + hip_m * sqrt(2.0)) == pytest.approx(7.13 if hip_m == 0.45 else 6.99, abs=0.005)
    hip = layout(replace(SMALL, outline=HIP, access=replace(INTERNATIONAL, hip_distance_m=hip_m)))
    assert hip.arrangement.row_module_counts == counts
    assert [edge.distance_m for edge in hip.edges] == [0.3, hip_m, 0.3, hip_m]
    valley = layout(replace(SMALL, outline=VALLEY, access=replace(INTERNATIONAL, valley_distance_m=hip_m)))
    assert valley.arrangement.row_module_counts == counts[::-1]


def test_a_face_in_the_united_states_by_hand() -> None:
    # 10 m less a path of 0.914 m and 0.3 m at the other rake hold 5 modules of 1.7 m and their gaps of 0.02 m: 8.58 m of 8.786.
    # 5 m less 0.3 m at the eaves and 18 in at the ridge hold 3 rows of 1.1 m, 3.34 of 4.243 m; in portrait 7 in 2 rows, 14.
    # 15 modules of 1.87 m2 cover 56 % of 50 m2, more than 33 %: 36 in at the ridge, where 3 rows still fit, 3.34 of 3.786 m.
    request = replace(REQUEST, outline=rectangle(10.0, 5.0), access=UNITED_STATES)
    result = layout(request)
    assert (result.arrangement.orientation, result.arrangement.row_module_counts) == ("landscape", (5, 5, 5))
    assert {each.orientation: each.module_count for each in result.tried} == {"portrait": 14, "landscape": 15}
    assert [(each.kind, each.distance_m) for each in result.edges] == [
        ("eaves", 0.3), ("rake", 0.3), ("ridge", 0.914), ("rake", 0.914),
    ]  # fmt: skip
    assert [(path.side, path.width_m) for path in result.access_paths] == [("left", 0.914)]
    assert min(module.x_m for module in result.arrangement.modules) == pytest.approx(0.914)
    assert result.covered_share == pytest.approx(15 * 1.87 / 50.0)
    assumed = {each.name: each for each in result.assumptions}
    assert {name: each.value for name, each in assumed.items() if name != "edge_kinds"} == {
        "edge_distance_m": 0.3, "ridge_distance_m": 0.914, "access_path_width_m": 0.914, "access_path_side": "either",
    }  # fmt: skip
    assert "R324.6.2" in english(assumed["ridge_distance_m"].source)
    assert "more than 33 %" in english(assumed["ridge_distance_m"].source)
    assert [each.code for each in result.cautions if each.reader == "office"] == ["rules_of_the_region"]
    assert NO_PATH not in result.cautions


def test_a_little_covered_face_in_the_united_states_keeps_18_inches() -> None:
    # 3.42 m less 0.914 m and 0.3 m hold one module of 1.7 m; 3 rows of 1.1 m cover 5.61 of 17.1 m2, 32.8 %.
    request = replace(REQUEST, outline=rectangle(3.42, 5.0), access=UNITED_STATES)
    result = layout(request)
    assert result.covered_share == pytest.approx(0.328, abs=0.0005)
    assert [each.distance_m for each in result.edges if each.kind == "ridge"] == [0.457]
    given_ridge = layout(replace(request, access=replace(UNITED_STATES, ridge_distance_m=0.3)))
    assert [each.distance_m for each in given_ridge.edges if each.kind == "ridge"] == [0.3]
    assert EDGE_TOO_NEAR(asked_m=0.457, kind=EDGES["ridge"], given_m=0.3) in given_ridge.cautions
    assert EDGE_TOO_NEAR.code not in {each.code for each in result.cautions}


def test_without_a_region_every_edge_has_one_distance_and_no_path() -> None:
    result = layout(replace(REQUEST, shape_fields=("width_m", "height_m")))
    assert [(each.name, each.value, each.unit) for each in result.assumptions] == [("edge_distance_m", 0.3, "m")]
    assert {each.distance_m for each in result.edges} == {0.3}
    assert result.access_paths == ()
    assert NO_PATH in result.cautions


def test_a_distance_of_its_own_comes_before_that_of_all_edges_and_that_before_the_regions() -> None:
    access = replace(UNITED_STATES, edge_distance_m=0.5, rake_distance_m=0.2, access_path_side="none")
    result = layout(replace(REQUEST, access=access, shape_fields=("width_m", "height_m")))
    assert [(each.distance_m, english(each.source)) for each in result.edges] == [
        (0.5, "edge_distance_m of the request"), (0.2, "rake_distance_m of the request"),
        (0.5, "edge_distance_m of the request"), (0.2, "rake_distance_m of the request"),
    ]  # fmt: skip
    assert result.assumptions == ()
    too_near = EDGE_TOO_NEAR(asked_m=0.914, kind=EDGES["ridge"], given_m=0.5)
    assert [each for each in result.cautions if each.reader == "office"][1:] == [PATH_LEFT_OUT(width_m=0.914), too_near]
    narrow = layout(replace(REQUEST, access=replace(UNITED_STATES, access_path_width_m=0.6)))
    assert PATH_TOO_NARROW(width_m=0.914, given_m=0.6) in narrow.cautions


def test_named_edges_take_the_place_of_inferred_ones() -> None:
    named: tuple[EdgeKind, ...] = ("eaves", "valley", "ridge", "hip")
    access = replace(INTERNATIONAL, valley_distance_m=0.6, hip_distance_m=0.1)
    result = layout(replace(REQUEST, edge_kinds=named, access=access))
    assert [(each.kind, each.distance_m) for each in result.edges] == [
        ("eaves", 0.3), ("valley", 0.6), ("ridge", 0.3), ("hip", 0.1),
    ]  # fmt: skip
    assert [each.name for each in result.assumptions] == ["edge_distance_m"]


@pytest.mark.parametrize(
    ("side", "sides"),
    [("left", ["left"]), ("right", ["right"]), ("both", ["left", "right"]), ("either", ["left"]), ("none", [])],
)
def test_a_path_stays_free_on_its_side(side: PathChoice, sides: list[Side]) -> None:
    # A path at the right rake would cost no module, since the dormer takes them all, but the dormer stands on it.
    dormer = tuple((x + 8.9, y + 2.0) for x, y in rectangle(1.1, 3.0))
    width = None if side == "none" else 1.0
    access = replace(INTERNATIONAL, access_path_width_m=width, access_path_side=side)
    result = layout(replace(REQUEST, obstructions=(dormer,), access=access, orientation="portrait"))
    assert (OBSTRUCTED_PATH in result.cautions) == ("right" in sides)
    assert [path.side for path in result.access_paths] == sides
    xs = [module.x_m for module in result.arrangement.modules]
    assert min(xs) >= (1.0 if "left" in sides else 0.3) - 1e-9
    assert max(xs) + 1.1 <= (9.0 if "right" in sides else 9.7) + 1e-9
    assert {edge.distance_m for edge in result.edges} == ({0.3, 1.0} if sides else {0.3})


def test_covered_share_is_at_most_one() -> None:
    tight = replace(
        REQUEST, access=replace(INTERNATIONAL, edge_distance_m=0.0), obstruction_distance_m=0.0, column_gap_m=0.0, row_gap_m=0.0
    )
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
