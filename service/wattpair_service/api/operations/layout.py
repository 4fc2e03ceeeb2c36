"""POST /v1/layout: how many modules fit on a face."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, fields, post_load, validates_schema

from wattpair_service.api.exchange.operation import Operation
from wattpair_service.api.operations.sizing import region_field
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.fields import Assumed, Listed, Nested, Number, Text, WholeNumber
from wattpair_service.api.schemas.results import ResultSchema, many, number, one, text, whole, words
from wattpair_service.api.schemas.shade import REACH_M, ObstructionSchema, PointSchema
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.roof.access import EDGE_FIELD, PATH_CHOICES, SIDE_FIELD, WIDTH_FIELD, AccessRules, AccessTerms
from wattpair_service.engineering.roof.edges import EDGE_KINDS, SIDES
from wattpair_service.engineering.roof.layout import LayoutRequest, LayoutResult, layout
from wattpair_service.engineering.roof.outline import rectangle
from wattpair_service.engineering.sentences import COMMON_PRACTICE, fixed
from wattpair_service.rules import access_rules

CORNERS_MOST = 60
OBSTRUCTIONS_MOST = 24
DISTANCE_FIELDS = tuple(f"{kind}_distance_m" for kind in EDGE_KINDS)
"""The field of each kind of edge."""


def outline_field() -> Listed:
    """Corners of a face."""
    return Listed(
        Nested(PointSchema, "A corner"),
        "Corners of the face in order, in place of width_m and height_m; the last is joined to the first",
        fewest=3,
        most=CORNERS_MOST,
        required=False,
    )


def distance_field(description: str) -> Number:
    """Distance of modules from edges."""
    return Number(description, unit="m", at_least=0, at_most=10, required=False)


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
        assumed=Assumed((), fixed("source.no_obstructions")),
    )
    orientation = Text(
        "Longer side up the slope (portrait), along the eaves (landscape), or the one with more modules (best)",
        choices=("portrait", "landscape", "best"),
        assumed=Assumed("best", fixed("source.more_modules_fit")),
    )
    edge_kinds = Listed(
        Text("Kind of an edge", choices=EDGE_KINDS),
        "Kind of each edge of `outline`, the first from its first corner to its second; default: from their directions, where "
        "level edges are eaves and ridge, edges at right angles to them rakes, and oblique edges hips where the face widens "
        "towards the eaves and valleys where it narrows. Of width_m and height_m the bottom is the eaves, the top the ridge, "
        "and the sides are rakes",
        fewest=3,
        most=CORNERS_MOST,
        required=False,
    )
    edge_distance_m = distance_field(
        "Distance of modules from every edge that has no distance of its own here; default: that of the region's rules"
    )
    eaves_distance_m = distance_field("Distance of modules from the eaves; default: edge_distance_m, else the region's")
    ridge_distance_m = distance_field("Distance of modules from the ridge; default: edge_distance_m, else the region's")
    rake_distance_m = distance_field("Distance of modules from the rake, or verge; default: edge_distance_m, else the region's")
    hip_distance_m = distance_field("Distance of modules from a hip; default: edge_distance_m, else the region's")
    valley_distance_m = distance_field("Distance of modules from a valley; default: edge_distance_m, else the region's")
    access_path_width_m = Number(
        "Width of the access path that stays free from the eaves to the ridge, measured from the edges of that side; default: "
        "that of the region's rules, if they ask for a path",
        unit="m",
        above=0,
        at_most=10,
        required=False,
    )
    access_path_side = Text(
        "Side of the access path; either: the one without obstructions, then the one on which the path costs fewer modules, "
        "then the left; default: that of the region's rules, else either where access_path_width_m is given",
        choices=PATH_CHOICES,
        required=False,
    )
    obstruction_distance_m = Number(
        "Distance of modules from obstructions", unit="m", at_least=0, at_most=10, assumed=Assumed(0.3, COMMON_PRACTICE)
    )
    column_gap_m = Number(
        "Gap between modules of a row", unit="m", at_least=0, at_most=2, assumed=Assumed(0.02, COMMON_PRACTICE)
    )
    row_gap_m = Number("Gap between rows", unit="m", at_least=0, at_most=10, assumed=Assumed(0.02, COMMON_PRACTICE))
    left_out = Listed(
        WholeNumber("Number of a module", at_least=1, at_most=1000),
        "Modules that stay away, by their numbers from 1 in the layout without this field, row by row from the eaves",
        fewest=0,
        most=200,
        required=False,
    )

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

    @validates_schema(skip_on_field_errors=True)
    def kinds_of_the_outline(self, data: dict[str, Any], **_: Any) -> None:
        """Each edge of an outline needs one kind; those of a rectangle are known."""
        kinds, outline = data["edge_kinds"], data["outline"]
        if kinds is None:
            return
        if outline is None:
            raise ValidationError("nothing where width_m and height_m are given: give outline with it", "edge_kinds")
        if len(kinds) != len(outline):
            raise ValidationError(f"an array of {len(outline)} items, one for each edge of outline", "edge_kinds")

    @validates_schema(skip_on_field_errors=True)
    def path_or_none(self, data: dict[str, Any], **_: Any) -> None:
        """A width contradicts that there is no path."""
        if data[SIDE_FIELD] == "none" and data[WIDTH_FIELD] is not None:
            raise ValidationError(f'nothing where {SIDE_FIELD} is "none"', WIDTH_FIELD)


class LayoutRequestSchema(FaceLayoutSchema):
    """A face by its width and height or by its outline, and a module."""

    region = region_field()
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
        rules = access_rules(data["region"])
        if error := path_error(data, rules):
            raise ValidationError(error, WIDTH_FIELD)
        return layout_request(data, data["module_length_m"], data["module_width_m"], rules)


def path_error(face: dict[str, Any], rules: AccessRules) -> str | None:
    """What the width of the access path must be where a side alone is given and the region has no path; else None."""
    side_alone = face[SIDE_FIELD] not in (None, "none") and face[WIDTH_FIELD] is None
    if side_alone and rules.path is None:
        return f"a number; the field is required with {SIDE_FIELD}, as the region's rules have no path"
    return None


def layout_request(face: dict[str, Any], module_length_m: float, module_width_m: float, rules: AccessRules) -> LayoutRequest:
    """The request for the core, from the loaded fields of a face and the region's rules."""
    by_sides = face["outline"] is None
    shape = rectangle(face["width_m"], face["height_m"]) if by_sides else tuple(face["outline"])
    same_names = ("orientation", "obstruction_distance_m", "column_gap_m", "row_gap_m")
    access_fields = (EDGE_FIELD, *DISTANCE_FIELDS, WIDTH_FIELD, SIDE_FIELD)
    return LayoutRequest(
        outline=shape,
        obstructions=tuple(each.outline for each in face["obstructions"]),
        module_length_m=module_length_m,
        module_width_m=module_width_m,
        access=AccessTerms(rules, **{name: face[name] for name in access_fields}),
        edge_kinds=None if face["edge_kinds"] is None else tuple(face["edge_kinds"]),
        left_out=tuple(face["left_out"] or ()),
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
    segment_module_counts = fields.List(
        fields.Integer(),
        required=True,
        metadata={"description": "Modules in each of these groups, row by row, for the bill of materials"},
    )
    column_count_most = whole("Modules in the longest row")
    modules = many(PlacedModuleSchema, "Every module, row by row")


class OrientationCountSchema(OutputSchema):
    """An orientation that was tried."""

    orientation = text("Orientation", ("portrait", "landscape"))
    module_count = whole("Modules that fit")


class LaidOutEdgeSchema(OutputSchema):
    """One edge of the face and the distance that modules keep from it."""

    kind = text("Kind of the edge", EDGE_KINDS)
    length_m = number("Length", "m")
    distance_m = number("Distance of modules from it, the access path's width where that is larger", "m")
    source = words("Where the distance comes from: a field of the request, or a rule with how it was obtained")


class AccessPathSchema(OutputSchema):
    """A strip without modules along one side of the face, from the eaves to the ridge."""

    side = text("Side, seen with the eaves at the bottom", SIDES)
    width_m = number("Width, measured from the edges of that side", "m")
    source = words("Where the width comes from: a field of the request, or a rule with how it was obtained")


class LayoutResultSchema(ResultSchema):
    """The modules that fit on the face."""

    arrangement = one(ArrangementSchema, "The arrangement with the most modules")
    tried = many(OrientationCountSchema, "Every orientation that was tried")
    unit_spacing_m = number("Distance from one module of a row to the next, for the trunk cable", "m")
    face_area_m2 = number("Area of the face", "m2")
    module_area_m2 = number("Area of all modules", "m2")
    covered_share = number("Share of the face that the modules cover, 0 to 1")
    edges = many(LaidOutEdgeSchema, "Every edge of the face in the order of its corners: of a rectangle the eaves first")
    access_paths = many(AccessPathSchema, "Access paths that stay free; empty where there is none")


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
        "leaves the outline or violates its distances from eaves, ridge, rake, hip and valley, which the request gives or the "
        "region's rules have; where they ask for an access path, it stays free. Where the distance from the ridge depends on "
        "the covered share, the share of this face counts; the fire authority decides. Rows have equal pitch, and of all "
        "heights of the first row one with the most modules is taken; with very many edges, of those tried. The call has no "
        "side effects and may be repeated."
    ),
    request=LayoutRequestSchema,
    response=LayoutResultSchema,
    handle=handle,
)
