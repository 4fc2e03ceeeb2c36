"""Costs and benefits of each candidate in each year, not discounted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.money.replacements import BAND_CENTRE, yearly_failures
from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.selection.request import SelectionRequest


@dataclass(frozen=True, slots=True, eq=False)
class YearlyFlows:
    """Cash flows of the candidates in years 1, 2, ...; a row for each candidate.

    Attributes
    ----------
    today : array, shape (candidates,)
        Price today of all that differs between candidates: units, modules, balance of plant and grid connection.
    energy : array, shape (candidates, years)
        Value of each year's energy at the tariff of the first year.
    growth : array, shape (years,)
        The tariff relative to that of the first year.
    failures : array, shape (candidates, years)
        Expected failures of one unit in the year.
    at_failure : array, shape (candidates, years)
        Cost if all units fail in the year.
    """

    today: FloatArray
    energy: FloatArray
    growth: FloatArray
    failures: FloatArray
    at_failure: FloatArray

    @classmethod
    def of(cls, request: SelectionRequest, passing: Sequence[Evaluated]) -> YearlyFlows:
        """Cash flows of all candidates; every price must be known."""
        terms, tariff = request.terms, request.tariff
        assert tariff is not None, "computed only where prices are known"
        year = np.arange(float(terms.horizon_years))
        after_warranty = year >= np.array([[each.unit.warranty_years] for each in passing])
        price = np.array([[each.unit.price or 0.0] for each in passing])
        count = np.array([[float(each.unit_count)] for each in passing])
        rates = [request.failure_rate(each.unit) for each in passing]
        return cls(
            today=np.array(
                [each.price_today + request.module_count * (each.module.price or 0.0) + each.plant_cost for each in passing]
            ),
            energy=np.array([each.energy.roof.energy_value for each in passing]),
            growth=np.asarray((1.0 + tariff.change_share_per_year) ** year),
            failures=yearly_failures(
                np.array([[BAND_CENTRE if rate is None else rate] for rate in rates]), terms.horizon_years
            ),
            at_failure=count * (terms.labour_per_visit + np.where(after_warranty, price, 0.0)),
        )

    @property
    def replacements(self) -> FloatArray:
        """Expected cost of failures in each year, shape (candidates, years)."""
        return self.failures * self.at_failure

    @property
    def benefits(self) -> FloatArray:
        """Value of each year's energy less its failure cost, shape (candidates, years)."""
        return np.asarray(self.energy * self.growth - self.replacements)
