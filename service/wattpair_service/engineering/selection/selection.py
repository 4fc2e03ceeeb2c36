"""Selects a microinverter for a roof: every candidate's checks, energy and money, and the recommendation."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.cautions import Caution, caution
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.home_use import HomeUse, split_by_share
from wattpair_service.engineering.energy.roof_dc import roof_dc
from wattpair_service.engineering.errors import DatasheetError, EngineeringError
from wattpair_service.engineering.inverter.electrical_checks import (
    CHECKS,
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
from wattpair_service.engineering.results import Assumption, Result
from wattpair_service.engineering.selection.break_even import BreakEven, break_evens
from wattpair_service.engineering.selection.candidate_money import candidate_moneys
from wattpair_service.engineering.selection.candidates import Candidate, Checked, candidate
from wattpair_service.engineering.selection.evaluation import Evaluated, evaluated
from wattpair_service.engineering.selection.export_limit import ExportLimit, export_limit
from wattpair_service.engineering.selection.mixed_choice import MixedChoice, mixed_choice
from wattpair_service.engineering.selection.ranking import Ranking, can_be_built, ranking
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
from wattpair_service.engineering.sentences import Given, Sentence, family, fixed, sentence
from wattpair_service.engineering.shade.scene_checks import require_possible, shade_cautions, unused_shade_fields
from wattpair_service.engineering.site import ClimateUsed, DesignTemperatures
from wattpair_service.engineering.site_year import SiteYear
from wattpair_service.engineering.strings.compared import StringCandidate, string_candidates, string_cautions

MONEY = methods.method("money", "1")
FAILURES = methods.method("failures", "1")
BREAK_EVEN = methods.method("break_even", "1")
AGEING = methods.method("ageing", "1")
SYSTEM_LOSSES = methods.method("system_losses", "1")
NEEDS_SITE_RECORD = fixed("recommendation.needs_site_record")
NONE_PASSES = fixed("recommendation.none_passes")
NO_MONEY = caution("no_money", "office", "estimate")
NO_MODULE_PRICE = caution("no_module_price", "office", "estimate")
NO_INSTALLATION = caution("no_installation", "office", "estimate")
PLANT_INCOMPLETE = caution("plant_incomplete", "office", "estimate")
PROCEDURES_DIFFER = caution("procedures_differ", "office", "connection")
NO_RATE = caution("no_rate", "office", "estimate")
MONTHLY_HOUSEHOLD_LOAD = caution("monthly_household_load", "office", "estimate")
LOAD_APART_FROM_SUN = caution("load_apart_from_sun", "office", "estimate")
CHANGE = sentence("change.of_a_limit", "unit", "module", "check", "value", "dimension", "bound", "limit")
CHANGE_OF_RECORD = sentence("change.of_the_record", "unit", "module", "check")
AT_MOST, AT_LEAST = fixed("change.at_most"), fixed("change.at_least")
MODULE_PRICE_LEFT_OUT = fixed("source.module_price_left_out")
PLANT_LEFT_OUT = fixed("source.plant_left_out")
FIRST_FAILURE = fixed("source.first_failure")
SAME_FOR_EVERY_CANDIDATE = fixed("source.same_for_every_candidate")
STANDARD_TIME_BY = sentence("source.standard_time_by", "source")
STANDARD_TIME, NO_WEEKDAYS = fixed("source.standard_time"), fixed("source.no_weekdays")
family(
    "name",
    (
        *("failure_percent_per_year", "price", "balance_of_plant", "failures_of_a_unit_most", "other_cost"),
        *("home_utc_offset_h", "first_weekday"),
    ),
)
family("value", ("monday",))


@dataclass(frozen=True, slots=True)
class Change:
    """A check that keeps a pairing from being built: for it to pass, the check's value must reach its limit."""

    module: str
    microinverter: str
    check: str
    value: float
    limit: float
    unit: str
    sentence: Sentence


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
    string_inverters: tuple[StringCandidate, ...]
    what_would_have_to_change: tuple[Change, ...]
    climate: ClimateUsed
    design_temperatures: DesignTemperatures
    place: Given
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
    EngineeringError
        Some candidates that can be built have a balance of plant and others have none; or shade contradicts itself or the
        modules.
    """
    _require_plants(request)
    require_possible(request.faces)
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
        units = request.units_with(module)
        pairs = [(unit, _checks(request, rules, year.design_temperatures, module, unit, parameters)) for unit in units]
        passing = evaluated(request, roof, states, worth, module, [unit for unit, checks in pairs if is_buildable(checks)])
        remaining = iter(passing)
        checked += [
            Checked(module, unit, verdict_of(checks), checks, next(remaining) if is_buildable(checks) else None)
            for unit, checks in pairs
        ]
        roofs.append((roof, passing))
        if worth is not None:
            choice = mixed_choice(_buildable(passing), names, request.terms.second_kind_cost)
            mixed += [] if choice is None else [choice]
    all_passing = [pairing for _, passing in roofs for pairing in passing]
    ranked = ranking(request, all_passing)
    break_even_pairs: tuple[BreakEven, ...] = ()
    if worth is not None:
        best = all_passing[ranked.best] if all_passing and not request.every_pair else None
        for roof, passing in roofs:
            break_even_pairs += break_evens(roof, worth, _buildable(passing), names, only_with=best)
    strings: tuple[StringCandidate, ...] = ()
    if request.string_inverters:
        compared_with = all_passing[ranked.best] if all_passing else None
        strings = string_candidates(request, rules, year, cache, worth, compared_with)
    return _result(request, rules, year, checked, ranked, break_even_pairs, tuple(mixed), strings)


def _require_plants(request: SelectionRequest) -> None:
    for module in request.modules:
        systems = [unit.system for unit in request.units_with(module)]
        given = [system.balance_of_plant is not None for system in systems]
        for index, system in enumerate(systems):
            if any(given) and not given[index] and system.obstacle is None:
                path = f"candidates/{index}/system/balance_of_plant"
                raise EngineeringError("a price for every candidate that can be built, or for none of them", (path,))


def _buildable(passing: list[Evaluated]) -> list[Evaluated]:
    """Those whose system can be built; where none can, those with the least obstacle."""
    return [pairing for pairing, can in zip(passing, can_be_built(passing), strict=True) if can]


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
        module_counts=[face.module_count for face in request.faces],
    )


def _result(
    request: SelectionRequest,
    rules: ElectricalRules,
    year: SiteYear,
    checked: list[Checked],
    ranked: Ranking,
    break_even_pairs: tuple[BreakEven, ...],
    mixed: tuple[MixedChoice, ...],
    strings: tuple[StringCandidate, ...],
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
        sensitivities=sensitivities(request, ranked, flows) if flows is not None and len(ranked.contenders) > 1 else (),
        export_limit=export_limit(passing, request.home_use.export_limit_w),
        string_inverters=strings,
        unused=unused_shade_fields(request.faces),
        what_would_have_to_change=() if passing else tuple(_changes(checked)),
        climate=year.climate,
        design_temperatures=year.design_temperatures,
        place=rules.place,
        edition=rules.edition,
        cautions=(
            *cautions.ENERGY_CAUTIONS,
            *shade_cautions(request.faces),
            *string_cautions(request.string_inverters if strings else ()),
            *(each for each in cautions.ELECTRICAL_CAUTIONS if each not in cautions.ENERGY_CAUTIONS),
            *(() if has_money else (NO_MONEY,)),
            *((NO_MODULE_PRICE,) if no_module_price else ()),
            *((NO_INSTALLATION,) if has_money and request.terms.other_cost is None else ()),
            *((PLANT_INCOMPLETE,) if has_money and any(each.unit.system.unpriced_roles for each in passing) else ()),
            *((PROCEDURES_DIFFER,) if has_money and _procedures_differ(ranked) else ()),
            *((NO_RATE,) if no_rate else ()),
            *_load_cautions(request.home_use, year),
        ),
        method=(
            methods.TRANSPOSITIONS[request.transposition],
            *(methods.SHADE if any(face.is_shaded for face in request.faces) else ()),
            methods.REFLECTION,
            methods.CELL_TEMPERATURE,
            methods.SINGLE_DIODE,
            methods.SUBHOURLY,
            methods.CONVERSION,
            methods.ENERGY_BALANCE,
            AGEING,
            SYSTEM_LOSSES,
            FAILURES,
            *((MONEY, BREAK_EVEN) if has_money else ()),
        ),
    )
    return replace(
        result, assumptions=tuple(_assumptions(request, year, passing, no_rate=no_rate, no_module_price=no_module_price))
    )


def _load_cautions(use: HomeUse, year: SiteYear) -> tuple[Caution, ...]:
    if use.load_w is None:
        return ()
    if not use.has_days:
        return (MONTHLY_HOUSEHOLD_LOAD,)
    return (LOAD_APART_FROM_SUN,) if year.conditions.hour_of_year is None else ()


def _procedures_differ(ranked: Ranking) -> bool:
    """Whether contenders need different procedures and one needs an agreement at an unknown cost."""
    systems = [ranked.passing[index].unit.system for index in ranked.contenders]
    return len({each.connection_procedure for each in systems}) > 1 and any(each.may_wait for each in systems)


def _none_passes(checked: list[Checked]) -> Recommendation:
    waits = any(needs_site_record(each.checks) and each.verdict != "fail" for each in checked)
    sentence = NEEDS_SITE_RECORD if waits else NONE_PASSES
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
            words = (
                CHANGE_OF_RECORD(unit=unit, module=module, check=check.explanation)
                if check.name == SITE_RECORD_CHECK
                else CHANGE(
                    unit=unit,
                    module=module,
                    check=CHECKS[check.name],
                    value=check.value,
                    dimension=check.unit,
                    bound=AT_MOST if check.value > check.limit else AT_LEAST,
                    limit=check.limit,
                )
            )
            changes.append(Change(module, unit, check.name, check.value, check.limit, check.unit, words))
    return changes


def _assumptions(
    request: SelectionRequest, year: SiteYear, passing: list[Evaluated], *, no_rate: bool, no_module_price: bool
) -> Iterator[Assumption]:
    """Values assumed where the caller gave none, and what the calculation neglects."""
    if no_rate:
        yield Assumption("failure_percent_per_year", BAND_CENTRE * 100.0, "%", BAND_CENTRE_SOURCE)
    if no_module_price:
        yield Assumption("modules/0/price", 0.0, None, MODULE_PRICE_LEFT_OUT)
    if request.has_money and all(each.unit.system.balance_of_plant is None for each in passing):
        yield Assumption("system.balance_of_plant", 0.0, None, PLANT_LEFT_OUT)
    if request.terms.other_cost is None:
        yield Assumption("other_cost", 0.0, None, SAME_FOR_EVERY_CANDIDATE)
    yield Assumption("failures_of_a_unit_most", 1, None, FIRST_FAILURE)
    use, tariff = request.home_use, request.tariff
    if not split_by_share(use, tariff):
        if use.utc_offset_source is not None:
            yield Assumption("home_utc_offset_h", use.utc_offset_h, "h", STANDARD_TIME_BY(source=use.utc_offset_source))
        elif use.utc_offset_h is None and year.conditions.hour_of_year is None:
            yield Assumption("home_utc_offset_h", year.conditions.utc_offset_h, "h", STANDARD_TIME)
    if use.first_weekday is None and tariff is not None and tariff.has_weekdays:
        yield Assumption("first_weekday", "monday", None, NO_WEEKDAYS)
