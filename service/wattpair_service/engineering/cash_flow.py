"""Money over time: present value, rate of return, payback, annuities and the sum of ageing years.

The first flow of a series falls today and is not discounted; each later one falls at the end of its year. Money is a float in
the caller's currency, rounded to hundredths only where an answer is written. Neglected: taxes, loans, inflation other than the
yearly change of the tariff that the caller gives.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

FloatArray = npt.NDArray[np.float64]

RETURN_RANGES = ((-0.2, 0.5), (-0.99, 10.0))
"""Rates between which a rate of return is looked for: first where nearly all are, for there it is soon found."""


@lru_cache(maxsize=64)
def discount_factors(rate: float, years: int) -> FloatArray:
    """Worth today of one unit of money at the end of years 1 to `years`; `rate` is a share, above -1. Not to be written to."""
    factors = np.asarray((1.0 + rate) ** -np.arange(1.0, years + 1.0))
    factors.flags.writeable = False
    return factors


def net_present_value(rate: float, flows: Sequence[float]) -> float:
    """Worth today of yearly flows, the first of them undiscounted."""
    factor, worth = 1.0 / (1.0 + rate), 0.0
    for flow in reversed(flows):
        worth = worth * factor + flow
    return float(worth)


def rate_of_return(flows: Sequence[float]) -> float | None:
    """Rate at which the net present value is zero; None where the first of `RETURN_RANGES` and the last show none.

    Flows that change sign more than once may have several: it is then one of them.
    """
    for low, high in RETURN_RANGES:
        if net_present_value(low, flows) * net_present_value(high, flows) < 0.0:
            return float(brentq(lambda rate: net_present_value(rate, flows), low, high, xtol=1e-12))
    return None


def capital_recovery_factor(rate: float, years: int) -> float:
    """Equal yearly payment that pays back one unit of money in `years`."""
    return 1.0 / years if rate == 0.0 else rate / (1.0 - (1.0 + rate) ** -years)


def payment(rate: float, periods: int, principal: float) -> float:
    """What a loan takes in each period, negative as money that leaves."""
    return -principal * capital_recovery_factor(rate, periods)


def remaining_shares(degradation_share_per_year: float, years: int) -> FloatArray:
    """Power of a module in years 1 to `years` over that of its first year, compounding."""
    return np.asarray((1.0 - degradation_share_per_year) ** np.arange(float(years)))


def payback_years(cost: float, benefits: FloatArray) -> float | None:
    """Years until yearly benefits have paid a cost, part of the last year included.

    0 where there is no cost and nothing is lost; None where they never do. The last crossing counts: benefits that turn into
    costs again have not paid it.

    Parameters
    ----------
    cost : float
        Spent today.
    benefits : array
        Of years 1, 2, ...; discounted beforehand for the discounted payback.
    """
    balance = np.concatenate([[-cost], np.cumsum(benefits) - cost])
    if balance[-1] < 0.0:
        return None
    short = np.flatnonzero(balance < 0.0)
    if not short.size:
        return 0.0
    last = int(short[-1])
    return last + float(-balance[last] / (balance[last + 1] - balance[last]))
