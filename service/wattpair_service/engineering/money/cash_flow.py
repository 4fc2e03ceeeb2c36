"""Present value, rate of return, payback and module degradation over the years.

The first flow of a series falls today and is not discounted; each later one falls at the end of its year. Money is a float in
the caller's currency; only responses round it, to hundredths. Neglected: taxes, loans, and inflation other than the caller's
yearly change of the tariff.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from wattpair_service.engineering.arrays import FloatArray

RETURN_RANGES = ((-0.2, 0.5), (-0.99, 10.0))
"""Ranges that are searched for a rate of return, the first one first: nearly all rates lie in it, and it converges fast."""
NEWTON_TOLERANCE, BISECTION_TOLERANCE = 1e-8, 1e-13
"""Last step of the search, relative to the discount factor. The error after a Newton step is about the step's square."""


@lru_cache(maxsize=64)
def discount_factors(rate: float, years: int) -> FloatArray:
    """Present value of one unit of money at the end of years 1 to `years`, read-only; `rate` is a share above -1."""
    factors = np.asarray((1.0 + rate) ** -np.arange(1.0, years + 1.0))
    factors.flags.writeable = False
    return factors


def rates_of_return(flows: FloatArray) -> FloatArray:
    """Rate at which the net present value of each row of flows is zero; NaN where `RETURN_RANGES` show no change of sign.

    Flows that change sign more than once may have several such rates: the result is one of them.

    Parameters
    ----------
    flows : array, shape (n, years + 1)
        The first of each row undiscounted.
    """
    rates = np.full(len(flows), np.nan)
    for ends in RETURN_RANGES:
        unsolved = np.flatnonzero(np.isnan(rates))
        if unsolved.size:
            high, low = (np.full(unsolved.size, 1.0 / (1.0 + rate)) for rate in ends)
            rates[unsolved] = 1.0 / _zero_value_factors(flows[unsolved], low, high) - 1.0
    return rates


def net_present_values(flows: FloatArray, factor: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Net present value of each row of yearly flows by its own discount factor, and its derivative by that factor."""
    discounted = flows * powers(factor, flows.shape[1])
    return discounted.sum(axis=1), (discounted * np.arange(flows.shape[1])).sum(axis=1) / factor


def _zero_value_factors(flows: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Discount factor between `low` and `high` at which each row's net present value is zero; NaN without a change of sign.

    Newton's method; bisection where a Newton step leaves the bracket or does not halve the step before it.
    """
    sign_high = np.sign(net_present_values(flows, high)[0])
    bracketed = np.sign(net_present_values(flows, low)[0]) * sign_high < 0.0
    factor, step, done = np.minimum(0.5 * (low + high), 1.0), high - low, ~bracketed
    while not done.all():
        value, slope = net_present_values(flows, factor)
        root_is_lower = value * sign_high > 0.0
        low, high = np.where(root_is_lower, low, factor), np.where(root_is_lower, factor, high)
        # A slope near zero overflows to a step out of the bracket, which bisection then replaces.
        with np.errstate(over="ignore"):
            next_factor = factor - np.divide(value, slope, out=np.full(len(flows), np.inf), where=slope != 0.0)
        newton = (next_factor >= low) & (next_factor <= high) & (np.abs(next_factor - factor) <= 0.5 * step)
        next_factor = np.where(newton, next_factor, 0.5 * (low + high))
        step = np.abs(next_factor - factor)
        small = step <= np.where(newton, NEWTON_TOLERANCE, BISECTION_TOLERANCE) * factor
        factor, done = np.where(done, factor, next_factor), done | small
    return np.where(bracketed, factor, np.nan)


def powers(base: FloatArray, count: int) -> FloatArray:
    """Powers 0 to `count` - 1 of each base along a new last axis; faster than `**` on every element."""
    result = np.repeat(base[..., None], count, axis=-1)
    result[..., 0] = 1.0
    return np.multiply.accumulate(result, axis=-1, out=result)


def remaining_shares(degradation_share_per_year: float, years: int) -> FloatArray:
    """Module power in years 1 to `years` as a share of the first year's; degradation compounds."""
    return np.asarray((1.0 - degradation_share_per_year) ** np.arange(float(years)))


def payback_years(costs: FloatArray, benefits: FloatArray) -> FloatArray:
    """Years until the cumulated benefits cover each cost, with the fraction of the last year.

    0 where the balance is never negative; NaN where it ends negative. Of several changes of sign the last one counts.

    Parameters
    ----------
    costs : array, shape (n,)
        Spent today.
    benefits : array, shape (n, years)
        Of years 1, 2, ...; already discounted for the discounted payback.
    """
    balance = np.concatenate([-costs[:, None], np.cumsum(benefits, axis=1) - costs[:, None]], axis=1)
    negative = balance < 0.0
    last_negative = balance.shape[1] - 1 - np.argmax(negative[:, ::-1], axis=1)
    years = np.where(negative[:, -1], np.nan, 0.0)
    row = np.flatnonzero(negative.any(axis=1) & ~negative[:, -1])
    last = last_negative[row]
    years[row] = last - balance[row, last] / (balance[row, last + 1] - balance[row, last])
    return years
