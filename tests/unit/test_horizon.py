"""What a horizon takes of beam, sky dome and horizon band, and what is left of a year behind it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from tests.builders import FACE, points
from tests.selection_cases import amsterdam_year
from tests.validation.yields import module_420, roof_face
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.equipment import Cells
from wattpair_service.engineering.irradiance.plane_of_array import (
    Face,
    HorizonPoint,
    PlaneOfArray,
    PlaneParts,
    plane_parts,
    sun_over,
)
from wattpair_service.engineering.irradiance.sky import Transposition, sky
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.shade.beam import beam_factors
from wattpair_service.engineering.shade.on_face import face_masks
from wattpair_service.engineering.shade.sky_masks import BAND_DEG
from wattpair_service.engineering.shade.suns import Suns

EVERY_MODEL = pytest.mark.parametrize("model", ["perez_1990", "hay_davies_1980", "isotropic"])
CELLS: Cells = module_420().cells
WALL = (HorizonPoint(0.0, 90.0),)
SKY = points(
    zenith_deg=[20.0, 50.0, 75.0, 50.0],
    azimuth_deg=[180.0, 110.0, 250.0, 0.0],
    ghi_w_m2=[900.0, 500.0, 200.0, 500.0],
    dni_w_m2=[850.0, 600.0, 350.0, 600.0],
    dhi_w_m2=[110.0, 120.0, 90.0, 120.0],
)


def face(tilt_deg: float, azimuth_deg: float, **changes: Any) -> Face:
    """A face that nothing but a horizon may shade."""
    return replace(FACE, tilt_deg=tilt_deg, azimuth_deg=azimuth_deg, **changes)


def parts(on: Face, model: Transposition) -> PlaneParts:
    """Irradiance on the face under `SKY` by its origin."""
    sun = sun_over(SKY, np.arange(4))
    over = sky(sun, ghi_w_m2=SKY.ghi_w_m2, dni_w_m2=SKY.dni_w_m2, dhi_w_m2=SKY.dhi_w_m2, transposition=model)
    return plane_parts((on,), sun, over).of_face(0)


def beam(on: Face, zenith_deg: npt.ArrayLike, azimuth_deg: npt.ArrayLike) -> FloatArray:
    """Share of the beam that arrives from these positions of the sun."""
    zenith, azimuth = (np.atleast_1d(np.asarray(each, dtype=np.float64)) for each in (zenith_deg, azimuth_deg))
    suns = Suns(np.arange(zenith.size), np.ones(zenith.size), azimuth, 1.0 / np.tan(np.radians(zenith)))
    factors = beam_factors(on, face_masks(on, CELLS), suns, np.full(zenith.size, 6), np.full(zenith.size, 12), CELLS)
    np.testing.assert_array_equal(factors.groups, np.broadcast_to(factors.area[..., None], factors.groups.shape))
    return factors.area[:, 0]


def dome_and_band(on: Face) -> tuple[float, float]:
    """Shares of the sky dome's and the horizon band's light that arrive, the same in all months."""
    masks = face_masks(on, CELLS)
    for each in (masks.dome, masks.band):
        np.testing.assert_array_equal(each, np.full(each.shape, each[0, 0]))
    return float(masks.dome[0, 0]), float(masks.band[0, 0])


def behind(on: Face, model: Transposition) -> PlaneOfArray:
    """Irradiance on the face under `SKY` behind its horizon."""
    return parts(on, model).seen(beam(on, SKY.zenith_deg, SKY.azimuth_deg), *dome_and_band(on))


@EVERY_MODEL
def test_a_wall_all_around_leaves_the_ground_alone(model: Transposition) -> None:
    """Beam, circumsolar, dome and band are all gone."""
    walled = face(30.0, 180.0, horizon=WALL)
    np.testing.assert_allclose(behind(walled, model).poa_global_w_m2, parts(walled, model).ground, rtol=1e-12)
    np.testing.assert_array_equal(behind(replace(walled, albedo=0.0), model).effective_irradiance_w_m2, np.zeros(4))


@EVERY_MODEL
def test_a_horizon_at_the_ground_takes_nothing(model: Transposition) -> None:
    flat = face(30.0, 180.0, horizon=(HorizonPoint(0.0, 0.0),))
    assert flat.is_shaded
    np.testing.assert_allclose(behind(flat, model).poa_global_w_m2, parts(flat, model).seen().poa_global_w_m2, rtol=1e-12)


def test_horizon_takes_circumsolar_diffuse_with_the_beam() -> None:
    # A narrow wall before the sun of the third hour, which is all that it takes but for a sliver of the dome.
    wall = tuple(HorizonPoint(*each) for each in ((247.0, 0.0), (247.5, 30.0), (252.5, 30.0), (253.0, 0.0)))
    walled = face(30.0, 180.0, albedo=0.0, horizon=wall)
    model: Transposition = "hay_davies_1980"
    dome, _ = dome_and_band(walled)
    assert 0.97 < dome < 1.0
    rest = SKY.dhi_w_m2 * (1.0 - SKY.dni_w_m2 / SKY.dni_extra_w_m2) * (1.0 + np.cos(np.radians(30.0))) / 2.0
    assert behind(walled, model).poa_global_w_m2[2] == pytest.approx(rest[2] * dome, rel=1e-9)
    free = parts(walled, model).seen()
    assert behind(walled, model).poa_global_w_m2[0] == pytest.approx(free.poa_global_w_m2[0] - rest[0] * (1.0 - dome), rel=1e-9)


def test_horizon_takes_the_beam_only_where_the_sun_is_below_it() -> None:
    # A hill of 20 degrees in the west, joined by straight lines to a free horizon in the south and north.
    hill = (HorizonPoint(0.0, 0.0), HorizonPoint(180.0, 0.0), HorizonPoint(250.0, 20.0), HorizonPoint(340.0, 0.0))
    on = face(30.0, 180.0, horizon=hill)
    np.testing.assert_array_equal(beam(on, SKY.zenith_deg, SKY.azimuth_deg), [1.0, 1.0, 0.0, 1.0])


@pytest.mark.parametrize(
    ("azimuth", "zenith", "blocked"), [(10.0, 70.0, True), (10.0, 60.0, False), (350.0, 40.0, True), (350.0, 30.0, False)]
)
def test_horizon_is_interpolated_across_north(azimuth: float, zenith: float, blocked: bool) -> None:
    # From 80 degrees at 330 down to nothing at 30: 53 degrees at 350 and 27 degrees at 10.
    slope = (HorizonPoint(30.0, 0.0), HorizonPoint(330.0, 80.0))
    assert beam(face(60.0, azimuth, horizon=slope), zenith, azimuth).tolist() == [0.0 if blocked else 1.0]


@pytest.mark.parametrize("height_deg", [0.5, 3.0, 6.0, 15.0, 45.0])
def test_an_even_horizon_leaves_its_part_of_dome_and_band(height_deg: float) -> None:
    """A horizontal face sees cos2 of an even horizon's height of an even dome, a wall its part of a band at the horizon."""
    even = (HorizonPoint(0.0, height_deg),)
    assert dome_and_band(face(0.0, 180.0, horizon=even))[0] == pytest.approx(np.cos(np.radians(height_deg)) ** 2, rel=1e-9)
    band = dome_and_band(face(90.0, 180.0, horizon=even))[1]
    assert band == pytest.approx(max(1.0 - height_deg / BAND_DEG, 0.0), abs=1e-9)


@cache
def energies_wh(horizon: tuple[HorizonPoint, ...]) -> FloatArray:
    """Energy of a module at its maximum power in each month of Amsterdam's year behind a horizon."""
    on = replace(roof_face(180.0), horizon=horizon)
    shaded = FaceCache(amsterdam_year(), "perez_1990").shaded_face(on, module_420(), fit(module_420()))
    of_module: FloatArray = shaded.module_energy_wh()[0]
    return of_module


def test_a_higher_horizon_leaves_less_of_every_month() -> None:
    free, hill, ridge = (energies_wh((HorizonPoint(0.0, height_deg),)) for height_deg in (0.0, 5.0, 25.0))
    assert np.all(free > hill)
    assert np.all(hill > ridge)
    assert (1.0 - ridge / free)[11] > 0.5 > 0.25 > (1.0 - ridge / free)[5], "the low sun of winter goes first"


def test_a_horizon_at_the_ground_leaves_the_year_of_an_unshaded_face() -> None:
    year = FaceCache(amsterdam_year(), "perez_1990")
    coefficient_per_k = module_420().temp_coefficient_pmp_percent_per_k / 100.0
    free = year.subhourly_response(roof_face(180.0), fit(module_420()), coefficient_per_k)
    free_wh = np.bincount(free.month - 1, weights=free.maximum_power.power_w * free.weight_h)
    # A few overcast hours in which the sun rises or sets lose what little is bright around it.
    np.testing.assert_allclose(energies_wh((HorizonPoint(0.0, 0.0),)), free_wh, rtol=1e-4)
