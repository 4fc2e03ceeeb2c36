"""Money and failures beside published figures."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.validation.ledger import Check, near
from wattpair_service.engineering.money.cash_flow import (
    discount_factors,
    net_present_values,
    payback_years,
    rates_of_return,
    remaining_shares,
)
from wattpair_service.engineering.money.replacements import fails_within, replacements

LIBRARY = "numpy-financial, documented example"
ANNUITY = "the annuity's closed form"
AGEING = "0.5 % a year compounding; median rate of Jordan and Kurtz, 10.1002/pip.1182"
BINOMIAL = "20 units at 0.5 % a year over 25 years, binomial"
TRADE = "trade fact without source, a check value and no default: 1 unit in 3,000 a year"


def checks() -> Iterator[Check]:
    """Present value, return, annuity, payback, ageing and failures."""
    ((worth,), _) = net_present_values(np.array([[-40000.0, 5000.0, 8000.0, 12000.0, 30000.0]]), np.array([1.0 / 1.08]))
    yield near("net present value at 8 %", 3065.22267, worth, 5e-6, "READ", LIBRARY)
    (rate,) = rates_of_return(np.array([[-100.0, 39.0, 59.0, 55.0, 20.0]]))
    yield near("internal rate of return", 0.28095, rate, 5e-6, "READ", LIBRARY)
    monthly = 200000.0 / discount_factors(0.075 / 12, 180).sum()
    yield near("payment of a loan: 7.5 % over 12, 180 months, 200,000", 1854.0247, monthly, 5e-5, "READ", LIBRARY)
    for rate, years, expected in ((0.05, 20, 0.080243), (0.07, 25, 0.085811)):
        factor = 1.0 / discount_factors(rate, years).sum()
        yield near(f"capital recovery factor, {rate:.0%}, {years} years", expected, factor, 5e-7, "Derived", ANNUITY)
    (simple,) = payback_years(np.array([100.0]), discount_factors(0.0, 4)[None, :] * 40.0)
    yield near("simple payback: 100 at 40 a year [years]", 2.5, simple, 1e-12, "Derived", "division")
    shares = remaining_shares(0.005, 25)
    yield near("module power in year 25", 0.88665, shares[-1], 5e-6, "Derived", AGEING)
    yield near("sum of 25 years' power", 23.5560, shares.sum(), 5e-5, "Derived", AGEING)
    fleet = replacements(20, 0.005, 25)
    yield near("expected failures", 2.3556, fleet.expected, 5e-5, "Derived", BINOMIAL)
    yield near("probability of at least one failure", 0.91843, fleet.chance_of_any, 5e-6, "Derived", BINOMIAL)
    share, ten = fails_within(1.0 / 3000.0, 25), replacements(10, 1.0 / 3000.0, 25).expected
    yield near("share of units that fail in 25 years", 1.0 - (2999 / 3000) ** 25, share, 1e-12, "MEMORY", TRADE)
    yield near("expected failures of ten units in 25 years", 10 * 25 / 3000, ten, 5e-4, "MEMORY", TRADE)
