"""What is kept of a roof's light, and for which years."""

from __future__ import annotations

import gc
import weakref
from dataclasses import replace

import numpy as np

from tests.selection_cases import spread
from tests.validation.yields import amsterdam, module_420, roof_face
from wattpair_service.engineering import roof_light
from wattpair_service.engineering.roof_light import RoofLight
from wattpair_service.engineering.single_diode import fit

FACE = roof_face(170.0)


def misses() -> int:
    return roof_light.kept.cache_info().misses


def test_a_kept_year_is_looked_at_once_whatever_the_faces_are_called() -> None:
    year = replace(amsterdam()).as_kept()
    first = RoofLight(year, "perez_1990").swinging(FACE, spread(), fit(module_420()), -0.0034)
    before = misses()
    again = RoofLight(year, "perez_1990").swinging(
        replace(FACE, name="another", module_count=3), spread(), fit(module_420()), -0.0034
    )
    assert again is first
    assert misses() == before
    other = RoofLight(year, "perez_1990").swinging(replace(FACE, soiling_share=0.1), spread(), fit(module_420()), -0.0034)
    assert other.response.maximum_power.power_w.sum() < first.response.maximum_power.power_w.sum()


def test_it_is_what_a_year_that_is_not_kept_gives() -> None:
    kept, own = (RoofLight(year, "perez_1990") for year in (replace(amsterdam()).as_kept(), replace(amsterdam())))
    for light in (kept, own):
        assert light.plane(FACE) is light.plane(FACE)
    np.testing.assert_array_equal(kept.plane(FACE).effective_w_m2, own.plane(FACE).effective_w_m2)


def test_a_year_of_one_answer_is_let_go_with_it() -> None:
    before = misses()
    light = RoofLight(replace(amsterdam()), "perez_1990")
    gone = weakref.ref(light.plane(FACE).effective_w_m2)
    gc.disable()
    try:
        del light
        assert gone() is None
    finally:
        gc.enable()
    assert misses() == before
