"""Selections at their edges: export limits, equal prices, negative values, missing prices, several faces."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from tests.builders import numbers, scaled_module
from tests.selection_cases import AT_HOME, TARIFF, TERMS, load, offer, request, select
from tests.unit.test_selection import money_of, net_present_values, with_home_use
from tests.validation.yields import module_420, roof_face
from wattpair_service.engineering.energy.home_use import HomeUse
from wattpair_service.engineering.energy.lifetime_energy import lifetime_energy
from wattpair_service.engineering.equipment import ThermalDerating
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.selection.break_even import FACTORS, OWN_POWER_INDEX
from wattpair_service.engineering.selection.request import ModuleOffer, UnitOffer
from wattpair_service.engineering.selection.selection import NO_MODULE_PRICE
from wattpair_service.words.catalogue import english


@pytest.mark.parametrize("home_use", [AT_HOME, load(400.0), HomeUse(0.3, None, 2600.0)], ids=["share", "load", "limit"])
@pytest.mark.parametrize("peak_w", [290.0, 340.0])
def test_condensed_points_give_the_gains_of_all_points(home_use: HomeUse, peak_w: float) -> None:
    small = offer(290.0, 100.0, dc_current_max_a=12.0, ac_peak_power_w=peak_w)
    asked = request(small, offer(340.0, 110.0, dc_current_max_a=13.0), azimuths=(90.0, 180.0), home_use=home_use)
    (even,) = select(asked).break_evens
    gains = even.places[0].gains
    for index in (2, 5, 8):
        module = scaled_module(module_420(), float(even.module_power_w[index]) / 420.0)
        of_small, of_large = net_present_values(replace(asked, modules=(ModuleOffer(module, None),)))
        assert gains[index] == pytest.approx(of_large - of_small, abs=0.01 * float(np.ptp(gains))), index


UNITS = st.fixed_dictionaries(
    {"start_power_w": numbers(0.0, 8.0), "dc_start_voltage_v": numbers(5.0, 28.0), "dc_current_max_a": numbers(6.0, 20.0)},
    optional={"derating": st.builds(ThermalDerating, numbers(20.0, 60.0), numbers(0.5, 5.0), numbers(75.0, 90.0))},
)
FACES = st.tuples(numbers(0.0, 359.0), numbers(0.0, 80.0), st.just(0.0) | numbers(0.0, 1.0), st.integers(1, 20))


@settings(max_examples=settings().max_examples // 4)
@given(st.lists(FACES, min_size=1, max_size=3), UNITS, UNITS, numbers(-40.0, 100.0))
def test_break_evens_of_a_roof_and_of_each_face_agree_with_selections_there(
    planes: list[tuple[float, float, float, int]], small: dict[str, Any], large: dict[str, Any], gap: float
) -> None:
    wide = {"dc_short_circuit_current_max_a": 60.0}
    faces = tuple(
        replace(roof_face(azimuth), name=f"face {number}", tilt_deg=tilt, shading_share=shading, module_count=count)
        for number, (azimuth, tilt, shading, count) in enumerate(planes)
    )
    asked = request(offer(250.0, 100.0, **wide, **small), offer(330.0, 100.0 + gap, **wide, **large), faces=faces)
    places = select(asked).break_evens[0].places
    own = faces if len(faces) > 1 else ()
    assert [place.face for place in places] == [None, *(face.name for face in own)]
    for place, of_place in zip(places, [faces, *((face,) for face in own)], strict=True):

        def gain(factor: float, faces: tuple[Face, ...] = of_place) -> float:
            module = ModuleOffer(scaled_module(module_420(), factor), None)
            before, after = net_present_values(replace(asked, modules=(module,), faces=faces))
            return after - before

        modules = sum(face.module_count for face in of_place)
        close = 0.01 * modules * (100.0 + 2.0 * abs(gap))
        lowest, highest = gain(FACTORS[0]), gain(FACTORS[-1])
        np.testing.assert_allclose(place.gains[[0, OWN_POWER_INDEX, -1]], [lowest, gain(1.0), highest], atol=close)
        assert place.gains[OWN_POWER_INDEX] == pytest.approx(gain(1.0), abs=1e-3)
        if place.power.value_w is not None:
            assert abs(gain(place.power.value_w / 420.0)) <= close
        if abs(highest) > close:
            assert (place.power.pays == "never") == (highest <= 0.0)
        if lowest < -close and highest > close:
            assert place.power.pays == "above"


@pytest.mark.parametrize("home_use", [AT_HOME, load(400.0), HomeUse(0.3, None, 1500.0)], ids=["share", "load", "limit"])
def test_what_the_ac_limit_costs_is_what_a_unit_without_it_gives_more(home_use: HomeUse) -> None:
    roof = with_home_use(home_use)
    limited = offer(280.0, None).microinverter
    found, free = (lifetime_energy(roof, each) for each in (limited, replace(limited, ac_power_w=1e4, ac_peak_power_w=1e4)))
    for name in ("home_kwh", "exported_kwh", "cut_kwh"):
        with_what_is_lost = getattr(found.faces, name) + getattr(found.lost_faces, name)
        np.testing.assert_allclose(with_what_is_lost, getattr(free.faces, name), rtol=1e-9, atol=1e-6, err_msg=name)
    assert np.all(found.lost_kwh[:, 0] > 1.0)


@pytest.mark.parametrize("every", [True, False])
def test_of_units_of_the_same_power_the_best_is_compared(every: bool) -> None:
    units = (offer(300.0, 105.0), offer(300.0, 200.0, name="dear"), offer(345.0, 112.0))
    found = select(request(*units, every_pair=every))
    assert [(each.smaller, each.larger) for each in found.break_evens] == [("300 W", "345 W")]


@pytest.mark.parametrize(
    ("units", "home_use", "needless_beside", "says"),
    [
        ((offer(290.0, 100.0), offer(366.0, 130.0)), HomeUse(0.0, None, 2000.0), "290 W", "366 W"),
        ((offer(365.9, 100.0), offer(366.0, 110.0)), HomeUse(0.3, None, 1e7), None, "makes no candidate needless"),
        ((offer(290.0, 130.0), offer(366.0, 100.0)), HomeUse(0.0, None, 2000.0), None, "makes no candidate needless"),
    ],
    ids=["the larger one", "nothing is cut", "the larger one is cheaper"],
)
def test_what_an_export_limit_makes_needless(
    units: tuple[UnitOffer, ...], home_use: HomeUse, needless_beside: str | None, says: str
) -> None:
    found = select(request(*units, home_use=home_use)).export_limit
    assert found is not None
    small, large = found.candidates
    assert (small.needless_beside, large.needless_beside) == (None, needless_beside)
    assert (large.cut_first_year_kwh > small.cut_first_year_kwh > 0.0) == (home_use.export_limit_w == 2000.0)
    assert says in english(found.sentence)


@pytest.mark.parametrize("price", [None, 90.0])
def test_without_a_module_price_there_is_no_cost_per_kwh(price: float | None) -> None:
    modules, terms = (ModuleOffer(module_420(), price),), replace(TERMS, other_cost=900.0)
    asked = request(offer(290.0, 100.0), offer(330.0, 105.0), modules=modules, terms=terms)
    found, missing = select(asked), price is None
    assert (NO_MODULE_PRICE in found.cautions) == missing
    assert ("modules/0/price" in [each.name for each in found.assumptions]) == missing
    assert [each.lifetime_cost_per_kwh is None for each in money_of(asked)] == [missing, missing]


PAID_EXPORT = {"tariff": replace(TARIFF, export_price_per_kwh=-0.05), "home_use": HomeUse(0.0, None, None)}


@pytest.mark.parametrize(
    ("units", "changes", "negative"),
    [
        ((offer(290.0, 5000.0),), {}, True),
        ((offer(290.0, 5000.0), offer(330.0, 6000.0)), {}, True),
        ((offer(290.0, 100.0), offer(366.0, 110.0)), PAID_EXPORT, True),
        ((offer(290.0, 100.0),), {}, False),
    ],
    ids=["alone", "of two", "export costs", "it earns"],
)
def test_the_sentence_tells_of_a_negative_value(units: tuple[UnitOffer, ...], changes: dict[str, Any], negative: bool) -> None:
    found = select(request(*units, **changes)).recommendation
    assert found.microinverter == "290 W"
    assert ("net present value is negative" in english(found.sentence)) == negative


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
    found = select(
        request(
            offer(290.0, 100.0), offer(366.0, 100.0), tariff=replace(TARIFF, import_price_per_kwh=0.0, export_price_per_kwh=0.0)
        )
    )
    assert found.recommendation.microinverter == "366 W"
    price = "a price 5% higher of the recommended unit"
    assert {each.first for each in found.recommendation.scenarios if english(each.name) != price} == {"366 W"}
    assert all(each.then is None for each in found.sensitivities if not each.name.startswith("price of"))


def test_a_price_gap_behind_a_limit_has_the_range_of_what_passes_it() -> None:
    units = (offer(290.0, 100.0), offer(366.0, 110.0))
    shut = select(request(*units, home_use=HomeUse(0.0, None, 2000.0))).break_evens[0].places[0].price_gap
    free = select(request(*units, home_use=HomeUse(0.0, None, None))).break_evens[0].places[0].price_gap
    assert shut.high - shut.low < 0.1 * (free.high - free.low)


def test_what_the_counts_leave_out_is_assumed() -> None:
    found = select(request(offer(600.0, 200.0, input_count=3)))
    assert "failures_of_a_unit_most" in [each.name for each in found.assumptions]
    failures = found.candidates[0].replacements
    assert failures is not None
    assert "counts at most once" in english(failures.covers)
