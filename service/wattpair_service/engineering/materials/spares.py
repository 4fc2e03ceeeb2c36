"""Spare microinverters: those that are expected to fail after the warranty, since within it the maker replaces them."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

from wattpair_service.engineering.money.replacements import fails_within, replacements
from wattpair_service.engineering.rounding import ROUNDING
from wattpair_service.engineering.sentences import Sentence, sentence

BY_FAILURES = sentence("why.spares_by_failures", "units", "percent", "years", "expected", "after", "warranty")
BY_SHARE = sentence("why.spares_by_share", "percent", "units")
HORIZON_YEARS = 25
"""Common practice, no source."""


@dataclass(frozen=True, slots=True)
class SparePolicy:
    """Number of spares: `share` of the installed units where given, else the expected failures after the warranty.

    Without a rate it is that of `replacements`; horizon and warranty are None where not given.
    """

    share: float | None
    failure_share_per_year: float | None
    horizon_years: int | None
    warranty_years: int | None

    def with_defaults(self, failure_share_per_year: float | None, horizon_years: int, warranty_years: int) -> SparePolicy:
        """The same policy, with this rate, horizon and warranty where it has none."""
        rate = failure_share_per_year if self.failure_share_per_year is None else self.failure_share_per_year
        horizon = horizon_years if self.horizon_years is None else self.horizon_years
        return SparePolicy(self.share, rate, horizon, warranty_years if self.warranty_years is None else self.warranty_years)


@dataclass(frozen=True, slots=True)
class Spares:
    """Expected failures, those after the warranty, probability of at least one failure, and number of spares."""

    expected_failures: float
    expected_after_warranty: float
    probability_of_any: float
    spare_count: int
    derivation: Sentence


def spares(unit_count: int, policy: SparePolicy) -> Spares:
    """Spares for a number of installed units: whole expected failures, or a share rounded up.

    Neglected: a unit that fails twice.
    """
    years = HORIZON_YEARS if policy.horizon_years is None else policy.horizon_years
    warranty = min(policy.warranty_years or 0, years)
    failures = replacements(unit_count, policy.failure_share_per_year, years)
    rate = failures.failure_share_per_year
    after = unit_count * (fails_within(rate, years) - fails_within(rate, warranty))
    if policy.share is None:
        count = floor(after + ROUNDING)
        derivation = BY_FAILURES(
            units=unit_count, percent=rate * 100.0, years=years, expected=failures.expected, after=after, warranty=warranty
        )
    else:
        count = ceil(unit_count * policy.share - ROUNDING)
        derivation = BY_SHARE(percent=policy.share * 100.0, units=unit_count)
    return Spares(failures.expected, after, failures.chance_of_any, count, derivation)
