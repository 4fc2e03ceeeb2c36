"""POST /v1/layout: how many modules fit on a face."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, fields, post_load, validates_schema

from wattpair_service.api.exchange.operation import Operation
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.fields import COMMON_PRACTICE, Assumed, Listed, Nested, Number, Text
from wattpair_service.api.schemas.results import ResultSchema, many, number, one, text, whole
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.roof.layout import LayoutRequest, LayoutResult, Point, Polygon, layout, rectangle

CORNERS_MOST = 60
OBSTRUCTION_CORNERS_MOST = 24
OBSTRUCTIONS_MOST = 24
REACH_M = 200.0


class PointSchema(InputSchema):
    """A corner in the plane of the face."""

    x_m = Number("Distance along the eaves, to the right", unit="m", at_least=-REACH_M, at_most=REACH_M)
    y_m = Number("Distance up the slope", unit="m", at_least=-REACH_M, at_most=REACH_M)

    @post_load
    def to_point(self, data: dict[str, Any], **_: Any) -> Point:
        """The corner for the core."""
        return data["x_m"], data["y_m"]


class ObstructionSchema(InputSchema):
    """An obstruction on the face."""

    outline = Listed(Nested(PointSchema, "A corner"), "Its corners, in order", fewest=3, most=OBSTRUCTION_CORNERS_MOST)

    @post_load
    def to_polygon(self, data: dict[str, Any], **_: Any) -> Polygon:
        """The outline for the core."""
        return tuple(data["outline"])


def outline_field() -> Listed:
    """Corners of a face."""
    return Listed(
        Nested(PointSchema, "A corner"),
        "Corners of the face in order, in place of width_m and height_m; the last is joined to the first",
        fewest=3,
        most=CORNERS_MOST,
        required=False,
    )


class FaceLayoutSchema(InputSchema):
    """A face by its width and height or by its outline, and how modules may lie on it."""

    width_m = Number("Width of a rectangular face, along the eaves", unit="m", above=0, at_most=REACH_M, required=False)
    height_m = Number("Height of a rectangular face, along the slope", unit="m", above=0, at_most=REACH_M, required=False)
    outline = outline_field()
    obstructions = Listed(
        Nested(ObstructionSchema, "An obstruction"),
        "Chimneys, windows and the like; they may extend beyond the outline",
        fewest=0,
        most=OBSTRUCTIONS_MOST,
        assumed=Assumed((), "a face without obstructions"),
    )
    orientation = Text(
        "Longer side up the slope (portrait), along the eaves (landscape), or the one with more modules (best)",
        choices=("portrait", "landscape", "best"),
        assumed=Assumed("best", "the orientation in which more modules fit; portrait if both fit as many"),
    )
    edge_distance_m = Number(
        "Distance of modules from the outline", unit="m", at_least=0, at_most=10, assumed=Assumed(0.3, COMMON_PRACTICE)
    )
    obstruction_distance_m = Number(
        "Distance of modules from obstructions", unit="m", at_least=0, at_most=10, assumed=Assumed(0.3, COMMON_PRACTICE)
    )
    column_gap_m = Number(
        "Gap between modules of a row", unit="m", at_least=0, at_most=2, assumed=Assumed(0.02, COMMON_PRACTICE)
    )
    row_gap_m = Number("Gap between rows", unit="m", at_least=0, at_most=10, assumed=Assumed(0.02, COMMON_PRACTICE))

    @validates_schema(skip_on_field_errors=True)
    def one_shape(self, data: dict[str, Any], **_: Any) -> None:
        """The face needs either an outline or width and height."""
        errors: dict[str, list[str]] = {}
        sides = [name for name in ("width_m", "height_m") if data[name] is not None]
        if data["outline"] is not None:
            errors |= {name: ["nothing where outline is given"] for name in sides}
        elif not sides:
            errors["outline"] = ["an outline, or width_m and height_m; the field is required without them"]
        elif len(sides) == 1:
            missing = "height_m" if sides == ["width_m"] else "width_m"
            errors[missing] = [f"a number; the field is required with {sides[0]}"]
        if errors:
            raise ValidationError(errors)


class LayoutRequestSchema(FaceLayoutSchema):
    """A face by its width and height or by its outline, and a module."""

    module_length_m = Number("Length of the module's longer side", unit="m", at_least=0.2, at_most=3)
    module_width_m = Number("Length of the module's shorter side", unit="m", at_least=0.2, at_most=2)

    @validates_schema(skip_on_field_errors=True)
    def longer_side(self, data: dict[str, Any], **_: Any) -> None:
        """The longer side must be the longer one."""
        if data["module_width_m"] > data["module_length_m"]:
            message = f"the shorter side: at most module_length_m, which is {data['module_length_m']:g} m"
            raise ValidationError(message, "module_width_m")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> LayoutRequest:
        """The request for the core."""
        return layout_request(data, data["module_length_m"], data["module_width_m"])


def layout_request(face: dict[str, Any], module_length_m: float, module_width_m: float) -> LayoutRequest:
    """The request for the core, from the loaded fields of a face."""
    by_sides = face["outline"] is None
    shape = rectangle(face["width_m"], face["height_m"]) if by_sides else tuple(face["outline"])
    same_names = ("orientation", "edge_distance_m", "obstruction_distance_m", "column_gap_m", "row_gap_m")
    return LayoutRequest(
        outline=shape,
        obstructions=tuple(face["obstructions"]),
        module_length_m=module_length_m,
        module_width_m=module_width_m,
        shape_fields=("width_m", "height_m") if by_sides else ("outline",),
        **{name: face[name] for name in same_names},
    )


class PlacedModuleSchema(OutputSchema):
    """Position of one module."""

    row = whole("Row, counted from the eaves from 1")
    column = whole("Position in the row, counted from the left from 1")
    x_m = number("Lower left corner, along the eaves", "m")
    y_m = number("Lower left corner, up the slope", "m")


class ArrangementSchema(OutputSchema):
    """Modules in one orientation."""

    orientation = text("Orientation", ("portrait", "landscape"))
    module_width_m = number("A module's extent along the eaves", "m")
    module_height_m = number("A module's extent up the slope", "m")
    module_count = whole("Modules that fit")
    row_module_counts = fields.List(
        fields.Integer(),
        required=True,
        metadata={"description": "Modules in each row from the eaves, for the bill of materials"},
    )
    row_segment_counts = fields.List(
        fields.Integer(),
        required=True,
        metadata={"description": "Groups of adjoining modules in each row: 2 where a chimney divides it"},
    )
    column_count_most = whole("Modules in the longest row")
    modules = many(PlacedModuleSchema, "Every module, row by row")


class OrientationCountSchema(OutputSchema):
    """An orientation that was tried."""

    orientation = text("Orientation", ("portrait", "landscape"))
    module_count = whole("Modules that fit")


class LayoutResultSchema(ResultSchema):
    """The modules that fit on the face."""

    arrangement = one(ArrangementSchema, "The arrangement with the most modules")
    tried = many(OrientationCountSchema, "Every orientation that was tried")
    unit_spacing_m = number("Distance from one module of a row to the next, for the trunk cable", "m")
    face_area_m2 = number("Area of the face", "m2")
    module_area_m2 = number("Area of all modules", "m2")
    covered_share = number("Share of the face that the modules cover, 0 to 1")


def handle(request: LayoutRequest, _: StationFolder) -> LayoutResult:
    """Compute the result."""
    return layout(request)


OPERATION = Operation(
    path="/v1/layout",
    operation_id="lay_out_face",
    summary="How many modules fit on a face, with their positions",
    description=(
        "Takes a face's width and height, or its outline, with obstructions, and a module's sides. Gives rows and columns with "
        "the coordinates of every module, in portrait, landscape, or the one in which more fit. No module overlaps another, "
        "leaves the outline or violates the distances of the request. Rows have equal pitch. The count is the best of the "
        "positions tried, not a proven optimum. The call has no side effects and may be repeated."
    ),
    request=LayoutRequestSchema,
    response=LayoutResultSchema,
    handle=handle,
)
