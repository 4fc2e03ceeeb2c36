"""What is told of the candidates' money, all of them at once: a row for each in every array."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.money.cash_flow import discount_factors, payback_years, rates_of_return
from wattpair_service.engineering.money.replacements import FAILURE_BAND
from wattpair_service.engineering.results import Range
from wattpair_service.engineering.selection.break_even import LEVEL_SHARE
from wattpair_service.engineering.selection.evaluation import Evaluated, common_cost
from wattpair_service.engineering.selection.ranking import ROUNDING, Ranking
from wattpair_service.engineering.selection.request import SelectionRequest, unit_cost
from wattpair_service.engineering.selection.yearly_flows import YearlyFlows

LIFETIME_COVERS = f"{LEVEL_SHARE:.0%} more or less energy: 80 % of lifetimes (Thevenard and Pelland 2013)"
VALUE_COVERS = f"{LIFETIME_COVERS}; prices and tariff are held"
VALUE_AND_FAILURES_COVER = f"{LIFETIME_COVERS}, and failures over their band; prices and tariff are held"


@dataclass(frozen=True, slots=True)
class StepUp:
    """From the cheapest candidate that passes to this one; paybacks are None where the step never pays itself.

    `rate_of_return` is that of the extra cost; None where nothing is spent more or no rate makes it even.
    """

    extra_cost: float
    extra_energy_kwh: float
    simple_payback_years: float | None
    discounted_payback_years: float | None
    rate_of_return: float | None


@dataclass(frozen=True, slots=True)
class CandidateMoney:
    """Money of one candidate over the horizon, worth today but for the price."""

    units_price: float
    net_present_value: float
    net_present_value_range: Range
    lifetime_cost: float
    lifetime_cost_per_kwh: float | None
    step_up: StepUp


def candidate_moneys(request: SelectionRequest, ranked: Ranking, flows: YearlyFlows) -> list[CandidateMoney]:
    """Money of each candidate that passes, where there is money."""
    discount = discount_factors(request.terms.discount_rate, request.terms.horizon_years)
    discounted_kwh = (np.array([each.energy.roof.useful_kwh for each in ranked.passing]) * discount).sum(axis=1)
    columns = (ranked.passing, ranked.scores.tolist(), discounted_kwh.tolist(), _steps_up(ranked, flows, discount))
    return [_money(request, *row) for row in zip(*columns, strict=True)]


def _money(
    request: SelectionRequest, pairing: Evaluated, net_present_value: float, discounted_kwh: float, step_up: StepUp
) -> CandidateMoney:
    cost = pairing.units_cost + common_cost(request, pairing.module)
    return CandidateMoney(
        units_price=pairing.price_today,
        net_present_value=net_present_value,
        net_present_value_range=_value_range(request, pairing, net_present_value),
        lifetime_cost=cost,
        lifetime_cost_per_kwh=cost / discounted_kwh if discounted_kwh > 0.0 and pairing.module.price is not None else None,
        step_up=step_up,
    )


def _steps_up(ranked: Ranking, flows: YearlyFlows, discount: FloatArray) -> list[StepUp]:
    """From the cheapest of the candidates, the one with the most energy among equals."""
    useful_kwh, benefits = np.array([each.useful_kwh for each in ranked.passing]), flows.benefits
    least = np.lexsort((-useful_kwh, flows.units + flows.modules))[0]
    extra = flows.units - flows.units[least] + (flows.modules - flows.modules[least])
    gained = benefits - benefits[least]
    gained[np.abs(gained) <= ROUNDING * np.abs(benefits[least])] = 0.0
    dearer = np.flatnonzero(extra > 0.0)
    returns = np.full(extra.size, np.nan)
    returns[dearer] = rates_of_return(np.column_stack([-extra, gained])[dearer])
    simple, discounted = payback_years(extra, gained), payback_years(extra, gained * discount)
    never = (_none_for_nan(column) for column in (simple, discounted, returns))
    return [StepUp(*row) for row in zip(extra.tolist(), (useful_kwh - useful_kwh[least]).tolist(), *never, strict=True)]


def _none_for_nan(values: FloatArray) -> list[float | None]:
    return [None if isnan(value) else value for value in values.tolist()]


def _value_range(request: SelectionRequest, pairing: Evaluated, value: float) -> Range:
    swing = LEVEL_SHARE * abs(pairing.value)
    if request.failure_rate(pairing.unit) is not None:
        return Range(value, value - swing, value + swing, VALUE_COVERS)
    few, many = (pairing.unit_count * unit_cost(request, pairing.unit, rate).total for rate in FAILURE_BAND)
    low, high = (value + pairing.units_cost - cost for cost in (many, few))
    return Range(value, low - swing, high + swing, VALUE_AND_FAILURES_COVER)
