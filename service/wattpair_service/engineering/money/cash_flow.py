"""Money over time: present value, rate of return, payback, annuities and the sum of ageing years.

The first flow of a series falls today and is not discounted; each later one falls at the end of its year. Money is a float in
the caller's currency, rounded to hundredths only where an answer is written. Neglected: taxes, loans, inflation other than the
yearly change of the tariff that the caller gives.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from wattpair_service.engineering.arrays import FloatArray

RETURN_RANGES = ((-0.2, 0.5), (-0.99, 10.0))
"""Rates between which a rate of return is looked for: first where nearly all are, for there it is soon found."""
STEP_TOLERANCE, HALF_TOLERANCE = 1e-8, 1e-13
"""Over a yearly discount factor: the last step to a rate of return, which leaves about its square, and the last half."""


@lru_cache(maxsize=64)
def discount_factors(rate: float, years: int) -> FloatArray:
    """Worth today of one unit of money at the end of years 1 to `years`; `rate` is a share, above -1. Not to be written to."""
    factors = np.asarray((1.0 + rate) ** -np.arange(1.0, years + 1.0))
    factors.flags.writeable = False
    return factors


def rates_of_return(flows: FloatArray) -> FloatArray:
    """Rate at which the net present value of each row of flows is zero; NaN where neither of `RETURN_RANGES` shows one.

    Flows that change sign more than once may have several: it is then one of them.

    Parameters
    ----------
    flows : array, shape (n, years + 1)
        The first of each row undiscounted.
    """
    found = np.full(len(flows), np.nan)
    for ends in RETURN_RANGES:
        left = np.flatnonzero(np.isnan(found))
        if left.size:
            high, low = (np.full(left.size, 1.0 / (1.0 + rate)) for rate in ends)
            found[left] = 1.0 / _even_factors(flows[left], low, high) - 1.0
    return found


def net_present_values(flows: FloatArray, factor: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Worth today of each row of yearly flows, the first undiscounted, by its own discount factor; and its slope over that."""
    discounted = flows * powers(factor, flows.shape[1])
    return discounted.sum(axis=1), (discounted * np.arange(flows.shape[1])).sum(axis=1) / factor


def _even_factors(flows: FloatArray, below: FloatArray, above: FloatArray) -> FloatArray:
    """Yearly discount factor between two at which each row of flows is worth nothing; NaN where the two show none.

    Newton's method; where it would leave what holds the root or does not halve its step, that is halved.
    """
    sign = np.sign(net_present_values(flows, above)[0])
    shown = np.sign(net_present_values(flows, below)[0]) * sign < 0.0
    factor, step, done = np.minimum(0.5 * (below + above), 1.0), above - below, ~shown
    while not done.all():
        value, slope = net_present_values(flows, factor)
        beyond = value * sign > 0.0
        below, above = np.where(beyond, below, factor), np.where(beyond, factor, above)
        # A slope of next to nothing leads beyond all numbers, and so out of the bracket.
        with np.errstate(over="ignore"):
            ahead = factor - np.divide(value, slope, out=np.full(len(flows), np.inf), where=slope != 0.0)
        good = (ahead >= below) & (ahead <= above) & (np.abs(ahead - factor) <= 0.5 * step)
        ahead = np.where(good, ahead, 0.5 * (below + above))
        step = np.abs(ahead - factor)
        factor, done = np.where(done, factor, ahead), done | (step <= np.where(good, STEP_TOLERANCE, HALF_TOLERANCE) * factor)
    return np.where(shown, factor, np.nan)


def powers(base: FloatArray, count: int) -> FloatArray:
    """First powers of each base, from 0, along a new last axis: quicker than raising each to each."""
    found = np.repeat(base[..., None], count, axis=-1)
    found[..., 0] = 1.0
    return np.multiply.accumulate(found, axis=-1, out=found)


def capital_recovery_factor(rate: float, years: int) -> float:
    """Equal yearly payment that pays back one unit of money in `years`."""
    return 1.0 / years if rate == 0.0 else rate / (1.0 - (1.0 + rate) ** -years)


def payment(rate: float, periods: int, principal: float) -> float:
    """What a loan takes in each period, negative as money that leaves."""
    return -principal * capital_recovery_factor(rate, periods)


def remaining_shares(degradation_share_per_year: float, years: int) -> FloatArray:
    """Power of a module in years 1 to `years` over that of its first year, compounding."""
    return np.asarray((1.0 - degradation_share_per_year) ** np.arange(float(years)))


def payback_years(costs: FloatArray, benefits: FloatArray) -> FloatArray:
    """Years until yearly benefits have paid each cost, part of the last year included.

    0 where there is no cost and nothing is lost; NaN where they never do. The last crossing counts: benefits that turn into
    costs again have not paid it.

    Parameters
    ----------
    costs : array, shape (n,)
        Spent today.
    benefits : array, shape (n, years)
        Of years 1, 2, ...; discounted beforehand for the discounted payback.
    """
    balance = np.concatenate([-costs[:, None], np.cumsum(benefits, axis=1) - costs[:, None]], axis=1)
    row, short = np.arange(len(costs)), balance < 0.0
    last = balance.shape[1] - 1 - np.argmax(short[:, ::-1], axis=1)
    paid = np.flatnonzero(short.any(axis=1) & ~short[:, -1])
    found = np.where(short[:, -1], np.nan, 0.0)
    row, last = row[paid], last[paid]
    found[paid] = last - balance[row, last] / (balance[row, last + 1] - balance[row, last])
    return found
