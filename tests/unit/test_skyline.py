"""What one point of a face sees before the sky."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.builders import FACE
from wattpair_service.engineering.irradiance.plane_of_array import HorizonPoint
from wattpair_service.engineering.shade.on_face import Skyline, skyline_of_face
from wattpair_service.engineering.shade.scene import Building, Placement, RoofObject, Shade, Tree

FLAT = replace(FACE, tilt_deg=0.0, azimuth_deg=180.0)
ROW = Placement(((0.0, 0.0), (1.0, 0.0), (2.0, 0.0)), 1.0, 2.0, "portrait")
"""Its middle module has its middle 1.5 m east and 1 m north of the face's corner."""


def seen(shade: Shade | None, horizon: tuple[HorizonPoint, ...] = ()) -> Skyline:
    return skyline_of_face(replace(FLAT, shade=shade, horizon=horizon))


def column(skyline: Skyline, azimuth_deg: float) -> int:
    return int(np.abs(skyline.azimuth_deg - azimuth_deg).argmin())


def test_a_wall_stands_as_high_as_its_height_over_its_distance() -> None:
    wall = Building("wall", 1.5, -9.0, 400.0, 2.0, 90.0, 8.0, 8.0)
    skyline = seen(Shade(buildings=(wall,), placement=ROW))
    south = column(skyline, 180.0)
    aside = np.radians(skyline.azimuth_deg[south] - 180.0)
    assert skyline.module == 2
    assert skyline.opaque_deg[south] == pytest.approx(np.degrees(np.arctan(8.0 / 9.0 * np.cos(aside))), abs=1e-6)
    assert skyline.opaque_deg[column(skyline, 0.0)] == 0.0


def test_the_horizon_is_apart_from_what_stands_on_the_roof() -> None:
    chimney = RoofObject("chimney", ((1.3, 4.0), (1.7, 4.0), (1.7, 4.4), (1.3, 4.4)), 1.0)
    skyline = seen(Shade(objects=(chimney,), placement=ROW), (HorizonPoint(0.0, 5.0),))
    north = column(skyline, 0.0)
    assert skyline.opaque_deg[north] == pytest.approx(np.degrees(np.arctan(1.0 / 3.0)), abs=0.1)
    assert skyline.horizon_deg == pytest.approx(np.full(skyline.azimuth_deg.size, 5.0))
    assert np.count_nonzero(skyline.opaque_deg) < 10


def test_a_crown_lies_between_two_elevations_and_nowhere_else() -> None:
    tree = Tree("oak", 1.5, 21.0, 0.0, 12.0, 4.0, 8.0, 0.0)
    (crown,) = seen(Shade(trees=(tree,), placement=ROW)).crowns
    north = column(seen(None), 0.0)
    assert crown.name == "oak"
    assert np.degrees(np.arctan(4.0 / 20.0)) - 2.0 < crown.low_deg[north] < np.degrees(np.arctan(8.0 / 20.0))
    assert crown.high_deg[north] > np.degrees(np.arctan(8.0 / 20.0))
    assert np.isnan(crown.high_deg[column(seen(None), 180.0)])
    assert np.isnan(crown.high_deg).sum() == np.isnan(crown.low_deg).sum() > 100


def test_a_crown_above_a_module_reaches_over_it() -> None:
    # A sphere of 3 m radius whose middle is 5 m above the module and 1 m north of it.
    tree = Tree("oak", 1.5, 2.0, 0.0, 8.0, 2.0, 6.0, 0.0)
    (crown,) = seen(Shade(trees=(tree,), placement=ROW)).crowns
    # Tangents to the circle that each plane cuts from it: arctan(5 / 1) - arcsin(3 / 5.1) ahead and behind, from 5 / 0 aside.
    for azimuth_deg, lowest_deg in ((0.0, 42.65), (90.0, 55.55), (180.0, 65.27)):
        at = column(seen(None), azimuth_deg)
        assert crown.low_deg[at] == pytest.approx(lowest_deg, abs=1.0)
        assert crown.high_deg[at] > 85.0


def test_without_objects_all_modules_see_the_same() -> None:
    skyline = seen(None, (HorizonPoint(90.0, 3.0), HorizonPoint(270.0, 9.0)))
    assert (skyline.module, skyline.crowns, skyline.opaque_deg.max()) == (None, (), 0.0)
    assert skyline.horizon_deg[column(skyline, 270.0)] == pytest.approx(9.0, abs=0.1)
