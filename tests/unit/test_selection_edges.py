"""Selections at their edges: what a limit makes needless, equal prices, negative values, missing prices, many candidates."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.builders import numbers, scaled_module
from tests.selection_cases import AT_HOME, TARIFF, load, offer, request, select
from tests.unit.test_selection import roof_of
from tests.validation.yields import module_420, roof_face
from wattpair_service.engineering.gain_curves import FACTORS
from wattpair_service.engineering.lifetime_energy import HomeUse, lifetime_energies
from wattpair_service.engineering.plane_of_array import Face
from wattpair_service.engineering.roof_years import roof_years
from wattpair_service.engineering.selection_findings import NO_MODULE_PRICE
from wattpair_service.engineering.selection_request import ModuleOffer

WORTHLESS = replace(TARIFF, import_price_per_kwh=0.0, export_price_per_kwh=0.0)
MODULE = (ModuleOffer(module_420(), 90.0),)


@pytest.mark.parametrize("home_use", [AT_HOME, load(400.0), HomeUse(0.3, None, 2600.0)], ids=["share", "load", "limit"])
@pytest.mark.parametrize("peak_w", [290.0, 340.0])
def test_the_curve_from_few_points_is_that_of_all_points(home_use: HomeUse, peak_w: float) -> None:
    small = offer(290.0, 100.0, dc_current_max_a=12.0, ac_peak_power_w=peak_w)
    units = (small, offer(340.0, 110.0, dc_current_max_a=13.0))
    asked = request(*units, azimuths=(90.0, 180.0), home_use=home_use)
    (even,) = select(asked).break_evens
    gains = even.places[0].gains
    for index in (2, 5, 8):
        power_w = float(even.module_power_w[index])
        factor = power_w / 420.0
        module = replace(
            module_420(), power_w=power_w, current_sc_a=module_420().current_sc_a * factor,
            current_mp_a=module_420().current_mp_a * factor,
        )  # fmt: skip
        found = select(replace(asked, modules=(ModuleOffer(module, None),))).candidates
        of_small, of_large = (each.money.net_present_value for each in found if each.money is not None)
        assert gains[index] == pytest.approx(of_large - of_small, abs=0.01 * float(np.ptp(gains)))


@settings(deadline=None, max_examples=10)
@given(
    st.lists(st.tuples(numbers(0.0, 359.0), numbers(0.0, 80.0), numbers(0.0, 1.0), st.integers(1, 20)), min_size=2, max_size=3),
    st.tuples(numbers(8.0, 20.0), numbers(8.0, 20.0)),
    numbers(-20.0, 60.0),
)
def test_a_break_even_is_one_on_each_of_faces_that_have_little_in_common(
    planes: list[tuple[float, float, float, int]], currents_a: tuple[float, float], gap: float
) -> None:
    units = [
        offer(power, price, dc_current_max_a=current, dc_short_circuit_current_max_a=60.0)
        for power, price, current in zip((250.0, 330.0), (100.0, 100.0 + gap), currents_a, strict=True)
    ]
    faces = tuple(
        replace(roof_face(azimuth), name=f"face {number}", tilt_deg=tilt, shading_share=shading, module_count=count)
        for number, (azimuth, tilt, shading, count) in enumerate(planes)
    )
    asked = request(*units, faces=faces)
    places = select(asked).break_evens[0].places
    assert [place.face for place in places] == [None, *(face.name for face in faces)]
    for place, of_place in zip(places, [faces, *((face,) for face in faces)], strict=True):

        def gain(factor: float, faces: tuple[Face, ...] = of_place) -> float:
            module = ModuleOffer(scaled_module(module_420(), factor), None)
            found = select(replace(asked, modules=(module,), faces=faces)).candidates
            before, after = (each.money.net_present_value for each in found if each.money is not None)
            return after - before

        modules = sum(face.module_count for face in of_place)
        np.testing.assert_allclose(place.gains[[0, -1]], [gain(FACTORS[0]), gain(FACTORS[-1])], atol=1e-3)
        if place.power.value_w is not None:
            assert abs(gain(place.power.value_w / 420.0)) <= 1e-3 * modules * (100.0 + 2.0 * abs(gap))
        assert (place.power.pays == "never") == (place.gains[-1] <= 0.0)


@pytest.mark.parametrize("home_use", [AT_HOME, load(400.0), HomeUse(0.3, None, 1500.0)], ids=["share", "load", "limit"])
def test_what_the_ac_limit_costs_is_what_a_unit_without_it_gives_more(home_use: HomeUse) -> None:
    roof = replace(roof_of(), home_use=home_use)
    limited = offer(280.0, None).microinverter
    jobs = [roof.job(each) for each in (limited, replace(limited, ac_power_w=1e4, ac_peak_power_w=1e4))]
    found, free = lifetime_energies(roof, jobs, roof_years(roof.years, jobs))
    for name in ("home_kwh", "exported_kwh", "cut_kwh"):
        with_what_is_lost = getattr(found.faces, name) + getattr(found.lost_faces, name)
        np.testing.assert_allclose(with_what_is_lost, getattr(free.faces, name), rtol=1e-9, atol=1e-6, err_msg=name)
    assert np.all(found.lost_kwh[:, 0] > 1.0)


def test_of_several_of_one_power_the_best_is_a_neighbour() -> None:
    units = (offer(300.0, 105.0), offer(300.0, 200.0, name="dear"), offer(345.0, 112.0))
    for every in (True, False):
        found = select(request(*units, every_pair=every))
        assert [(each.smaller, each.larger) for each in found.break_evens] == [("300 W", "345 W")]


def test_a_limit_that_cuts_nothing_makes_nothing_needless() -> None:
    lossy = offer(366.0, 110.0)
    found = select(request(offer(365.9, 100.0), lossy, home_use=HomeUse(0.3, None, 1e7))).export_limit
    assert found is not None
    assert [each.needless_beside for each in found.candidates] == [None, None]
    assert "no candidate becomes needless" in found.sentence


def test_a_larger_one_that_is_cheaper_is_not_needless() -> None:
    found = select(request(offer(290.0, 130.0), offer(366.0, 100.0), home_use=HomeUse(0.0, None, 2000.0)))
    assert found.export_limit is not None
    assert [each.needless_beside for each in found.export_limit.candidates] == [None, None]


def test_a_missing_module_price_is_said_and_leaves_no_cost_per_kwh() -> None:
    units = (offer(290.0, 100.0), offer(330.0, 105.0))
    without, given = select(request(*units)), select(request(*units, modules=MODULE))
    assert NO_MODULE_PRICE in without.cautions
    assert "modules/0/price" in [each.name for each in without.assumptions]
    assert NO_MODULE_PRICE not in given.cautions
    for found, is_there in ((without, False), (given, True)):
        for each in found.candidates:
            assert each.money is not None
            assert (each.money.lifetime_cost_per_kwh is not None) == is_there


def test_a_best_that_loses_is_said_to() -> None:
    for units in ((offer(290.0, 5000.0),), (offer(290.0, 5000.0), offer(330.0, 6000.0))):
        assert "net present value is negative" in select(request(*units)).recommendation.sentence
    assert "negative" not in select(request(offer(290.0, 100.0))).recommendation.sentence


@pytest.mark.parametrize("home_use", [AT_HOME, HomeUse(0.35, None, 1e7)], ids=["no limit", "a limit out of reach"])
def test_the_night_draw_is_bought(home_use: HomeUse) -> None:
    def used(draw_w: float) -> tuple[float, float]:
        energy = select(request(offer(290.0, 100.0, night_draw_w=draw_w), home_use=home_use)).candidates[0].energy
        assert energy is not None
        return energy.used_at_home_kwh, energy.exported_kwh

    (home, exported), (home_drawn, exported_drawn) = used(0.0), used(0.5)
    assert exported_drawn == pytest.approx(exported, rel=1e-12)
    assert home - home_drawn == pytest.approx(10 * 0.5 * 8.76 / 2, rel=0.15)


def test_equal_scores_are_ranked_alike_everywhere() -> None:
    # The larger delivers more and comes second in the request: its energy alone puts it first.
    found = select(request(offer(290.0, 100.0), offer(366.0, 100.0), tariff=WORTHLESS))
    assert found.recommendation.microinverter == "366 W"
    price = "a price 5% higher of the recommended unit"
    assert {each.first for each in found.recommendation.scenarios if each.name != price} == {"366 W"}
    assert all(each.then is None for each in found.sensitivities if not each.name.startswith("price of"))


def test_a_price_gap_behind_a_limit_has_the_range_of_what_passes_it() -> None:
    units = (offer(290.0, 100.0), offer(366.0, 110.0))
    shut = select(request(*units, home_use=HomeUse(0.0, None, 2000.0))).break_evens[0].places[0].price_gap
    free = select(request(*units, home_use=HomeUse(0.0, None, None))).break_evens[0].places[0].price_gap
    assert shut.high - shut.low < 0.1 * (free.high - free.low)


def test_export_that_costs_is_answered() -> None:
    paid = replace(TARIFF, export_price_per_kwh=-0.05)
    found = select(request(offer(290.0, 100.0), offer(366.0, 110.0), tariff=paid, home_use=HomeUse(0.0, None, None)))
    assert found.recommendation.microinverter == "290 W"
    assert "negative" in found.recommendation.sentence


def test_what_the_counts_leave_out_is_assumed() -> None:
    found = select(request(offer(600.0, 200.0, input_count=3)))
    names = [each.name for each in found.assumptions]
    assert "unfilled_inputs" in names
    assert "failures_of_a_unit_most" in names
    failures = found.candidates[0].replacements
    assert failures is not None
    assert "counted once at most" in failures.covers
    assert "unfilled_inputs" not in [each.name for each in select(request(offer(290.0, 100.0))).assumptions]
