"""Selects a microinverter for a roof: every candidate's checks, energy and money, and the recommendation."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.roof_dc import roof_dc
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.inverter.electrical_checks import (
    SITE_RECORD_CHECK,
    ElectricalCheck,
    ElectricalRules,
    check_pairing,
    is_buildable,
    needs_site_record,
    verdict_of,
)
from wattpair_service.engineering.module.rear_irradiance import rear_current_factor
from wattpair_service.engineering.module.single_diode import SixParameters, fit
from wattpair_service.engineering.money.replacements import BAND_CENTRE, BAND_CENTRE_SOURCE
from wattpair_service.engineering.results import Assumption, Method, Result
from wattpair_service.engineering.selection.break_even import BreakEven, break_evens
from wattpair_service.engineering.selection.candidate_money import candidate_moneys
from wattpair_service.engineering.selection.candidates import Candidate, Checked, candidate
from wattpair_service.engineering.selection.evaluation import Evaluated, evaluated
from wattpair_service.engineering.selection.export_limit import ExportLimit, export_limit
from wattpair_service.engineering.selection.mixed_choice import MixedChoice, mixed_choice
from wattpair_service.engineering.selection.ranking import Ranking, ranking
from wattpair_service.engineering.selection.recommendation import Recommendation, recommendation
from wattpair_service.engineering.selection.request import (
    ModuleOffer,
    RoofTerms,
    SelectionRequest,
    UnitOffer,
    worth_of,
)
from wattpair_service.engineering.selection.sensitivity import Sensitivity, sensitivities
from wattpair_service.engineering.selection.yearly_flows import YearlyFlows
from wattpair_service.engineering.site import ClimateUsed, DesignTemperatures
from wattpair_service.engineering.site_year import SiteYear

MONEY = Method(
    "net present value", "1", "first cost today, yearly flows at the end of each year; capital recovery by the usual annuity"
)
FAILURES = Method("binomial failures", "1", "each unit with the same yearly rate, independently of the others")
BREAK_EVEN = Method("break-even over module power", "1", "the module's single diode scaled in current at constant voltages")
AGEING = Method(
    "clipping over the years", "1", "aged power before the AC power limit compared with the limit, at each condition"
)
NEEDS_SITE_RECORD = (
    "No candidate can be recommended yet: with the site's own record low as site.temp_lowest_c some may pass; see what would "
    "have to change."
)
NO_MONEY = (
    "A price or the tariff is missing: candidates are ranked by their energy over the horizon, and the result has no money."
)
NO_MODULE_PRICE = (
    "The module's price is missing: net present values and costs do not include the modules. Compare candidates by their "
    "differences only; there is no cost per kWh."
)
NO_RATE = (
    "No independent failure rate of microinverters is published: expected replacements are a band from 0.02 to 0.5 % a year; "
    "give your own rate."
)
MONTHLY_HOUSEHOLD_LOAD = (
    "The household load is a mean day of each month: the share used at home is overstated where the load varies between days."
)


@dataclass(frozen=True, slots=True)
class Change:
    """A check that keeps a pairing from being built: for it to pass, the check's value must reach its limit."""

    module: str
    microinverter: str
    check: str
    value: float
    limit: float
    unit: str
    sentence: str


@dataclass(frozen=True, slots=True, eq=False)
class SelectionResult(Result):
    """Result of a selection; candidates in the order of the request, module by module."""

    ranked_by: str
    recommendation: Recommendation
    candidates: tuple[Candidate, ...]
    break_evens: tuple[BreakEven, ...]
    mixed_choices: tuple[MixedChoice, ...]
    sensitivities: tuple[Sensitivity, ...]
    export_limit: ExportLimit | None
    what_would_have_to_change: tuple[Change, ...]
    climate: ClimateUsed
    design_temperatures: DesignTemperatures
    place: str
    edition: str


def selection(
    request: SelectionRequest,
    rules: ElectricalRules,
    year: SiteYear,
    *,
    cache: FaceCache | None = None,
) -> SelectionResult:
    """Compare every candidate on every module.

    Parameters
    ----------
    request : SelectionRequest
        At least one module, candidate and face.
    rules : ElectricalRules
        The region's.
    year : SiteYear
        The site's.
    cache : FaceCache, optional
        Of this year and the request's transposition; give it where other parts of the result need the same faces.

    Raises
    ------
    DatasheetError
        No single diode can represent a module.
    """
    cache = cache or FaceCache(year, request.transposition)
    checked: list[Checked] = []
    roofs: list[tuple[RoofTerms, list[Evaluated]]] = []
    mixed: list[MixedChoice] = []
    names = tuple(face.name for face in request.faces)
    worth = worth_of(request) if request.has_money else None
    states = cache.subhourly_states()
    for number, module in enumerate(request.modules):
        try:
            parameters = fit(module.module)
        except DatasheetError as error:
            raise error.within(f"modules/{number}/module") from error
        dc = roof_dc(cache, faces=request.faces, module=module.module, parameters=parameters)
        roof = RoofTerms.of(request, dc)
        pairs = [(unit, _checks(request, rules, year.design_temperatures, module, unit, parameters)) for unit in request.units]
        passing = evaluated(request, roof, states, worth, module, [unit for unit, checks in pairs if is_buildable(checks)])
        remaining = iter(passing)
        checked += [
            Checked(module, unit, verdict_of(checks), checks, next(remaining) if is_buildable(checks) else None)
            for unit, checks in pairs
        ]
        roofs.append((roof, passing))
        if worth is not None:
            choice = mixed_choice(passing, names, request.terms.second_kind_cost)
            mixed += [] if choice is None else [choice]
    all_passing = [pairing for _, passing in roofs for pairing in passing]
    ranked = ranking(request, all_passing)
    break_even_pairs: tuple[BreakEven, ...] = ()
    if worth is not None:
        best = all_passing[ranked.best] if all_passing and not request.every_pair else None
        for roof, passing in roofs:
            break_even_pairs += break_evens(roof, worth, passing, names, only_with=best)
    return _result(request, rules, year, checked, ranked, break_even_pairs, tuple(mixed))


def _checks(
    request: SelectionRequest,
    rules: ElectricalRules,
    design: DesignTemperatures,
    module: ModuleOffer,
    unit: UnitOffer,
    parameters: SixParameters,
) -> tuple[ElectricalCheck, ...]:
    mountings = frozenset(face.mounting for face in request.faces)
    return check_pairing(
        module=module.module,
        parameters=parameters,
        microinverter=unit.microinverter,
        design=design,
        mountings=mountings,
        rules=rules,
        by_table=False,
        input_wiring=request.input_wiring,
        site_irradiance_w_m2={},  # a DC to AC ratio never fails a pairing
        rear_current_factor=rear_current_factor(module.module.bifaciality, mountings, request.faces),
    )


def _result(
    request: SelectionRequest,
    rules: ElectricalRules,
    year: SiteYear,
    checked: list[Checked],
    ranked: Ranking,
    break_even_pairs: tuple[BreakEven, ...],
    mixed: tuple[MixedChoice, ...],
) -> SelectionResult:
    passing, has_money = ranked.passing, request.has_money
    no_module_price = has_money and any(offer.price is None for offer in request.modules)
    no_rate = any(request.failure_rate(unit) is None for unit in request.units)
    flows = YearlyFlows.of(request, passing) if has_money and passing else None
    moneys = [None] * len(passing) if flows is None else candidate_moneys(request, ranked, flows)
    verdicts = [each.verdict for each in checked if each.evaluated is not None]
    rank_and_money = zip(ranked.ranks, moneys, strict=True)
    result = SelectionResult(
        ranked_by="net present value" if has_money else "energy",
        recommendation=recommendation(request, ranked, verdicts) if passing else _none_passes(checked),
        candidates=tuple(
            candidate(request, year.climate, each, *((None, None) if each.evaluated is None else next(rank_and_money)))
            for each in checked
        ),
        break_evens=break_even_pairs,
        mixed_choices=mixed,
        sensitivities=sensitivities(request, ranked, flows) if flows is not None and len(passing) > 1 else (),
        export_limit=export_limit(passing, request.home_use.export_limit_w),
        what_would_have_to_change=() if passing else tuple(_changes(checked)),
        climate=year.climate,
        design_temperatures=year.design_temperatures,
        place=rules.place,
        edition=rules.edition,
        cautions=(
            *cautions.ENERGY_CAUTIONS,
            *(each for each in cautions.ELECTRICAL_CAUTIONS if each not in cautions.ENERGY_CAUTIONS),
            *(() if has_money else (NO_MONEY,)),
            *((NO_MODULE_PRICE,) if no_module_price else ()),
            *((NO_RATE,) if no_rate else ()),
            *(() if request.home_use.load_w is None else (MONTHLY_HOUSEHOLD_LOAD,)),
        ),
        method=(
            methods.TRANSPOSITIONS[request.transposition],
            methods.REFLECTION,
            methods.CELL_TEMPERATURE,
            methods.SINGLE_DIODE,
            methods.SUBHOURLY,
            methods.CONVERSION,
            methods.ENERGY_BALANCE,
            AGEING,
            FAILURES,
            *((MONEY, BREAK_EVEN) if has_money else ()),
        ),
    )
    return replace(result, assumptions=tuple(_assumptions(request, no_rate=no_rate, no_module_price=no_module_price)))


def _none_passes(checked: list[Checked]) -> Recommendation:
    sentence = "No candidate passes its electrical checks on this roof; see what would have to change."
    if any(needs_site_record(each.checks) and each.verdict != "fail" for each in checked):
        sentence = NEEDS_SITE_RECORD
    return Recommendation("none_passes", sentence, None, None, None, None, None, (), ())


def _changes(checked: list[Checked]) -> list[Change]:
    """The checks that keep pairings from being built, first of those with the fewest."""
    failing = [
        (pairing, [check for check in pairing.checks if check.verdict == "fail" or check.name == SITE_RECORD_CHECK])
        for pairing in checked
    ]
    changes = []
    for pairing, checks in sorted(failing, key=lambda pair: len(pair[1])):
        module, unit = pairing.module.module.name, pairing.unit.microinverter.name
        for check in checks:
            assert check.limit is not None, "a check without limit cannot fail"
            bound = "at most" if check.value > check.limit else "at least"
            sentence = (
                f"{unit} on {module}: {check.name} is {check.value:.4g} {check.unit} and must be {bound} "
                f"{check.limit:.4g} {check.unit}."
            )
            if check.name == SITE_RECORD_CHECK:
                sentence = f"{unit} on {module}: {check.explanation}"
            changes.append(Change(module, unit, check.name, check.value, check.limit, check.unit, sentence))
    return changes


def _assumptions(request: SelectionRequest, *, no_rate: bool, no_module_price: bool) -> Iterator[Assumption]:
    """Values assumed where the caller gave none, and what the calculation neglects."""
    if no_rate:
        yield Assumption("failure_percent_per_year", BAND_CENTRE * 100.0, "%", BAND_CENTRE_SOURCE)
    if no_module_price:
        source = "not given: values do not include the modules, whose cost is the same for every candidate"
        yield Assumption("modules/0/price", 0.0, None, source)
    yield Assumption("failures_of_a_unit_most", 1, None, "replacements count only the first failure of each unit")
    modules_per_unit = {unit.microinverter.input_count * request.input_wiring.modules_per_input for unit in request.units}
    if any(face.module_count % each for face in request.faces for each in modules_per_unit):
        source = "a face's last unit counts at its full price, and its energy as if all its inputs had modules"
        yield Assumption("unfilled_inputs", "neglected", None, source)
