"""The weighted operating points of a year."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pvlib
import pytest

from tests.builders import LATITUDE_DEG, UTC_OFFSET_H, points, real_weather, real_year
from wattpair_service.engineering.irradiance.conditions import Conditions, HourlyWeather, from_hourly
from wattpair_service.engineering.sentences import Cited


def test_weights_months_and_hours_are_those_of_a_year_in_standard_time() -> None:
    hours = pd.date_range("2024-01-01 00:30", periods=8784, freq="h")
    flat = np.full(8784, 10.0)
    leap_year = from_hourly(HourlyWeather(50.0, 5.0, 0.0, 0.0, hours, flat, None, None, flat, flat, Cited("flat")))
    assert real_year().weight_h.sum() == leap_year.weight_h.sum() == pytest.approx(8760.0)
    assert np.ptp(real_year().weight_h) == 0.0
    local = real_weather().middle_utc + pd.Timedelta(hours=UTC_OFFSET_H)
    np.testing.assert_array_equal(real_year().month, local.month)
    np.testing.assert_array_equal(real_year().hour, np.tile(np.arange(24), 365))


def test_sun_position_is_that_of_the_middle_of_the_interval() -> None:
    year, weather = real_year(), real_weather()
    pressure = pvlib.atmosphere.alt2pres(weather.elevation_m)
    sun = pvlib.solarposition.spa_python(weather.middle_utc, weather.latitude_deg, weather.longitude_deg, pressure=pressure)
    np.testing.assert_allclose(year.zenith_deg, sun["apparent_zenith"], atol=1e-4)
    np.testing.assert_allclose(year.azimuth_deg, sun["azimuth"], atol=1e-4)
    assert year.zenith_deg.min() == pytest.approx(LATITUDE_DEG - 23.44, abs=1.5)


def test_beam_below_the_horizon_is_dropped() -> None:
    weather, year = real_weather(), real_year()
    assert weather.dni_w_m2 is not None
    down = year.zenith_deg >= 90.0
    assert weather.dni_w_m2[down].sum() > 0.0
    assert year.dni_w_m2[down].sum() == 0.0
    np.testing.assert_array_equal(year.dni_w_m2[~down], weather.dni_w_m2[~down])


def test_global_alone_is_split_into_beam_and_diffuse_that_add_up() -> None:
    split = from_hourly(replace(real_weather(), dni_w_m2=None, dhi_w_m2=None))
    high = split.zenith_deg < 85.0
    # The beam falls by the true zenith, the sun position here is refracted: a hair.
    back = split.dhi_w_m2 + split.dni_w_m2 * np.cos(np.radians(split.zenith_deg))
    np.testing.assert_allclose(back[high], split.ghi_w_m2[high], rtol=0.02, atol=0.5)
    assert np.isfinite(split.dni_w_m2).all()
    assert min(split.dni_w_m2.min(), split.dhi_w_m2.min()) >= 0.0
    assert split.dhi_w_m2.sum() == pytest.approx(real_year().dhi_w_m2.sum(), rel=0.15)


def test_global_irradiation_is_the_weighted_sum() -> None:
    assert points(ghi_w_m2=[500.0, 100.0], weight_h=[1000.0, 10.0]).ghi_kwh_m2 == pytest.approx(501.0)


def test_arrays_of_unequal_length_are_refused() -> None:
    values = real_year().arrays()
    with pytest.raises(ValueError, match="unequal shape"):
        Conditions(**values | {"hour": values["hour"][:-1]})  # type: ignore[arg-type]
