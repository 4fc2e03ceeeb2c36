"""What a candidate is worth: a spreadsheet reckoned by hand, and the energy that is lost up to the meter."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from tests.builders import numbers
from tests.selection_cases import NO_LOSSES, TERMS, amsterdam_year, load, offer, request, select, states
from tests.unit.test_selection import roof_of
from tests.validation.yields import module_420, roof_face
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.home_use import HomeUse, Tariff
from wattpair_service.engineering.energy.lifetime_energy import YearlySplit
from wattpair_service.engineering.energy.roof_dc import roof_dc
from wattpair_service.engineering.energy.system_losses import SystemLosses
from wattpair_service.engineering.equipment import InputWiring
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.inverter.power_steps import power_steps
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.selection.candidate_money import CandidateMoney, candidate_moneys
from wattpair_service.engineering.selection.evaluation import Evaluated, evaluated
from wattpair_service.engineering.selection.ranking import Ranking, ranking
from wattpair_service.engineering.selection.recommendation import WAIT, recommendation
from wattpair_service.engineering.selection.request import (
    NO_SYSTEM,
    ModuleOffer,
    Obstacle,
    RoofTerms,
    SelectionRequest,
    SystemTerms,
    Terms,
    worth_of,
)
from wattpair_service.engineering.selection.selection import PLANT_INCOMPLETE, PROCEDURES_DIFFER
from wattpair_service.engineering.selection.yearly_flows import YearlyFlows
from wattpair_service.engineering.sentences import Cited
from wattpair_service.words.catalogue import english

# The spreadsheet: three years, four modules at 20, two candidates. Discount rate 25 %: factors 0.8, 0.64, 0.512. Tariff 0.30
# at home and 0.10 exported, 10 % more each year: 1, 1.1, 1.21. One unit in ten fails each year: 0.1, 0.09, 0.081 of the units;
# a visit costs 8, and after the warranty of one year the unit again. Maintenance 10 a year, other cost 50 today.
SHEET_TERMS = Terms(0.25, 3, 0.0, 0.1, 8.0, 10.0, 50.0, 0.0)
SHEET_TARIFF = Tariff(0.30, 0.10, 0.1)
HOME = {"single": [400.0, 390.0, 380.0], "twin": [410.0, 400.0, 390.0]}
EXPORTED = {"single": [600.0, 590.0, 580.0], "twin": [650.0, 640.0, 630.0]}
UNITS = {"single": (4, 30.0), "twin": (2, 72.0)}
PLANT = {
    "single": SystemTerms(balance_of_plant=150.0, connection_cost=0.0),
    "twin": SystemTerms(balance_of_plant=60.0, connection_cost=40.0),
}
#             year      1                       2                             3
ENERGY_VALUE = {
    # 0.3 x 400 + 0.1 x 600;  (0.3 x 390 + 0.1 x 590) x 1.1;  (0.3 x 380 + 0.1 x 580) x 1.21
    "single": [180.0, 193.6, 208.12],
    # 0.3 x 410 + 0.1 x 650;  (0.3 x 400 + 0.1 x 640) x 1.1;  (0.3 x 390 + 0.1 x 630) x 1.21
    "twin": [188.0, 202.4, 217.8],
}
REPLACEMENTS = {
    # 4 x 0.1 x 8;            4 x 0.09 x (8 + 30);            4 x 0.081 x (8 + 30)
    "single": [3.2, 13.68, 12.312],
    # 2 x 0.1 x 8;            2 x 0.09 x (8 + 72);            2 x 0.081 x (8 + 72)
    "twin": [1.6, 14.4, 12.96],
}
NET = {
    # 180 - 3.2 - 10;         193.6 - 13.68 - 10;             208.12 - 12.312 - 10
    "single": [166.8, 169.92, 185.808],
    # 188 - 1.6 - 10;         202.4 - 14.4 - 10;              217.8 - 12.96 - 10
    "twin": [176.4, 178.0, 194.84],
}
# 166.8 x 0.8 + 169.92 x 0.64 + 185.808 x 0.512 = 133.44 + 108.7488 + 95.133696
# 176.4 x 0.8 + 178 x 0.64 + 194.84 x 0.512 = 141.12 + 113.92 + 99.75808
DISCOUNTED = {"single": 337.322496, "twin": 354.79808}
# 4 x 30 + 4 x 20 + 50 = 250;  2 x 72 + 4 x 20 + 50 = 274.  With plant and connection: 250 + 150 + 0;  274 + 60 + 40
PRICE = {False: {"single": 250.0, "twin": 274.0}, True: {"single": 400.0, "twin": 374.0}}
# 337.322496 - 250;  354.79808 - 274;  337.322496 - 400;  354.79808 - 374
VALUE = {False: {"single": 87.322496, "twin": 80.79808}, True: {"single": -62.677504, "twin": -19.20192}}
# 1 + (250 - 166.8) / 169.92;  1 + (274 - 176.4) / 178;  2 + (400 - 336.72) / 185.808;  2 + (374 - 354.4) / 194.84
PAYBACK = {
    False: {"single": 1.0 + 83.2 / 169.92, "twin": 1.0 + 97.6 / 178.0},
    True: {"single": 2.0 + 63.28 / 185.808, "twin": 2.0 + 19.6 / 194.84},
}
# 2 + (250 - 242.1888) / 95.133696;  2 + (274 - 255.04) / 99.75808;  with the plant more than 337 and 355: never
DISCOUNTED_PAYBACK: dict[bool, dict[str, float | None]] = {
    False: {"single": 2.0 + 7.8112 / 95.133696, "twin": 2.0 + 18.96 / 99.75808},
    True: {"single": None, "twin": None},
}
# Costs after today: 13.2 x 0.8 + 23.68 x 0.64 + 22.312 x 0.512;  11.6 x 0.8 + 24.4 x 0.64 + 22.96 x 0.512
LATER_COST = {"single": 37.138944, "twin": 36.65152}
# 1000 x 0.8 + 980 x 0.64 + 960 x 0.512;  1060 x 0.8 + 1040 x 0.64 + 1020 x 0.512
DISCOUNTED_KWH = {"single": 1918.72, "twin": 2035.84}


def spreadsheet(*, with_plant: bool) -> tuple[SelectionRequest, Ranking, dict[str, CandidateMoney]]:
    """The money of both candidates, with the energies of the spreadsheet."""
    units = tuple(
        replace(offer(300.0, price, name=name), warranty_years=1, system=PLANT[name] if with_plant else NO_SYSTEM)
        for name, (_, price) in UNITS.items()
    )
    asked = request(
        *units,
        terms=SHEET_TERMS,
        tariff=SHEET_TARIFF,
        modules=(ModuleOffer(module_420(), 20.0),),
        faces=(replace(roof_face(180.0), module_count=4),),
    )
    roof = RoofTerms.of(asked, roof_of((180.0,)).dc)
    real = evaluated(asked, roof, states(), worth_of(asked), asked.modules[0], asked.units)
    passing = [_with_energy(asked, each) for each in real]
    ranked = ranking(asked, passing)
    moneys = candidate_moneys(asked, ranked, YearlyFlows.of(asked, passing))
    return asked, ranked, dict(zip(UNITS, moneys, strict=True))


def _with_energy(asked: SelectionRequest, pairing: Evaluated) -> Evaluated:
    count, _ = UNITS[pairing.name]
    home, exported = np.array(HOME[pairing.name]), np.array(EXPORTED[pairing.name])
    prices = SHEET_TARIFF.import_price_per_kwh, SHEET_TARIFF.export_price_per_kwh
    split = YearlySplit(home, exported, np.zeros(3), home * prices[0], exported * prices[1])
    return replace(
        pairing,
        unit_count=count,
        unit_counts=np.array([float(count)]),
        energy=replace(pairing.energy, roof=split),
        useful_kwh=float(split.useful_kwh.sum()),
        value=float(split.value(worth_of(asked))),
    )


@pytest.mark.parametrize("with_plant", [False, True])
def test_values_paybacks_and_cash_flow_are_those_of_a_spreadsheet(with_plant: bool) -> None:
    _, _, moneys = spreadsheet(with_plant=with_plant)
    for name, money in moneys.items():
        assert money.net_present_value == pytest.approx(VALUE[with_plant][name], rel=1e-12)
        price = PRICE[with_plant][name]
        assert money.lifetime_cost == pytest.approx(price + LATER_COST[name], rel=1e-12)
        assert money.lifetime_cost_per_kwh == pytest.approx((price + LATER_COST[name]) / DISCOUNTED_KWH[name], rel=1e-12)
        system = money.whole_system
        assert system.missing == ()
        assert system.price_today == pytest.approx(price)
        assert system.net_present_value == money.net_present_value
        assert system.simple_payback_years == pytest.approx(PAYBACK[with_plant][name], rel=1e-12)
        expected = DISCOUNTED_PAYBACK[with_plant][name]
        assert system.discounted_payback_years == (None if expected is None else pytest.approx(expected, rel=1e-12))
        today, *years = system.cash_flow
        assert (today.year, today.net, today.balance) == (0, -price, -price)
        assert [each.energy_value for each in years] == pytest.approx(ENERGY_VALUE[name], rel=1e-12)
        assert [each.replacements for each in years] == pytest.approx(REPLACEMENTS[name], rel=1e-12)
        assert [each.maintenance for each in years] == [10.0] * 3
        assert [each.net for each in years] == pytest.approx(NET[name], rel=1e-12)
        assert years[-1].balance == pytest.approx(sum(NET[name]) - price, rel=1e-12)
        assert system.rate_of_return is not None
        worth = sum(net / (1.0 + system.rate_of_return) ** year for year, net in enumerate(NET[name], start=1))
        assert worth == pytest.approx(price, rel=1e-9)


def test_the_balance_of_plant_may_turn_the_order() -> None:
    # 87.322496 - 80.79808;  -19.20192 + 62.677504
    for with_plant, best, margin in ((False, "single", 6.524416), (True, "twin", 43.475584)):
        asked, ranked, _ = spreadsheet(with_plant=with_plant)
        found = recommendation(asked, ranked)
        assert found.microinverter == best
        assert found.margin == pytest.approx(margin)


def test_the_step_from_the_cheapest_counts_the_balance_of_plant() -> None:
    # 274 - 250;  400 - 374: the cheapest is then the other one.
    for with_plant, extra_costs in ((False, [0.0, 24.0]), (True, [26.0, 0.0])):
        _, _, moneys = spreadsheet(with_plant=with_plant)
        steps = [moneys[name].step_up for name in UNITS]
        assert [each and each.extra_cost for each in steps] == pytest.approx(extra_costs)


MISSING: dict[str, tuple[dict[str, Any], SystemTerms, str]] = {
    "module": ({"modules": (ModuleOffer(module_420(), None),)}, SystemTerms(balance_of_plant=500.0), "module"),
    "plant": ({"modules": (ModuleOffer(module_420(), 90.0),)}, NO_SYSTEM, "balance of plant"),
    "parts": (
        {"modules": (ModuleOffer(module_420(), 90.0),)}, SystemTerms(balance_of_plant=5.0, unpriced_roles=("rail",)), "rail",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("changes", "system", "word"), MISSING.values(), ids=MISSING)
def test_a_missing_price_leaves_no_payback(changes: dict[str, Any], system: SystemTerms, word: str) -> None:
    found = select(request(replace(offer(290.0, 100.0), system=system), **changes))
    money: Any = found.candidates[0].money
    assert word in " ".join(map(english, money.whole_system.missing))
    assert (money.whole_system.price_today, money.whole_system.simple_payback_years, money.lifetime_cost_per_kwh) == (
        None,
        None,
        None,
    )
    assert (money.whole_system.net_present_value, money.whole_system.rate_of_return) == (None, None)
    assert money.whole_system.cash_flow == ()
    assert (PLANT_INCOMPLETE in found.cautions) == bool(system.unpriced_roles)


def test_the_balance_of_plant_is_for_all_or_for_none() -> None:
    known = replace(offer(300.0, 100.0), system=SystemTerms(balance_of_plant=500.0))
    with pytest.raises(EngineeringError) as caught:
        select(request(known, offer(330.0, 100.0)))
    assert caught.value.fields == ("candidates/1/system/balance_of_plant",)


PRICES = st.tuples(*[numbers(0.0, 2000.0)] * 3)


@settings(max_examples=settings().max_examples // 2)
@given(PRICES, st.integers(0, 2), numbers(0.01, 500.0))
def test_a_dearer_balance_of_plant_never_improves_value_or_rank(prices: Any, which: int, rise: float) -> None:
    def result(prices: list[float]) -> tuple[float, int]:
        units = (
            replace(offer(power, 100.0), system=SystemTerms(balance_of_plant=price))
            for power, price in zip((290.0, 330.0, 366.0), prices, strict=True)
        )
        found: Any = select(request(*units)).candidates[which]
        return found.money.net_present_value, found.rank

    before = result(list(prices))
    after = result([price + rise * (index == which) for index, price in enumerate(prices)])
    assert after[0] == pytest.approx(before[0] - rise)
    assert after[1] >= before[1]


@pytest.mark.parametrize("azimuths", [(180.0,), (90.0, 200.0)])
def test_break_even_and_mixed_choice_count_the_balance_of_plant(azimuths: tuple[float, ...]) -> None:
    def with_gap(extra: float, gap: float) -> Any:
        small, large = (
            replace(offer(power, price), system=SystemTerms(balance_of_plant=plant))
            for power, price, plant in ((290.0, 100.0, 400.0), (366.0, 100.0 + gap, 400.0 + extra))
        )
        return select(request(small, large, azimuths=azimuths))

    (even,) = with_gap(60.0, 5.0).break_evens
    small, large = (each.money.net_present_value for each in with_gap(60.0, even.places[0].price_gap.value).candidates)
    assert small == pytest.approx(large, abs=1e-6)
    values = [each.money.net_present_value for each in with_gap(60.0, 5.0).candidates]
    assert even.places[0].gains[4] == pytest.approx(values[1] - values[0], abs=1e-6)
    (none,) = with_gap(0.0, 5.0).break_evens
    for place, before in zip(even.places, none.places, strict=True):
        # The two faces have as many modules: each bears half.
        share = 1.0 if place.face is None else 1.0 / len(azimuths)
        np.testing.assert_allclose(before.gains - place.gains, 60.0 * share, rtol=1e-9)


def test_what_cannot_be_built_comes_last_and_says_why() -> None:
    unsuited = SystemTerms(obstacle=Obstacle("unsuited", Cited("its voltage")))
    best, good, poor = replace(offer(366.0, 50.0), system=unsuited), offer(330.0, 120.0), offer(290.0, 140.0)
    found = select(request(best, good, poor))
    assert [each.rank for each in found.candidates] == [3, 1, 2]
    assert "Better, but not to be built: 366 W (its voltage)" in english(found.recommendation.sentence)
    assert {each.first for each in found.recommendation.scenarios} <= {"330 W", "290 W"}
    assert {each.first_then for each in found.sensitivities} <= {"330 W", "290 W", None}
    assert found.candidates[0].system.obstacle == Obstacle("unsuited", Cited("its voltage"))
    only = select(request(best, good)).recommendation
    assert (only.standing, only.microinverter, only.runner_up) == ("decided", "330 W", None)
    assert english(only.sentence).startswith("330 W: the only candidate that passes and can be built.")


@pytest.mark.parametrize("others", [0, 1, 2])
def test_where_none_can_be_built_the_recommendation_begins_with_the_reason(others: int) -> None:
    failing = SystemTerms(obstacle=Obstacle("fails", Cited("busbar")))
    unsuited = SystemTerms(obstacle=Obstacle("unsuited", Cited("its voltage")))
    units = offer(330.0, 120.0), offer(290.0, 140.0), offer(366.0, 50.0)
    offers = [replace(each, system=system) for each, system in zip(units, (failing, failing, unsuited), strict=True)]
    found = select(request(*offers[: others + 1]))
    # Those come first whose obstacle other terms may mend.
    assert [each.rank for each in found.candidates] == [1, 2, 3][: others + 1]
    recommended = found.recommendation
    assert (recommended.standing, recommended.microinverter) == ("none_can_be_built", "330 W")
    words = english(recommended.sentence)
    assert words.startswith("330 W is best, but must not be built as it stands: busbar.")
    assert "only candidate" not in words


def application(cost: float | None) -> SystemTerms:
    return SystemTerms(connection_procedure=Cited("application"), needs_agreement=True, connection_cost=cost)


NOTIFICATION = SystemTerms(connection_procedure=Cited("notification"))


@pytest.mark.parametrize("has_money", [True, False])
def test_an_agreement_of_unknown_cost_is_not_decided_within_a_years_energy(has_money: bool) -> None:
    price = 100.0 if has_money else None
    units = replace(offer(345.0, price), system=application(None)), replace(offer(290.0, price), system=NOTIFICATION)
    found = select(request(*units))
    recommended = found.recommendation
    assert recommended.microinverter == "345 W"
    assert "345 W needs the network operator's agreement first (application), 290 W needs nobody's agreement first" in english(
        recommended.sentence
    )
    assert WAIT in recommended.depends_on
    assert recommended.standing == "depends"
    assert (PROCEDURES_DIFFER in found.cautions) == has_money
    alike = select(request(*(replace(each, system=NOTIFICATION) for each in units))).recommendation
    assert WAIT not in [each.name for each in alike.scenarios]
    assert alike.standing == "decided"
    assert alike.margin == pytest.approx(recommended.margin)


def test_two_agreements_of_unknown_cost_may_cost_different_sums() -> None:
    study = SystemTerms(connection_procedure=Cited("study"), needs_agreement=True)
    found = select(request(replace(offer(345.0, 100.0), system=application(None)), replace(offer(290.0, 100.0), system=study)))
    assert WAIT in found.recommendation.depends_on
    assert found.recommendation.standing == "depends"
    assert PROCEDURES_DIFFER in found.cautions


def test_parts_without_a_price_that_differ_leave_nothing_decided() -> None:
    system = SystemTerms(balance_of_plant=500.0, unpriced_roles=("rail",), differing_roles=("rail",))
    units = [replace(offer(power, price), system=system) for power, price in ((345.0, 100.0), (290.0, 900.0))]
    found = select(request(*units)).recommendation
    assert (found.standing, found.microinverter, found.depends_on) == ("depends", "345 W", ())
    assert "depends: parts without a price differ between the candidates: rail." in english(found.sentence)
    assert "decided" not in english(found.sentence)
    # By energy alone no price matters, and neither does that of a candidate that cannot be built.
    assert select(request(*units, tariff=None)).recommendation.standing == "decided"
    alike = [replace(each, system=replace(system, differing_roles=())) for each in units]
    unbuildable = replace(offer(300.0, 1.0), system=replace(system, obstacle=Obstacle("fails", Cited("busbar"))))
    assert select(request(*alike, unbuildable)).recommendation.standing == "decided"


def test_a_margin_above_a_years_energy_is_decided_whatever_the_procedure() -> None:
    units = replace(offer(345.0, 100.0), system=application(None)), replace(offer(290.0, 400.0), system=NOTIFICATION)
    found = select(request(*units)).recommendation
    assert WAIT in [each.name for each in found.scenarios]
    assert found.standing == "decided"


def test_the_cost_at_which_the_connection_turns_the_order_does_turn_it() -> None:
    def selected(cost: float | None) -> Any:
        return select(
            request(replace(offer(345.0, 100.0), system=application(cost)), replace(offer(290.0, 100.0), system=NOTIFICATION))
        )

    name = "cost of the grid connection procedure of the recommended unit"
    (found,) = (each for each in selected(None).sensitivities if each.name == name)
    assert (found.now, found.first_then) == (0.0, "290 W")
    for share, first in ((0.999, "345 W"), (1.001, "290 W")):
        assert selected(found.then * share).recommendation.microinverter == first
    assert WAIT not in [each.name for each in selected(10.0).recommendation.scenarios]


SHARES = st.tuples(*[st.just(0.0) | numbers(0.0, 0.99)] * 4)


@settings(max_examples=settings().max_examples // 2)
@given(SHARES, st.sampled_from([HomeUse(0.35, None, None), load(400.0), HomeUse(0.3, None, 1500.0)]), numbers(0.0, 2.0))
def test_losses_add_up_from_the_units_to_the_meter(shares: Any, home_use: HomeUse, night_w: float) -> None:
    unit = replace(offer(300.0, 100.0, night_draw_w=night_w), system=NO_SYSTEM)
    asked = request(unit, home_use=home_use, losses=SystemLosses(*shares), terms=replace(TERMS, horizon_years=2))
    lossless, found = (select(each).candidates[0] for each in (replace(asked, losses=NO_LOSSES), asked))
    before, energy = lossless.energy, found.energy
    assert before is not None
    assert energy is not None
    assert energy.first_year == before.first_year
    assert energy.at_meter_kwh + energy.losses.total_kwh == pytest.approx(energy.first_year.delivered_kwh, rel=1e-12)
    split = energy.used_at_home_kwh + energy.exported_kwh + energy.cut_kwh
    assert split == pytest.approx(energy.at_meter_kwh, rel=1e-9)
    assert energy.at_meter_kwh_by_year[0] == pytest.approx(energy.at_meter_kwh, rel=1e-9)
    assert energy.lifetime_kwh == pytest.approx(energy.at_meter_kwh_by_year.sum(), rel=1e-12)
    assert energy.lifetime_kwh <= before.lifetime_kwh + 1e-9
    assert found.money is not None
    assert lossless.money is not None
    assert found.money.net_present_value <= lossless.money.net_present_value + 1e-9


def test_without_losses_nothing_changes_and_each_is_of_what_is_left() -> None:
    asked = request(offer(300.0, 100.0))
    lossy = replace(asked, losses=SystemLosses(0.1, 0.2, 0.5, 0.25))
    found: Any = select(lossy).candidates[0].energy
    # Of 100: 10, then 20 % of 90, then half of 72, then a quarter of 36.
    losses = found.losses
    produced = found.first_year.delivered_kwh + found.first_year.night_draw_kwh
    assert [losses.mismatch_kwh, losses.snow_kwh, losses.downtime_kwh, losses.ac_cable_kwh] == pytest.approx(
        [share * produced for share in (0.10, 0.18, 0.36, 0.09)]
    )
    plain: Any = select(asked).candidates[0].energy
    assert plain.at_meter_kwh == plain.first_year.delivered_kwh


def test_the_cable_loss_of_a_year_is_the_sum_over_its_hours() -> None:
    """At constant voltage a cable takes the share of the rated power times power over rated power, in each hour."""
    face, unit, rated_share = roof_face(200.0), offer(300.0, 100.0), 0.02
    asked = request(
        replace(unit, system=SystemTerms(rated_cable_share=rated_share)), azimuths=(200.0,),
        losses=SystemLosses(None, 0.0, 0.0, None),
    )  # fmt: skip
    dc = roof_dc(
        FaceCache(amsterdam_year(), asked.transposition), faces=(face,), module=module_420(), parameters=fit(module_420())
    )
    power_w = power_steps(dc.response, unit.microinverter).delivered_w
    lost_w = rated_share * 300.0 * (power_w / 300.0) ** 2
    lost_kwh = face.module_count * float(lost_w @ dc.response.weight_h) / 1000.0
    found: Any = select(asked).candidates[0].energy
    assert found.losses.ac_cable_kwh == pytest.approx(lost_kwh, rel=1e-9)
    assert 0.0 < found.losses.ac_cable_kwh < rated_share * found.first_year.delivered_kwh
    roof = RoofTerms.of(asked, dc)
    assert evaluated(asked, roof, states(), worth_of(asked), asked.modules[0], asked.units)[0].losses.mismatch == 0.0


def test_modules_that_share_an_input_differ() -> None:
    losses = SystemLosses()
    alone, shared = (losses.shares(InputWiring(count), None, 0.5).mismatch for count in (1, 2))
    assert (alone, shared) == (0.0, 0.01)
    assert replace(losses, mismatch_share=0.03).shares(InputWiring(2), None, 0.5).mismatch == 0.03
    assert losses.shares(InputWiring(1), None, 0.5).ac_cable == 0.01
    assert losses.shares(InputWiring(1), 0.02, 0.5).ac_cable == 0.01
    assert replace(losses, ac_cable_share=0.0).shares(InputWiring(1), 0.02, 0.5).ac_cable == 0.0
