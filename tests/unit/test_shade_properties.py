"""What shade must never do: invent energy, or forget an object."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from tests.builders import MODULE, numbers, real_year, site_year_of
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.equipment import Cells, Module
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.shade import classes
from wattpair_service.engineering.shade.scene import Building, Orientation, Placement, RoofObject, Shade, Tree

ROUNDING = 1e-9
TILT_DEG = 30.0


@cache
def few_days() -> Conditions:
    """Every 29th day of the real year, by the hour: 13 days of all seasons."""
    year = real_year()
    assert year.hour_of_year is not None
    few = year.where(year.hour_of_year // 24 % 29 == 3)
    return replace(few, weight_h=few.weight_h * (8760.0 / few.weight_h.sum()))


def placement(orientation: Orientation = "portrait") -> Placement:
    """Three by two modules."""
    width, height = (MODULE.width_m, MODULE.length_m) if orientation == "portrait" else (MODULE.length_m, MODULE.width_m)
    corners = tuple((x * (width + 0.02), y * (height + 0.02)) for y in range(2) for x in range(3))
    return Placement(corners, width, height, orientation)


def face(shade: Shade | None) -> Face:
    return Face("roof", TILT_DEG, 180.0, 6, "close_roof", 0.0, 0.0, 0.2, (), None, shade)


def module(*, half_cut: bool = True) -> Module:
    return replace(MODULE, cells=Cells(3, half_cut=half_cut))


@pytest.fixture(autouse=True, scope="module")
def _every_module_by_itself() -> Iterator[None]:
    """Merged modules share the mean of their views of the sky, which moves up to `DOME_STEP` / 2 of it from one to another."""
    with patch.object(classes, "DOME_STEP", 1e-6):
        yield


def years(shade: Shade, of: Module = MODULE, *, subhourly: bool = False) -> FloatArray:
    """Energy of each module at its maximum power [Wh]."""
    cache = FaceCache(site_year_of(few_days()), "perez_1990")
    shaded = cache.shaded_face(face(shade), of, fit(of), subhourly=subhourly)
    energy_wh: FloatArray = shaded.module_energy_wh().sum(axis=1)
    return energy_wh


def rectangle(x: float, y: float, width: float, height: float) -> tuple[tuple[float, float], ...]:
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


def chimney(x: float = -1.0, y: float = 1.0, *, height_m: float = 1.2, side_m: float = 0.6) -> RoofObject:
    return RoofObject("chimney", rectangle(x, y, side_m, side_m), height_m)


def tree(**changes: float) -> Tree:
    usual = Tree("tree", 2.0, -6.0, -3.0, 9.0, 2.0, 4.0, 0.3, (0.3,) * 12)
    return replace(usual, **changes)  # type: ignore[arg-type]


BELOW = Building("below", 0.0, -30.0, 10.0, 8.0, 90.0, -0.5, -1.0)
"""Its ridge stays below the face's corner, and so below every point's horizon."""


@pytest.mark.parametrize("subhourly", [False, True])
def test_an_object_below_the_horizon_leaves_the_response_as_without_shade(subhourly: bool) -> None:
    cache = FaceCache(site_year_of(few_days()), "perez_1990")
    parameters = fit(MODULE)
    shaded = cache.shaded_face(face(Shade(buildings=(BELOW,), placement=placement())), MODULE, parameters, subhourly=subhourly)
    coefficient = MODULE.temp_coefficient_pmp_percent_per_k / 100.0
    whole = (
        cache.subhourly_response(face(None), parameters, coefficient) if subhourly else cache.response(face(None), parameters)
    )
    expected_wh = whole.maximum_power.power_w @ whole.weight_h
    np.testing.assert_allclose(shaded.module_energy_wh().sum(axis=1), expected_wh, rtol=ROUNDING)
    points = shaded._chains(np.arange(6)[:, None])
    response, index = points.response, points.points.unshaded_point
    for name in ("voltage_oc_v", "irradiance_w_m2", "temp_cell_c", "temp_under_module_c"):
        np.testing.assert_allclose(getattr(response, name), getattr(whole, name)[index], rtol=ROUNDING, err_msg=name)
    for name in ("power_w", "voltage_v", "current_a"):
        found, known = (getattr(each.maximum_power, name) for each in (response, whole))
        # Voltage and current at a flat maximum are known less exactly than the power.
        np.testing.assert_allclose(found, known[index], rtol=ROUNDING if name == "power_w" else 1e-4, err_msg=name)
    assert response.shade is not None
    assert np.abs(response.shade.irradiance_loss_w).max() <= ROUNDING * response.shade.unshaded_w.max()


def test_an_object_below_the_horizon_changes_nothing_beside_others() -> None:
    alone = Shade((chimney(),), trees=(tree(),), placement=placement())
    together = replace(alone, buildings=(BELOW,))
    np.testing.assert_array_equal(years(together), years(alone))


Change = Callable[[float], Shade]
TO_THE_WORSE: dict[str, Change] = {
    "a higher chimney": lambda worse: Shade((chimney(height_m=0.5 + 2.0 * worse),), placement=placement()),
    "a larger chimney": lambda worse: Shade(
        (chimney(-1.0 - worse, 0.5 - worse / 2.0, side_m=0.6 + worse),), placement=placement()
    ),
    "a gabled dormer with a higher ridge": lambda worse: Shade(
        (RoofObject("dormer", rectangle(-2.5, 0.5, 2.0, 2.0), 0.8 + worse, "gabled", 0.0, 0.4),), placement=placement()
    ),
    "a higher parapet": lambda worse: Shade(
        (RoofObject("parapet", rectangle(-1.0, -0.5, 6.0, 0.1), 0.2 + worse),), placement=placement()
    ),
    "a higher house": lambda worse: Shade(
        buildings=(Building("house", 2.0, -9.0, 8.0, 6.0, 80.0, 1.0 + 5.0 * worse, 0.5),), placement=placement()
    ),
    "a longer house": lambda worse: Shade(
        buildings=(Building("house", 2.0, -9.0, 6.0 + 6.0 * worse, 6.0, 80.0, 4.0, 3.0),), placement=placement()
    ),
    "a nearer endless house": lambda worse: Shade(
        buildings=(Building("house", 0.0, -12.0 + 6.0 * worse, 1e4, 6.0, 90.0, 4.0, 4.0),), placement=placement()
    ),
    "a wider crown": lambda worse: Shade(
        trees=(tree(crown_diameter_m=2.0 + 4.0 * worse, trunk_diameter_m=0.0),), placement=placement()
    ),
    "a denser crown": lambda worse: Shade(
        trees=(replace(tree(), transmittance_by_month=(0.9 - 0.9 * worse,) * 12),), placement=placement()
    ),
    "a taller crown": lambda worse: Shade(
        trees=(tree(height_m=6.0 + 6.0 * worse, crown_base_m=2.0, trunk_diameter_m=0.0),), placement=placement()
    ),
    "a thicker trunk": lambda worse: Shade(
        trees=(tree(trunk_diameter_m=0.2 + 0.8 * worse, crown_base_m=5.0, east_m=1.5, north_m=-4.0),), placement=placement()
    ),
}  # fmt: skip


@pytest.mark.parametrize("change", TO_THE_WORSE.values(), ids=TO_THE_WORSE)
@settings(max_examples=settings().max_examples // 4)
@given(pair=st.tuples(numbers(0.0, 1.0), numbers(0.0, 1.0)), half_cut=st.booleans())
def test_a_higher_nearer_or_larger_object_never_yields_more(change: Change, pair: tuple[float, float], half_cut: bool) -> None:
    less, more = sorted(pair)
    before, after = (years(change(each), module(half_cut=half_cut)) for each in (less, more))
    assert (after <= before * (1.0 + ROUNDING)).all(), (after / before - 1.0).max()


@pytest.mark.parametrize("orientation", ["portrait", "landscape"])
@settings(max_examples=settings().max_examples // 2)
@given(x=numbers(-3.0, 5.0), height_m=numbers(0.2, 2.5), north_m=numbers(-20.0, -4.0), half_cut=st.booleans())
def test_two_objects_never_cost_less_than_the_worse_of_them(
    orientation: Orientation, x: float, height_m: float, north_m: float, half_cut: bool
) -> None:
    first = Shade((chimney(x, -1.5, height_m=height_m),), placement=placement(orientation))
    second = Shade(trees=(tree(north_m=north_m),), placement=placement(orientation))
    both = replace(first, trees=second.trees)
    alone = np.minimum(*(years(each, module(half_cut=half_cut)) for each in (first, second)))
    assert (years(both, module(half_cut=half_cut)) <= alone * (1.0 + ROUNDING)).all()


def test_objects_do_cost_something() -> None:
    # Else the tests above would pass with objects that nobody sees.
    whole = years(Shade(buildings=(BELOW,), placement=placement()))
    for name, change in TO_THE_WORSE.items():
        assert (years(change(1.0)) < 0.998 * whole).any(), name
        assert years(change(1.0)).sum() < years(change(0.0)).sum(), name
