"""Distances on the globe: closed forms and symmetries."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given

from tests.builders import numbers
from wattpair_service.climate.geography import EARTH_RADIUS_KM, distance_km

LATITUDES, LONGITUDES = numbers(-90.0, 90.0), numbers(-180.0, 180.0)


@pytest.mark.parametrize(
    ("one", "other", "turns"),
    [
        ((0.0, 0.0), (0.0, 0.0), 0.0),
        ((0.0, 0.0), (0.0, 90.0), 0.25),
        ((12.0, 34.0), (90.0, -60.0), 78.0 / 360.0),
        ((90.0, 0.0), (-90.0, 0.0), 0.5),
        ((36.1, -79.95), (-36.1, 100.05), 0.5),
        ((0.0, 179.5), (0.0, -179.5), 1.0 / 360.0),
        ((60.0, 10.0), (60.0, -170.0), 60.0 / 360.0),
    ],
)
def test_parts_of_a_great_circle(one: tuple[float, float], other: tuple[float, float], turns: float) -> None:
    assert float(distance_km(*one, *other)) == pytest.approx(turns * 2.0 * pi * EARTH_RADIUS_KM, abs=1e-4)


def test_known_cities() -> None:
    """London to Paris and Sydney to Auckland, some 344 and 2155 km; from memory."""
    london, paris, sydney, auckland = (51.507, -0.128), (48.857, 2.352), (-33.87, 151.21), (-36.85, 174.76)
    assert float(distance_km(*london, *paris)) == pytest.approx(344.0, abs=2.0)
    assert float(distance_km(*sydney, *auckland)) == pytest.approx(2155.0, abs=10.0)


@given(LATITUDES, LONGITUDES, LATITUDES, LONGITUDES)
def test_there_and_back_are_alike_and_no_place_is_beyond_the_antipode(a: float, b: float, c: float, d: float) -> None:
    there, back = float(distance_km(a, b, c, d)), float(distance_km(c, d, a, b))
    assert there == pytest.approx(back, rel=1e-9, abs=1e-3)
    assert 0.0 <= there <= pi * EARTH_RADIUS_KM * (1.0 + 1e-12)


def test_many_at_once_are_each_alone() -> None:
    latitude, longitude = [10.0, -20.0, 60.0], [100.0, -5.0, 179.0]
    one_by_one = [float(distance_km(1.0, 2.0, a, b)) for a, b in zip(latitude, longitude, strict=True)]
    np.testing.assert_allclose(distance_km(1.0, 2.0, latitude, longitude), one_by_one, rtol=1e-14)
    assert distance_km(1.0, 2.0, [], []).size == 0
