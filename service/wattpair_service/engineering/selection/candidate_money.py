"""Net present value, lifetime cost and paybacks of all candidates at once; each array has a row for each candidate."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.money.cash_flow import discount_factors, payback_years, rates_of_return
from wattpair_service.engineering.money.replacements import FAILURE_BAND
from wattpair_service.engineering.results import Range
from wattpair_service.engineering.selection.break_even import LIFETIME_UNCERTAINTY_SHARE
from wattpair_service.engineering.selection.evaluation import Evaluated, common_cost
from wattpair_service.engineering.selection.ranking import ROUNDING, Ranking
from wattpair_service.engineering.selection.request import SelectionRequest, unit_cost
from wattpair_service.engineering.selection.system_money import SystemMoney, system_moneys
from wattpair_service.engineering.selection.yearly_flows import YearlyFlows
from wattpair_service.engineering.sentences import sentence

LIFETIME_COVERS = sentence("covers.lifetime", "share")(share=LIFETIME_UNCERTAINTY_SHARE)
VALUE_COVERS = sentence("covers.value", "lifetime")(lifetime=LIFETIME_COVERS)
VALUE_AND_FAILURES_COVERS = sentence("covers.value_and_failures", "lifetime")(lifetime=LIFETIME_COVERS)


@dataclass(frozen=True, slots=True)
class StepUp:
    """Extra cost and energy of a candidate that can be built over the cheapest such one.

    Paybacks are None where the cost is never paid back.
    `rate_of_return` is that of the extra cost; None where there is none or no rate is found.
    """

    extra_cost: float
    extra_energy_kwh: float
    simple_payback_years: float | None
    discounted_payback_years: float | None
    rate_of_return: float | None


@dataclass(frozen=True, slots=True)
class CandidateMoney:
    """Present values of one candidate over the horizon.

    `units_price`, `balance_of_plant` and `connection_cost` are what units, other parts and grid connection cost today; the last
    two are None where not known and then not counted. `energy_value_first_year` is the value of the energy at the meter.
    `lifetime_cost_per_kwh` is None where a price is missing, `step_up` where the system cannot be built.
    """

    units_price: float
    energy_value_first_year: float
    balance_of_plant: float | None
    connection_cost: float | None
    net_present_value: float
    net_present_value_range: Range
    lifetime_cost: float
    lifetime_cost_per_kwh: float | None
    step_up: StepUp | None
    whole_system: SystemMoney


def candidate_moneys(request: SelectionRequest, ranked: Ranking, flows: YearlyFlows) -> list[CandidateMoney]:
    """Money of each candidate that passes; every price must be known."""
    discount = discount_factors(request.terms.discount_rate, request.terms.horizon_years)
    discounted_kwh = (np.array([each.energy.roof.useful_kwh for each in ranked.passing]) * discount).sum(axis=1)
    steps_up = _steps_up(ranked, flows, discount)
    systems = system_moneys(request, ranked, flows)
    first_years = flows.energy[:, 0].tolist()
    rows = zip(ranked.passing, ranked.scores.tolist(), discounted_kwh.tolist(), first_years, steps_up, systems, strict=True)
    return [_money(request, *row) for row in rows]


def _money(
    request: SelectionRequest,
    pairing: Evaluated,
    net_present_value: float,
    discounted_kwh: float,
    energy_value_first_year: float,
    step_up: StepUp | None,
    system: SystemMoney,
) -> CandidateMoney:
    cost = pairing.own_cost + common_cost(request, pairing.module)
    return CandidateMoney(
        units_price=pairing.price_today,
        energy_value_first_year=energy_value_first_year,
        balance_of_plant=pairing.unit.system.balance_of_plant,
        connection_cost=pairing.unit.system.connection_cost,
        net_present_value=net_present_value,
        net_present_value_range=_value_range(request, pairing, net_present_value),
        lifetime_cost=cost,
        lifetime_cost_per_kwh=cost / discounted_kwh if discounted_kwh > 0.0 and not system.missing else None,
        step_up=step_up,
        whole_system=system,
    )


def _steps_up(ranked: Ranking, flows: YearlyFlows, discount: FloatArray) -> list[StepUp | None]:
    """From the cheapest candidate, of several equally cheap ones that with the most energy; None for what cannot be built."""
    useful_kwh, benefits = np.array([each.useful_kwh for each in ranked.passing]), flows.benefits
    cheapest = np.lexsort((-useful_kwh, flows.today, ~ranked.can_win))[0]
    extra_cost = flows.today - flows.today[cheapest]
    extra_benefits = benefits - benefits[cheapest]
    extra_benefits[np.abs(extra_benefits) <= ROUNDING * np.abs(benefits[cheapest])] = 0.0
    dearer = np.flatnonzero(extra_cost > 0.0)
    returns = np.full(extra_cost.size, np.nan)
    returns[dearer] = rates_of_return(np.column_stack([-extra_cost, extra_benefits])[dearer])
    simple, discounted = payback_years(extra_cost, extra_benefits), payback_years(extra_cost, extra_benefits * discount)
    optional = (_none_for_nan(column) for column in (simple, discounted, returns))
    extra_kwh = useful_kwh - useful_kwh[cheapest]
    rows = zip(ranked.passing, extra_cost.tolist(), extra_kwh.tolist(), *optional, strict=True)
    return [StepUp(*row) if pairing.unit.system.obstacle is None else None for pairing, *row in rows]


def _none_for_nan(values: FloatArray) -> list[float | None]:
    return [None if isnan(value) else value for value in values.tolist()]


def _value_range(request: SelectionRequest, pairing: Evaluated, value: float) -> Range:
    half_width = LIFETIME_UNCERTAINTY_SHARE * abs(pairing.value)
    if request.failure_rate(pairing.unit) is not None:
        return Range(value, value - half_width, value + half_width, VALUE_COVERS)
    cost_low, cost_high = (pairing.unit_count * unit_cost(request, pairing.unit, rate).total for rate in FAILURE_BAND)
    low, high = (value + pairing.units_cost - cost for cost in (cost_high, cost_low))
    return Range(value, low - half_width, high + half_width, VALUE_AND_FAILURES_COVERS)
