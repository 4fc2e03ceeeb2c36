"""Sun position by one point a day and a spline, against pvlib's algorithm at every time."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
import pytest

from wattpair_service.engineering.irradiance.sun_position import sun_position

PLACES = [(52.3, 4.8, -2.0), (-33.9, 151.2, 50.0), (69.6, 18.9, 100.0), (0.0, 0.0, 4000.0), (-89.9, 0.0, 2800.0)]
CLOSE_DEG = 1e-6


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("year", [1961, 1999, 2024, 2051, "months of many years"])
def test_sun_position_is_that_of_pvlib_at_every_time(place: tuple[float, float, float], year: int | str) -> None:
    latitude, longitude, elevation = place
    if isinstance(year, int):
        times = pd.date_range(f"{year}-01-01 00:17", f"{year + 1}-01-03", freq="3h")
    else:
        times = pd.DatetimeIndex([f"{1991 + month}-{month:02}-15 11:30" for month in range(1, 13)])
    theirs = pvlib.solarposition.get_solarposition(times, latitude, longitude, altitude=elevation)
    mine = sun_position(times, latitude_deg=latitude, longitude_deg=longitude, elevation_m=elevation)
    np.testing.assert_allclose(mine.apparent_zenith_deg, theirs["apparent_zenith"], atol=CLOSE_DEG)
    np.testing.assert_allclose(mine.zenith_deg, theirs["zenith"], atol=CLOSE_DEG)
    apart = np.mod(mine.azimuth_deg - theirs["azimuth"].to_numpy() + 180.0, 360.0) - 180.0
    assert np.abs(apart * np.sin(np.radians(mine.zenith_deg))).max() < CLOSE_DEG
