"""What is cached of the irradiance on a roof, and for which years."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.selection_cases import amsterdam_year
from tests.validation.yields import amsterdam, module_420, roof_face
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy import face_cache
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.roof_dc import roof_dc
from wattpair_service.engineering.equipment import ONE_MODULE
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import (
    Face,
    HorizonPoint,
    PlaneOfArray,
    plane_of_array,
    planes_of_array,
)
from wattpair_service.engineering.module.single_diode import fit

FACE = roof_face(170.0)


def misses() -> int:
    return face_cache.cached_slot.cache_info().misses


def test_a_cached_year_is_computed_once_whatever_the_names_of_faces() -> None:
    year = replace(amsterdam()).as_cached()

    def power_w(face: Face) -> FloatArray:
        return (
            FaceCache(amsterdam_year(year), "perez_1990")
            .subhourly_response(face, fit(module_420()), -0.0034)
            .maximum_power.power_w
        )

    first, before = power_w(FACE), misses()
    np.testing.assert_array_equal(power_w(replace(FACE, name="another", module_count=3)), first)
    assert misses() == before
    assert power_w(replace(FACE, soiling_share=0.1)).sum() < first.sum()


@pytest.mark.parametrize("is_cached", [True, False])
def test_memory_is_freed_with_its_result(is_cached: bool) -> None:
    """Of a cached year the irradiance stays and the DC response goes; of another year all goes with its `FaceCache`."""
    before, year = misses(), replace(amsterdam())
    cache = FaceCache(amsterdam_year(year.as_cached() if is_cached else year), "perez_1990")
    assert cache.plane(FACE) is cache.plane(FACE)
    effective = cache.plane(FACE).effective_irradiance_w_m2
    np.testing.assert_array_equal(effective, plane_of_array(year, FACE, transposition="perez_1990").effective_irradiance_w_m2)
    gone = [weakref.ref(cache.subhourly_response(FACE, fit(module_420()), -0.0034).maximum_power.power_w)]
    if not is_cached:
        assert misses() == before
        gone.append(weakref.ref(effective))
    gc.disable()
    try:
        del cache, effective
        assert [each() for each in gone] == [None] * len(gone)
    finally:
        gc.enable()


@pytest.mark.parametrize("is_cached", [True, False])
def test_only_unknown_faces_are_computed_and_all_together(is_cached: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    computed = []

    def recorded(conditions: Conditions, faces: Sequence[Face], **options: Any) -> tuple[PlaneOfArray, ...]:
        computed.append([face.azimuth_deg for face in faces])
        return planes_of_array(conditions, faces, **options)

    monkeypatch.setattr(face_cache, "planes_of_array", recorded)
    east, south, west = roof_face(90.0), roof_face(180.0), roof_face(270.0)
    year = replace(amsterdam())
    cache = FaceCache(amsterdam_year(year.as_cached() if is_cached else year), "perez_1990")
    first, again = cache.planes((east, south)), cache.planes((west, south, west))
    assert again[0] is again[2]
    assert again[1] is first[1]
    assert computed == [[90.0, 180.0], [270.0]]
    alone = plane_of_array(year, west, transposition="perez_1990")
    np.testing.assert_array_equal(again[0].effective_irradiance_w_m2, alone.effective_irradiance_w_m2)


def test_a_roof_is_its_faces_in_order() -> None:
    parameters, coefficient = fit(module_420()), module_420().temp_coefficient_pmp_percent_per_k / 100.0
    faces = (roof_face(90.0), replace(roof_face(180.0), shading_share=1.0), replace(roof_face(10.0), albedo=0.0))
    year = amsterdam()
    # Some hours have beam alone, so that a face that turns its back to a low sun is dark in them.
    year = replace(year, dhi_w_m2=np.where(year.hour == 12, 0.0, year.dhi_w_m2))
    year = replace(year, ghi_w_m2=np.where(year.hour == 12, 0.0, year.ghi_w_m2))
    roof = roof_dc(FaceCache(amsterdam_year(year), "perez_1990"), faces=faces, module=module_420(), parameters=parameters)
    assert roof.hour_means is not None
    for number, face in enumerate(faces):
        own, cache = roof.face == number, FaceCache(amsterdam_year(year), "perez_1990")
        hourly, inside = cache.response(face, parameters), cache.subhourly_response(face, parameters, coefficient)
        even = own & (roof.hour_means.weight_h > 0.0)
        np.testing.assert_array_equal(roof.hour_means.weight_h[even], hourly.weight_h)
        np.testing.assert_allclose(roof.response.voltage_oc_v[even], hourly.voltage_oc_v, rtol=0.01)
        np.testing.assert_array_equal(roof.response.maximum_power.power_w[own], inside.maximum_power.power_w)
        np.testing.assert_array_equal(roof.response.curve.photocurrent_a[own], inside.curve.photocurrent_a)
        np.testing.assert_array_equal(roof.time.month[roof.moment[own]], inside.month)
        np.testing.assert_array_equal(roof.time.hour[roof.moment[own]], inside.hour)
        np.testing.assert_allclose(roof.time.weight_h[roof.moment[own]], inside.weight_h, rtol=1e-12)
        assert np.unique(roof.moment[own]).size == own.sum()
    lit = [int(((roof.face == number) & (roof.hour_means.weight_h > 0.0)).sum()) for number in range(3)]
    assert lit[0] > lit[2] > lit[1] == 0


def test_a_roof_with_a_horizon_has_the_points_of_that_face_and_of_the_others() -> None:
    parameters, coefficient = fit(module_420()), module_420().temp_coefficient_pmp_percent_per_k / 100.0
    behind = replace(roof_face(180.0), horizon=(HorizonPoint(120.0, 0.0), HorizonPoint(200.0, 30.0)))
    faces, cache = (roof_face(90.0), behind), FaceCache(amsterdam_year(), "perez_1990")
    roof = roof_dc(cache, faces=faces, module=module_420(), parameters=parameters)
    expected = (
        cache.subhourly_response(faces[0], parameters, coefficient),
        cache.shaded_face(behind, module_420(), parameters).units(0, 1, ONE_MODULE, 1).response,
    )
    for number, response in enumerate(expected):
        own = roof.face == number
        np.testing.assert_array_equal(roof.response.maximum_power.power_w[own], response.maximum_power.power_w)
        np.testing.assert_array_equal(roof.response.weight_h[own], response.weight_h)
        np.testing.assert_array_equal(roof.time.month[roof.moment[own]], response.month)
        np.testing.assert_array_equal(roof.time.hour[roof.moment[own]], response.hour)
        hours = np.bincount(roof.moment[own], weights=response.weight_h, minlength=roof.time.weight_h.size)
        lit = hours > 0.0
        np.testing.assert_allclose(hours[lit], roof.time.weight_h[lit], rtol=1e-12)
    by_face = roof.by_face(roof.response.maximum_power.power_w)
    unshaded = cache.subhourly_response(behind, parameters, coefficient)
    free_wh = float(unshaded.maximum_power.power_w @ unshaded.weight_h)
    assert 0.5 * free_wh < by_face[1] < 0.9 * free_wh


def test_a_failure_is_not_cached(monkeypatch: pytest.MonkeyPatch) -> None:
    cache = FaceCache(amsterdam_year(replace(amsterdam()).as_cached()), "perez_1990")
    with monkeypatch.context() as broken:
        broken.setattr(face_cache, "planes_of_array", lambda *_, **__: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            cache.plane(FACE)
    assert cache.plane(FACE).effective_irradiance_w_m2.max() > 500.0


@pytest.mark.parametrize("changes", [{"irradiance_origin": "satellite_60_min"}, {"elevation_m": 900.0}])
def test_another_origin_or_elevation_of_a_cached_year_is_computed_anew(changes: dict[str, Any]) -> None:
    """The variability inside the hour depends on both, so that a result of one must not stand for the other."""
    conditions = replace(amsterdam()).as_cached()

    def points(*, other_first: bool) -> FloatArray:
        year = amsterdam_year(conditions if other_first else replace(amsterdam()).as_cached())
        other = replace(year, **{name: value for name, value in changes.items() if name != "elevation_m"})
        if "elevation_m" in changes:
            other = replace(year, climate=replace(year.climate, elevation_m=changes["elevation_m"]))
        for each in (other, year) if other_first else (year,):
            (found,) = FaceCache(each, "perez_1990").subhourly_points((FACE,), -0.0034)
        return found.irradiance_ratio

    np.testing.assert_array_equal(points(other_first=True), points(other_first=False))
