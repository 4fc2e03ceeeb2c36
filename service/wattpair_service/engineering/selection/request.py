"""What a selection is made from: offers with prices, the roof, and the terms of money."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.lifetime_energy import HomeUse, Tariff, Worth
from wattpair_service.engineering.energy.roof_dc import RoofDc
from wattpair_service.engineering.equipment import Microinverter, Module
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.irradiance.sky import Transposition
from wattpair_service.engineering.money.cash_flow import discount_factors, remaining_shares
from wattpair_service.engineering.money.replacements import BAND_CENTRE, yearly_failures


@dataclass(frozen=True, slots=True)
class ModuleOffer:
    """A module and the price of one, None where the caller has none."""

    module: Module
    price: float | None


@dataclass(frozen=True, slots=True)
class UnitOffer:
    """A candidate microinverter: price of one unit or None, length of its warranty, yearly failure rate or None."""

    microinverter: Microinverter
    price: float | None
    warranty_years: int
    failure_share_per_year: float | None


@dataclass(frozen=True, slots=True)
class Terms:
    """Terms of money and time; shares 0-1, prices in the caller's currency."""

    discount_rate: float
    horizon_years: int
    degradation_share_per_year: float
    failure_share_per_year: float | None
    labour_per_visit: float
    maintenance_per_year: float
    other_cost: float
    second_kind_cost: float


@dataclass(frozen=True, slots=True, eq=False)
class SelectionRequest:
    """Everything that a selection depends on but the weather and the rules.

    `every_pair` says whether the break-even of each pair of neighbours is wanted, or only of those with the recommended one.
    `currency` is that of every price, None where it is not known.
    """

    modules: tuple[ModuleOffer, ...]
    units: tuple[UnitOffer, ...]
    faces: tuple[Face, ...]
    transposition: Transposition
    modules_per_input: int
    home_use: HomeUse
    tariff: Tariff | None
    terms: Terms
    every_pair: bool = False
    currency: str | None = None

    @property
    def has_money(self) -> bool:
        """Whether every candidate has a price and there is a tariff; a module's price is the same for each candidate."""
        several = len(self.modules) > 1
        return (
            self.tariff is not None
            and all(unit.price is not None for unit in self.units)
            and not (several and any(offer.price is None for offer in self.modules))
        )

    def money(self, amount: float) -> str:
        """An amount in words, with its currency where it is known."""
        return f"{amount:.2f}" if self.currency is None else f"{amount:.2f} {self.currency}"

    def failure_rate(self, unit: UnitOffer) -> float | None:
        """The unit's own rate, else the common one, else None."""
        own = unit.failure_share_per_year
        return self.terms.failure_share_per_year if own is None else own


@dataclass(frozen=True, slots=True, eq=False)
class RoofTerms:
    """One module on the roof, with the terms; what `lifetime_energy.Roof` asks for."""

    dc: RoofDc
    available_kwh: FloatArray
    counts: FloatArray
    remaining: FloatArray
    home_use: HomeUse
    modules_per_input: int

    @classmethod
    def of(cls, request: SelectionRequest, dc: RoofDc) -> RoofTerms:
        """The roof of a request."""
        return cls(
            dc=dc,
            available_kwh=dc.by_face(dc.response.maximum_power.power_w) / 1000.0,
            counts=np.array([float(face.module_count) for face in request.faces]),
            remaining=remaining_shares(request.terms.degradation_share_per_year, request.terms.horizon_years),
            home_use=request.home_use,
            modules_per_input=request.modules_per_input,
        )


@dataclass(frozen=True, slots=True)
class UnitCost:
    """What one unit costs over the horizon, worth today: `factor` x price + `rest`.

    The factor is 1 and what of the price is paid again after the warranty; the rest is the labour of visits.
    """

    price: float
    factor: float
    rest: float

    @property
    def total(self) -> float:
        """Price, units bought after the warranty, and labour."""
        return self.price * self.factor + self.rest


def unit_cost(request: SelectionRequest, unit: UnitOffer, failure_rate: float | None = None) -> UnitCost:
    """Cost of one unit; without a rate given here it is the unit's, or the middle of the band."""
    assert unit.price is not None, "asked for only where there is money"
    terms = request.terms
    if failure_rate is None:
        known = request.failure_rate(unit)
        failure_rate = BAND_CENTRE if known is None else known
    after_warranty, visits = _failures_today(failure_rate, terms.discount_rate, terms.horizon_years, unit.warranty_years)
    return UnitCost(unit.price, 1.0 + after_warranty, visits * terms.labour_per_visit)


@lru_cache(maxsize=256)
def _failures_today(failure_rate: float, discount_rate: float, years: int, warranty_years: int) -> tuple[float, float]:
    """Expected failures of one unit, each counted with its year's discount: those after the warranty, and all."""
    failing = yearly_failures(failure_rate, years) * discount_factors(discount_rate, years)
    return float(failing[warranty_years:].sum()), float(failing.sum())


def worth_of(request: SelectionRequest) -> Worth:
    """What a kilowatt-hour of each year is worth today."""
    assert request.tariff is not None, "asked for only where there is money"
    return Worth.of(request.tariff, request.terms.discount_rate, request.terms.horizon_years)


def units_on(face: Face, unit: UnitOffer, modules_per_input: int) -> int:
    """Whole units for a face."""
    per_unit = unit.microinverter.input_count * modules_per_input
    return -(-face.module_count // per_unit)
