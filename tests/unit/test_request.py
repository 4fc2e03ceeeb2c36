"""The ways in which a request may bring its weather."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG, TMY3, UTC_OFFSET_H, real_weather, real_year
from tests.open_data import pvlib_bundled
from wattpair_service.climate.request import FileWeather, HourlyArrays, site_year
from wattpair_service.engineering.electrical_checks import Site
from wattpair_service.engineering.errors import WeatherError

HERE = Site(LATITUDE_DEG, LONGITUDE_DEG, 273.0, None, None)
FILE = FileWeather("tmy3", pvlib_bundled(TMY3))


def arrays(count: int = 8760) -> HourlyArrays:
    """The real year, or the beginning of it, as arrays."""
    year = real_weather()
    sent = (year.ghi_w_m2, year.dni_w_m2, year.dhi_w_m2, year.temp_air_c, year.wind_speed_m_s)
    ghi, dni, dhi, air, wind = (None if values is None else values[:count] for values in sent)
    assert ghi is not None
    assert air is not None
    return HourlyArrays(datetime(2023, 1, 1, 1), UTC_OFFSET_H, "end", ghi, dni, dhi, air, wind)


def test_file_and_arrays_become_the_same_conditions() -> None:
    from_file, from_arrays = site_year(HERE, FILE).conditions, site_year(HERE, arrays()).conditions
    for name in from_file.__slots__:
        np.testing.assert_array_equal(getattr(from_file, name), getattr(from_arrays, name))
        np.testing.assert_array_equal(getattr(from_file, name), getattr(real_year(), name))


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "away_km"),
    [(LATITUDE_DEG, LONGITUDE_DEG, 0), (37.1, LONGITUDE_DEG, 111), (LATITUDE_DEG, -78.95, 90), (0.0, 100.05, 16001)],
)
def test_a_file_says_how_far_from_the_site_it_was_taken(latitude_deg: float, longitude_deg: float, away_km: int) -> None:
    site = Site(latitude_deg, longitude_deg, 0.0, None, None)
    assert f", {away_km} km from the site" in site_year(site, FILE).source


def test_no_weather_is_named() -> None:
    with pytest.raises(WeatherError) as error:
        site_year(HERE, None)
    assert error.value.fields == ("weather",)


def test_faults_are_named_below_the_weather() -> None:
    with pytest.raises(WeatherError) as error:
        site_year(HERE, arrays(8000))
    assert error.value.fields == ("weather/ghi_w_m2",)
