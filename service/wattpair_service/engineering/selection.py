"""Which microinverter to buy for a roof: every candidate's checks, energy and money, and the recommendation."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering import findings
from wattpair_service.engineering.break_even import BreakEven, break_evens
from wattpair_service.engineering.cash_flow import discount_factors, payback_years, rate_of_return
from wattpair_service.engineering.clipping import delivered_range
from wattpair_service.engineering.conditions import Conditions
from wattpair_service.engineering.electrical_checks import (
    DesignTemperatures,
    ElectricalCheck,
    ElectricalRules,
    Verdict,
    check_pairing,
    verdict_of,
)
from wattpair_service.engineering.energy_balance import EnergyBalance
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.evaluation import Evaluated, common_cost, evaluate, net_present_value_of
from wattpair_service.engineering.export_limit import ExportLimit, export_limit
from wattpair_service.engineering.intra_hour import IntraHourSpread
from wattpair_service.engineering.mixed_choice import MixedChoice, mixed_choice
from wattpair_service.engineering.plane_of_array import PlaneOfArray
from wattpair_service.engineering.recommendation import Recommendation, ranking, recommendation, scores
from wattpair_service.engineering.replacements import BAND_CENTRE, Replacements, replacements, yearly_failures
from wattpair_service.engineering.roof_side import face_planes, roof_side
from wattpair_service.engineering.selection_findings import (
    AGEING,
    BREAK_EVEN,
    FAILURES,
    MONEY,
    MONTHLY_LOAD,
    NO_MODULE_PRICE,
    NO_MONEY,
    NO_RATE,
    assumptions,
)
from wattpair_service.engineering.selection_request import (
    ModuleOffer,
    RoofTerms,
    SelectionRequest,
    UnitOffer,
    units_on,
    worth_of,
)
from wattpair_service.engineering.sensitivity import Sensitivity, sensitivities
from wattpair_service.engineering.single_diode import SixParameters, fit

FloatArray = npt.NDArray[np.float64]


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
    lifetime_cost: float
    lifetime_cost_per_kwh: float | None
    step_up: StepUp


@dataclass(frozen=True, slots=True, eq=False)
class CandidateEnergy:
    """Energy of one candidate on the whole roof; the three last are of the first year, behind the connection."""

    first_year: EnergyBalance
    delivered_range_kwh: findings.Range
    lifetime_kwh: float
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


@dataclass(frozen=True, slots=True)
class Change:
    """What would have to change for a failing pairing to pass: the check's value must come to its limit."""

    module: str
    microinverter: str
    check: str
    value: float
    limit: float
    unit: str
    sentence: str


@dataclass(frozen=True, slots=True, eq=False)
class SelectionResult(findings.Result):
    """Recommendation first; candidates in the order of the request, module by module."""

    ranked_by: str
    recommendation: Recommendation
    candidates: tuple[Candidate, ...]
    break_evens: tuple[BreakEven, ...]
    mixed_choices: tuple[MixedChoice, ...]
    sensitivities: tuple[Sensitivity, ...]
    export_limit: ExportLimit | None
    what_would_have_to_change: tuple[Change, ...]
    climate: findings.ClimateUsed
    design_temperatures: DesignTemperatures
    place: str
    edition: str


@dataclass(frozen=True, slots=True, eq=False)
class _Checked:
    """A pairing with its checks, and its evaluation where it passes."""

    module: ModuleOffer
    unit: UnitOffer
    verdict: Verdict
    checks: tuple[ElectricalCheck, ...]
    evaluated: Evaluated | None


def selection(
    request: SelectionRequest,
    rules: ElectricalRules,
    design: DesignTemperatures,
    conditions: Conditions,
    spread: IntraHourSpread,
    *,
    climate: findings.ClimateUsed,
    planes: tuple[PlaneOfArray, ...] | None = None,
) -> SelectionResult:
    """Compare every candidate on every module.

    Parameters
    ----------
    request : SelectionRequest
        At least one module, candidate and face.
    rules, design
        The region's, and the site's extremes.
    conditions, spread, climate
        The site's year, what happens inside its hours, and where it comes from.
    planes : tuple of PlaneOfArray, optional
        Light on each face, where it is known already.

    Raises
    ------
    DatasheetError
        A module that no single diode can represent.
    """
    planes = planes or face_planes(conditions, request.faces, request.transposition)
    checked: list[_Checked] = []
    roofs: list[tuple[RoofTerms, list[Evaluated]]] = []
    mixed: list[MixedChoice] = []
    names = tuple(face.name for face in request.faces)
    worth = worth_of(request) if request.has_money else None
    for number, module in enumerate(request.modules):
        try:
            parameters = fit(module.module)
        except DatasheetError as error:
            raise error.within(f"modules/{number}/module") from error
        side = roof_side(
            conditions, spread, faces=request.faces, planes=planes, module=module.module, parameters=parameters,
            transposition=request.transposition,
        )  # fmt: skip
        roof = RoofTerms.of(request, side)
        passing = []
        for unit in request.units:
            checks = _checks(request, rules, design, module, unit, parameters)
            verdict = verdict_of(checks)
            evaluated = None if verdict == "fail" else evaluate(request, roof, spread, worth, module, unit)
            checked.append(_Checked(module, unit, verdict, checks, evaluated))
            passing += [] if evaluated is None else [evaluated]
        roofs.append((roof, passing))
        if worth is not None:
            choice = mixed_choice(passing, names, request.terms.second_kind_cost)
            mixed += [] if choice is None else [choice]
    even: tuple[BreakEven, ...] = ()
    if worth is not None:
        everyone = [pairing for _, passing in roofs for pairing in passing]
        best = everyone[ranking(request, everyone)[0]] if everyone and not request.every_pair else None
        for roof, passing in roofs:
            even += break_evens(roof, worth, passing, names, beside=best)
    return _result(request, rules, design, climate, checked, even, tuple(mixed))


def _checks(
    request: SelectionRequest,
    rules: ElectricalRules,
    design: DesignTemperatures,
    module: ModuleOffer,
    unit: UnitOffer,
    parameters: SixParameters,
) -> tuple[ElectricalCheck, ...]:
    return check_pairing(
        module=module.module,
        parameters=parameters,
        microinverter=unit.microinverter,
        temp_lowest_c=design.lowest_c,
        temp_highest_c=design.highest_c,
        mountings=frozenset(face.mounting for face in request.faces),
        rules=rules,
        by_table=False,
        modules_per_input=request.modules_per_input,
        site_light={},  # a ratio is never a reason to refuse
    )


def _result(
    request: SelectionRequest,
    rules: ElectricalRules,
    design: DesignTemperatures,
    climate: findings.ClimateUsed,
    checked: list[_Checked],
    even: tuple[BreakEven, ...],
    mixed: tuple[MixedChoice, ...],
) -> SelectionResult:
    passing = [each.evaluated for each in checked if each.evaluated is not None]
    verdicts = [each.verdict for each in checked if each.evaluated is not None]
    order = ranking(request, passing)
    rank = {id(passing[index]): place for place, index in enumerate(order, start=1)}
    modules = sum(face.module_count for face in request.faces)
    cheapest = min(
        passing,
        key=lambda each: (each.price_today + modules * (each.module.price or 0.0), -each.useful_kwh),
        default=None,
    )
    money = request.has_money
    free_modules = money and any(offer.price is None for offer in request.modules)
    no_rate = any(request.failure_rate(unit) is None for unit in request.units)
    found = SelectionResult(
        ranked_by="net present value" if money else "energy",
        recommendation=recommendation(request, passing, order, verdicts) if passing else _none_passes(),
        candidates=tuple(_candidate(request, climate, each, rank, cheapest) for each in checked),
        break_evens=even,
        mixed_choices=mixed,
        sensitivities=sensitivities(request, passing, order, scores(request, passing)) if money and len(order) > 1 else (),
        export_limit=export_limit(passing, request.home_use.export_limit_w),
        what_would_have_to_change=() if passing else tuple(_changes(checked)),
        climate=climate,
        design_temperatures=design,
        place=rules.place,
        edition=rules.edition,
        cautions=(
            *findings.ENERGY_CAUTIONS,
            *(each for each in findings.ELECTRICAL_CAUTIONS if each not in findings.ENERGY_CAUTIONS),
            *(() if money else (NO_MONEY,)),
            *((NO_MODULE_PRICE,) if free_modules else ()),
            *((NO_RATE,) if no_rate else ()),
            *(() if request.home_use.load_w is None else (MONTHLY_LOAD,)),
        ),
        method=(
            findings.SUN_POSITION,
            findings.TRANSPOSITIONS[request.transposition],
            findings.REFLECTION,
            findings.CELL_TEMPERATURE,
            findings.SINGLE_DIODE,
            findings.INTRA_HOUR,
            findings.CONVERSION,
            findings.ENERGY_BALANCE,
            AGEING,
            FAILURES,
            *((MONEY, BREAK_EVEN) if money else ()),
        ),
    )
    return replace(found, assumptions=tuple(assumptions(request, no_rate=no_rate, free_modules=free_modules)))


def _none_passes() -> Recommendation:
    sentence = "No candidate passes its electrical checks on this roof; see what would have to change."
    return Recommendation("none_passes", sentence, None, None, None, None, None, (), ())


def _candidate(
    request: SelectionRequest,
    climate: findings.ClimateUsed,
    checked: _Checked,
    rank: dict[int, int],
    cheapest: Evaluated | None,
) -> Candidate:
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
        rank=None if pairing is None else rank[id(pairing)],
        unit_count=count,
        mass_kg=count * unit.microinverter.mass_kg,
        warranty_years=unit.warranty_years,
        energy=None if pairing is None else _energy(pairing, climate),
        money=None if pairing is None or cheapest is None or not request.has_money else _money(request, pairing, cheapest),
        replacements=failures,
    )


def _energy(pairing: Evaluated, climate: findings.ClimateUsed) -> CandidateEnergy:
    balance, split = pairing.balance, pairing.energy.roof
    by_year = pairing.energy.delivered_kwh.sum(axis=0)
    return CandidateEnergy(
        first_year=balance,
        delivered_range_kwh=delivered_range(balance.delivered_kwh, climate),
        lifetime_kwh=float(by_year.sum()),
        delivered_kwh_by_year=by_year,
        used_at_home_kwh=float(split.home_kwh[0]),
        exported_kwh=float(split.exported_kwh[0]),
        cut_kwh=float(split.cut_kwh[0]),
    )


def _money(request: SelectionRequest, pairing: Evaluated, cheapest: Evaluated) -> CandidateMoney:
    terms = request.terms
    cost = pairing.units_cost + common_cost(request, pairing.module)
    discounted = float(pairing.energy.roof.useful_kwh @ discount_factors(terms.discount_rate, terms.horizon_years))
    modules = sum(face.module_count for face in request.faces)
    extra_modules = modules * ((pairing.module.price or 0.0) - (cheapest.module.price or 0.0))
    extra = pairing.price_today - cheapest.price_today + extra_modules
    gained = _yearly_benefits(request, pairing) - _yearly_benefits(request, cheapest)
    discount = discount_factors(terms.discount_rate, terms.horizon_years)
    return CandidateMoney(
        units_price=pairing.price_today,
        net_present_value=net_present_value_of(request, pairing),
        lifetime_cost=cost,
        lifetime_cost_per_kwh=cost / discounted if discounted > 0.0 and pairing.module.price is not None else None,
        step_up=StepUp(
            extra_cost=extra,
            extra_energy_kwh=pairing.useful_kwh - cheapest.useful_kwh,
            simple_payback_years=payback_years(extra, gained),
            discounted_payback_years=payback_years(extra, gained * discount),
            rate_of_return=rate_of_return([-extra, *gained]) if extra > 0.0 else None,
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


def _changes(checked: list[_Checked]) -> list[Change]:
    """The failing checks of the pairings, those with the fewest failures first."""
    failing = [(each, [check for check in each.checks if check.verdict == "fail"]) for each in checked]
    found = []
    for each, checks in sorted(failing, key=lambda pair: len(pair[1])):
        module, unit = each.module.module.name, each.unit.microinverter.name
        for check in checks:
            assert check.limit is not None, "a check without limit cannot fail"
            way = "at most" if check.value > check.limit else "at least"
            sentence = (
                f"{unit} on {module}: {check.name} is {check.value:.4g} {check.unit} and must be {way} "
                f"{check.limit:.4g} {check.unit}."
            )
            found.append(Change(module, unit, check.name, check.value, check.limit, check.unit, sentence))
    return found
