"""Refuses what cannot stand around a face."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wattpair_service.engineering.arrays import BoolArray, FloatArray
from wattpair_service.engineering.cautions import Caution, caution, caution_form
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.roof.outline import contains, require_simple, segments
from wattpair_service.engineering.shade.scene import (
    SHADED_MODULES_MOST,
    Building,
    Placement,
    RoofObject,
    Shade,
    Tree,
    on_roof,
)

HALF_CELL_M = 0.09
"""Half of a cell of 182 mm. Common practice, no source."""
TOUCH_M = 1e-3
"""Objects may touch a module by this much."""

OBJECTS_TILT_MOST_DEG = 75.0
SHADE_FIELDS = (
    *(f"{module}.{name}" for module in ("module", "modules.module") for name in ("half_cut_cells", "bypass_group_count")),
    *(f"{unit}.shade_tracker" for unit in ("microinverters", "candidates.microinverter")),
)
"""Fields of a request that count only under shade."""
FLAT_SHARE = caution("flat_shade", "office", "estimate")
THIN_OBJECT = caution_form("thin_object", "office", "estimate", "objects")
SHADE = caution("shade", "office", "estimate")


def require_possible(faces: Sequence[Face]) -> None:
    """Refuse faces whose shade contradicts itself or their modules; fields are paths within a request.

    Raises
    ------
    EngineeringError
        Places of modules are missing, overlap or do not match their number; an outline crosses itself; a module lies in what
        throws shade; more modules than are shaded one by one.
    """
    near = [(number, face) for number, face in enumerate(faces) if face.shade is not None and face.shade.is_near]
    if (modules := sum(face.module_count for _, face in near)) > SHADED_MODULES_MOST:
        message = f"at most {SHADED_MODULES_MOST} modules in all on faces whose modules are shaded one by one"
        message += f"; they have {modules}: describe by horizon what stands far away"
        raise EngineeringError(message, tuple(f"faces/{number}" for number, _ in near))
    for number, face in enumerate(faces):
        try:
            _require_possible(face)
        except EngineeringError as error:
            raise error.within(f"faces/{number}/shade") from error
        if face.tilt_deg > OBJECTS_TILT_MOST_DEG and face.shade is not None and face.shade.objects:
            message = f"at most {OBJECTS_TILT_MOST_DEG:g} where things on the face throw shade: on a wall they are buildings"
            raise EngineeringError(message, (f"faces/{number}/tilt_deg",))
        _require_outside(face, number)


def _require_possible(face: Face) -> None:
    shade = face.shade
    if shade is None:
        return
    for index, each in enumerate(shade.objects):
        require_simple(each.outline, (f"objects/{index}/outline",))
    _require_one_for_each(shade, face.module_count)
    if shade.placement is not None:
        _require_apart(shade.objects, shade.placement)
    elif shade.objects or shade.buildings or shade.trees:
        message = "where each module lies, as objects, buildings and trees shade each of them differently"
        raise EngineeringError(f"{message}; the field is required with them, or in a design a layout", ("module_places",))


def _require_one_for_each(shade: Shade, module_count: int) -> None:
    message = f"an array of {module_count} items, one for each module of the face"
    if shade.placement is not None and len(shade.placement.corners) != module_count:
        raise EngineeringError(message, ("module_places/corners",))
    if shade.survey is not None and len(shade.survey.factors) not in (1, module_count):
        raise EngineeringError(message, ("beam_survey/by_module",))


def _require_apart(objects: Sequence[RoofObject], placement: Placement) -> None:
    low, high = _modules(placement)
    for index in range(1, len(low)):
        if (number := _first(((low[:index] < high[index]) & (low[index] < high[:index])).all(axis=1))) is not None:
            message = f"a module beside the others; it overlaps item {number - 1}"
            raise EngineeringError(message, (f"module_places/corners/{index}",))
    for index, each in enumerate(objects):
        if (number := _first(_overlaps(each, low, high))) is not None:
            message = f"an outline that covers no module; it covers part of module {number}"
            raise EngineeringError(message, (f"objects/{index}/outline",))


def _modules(placement: Placement) -> tuple[FloatArray, FloatArray]:
    """Lower left and upper right corners of the modules [m], less what may be touched."""
    low = np.array(placement.corners) + TOUCH_M
    return low, low + np.array([placement.module_width_m, placement.module_height_m]) - 2.0 * TOUCH_M


def _require_outside(face: Face, face_number: int) -> None:
    """Refuse modules whose middle lies in a building or in the crown of a tree, which are the face's or the whole site's."""
    shade = face.shade
    if shade is None or shade.placement is None or not shade.is_near:
        return
    middle = np.add(*_modules(shade.placement)) / 2.0
    points = on_roof(middle[:, 0], middle[:, 1], tilt_deg=face.tilt_deg, azimuth_deg=face.azimuth_deg)
    kinds = (
        ("buildings", "a building that", shade.site_buildings, [_in_building(each, points) for each in shade.buildings]),
        ("trees", "a tree whose crown", shade.site_trees, [_in_crown(each, points) for each in shade.trees]),
    )
    for field, what, of_site, solids in kinds:
        own = len(solids) - of_site
        for index, inside in enumerate(solids):
            if (number := _first(inside)) is not None:
                message = f'{what} has no module in it; module {number} of "{face.name}" lies there'
                path = f"faces/{face_number}/shade/{field}/{index}" if index < own else f"surroundings/{field}/{index - own}"
                raise EngineeringError(message, (path,))


def _first(is_hit: BoolArray) -> int | None:
    """Number of the first module that is hit, counted from 1."""
    return int(np.argmax(is_hit)) + 1 if is_hit.any() else None


def _overlaps(roof_object: RoofObject, low: FloatArray, high: FloatArray) -> BoolArray:
    """Whether the outline of an object overlaps each module, between its lower left and upper right corners [m]."""
    edges = np.array(segments(roof_object.outline))
    start, along = edges[:, 0], edges[:, 1] - edges[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        to_low, to_high = ((bound[:, None] - start) / along for bound in (low, high))
    # An edge parallel to a side is in its strip everywhere or nowhere.
    level = along == 0.0
    within = (start >= low[:, None]) & (start <= high[:, None])
    enter = np.where(level, np.where(within, -np.inf, np.inf), np.minimum(to_low, to_high)).max(axis=-1)
    leave = np.where(level, np.where(within, np.inf, -np.inf), np.maximum(to_low, to_high)).min(axis=-1)
    crosses = (np.maximum(enter, 0.0) < np.minimum(leave, 1.0)).any(axis=-1)
    return np.asarray(crosses | contains(roof_object.outline, *((low + high) / 2.0).T))


def _in_building(building: Building, points: FloatArray) -> BoolArray:
    turn = np.radians(building.length_azimuth_deg)
    east, north = points[:, 0] - building.east_m, points[:, 1] - building.north_m
    along, across = east * np.sin(turn) + north * np.cos(turn), east * np.cos(turn) - north * np.sin(turn)
    in_plan = (np.abs(along) < building.length_m / 2.0) & (np.abs(across) < building.width_m / 2.0)
    return np.asarray(in_plan & (points[:, 2] < building.eaves_up_m))


def _in_crown(tree: Tree, points: FloatArray) -> BoolArray:
    half_height = (tree.height_m - tree.crown_base_m) / 2.0
    middle = np.array([tree.east_m, tree.north_m, tree.ground_up_m + tree.crown_base_m + half_height])
    radii = np.array([tree.crown_diameter_m / 2.0, tree.crown_diameter_m / 2.0, half_height])
    return np.asarray((((points - middle) / radii) ** 2).sum(axis=-1) < 1.0)


def unused_shade_fields(faces: Sequence[Face]) -> tuple[str, ...]:
    """The fields that do not affect a result for these faces."""
    return () if any(face.is_shaded for face in faces) else SHADE_FIELDS


def shade_cautions(faces: Sequence[Face]) -> tuple[Caution, ...]:
    """What has to be said of the shade of these faces."""
    shades = [face.shade for face in faces if face.shade is not None]
    thin = [each.name or "?" for shade in shades for each in shade.objects if _width_m(each) < HALF_CELL_M]
    thin += [tree.name or "?" for shade in shades for tree in shade.trees if tree.crown_diameter_m < HALF_CELL_M]
    return (
        *((SHADE,) if any(face.is_shaded for face in faces) else ()),
        *((THIN_OBJECT(objects=tuple(dict.fromkeys(thin))),) if thin else ()),
        *((FLAT_SHARE,) if any(face.shading_share > 0.0 for face in faces) else ()),
    )


def _width_m(roof_object: RoofObject) -> float:
    """The lesser side of the outline's bounding box."""
    return min(high - low for low, high in roof_object.extent)
