"""Scenes and years that the checks of shade share."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from wattpair_service.climate.site_year import site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import BuiltInClimate
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.equipment import Cells, Module
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.roof.outline import Polygon
from wattpair_service.engineering.shade.scene import Orientation, Placement, RoofObject, Shade, Tree
from wattpair_service.engineering.site import Site
from wattpair_service.engineering.site_year import SiteYear

SHORT_M, LONG_M = 1.13, 1.73
GAP_M = 0.02
SUMMER_LEAVES = (0.6,) * 4 + (0.2,) * 6 + (0.6,) * 2
"""Light through a crown by month. A test's own figures."""


def module_of(cells: Cells) -> Module:
    """An invented module of 410 W with these cells."""
    return Module("410 W", 410.4, 37.6, 31.4, 13.86, 13.07, -0.27, 0.05, -0.34, LONG_M, SHORT_M, 21.0, cells=cells)


def rows_of_modules(columns: int, rows: int, orientation: Orientation) -> Placement:
    """A block of modules whose lower left corner is the face's."""
    width, height = (SHORT_M, LONG_M) if orientation == "portrait" else (LONG_M, SHORT_M)
    corners = tuple((x * (width + GAP_M), y * (height + GAP_M)) for y in range(rows) for x in range(columns))
    return Placement(corners, width, height, orientation)


def rectangle(x: float, y: float, width: float, height: float) -> Polygon:
    """Outline of a rectangle, from its lower left corner."""
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


def roof_of_every_object(orientation: Orientation) -> Shade:
    """Modules in a block, among them a chimney, a gabled dormer, a vent like a pole and a parapet, and a tree in front."""
    placement = rows_of_modules(6 if orientation == "portrait" else 4, 3 if orientation == "portrait" else 5, orientation)
    return Shade(
        objects=(
            RoofObject("chimney", rectangle(7.2, 2.6, 0.6, 0.8), 1.3),
            RoofObject("dormer", rectangle(-2.6, 0.8, 2.4, 2.6), 1.6, top="gabled", eaves_height_m=0.7),
            RoofObject("vent", rectangle(3.2, -0.6, 0.15, 0.15), 1.0),
            RoofObject("parapet", rectangle(0.0, -0.8, 7.0, 0.2), 0.6),
        ),
        trees=(Tree("tree", -3.0, -9.0, -4.0, 11.0, 3.0, 4.0, 0.3, SUMMER_LEAVES),),
        placement=placement,
    )


def face_with(shade: Shade | None, *, tilt_deg: float = 35.0, azimuth_deg: float = 180.0, shading_share: float = 0.0) -> Face:
    """A face with its modules under this shade."""
    count = len(shade.placement.corners) if shade is not None and shade.placement is not None else 1
    return Face("roof", tilt_deg, azimuth_deg, count, "close_roof", shading_share, 0.0, 0.2, (), None, shade)


@cache
def year_at_48_n() -> SiteYear:
    """The built-in climate at 48 degrees north, 11 east."""
    return site_year(Site(48.0, 11.0, None, None, None), BuiltInClimate(), StationFolder())


def fresh_cache(year: SiteYear | None = None) -> FaceCache:
    """A cache that holds nothing and leaves nothing behind."""
    year = year or year_at_48_n()
    return FaceCache(replace(year, conditions=replace(year.conditions, is_cached=False)), "perez_1990")
