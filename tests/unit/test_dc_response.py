"""What a module on a face could give at each condition."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.builders import FACE, MODULE, points, real_response, real_year, response_at
from wattpair_service.engineering.irradiance.plane_of_array import plane_of_array
from wattpair_service.engineering.module.dc_response import by_month, dc_response
from wattpair_service.engineering.module.single_diode import fit


def test_standard_conditions_give_the_datasheet_back() -> None:
    response = response_at([1000.0])
    assert response.temp_cell_c[0] == pytest.approx(25.0)
    assert response.maximum_power.power_w[0] == pytest.approx(MODULE.power_w, rel=1e-4)
    assert response.voltage_oc_v[0] == pytest.approx(MODULE.voltage_oc_v, rel=1e-6)
    two = response_at([1000.0, 500.0], weight_h=[1.0, 4.0])
    assert two.energy_weighted_irradiance_w_m2 == pytest.approx((1000.0**2 + 4 * 500.0**2) / (1000.0 + 4 * 500.0))


def test_a_real_year_on_a_face() -> None:
    response = real_response()
    hours = by_month(response.month, response.weight_h) + response.dark_hours_by_month
    assert hours == pytest.approx([744, 672, 744, 720, 744, 720, 744, 744, 720, 744, 720, 744])
    assert response.dark_hours_by_month[11] > response.dark_hours_by_month[5]
    lit = plane_of_array(real_year(), FACE, transposition="perez_1990").effective_irradiance_w_m2 > 1e-3
    halfway = (real_year().temp_air_c[lit] + response.temp_cell_c) / 2.0
    np.testing.assert_allclose(response.temp_under_module_c, halfway, rtol=1e-12)


def test_a_dark_year() -> None:
    night = points(zenith_deg=[120.0, 100.0], weight_h=[4380.0, 4380.0], month=[1, 7])
    plane = plane_of_array(night, FACE, transposition="perez_1990")
    response = dc_response(night, plane, face=FACE, parameters=fit(MODULE))
    assert response.maximum_power.power_w.size == 0
    assert response.energy_weighted_irradiance_w_m2 == 0.0
    assert response.dark_hours_by_month.sum() == pytest.approx(8760.0)


def test_a_warmer_mounting_gives_less() -> None:
    cooler, hotter = real_response(replace(FACE, mounting="open_rack")), real_response()
    assert hotter.temp_cell_c.mean() > cooler.temp_cell_c.mean()
    assert hotter.maximum_power.power_w.sum() < cooler.maximum_power.power_w.sum()
