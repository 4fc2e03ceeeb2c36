"""The request of a selection: offers with prices, the roof, and the financial terms."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.home_use import HomeUse, Household, Tariff
from wattpair_service.engineering.energy.lifetime_energy import Worth
from wattpair_service.engineering.energy.roof_dc import RoofDc
from wattpair_service.engineering.energy.system_losses import USUAL_LOSSES, SystemLosses
from wattpair_service.engineering.equipment import InputWiring, Microinverter, Module
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.irradiance.sky import Transposition
from wattpair_service.engineering.money.cash_flow import discount_factors, remaining_shares
from wattpair_service.engineering.money.replacements import BAND_CENTRE, yearly_failures
from wattpair_service.engineering.sentences import Sentence, Words, sentence
from wattpair_service.engineering.strings.offer import StringInverterOffer

AMOUNT, AMOUNT_IN = sentence("money.amount", "amount"), sentence("money.amount_in", "amount", "currency")


@dataclass(frozen=True, slots=True)
class ModuleOffer:
    """A module and its price; None where the caller gave none."""

    module: Module
    price: float | None


ObstacleKind = Literal["fails", "unsuited"]
"""A check of the circuits fails, which other terms may mend; or no circuits are possible."""
OBSTACLES: tuple[ObstacleKind | None, ...] = (None, "fails", "unsuited")
"""Without obstacle first."""


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Why a system with a candidate cannot be built."""

    kind: ObstacleKind
    reason: Words


@dataclass(frozen=True, slots=True)
class SystemTerms:
    """What a whole system with a candidate needs beside its modules and units; None where unknown.

    Attributes
    ----------
    balance_of_plant : float or None
        Price of circuits, cables, devices, boards, mounting and all other parts.
    unpriced_roles : tuple of str
        Roles of parts that are left out of it, as a part has no price for this candidate or for one that it is compared with.
    differing_roles : tuple of str
        Roles without a price whose parts differ between the candidates: their prices may turn the order.
    rated_cable_share : float or None
        Share of the rated power that the AC cables take at that power.
    connection_procedure : Words or None
        Name of the grid connection procedure.
    needs_agreement : bool
        Whether the network operator has to agree before the system is switched on.
    connection_cost : float or None
        Cost of that procedure.
    obstacle : Obstacle or None
        Why the system cannot be built.
    """

    balance_of_plant: float | None = None
    unpriced_roles: tuple[str, ...] = ()
    differing_roles: tuple[str, ...] = ()
    rated_cable_share: float | None = None
    connection_procedure: Words | None = None
    needs_agreement: bool = False
    connection_cost: float | None = None
    obstacle: Obstacle | None = None

    @property
    def cost(self) -> float:
        """What is known of balance of plant and grid connection."""
        return (self.balance_of_plant or 0.0) + (self.connection_cost or 0.0)

    @property
    def may_wait(self) -> bool:
        """Whether it needs the network operator's agreement at a cost that is unknown."""
        return self.needs_agreement and self.connection_cost is None


NO_SYSTEM = SystemTerms()


@dataclass(frozen=True, slots=True)
class UnitOffer:
    """A candidate microinverter; price of one unit and yearly failure rate are None where the caller gave none."""

    microinverter: Microinverter
    price: float | None
    warranty_years: int
    failure_share_per_year: float | None
    system: SystemTerms = NO_SYSTEM


@dataclass(frozen=True, slots=True)
class Terms:
    """Financial terms; shares 0-1, prices in the caller's currency.

    `other_cost` is that of the whole roof today: the work of building and all that has no price of its own. It is None where
    not known: then it counts as 0, and the whole system has no payback.
    """

    discount_rate: float
    horizon_years: int
    degradation_share_per_year: float
    failure_share_per_year: float | None
    labour_per_visit: float
    maintenance_per_year: float
    other_cost: float | None
    second_kind_cost: float


REPAIR_DAYS = 14.0
"""From a failure to the repair. Common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class SelectionRequest:
    """All inputs of a selection except the weather and the rules.

    `every_pair` requests the break-even of every pair of neighbours, not only of pairs that include the recommended unit.
    `currency` is that of every price; None where unknown. `systems` are those of pairings, by the names of module and
    microinverter, that take the place of the candidates' own.
    """

    modules: tuple[ModuleOffer, ...]
    units: tuple[UnitOffer, ...]
    faces: tuple[Face, ...]
    transposition: Transposition
    input_wiring: InputWiring
    home_use: HomeUse
    tariff: Tariff | None
    terms: Terms
    every_pair: bool = False
    currency: str | None = None
    losses: SystemLosses = USUAL_LOSSES
    systems: Mapping[tuple[str, str], SystemTerms] = field(default_factory=dict)
    string_inverters: tuple[StringInverterOffer, ...] = ()
    repair_days: float = REPAIR_DAYS

    @property
    def module_count(self) -> int:
        """Modules on all faces."""
        return sum(face.module_count for face in self.faces)

    def units_with(self, module: ModuleOffer) -> tuple[UnitOffer, ...]:
        """The candidates, each with its system for this module."""
        systems = [self.systems.get((module.module.name, unit.microinverter.name)) for unit in self.units]
        return tuple(
            unit if system is None else replace(unit, system=system) for unit, system in zip(self.units, systems, strict=True)
        )

    @property
    def has_money(self) -> bool:
        """Whether there is a tariff and every price that ranking needs: with a single module its price does not matter."""
        several = len(self.modules) > 1
        return (
            self.tariff is not None
            and all(unit.price is not None for unit in self.units)
            and not (several and any(offer.price is None for offer in self.modules))
        )

    def money(self, amount: float) -> Sentence:
        """An amount in words, with its currency where known."""
        return AMOUNT(amount=amount) if self.currency is None else AMOUNT_IN(amount=amount, currency=self.currency)

    def failure_rate(self, unit: UnitOffer) -> float | None:
        """The unit's own yearly failure rate, else the request's, else None."""
        own = unit.failure_share_per_year
        return self.terms.failure_share_per_year if own is None else own


@dataclass(frozen=True, slots=True, eq=False)
class RoofTerms:
    """One module on the roof, with the terms; implements `lifetime_energy.Roof`."""

    dc: RoofDc
    counts: FloatArray
    remaining: FloatArray
    household: Household
    input_wiring: InputWiring

    @classmethod
    def of(cls, request: SelectionRequest, dc: RoofDc) -> RoofTerms:
        """The roof of a request with one module's DC response."""
        return cls(
            dc=dc,
            counts=np.array([float(face.module_count) for face in request.faces]),
            remaining=remaining_shares(request.terms.degradation_share_per_year, request.terms.horizon_years),
            household=Household.of(request.home_use, request.tariff, dc.time),
            input_wiring=request.input_wiring,
        )


@dataclass(frozen=True, slots=True)
class UnitCost:
    """Present value of the cost of one unit over the horizon: `factor` x price + `rest`.

    The factor is 1 plus the share of the price paid again after the warranty; the rest is the labour of visits.
    """

    price: float
    factor: float
    rest: float

    @property
    def total(self) -> float:
        """Price, replacements after the warranty, and labour."""
        return self.price * self.factor + self.rest


def unit_cost(request: SelectionRequest, unit: UnitOffer, failure_rate: float | None = None) -> UnitCost:
    """Cost of one unit at `failure_rate`; if None, at the unit's own rate or else the centre of the band."""
    assert unit.price is not None, "computed only where prices are known"
    terms = request.terms
    if failure_rate is None:
        own_rate = request.failure_rate(unit)
        failure_rate = BAND_CENTRE if own_rate is None else own_rate
    after_warranty, visits = _discounted_failures(failure_rate, terms.discount_rate, terms.horizon_years, unit.warranty_years)
    return UnitCost(unit.price, 1.0 + after_warranty, visits * terms.labour_per_visit)


@lru_cache(maxsize=256)
def _discounted_failures(failure_rate: float, discount_rate: float, years: int, warranty_years: int) -> tuple[float, float]:
    """Expected failures of one unit, each times its year's discount factor: those after the warranty, and all."""
    discounted = yearly_failures(failure_rate, years) * discount_factors(discount_rate, years)
    return float(discounted[warranty_years:].sum()), float(discounted.sum())


def worth_of(request: SelectionRequest) -> Worth:
    """Present value of a kilowatt-hour of each year."""
    assert request.tariff is not None, "computed only where prices are known"
    return Worth.of(request.tariff, request.terms.discount_rate, request.terms.horizon_years)


def units_on(face: Face, unit: UnitOffer, input_wiring: InputWiring) -> int:
    """Number of units on a face, rounded up."""
    return -(-face.module_count // unit.microinverter.module_capacity(input_wiring))
