"""Payback, rate of return and yearly cash flow of the whole system with one candidate.

All that is bought counts: modules, units, balance of plant, grid connection and other cost. Where a price is missing there is
no payback rather than one that is too short.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isnan

import numpy as np

from wattpair_service.engineering.materials.bill_lines import ROLE_NAMES
from wattpair_service.engineering.money.cash_flow import discount_factors, payback_years, rates_of_return
from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.selection.ranking import Ranking
from wattpair_service.engineering.selection.request import SelectionRequest
from wattpair_service.engineering.selection.yearly_flows import YearlyFlows
from wattpair_service.engineering.sentences import Words, fixed, sentence

NO_MODULE, NO_PLANT, NO_WORK, NO_AGREEMENT_COST = (
    fixed(f"missing.{each}") for each in ("module", "plant", "work", "agreement")
)
UNPRICED = sentence("missing.parts", "roles")


@dataclass(frozen=True, slots=True)
class CashFlowYear:
    """One year, not discounted: value of the energy, expected cost of replacements, maintenance, net of these, and the balance.

    Year 0 is today, with the price of the system.
    """

    year: int
    energy_value: float
    replacements: float
    maintenance: float
    net: float
    balance: float


@dataclass(frozen=True, slots=True)
class SystemMoney:
    """The whole system; all is None or empty where a price is `missing`, paybacks also where the cost is never paid back."""

    missing: tuple[Words, ...]
    price_today: float | None
    net_present_value: float | None
    simple_payback_years: float | None
    discounted_payback_years: float | None
    rate_of_return: float | None
    cash_flow: tuple[CashFlowYear, ...]


def missing_prices(request: SelectionRequest, pairing: Evaluated) -> tuple[Words, ...]:
    """Prices that the whole system lacks; `other_cost` above 0 stands for the balance of plant where that was not given."""
    return tuple(_missing(request, pairing))


def _missing(request: SelectionRequest, pairing: Evaluated) -> Iterator[Words]:
    system = pairing.unit.system
    if pairing.module.price is None:
        yield NO_MODULE
    if system.balance_of_plant is None and not request.terms.other_cost:
        yield NO_PLANT
    if system.unpriced_roles:
        yield UNPRICED(roles=tuple(ROLE_NAMES[role] for role in system.unpriced_roles))
    if request.terms.other_cost is None:
        yield NO_WORK
    if system.may_wait:
        yield NO_AGREEMENT_COST


def system_moneys(request: SelectionRequest, ranked: Ranking, flows: YearlyFlows) -> list[SystemMoney]:
    """Of each candidate; every price that ranking needs must be known."""
    terms = request.terms
    prices = flows.today + (terms.other_cost or 0.0)
    net = flows.benefits - terms.maintenance_per_year
    discount = discount_factors(terms.discount_rate, terms.horizon_years)
    columns = (
        [None if isnan(value) else value for value in values.tolist()]
        for values in (
            payback_years(prices, net),
            payback_years(prices, net * discount),
            rates_of_return(np.column_stack([-prices, net])),
        )
    )
    rows = zip(ranked.passing, prices.tolist(), ranked.scores.tolist(), *columns, strict=True)
    return [_system_money(request, flows, index, *row) for index, row in enumerate(rows)]


def _system_money(
    request: SelectionRequest,
    flows: YearlyFlows,
    index: int,
    pairing: Evaluated,
    price: float,
    net_present_value: float,
    simple: float | None,
    discounted: float | None,
    rate: float | None,
) -> SystemMoney:
    missing = missing_prices(request, pairing)
    if missing:
        return SystemMoney(missing, None, None, None, None, None, ())
    cash_flow = tuple(_cash_flow(request, flows, index, price))
    return SystemMoney((), price, net_present_value, simple, discounted, rate, cash_flow)


def _cash_flow(request: SelectionRequest, flows: YearlyFlows, index: int, price: float) -> Iterator[CashFlowYear]:
    balance, maintenance = -price, request.terms.maintenance_per_year
    yield CashFlowYear(0, 0.0, 0.0, 0.0, -price, balance)
    years = zip((flows.energy * flows.growth)[index].tolist(), flows.replacements[index].tolist(), strict=True)
    for year, (energy_value, replacements) in enumerate(years, start=1):
        net = energy_value - replacements - maintenance
        balance += net
        yield CashFlowYear(year, energy_value, replacements, maintenance, net, balance)
