"""Cell temperature by mounting."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given

from tests.builders import numbers
from wattpair_service.engineering.cell_temperature import MOUNTINGS, Faiman, Sandia, cell_temperature

EVERY_MOUNTING = pytest.mark.parametrize("mounting", MOUNTINGS)


def at(mounting: str, irradiance_w_m2: float, temp_air_c: float, wind_speed_m_s: float) -> float:
    """Cell temperature at one point."""
    values = (np.array([value]) for value in (irradiance_w_m2, temp_air_c, wind_speed_m_s))
    names = ("irradiance_w_m2", "temp_air_c", "wind_speed_m_s")
    return float(cell_temperature(mounting=mounting, **dict(zip(names, values, strict=True)))[0])


def test_sandia_equations() -> None:
    by_hand = 30.0 + 800.0 * np.exp(-3.0 - 0.05 * 2.0) + 800.0 / 1000.0 * 2.0
    one = (np.array([800.0]), np.array([30.0]), np.array([2.0]))
    assert Sandia(-3.0, -0.05, 2.0, "").temp_cell_c(*one)[0] == pytest.approx(by_hand, rel=1e-12)


def test_faiman_equation() -> None:
    one = (np.array([800.0]), np.array([30.0]), np.array([2.0]))
    assert Faiman(25.0, 6.0, "").temp_cell_c(*one)[0] == pytest.approx(30.0 + 800.0 / (25.0 + 6.0 * 2.0), rel=1e-12)


@EVERY_MOUNTING
def test_in_the_dark_the_cell_is_as_warm_as_the_air(mounting: str) -> None:
    assert at(mounting, 0.0, -7.0, 3.0) == -7.0


@EVERY_MOUNTING
def test_in_full_sun_it_is_within_what_is_ever_measured(mounting: str) -> None:
    assert 40.0 < at(mounting, 1000.0, 20.0, 1.0) < 85.0


@given(numbers(1.0, 1200.0), numbers(-30.0, 45.0), numbers(0.0, 20.0))
def test_light_warms_and_wind_cools(irradiance: float, air: float, wind: float) -> None:
    for mounting in MOUNTINGS:
        here = at(mounting, irradiance, air, wind)
        assert here > air
        assert at(mounting, irradiance + 1.0, air, wind) > here
        assert at(mounting, irradiance, air, wind + 1.0) < here
        assert at(mounting, irradiance, air + 5.0, wind) == pytest.approx(here + 5.0, abs=1e-9)


def test_less_air_behind_the_module_means_a_hotter_cell() -> None:
    rack, roof, insulated = (at(name, 1000.0, 20.0, 1.0) for name in ("open_rack", "close_roof", "insulated_back"))
    assert rack < roof < insulated


@EVERY_MOUNTING
@pytest.mark.parametrize("which", [0, 1, 2])
def test_a_missing_value_stays_missing(mounting: str, which: int) -> None:
    values = [500.0, 20.0, 1.0]
    values[which] = np.nan
    assert np.isnan(at(mounting, *values))
