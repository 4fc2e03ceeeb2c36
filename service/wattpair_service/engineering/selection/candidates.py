"""The result of each candidate: verdict, energy, money and expected replacements."""

from __future__ import annotations

from dataclasses import dataclass

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.clipping import delivered_range
from wattpair_service.engineering.energy.energy_balance import EnergyBalance
from wattpair_service.engineering.energy.system_losses import LossesKwh
from wattpair_service.engineering.inverter.electrical_checks import ElectricalCheck, Verdict
from wattpair_service.engineering.money.replacements import Replacements, replacements
from wattpair_service.engineering.results import Range
from wattpair_service.engineering.selection.break_even import LIFETIME_UNCERTAINTY_SHARE
from wattpair_service.engineering.selection.candidate_money import LIFETIME_COVERS, CandidateMoney
from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.selection.request import ModuleOffer, SelectionRequest, SystemTerms, UnitOffer, units_on
from wattpair_service.engineering.site import ClimateUsed


@dataclass(frozen=True, slots=True, eq=False)
class CandidateEnergy:
    """Energy of one candidate on the whole roof; from `used_at_home_kwh` on that of the first year.

    `first_year` and `delivered_*` are at the terminals of the units; all else is at the meter, after the `losses` of the first
    year. `cut_kwh` is what the export limit cuts. Shares are 0-1: used at home of the energy at the meter, and of the household
    load (`self_sufficiency_share`). Without a household load, what needs it is None.
    """

    first_year: EnergyBalance
    delivered_range_kwh: Range
    losses: LossesKwh
    at_meter_kwh: float
    at_meter_range_kwh: Range
    lifetime_kwh: float
    lifetime_range_kwh: Range
    delivered_kwh_by_year: FloatArray
    at_meter_kwh_by_year: FloatArray
    used_at_home_kwh: float
    exported_kwh: float
    cut_kwh: float
    imported_kwh: float | None
    used_at_home_share: float
    self_sufficiency_share: float | None
    used_at_home_kwh_by_month: FloatArray
    exported_kwh_by_month: FloatArray
    imported_kwh_by_month: FloatArray | None


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """One pairing. `rank` starts at 1; it is None, like energy, money and replacements, where the pairing must not be built.

    That is where the verdict is "fail", or where its cold voltage waits for the site's own record low.
    """

    module: str
    microinverter: str
    verdict: Verdict
    reasons: tuple[ElectricalCheck, ...]
    rank: int | None
    unit_count: int
    mass_kg: float
    warranty_years: int
    system: SystemTerms
    energy: CandidateEnergy | None
    money: CandidateMoney | None
    replacements: Replacements | None


@dataclass(frozen=True, slots=True, eq=False)
class Checked:
    """A pairing with its electrical checks, and its evaluation where it may be built."""

    module: ModuleOffer
    unit: UnitOffer
    verdict: Verdict
    checks: tuple[ElectricalCheck, ...]
    evaluated: Evaluated | None


def candidate(
    request: SelectionRequest, climate: ClimateUsed, checked: Checked, rank: int | None, money: CandidateMoney | None
) -> Candidate:
    """Result of a pairing; `rank` is None where it must not be built, `money` there and where prices are missing."""
    unit, pairing = checked.unit, checked.evaluated
    count = sum(units_on(face, unit, request.input_wiring) for face in request.faces)
    return Candidate(
        module=checked.module.module.name,
        microinverter=unit.microinverter.name,
        verdict=checked.verdict,
        reasons=tuple(check for check in checked.checks if check.verdict != "ok"),
        rank=rank,
        unit_count=count,
        mass_kg=count * unit.microinverter.mass_kg,
        warranty_years=unit.warranty_years,
        system=unit.system,
        energy=None if pairing is None else _energy(pairing, climate),
        money=money,
        replacements=(
            None if pairing is None else replacements(count, request.failure_rate(unit), request.terms.horizon_years)
        ),
    )


def _energy(pairing: Evaluated, climate: ClimateUsed) -> CandidateEnergy:
    balance, split = pairing.balance, pairing.energy.roof
    by_year, night_kwh = pairing.energy.delivered_kwh.sum(axis=0), pairing.energy.night_kwh
    at_meter_by_year = pairing.losses.kept * (by_year + night_kwh) - night_kwh
    losses = pairing.losses.lost(balance.delivered_kwh + balance.night_draw_kwh)
    at_meter_kwh = balance.delivered_kwh - losses.total_kwh
    lifetime_kwh, months = float(at_meter_by_year.sum()), pairing.energy.months
    home_kwh = float(split.home_kwh[0])
    load_kwh = 0.0 if months.load_kwh is None else float(months.load_kwh.sum())
    return CandidateEnergy(
        first_year=balance,
        delivered_range_kwh=delivered_range(balance.delivered_kwh, climate),
        losses=losses,
        at_meter_kwh=at_meter_kwh,
        at_meter_range_kwh=delivered_range(at_meter_kwh, climate),
        lifetime_kwh=lifetime_kwh,
        lifetime_range_kwh=_lifetime_range(lifetime_kwh),
        delivered_kwh_by_year=by_year,
        at_meter_kwh_by_year=at_meter_by_year,
        used_at_home_kwh=home_kwh,
        exported_kwh=float(split.exported_kwh[0]),
        cut_kwh=float(split.cut_kwh[0]),
        imported_kwh=None if months.imported_kwh is None else float(months.imported_kwh.sum()),
        used_at_home_share=max(home_kwh, 0.0) / at_meter_kwh if at_meter_kwh > 0.0 else 0.0,
        self_sufficiency_share=max(home_kwh, 0.0) / load_kwh if load_kwh > 0.0 else None,
        used_at_home_kwh_by_month=months.home_kwh,
        exported_kwh_by_month=months.exported_kwh,
        imported_kwh_by_month=months.imported_kwh,
    )


def _lifetime_range(lifetime_kwh: float) -> Range:
    half_width = LIFETIME_UNCERTAINTY_SHARE * abs(lifetime_kwh)
    return Range(lifetime_kwh, lifetime_kwh - half_width, lifetime_kwh + half_width, LIFETIME_COVERS)
