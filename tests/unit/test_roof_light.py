"""What is cached of the irradiance on a roof, and for which years."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.selection_cases import spread
from tests.validation.yields import amsterdam, module_420, roof_face
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy import face_cache as roof_light
from wattpair_service.engineering.energy.face_cache import RoofLight
from wattpair_service.engineering.energy.roof_dc import roof_side
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
    return roof_light.kept.cache_info().misses


def test_a_kept_year_is_computed_once_whatever_the_names_of_faces() -> None:
    year = replace(amsterdam()).as_kept()

    def power_w(face: Face) -> FloatArray:
        return RoofLight(year, "perez_1990").swinging(face, spread(), fit(module_420()), -0.0034).maximum_power.power_w

    first, before = power_w(FACE), misses()
    np.testing.assert_array_equal(power_w(replace(FACE, name="another", module_count=3)), first)
    assert misses() == before
    assert power_w(replace(FACE, soiling_share=0.1)).sum() < first.sum()


@pytest.mark.parametrize("kept", [True, False])
def test_memory_is_freed_with_its_result(kept: bool) -> None:
    """Of a kept year the irradiance stays and the DC side goes; of another year all goes with its `RoofLight`."""
    before, year = misses(), replace(amsterdam())
    light = RoofLight(year.as_kept() if kept else year, "perez_1990")
    assert light.plane(FACE) is light.plane(FACE)
    effective = light.plane(FACE).effective_w_m2
    np.testing.assert_array_equal(effective, plane_of_array(year, FACE, transposition="perez_1990").effective_w_m2)
    gone = [weakref.ref(light.swinging(FACE, spread(), fit(module_420()), -0.0034).maximum_power.power_w)]
    if not kept:
        assert misses() == before
        gone.append(weakref.ref(effective))
    gc.disable()
    try:
        del light, effective
        assert [each() for each in gone] == [None] * len(gone)
    finally:
        gc.enable()


@pytest.mark.parametrize("kept", [True, False])
def test_only_unknown_faces_are_computed_and_all_together(kept: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    computed = []

    def recorded(conditions: Conditions, faces: Sequence[Face], **options: Any) -> tuple[PlaneOfArray, ...]:
        computed.append([face.azimuth_deg for face in faces])
        return planes_of_array(conditions, faces, **options)

    monkeypatch.setattr(roof_light, "planes_of_array", recorded)
    east, south, west = roof_face(90.0), roof_face(180.0), roof_face(270.0)
    year = replace(amsterdam())
    light = RoofLight(year.as_kept() if kept else year, "perez_1990")
    first, again = light.planes((east, south)), light.planes((west, south, west))
    assert again[0] is again[2]
    assert again[1] is first[1]
    assert computed == [[90.0, 180.0], [270.0]]
    alone = plane_of_array(year, west, transposition="perez_1990")
    np.testing.assert_array_equal(again[0].effective_w_m2, alone.effective_w_m2)


def test_a_roof_is_its_faces_in_order() -> None:
    parameters, coefficient = fit(module_420()), module_420().temp_coefficient_pmp_percent_per_k / 100.0
    wall = (HorizonPoint(0.0, 60.0),)
    faces = (roof_face(90.0), replace(roof_face(180.0), shading_share=1.0), replace(roof_face(10.0), horizon=wall))
    year = amsterdam()
    # Some hours have beam alone, so that a face behind its horizon is dark in them.
    year = replace(year, dhi_w_m2=np.where(year.hour == 12, 0.0, year.dhi_w_m2))
    year = replace(year, ghi_w_m2=np.where(year.hour == 12, 0.0, year.ghi_w_m2))
    roof = roof_side(RoofLight(year, "perez_1990"), spread(), faces=faces, module=module_420(), parameters=parameters)
    assert roof.hour_means is not None
    for number, face in enumerate(faces):
        own, light = roof.face == number, RoofLight(year, "perez_1990")
        hourly, inside = light.response(face, parameters), light.swinging(face, spread(), parameters, coefficient)
        even = own & (roof.hour_means.weight_h > 0.0)
        np.testing.assert_array_equal(roof.hour_means.weight_h[even], hourly.weight_h)
        np.testing.assert_allclose(roof.response.voltage_oc_v[even], hourly.voltage_oc_v, rtol=0.01)
        np.testing.assert_array_equal(roof.response.maximum_power.power_w[own], inside.maximum_power.power_w)
        np.testing.assert_array_equal(roof.response.curve.photocurrent_a[own], inside.curve.photocurrent_a)
        np.testing.assert_array_equal(roof.time.month[roof.place[own]], inside.month)
        np.testing.assert_array_equal(roof.time.hour[roof.place[own]], inside.hour)
        np.testing.assert_allclose(roof.time.weight_h[roof.place[own]], inside.weight_h, rtol=1e-12)
        assert np.unique(roof.place[own]).size == own.sum()
    lit = [int(((roof.face == number) & (roof.hour_means.weight_h > 0.0)).sum()) for number in range(3)]
    assert lit[0] > lit[2] > lit[1] == 0


def test_a_failure_is_not_cached(monkeypatch: pytest.MonkeyPatch) -> None:
    light = RoofLight(replace(amsterdam()).as_kept(), "perez_1990")
    with monkeypatch.context() as broken:
        broken.setattr(roof_light, "planes_of_array", lambda *_, **__: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            light.plane(FACE)
    assert light.plane(FACE).effective_w_m2.max() > 500.0
