"""How many units of a roof fail within the horizon.

Each unit fails with the same probability in each year, independently of the others, so the number of units that fail at least
once is binomial. Neglected: failures of replacements (at 0.5 % a year over 25 years, 1 in 16 of them), early and late failures,
faults common to a series, and the energy lost until the visit.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import ceil, sqrt

import numpy as np
from scipy.special import bdtr

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.sentences import Words, fixed

FAILURE_BAND = (0.0002, 0.005)
"""Yearly failure rates assumed where the caller gives none. No independent field rate is published; stated band, no source."""

BAND_CENTRE = sqrt(FAILURE_BAND[0] * FAILURE_BAND[1])
"""Geometric mean of the band: 0.1 % a year."""
BAND_CENTRE_SOURCE = fixed("source.band_mean")

TAIL = 0.05
"""Probability beyond each end of the 90 % range."""

BAND_COVERS = fixed("covers.failure_band")
OWN_RATE_COVERS = fixed("covers.own_failure_rate")


@dataclass(frozen=True, slots=True)
class Replacements:
    """Units that fail within the horizon: expected number, 90 % range, and the chance of at least one (0-1).

    The range covers the binomial distribution and, without a rate of the caller, the band of rates.
    """

    expected: float
    low: int
    high: int
    chance_of_any: float
    failure_share_per_year: float
    covers: Words


def fails_within(failure_share_per_year: float, years: int) -> float:
    """Probability that a unit fails within the years (0-1)."""
    return float(-np.expm1(years * np.log1p(-failure_share_per_year)))


def yearly_failures(failure_share_per_year: float | FloatArray, years: int) -> FloatArray:
    """Expected first failures of one unit in years 1 to `years`, the last axis; they add up to `fails_within`."""
    return np.asarray(failure_share_per_year * (1.0 - failure_share_per_year) ** np.arange(float(years)))


def quantile(unit_count: int, probability: float, share: float) -> int:
    """Smallest number of failed units whose cumulated probability is at least `share`."""
    mean = unit_count * probability
    largest = min(unit_count, ceil(mean + 12.0 * sqrt(mean) + 12.0))
    cumulated = bdtr(np.arange(largest + 1.0), unit_count, probability)
    return min(int(np.searchsorted(cumulated, share - 1e-12)), unit_count)


@lru_cache(maxsize=256)
def replacements(unit_count: int, failure_share_per_year: float | None, years: int) -> Replacements:
    """Expected failures over the horizon, by the caller's rate or, where that is None, by the band.

    Parameters
    ----------
    unit_count : int
        Units on the roof.
    failure_share_per_year : float, optional
        Probability that a unit fails in a year (0 to below 1).
    years : int
        Horizon.
    """
    rate = BAND_CENTRE if failure_share_per_year is None else failure_share_per_year
    ends = FAILURE_BAND if failure_share_per_year is None else (rate, rate)
    low, high = (fails_within(end, years) for end in ends)
    within = fails_within(rate, years)
    return Replacements(
        expected=unit_count * within,
        low=quantile(unit_count, low, TAIL),
        high=quantile(unit_count, high, 1.0 - TAIL),
        chance_of_any=fails_within(rate, years * unit_count),
        failure_share_per_year=rate,
        covers=BAND_COVERS if failure_share_per_year is None else OWN_RATE_COVERS,
    )
