"""Which microinverter to buy for a roof: every candidate's checks, energy and money, and the recommendation."""

from __future__ import annotations

from dataclasses import dataclass, replace

from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.roof_dc import roof_dc
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.inverter.electrical_checks import ElectricalCheck, ElectricalRules, check_pairing, verdict_of
from wattpair_service.engineering.module.single_diode import SixParameters, fit
from wattpair_service.engineering.results import Result
from wattpair_service.engineering.selection.break_even import BreakEven, break_evens
from wattpair_service.engineering.selection.candidate_money import candidate_moneys
from wattpair_service.engineering.selection.candidates import Candidate, Checked, candidate
from wattpair_service.engineering.selection.evaluation import Evaluated, evaluated
from wattpair_service.engineering.selection.export_limit import ExportLimit, export_limit
from wattpair_service.engineering.selection.mixed_choice import MixedChoice, mixed_choice
from wattpair_service.engineering.selection.notes import (
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
class SelectionResult(Result):
    """Recommendation first; candidates in the order of the request, module by module."""

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
        Of this year and the request's transposition, where other parts of an answer look at the same faces.

    Raises
    ------
    DatasheetError
        A module that no single diode can represent.
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
        judged = [(unit, checks, verdict_of(checks)) for unit, checks in pairs]
        passing = evaluated(request, roof, states, worth, module, [unit for unit, _, verdict in judged if verdict != "fail"])
        found = iter(passing)
        checked += [
            Checked(module, unit, verdict, checks, None if verdict == "fail" else next(found))
            for unit, checks, verdict in judged
        ]
        roofs.append((roof, passing))
        if worth is not None:
            choice = mixed_choice(passing, names, request.terms.second_kind_cost)
            mixed += [] if choice is None else [choice]
    everyone = [pairing for _, passing in roofs for pairing in passing]
    ranked = ranking(request, everyone)
    even: tuple[BreakEven, ...] = ()
    if worth is not None:
        best = everyone[ranked.best] if everyone and not request.every_pair else None
        for roof, passing in roofs:
            even += break_evens(roof, worth, passing, names, beside=best)
    return _result(request, rules, year, checked, ranked, even, tuple(mixed))


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
        site_irradiance_w_m2={},  # a ratio is never a reason to refuse
    )


def _result(
    request: SelectionRequest,
    rules: ElectricalRules,
    year: SiteYear,
    checked: list[Checked],
    ranked: Ranking,
    even: tuple[BreakEven, ...],
    mixed: tuple[MixedChoice, ...],
) -> SelectionResult:
    passing, money = ranked.passing, request.has_money
    free_modules = money and any(offer.price is None for offer in request.modules)
    no_rate = any(request.failure_rate(unit) is None for unit in request.units)
    flows = YearlyFlows.of(request, passing) if money and passing else None
    moneys = [None] * len(passing) if flows is None else candidate_moneys(request, ranked, flows)
    verdicts = [each.verdict for each in checked if each.evaluated is not None]
    told = zip(ranked.places, moneys, strict=True)
    found = SelectionResult(
        ranked_by="net present value" if money else "energy",
        recommendation=recommendation(request, ranked, verdicts) if passing else _none_passes(),
        candidates=tuple(
            candidate(request, year.climate, each, *((None, None) if each.evaluated is None else next(told)))
            for each in checked
        ),
        break_evens=even,
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
            *(() if money else (NO_MONEY,)),
            *((NO_MODULE_PRICE,) if free_modules else ()),
            *((NO_RATE,) if no_rate else ()),
            *(() if request.home_use.load_w is None else (MONTHLY_LOAD,)),
        ),
        method=(
            methods.SUN_POSITION,
            methods.TRANSPOSITIONS[request.transposition],
            methods.REFLECTION,
            methods.CELL_TEMPERATURE,
            methods.SINGLE_DIODE,
            methods.SUBHOURLY,
            methods.CONVERSION,
            methods.ENERGY_BALANCE,
            AGEING,
            FAILURES,
            *((MONEY, BREAK_EVEN) if money else ()),
        ),
    )
    return replace(found, assumptions=tuple(assumptions(request, no_rate=no_rate, free_modules=free_modules)))


def _none_passes() -> Recommendation:
    sentence = "No candidate passes its electrical checks on this roof; see what would have to change."
    return Recommendation("none_passes", sentence, None, None, None, None, None, (), ())


def _changes(checked: list[Checked]) -> list[Change]:
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
