"""What throws shade, as a request describes it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from marshmallow import ValidationError, post_load, validates_schema

from wattpair_service.api.schemas.base import InputSchema
from wattpair_service.api.schemas.fields import Assumed, Listed, Nested, Number, Text
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.irradiance.plane_of_array import Face, HorizonPoint
from wattpair_service.engineering.roof.outline import Point
from wattpair_service.engineering.sentences import COMMON_PRACTICE, fixed
from wattpair_service.engineering.shade.scene import (
    OPAQUE_BY_MONTH,
    SHADED_MODULES_MOST,
    TOLERANCE_SHARE,
    BeamSurvey,
    Building,
    Placement,
    RoofObject,
    Shade,
    Tree,
)

OBJECTS_MOST = 24
"""Objects of each kind; more are a horizon."""
OBJECT_CORNERS_MOST = 24
REACH_M = 200.0
FAR_M = 1000.0


class PointSchema(InputSchema):
    """A corner in the plane of the face."""

    x_m = Number("Distance along the eaves, to the right", unit="m", at_least=-REACH_M, at_most=REACH_M)
    y_m = Number("Distance up the slope", unit="m", at_least=-REACH_M, at_most=REACH_M)

    @post_load
    def to_point(self, data: dict[str, Any], **_: Any) -> Point:
        """The corner for the core."""
        return data["x_m"], data["y_m"]


class HorizonPointSchema(InputSchema):
    """Height of the horizon in one direction."""

    azimuth_deg = Number("Direction, clockwise from north", unit="deg", at_least=0, below=360)
    elevation_deg = Number("Height of the horizon", unit="deg", at_least=0, at_most=90)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> HorizonPoint:
        """The point for the core."""
        return HorizonPoint(**data)


class Horizon(Listed):
    """A line that has one height in each direction; gives its points in order of azimuth."""

    def __init__(self, description: str) -> None:
        super().__init__(
            Nested(HorizonPointSchema, "One direction"),
            description,
            fewest=0,
            most=360,
            assumed=Assumed((), fixed("source.unobstructed_horizon")),
        )

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        points: list[HorizonPoint] = super()._deserialize(value, attr, data, **kwargs)
        seen: dict[float, int] = {}
        for index, point in enumerate(points):
            if (first := seen.setdefault(point.azimuth_deg, index)) != index:
                message = f"a direction of its own; item {first} has the same: a horizon has one height in each direction"
                raise ValidationError({index: {"azimuth_deg": [message]}})
        return tuple(sorted(points, key=lambda point: point.azimuth_deg))


def _name() -> Text:
    return Text("Name used in the result", longest=60, required=False)


class ObstructionSchema(InputSchema):
    """An obstruction on the face; with a height it throws shade."""

    outline = Listed(Nested(PointSchema, "A corner"), "Its corners, in order", fewest=3, most=OBJECT_CORNERS_MOST)
    name = _name()
    height_m = Number(
        "Height of its top above the roof, measured vertically at the middle of its outline: of a flat top, of the middle of a "
        "sloped one, of the ridge of a gabled one; without it the obstruction throws no shade",
        unit="m",
        above=0,
        at_most=30,
        required=False,
    )
    top = Text("Shape of its top", choices=("flat", "sloped", "gabled"), required=False)
    top_slope_deg = Number(
        "Slope of a sloped top, falling towards the eaves; negative where it falls towards the ridge",
        unit="deg",
        at_least=-80,
        at_most=80,
        required=False,
    )
    eaves_height_m = Number(
        "Height of the eaves of a gabled top, measured like height_m", unit="m", at_least=0, at_most=30, required=False
    )
    ridge = Text(
        "Direction of the ridge of a gabled top: up_slope, as of a dormer, or along_eaves",
        choices=("up_slope", "along_eaves"),
        required=False,
    )

    @validates_schema(skip_on_field_errors=True)
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """The fields of a top belong to its shape, and its eaves lie below its ridge."""
        shape, errors = data["top"] or "flat", dict[str, list[str]]()
        if data["height_m"] is None:
            errors |= {
                name: ["nothing without height_m"]
                for name in ("top", "top_slope_deg", "eaves_height_m", "ridge")
                if data[name] is not None
            }
        elif shape != "sloped" and data["top_slope_deg"] is not None:
            errors["top_slope_deg"] = ['nothing unless top is "sloped"']
        elif shape == "sloped" and data["top_slope_deg"] is None:
            errors["top_slope_deg"] = ['a number; the field is required where top is "sloped"']
        elif shape != "gabled":
            errors |= {
                name: ['nothing unless top is "gabled"'] for name in ("eaves_height_m", "ridge") if data[name] is not None
            }
        elif data["eaves_height_m"] is None:
            errors["eaves_height_m"] = ['a number; the field is required where top is "gabled"']
        elif data["eaves_height_m"] > data["height_m"]:
            errors["eaves_height_m"] = [f"at most height_m, which is {data['height_m']:g} m"]
        if errors:
            raise ValidationError(errors)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Obstruction:
        """The obstruction for the core."""
        outline = tuple(data["outline"])
        if data["height_m"] is None:
            return Obstruction(outline, None)
        own = {name: data[name] for name in ("top", "top_slope_deg", "eaves_height_m", "ridge") if data[name] is not None}
        return Obstruction(outline, RoofObject(data["name"] or "", outline, data["height_m"], **own))


@dataclass(frozen=True, slots=True)
class Obstruction:
    """An obstruction's outline, and what it is as an object that throws shade; None without a height."""

    outline: tuple[Point, ...]
    roof_object: RoofObject | None


class RoofObjectSchema(ObstructionSchema):
    """A chimney, dormer, vent or parapet on the face."""

    height_m = Number(
        "Height of its top above the roof, measured vertically at the middle of its outline: of a flat top, of the middle of a "
        "sloped one, of the ridge of a gabled one",
        unit="m",
        above=0,
        at_most=30,
    )


def _away(direction: str) -> Number:
    return Number(f"How far {direction} of the face's corner", unit="m", at_least=-FAR_M, at_most=FAR_M)


class BuildingSchema(InputSchema):
    """A building beside the roof: a box with a flat or a gabled roof, whose ridge runs along its length."""

    name = _name()
    east_m = _away("east")
    north_m = _away("north")
    length_m = Number("Length", unit="m", above=0, at_most=FAR_M)
    width_m = Number("Width", unit="m", above=0, at_most=FAR_M)
    length_azimuth_deg = Number(
        "Direction of its length, clockwise from north",
        unit="deg",
        at_least=0,
        at_most=360,
        assumed=Assumed(0.0, fixed("source.not_given")),
    )
    top_up_m = Number(
        "Height of its ridge, or of its flat top, above the face's corner; negative below it",
        unit="m",
        at_least=-REACH_M,
        at_most=REACH_M,
    )
    eaves_up_m = Number(
        "Height of its eaves above the face's corner; default: top_up_m, a flat top",
        unit="m",
        at_least=-REACH_M,
        at_most=REACH_M,
        required=False,
    )

    @validates_schema(skip_on_field_errors=True)
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """The eaves lie below the ridge."""
        if data["eaves_up_m"] is not None and data["eaves_up_m"] > data["top_up_m"]:
            raise ValidationError(f"at most top_up_m, which is {data['top_up_m']:g} m", "eaves_up_m")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Building:
        """The building for the core."""
        eaves_up_m = data["top_up_m"] if data["eaves_up_m"] is None else data["eaves_up_m"]
        return Building(**data | {"eaves_up_m": eaves_up_m, "name": data["name"] or ""})


class TreeSchema(InputSchema):
    """A tree: an ellipsoid for its crown, and its trunk."""

    name = _name()
    east_m = _away("east")
    north_m = _away("north")
    ground_up_m = Number(
        "Height of the ground at the tree above the face's corner; usually negative",
        unit="m",
        at_least=-REACH_M,
        at_most=REACH_M,
    )
    height_m = Number("Height of the tree above its ground", unit="m", above=0, at_most=100)
    crown_base_m = Number("Height of the crown's base above the ground", unit="m", at_least=0, at_most=100)
    crown_diameter_m = Number("Diameter of the crown", unit="m", above=0, at_most=100)
    trunk_diameter_m = Number("Diameter of the trunk", unit="m", at_least=0, at_most=10, assumed=Assumed(0.3, COMMON_PRACTICE))
    transmittance_by_month = Listed(
        Number("Share of light that passes the crown, 0 to 1", at_least=0, at_most=1),
        "Share of light that passes the crown in January to December, 0 to 1",
        fewest=12,
        most=12,
        assumed=Assumed(OPAQUE_BY_MONTH, fixed("source.opaque_crown")),
    )

    @validates_schema(skip_on_field_errors=True)
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """The crown's base lies below its top."""
        if data["crown_base_m"] >= data["height_m"]:
            raise ValidationError(f"below height_m, which is {data['height_m']:g} m", "crown_base_m")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Tree:
        """The tree for the core."""
        return Tree(**data | {"transmittance_by_month": tuple(data["transmittance_by_month"]), "name": data["name"] or ""})


def _months_of_hours(description: str, *, required: bool = True) -> Listed:
    hour = Number("Share of beam irradiance that arrives, 0 to 1", at_least=0, at_most=1)
    month = Listed(
        hour,
        "The hours 0 to 23, without summer time: with monthly weather those of the longitude, 15 deg an hour",
        fewest=24,
        most=24,
    )
    return Listed(month, description, fewest=12, most=12, required=required)


class BeamSurveySchema(InputSchema):
    """The surveyor's own table: the share of beam irradiance that arrives in each month and hour."""

    by_month_hour = _months_of_hours("Of the whole face: January to December, each with 24 hours", required=False)
    by_module = Listed(
        _months_of_hours("Of a module: January to December, each with 24 hours"),
        "Of each module, in the order of the modules' places",
        most=SHADED_MODULES_MOST,
        required=False,
    )

    @validates_schema(skip_on_field_errors=True)
    def one_table(self, data: dict[str, Any], **_: Any) -> None:
        """Either the face or its modules."""
        if (data["by_month_hour"] is None) == (data["by_module"] is None):
            raise ValidationError("exactly one of by_month_hour and by_module", "by_month_hour")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> BeamSurvey:
        """The table for the core."""
        tables = [data["by_month_hour"]] if data["by_module"] is None else data["by_module"]
        return BeamSurvey(tuple(tuple(tuple(hours) for hours in table) for table in tables))


class ModulePlacesSchema(InputSchema):
    """Where the modules of a face lie."""

    orientation = Text("Longer side up the slope (portrait) or along the eaves (landscape)", choices=("portrait", "landscape"))
    corners = Listed(Nested(PointSchema, "A module"), "Lower left corner of each module", most=SHADED_MODULES_MOST)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Placement:
        """The places for the core; the size of a module is still to be set."""
        return Placement(tuple(data["corners"]), 0.0, 0.0, data["orientation"])


class CornerSchema(InputSchema):
    """The face's corner, where x and y are 0, from the point that the surroundings are measured from."""

    east_m = Number("East of that point", unit="m", at_least=-FAR_M, at_most=FAR_M)
    north_m = Number("North of it", unit="m", at_least=-FAR_M, at_most=FAR_M)
    up_m = Number("Above it", unit="m", at_least=-REACH_M, at_most=REACH_M)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> tuple[float, float, float]:
        """East, north, up."""
        return data["east_m"], data["north_m"], data["up_m"]


class FaceShadeSchema(InputSchema):
    """What stands before the sky of a face beside its horizon, and where its modules lie.

    In the plane of the face x runs along the eaves to the right, seen with the eaves at the bottom, and y up the slope. Metres
    east, north and up are counted from the face's corner, where x and y are 0.
    """

    objects = Listed(Nested(RoofObjectSchema, "An object"), "Objects on the face", fewest=0, most=OBJECTS_MOST, required=False)
    buildings = Listed(Nested(BuildingSchema, "A building"), "Buildings", fewest=0, most=OBJECTS_MOST, required=False)
    trees = Listed(Nested(TreeSchema, "A tree"), "Trees", fewest=0, most=OBJECTS_MOST, required=False)
    beam_survey = Nested(BeamSurveySchema, "The surveyor's own table of what arrives of the beam", required=False)
    module_places = Nested(
        ModulePlacesSchema,
        "Where the modules lie, one for each of module_count; nothing where a layout gives their places",
        required=False,
    )
    corner = Nested(
        CornerSchema,
        "Where the face's corner lies, from the point that the surroundings of the site are measured from; default: at it",
        required=False,
    )
    tolerance_percent = Number(
        "How far off distances and heights may be, for the range of the loss",
        unit="%",
        at_least=0,
        at_most=50,
        assumed=Assumed(TOLERANCE_SHARE * 100.0, COMMON_PRACTICE),
    )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Shade:
        """The shade for the core."""
        return Shade(
            objects=tuple(each.roof_object for each in data["objects"] or ()),
            buildings=tuple(data["buildings"] or ()),
            trees=tuple(data["trees"] or ()),
            survey=data["beam_survey"],
            placement=data["module_places"],
            tolerance_share=data["tolerance_percent"] / 100.0,
            corner_m=data["corner"] or (0.0, 0.0, 0.0),
        )


class SurroundingsSchema(InputSchema):
    """What stands around the building, for all faces: metres are counted from one point of the site."""

    horizon = Horizon("Horizon of the site, linear between its points; for each face that has none of its own")
    buildings = Listed(Nested(BuildingSchema, "A building"), "Buildings", fewest=0, most=OBJECTS_MOST, required=False)
    trees = Listed(Nested(TreeSchema, "A tree"), "Trees", fewest=0, most=OBJECTS_MOST, required=False)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Surroundings:
        """The surroundings for the faces."""
        return Surroundings(data["horizon"], tuple(data["buildings"] or ()), tuple(data["trees"] or ()))


@dataclass(frozen=True, slots=True)
class Surroundings:
    """Horizon, buildings and trees around the building, from a point of the site."""

    horizon: tuple[HorizonPoint, ...]
    buildings: tuple[Building, ...]
    trees: tuple[Tree, ...]

    def around(self, face: Face) -> Face:
        """The face with them, as seen from its corner."""
        face = replace(face, horizon=face.horizon or self.horizon)
        if not (self.buildings or self.trees):
            return face
        shade = face.shade or Shade()
        east_m, north_m, up_m = shade.corner_m
        buildings = tuple(
            replace(
                each,
                east_m=each.east_m - east_m,
                north_m=each.north_m - north_m,
                top_up_m=each.top_up_m - up_m,
                eaves_up_m=each.eaves_up_m - up_m,
            )
            for each in self.buildings
        )
        trees = tuple(
            replace(each, east_m=each.east_m - east_m, north_m=each.north_m - north_m, ground_up_m=each.ground_up_m - up_m)
            for each in self.trees
        )
        return replace(
            face,
            shade=replace(
                shade,
                buildings=shade.buildings + buildings,
                trees=shade.trees + trees,
                site_buildings=len(buildings),
                site_trees=len(trees),
            ),
        )


def surroundings_field() -> Nested:
    """What stands around the building."""
    return Nested(SurroundingsSchema, "What stands around the building, for all faces", required=False)


def _with_module_size(face: Face, module: Module) -> Face:
    """A face whose modules lie at given places, with the size of this module."""
    shade = face.shade
    if shade is None or shade.placement is None:
        return face
    sides = (module.width_m, module.length_m)
    width_m, height_m = sides if shade.placement.orientation == "portrait" else sides[::-1]
    return replace(
        face, shade=replace(shade, placement=replace(shade.placement, module_width_m=width_m, module_height_m=height_m))
    )


def faces_in_surroundings(faces: Sequence[Face], surroundings: Surroundings | None, module: Module) -> tuple[Face, ...]:
    """The faces with what stands around them, and modules of this size at their places."""
    around = surroundings or NO_SURROUNDINGS
    return tuple(_with_module_size(around.around(each), module) for each in faces)


NO_SURROUNDINGS = Surroundings((), (), ())
