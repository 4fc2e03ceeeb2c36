"""Irradiance on a face: against pvlib in each hour of a real year, shading, soiling and reflection."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pvlib
import pytest
from hypothesis import given, strategies as st

from tests.builders import FACE, numbers, points, real_year
from wattpair_service.engineering.irradiance.plane_of_array import Face, HorizonPoint, plane_of_array, planes_of_array, sun_over
from wattpair_service.engineering.irradiance.sky import Transposition, sky

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


@EVERY_MODEL
def test_a_horizontal_face_sees_the_global_horizontal_irradiance(model: Transposition) -> None:
    year = real_year()
    high = year.zenith_deg < 85.0
    closed = replace(year, ghi_w_m2=year.dhi_w_m2 + year.dni_w_m2 * np.cos(np.radians(year.zenith_deg)))
    plane = plane_of_array(closed, face(0.0, 180.0), transposition=model)
    np.testing.assert_allclose(plane.poa_global_w_m2[high], closed.ghi_w_m2[high], atol=0.05)


@EVERY_MODEL
@pytest.mark.parametrize(
    ("tilt", "azimuth"), [(0.0, 0.0), (1e-6, 180.0), (15.0, 180.0), (32.0, 95.0), (60.0, 320.0), (90.0, 180.0)]
)
def test_every_hour_agrees_with_pvlib_to_rounding(model: Transposition, tilt: float, azimuth: float) -> None:
    year = real_year()
    year = year.where((year.dhi_w_m2 > 0.0) & (year.zenith_deg < 90.0))
    airmass = pvlib.atmosphere.get_relative_airmass(np.minimum(year.zenith_deg, 89.0))
    theirs = pvlib.irradiance.get_total_irradiance(
        tilt, azimuth, year.zenith_deg, year.azimuth_deg, year.dni_w_m2, year.ghi_w_m2, year.dhi_w_m2,
        dni_extra=year.dni_extra_w_m2, airmass=airmass, albedo=0.3, model=PVLIB_NAMES[model],
    )  # fmt: skip
    ours = plane_of_array(year, face(tilt, azimuth, albedo=0.3), transposition=model)
    np.testing.assert_allclose(ours.poa_global_w_m2, theirs["poa_global"], rtol=1e-12, atol=1e-10)
    incidence = pvlib.irradiance.aoi(tilt, azimuth, year.zenith_deg, year.azimuth_deg)
    if model == "isotropic":
        factors = pvlib.iam.martin_ruiz_diffuse(tilt)
        behind_glass = theirs["poa_direct"] * pvlib.iam.martin_ruiz(incidence)
        behind_glass += theirs["poa_sky_diffuse"] * factors["sky"] + theirs["poa_ground_diffuse"] * factors["ground"]
        np.testing.assert_allclose(ours.effective_irradiance_w_m2, behind_glass, rtol=1e-12, atol=1e-10)


def test_parts_of_the_perez_sky_are_pvlibs() -> None:
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


def test_faces_computed_together_are_as_each_alone() -> None:
    hill = (HorizonPoint(0.0, 5.0), HorizonPoint(180.0, 30.0))
    roof = (face(0.0, 10.0), face(35.0, 170.0, horizon=hill, soiling_share=0.1), face(90.0, 300.0, albedo=0.5))
    together = planes_of_array(real_year(), roof, transposition="perez_1990")
    for plane, each in zip(together, roof, strict=True):
        alone = plane_of_array(real_year(), each, transposition="perez_1990")
        np.testing.assert_array_equal(plane.poa_global_w_m2, alone.poa_global_w_m2)
        np.testing.assert_array_equal(plane.effective_irradiance_w_m2, alone.effective_irradiance_w_m2)


def test_a_horizon_leaves_the_plane_as_it_is() -> None:
    """It enters after it, as shares of the parts of the irradiance: see `test_horizon`."""
    free, walled = (face(30.0, 180.0, horizon=each) for each in ((), (HorizonPoint(0.0, 90.0),)))
    for name in ("poa_global_w_m2", "effective_irradiance_w_m2"):
        both = [getattr(plane_of_array(SKY, each, transposition="perez_1990"), name) for each in (free, walled)]
        np.testing.assert_array_equal(both[0], both[1])


def test_shading_and_soiling_take_their_shares() -> None:
    clean = plane_of_array(SKY, FACE, transposition="perez_1990")
    dim = plane_of_array(SKY, replace(FACE, shading_share=0.3, soiling_share=0.1), transposition="perez_1990")
    np.testing.assert_allclose(dim.effective_irradiance_w_m2, clean.effective_irradiance_w_m2 * 0.7 * 0.9, rtol=1e-12)
    np.testing.assert_array_equal(dim.poa_global_w_m2, clean.poa_global_w_m2)


@given(numbers(0.0, 90.0), numbers(0.0, 360.0), st.sampled_from(MODELS))
def test_effective_irradiance_is_between_zero_and_global(tilt: float, azimuth: float, model: Transposition) -> None:
    plane = plane_of_array(real_year(), face(tilt, azimuth), transposition=model)
    assert plane.effective_irradiance_w_m2.min() >= 0.0
    assert np.all(plane.effective_irradiance_w_m2 <= plane.poa_global_w_m2 * (1.0 + 1e-12))
