"""Spare microinverters by expected failures. No independent field failure rate was found: the caller may give one."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from wattpair_service.engineering.rounding import ROUNDING
from wattpair_service.engineering.sentences import Sentence, fixed, sentence

FAILURE_SHARE_PER_YEAR = 0.005
"""Where no rate is given: the upper end of `replacements.FAILURE_BAND`."""
FAILURE_SHARE_SOURCE = fixed("source.band_top")
BY_FAILURES = sentence("why.spares_by_failures", "units", "percent", "years", "expected")
BY_SHARE = sentence("why.spares_by_share", "percent", "units")
HORIZON_YEARS = 25
"""Common practice, no source."""


@dataclass(frozen=True, slots=True)
class SparePolicy:
    """Number of spares: `share` of the installed units where given, else the expected failures over the horizon.

    Rate and horizon are None where not given.
    """

    share: float | None
    failure_share_per_year: float | None
    horizon_years: int | None

    @property
    def failure_share_or_default(self) -> float:
        """The yearly failure rate, or `FAILURE_SHARE_PER_YEAR` without one."""
        return FAILURE_SHARE_PER_YEAR if self.failure_share_per_year is None else self.failure_share_per_year

    def with_defaults(self, failure_share_per_year: float | None, horizon_years: int) -> SparePolicy:
        """The same policy, with this rate and horizon where it has none."""
        rate = failure_share_per_year if self.failure_share_per_year is None else self.failure_share_per_year
        return SparePolicy(self.share, rate, horizon_years if self.horizon_years is None else self.horizon_years)


@dataclass(frozen=True, slots=True)
class Spares:
    """Expected failures, probability of at least one failure, and number of spares."""

    expected_failures: float
    probability_of_any: float
    spare_count: int
    derivation: Sentence


def expected_failures(unit_count: int, failure_share_per_year: float, years: int) -> float:
    """Expected number of units that fail at least once, with the same probability each year (binomial)."""
    return float(unit_count * (1.0 - (1.0 - failure_share_per_year) ** years))


def probability_of_any(unit_count: int, failure_share_per_year: float, years: int) -> float:
    """Probability that at least one of the units fails."""
    return float(1.0 - (1.0 - failure_share_per_year) ** (years * unit_count))


def spares(unit_count: int, policy: SparePolicy) -> Spares:
    """Spares for a number of installed units, rounded up."""
    rate = policy.failure_share_or_default
    years = HORIZON_YEARS if policy.horizon_years is None else policy.horizon_years
    expected = expected_failures(unit_count, rate, years)
    if policy.share is None:
        count = ceil(expected - ROUNDING)
        derivation = BY_FAILURES(units=unit_count, percent=rate * 100, years=years, expected=expected)
    else:
        count = ceil(unit_count * policy.share - ROUNDING)
        derivation = BY_SHARE(percent=policy.share * 100, units=unit_count)
    return Spares(expected, probability_of_any(unit_count, rate, years), count, derivation)
