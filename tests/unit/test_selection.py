"""The selection: its properties, and what each part does in a real year."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from tests.builders import numbers, scaled_module
from tests.selection_cases import AT_HOME, TARIFF, TERMS, amsterdam_year, load, offer, request, select, states
from tests.validation.yields import module_420, unit
from wattpair_service.engineering.energy.energy_balance import AGES, EnergyBalance, clipped_share, pairing_year
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.home_use import HomeUse, Household
from wattpair_service.engineering.energy.lifetime_energy import lifetime_energy
from wattpair_service.engineering.energy.roof_dc import roof_dc
from wattpair_service.engineering.equipment import ThermalDerating
from wattpair_service.engineering.inverter.conversion import EUROPEAN_WEIGHTS, from_weighted_efficiency
from wattpair_service.engineering.inverter.electrical_checks import Verdict
from wattpair_service.engineering.irradiance.subhourly import clipped_share_range
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.selection.break_even import FACTORS, LIFETIME_UNCERTAINTY_SHARE, last_break_even
from wattpair_service.engineering.selection.evaluation import Evaluated, evaluated
from wattpair_service.engineering.selection.ranking import ranking
from wattpair_service.engineering.selection.recommendation import recommendation
from wattpair_service.engineering.selection.request import ModuleOffer, RoofTerms, SelectionRequest, unit_cost, worth_of
from wattpair_service.engineering.selection.selection import NO_MONEY, NO_RATE
from wattpair_service.words.catalogue import english

POWERS = (280.0, 300.0, 330.0, 366.0, 400.0)
AZIMUTHS = (90.0, 180.0)


@cache
def roof_of(azimuths: tuple[float, ...] = AZIMUTHS) -> RoofTerms:
    asked = request(offer(300.0, 1.0), azimuths=azimuths)
    cache = FaceCache(amsterdam_year(), asked.transposition)
    dc = roof_dc(cache, faces=asked.faces, module=module_420(), parameters=fit(module_420()))
    return RoofTerms.of(asked, dc)


def with_home_use(home_use: HomeUse) -> RoofTerms:
    """The roof of two faces with another home use."""
    roof = roof_of()
    return replace(roof, household=Household.of(home_use, TARIFF, roof.dc.time))


def money_of(asked: SelectionRequest) -> list[Any]:
    """The money of each candidate."""
    return [each.money for each in select(asked).candidates]


def net_present_values(asked: SelectionRequest) -> list[float]:
    return [each.net_present_value for each in money_of(asked)]


@cache
def five() -> tuple[SelectionRequest, tuple[Evaluated, ...]]:
    """Five candidates, their energies computed once; `priced` sets their prices."""
    asked = request(*(offer(power, 100.0) for power in POWERS), azimuths=AZIMUTHS)
    return asked, tuple(evaluated(asked, roof_of(), states(), worth_of(asked), asked.modules[0], asked.units))


def priced(prices: tuple[float, ...]) -> tuple[SelectionRequest, list[Evaluated]]:
    asked, pairings = five()
    units = tuple(replace(unit, price=price) for unit, price in zip(asked.units, prices, strict=True))
    asked = replace(asked, units=units)
    return asked, [
        replace(pairing, unit=unit, cost=unit_cost(asked, unit)) for pairing, unit in zip(pairings, units, strict=True)
    ]


PRICES = st.tuples(*[numbers(0.0, 400.0)] * len(POWERS))


@given(PRICES, st.integers(0, len(POWERS) - 1), numbers(0.01, 300.0))
def test_a_higher_price_never_improves_a_rank(prices: tuple[float, ...], which: int, rise: float) -> None:
    raised = tuple(price + rise * (index == which) for index, price in enumerate(prices))
    before, after = (ranking(*priced(each)).order.index(which) for each in (prices, raised))
    assert after >= before


@pytest.mark.parametrize("same_price", [False, True])
@given(prices=PRICES)
def test_a_candidate_dominated_on_price_and_energy_is_never_recommended(prices: tuple[float, ...], same_price: bool) -> None:
    asked, passing = priced((prices[0],) * len(POWERS) if same_price else prices)
    found = recommendation(asked, ranking(asked, passing))
    offers: list[tuple[Any, float]] = [(each.unit.price, each.useful_kwh) for each in passing]
    price, energy = next(each for each, pairing in zip(offers, passing, strict=True) if pairing.name == found.microinverter)
    assert not any(p <= price and e >= energy and (p, e) != (price, energy) for p, e in offers)


def test_the_sentence_tells_of_a_caution() -> None:
    asked, passing = priced((100.0,) * len(POWERS))
    ranked = ranking(asked, passing)
    verdicts: list[Verdict] = [("caution" if index == ranked.best else "ok") for index in range(len(passing))]
    assert "with a caution" in english(recommendation(asked, ranked, verdicts).sentence)
    assert "caution" not in english(recommendation(asked, ranked).sentence)


@pytest.mark.parametrize("azimuth", [90.0, 180.0, 240.0])
@pytest.mark.parametrize("gap", [8.0, 25.0])
@pytest.mark.parametrize("home_use", [AT_HOME, load(400.0), HomeUse(0.3, None, 2600.0)], ids=["share", "load", "limit"])
def test_at_the_break_even_power_both_are_worth_the_same(azimuth: float, gap: float, home_use: HomeUse) -> None:
    wide = {"dc_short_circuit_current_max_a": 60.0, "dc_current_max_a": 40.0}
    asked = request(offer(290.0, 100.0, **wide), offer(330.0, 100.0 + gap, **wide), azimuths=(azimuth,), home_use=home_use)
    place = select(asked).break_evens[0].places[0]
    power = place.power
    if power.value_w is None:
        assert np.all(place.gains > 0.0) or np.all(place.gains < 0.0), "without a break-even the curve has one sign"
        assert power.pays == ("always" if place.gains[0] > 0.0 else "never")
        return
    assert power.low_w <= power.value_w <= power.high_w
    below, above = (_gain_at(asked, power.value_w + POWER_TOLERANCE_W * dc) for dc in (-1.0, 1.0))
    assert below < 0.0 < above


POWER_TOLERANCE_W = 4.2
"""A percent of the module's power: what reading a curve over condensed points may be off by."""


def _gain_at(asked: SelectionRequest, power_w: float) -> float:
    """What the larger of two units is worth more with a module of that power, from all points."""
    module = scaled_module(module_420(), power_w / module_420().power_w)
    small, large = net_present_values(replace(asked, modules=(ModuleOffer(module, None),)))
    return large - small


@pytest.mark.parametrize("rounding", [0.0, 1e-14, -1e-14])
@pytest.mark.parametrize("at", range(1, FACTORS.size - 1))
def test_a_break_even_at_one_of_the_curves_own_points_is_found(at: int, rounding: float) -> None:
    rising = 100.0 * (FACTORS - FACTORS[at]) ** 3 + 20.0 * (FACTORS - FACTORS[at])
    rising[at] = rounding
    found = last_break_even(np.column_stack([rising, rising + 1e3, rising - 1e3]))
    np.testing.assert_allclose(found, [FACTORS[at], FACTORS[0], np.nan], atol=1e-9)


def test_break_evens_of_many_curves_are_those_of_each() -> None:
    gains = np.array([-71.1, -67.9, -58.9, 0.1, 132.2, 292.6, 453.4, 603.2, 744.7, 879.9, 1004.4])
    curves = np.stack([np.column_stack([2.0 * gains, gains, gains]) * share for share in (1.0, 1.1, 0.9)], axis=1) - 50.0
    found = last_break_even(curves)
    for index in np.ndindex(3, 3):
        alone = last_break_even(curves[(slice(None), *index)][:, None])[0]
        assert found[index] == pytest.approx(alone, rel=1e-12)
        # Linear between the points, it is off by the curve's bend.
        assert abs(np.interp(found[index], FACTORS, curves[(slice(None), *index)])) < 30.0


def test_at_the_break_even_price_gap_both_are_worth_the_same() -> None:
    found = select(request(offer(290.0, 100.0), offer(366.0, 130.0))).break_evens[0].places[0].price_gap
    small, large = net_present_values(request(offer(290.0, 100.0), offer(366.0, 100.0 + found.value)))
    assert small == pytest.approx(large, abs=1e-6)
    assert found.low < found.value < found.high


@pytest.mark.parametrize(
    ("share", "higher", "lower"), [(1.1, "366 W", "290 W"), (0.9, "366 W", "290 W"), (1.3, "290 W", "290 W")]
)
def test_a_tariff_moves_the_worth_of_energy_and_nothing_else(share: float, higher: str, lower: str) -> None:
    """The larger pays up to a gap in price that goes with the tariff: 20 % more pays a gap up to 1.2 times as wide."""
    gap = select(request(offer(290.0, 100.0), offer(366.0, 130.0))).break_evens[0].places[0].price_gap.value
    found = select(request(offer(290.0, 100.0), offer(366.0, 100.0 + share * gap))).recommendation
    first = {english(each.name): each.first for each in found.scenarios}
    assert (first["a tariff 20% higher"], first["a tariff 20% lower"]) == (higher, lower)


@pytest.mark.parametrize(("failures", "wider"), [(TERMS.failure_share_per_year, False), (None, True)])
def test_ranges_of_lifetime_energy_and_net_present_value(failures: float | None, wider: bool) -> None:
    terms = replace(TERMS, failure_share_per_year=failures)
    candidate: Any = select(request(offer(290.0, 100.0), terms=terms)).candidates[0]
    energy, money = candidate.energy.lifetime_range_kwh, candidate.money.net_present_value_range
    assert energy.value == candidate.energy.lifetime_kwh
    assert energy.high - energy.value == pytest.approx(LIFETIME_UNCERTAINTY_SHARE * energy.value)
    assert money.value == candidate.money.net_present_value
    worth = money.value + candidate.money.lifetime_cost
    assert (money.value - money.low > LIFETIME_UNCERTAINTY_SHARE * worth + 1.0) == wider
    assert money.low < money.value < money.high


HOT = ThermalDerating(start_temp_c=20.0, percent_per_k=4.0, shutdown_temp_c=40.0)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"ac_peak_power_w": 330.0},
        {"dc_current_max_a": 9.0, "dc_operating_voltage_max_v": 36.0},
        {"start_power_w": 0.0, "dc_start_voltage_v": 30.0},
        {"derating": HOT, "start_power_w": 15.0},
    ],
    ids=lambda changes: ", ".join(changes) or "as it is",
)
def test_energy_over_the_years_is_that_of_the_energy_balance(changes: dict[str, Any]) -> None:
    roof, unit = roof_of((180.0,)), offer(300.0, None, night_draw_w=0.1, **changes).microinverter
    mine = lifetime_energy(roof, unit)
    theirs = pairing_year(roof.dc.response, unit, degradation_share_per_year=TERMS.degradation_share_per_year)
    for name in EnergyBalance.__slots__:
        expected = 10.0 * getattr(theirs.year, name)
        assert getattr(mine.balances[0], name) == pytest.approx(expected, rel=1e-9, abs=1e-9), name
    for year, aged in zip(AGES, theirs.ageing, strict=True):
        assert mine.delivered_kwh[0, year - 1] == pytest.approx(10.0 * aged.delivered_kwh, rel=1e-9)


def test_the_range_of_clipping_is_that_of_the_energy_balance() -> None:
    azimuths = (100.0, 200.0)
    asked = request(offer(280.0, 100.0, dc_current_max_a=10.5, ac_peak_power_w=310.0), azimuths=azimuths)
    roof, unit = roof_of(azimuths), asked.units[0]
    (mine,) = evaluated(asked, roof, states(), worth_of(asked), asked.modules[0], asked.units)
    cache = FaceCache(amsterdam_year(), asked.transposition)
    coefficient = module_420().temp_coefficient_pmp_percent_per_k / 100.0
    for index, face in enumerate(asked.faces):
        year = cache.subhourly_response(face, fit(module_420()), coefficient)
        by_means = clipped_share(cache.response(face, fit(module_420())), unit.microinverter)
        share = clipped_share(year, unit.microinverter)
        low, high = clipped_share_range(share=share, hourly_share=by_means, states=states())
        # The even state of an hour is its mean but for the power that the states have together.
        assert mine.clip_low[index] == pytest.approx(low / share, abs=2e-2)
        assert mine.clip_high[index] == pytest.approx(high / share, abs=2e-2)


@settings(max_examples=settings().max_examples // 2)
@given(numbers(0.0, 5000.0), numbers(0.0, 8000.0))
def test_energy_is_used_exported_or_cut(load_w: float, limit_w: float) -> None:
    roof = with_home_use(HomeUse(None, np.full((12, 24), load_w), limit_w))
    roof = replace(roof, remaining=np.array([1.0, 0.9]))
    unit = offer(300.0, None).microinverter
    found = lifetime_energy(roof, unit)
    for split, delivered in ((found.roof, found.delivered_kwh.sum(axis=0)), (found.faces, found.delivered_kwh)):
        np.testing.assert_allclose(split.home_kwh + split.exported_kwh + split.cut_kwh, delivered, rtol=1e-9)
        assert np.all(split.cut_kwh >= -1e-9)
    assert np.all(found.roof.exported_kwh <= limit_w * 8.76 + 1e-6)


@pytest.mark.parametrize(("second_kind_cost", "worthwhile"), [(10.0, True), (1e5, False)])
def test_a_mixed_choice_takes_the_best_of_each_face(second_kind_cost: float, worthwhile: bool) -> None:
    terms, units = replace(TERMS, second_kind_cost=second_kind_cost), (offer(290.0, 100.0), offer(366.0, 107.0))
    (mixed,) = select(request(*units, azimuths=(180.0, 0.0), terms=terms)).mixed_choices
    assert mixed.worthwhile == worthwhile
    if worthwhile:
        assert [choice.microinverter for choice in mixed.choices] == ["366 W", "290 W"]
        assert mixed.saving > 10.0


def test_paybacks_and_costs() -> None:
    terms, modules = replace(TERMS, maintenance_per_year=20.0, other_cost=900.0), (ModuleOffer(module_420(), 90.0),)
    small, large = money_of(request(offer(290.0, 100.0), offer(330.0, 105.0), terms=terms, modules=modules))
    assert (small.step_up.simple_payback_years, small.step_up.rate_of_return) == (0.0, None)
    assert large.step_up.extra_cost == pytest.approx(50.0)
    assert 0.0 < large.step_up.simple_payback_years < large.step_up.discounted_payback_years
    assert large.step_up.rate_of_return > TERMS.discount_rate
    assert large.lifetime_cost > large.units_price + 20.0 * 17.0
    assert large.lifetime_cost_per_kwh is not None


def test_without_a_price_energy_ranks_and_money_is_left_out() -> None:
    found = select(request(offer(290.0, 100.0), offer(366.0, None)))
    assert found.ranked_by == "energy"
    assert all(each.money is None for each in found.candidates)
    assert not found.break_evens
    assert not found.sensitivities
    assert NO_MONEY in found.cautions
    assert "by energy alone" in english(found.recommendation.sentence)
    assert found.recommendation.microinverter == "366 W"
    assert select(request(offer(290.0, 100.0), tariff=None)).ranked_by == "energy"


def test_without_a_failure_rate_there_is_a_band() -> None:
    found = select(request(offer(290.0, 100.0), terms=replace(TERMS, failure_share_per_year=None)))
    failures: Any = found.candidates[0].replacements
    assert (failures.low, failures.high) == (0, 3)
    assert failures.expected == pytest.approx(10 * (1 - 0.999**25))
    assert NO_RATE in found.cautions
    assert found.assumptions


def test_failing_pairings_are_not_ranked_and_say_why() -> None:
    unsafe = offer(290.0, 1.0, dc_voltage_max_v=40.0, dc_operating_voltage_max_v=40.0)
    found = select(request(unsafe, offer(366.0, 130.0)))
    failing, passing = found.candidates
    assert (failing.verdict, failing.rank, failing.energy) == ("fail", None, None)
    assert [check.name for check in failing.reasons if check.verdict == "fail"] == ["open_circuit_voltage_cold"]
    assert passing.rank == 1
    assert found.recommendation.microinverter == "366 W"
    none = select(request(unsafe))
    assert (none.recommendation.standing, none.recommendation.microinverter) == ("none_passes", None)
    (change,) = none.what_would_have_to_change
    assert change.value > change.limit == 40.0
    assert "must be at most 40 V" in english(change.sentence)


def test_several_modules_are_ranked_together() -> None:
    modules = tuple(ModuleOffer(replace(scaled_module(module_420(), k), name=f"{k}"), 100.0 * k) for k in (1.0, 1.2))
    found = select(request(offer(290.0, 100.0), offer(366.0, 110.0), modules=modules, every_pair=True))
    assert {each.rank for each in found.candidates} == {1, 2, 3, 4}
    assert [each.module for each in found.break_evens] == ["1.0", "1.2"]
    assert " on 1.2" in english(found.recommendation.sentence)


@settings(max_examples=settings().max_examples // 2)
@given(st.integers(0, 6), st.integers(1, 6))
def test_identical_microinverters_get_identical_results(before: int, behind: int) -> None:
    others = [offer(270.0 + 7.0 * number, 100.0, name=f"other {number}") for number in range(before + behind)]
    twins = [offer(330.0, 110.0, name=name) for name in ("one", "other")]
    found = select(request(twins[0], *others[:before], twins[1], *others[before:], azimuths=AZIMUTHS))
    pair: list[Any] = [each for each in found.candidates if each.microinverter in ("one", "other")]
    one, other = pair
    assert one.money == other.money is not None
    np.testing.assert_array_equal(one.energy.delivered_kwh_by_year, other.energy.delivered_kwh_by_year)
    assert other.rank == one.rank + 1


def test_units_that_no_limit_tells_apart_are_not_mixed() -> None:
    units = (offer(power, 100.0, conversion=unit(400.0).conversion) for power in (900.0, 950.0, 990.0))
    asked = request(*units, azimuths=AZIMUTHS)
    (mixed,) = select(asked).mixed_choices
    assert len({each.microinverter for each in mixed.choices}) == 1
    assert mixed.saving == 0.0
    assert [each.step_up.simple_payback_years for each in money_of(asked)] == [0.0, 0.0, 0.0]


def test_close_and_decided() -> None:
    even = select(request(offer(290.0, 100.0), offer(366.0, 100.0)))
    gap = even.break_evens[0].places[0].price_gap.value
    at_par = select(request(offer(290.0, 100.0), offer(366.0, 100.0 + gap - 0.001)))
    assert even.recommendation.standing == "decided"
    assert at_par.recommendation.standing in ("close", "depends")
    assert at_par.recommendation.margin == pytest.approx(0.01, abs=0.01)


def test_a_dark_face_and_a_worthless_tariff_are_ranked() -> None:
    worthless = replace(TARIFF, import_price_per_kwh=0.0, export_price_per_kwh=0.0)
    lossy = from_weighted_efficiency(ac_power_w=290.0, efficiency_percent=94.0, weights=EUROPEAN_WEIGHTS)
    units = (offer(290.0, 100.0), offer(290.0, 100.0, name="lossy", conversion=lossy), offer(300.0, 100.0))
    asked = request(*units, azimuths=AZIMUTHS, tariff=worthless)
    found = select(replace(asked, faces=(replace(asked.faces[0], shading_share=0.9999999), asked.faces[1])))
    assert found.candidates[1].rank == 3
    assert found.recommendation.microinverter != "lossy"
