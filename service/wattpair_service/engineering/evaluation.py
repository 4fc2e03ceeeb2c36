"""One pairing on a roof: its energy over the years, what that is worth, what it costs, and how sure its clipping is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.cash_flow import discount_factors
from wattpair_service.engineering.energy_balance import EnergyBalance, total
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.intra_hour import IntraHourSpread, clipped_share_range
from wattpair_service.engineering.lifetime_energy import LifetimeEnergy, Worth, lifetime_energy
from wattpair_service.engineering.pairing_power import PairingPower
from wattpair_service.engineering.selection_request import (
    ModuleOffer,
    RoofTerms,
    SelectionRequest,
    UnitCost,
    UnitOffer,
    unit_cost,
    units_on,
)

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Evaluated:
    """A pairing that passes its electrical checks, on this roof.

    Attributes
    ----------
    unit_counts : array
        Units on each face.
    clip_low, clip_high : array
        Ends of each face's clipping over its middle: 0.8 means a fifth less.
    cost : UnitCost or None
        Of one unit; None where there is no money.
    value : float
        Worth today of the roof's energy over the horizon; 0 where there is no money.
    face_values, lost_values : array
        Worth today of each face's energy by itself, and of what its AC limit costs
        behind the home's load and the connection.
    """

    module: ModuleOffer
    unit: UnitOffer
    unit_counts: FloatArray
    energy: LifetimeEnergy
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
        return total(list(self.energy.balances))

    @property
    def unit_count(self) -> int:
        """Units on the roof."""
        return int(self.unit_counts.sum())

    @property
    def price_today(self) -> float:
        """Price of all units today; 0 where there is no money."""
        return 0.0 if self.cost is None else self.unit_count * self.cost.price

    @property
    def units_cost(self) -> float:
        """What all units cost over the horizon, worth today."""
        return 0.0 if self.cost is None else self.unit_count * self.cost.total

    @property
    def useful_kwh(self) -> float:
        """Used at home or exported over the horizon, not discounted."""
        return float(self.energy.roof.useful_kwh.sum())


def evaluate(
    request: SelectionRequest,
    roof: RoofTerms,
    spread: IntraHourSpread,
    worth: Worth | None,
    module: ModuleOffer,
    unit: UnitOffer,
    power: PairingPower,
    hourly_ac_w: FloatArray,
) -> Evaluated:
    """Energy and money of one pairing, given its power and, from hourly means alone, its AC power before the AC limit.

    `worth` is None where there is no money.
    """
    energy = lifetime_energy(roof, power)
    by_means = roof.side.clipped_share_by_means(hourly_ac_w, power.limits.ac_power_w)
    shares = [balance.clipped_share for balance in energy.balances]
    ends = [
        clipped_share_range(share=share, hourly_share=float(means), spread=spread)
        for share, means in zip(shares, by_means, strict=True)
    ]
    face_values = lost_values = np.zeros(len(shares))
    value = 0.0
    if worth is not None:
        face_values, value = energy.faces.value(worth), float(energy.roof.value(worth))
        lost_values = energy.lost_faces.value(worth)
    return Evaluated(
        module=module,
        unit=unit,
        unit_counts=np.array([float(units_on(face, unit, request.modules_per_input)) for face in request.faces]),
        energy=energy,
        clip_low=np.array([low / share if share > 0.0 else 1.0 for (low, _), share in zip(ends, shares, strict=True)]),
        clip_high=np.array([high / share if share > 0.0 else 1.0 for (_, high), share in zip(ends, shares, strict=True)]),
        cost=unit_cost(request, unit) if request.has_money else None,
        value=value,
        face_values=face_values,
        lost_values=lost_values,
    )


def common_cost(request: SelectionRequest, module: ModuleOffer) -> float:
    """What no choice of microinverter changes, worth today: modules, maintenance and the rest."""
    terms = request.terms
    maintenance = terms.maintenance_per_year
    if maintenance:
        maintenance *= float(discount_factors(terms.discount_rate, terms.horizon_years).sum())
    modules = sum(face.module_count for face in request.faces)
    return modules * (module.price or 0.0) + terms.other_cost + maintenance


def net_present_value_of(request: SelectionRequest, pairing: Evaluated) -> float:
    """Net present value of the roof with this pairing."""
    return pairing.value - pairing.units_cost - common_cost(request, pairing.module)
