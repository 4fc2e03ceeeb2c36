"""The best candidate, its margin, and whether uncertain inputs could change the order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.inverter.electrical_checks import Verdict
from wattpair_service.engineering.materials.bill_lines import ROLE_NAMES
from wattpair_service.engineering.money.replacements import FAILURE_BAND
from wattpair_service.engineering.selection.break_even import LIFETIME_UNCERTAINTY_SHARE
from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.selection.ranking import Ranking
from wattpair_service.engineering.selection.request import SelectionRequest, SystemTerms, unit_cost, worth_of
from wattpair_service.engineering.sentences import Sentence, fixed, sentence

Standing = Literal["decided", "close", "depends", "none_can_be_built", "none_passes"]
LESS_CLIPPING, MORE_CLIPPING = fixed("scenario.less_clipping"), fixed("scenario.more_clipping")
LESS_ENERGY, MORE_ENERGY = (sentence(f"scenario.{each}_energy", "share") for each in ("less", "more"))
LOWER_TARIFF, HIGHER_TARIFF = (sentence(f"scenario.{each}_tariff", "share") for each in ("lower", "higher"))
HIGHER_PRICE = sentence("scenario.higher_price", "share")
FAILURE_RATE = sentence("scenario.failure_rate", "percent")

FIRST = sentence("recommendation.first", "best", "sentences")
NONE_CAN_BE_BUILT = sentence("recommendation.none_can_be_built", "best", "reason")
SENTENCES = sentence("recommendation.sentences", "parts")
ONLY, ONLY_BUILDABLE = fixed("recommendation.only"), fixed("recommendation.only_buildable")
PROCEDURES_DIFFER = sentence("recommendation.procedures_differ", "needs")
NEEDS_UNKNOWN = sentence("recommendation.needs_unknown", "name")
NEEDS_AGREEMENT = sentence("recommendation.needs_agreement", "name", "procedure")
NEEDS_NOBODY = sentence("recommendation.needs_nobody", "name", "procedure")
NOT_TO_BE_BUILT = sentence("recommendation.not_to_be_built", "better")
NAMED_OBSTACLE = sentence("recommendation.named_obstacle", "name", "reason")
LEADS = sentence("recommendation.leads", "best", "amount", "second", "years", "sentences")
LEADS_BY_ENERGY = sentence("recommendation.leads_by_energy", "best", "amount", "second", "years", "sentences")
MORE_MONEY = sentence("recommendation.more_money", "amount")
MORE_KWH = sentence("recommendation.more_kwh", "kwh")
DECIDED, CLOSE = fixed("recommendation.decided"), fixed("recommendation.close")
UNPRICED_DIFFER = sentence("recommendation.unpriced_differ", "roles")
DEPENDS = sentence("recommendation.depends", "scenario", "first")
LOSES = sentence("recommendation.loses", "amount")
HAS_CAUTION = fixed("recommendation.has_caution")
ONE_YEAR, YEARS = sentence("count.year_one", "count"), sentence("count.year_other", "count")

TARIFF_SHARE = 0.2
PRICE_SHARE = 0.05
"""Uncertainty of the tariff and of the recommended unit's price. Common practice, no source."""
CLOSE_SHARE = 0.01
"""Largest regret of a close choice, as a share of the recommended units' price. Common practice, no source."""
WAIT = fixed("scenario.wait")
"""Scenario of a recommended procedure that needs an agreement at a cost that is unknown: beside another procedure, one year of
the energy stands for the fee and for the wait, which both depend on the operator. Common practice, no source."""
CLOSE_ENERGY_SHARE = 0.001
"""The same as a share of the energy, for a ranking by energy. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Scenario:
    """One changed input and the candidate that is best with it; `regret` is its lead over the recommended candidate."""

    name: Sentence
    first: str | Sentence
    regret: float


@dataclass(frozen=True, slots=True)
class Recommendation:
    """The recommended candidate; names are None where no candidate passes.

    With the standing `none_can_be_built` it is the best of those with the least obstacle: it must not be built as it stands.
    `margin` is the lead over the runner-up: present value or, ranked by energy, kWh over the horizon (see `margin_unit`).
    """

    standing: Standing
    sentence: Sentence
    module: str | None
    microinverter: str | None
    runner_up: str | Sentence | None
    margin: float | None
    margin_unit: str | None
    depends_on: tuple[Sentence, ...]
    scenarios: tuple[Scenario, ...]


def recommendation(request: SelectionRequest, ranked: Ranking, verdicts: Sequence[Verdict] | None = None) -> Recommendation:
    """Recommend the best candidate, and rank again for each scenario of uncertain inputs.

    `verdicts` are those of the candidates' electrical checks; if omitted, all are "ok".
    """
    passing, names, order, scores, best = ranked.passing, ranked.names, ranked.contenders, ranked.scores, ranked.best
    unit = "kWh" if not request.has_money else "currency"
    obstacles = _obstacles(ranked)
    warnings = (*obstacles, *_warnings(request, float(scores[best]), "ok" if verdicts is None else verdicts[best]))
    obstacle = passing[best].unit.system.obstacle
    not_to_be_built = obstacle and SENTENCES(parts=(NONE_CAN_BE_BUILT(best=names[best], reason=obstacle.reason), *warnings))
    if len(order) == 1:
        only = FIRST(best=names[best], sentences=(ONLY if len(passing) == 1 else ONLY_BUILDABLE, *warnings))
        return Recommendation(
            "none_can_be_built" if obstacle else "decided", not_to_be_built or only,
            passing[best].panel.name, passing[best].name,
            None, None, None, (), (),
        )  # fmt: skip
    scenarios = _scenarios(request, ranked)
    best_by_scenario = ranked.best_by(np.array(list(scenarios.values()))).tolist()
    results = tuple(
        Scenario(name, names[first], max(float(changed[first] - changed[best]), 0.0) if first != best else 0.0)
        for (name, changed), first in zip(scenarios.items(), best_by_scenario, strict=True)
    )
    margin = max(float(scores[best] - scores[order[1]]), 0.0)
    order_changing = sorted((each for each in results if each.regret > 0.0), key=lambda each: -each.regret)
    close_limit = (
        CLOSE_SHARE * passing[best].price_today if request.has_money else CLOSE_ENERGY_SHARE * abs(float(scores[best]))
    )
    undecided = bool(order_changing) or margin <= 0.1 * close_limit
    small = max([margin, *(each.regret for each in order_changing)]) <= close_limit
    standing: Standing = "decided" if not undecided else "close" if small else "depends"
    differing = dict.fromkeys(role for index in order for role in passing[index].unit.system.differing_roles)
    unpriced = (
        (UNPRICED_DIFFER(roles=tuple(ROLE_NAMES[role] for role in differing)),) if differing and request.has_money else ()
    )
    if unpriced:
        standing = "depends"
    return Recommendation(
        standing="none_can_be_built" if obstacle else standing,
        sentence=not_to_be_built
        or _sentence(
            request,
            names[best],
            names[order[1]],
            margin,
            (*unpriced, *_certainty(standing, order_changing)),
            (*_procedures(names[best], names[order[1]], *(passing[index].unit.system for index in order[:2])), *warnings),
        ),
        module=passing[best].panel.name,
        microinverter=passing[best].name,
        runner_up=names[order[1]],
        margin=margin,
        margin_unit=unit,
        depends_on=tuple(each.name for each in order_changing),
        scenarios=results,
    )


def _procedures(
    best: str | Sentence, second: str | Sentence, of_best: SystemTerms, of_second: SystemTerms
) -> tuple[Sentence, ...]:
    """How the grid connection procedures of the first two differ; empty where they do not."""
    if of_best.connection_procedure == of_second.connection_procedure:
        return ()
    return (PROCEDURES_DIFFER(needs=(_needs(best, of_best), _needs(second, of_second))),)


def _needs(name: str | Sentence, system: SystemTerms) -> Sentence:
    if system.connection_procedure is None:
        return NEEDS_UNKNOWN(name=name)
    return (NEEDS_AGREEMENT if system.needs_agreement else NEEDS_NOBODY)(name=name, procedure=system.connection_procedure)


def _obstacles(ranked: Ranking) -> tuple[Sentence, ...]:
    """Candidates of a higher score whose system cannot be built, and why; empty without one."""
    better = tuple(
        NAMED_OBSTACLE(name=ranked.names[index], reason=obstacle.reason)
        for index in ranked.order
        if ranked.scores[index] > ranked.scores[ranked.best] and not ranked.can_win[index]
        if (obstacle := ranked.passing[index].unit.system.obstacle) is not None
    )
    return (NOT_TO_BE_BUILT(better=better),) if better else ()


def _warnings(request: SelectionRequest, score: float, verdict: Verdict) -> tuple[Sentence, ...]:
    """Whether even the best candidate loses money or has an electrical caution."""
    loses = (LOSES(amount=request.money(-score)),) if request.has_money and score < 0.0 else ()
    return (*loses, HAS_CAUTION) if verdict == "caution" else loses


def _certainty(standing: Standing, order_changing: list[Scenario]) -> tuple[Sentence, ...]:
    """How certain the order is; empty where it depends on no scenario."""
    if standing == "depends":
        return tuple(DEPENDS(scenario=each.name, first=each.first) for each in order_changing[:1])
    return (DECIDED if standing == "decided" else CLOSE,)


def _sentence(
    request: SelectionRequest,
    best: str | Sentence,
    second: str | Sentence,
    margin: float,
    certainty: tuple[Sentence, ...],
    warnings: tuple[Sentence, ...],
) -> Sentence:
    years = request.terms.horizon_years
    return (LEADS if request.has_money else LEADS_BY_ENERGY)(
        best=best,
        amount=MORE_MONEY(amount=request.money(margin)) if request.has_money else MORE_KWH(kwh=margin),
        second=second,
        years=(ONE_YEAR if years == 1 else YEARS)(count=years),
        sentences=(*certainty, *warnings),
    )


def _scenarios(request: SelectionRequest, ranked: Ranking) -> dict[Sentence, FloatArray]:
    """Scores of all candidates with one changed input each."""
    passing, best, scores = ranked.passing, ranked.best, ranked.scores
    if not request.has_money:
        clipped = np.array([pairing.losses.kept * pairing.energy.lost_kwh.sum(axis=1) for pairing in passing])
        first_year = np.array([pairing.energy.roof.useful_kwh[0] for pairing in passing])
        return {
            LESS_CLIPPING: scores + _clipping_change(passing, clipped, high=False),
            MORE_CLIPPING: scores + _clipping_change(passing, clipped, high=True),
            **_wait(ranked, first_year),
        }
    values = np.array([pairing.value for pairing in passing])
    clipped = np.array([pairing.lost_values for pairing in passing])
    extra_price = np.zeros(len(passing))
    for index, pairing in enumerate(passing):
        if pairing.name == passing[best].name and pairing.cost is not None:
            extra_price[index] = PRICE_SHARE * pairing.price_today * pairing.cost.factor
    scenarios = {
        LESS_CLIPPING: scores + _clipping_change(passing, clipped, high=False),
        MORE_CLIPPING: scores + _clipping_change(passing, clipped, high=True),
        LESS_ENERGY(share=LIFETIME_UNCERTAINTY_SHARE): scores - LIFETIME_UNCERTAINTY_SHARE * values,
        MORE_ENERGY(share=LIFETIME_UNCERTAINTY_SHARE): scores + LIFETIME_UNCERTAINTY_SHARE * values,
        LOWER_TARIFF(share=TARIFF_SHARE): scores - TARIFF_SHARE * values,
        HIGHER_TARIFF(share=TARIFF_SHARE): scores + TARIFF_SHARE * values,
        HIGHER_PRICE(share=PRICE_SHARE): scores - extra_price,
        **_wait(ranked, _first_year_values(request, passing)),
    }
    if any(request.failure_rate(pairing.unit) is None for pairing in passing):
        for end in FAILURE_BAND:
            scenarios[FAILURE_RATE(percent=end * 100.0)] = scores - _extra_failure_cost(request, passing, end)
    return scenarios


def _wait(ranked: Ranking, first_year: FloatArray) -> dict[Sentence, FloatArray]:
    """Scores where the procedure of the recommended candidate takes a year's energy more than any other.

    None where it needs no agreement or its cost is known, or where no contender has another procedure.
    """
    best = ranked.passing[ranked.best].unit.system
    if not best.may_wait or ranked.best_other_procedure is None:
        return {}
    alike = np.array([each.unit.system.connection_procedure == best.connection_procedure for each in ranked.passing])
    return {WAIT: ranked.scores - alike * first_year}


def _first_year_values(request: SelectionRequest, passing: list[Evaluated]) -> FloatArray:
    """Present value of the first year's energy."""
    first_factor = float(worth_of(request).factors[0])
    return np.array([float(pairing.energy.roof.energy_value[0]) * first_factor for pairing in passing])


def _clipping_change(passing: list[Evaluated], clipped: FloatArray, *, high: bool) -> FloatArray:
    """Change of the scores where the clipping is at one end of its range; `clipped` has a column for each face."""
    ends = np.array([pairing.clip_high if high else pairing.clip_low for pairing in passing])
    return np.asarray((clipped * (1.0 - ends)).sum(axis=1))


def _extra_failure_cost(request: SelectionRequest, passing: list[Evaluated], rate: float) -> FloatArray:
    """Change of the units' cost where unknown failure rates are `rate`."""
    extra_costs = []
    for pairing in passing:
        unknown = request.failure_rate(pairing.unit) is None
        cost = pairing.unit_count * unit_cost(request, pairing.unit, rate).total if unknown else pairing.units_cost
        extra_costs.append(cost - pairing.units_cost)
    return np.array(extra_costs)
