"""The sun's path over a day in true solar time, against pvlib's closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from pvlib import solarposition

from wattpair_service.engineering.irradiance.sun_paths import SOLSTICES_AND_EQUINOX_DEG, sun_path

SUMMER, EQUINOX, WINTER = SOLSTICES_AND_EQUINOX_DEG


@pytest.mark.parametrize("declination_deg", SOLSTICES_AND_EQUINOX_DEG)
@pytest.mark.parametrize("latitude_deg", [-53.8, -12.0, 7.5, 36.1, 52.1])
def test_azimuth_and_elevation_are_those_of_the_hour_angle(latitude_deg: float, declination_deg: float) -> None:
    path = sun_path(latitude_deg, declination_deg)
    angles = np.radians(latitude_deg), (path.hour - 12.0) * 15.0, np.radians(declination_deg)
    zenith = solarposition.solar_zenith_analytical(angles[0], np.radians(angles[1]), angles[2])
    azimuth = solarposition.solar_azimuth_analytical(angles[0], np.radians(angles[1]), angles[2], zenith)
    assert path.elevation_deg == pytest.approx(90.0 - np.degrees(zenith), abs=1e-6)
    apart_deg = (path.azimuth_deg - np.degrees(azimuth) + 180.0) % 360.0 - 180.0
    # At noon itself pvlib's closed form has the sun in the south everywhere.
    assert np.abs(apart_deg[path.hour != 12.0]).max() < 1e-4
    assert path.elevation_deg[[0, -1]] == pytest.approx([0.0, 0.0], abs=1e-6)


def test_at_noon_the_sun_stands_towards_the_equator() -> None:
    noon = [path.azimuth_deg[path.hour == 12.0].tolist() for path in (sun_path(-53.8, EQUINOX), sun_path(52.1, EQUINOX))]
    assert noon == [[0.0], pytest.approx([180.0])]


def test_days_are_as_long_as_the_latitude_makes_them() -> None:
    assert np.ptp(sun_path(52.1, EQUINOX).hour) == pytest.approx(12.0)
    assert np.ptp(sun_path(52.1, SUMMER).hour) + np.ptp(sun_path(52.1, WINTER).hour) == pytest.approx(24.0)
    assert np.ptp(sun_path(75.0, SUMMER).hour) == pytest.approx(24.0)
    assert sun_path(75.0, WINTER).hour.size == 0
