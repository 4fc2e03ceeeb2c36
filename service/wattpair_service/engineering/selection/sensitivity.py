"""The value of one input at which the recommendation changes, all other inputs fixed.

The scores of all candidates are polynomials of each input, so that they are quick to evaluate at any value. The search starts
on a grid from the input's value to each end of its range. It then refines the interval in which the best candidate first
changes, until that is narrower than `PRECISION`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.energy.home_use import split_by_share
from wattpair_service.engineering.money.cash_flow import discount_factors, powers
from wattpair_service.engineering.money.replacements import BAND_CENTRE
from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.selection.ranking import Ranking
from wattpair_service.engineering.selection.request import SelectionRequest, worth_of
from wattpair_service.engineering.selection.yearly_flows import YearlyFlows
from wattpair_service.engineering.sentences import Sentence

GRID = np.linspace(0.0, 1.0, 20)
"""First search points, as shares of the distance from the input's value to the end of its range."""
PRECISION = 1e-10
"""Width of the final interval, in units of the input."""
REFINED_GRID = np.linspace(0.0, 1.0, 9)
OFFSETS_AROUND_TIE = np.array([-1e-2, -1e-4, -1e-6, -1e-8, 1e-8, 1e-6, 1e-4, 1e-2])
"""Next search points, as shares of an interval: evenly over it, and close to where linear scores would tie."""
DISCOUNT_RANGE = (-0.05, 0.25)
CHANGE_RANGE = (-0.1, 0.15)
FAILURE_RANGE = (0.0, 0.05)
TARIFF_RANGE = (0.0, 5.0)


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """One input, the nearest value `then` at which another candidate is best, and that candidate; None where there is none.

    `now` is the input's value, and `low` and `high` are the ends of the range searched.
    """

    name: str
    unit: str
    now: float
    then: float | None
    first_then: str | Sentence | None
    low: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class _Input:
    """One input, with the candidates' scores as polynomials of `variable(value)`.

    `coefficients` has a row for each power from 0 and a column for each candidate; terms common to all may be omitted.
    """

    name: str
    unit: str
    now: float
    span: tuple[float, float]
    coefficients: FloatArray
    variable: Callable[[FloatArray], FloatArray] = lambda value: value
    scale: float = 1.0

    @property
    def ends(self) -> tuple[float, float]:
        """Lowest and highest value searched."""
        return min(self.span[0], self.now), max(self.span[1], self.now)


def sensitivities(request: SelectionRequest, ranked: Ranking, flows: YearlyFlows) -> tuple[Sensitivity, ...]:
    """Sensitivity to each input by itself, for a ranking by money with at least two candidates."""
    passing, scores, best = ranked.passing, ranked.scores, ranked.best
    # A unit's price changes its score on every module: the rival is the best candidate with another unit.
    rival = next((index for index in ranked.contenders if passing[index].name != passing[best].name), None)
    results = []
    if rival is not None:
        margin = float(scores[best] - scores[rival])
        name = ranked.names[rival]
        results += [_price(passing[index], name, margin, of_recommended=index == best) for index in (best, rival)]
    results += _connection(ranked)
    inputs = [_tariff(ranked), *_terms(request, flows)]
    if split_by_share(request.home_use, request.tariff):
        inputs.append(_share_at_home(request, ranked))
    return (*results, *_search(inputs, ranked))


def _price(pairing: Evaluated, first_then: str | Sentence, margin: float, *, of_recommended: bool) -> Sensitivity:
    """Price of one unit at which the recommended unit and the runner-up tie."""
    assert pairing.cost is not None, "computed only where prices are known"
    step = margin / (pairing.unit_count * pairing.cost.factor)
    then = pairing.cost.price + (step if of_recommended else -step)
    whose = "the recommended unit" if of_recommended else "the runner-up"
    possible = then >= 0.0
    return Sensitivity(
        f"price of {whose}", "currency", pairing.cost.price, then if possible else None, first_then if possible else None,
        0.0, 1e6,
    )  # fmt: skip


def _connection(ranked: Ranking) -> Iterator[Sensitivity]:
    """Cost of the recommended candidate's connection procedure at which the best one with another procedure ties with it."""
    other = ranked.best_other_procedure
    if other is not None:
        now = ranked.passing[ranked.best].unit.system.connection_cost or 0.0
        then = now + float(ranked.scores[ranked.best] - ranked.scores[other])
        name = "cost of the grid connection procedure of the recommended unit"
        yield Sensitivity(name, "currency", now, then, ranked.names[other], 0.0, 1e6)


def _tariff(ranked: Ranking) -> _Input:
    values = np.array([pairing.value for pairing in ranked.passing])
    return _Input(
        "tariff, import and export together, over what it is",
        "1",
        1.0,
        TARIFF_RANGE,
        np.stack([ranked.scores - values, values]),
    )


def _terms(request: SelectionRequest, flows: YearlyFlows) -> list[_Input]:
    """Discount rate, change of the tariff and, where no unit has its own, failure rate."""
    terms, tariff = request.terms, request.tariff
    assert tariff is not None, "computed only where prices are known"
    first_flow = -flows.today
    discount = discount_factors(terms.discount_rate, terms.horizon_years)
    energy, failure_cost = (flows.energy * discount).T, (flows.at_failure * discount).T
    by_change = energy.copy()
    by_change[0] += first_flow - (flows.failures.T * failure_cost).sum(axis=0)
    inputs = [
        _Input(
            "discount_rate_percent", "%", terms.discount_rate, DISCOUNT_RANGE, np.vstack([first_flow, flows.benefits.T]),
            lambda rate: 1.0 / (1.0 + rate), 100.0,
        ),
        _Input(
            "price_change_percent_per_year", "%", tariff.change_share_per_year, CHANGE_RANGE, by_change,
            lambda change: 1.0 + change, 100.0,
        ),
    ]  # fmt: skip
    if all(unit.failure_share_per_year is None for unit in request.units):
        now = BAND_CENTRE if terms.failure_share_per_year is None else terms.failure_share_per_year
        # A year's failures are the surviving share at its start less that at its end.
        by_survival = -np.diff(failure_cost, axis=0, prepend=0.0, append=0.0)
        by_survival[0] += first_flow + (energy.T * flows.growth).sum(axis=1)
        inputs.append(
            _Input(
                "failure_percent_per_year", "%", now, FAILURE_RANGE, by_survival, lambda rate: 1.0 - rate, 100.0,
            )
        )  # fmt: skip
    return inputs


def _share_at_home(request: SelectionRequest, ranked: Ranking) -> _Input:
    factors, now, passing = worth_of(request).factors, request.home_use.share_used_at_home, ranked.passing
    tariff = request.tariff
    assert now is not None, "computed only without a household load"
    assert tariff is not None, "computed only where prices are known"
    home, exported = factors * tariff.import_price_per_kwh, factors * tariff.export_price_per_kwh
    fixed = ranked.scores - np.array([pairing.value for pairing in passing])
    night = np.array([pairing.energy.night_kwh for pairing in passing])
    kept = np.array([pairing.losses.kept for pairing in passing])
    produced = kept[:, None] * (np.array([pairing.energy.delivered_kwh.sum(axis=0) for pairing in passing]) + night[:, None])
    all_at_home, all_exported, night_cost = produced @ home, produced @ exported, night * home.sum()
    coefficients = np.stack([fixed + all_exported - night_cost, all_at_home - all_exported])
    return _Input("share_used_at_home", "1", now, (0.0, 1.0), coefficients)


@dataclass(frozen=True, slots=True, eq=False)
class _Intervals:
    """Intervals of inputs in which the best candidate changes, a row for each.

    Attributes
    ----------
    input_index : array of int
        Index of the input.
    inner, outer : array
        Last value searched at which the recommended candidate is still best, and the next one, at which another is.
    new_best : array of int
        Index of the candidate that is best at `outer`.
    lead_inner, lead_outer : array
        Lead of that candidate over the recommended one at both values; negative at `inner`.
    """

    input_index: IntArray
    inner: FloatArray
    outer: FloatArray
    new_best: IntArray
    lead_inner: FloatArray
    lead_outer: FloatArray

    def search_points(self) -> FloatArray:
        """Values to search next in each interval: evenly over it, and close to where linear scores would tie."""
        change = self.lead_outer - self.lead_inner
        tie = np.divide(-self.lead_inner, change, out=np.full(change.size, 0.5), where=change > 0.0)
        evenly = np.broadcast_to(REFINED_GRID, (change.size, REFINED_GRID.size))
        shares = np.sort(np.clip(np.hstack([evenly, tie[:, None] + OFFSETS_AROUND_TIE]), 0.0, 1.0), axis=1)
        return _interpolated(self.inner, self.outer, shares)


def _interpolated(start: FloatArray, end: FloatArray, shares: FloatArray) -> FloatArray:
    """Values at shares of the distance from start to end; exact to the last digit at shares 0 and 1."""
    return np.asarray(start[:, None] * (1.0 - shares) + end[:, None] * shares)


def _search(inputs: Sequence[_Input], ranked: Ranking) -> list[Sensitivity]:
    """The nearest value of each input at which another candidate is best; all inputs are searched together."""
    scores_at, now = _polynomials(inputs), np.array([each.now for each in inputs])

    def intervals(input_index: IntArray, values: FloatArray, outer_best: IntArray) -> _Intervals:
        return _first_changes(ranked, scores_at(input_index, values), now[input_index], input_index, values, outer_best)

    # Two rows for each input: one towards the low end of its range, one towards the high end.
    input_index, ends = np.repeat(np.arange(now.size), 2), np.array([each.ends for each in inputs]).ravel()
    current = intervals(input_index, _interpolated(now[input_index], ends, GRID), np.full(input_index.size, ranked.best))
    while np.any(np.abs(current.outer - current.inner) > PRECISION):
        current = intervals(current.input_index, current.search_points(), current.new_best)
    farthest_first = np.argsort(np.abs(current.outer - now[current.input_index]), kind="stable")[::-1]
    nearest = {
        int(current.input_index[row]): (float(current.outer[row]), ranked.names[current.new_best[row]])
        for row in farthest_first
    }
    return [_sensitivity(each, *nearest.get(index, (None, None))) for index, each in enumerate(inputs)]


def _polynomials(inputs: Sequence[_Input]) -> Callable[[IntArray, FloatArray], FloatArray]:
    """A function that gives the candidates' scores, on a last axis, at a row of values for each input index."""
    width = max(len(each.coefficients) for each in inputs)
    coefficients = np.zeros((len(inputs), width, inputs[0].coefficients.shape[1]))
    for row, each in zip(coefficients, inputs, strict=True):
        row[: len(each.coefficients)] = each.coefficients

    def scores_at(input_index: IntArray, values: FloatArray) -> FloatArray:
        variable = np.empty(values.shape)
        for target, index, row in zip(variable, input_index.tolist(), values, strict=True):
            target[:] = inputs[index].variable(row)
        return np.asarray(powers(variable, width) @ coefficients[input_index])

    return scores_at


def _first_changes(
    ranked: Ranking, scores: FloatArray, now: FloatArray, input_index: IntArray, values: FloatArray, outer_best: IntArray
) -> _Intervals:
    """The first interval of each row of values in which the best candidate changes, if it can be the nearest of its input.

    The recommended candidate is best at the first value of a row, and `outer_best` at the last one, even where rounding says
    otherwise.
    """
    best, row, best_at = ranked.best, np.arange(input_index.size), ranked.best_by(scores)
    best_at[:, 0], best_at[:, -1] = best, np.where(best_at[:, -1] == best, outer_best, best_at[:, -1])
    change = np.argmax(best_at != best, axis=1)
    inner, outer, new_best = values[row, change - 1], values[row, change], best_at[row, change]
    # An interval that starts farther away than another ends is not the nearest; rounding may put its end before its start.
    nearest_end, changes, distance = np.full(input_index.max(initial=0) + 1, np.inf), new_best != best, np.abs(outer - now)
    np.minimum.at(nearest_end, input_index[changes], distance[changes])
    rows = np.flatnonzero(changes & (np.minimum(np.abs(inner - now), distance) <= nearest_end[input_index]))
    new_best, change = new_best[rows], change[rows]
    recommended = np.full(rows.size, best)
    lead_inner, lead_outer = (ranked.leads(scores[rows, at], new_best, recommended) for at in (change - 1, change))
    return _Intervals(input_index[rows], inner[rows], outer[rows], new_best, lead_inner, lead_outer)


def _sensitivity(each: _Input, then: float | None, first_then: str | Sentence | None) -> Sensitivity:
    (low, high), scale = each.ends, each.scale
    return Sensitivity(
        each.name, each.unit, each.now * scale, None if then is None else then * scale, first_then, low * scale, high * scale
    )
