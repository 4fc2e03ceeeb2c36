"""Irradiation at a site by month, level and season, and the power of a module there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.builders import A_TEST, FACE, MODULE, UNLIMITED, points, real_year, site_year_of
from wattpair_service.climate.monthly import MonthlyFigures, conditions
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.site_climate import (
    LEVEL_COUNT,
    SEASONS,
    SINGLE_YEAR_SIGMA_SHARE,
    FaceClimate,
    SeasonIrradiation,
    SiteClimateRequest,
    SiteClimateResult,
    face_climate,
    single_year,
    site_climate,
)
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face, plane_of_array
from wattpair_service.engineering.methods import CELL_TEMPERATURE, SINGLE_DIODE, TRANSPOSITIONS
from wattpair_service.engineering.sentences import Cited
from wattpair_service.engineering.site import ClimateUsed
from wattpair_service.words.catalogue import english

EAST = replace(FACE, name="east", azimuth_deg=90.0, tilt_deg=20.0)
NORTH = replace(FACE, name="north", azimuth_deg=0.0, tilt_deg=60.0)
SMALL, LARGE = (replace(UNLIMITED, name=f"{power:g}", ac_power_w=power, ac_peak_power_w=power) for power in (290.0, 380.0))
REQUEST = SiteClimateRequest((FACE, EAST, NORTH), MODULE, (SMALL, LARGE), "perez_1990")
BUILT_IN = ClimateUsed("climate", Cited("x"), 0.0, level_error_share=0.06)


def describe(year: Conditions, request: SiteClimateRequest = REQUEST) -> SiteClimateResult:
    return site_climate(request, site_year_of(year, linke_turbidity_by_month=(3.0,) * 12))


def season(face: FaceClimate, name: str) -> SeasonIrradiation:
    (found,) = (each for each in face.seasons if each.season == name)
    return found


@pytest.fixture(scope="module")
def result() -> SiteClimateResult:
    """The real year on three faces."""
    return describe(real_year())


def test_the_result_has_the_order_names_and_inputs_of_the_request(result: SiteClimateResult) -> None:
    assert [face.face for face in result.faces] == ["roof", "east", "north"]
    for face in result.faces:
        assert [each.season for each in face.seasons] == list(SEASONS)
        for each in face.seasons:
            assert [ratio.microinverter for ratio in each.ratios] == ["290", "380"]
    assert result.climate is A_TEST
    assert (result.design_temperatures.lowest_c, result.design_temperatures.highest_c) == (-18.0, 38.0)
    assert result.linke_turbidity_by_month == (3.0,) * 12
    assert result.nearest_station is None
    assert result.method == (TRANSPOSITIONS["perez_1990"], CELL_TEMPERATURE, SINGLE_DIODE)


@pytest.mark.parametrize(("index", "on"), list(enumerate(REQUEST.faces)), ids=["roof", "east", "north"])
def test_levels_months_and_seasons_add_up(result: SiteClimateResult, index: int, on: Face) -> None:
    face = result.faces[index]
    assert face.energy_share_by_level.sum() == pytest.approx(1.0, rel=1e-12)
    assert face.energy_share_by_level.min() >= 0.0
    assert face.level_lower_edges_w_m2.tolist() == [100.0 * step for step in range(13)]
    year, *seasons = face.seasons
    of_plane = plane_of_array(real_year(), on, transposition="perez_1990").poa_global_w_m2.sum() / 1000.0
    assert face.poa_kwh_m2.value == pytest.approx(of_plane, rel=1e-9)
    assert year.poa_kwh_m2 == pytest.approx(face.poa_kwh_m2.value, rel=1e-12)
    assert face.poa_kwh_m2_by_month.sum() == pytest.approx(year.poa_kwh_m2, rel=1e-12)
    for each in seasons:
        months = [month - 1 for month in SEASONS[each.season]]
        assert each.poa_kwh_m2 == pytest.approx(face.poa_kwh_m2_by_month[months].sum(), rel=1e-12), each.season
    assert sorted(month for each in seasons for month in SEASONS[each.season]) == list(SEASONS["year"]) == list(range(1, 13))


def flat_climate(year: Conditions) -> FaceClimate:
    """On the horizontal, without beam: an isotropic sky is the diffuse irradiance itself."""
    request = replace(REQUEST, transposition="isotropic")
    return face_climate(FaceCache(site_year_of(year), "isotropic"), replace(FACE, tilt_deg=0.0), request)


def test_energy_by_level_by_hand() -> None:
    irradiance = [0.0, 50.0, 99.9, 100.0, 650.0, 1199.0, 1250.0, 1400.0]
    face = flat_climate(points(dhi_w_m2=irradiance, ghi_w_m2=irradiance, weight_h=[1.0] * 8))
    expected = np.zeros(LEVEL_COUNT)
    expected[[0, 1, 6, 11, 12]] = np.array([149.9, 100.0, 650.0, 1199.0, 2650.0]) / sum(irradiance)
    np.testing.assert_allclose(face.energy_share_by_level, expected, rtol=1e-12)


def test_energy_weighted_irradiance_by_hand() -> None:
    irradiance = [1000.0, 500.0, 200.0]
    face = flat_climate(points(dhi_w_m2=irradiance, ghi_w_m2=irradiance, weight_h=[1.0, 4.0, 3.0], month=[7, 7, 1]))
    assert {each.season: each.irradiance_w_m2 for each in face.seasons} == pytest.approx(
        {
            "year": (1e6 + 1e6 + 3 * 4e4) / 3600.0,
            "december_to_february": 200.0,
            "march_to_may": 0.0,
            "june_to_august": (1e6 + 4 * 2.5e5) / (1000.0 + 4 * 500.0),
            "september_to_november": 0.0,
        }
    )


def test_power_at_the_irradiance_of_a_season(result: SiteClimateResult) -> None:
    seasons: dict[str, Any] = {each.season: each for each in result.faces[0].seasons}
    for name, each in seasons.items():
        by_coefficient = 1.0 + MODULE.temp_coefficient_pmp_percent_per_k / 100.0 * (each.temp_cell_c - 25.0)
        expected = MODULE.power_w * each.irradiance_w_m2 / 1000.0 * by_coefficient
        assert each.module_power_w == pytest.approx(expected, rel=0.03), name
    assert seasons["december_to_february"].temp_cell_c + 15.0 < seasons["june_to_august"].temp_cell_c


def test_dc_ac_ratios_go_with_the_ac_power_of_an_input() -> None:
    large = replace(UNLIMITED, name="large", ac_power_w=700.0, ac_peak_power_w=700.0)
    units = (large, *(replace(large, ac_power_w=1160.0, input_count=inputs) for inputs in (1, 4)))
    year = points(dhi_w_m2=[600.0], ghi_w_m2=[600.0])
    face = face_climate(FaceCache(site_year_of(year), REQUEST.transposition), FACE, replace(REQUEST, microinverters=units))
    power_w = season(face, "year").module_power_w
    assert power_w is not None
    found = [each.dc_ac_ratio for each in season(face, "year").ratios]
    assert found == pytest.approx([power_w / 700.0, power_w / 1160.0, power_w / 290.0], rel=1e-12)


def test_without_a_module_only_irradiance_is_described(result: SiteClimateResult) -> None:
    bare = describe(real_year(), replace(REQUEST, module=None, microinverters=()))
    for face, full in zip(bare.faces, result.faces, strict=True):
        for each, complete in zip(face.seasons, full.seasons, strict=True):
            assert each == replace(complete, temp_cell_c=None, module_power_w=None, ratios=())
    assert SINGLE_DIODE not in bare.method


def test_without_faces_the_horizontal_is_described_by_month() -> None:
    bare, year = describe(real_year(), SiteClimateRequest((), None, (), "perez_1990")), real_year()
    assert bare.faces == ()
    assert bare.method == ()
    found = bare.horizontal
    assert found.ghi_kwh_m2.value == pytest.approx(year.ghi_kwh_m2)
    sums, temps = (np.bincount(year.month - 1, weights=values) for values in (year.ghi_w_m2 / 1000.0, year.temp_air_c))
    np.testing.assert_allclose(found.ghi_kwh_m2_by_month, sums, rtol=1e-6)
    np.testing.assert_allclose(found.temp_air_c_by_month, temps / np.bincount(year.month - 1), rtol=1e-6)
    assert found.diffuse_share == pytest.approx(year.dhi_w_m2.sum() / year.ghi_w_m2.sum())


@pytest.mark.parametrize(
    ("climate", "sigma", "covers"),
    [
        (A_TEST, SINGLE_YEAR_SIGMA_SHARE, "is not known"),
        (BUILT_IN, np.hypot(SINGLE_YEAR_SIGMA_SHARE, 0.06), "6% standard error"),
    ],
    ids=["file", "built-in"],
)
def test_the_range_of_a_single_year_grows_with_the_error_of_the_level(climate: ClimateUsed, sigma: float, covers: str) -> None:
    found = single_year(1000.0, climate)
    assert (found.value - found.low, found.high - found.value) == pytest.approx((1281.55 * sigma, 1281.55 * sigma))
    assert found.value == 1000.0
    assert "3.9% standard deviation from year to year (Thevenard and Pelland 2013" in english(found.covers)
    assert covers in english(found.covers)


def test_too_little_irradiance_has_no_power() -> None:
    """A face in full shade; and 75 degrees north, where a trace is all that winter has."""
    (shaded,) = describe(real_year(), replace(REQUEST, faces=(replace(FACE, shading_share=1.0 - 1e-9),))).faces
    ghi = (0.0, 0.0, 50.0, 100.0, 150.0, 160.0, 150.0, 100.0, 50.0, 10.0, 0.0, 1e-9)
    year = conditions(MonthlyFigures(75.0, 20.0, 0.0, ghi, (-5.0,) * 12, (3.0,) * 12, 3.0))
    (polar,) = describe(year, replace(REQUEST, faces=(FACE,))).faces
    winter = season(polar, "december_to_february")
    assert 0.0 < winter.poa_kwh_m2 < 1e-8
    for each in (*shaded.seasons, winter):
        assert each.irradiance_w_m2 > 0.0
        assert (each.temp_cell_c, each.module_power_w, each.ratios) == (None, None, ())
    assert season(polar, "june_to_august").module_power_w is not None


def test_a_year_in_the_dark() -> None:
    result = describe(points(zenith_deg=[120.0] * 12, month=np.arange(1, 13), weight_h=[730.0] * 12))
    assert result.horizontal.ghi_kwh_m2.value == 0.0
    assert result.horizontal.diffuse_share == 1.0
    for face in result.faces:
        assert face.energy_share_by_level.sum() == 0.0
        assert {each.irradiance_w_m2 for each in face.seasons} == {0.0}


def test_a_module_that_no_diode_has_is_named_by_its_fields() -> None:
    wrong = replace(MODULE, temp_coefficient_pmp_percent_per_k=-0.9)
    with pytest.raises(DatasheetError) as error:
        describe(real_year(), replace(REQUEST, module=wrong))
    assert "module/temp_coefficient_pmp_percent_per_k" in error.value.fields
