"""Light on a face: closed forms, the horizon, and pvlib's own sum over a real year."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.builders import FACE, numbers, points, real_year
from wattpair_service.engineering.conditions import Conditions, HourlyWeather, from_hourly
from wattpair_service.engineering.plane_of_array import Face, HorizonPoint, plane_of_array, planes_of_array, sun_over
from wattpair_service.engineering.sky import Transposition, sky

MODELS: tuple[Transposition, ...] = ("perez_1990", "hay_davies_1980", "isotropic")
EVERY_MODEL = pytest.mark.parametrize("model", MODELS)
PVLIB_NAMES = {"perez_1990": "perez", "hay_davies_1980": "haydavies", "isotropic": "isotropic"}
SKY = points(
    zenith_deg=[20.0, 50.0, 75.0, 50.0],
    azimuth_deg=[180.0, 110.0, 250.0, 0.0],
    ghi_w_m2=[900.0, 500.0, 200.0, 500.0],
    dni_w_m2=[850.0, 600.0, 350.0, 600.0],
    dhi_w_m2=[110.0, 120.0, 90.0, 120.0],
)


def face(tilt_deg: float, azimuth_deg: float, **changes: Any) -> Face:
    """An unshaded face."""
    return replace(FACE, tilt_deg=tilt_deg, azimuth_deg=azimuth_deg, **changes)


def yearly(conditions: Conditions, on: Face, model: Transposition = "perez_1990") -> float:
    """Light on a face over the year [kWh/m2]."""
    return float(plane_of_array(conditions, on, transposition=model).global_w_m2 @ conditions.weight_h) / 1000.0


def clear_year(latitude_deg: float) -> Conditions:
    """A year without clouds (Haurwitz' clear sky)."""
    hours = pd.date_range("2023-01-01 00:30", periods=8760, freq="h")
    sun = pvlib.solarposition.get_solarposition(hours, latitude_deg, 0.0)
    ghi = pvlib.clearsky.haurwitz(sun["apparent_zenith"])["ghi"].to_numpy()
    mild = np.full(8760, 15.0)
    return from_hourly(HourlyWeather(latitude_deg, 0.0, 0.0, 0.0, hours, ghi, None, None, mild, mild, "clear"))


@EVERY_MODEL
def test_a_horizontal_face_sees_the_global_horizontal_irradiance(model: Transposition) -> None:
    year = real_year()
    high = year.zenith_deg < 85.0
    closed = replace(year, ghi_w_m2=year.dhi_w_m2 + year.dni_w_m2 * np.cos(np.radians(year.zenith_deg)))
    plane = plane_of_array(closed, face(0.0, 180.0), transposition=model)
    np.testing.assert_allclose(plane.global_w_m2[high], closed.ghi_w_m2[high], atol=0.05)


def test_the_isotropic_sky_has_a_closed_form() -> None:
    tilt, azimuth, albedo = np.radians(35.0), np.radians(160.0), 0.3
    zenith, sun = np.radians(SKY.zenith_deg), np.radians(SKY.azimuth_deg)
    cosine = np.cos(zenith) * np.cos(tilt) + np.sin(zenith) * np.sin(tilt) * np.cos(sun - azimuth)
    expected = (
        SKY.dni_w_m2 * np.maximum(cosine, 0.0)
        + SKY.dhi_w_m2 * (1.0 + np.cos(tilt)) / 2.0
        + SKY.ghi_w_m2 * albedo * (1.0 - np.cos(tilt)) / 2.0
    )
    plane = plane_of_array(SKY, face(35.0, 160.0, albedo=albedo), transposition="isotropic")
    np.testing.assert_allclose(plane.global_w_m2, expected, rtol=1e-12)


def test_a_vertical_face_sees_half_the_sky_and_half_the_ground() -> None:
    plane = plane_of_array(SKY, face(90.0, 0.0, albedo=0.2), transposition="isotropic")
    diffuse = SKY.dhi_w_m2 / 2.0 + SKY.ghi_w_m2 * 0.2 / 2.0
    beam = np.array([0.0, 0.0, 0.0, 600.0 * np.sin(np.radians(50.0))])
    beam[1:3] = SKY.dni_w_m2[1:3] * np.maximum(
        np.sin(np.radians(SKY.zenith_deg[1:3])) * np.cos(np.radians(SKY.azimuth_deg[1:3])), 0.0
    )
    np.testing.assert_allclose(plane.global_w_m2, diffuse + beam, rtol=1e-12)


@EVERY_MODEL
@pytest.mark.parametrize(("tilt", "azimuth"), [(15.0, 180.0), (32.0, 95.0), (60.0, 320.0), (90.0, 180.0)])
def test_a_real_year_agrees_with_pvlib(model: Transposition, tilt: float, azimuth: float) -> None:
    year = real_year()
    theirs = pvlib.irradiance.get_total_irradiance(
        tilt, azimuth, year.zenith_deg, year.azimuth_deg, year.dni_w_m2, year.ghi_w_m2, year.dhi_w_m2,
        dni_extra=year.dni_extra_w_m2, airmass=pvlib.atmosphere.get_relative_airmass(year.zenith_deg), albedo=0.2,
        model=PVLIB_NAMES[model],
    )["poa_global"]  # fmt: skip
    ours = plane_of_array(year, face(tilt, azimuth), transposition=model).global_w_m2
    high = (year.zenith_deg < 89.0) & (year.dhi_w_m2 > 0.0)
    np.testing.assert_allclose(ours[high], np.asarray(theirs)[high], atol=0.01)
    assert ours @ year.weight_h == pytest.approx(np.nansum(theirs * year.weight_h), rel=1e-3)


@EVERY_MODEL
@pytest.mark.parametrize(("tilt", "azimuth"), [(0.0, 0.0), (32.0, 95.0), (60.0, 320.0), (90.0, 180.0)])
def test_every_hour_is_pvlibs_to_rounding(model: Transposition, tilt: float, azimuth: float) -> None:
    year = real_year()
    year = year.where((year.dhi_w_m2 > 0.0) & (year.zenith_deg < 90.0))
    airmass = pvlib.atmosphere.get_relative_airmass(np.minimum(year.zenith_deg, 89.0))
    theirs = pvlib.irradiance.get_total_irradiance(
        tilt, azimuth, year.zenith_deg, year.azimuth_deg, year.dni_w_m2, year.ghi_w_m2, year.dhi_w_m2,
        dni_extra=year.dni_extra_w_m2, airmass=airmass, albedo=0.3, model=PVLIB_NAMES[model],
    )  # fmt: skip
    ours = plane_of_array(year, face(tilt, azimuth, albedo=0.3), transposition=model)
    np.testing.assert_allclose(ours.global_w_m2, theirs["poa_global"], rtol=1e-12, atol=1e-10)
    incidence = pvlib.irradiance.aoi(tilt, azimuth, year.zenith_deg, year.azimuth_deg)
    if model == "isotropic":
        factors = pvlib.iam.martin_ruiz_diffuse(tilt)
        behind_glass = theirs["poa_direct"] * pvlib.iam.martin_ruiz(incidence)
        behind_glass += theirs["poa_sky_diffuse"] * factors["sky"] + theirs["poa_ground_diffuse"] * factors["ground"]
        np.testing.assert_allclose(ours.effective_w_m2, behind_glass, rtol=1e-12, atol=1e-10)


def test_the_parts_of_perezs_sky_are_pvlibs() -> None:
    year = real_year()
    year = year.where(year.dhi_w_m2 > 0.0)
    sun = sun_over(year, np.arange(year.hour.size))
    light = sky(sun, ghi_w_m2=year.ghi_w_m2, dni_w_m2=year.dni_w_m2, dhi_w_m2=year.dhi_w_m2, transposition="perez_1990")
    airmass = pvlib.atmosphere.get_relative_airmass(np.minimum(year.zenith_deg, 89.0))
    # Upright towards the sun: the whole band, half the dome. Where nothing is left in all, pvlib tells no parts.
    theirs = pvlib.irradiance.perez(
        90.0, year.azimuth_deg, year.dhi_w_m2, year.dni_w_m2, year.dni_extra_w_m2, year.zenith_deg, year.azimuth_deg, airmass,
        return_components=True,
    )  # fmt: skip
    some = theirs["poa_sky_diffuse"] > 0.0
    assert some.mean() > 0.99
    upright = np.sin(np.radians(year.zenith_deg))
    for ours, part in (
        (light.band, "poa_horizon"),
        (light.dome / 2.0, "poa_isotropic"),
        (light.around_sun * upright, "poa_circumsolar"),
    ):
        np.testing.assert_allclose(ours[some], theirs[part][some], rtol=1e-12, atol=1e-11)


def test_faces_looked_at_together_see_what_each_sees_alone() -> None:
    hill = (HorizonPoint(0.0, 5.0), HorizonPoint(180.0, 30.0))
    roof = (face(0.0, 10.0), face(35.0, 170.0, horizon=hill, soiling_share=0.1), face(90.0, 300.0, albedo=0.5))
    together = planes_of_array(real_year(), roof, transposition="perez_1990")
    for plane, each in zip(together, roof, strict=True):
        alone = plane_of_array(real_year(), each, transposition="perez_1990")
        np.testing.assert_array_equal(plane.global_w_m2, alone.global_w_m2)
        np.testing.assert_array_equal(plane.effective_w_m2, alone.effective_w_m2)


@EVERY_MODEL
def test_south_beats_north_in_the_north_and_the_reverse_in_the_south(model: Transposition) -> None:
    north, south = clear_year(40.0), clear_year(-40.0)
    towards_south, towards_north = face(35.0, 180.0), face(35.0, 0.0)
    assert yearly(north, towards_south, model) > 1.3 * yearly(north, towards_north, model)
    assert yearly(south, towards_north, model) > 1.3 * yearly(south, towards_south, model)


class TestHorizon:
    @EVERY_MODEL
    def test_a_wall_all_around_leaves_no_beam(self, model: Transposition) -> None:
        walled = face(30.0, 180.0, horizon=(HorizonPoint(0.0, 90.0),))
        overcast = replace(SKY, dni_w_m2=np.zeros(4))
        behind = plane_of_array(SKY, walled, transposition=model).global_w_m2
        free = plane_of_array(SKY, face(30.0, 180.0), transposition=model).global_w_m2
        assert np.all(behind <= free)
        if model == "isotropic":
            without_beam = plane_of_array(overcast, walled, transposition=model).global_w_m2
            np.testing.assert_allclose(behind, without_beam, rtol=1e-12)

    def test_a_wall_also_takes_the_bright_sky_around_the_sun(self) -> None:
        walled = face(30.0, 180.0, albedo=0.0, horizon=(HorizonPoint(0.0, 90.0),))
        behind = plane_of_array(SKY, walled, transposition="hay_davies_1980").global_w_m2
        rest = SKY.dhi_w_m2 * (1.0 - SKY.dni_w_m2 / SKY.dni_extra_w_m2) * (1.0 + np.cos(np.radians(30.0))) / 2.0
        np.testing.assert_allclose(behind, rest, rtol=1e-9)

    def test_it_takes_the_beam_only_where_the_sun_is_below_it(self) -> None:
        # A hill of 20 degrees in the west, joined by straight lines to a free horizon in the south and north.
        hill = (HorizonPoint(0.0, 0.0), HorizonPoint(180.0, 0.0), HorizonPoint(250.0, 20.0), HorizonPoint(340.0, 0.0))
        free = plane_of_array(SKY, face(30.0, 180.0), transposition="isotropic").global_w_m2
        behind = plane_of_array(SKY, face(30.0, 180.0, horizon=hill), transposition="isotropic").global_w_m2
        np.testing.assert_array_equal(behind != free, [False, False, True, False])

    @pytest.mark.parametrize(
        ("azimuth", "zenith", "blocked"), [(10.0, 70.0, True), (10.0, 60.0, False), (350.0, 40.0, True), (350.0, 30.0, False)]
    )
    def test_it_is_joined_across_north(self, azimuth: float, zenith: float, blocked: bool) -> None:
        # From 80 degrees at 330 down to nothing at 30: 53 degrees at 350 and 27 degrees at 10.
        slope = (HorizonPoint(30.0, 0.0), HorizonPoint(330.0, 80.0))
        sun = points(zenith_deg=zenith, azimuth_deg=azimuth, dni_w_m2=500.0)
        plane = plane_of_array(sun, face(60.0, azimuth, horizon=slope), transposition="isotropic")
        assert (plane.global_w_m2[0] == 0.0) == blocked


class TestEffective:
    def test_shading_and_soiling_take_their_shares(self) -> None:
        clean = plane_of_array(SKY, FACE, transposition="perez_1990")
        dim = plane_of_array(SKY, replace(FACE, shading_share=0.3, soiling_share=0.1), transposition="perez_1990")
        np.testing.assert_allclose(dim.effective_w_m2, clean.effective_w_m2 * 0.7 * 0.9, rtol=1e-12)
        np.testing.assert_array_equal(dim.global_w_m2, clean.global_w_m2)

    def test_glass_reflects_little_head_on_and_more_at_a_slant(self) -> None:
        beam_only = points(zenith_deg=[0.0, 60.0, 80.0], dni_w_m2=800.0)
        plane = plane_of_array(beam_only, face(0.0, 180.0), transposition="isotropic")
        kept = plane.effective_w_m2 / plane.global_w_m2
        assert kept[0] == pytest.approx(1.0)
        assert 0.94 < kept[1] < 0.99
        assert 0.5 < kept[2] < 0.8

    @given(numbers(0.0, 90.0), numbers(0.0, 360.0), st.sampled_from(MODELS))
    def test_never_negative_never_more_than_falls_on_it(self, tilt: float, azimuth: float, model: Transposition) -> None:
        plane = plane_of_array(real_year(), face(tilt, azimuth), transposition=model)
        assert plane.effective_w_m2.min() >= 0.0
        assert np.all(plane.effective_w_m2 <= plane.global_w_m2 * (1.0 + 1e-12))

    @pytest.mark.parametrize("tilt", [0.0, 1e-9, 1e-6])
    def test_next_to_horizontal_is_like_horizontal(self, tilt: float) -> None:
        flat = plane_of_array(SKY, face(0.0, 180.0), transposition="perez_1990")
        nearly = plane_of_array(SKY, face(tilt, 180.0), transposition="perez_1990")
        np.testing.assert_allclose(nearly.effective_w_m2, flat.effective_w_m2, rtol=1e-6)
