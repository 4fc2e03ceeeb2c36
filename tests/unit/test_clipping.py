"""The year of a roof with several microinverters."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.builders import FACE, MODULE, UNLIMITED, losses, points, real_year, site_year_of
from wattpair_service.engineering.energy.clipping import ClippingRequest, ClippingResult, clipping
from wattpair_service.engineering.equipment import ONE_MODULE
from wattpair_service.engineering.errors import DatasheetError

SMALL = replace(UNLIMITED, name="small", ac_power_w=280.0, ac_peak_power_w=280.0, night_draw_w=0.1)
NORTH = replace(FACE, name="north", azimuth_deg=0.0, module_count=3)
REQUEST = ClippingRequest(MODULE, (UNLIMITED, SMALL), (FACE, NORTH), "perez_1990", ONE_MODULE, 0.005)


@pytest.fixture(scope="module")
def result() -> ClippingResult:
    return clipping(REQUEST, site_year_of(real_year()))


def test_each_microinverter_on_each_face_in_the_requests_order(result: ClippingResult) -> None:
    assert [face.face for face in result.faces] == ["roof", "north"]
    for face in result.faces:
        assert [pairing.microinverter for pairing in face.pairings] == ["unlimited", "small"]
        assert face.irradiation.poa_kwh_m2_by_month.sum() == pytest.approx(face.irradiation.poa_kwh_m2)
        assert face.irradiation.effective_irradiation_kwh_m2 < face.irradiation.poa_kwh_m2
        assert 0.0 < face.irradiation.energy_weighted_irradiance_w_m2 < 1200.0
    large, small = result.totals
    assert (large.microinverter, small.microinverter) == ("unlimited", "small")
    assert large.balance.clipping_kwh == 0.0
    assert 0.01 < small.clipped_share.value < 0.2
    assert small.balance.delivered_kwh < large.balance.delivered_kwh


@pytest.mark.parametrize("index", [0, 1])
def test_a_total_is_the_sum_over_all_modules(result: ClippingResult, index: int) -> None:
    years = [(face.module_count, face.pairings[index].per_module.year) for face in result.faces]
    total = result.totals[index]
    assert total.balance.delivered_kwh == pytest.approx(sum(count * year.delivered_kwh for count, year in years))
    for name, lost in losses(total.balance).items():
        assert lost == pytest.approx(sum(count * losses(year)[name] for count, year in years))
    assert total.specific_yield_kwh_per_kwp == pytest.approx(total.balance.delivered_kwh / (13 * 0.4104))
    for found in (total.delivered_range_kwh, total.clipped_share):
        assert found.low <= found.value <= found.high
        assert found.covers


def test_a_dark_roof_draws_power() -> None:
    night = points(zenith_deg=120.0, weight_h=8760.0)
    (total,) = clipping(replace(REQUEST, microinverters=(SMALL,)), site_year_of(night)).totals
    assert total.delivered_range_kwh.value == pytest.approx(-0.1 * 8.76 * 13)
    assert total.delivered_range_kwh.low < total.delivered_range_kwh.value < total.delivered_range_kwh.high


def test_a_module_that_no_diode_has_is_named_by_its_fields() -> None:
    wrong = replace(MODULE, temp_coefficient_pmp_percent_per_k=-0.9)
    with pytest.raises(DatasheetError) as error:
        clipping(replace(REQUEST, module=wrong), site_year_of(real_year()))
    assert "module/temp_coefficient_pmp_percent_per_k" in error.value.fields
