"""What the light at a site is like: by month, by level and by season, and what it makes of a module."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given

from tests.builders import A_TEST, FACE, MODULE, UNLIMITED, numbers, points, real_response, real_year
from wattpair_service.climate import atlas
from wattpair_service.climate.monthly import MonthlyFigures, conditions
from wattpair_service.engineering.conditions import Conditions
from wattpair_service.engineering.electrical_checks import DesignTemperatures
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.findings import ClimateUsed
from wattpair_service.engineering.plane_of_array import Face, plane_of_array
from wattpair_service.engineering.roof_light import RoofLight
from wattpair_service.engineering.site_climate import (
    LEVEL_COUNT,
    SEASONS,
    SINGLE_YEAR_SIGMA_SHARE,
    FaceClimate,
    SeasonLight,
    SiteClimateRequest,
    SiteClimateResult,
    face_climate,
    horizontal_climate,
    single_year,
    site_climate,
)

EAST = replace(FACE, name="east", azimuth_deg=90.0, tilt_deg=20.0)
NORTH = replace(FACE, name="north", azimuth_deg=0.0, tilt_deg=60.0)
SMALL, LARGE = (replace(UNLIMITED, name=f"{power:g}", ac_power_w=power, ac_peak_power_w=power) for power in (290.0, 380.0))
REQUEST = SiteClimateRequest((FACE, EAST, NORTH), MODULE, (SMALL, LARGE), "perez_1990")
TROMSO = (69.65, 18.95)


def describe(year: Conditions, request: SiteClimateRequest = REQUEST) -> SiteClimateResult:
    """The description of a year."""
    design = DesignTemperatures(-18.0, "a test", 38.0, "a test")
    return site_climate(
        request, year, climate=A_TEST, design=design, linke_turbidity_by_month=(3.0,) * 12, nearest_station=None
    )


def season(face: FaceClimate, name: str) -> SeasonLight:
    """One season of a face."""
    (found,) = (each for each in face.seasons if each.season == name)
    return found


def of_atlas(latitude_deg: float, longitude_deg: float, *faces: Face) -> SiteClimateResult:
    """The description of a built-in year."""
    return describe(atlas.conditions(atlas.at(latitude_deg, longitude_deg)), replace(REQUEST, faces=faces))


@pytest.fixture(scope="module")
def result() -> SiteClimateResult:
    """The real year on three faces."""
    return describe(real_year())


def test_order_and_names_are_the_requests(result: SiteClimateResult) -> None:
    assert [face.face for face in result.faces] == ["roof", "east", "north"]
    for face in result.faces:
        assert [each.season for each in face.seasons] == list(SEASONS)
        for each in face.seasons:
            assert [ratio.microinverter for ratio in each.ratios] == ["290", "380"]


def test_what_was_given_stands_in_the_result(result: SiteClimateResult) -> None:
    assert result.climate is A_TEST
    assert (result.design_temperatures.lowest_c, result.design_temperatures.highest_c) == (-18.0, 38.0)
    assert result.linke_turbidity_by_month == (3.0,) * 12
    assert result.nearest_station is None
    assert [method.name for method in result.method] == [
        "sun position", "transposition perez_1990", "cell temperature of the mounting", "six-parameter single diode",
    ]  # fmt: skip


def test_shares_by_level_add_up_to_one(result: SiteClimateResult) -> None:
    for face in result.faces:
        assert face.energy_share_by_level.sum() == pytest.approx(1.0, rel=1e-12)
        assert face.energy_share_by_level.min() >= 0.0
        assert face.level_lower_edges_w_m2.tolist() == [100.0 * step for step in range(13)]
    roof, _, north = result.faces
    # More than half of a south roof's energy comes above 500 W/m2, and hardly any of a steep north roof's.
    assert roof.energy_share_by_level[5:].sum() > 0.5
    assert north.energy_share_by_level[5:].sum() < 0.1


def test_each_level_holds_its_own_light() -> None:
    light = [0.0, 50.0, 99.9, 100.0, 650.0, 1199.0, 1250.0, 1400.0]
    flat = replace(FACE, tilt_deg=0.0)
    # No beam: on the horizontal an isotropic sky is the diffuse light itself.
    year = points(dhi_w_m2=light, ghi_w_m2=light, weight_h=[1.0] * 8)
    face = face_climate(RoofLight(year, "isotropic"), flat, replace(REQUEST, transposition="isotropic"), A_TEST)
    expected = np.zeros(LEVEL_COUNT)
    for level, energy in ((0, 149.9), (1, 100.0), (6, 650.0), (11, 1199.0), (12, 2650.0)):
        expected[level] = energy / sum(light)
    np.testing.assert_allclose(face.energy_share_by_level, expected, rtol=1e-12)


def test_seasons_and_months_sum_to_the_year(result: SiteClimateResult) -> None:
    for face in result.faces:
        year, *seasons = face.seasons
        assert sum(each.in_plane_kwh_m2 for each in seasons) == pytest.approx(year.in_plane_kwh_m2, rel=1e-12)
        assert face.in_plane_kwh_m2_by_month.sum() == pytest.approx(year.in_plane_kwh_m2, rel=1e-12)
        assert face.in_plane_kwh_m2.value == pytest.approx(year.in_plane_kwh_m2, rel=1e-12)
        for each in seasons:
            months = [month - 1 for month in SEASONS[each.season]]
            assert each.in_plane_kwh_m2 == pytest.approx(face.in_plane_kwh_m2_by_month[months].sum(), rel=1e-12)


def test_the_four_seasons_are_the_year() -> None:
    months = [month for name, months in SEASONS.items() if name != "year" for month in months]
    assert sorted(months) == list(SEASONS["year"]) == list(range(1, 13))


def test_in_plane_light_is_the_planes(result: SiteClimateResult) -> None:
    plane = plane_of_array(real_year(), EAST, transposition="perez_1990")
    assert result.faces[1].in_plane_kwh_m2.value == pytest.approx(plane.global_w_m2.sum() / 1000.0, rel=1e-9)


def test_energy_weighted_light_by_hand() -> None:
    flat = replace(FACE, tilt_deg=0.0)
    year = points(dhi_w_m2=[1000.0, 500.0, 200.0], ghi_w_m2=[1000.0, 500.0, 200.0], weight_h=[1.0, 4.0, 3.0], month=[7, 7, 1])
    face = face_climate(RoofLight(year, "isotropic"), flat, replace(REQUEST, transposition="isotropic"), A_TEST)
    assert season(face, "june_to_august").irradiance_w_m2 == pytest.approx((1e6 + 4 * 2.5e5) / (1000.0 + 4 * 500.0))
    assert season(face, "december_to_february").irradiance_w_m2 == pytest.approx(200.0)
    assert season(face, "march_to_may").irradiance_w_m2 == 0.0
    assert season(face, "year").irradiance_w_m2 == pytest.approx((1e6 + 1e6 + 3 * 4e4) / 3600.0)


def test_energy_weighted_light_lies_between_the_mean_and_the_highest(result: SiteClimateResult) -> None:
    for face, roof in zip(result.faces, REQUEST.faces, strict=True):
        light = plane_of_array(real_year(), roof, transposition="perez_1990").global_w_m2
        for each in face.seasons:
            inside = light[np.isin(real_year().month, SEASONS[each.season]) & (light > 0.0)]
            assert inside.mean() < each.irradiance_w_m2 < inside.max()
        year, *seasons = face.seasons
        weighted = sum(each.irradiance_w_m2 * each.in_plane_kwh_m2 for each in seasons) / year.in_plane_kwh_m2
        assert year.irradiance_w_m2 == pytest.approx(weighted, rel=1e-12)


def test_the_light_is_that_of_the_other_results(result: SiteClimateResult) -> None:
    """The sizing's DC/AC ratio stands at the light before shading, dirt and reflection; here it is before them too."""
    light = season(result.faces[0], "year").irradiance_w_m2
    assert light == pytest.approx(real_response().energy_weighted_irradiance_w_m2, rel=0.05)


def test_power_at_a_seasons_light_is_the_modules(result: SiteClimateResult) -> None:
    for each in result.faces[0].seasons:
        assert each.module_power_w is not None
        assert each.temp_cell_c is not None
        by_coefficient = 1.0 + MODULE.temp_coefficient_pmp_percent_per_k / 100.0 * (each.temp_cell_c - 25.0)
        expected = MODULE.power_w * each.irradiance_w_m2 / 1000.0 * by_coefficient
        assert each.module_power_w == pytest.approx(expected, rel=0.03)
    winter, summer = (season(result.faces[0], name) for name in ("december_to_february", "june_to_august"))
    assert winter.temp_cell_c is not None
    assert summer.temp_cell_c is not None
    assert winter.temp_cell_c + 15.0 < summer.temp_cell_c


@given(numbers(50.0, 2000.0), numbers(1.01, 5.0))
def test_ratios_go_with_one_over_the_ac_power(power_w: float, factor: float) -> None:
    year = points(dhi_w_m2=[600.0], ghi_w_m2=[600.0])
    units = tuple(replace(UNLIMITED, name=f"{p}", ac_power_w=p, ac_peak_power_w=p) for p in (power_w, power_w * factor))
    face = face_climate(RoofLight(year, REQUEST.transposition), FACE, replace(REQUEST, microinverters=units), A_TEST)
    one, other = season(face, "year").ratios
    assert one.dc_ac_ratio == pytest.approx(other.dc_ac_ratio * factor, rel=1e-12)
    assert season(face, "year").module_power_w == pytest.approx(one.dc_ac_ratio * power_w, rel=1e-12)


def test_a_unit_of_four_inputs_is_shared() -> None:
    four = replace(SMALL, name="four", ac_power_w=4 * 290.0, ac_peak_power_w=4 * 290.0, input_count=4)
    (face,) = describe(real_year(), replace(REQUEST, faces=(FACE,), microinverters=(SMALL, four))).faces
    one, shared = season(face, "year").ratios
    assert shared.dc_ac_ratio == pytest.approx(one.dc_ac_ratio, rel=1e-12)


def test_without_a_module_only_the_light_is_told() -> None:
    bare = describe(real_year(), replace(REQUEST, module=None, microinverters=()))
    for face, full in zip(bare.faces, describe(real_year()).faces, strict=True):
        for each, complete in zip(face.seasons, full.seasons, strict=True):
            assert each == replace(complete, temp_cell_c=None, module_power_w=None, ratios=())
    assert "six-parameter single diode" not in [method.name for method in bare.method]


def test_without_faces_the_horizontal_is_told() -> None:
    bare = describe(real_year(), SiteClimateRequest((), None, (), "perez_1990"))
    assert bare.faces == ()
    assert bare.horizontal.ghi_kwh_m2.value == pytest.approx(real_year().ghi_kwh_m2)
    assert [method.name for method in bare.method] == ["sun position"]


def test_the_horizontal_by_month() -> None:
    found, year = horizontal_climate(real_year(), A_TEST), real_year()
    for month in range(1, 13):
        inside = year.month == month
        assert found.ghi_kwh_m2_by_month[month - 1] == pytest.approx(year.ghi_w_m2[inside].sum() / 1000.0)
        assert found.temp_air_c_by_month[month - 1] == pytest.approx(year.temp_air_c[inside].mean())
    assert found.diffuse_share == pytest.approx(year.dhi_w_m2.sum() / year.ghi_w_m2.sum())


def test_the_range_of_a_single_year_grows_with_the_levels_own_error() -> None:
    file, built_in = single_year(1000.0, A_TEST), single_year(1000.0, ClimateUsed("climate", "x", 0.0, level_error_share=0.06))
    for found, sigma in ((file, SINGLE_YEAR_SIGMA_SHARE), (built_in, np.hypot(SINGLE_YEAR_SIGMA_SHARE, 0.06))):
        assert found.value == 1000.0
        assert found.value - found.low == pytest.approx(found.high - found.value) == pytest.approx(1281.55 * sigma)
        assert "3.9% standard deviation from year to year (Thevenard and Pelland 2013" in found.covers
    assert "6% standard error" in built_in.covers
    assert "is not known" in file.covers


def test_summer_is_in_december_south_of_the_equator() -> None:
    facing_north, facing_south = replace(FACE, name="north", azimuth_deg=0.0), replace(FACE, name="south")
    for latitude, longitude, bright, dark in (
        (-34.0, 18.6, "december_to_february", "june_to_august"),
        (51.5, -0.5, "june_to_august", "december_to_february"),
    ):
        faces = of_atlas(latitude, longitude, facing_north, facing_south).faces
        to_the_equator, away = faces if latitude < 0.0 else faces[::-1]
        assert to_the_equator.in_plane_kwh_m2.value > 1.2 * away.in_plane_kwh_m2.value
        for face in faces:
            assert season(face, bright).in_plane_kwh_m2 > 1.5 * season(face, dark).in_plane_kwh_m2
            assert season(face, bright).irradiance_w_m2 > season(face, dark).irradiance_w_m2


def test_a_polar_night_is_dark_and_breaks_nothing() -> None:
    (face,) = of_atlas(*TROMSO, FACE).faces
    assert face.in_plane_kwh_m2_by_month[11] < 1e-6
    assert face.in_plane_kwh_m2_by_month[5] > 100.0
    assert face.energy_share_by_level.sum() == pytest.approx(1.0)
    for each in face.seasons:
        assert each.irradiance_w_m2 > 0.0
        assert each.module_power_w is not None


def test_a_season_of_twilight_has_light_but_no_power() -> None:
    """Figures of 75 degrees north whose only winter light is a trace, too little for any cell."""
    ghi = (0.0, 0.0, 50.0, 100.0, 150.0, 160.0, 150.0, 100.0, 50.0, 10.0, 0.0, 1e-9)
    year = conditions(MonthlyFigures(75.0, 20.0, 0.0, ghi, (-5.0,) * 12, (3.0,) * 12, 3.0))
    (face,) = describe(year, replace(REQUEST, faces=(FACE,))).faces
    winter = season(face, "december_to_february")
    assert 0.0 < winter.in_plane_kwh_m2 < 1e-8
    assert (winter.temp_cell_c, winter.module_power_w, winter.ratios) == (None, None, ())
    assert season(face, "june_to_august").module_power_w is not None


def test_a_face_in_full_shade_has_light_but_no_power() -> None:
    (face,) = describe(real_year(), replace(REQUEST, faces=(replace(FACE, shading_share=1.0 - 1e-9),))).faces
    for each in face.seasons:
        assert each.irradiance_w_m2 > 0.0
        assert (each.temp_cell_c, each.module_power_w, each.ratios) == (None, None, ())


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
