"""Distances on the globe: parts of a great circle, known cities and symmetry."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given

from tests.builders import numbers
from wattpair_service.climate.geography import EARTH_RADIUS_KM, distance_km

LATITUDES, LONGITUDES = numbers(-90.0, 90.0), numbers(-180.0, 180.0)
CIRCLE_KM = 2.0 * pi * EARTH_RADIUS_KM
CASES = {
    "same point": ((0.0, 0.0), (0.0, 0.0), 0.0, 1e-4),
    "quarter": ((0.0, 0.0), (0.0, 90.0), 0.25 * CIRCLE_KM, 1e-4),
    "along a meridian to the pole": ((12.0, 34.0), (90.0, -60.0), 78.0 / 360.0 * CIRCLE_KM, 1e-4),
    "antipode": ((36.1, -79.95), (-36.1, 100.05), 0.5 * CIRCLE_KM, 1e-4),
    "across the date line": ((0.0, 179.5), (0.0, -179.5), CIRCLE_KM / 360.0, 1e-4),
    "over the pole": ((60.0, 10.0), (60.0, -170.0), 60.0 / 360.0 * CIRCLE_KM, 1e-4),
    "London to Paris, from memory": ((51.507, -0.128), (48.857, 2.352), 344.0, 2.0),
    "Sydney to Auckland, from memory": ((-33.87, 151.21), (-36.85, 174.76), 2155.0, 10.0),
}


@pytest.mark.parametrize(("one", "other", "km", "within_km"), CASES.values(), ids=CASES)
def test_distance(one: tuple[float, float], other: tuple[float, float], km: float, within_km: float) -> None:
    # Twice the same point, as an array.
    latitudes, longitudes = ([value, value] for value in other)
    np.testing.assert_allclose(distance_km(*one, latitudes, longitudes), [km, km], rtol=0.0, atol=within_km)


@given(LATITUDES, LONGITUDES, LATITUDES, LONGITUDES)
def test_distance_is_symmetric_and_at_most_half_the_circle(a: float, b: float, c: float, d: float) -> None:
    there, back = float(distance_km(a, b, c, d)), float(distance_km(c, d, a, b))
    assert there == pytest.approx(back, rel=1e-9, abs=1e-3)
    assert 0.0 <= there <= CIRCLE_KM / 2.0 * (1.0 + 1e-12)
