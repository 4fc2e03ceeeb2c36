"""What is told of each candidate: its verdict, energy, money and expected replacements."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering import findings
from wattpair_service.engineering.break_even import LEVEL_SHARE
from wattpair_service.engineering.cash_flow import discount_factors, payback_years, rate_of_return
from wattpair_service.engineering.clipping import delivered_range
from wattpair_service.engineering.electrical_checks import ElectricalCheck, Verdict
from wattpair_service.engineering.energy_balance import EnergyBalance
from wattpair_service.engineering.evaluation import Evaluated, common_cost, net_present_value_of
from wattpair_service.engineering.recommendation import ROUNDING
from wattpair_service.engineering.replacements import (
    BAND_CENTRE,
    FAILURE_BAND,
    Replacements,
    replacements,
    yearly_failures,
)
from wattpair_service.engineering.selection_request import ModuleOffer, SelectionRequest, UnitOffer, unit_cost, units_on

FloatArray = npt.NDArray[np.float64]

LIFETIME_COVERS = f"{LEVEL_SHARE:.0%} more or less energy: 80 % of lifetimes (Thevenard and Pelland 2013)"


@dataclass(frozen=True, slots=True)
class StepUp:
    """From the cheapest candidate that passes to this one; paybacks are None where the step never pays itself.

    `rate_of_return` is that of the extra cost; None where nothing is spent more or no rate makes it even.
    """

    extra_cost: float
    extra_energy_kwh: float
    simple_payback_years: float | None
    discounted_payback_years: float | None
    rate_of_return: float | None


@dataclass(frozen=True, slots=True)
class CandidateMoney:
    """Money of one candidate over the horizon, worth today but for the price."""

    units_price: float
    net_present_value: float
    net_present_value_range: findings.Range
    lifetime_cost: float
    lifetime_cost_per_kwh: float | None
    step_up: StepUp


@dataclass(frozen=True, slots=True, eq=False)
class CandidateEnergy:
    """Energy of one candidate on the whole roof; the three last are of the first year, behind the connection."""

    first_year: EnergyBalance
    delivered_range_kwh: findings.Range
    lifetime_kwh: float
    lifetime_range_kwh: findings.Range
    delivered_kwh_by_year: FloatArray
    used_at_home_kwh: float
    exported_kwh: float
    cut_kwh: float


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """One pairing; `rank` from 1, None with everything after it where the verdict is "fail"."""

    module: str
    microinverter: str
    verdict: Verdict
    reasons: tuple[ElectricalCheck, ...]
    rank: int | None
    unit_count: int
    mass_kg: float
    warranty_years: int
    energy: CandidateEnergy | None
    money: CandidateMoney | None
    replacements: Replacements | None


@dataclass(frozen=True, slots=True, eq=False)
class Cheapest:
    """The cheapest pairing that passes, with the value of each year's energy less what failures cost, not discounted."""

    pairing: Evaluated
    yearly_benefits: FloatArray

    @classmethod
    def of(cls, request: SelectionRequest, passing: Sequence[Evaluated]) -> Cheapest | None:
        """Of those that pass, where there is money."""
        if not passing or not request.has_money:
            return None
        modules = sum(face.module_count for face in request.faces)
        found = min(passing, key=lambda each: (each.price_today + modules * (each.module.price or 0.0), -each.useful_kwh))
        return cls(found, _yearly_benefits(request, found))


@dataclass(frozen=True, slots=True, eq=False)
class Checked:
    """A pairing with its checks, and its evaluation where it passes."""

    module: ModuleOffer
    unit: UnitOffer
    verdict: Verdict
    checks: tuple[ElectricalCheck, ...]
    evaluated: Evaluated | None


def candidate(
    request: SelectionRequest,
    climate: findings.ClimateUsed,
    checked: Checked,
    rank: int | None,
    cheapest: Cheapest | None,
) -> Candidate:
    """What is told of a pairing; `rank` is None where it fails, `cheapest` where there is no money."""
    unit, pairing = checked.unit, checked.evaluated
    count = sum(units_on(face, unit, request.modules_per_input) for face in request.faces)
    reasons = tuple(check for check in checked.checks if check.verdict != "ok")
    failures = None
    if pairing is not None:
        failures = replacements(count, request.failure_rate(unit), request.terms.horizon_years)
    return Candidate(
        module=checked.module.module.name,
        microinverter=unit.microinverter.name,
        verdict=checked.verdict,
        reasons=reasons,
        rank=rank,
        unit_count=count,
        mass_kg=count * unit.microinverter.mass_kg,
        warranty_years=unit.warranty_years,
        energy=None if pairing is None else _energy(pairing, climate),
        money=None if pairing is None or cheapest is None else _money(request, pairing, cheapest),
        replacements=failures,
    )


def _energy(pairing: Evaluated, climate: findings.ClimateUsed) -> CandidateEnergy:
    balance, split = pairing.balance, pairing.energy.roof
    by_year = pairing.energy.delivered_kwh.sum(axis=0)
    return CandidateEnergy(
        first_year=balance,
        delivered_range_kwh=delivered_range(balance.delivered_kwh, climate),
        lifetime_kwh=float(by_year.sum()),
        lifetime_range_kwh=_lifetime_range(float(by_year.sum())),
        delivered_kwh_by_year=by_year,
        used_at_home_kwh=float(split.home_kwh[0]),
        exported_kwh=float(split.exported_kwh[0]),
        cut_kwh=float(split.cut_kwh[0]),
    )


def _lifetime_range(lifetime_kwh: float) -> findings.Range:
    swing = LEVEL_SHARE * abs(lifetime_kwh)
    return findings.Range(lifetime_kwh, lifetime_kwh - swing, lifetime_kwh + swing, LIFETIME_COVERS)


def _value_range(request: SelectionRequest, pairing: Evaluated) -> findings.Range:
    value, swing = net_present_value_of(request, pairing), LEVEL_SHARE * abs(pairing.value)
    if request.failure_rate(pairing.unit) is not None:
        return findings.Range(value, value - swing, value + swing, f"{LIFETIME_COVERS}; prices and tariff are held")
    few, many = (pairing.unit_count * unit_cost(request, pairing.unit, rate).total for rate in FAILURE_BAND)
    low, high = (value + pairing.units_cost - cost for cost in (many, few))
    return findings.Range(
        value, low - swing, high + swing, f"{LIFETIME_COVERS}, and failures over their band; prices and tariff are held"
    )


def _money(request: SelectionRequest, pairing: Evaluated, cheapest: Cheapest) -> CandidateMoney:
    terms, least = request.terms, cheapest.pairing
    discount = discount_factors(terms.discount_rate, terms.horizon_years)
    cost = pairing.units_cost + common_cost(request, pairing.module)
    discounted = float(pairing.energy.roof.useful_kwh @ discount)
    modules = sum(face.module_count for face in request.faces)
    extra_modules = modules * ((pairing.module.price or 0.0) - (least.module.price or 0.0))
    extra = pairing.price_today - least.price_today + extra_modules
    gained = _yearly_benefits(request, pairing) - cheapest.yearly_benefits
    gained[np.abs(gained) <= ROUNDING * np.abs(cheapest.yearly_benefits)] = 0.0
    return CandidateMoney(
        units_price=pairing.price_today,
        net_present_value=net_present_value_of(request, pairing),
        net_present_value_range=_value_range(request, pairing),
        lifetime_cost=cost,
        lifetime_cost_per_kwh=cost / discounted if discounted > 0.0 and pairing.module.price is not None else None,
        step_up=StepUp(
            extra_cost=extra,
            extra_energy_kwh=pairing.useful_kwh - least.useful_kwh,
            simple_payback_years=payback_years(extra, gained),
            discounted_payback_years=payback_years(extra, gained * discount),
            rate_of_return=rate_of_return([-extra, *gained.tolist()]) if extra > 0.0 else None,
        ),
    )


def _yearly_benefits(request: SelectionRequest, pairing: Evaluated) -> FloatArray:
    """Value of each year's energy less what failures cost in it, not discounted."""
    assert request.tariff is not None, "there is money"
    terms, tariff, split, unit = request.terms, request.tariff, pairing.energy.roof, pairing.unit
    grown = (1.0 + tariff.change_share_per_year) ** np.arange(float(terms.horizon_years))
    value = (split.home_kwh * tariff.import_price_per_kwh + split.exported_kwh * tariff.export_price_per_kwh) * grown
    rate = request.failure_rate(unit)
    failing = pairing.unit_count * yearly_failures(BAND_CENTRE if rate is None else rate, terms.horizon_years)
    each = np.full(terms.horizon_years, terms.labour_per_visit)
    each[unit.warranty_years :] += unit.price or 0.0
    return np.asarray(value - failing * each)
