"""Money and failures beside published figures."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.validation.ledger import Check, near
from wattpair_service.engineering.cash_flow import (
    capital_recovery_factor,
    net_present_values,
    payback_years,
    payment,
    rates_of_return,
    remaining_shares,
)
from wattpair_service.engineering.cash_flow import discount_factors as factors
from wattpair_service.engineering.replacements import fails_within, replacements

LIBRARY = "numpy-financial, documented example"
ANNUITY = "the annuity's closed form"
AGEING = "0.5 % a year compounding; median rate of Jordan and Kurtz, 10.1002/pip.1182"
BINOMIAL = "20 units at 0.5 % a year over 25 years, binomial"
TRADE = "trade fact without source, a check value and no default: 1 unit in 3,000 a year"


def checks() -> Iterator[Check]:
    """Present value, return, annuity, payback, ageing and failures."""
    worth, _ = net_present_values(np.array([[-40000.0, 5000.0, 8000.0, 12000.0, 30000.0]]), np.array([1.0 / 1.08]))
    yield near("net present value at 8 %", source=LIBRARY, label="READ", expected=3065.22267, got=float(worth[0]),
               tolerance=5e-6)  # fmt: skip
    (rate,) = rates_of_return(np.array([[-100.0, 39.0, 59.0, 55.0, 20.0]])).tolist()
    yield near("internal rate of return", source=LIBRARY, label="READ", expected=0.28095, got=rate, tolerance=5e-6)
    yield near("payment of a loan: 7.5 % over 12, 180 months, 200,000", source=LIBRARY, label="READ", expected=-1854.0247,
               got=payment(0.075 / 12, 180, 200000), tolerance=5e-5)  # fmt: skip
    for rate, years, expected in ((0.05, 20, 0.080243), (0.07, 25, 0.085811)):
        yield near(f"capital recovery factor, {rate:.0%}, {years} years", source=ANNUITY, label="Derived", expected=expected,
                   got=capital_recovery_factor(rate, years), tolerance=5e-7)  # fmt: skip
        yield near(f"the same from discounted years, {rate:.0%}", source=ANNUITY, label="Derived", expected=expected,
                   got=1.0 / float(factors(rate, years).sum()), tolerance=5e-7)  # fmt: skip
    (simple,) = payback_years(np.array([100.0]), factors(0.0, 4)[None, :] * 40.0).tolist()
    yield near("simple payback: 100 at 40 a year [years]", source="division", label="Derived", expected=2.5, got=simple,
               tolerance=1e-12)  # fmt: skip
    shares = remaining_shares(0.005, 25)
    yield near("module power in year 25", source=AGEING, label="Derived", expected=0.88665,
               got=float(shares[-1]), tolerance=5e-6)  # fmt: skip
    yield near("sum of 25 years' power", source=AGEING, label="Derived", expected=23.5560, got=float(shares.sum()),
               tolerance=5e-5)  # fmt: skip
    fleet = replacements(20, 0.005, 25)
    yield near("expected failures", source=BINOMIAL, label="Derived", expected=2.3556, got=fleet.expected, tolerance=5e-5)
    yield near("probability of at least one failure", source=BINOMIAL, label="Derived", expected=0.91843,
               got=fleet.chance_of_any, tolerance=5e-6)  # fmt: skip
    yield near("share of units that fail in 25 years", source=TRADE, label="MEMORY", expected=1.0 - (2999 / 3000) ** 25,
               got=fails_within(1.0 / 3000.0, 25), tolerance=1e-12)  # fmt: skip
    yield near("expected failures of ten units in 25 years", source=TRADE, label="MEMORY", expected=10 * 25 / 3000,
               got=replacements(10, 1.0 / 3000.0, 25).expected, tolerance=5e-4)  # fmt: skip
