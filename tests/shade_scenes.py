"""An invented roof under shade."""

from __future__ import annotations

import numpy as np

from tests.builders import MODULE
from wattpair_service.engineering.irradiance.plane_of_array import Face, HorizonPoint
from wattpair_service.engineering.roof.outline import Polygon
from wattpair_service.engineering.shade.scene import Building, Placement, RoofObject, Shade, Tree


def _rectangle(x_m: float, y_m: float, width_m: float, height_m: float) -> Polygon:
    return ((x_m, y_m), (x_m + width_m, y_m), (x_m + width_m, y_m + height_m), (x_m, y_m + height_m))


def shaded_roof() -> Face:
    """An invented roof: 24 modules, chimney, dormer, a neighbour's house, two trees and a horizon."""
    width_m, height_m = MODULE.width_m, MODULE.length_m
    corners = tuple((0.5 + column * (width_m + 0.02), 0.4 + row * (height_m + 0.02)) for row in range(3) for column in range(8))
    leafy = (0.5,) * 4 + (0.1,) * 6 + (0.5,) * 2
    shade = Shade(
        objects=(
            RoofObject("chimney", _rectangle(9.9, 3.0, 0.6, 1.0), 1.2),
            RoofObject("dormer", _rectangle(-2.5, 1.0, 2.5, 3.0), 1.8, top="gabled", eaves_height_m=0.8),
        ),
        buildings=(Building("neighbour", 4.0, -15.0, 10.0, 8.0, 80.0, 3.0, 0.5),),
        trees=(
            Tree("birch", -4.0, -8.0, -4.0, 9.0, 2.0, 5.0, 0.3, leafy),
            Tree("spruce", 14.0, -7.0, -4.0, 8.0, 2.0, 4.0, 0.3),
        ),
        placement=Placement(corners, width_m, height_m, "portrait"),
    )
    horizon = tuple(HorizonPoint(float(each), 3.0 + 2.0 * float(np.sin(np.radians(each)))) for each in range(0, 360, 10))
    return Face("roof", 35.0, 180.0, 24, "close_roof", 0.0, 0.02, 0.2, horizon, shade=shade)
