"""One pairing on a roof: lifetime energy and its present value, cost, and the range of its clipping."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.energy_balance import EnergyBalance
from wattpair_service.engineering.energy.lifetime_energy import LifetimeEnergy, Worth, lifetime_energy
from wattpair_service.engineering.energy.system_losses import LossShares, at_meter
from wattpair_service.engineering.equipment import InputWiring, Module
from wattpair_service.engineering.irradiance.subhourly import SubhourlyStates, clipped_share_range
from wattpair_service.engineering.money.cash_flow import discount_factors
from wattpair_service.engineering.selection.request import (
    ModuleOffer,
    RoofTerms,
    SelectionRequest,
    UnitCost,
    UnitOffer,
    unit_cost,
    units_on,
)


@dataclass(frozen=True, slots=True, eq=False)
class Evaluated:
    """A pairing that passes its electrical checks, on this roof.

    Attributes
    ----------
    unit_counts : array
        Units on each face.
    unit_count : int
        Units on the roof.
    energy : LifetimeEnergy
        Its splits are those at the meter.
    losses : LossShares
        Lost between the single module with its unit and the meter.
    useful_kwh : float
        Energy used at home or exported over the horizon, not discounted.
    clip_low, clip_high : array
        Ends of the range of each face's clipping, relative to its value: 0.8 means a fifth less.
    cost : UnitCost or None
        Of one unit; None where prices are missing.
    value : float
        Present value of the roof's energy over the horizon; 0 where prices are missing.
    face_values, lost_values : array
        Present value of each face's energy by itself, and of the energy that its AC power limit loses, by the household load
        and the export limit.
    """

    module: ModuleOffer
    unit: UnitOffer
    unit_counts: FloatArray
    unit_count: int
    energy: LifetimeEnergy
    losses: LossShares
    useful_kwh: float
    clip_low: FloatArray
    clip_high: FloatArray
    cost: UnitCost | None
    value: float
    face_values: FloatArray
    lost_values: FloatArray

    @property
    def name(self) -> str:
        """The microinverter's name."""
        return self.unit.microinverter.name

    @property
    def panel(self) -> Module:
        """The module."""
        return self.module.module

    @property
    def balance(self) -> EnergyBalance:
        """First year of the whole roof."""
        return self.energy.balance

    @property
    def price_today(self) -> float:
        """Price of all units today; 0 where prices are missing."""
        return 0.0 if self.cost is None else self.unit_count * self.cost.price

    @property
    def units_cost(self) -> float:
        """Present value of what all units cost over the horizon; 0 where prices are missing."""
        return 0.0 if self.cost is None else self.unit_count * self.cost.total

    @property
    def plant_cost(self) -> float:
        """Balance of plant and grid connection; 0 where prices are missing."""
        return 0.0 if self.cost is None else self.unit.system.cost

    @property
    def plant_by_face(self) -> FloatArray:
        """`plant_cost` shared out over the faces by their units."""
        return self.plant_cost * self.unit_counts / self.unit_count

    @property
    def own_cost(self) -> float:
        """Present value of all costs that depend on the microinverter."""
        return self.units_cost + self.plant_cost


def evaluated(
    request: SelectionRequest,
    roof: RoofTerms,
    states: SubhourlyStates,
    worth: Worth | None,
    module: ModuleOffer,
    units: Sequence[UnitOffer],
) -> list[Evaluated]:
    """Energy and money of each microinverter on one module; `worth` is None where prices are missing."""
    if not units:
        return []
    # Equal microinverters share one calculation: if their last digits differed, rounding would rank them.
    kinds = [_kind(unit, roof.input_wiring) for unit in units]
    energies = {kind: _energy(request, roof, unit) for kind, unit in dict(zip(kinds, units, strict=True)).items()}
    clip_ends = {kind: _clip_ends(energy, states) for kind, (energy, _) in energies.items()}
    has_money, zeros = request.has_money, np.zeros(len(request.faces))
    results = []
    for unit, kind in zip(units, kinds, strict=True):
        (clip_low, clip_high), (energy, losses) = clip_ends[kind], energies[kind]
        counts = [units_on(face, unit, request.input_wiring) for face in request.faces]
        results.append(
            Evaluated(
                module=module,
                unit=unit,
                unit_counts=np.array(counts, dtype=np.float64),
                unit_count=sum(counts),
                energy=energy,
                losses=losses,
                useful_kwh=float(energy.roof.useful_kwh.sum()),
                clip_low=clip_low,
                clip_high=clip_high,
                cost=unit_cost(request, unit) if has_money else None,
                value=0.0 if worth is None else float(energy.roof.value(worth)),
                face_values=zeros if worth is None else energy.faces.value(worth),
                lost_values=zeros if worth is None else energy.lost_faces.value(worth),
            )
        )
    return results


def _energy(request: SelectionRequest, roof: RoofTerms, unit: UnitOffer) -> tuple[LifetimeEnergy, LossShares]:
    """Energy with a unit, its splits at the meter, and what is lost up to there."""

    def losses(mean_load: float) -> LossShares:
        return request.losses.shares(roof.input_wiring, unit.system.rated_cable_share, mean_load)

    energy = lifetime_energy(roof, unit.microinverter, lambda mean_load: losses(mean_load).kept_power)
    shares = losses(energy.mean_load)
    return at_meter(energy, shares.kept_hours), shares


def _kind(unit: UnitOffer, input_wiring: InputWiring) -> tuple[object, ...]:
    """The properties that its energy at the meter depends on."""
    microinverter = unit.microinverter
    limits = microinverter.per_module(input_wiring)
    own = microinverter.conversion, microinverter.derating, microinverter.tracker
    return limits, *own, unit.system.rated_cable_share


def _clip_ends(energy: LifetimeEnergy, states: SubhourlyStates) -> tuple[FloatArray, FloatArray]:
    """Low and high end of the range of each face's clipped share, relative to the share; 1 where nothing is clipped."""
    shares = np.array([balance.clipped_share for balance in energy.balances])
    pairs = zip(shares.tolist(), energy.clipped_share_hourly_means.tolist(), strict=True)
    ends = np.array([clipped_share_range(share=share, hourly_share=means, states=states) for share, means in pairs])
    low, high = (np.divide(end, shares, out=np.ones_like(shares), where=shares > 0.0) for end in ends.T)
    return low, high


def common_cost(request: SelectionRequest, module: ModuleOffer) -> float:
    """Present value of the costs that are the same for every microinverter: modules, maintenance and other costs."""
    terms = request.terms
    maintenance = terms.maintenance_per_year
    if maintenance:
        maintenance *= float(discount_factors(terms.discount_rate, terms.horizon_years).sum())
    return request.module_count * (module.price or 0.0) + (terms.other_cost or 0.0) + maintenance


def net_present_value_of(request: SelectionRequest, pairing: Evaluated) -> float:
    """Net present value of the roof with this pairing."""
    return pairing.value - pairing.own_cost - common_cost(request, pairing.module)
