"""Energy and cost of a string inverter on a roof, by the same models as a microinverter's.

The inverter is one unit with all modules: its strings are its inputs, and its AC limit is that of their sum. Optimisers hold
each module at its own maximum, so that an input then has one module.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.energy_balance import EnergyBalance
from wattpair_service.engineering.energy.home_use import Household
from wattpair_service.engineering.energy.lifetime_energy import LifetimeEnergy, lifetime_energy
from wattpair_service.engineering.energy.roof_dc import RoofDc
from wattpair_service.engineering.energy.system_losses import LossesKwh, LossShares, at_meter
from wattpair_service.engineering.equipment import ONE_MODULE, InputWiring, Microinverter
from wattpair_service.engineering.inverter.power_steps import power_steps
from wattpair_service.engineering.money.cash_flow import discount_factors, remaining_shares
from wattpair_service.engineering.money.replacements import BAND_CENTRE, yearly_failures
from wattpair_service.engineering.selection.request import ModuleOffer, SelectionRequest, Terms
from wattpair_service.engineering.strings.offer import ConversionBehind, DcPath, StringInverterOffer
from wattpair_service.engineering.strings.string_roof import StringRoof
from wattpair_service.engineering.strings.stringing import Stringing


@dataclass(frozen=True, slots=True, eq=False)
class _Terms:
    """The roof of an inverter with the terms of a selection; implements `lifetime_energy.Roof`."""

    dc: RoofDc
    counts: FloatArray
    remaining: FloatArray
    household: Household
    input_wiring: InputWiring


@dataclass(frozen=True, slots=True, eq=False)
class StringSystem:
    """A string inverter on the whole roof.

    `energy` and `losses` are as those of a microinverter; of the first year's conversion loss, `optimiser_kwh` is lost in the
    optimisers and `cable_kwh` in the DC cable. `orientation_kwh` is what mismatch and a local tracker take without any shade.
    `cost` is the present value of inverters and optimisers over the horizon, None where a price is missing.
    """

    offer: StringInverterOffer
    stringing: Stringing
    energy: LifetimeEnergy
    losses: LossShares
    orientation_kwh: float
    optimiser_kwh: float
    cable_kwh: float
    cost: float | None

    @property
    def balance(self) -> EnergyBalance:
        """First year at the inverter's terminals."""
        return self.energy.balance

    @property
    def lost(self) -> LossesKwh:
        """Lost between the terminals and the meter in the first year."""
        return self.losses.lost(self.balance.delivered_kwh + self.balance.night_draw_kwh)

    @property
    def at_meter_kwh(self) -> float:
        """Energy of the first year at the meter [kWh]."""
        return self.balance.delivered_kwh - self.lost.total_kwh


def string_system(
    request: SelectionRequest, module: ModuleOffer, roof: StringRoof, offer: StringInverterOffer, strings: Stringing
) -> StringSystem:
    """Energy and cost of an inverter with strings that can be built."""
    groups = tuple(each.modules for each in strings.strings)
    dc = roof.with_strings(groups) if offer.optimiser is None else roof.with_optimisers(groups)
    modules = sum(map(len, groups))
    path = DcPath.of(offer, module.module, groups)
    wiring = InputWiring(modules, "series")
    household = Household.of(request.home_use, request.tariff, dc.time)
    remaining = remaining_shares(request.terms.degradation_share_per_year, request.terms.horizon_years)
    terms = _Terms(dc, np.array([float(modules)]), remaining, household, wiring)
    unit = _as_unit(offer, path)
    mismatch_wiring = ONE_MODULE if offer.optimiser is not None else wiring

    def losses(mean_load: float) -> LossShares:
        return request.losses.shares(mismatch_wiring, offer.rated_ac_cable_share, mean_load)

    energy = lifetime_energy(terms, unit, lambda mean_load: losses(mean_load).kept_power)
    shares = losses(energy.mean_load)
    at_input_w = power_steps(dc.response, unit, input_wiring=wiring, module_count=modules).at_input_w * modules
    optimiser_kwh, cable_kwh = (
        float(each @ dc.response.weight_h) / 1000.0
        for each in (path.optimiser_loss_w(at_input_w), path.cable_loss_w(at_input_w))
    )
    return StringSystem(
        offer=offer,
        stringing=strings,
        energy=at_meter(energy, shares.kept_hours),
        losses=shares,
        orientation_kwh=0.0 if offer.optimiser is not None else _orientation_kwh(roof.without_shade(groups), unit, wiring),
        optimiser_kwh=optimiser_kwh,
        cable_kwh=cable_kwh,
        cost=system_cost(request, offer, modules),
    )


def _orientation_kwh(clear: RoofDc | None, unit: Microinverter, wiring: InputWiring) -> float:
    """What strings over several faces lose without shade, by mismatch and by a local tracker [kWh]."""
    if clear is None:
        return 0.0
    response, modules = clear.response, wiring.modules_per_input
    assert response.shade is not None, "a string says what its modules would give alone"
    tracker = power_steps(response, unit, input_wiring=wiring, module_count=modules).tracker
    lost_wh = float((response.shade.unshaded_w - response.maximum_power.power_w) @ response.weight_h)
    lost_wh += float(tracker.power_w @ response.weight_h[tracker.index])
    return lost_wh * modules / 1000.0


def _as_unit(offer: StringInverterOffer, path: DcPath) -> Microinverter:
    """The inverter as a unit of the power steps; with optimisers its inputs have their limits."""
    unit = replace(offer.inverter, conversion=ConversionBehind(offer.inverter.conversion, path))
    if offer.optimiser is None:
        return unit
    return offer.optimiser.at_module(unit)


def replacement_years(life_years: float, horizon_years: int) -> list[int]:
    """Years at whose end an inverter that lives so long is replaced within the horizon."""
    years, count = [], 1
    while ceil(count * life_years) < horizon_years:
        years.append(max(ceil(count * life_years), 1))
        count += 1
    return years


def inverters_paid(terms: Terms, offer: StringInverterOffer) -> float:
    """Inverters paid at the price of the first, later ones by their years' discount factors.

    Only the first where later ones have a price of their own.
    """
    if offer.replacement_price is not None:
        return 1.0
    discount = discount_factors(terms.discount_rate, terms.horizon_years)
    years = replacement_years(offer.expected_life_years, terms.horizon_years)
    return 1.0 + sum(float(discount[year - 1]) for year in years if year > offer.warranty_years)


def system_cost(
    request: SelectionRequest, offer: StringInverterOffer, modules: int, life_years: float | None = None
) -> float | None:
    """Present value of inverters, visits and optimisers over the horizon; None where a price is missing."""
    terms = request.terms
    optimiser = offer.optimiser
    if offer.price is None or (optimiser is not None and optimiser.price is None):
        return None
    discount = discount_factors(terms.discount_rate, terms.horizon_years)
    replacement = offer.price if offer.replacement_price is None else offer.replacement_price
    cost = offer.price
    for year in replacement_years(offer.expected_life_years if life_years is None else life_years, terms.horizon_years):
        paid = replacement if year > offer.warranty_years else 0.0
        cost += float(discount[year - 1]) * (paid + terms.labour_per_visit)
    if optimiser is not None and optimiser.price is not None:
        rate = BAND_CENTRE if optimiser.failure_share_per_year is None else optimiser.failure_share_per_year
        failures = yearly_failures(rate, terms.horizon_years) * discount
        visits, after_warranty = float(failures.sum()), float(failures[optimiser.warranty_years :].sum())
        cost += modules * (optimiser.price * (1.0 + after_warranty) + visits * terms.labour_per_visit)
    return cost
