"""Cell temperature by mounting."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given

from tests.builders import numbers
from wattpair_service.engineering.module.cell_temperature import MOUNTINGS, cell_temperature

BY_HAND_C = {  # 800 W/m2, 30 degC, 2 m/s: SAND2004-3535 table 1 and eq. 11 and 12; Faiman 2008
    "close_roof": 30.0 + 800.0 * np.exp(-2.98 - 0.0471 * 2.0) + 0.8 * 1.0,
    "open_rack": 30.0 + 800.0 * np.exp(-3.56 - 0.075 * 2.0) + 0.8 * 3.0,
    "insulated_back": 30.0 + 800.0 * np.exp(-2.81 - 0.0455 * 2.0),
    "open_rack_faiman": 30.0 + 800.0 / (25.0 + 6.84 * 2.0),
}
EVERY_MOUNTING = pytest.mark.parametrize("mounting", MOUNTINGS)


def at(mounting: str, irradiance_w_m2: float, temp_air_c: float, wind_speed_m_s: float) -> float:
    values = (np.array([value]) for value in (irradiance_w_m2, temp_air_c, wind_speed_m_s))
    names = ("irradiance_w_m2", "temp_air_c", "wind_speed_m_s")
    return float(cell_temperature(mounting=mounting, **dict(zip(names, values, strict=True)))[0])


@EVERY_MOUNTING
def test_published_equations_and_coefficients(mounting: str) -> None:
    assert at(mounting, 800.0, 30.0, 2.0) == pytest.approx(BY_HAND_C[mounting], rel=1e-12)
    assert at(mounting, 0.0, -7.0, 3.0) == -7.0


@EVERY_MOUNTING
@given(irradiance=numbers(1.0, 1200.0), air=numbers(-30.0, 45.0), wind=numbers(0.0, 20.0))
def test_irradiance_warms_and_wind_cools(mounting: str, irradiance: float, air: float, wind: float) -> None:
    here = at(mounting, irradiance, air, wind)
    assert here > air
    assert at(mounting, irradiance + 1.0, air, wind) > here
    assert at(mounting, irradiance, air, wind + 1.0) < here
    assert at(mounting, irradiance, air + 5.0, wind) == pytest.approx(here + 5.0, abs=1e-9)


@EVERY_MOUNTING
@pytest.mark.parametrize("values", [(np.nan, 20.0, 1.0), (500.0, np.nan, 1.0), (500.0, 20.0, np.nan)])
def test_a_missing_value_stays_missing(mounting: str, values: tuple[float, float, float]) -> None:
    assert np.isnan(at(mounting, *values))
