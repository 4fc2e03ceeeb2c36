from __future__ import annotations

from dataclasses import replace
from unittest.mock import Mock

import numpy as np
import pytest

from tests.builders import FACE, MODULE, real_year, site_year_of
from tests.unit.test_bill_of_materials import ORDER
from wattpair_service.engineering.design.request import RequestedFace, counted
from wattpair_service.engineering.energy import face_cache
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.irradiance.plane_of_array import plane_of_array
from wattpair_service.engineering.materials.bill_lines import FaceDetail
from wattpair_service.engineering.module.dc_response import dc_response, dc_responses
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.roof.access import AccessTerms
from wattpair_service.engineering.roof.layout import LayoutRequest
from wattpair_service.engineering.roof.outline import rectangle
from wattpair_service.engineering.roof.rows import Grid
from wattpair_service.rules import access_rules

SHAPE = LayoutRequest(
    rectangle(4.2, 2.4), (), 1.8, 1.1, "portrait", AccessTerms(access_rules("international")), 0.3, 0.02, 0.02
)
SIZE, PARTS = ORDER.module_size, ORDER.choices
ASKED = RequestedFace(FACE, SHAPE, None, FaceDetail())


def test_the_dc_response_of_a_face_is_computed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    year, parameters = replace(real_year()), fit(MODULE)  # a copy: nothing of it is cached
    counting = Mock(wraps=dc_responses)
    monkeypatch.setattr(face_cache, "dc_responses", counting)
    cache = FaceCache(site_year_of(year), "perez_1990")
    first, again = cache.response(FACE, parameters), cache.response(replace(FACE), parameters)
    assert first is again
    assert counting.call_count == 1
    plane = plane_of_array(year, FACE, transposition="perez_1990")
    np.testing.assert_array_equal(cache.plane(FACE).poa_global_w_m2, plane.poa_global_w_m2)
    alone = dc_response(year, plane, face=FACE, parameters=parameters)
    np.testing.assert_array_equal(first.maximum_power.power_w, alone.maximum_power.power_w)


def test_a_laid_out_face_is_counted_and_spaces_its_units() -> None:
    (found,) = counted((ASKED,))
    assert found.layout is not None
    assert found.face.module_count == found.layout.arrangement.module_count == 3
    # Two modules of 1.1 m and their gaps of 20 mm take 2.24 m of trunk: drops every 2.5 m. By length it is what they take.
    assert found.circuit_face(2, SIZE, PARTS).unit_spacing_m == 2.5
    by_length = replace(PARTS, trunk=replace(PARTS.trunk, sold_by_length=True))
    assert found.circuit_face(2, SIZE, by_length).unit_spacing_m == pytest.approx(2 * (1.1 + 0.02))
    arrangement = found.layout.arrangement
    corners = tuple((each.x_m, each.y_m) for each in arrangement.modules)
    grid = Grid(1.1, arrangement.module_height_m, 0.02, 0.02)
    assert found.detail == FaceDetail(((3,),), 4.2 * 2.4, "portrait", grid, corners=corners)
    (spaced,) = counted((replace(ASKED, unit_spacing_m=1.5),))
    assert spaced.circuit_face(2, SIZE, PARTS).unit_spacing_m == 1.5
    counts = RequestedFace(replace(FACE, module_count=9), None, None, FaceDetail(orientation="landscape"))
    (counted_face,) = counted((counts,))
    # On its long side a module takes 1.70 m: drops every 2.1 m in landscape.
    assert counted_face.circuit_face(1, SIZE, PARTS).unit_spacing_m == 2.1
    small = replace(ASKED, layout=replace(SHAPE, outline=rectangle(1.0, 1.0)))
    with pytest.raises(EngineeringError) as caught:
        list(counted((ASKED, small)))
    assert caught.value.fields == ("faces/1/layout/outline",)
