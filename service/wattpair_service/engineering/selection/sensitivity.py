"""What one input must become for the recommendation to change, everything else held."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.money.cash_flow import discount_factors, powers
from wattpair_service.engineering.money.replacements import BAND_CENTRE
from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.selection.ranking import Ranking
from wattpair_service.engineering.selection.request import SelectionRequest, worth_of
from wattpair_service.engineering.selection.yearly_flows import YearlyFlows

GRID = np.linspace(0.0, 1.0, 20)
"""Shares of the way from the input's value to either end that are looked at first."""
PRECISION = 1e-10
"""How closely a turn is closed in on."""
EVENLY = np.linspace(0.0, 1.0, 9)
AROUND = np.array([-1e-2, -1e-4, -1e-6, -1e-8, 1e-8, 1e-6, 1e-4, 1e-2])
"""Shares of a step that are looked at next, and others around where scores that change evenly would meet."""
DISCOUNT_RANGE = (-0.05, 0.25)
CHANGE_RANGE = (-0.1, 0.15)
FAILURE_RANGE = (0.0, 0.05)
TARIFF_RANGE = (0.0, 5.0)


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """One input: what it is, the nearest value at which another candidate comes first, and which; None where none does.

    `low` and `high` bound what was looked at.
    """

    name: str
    unit: str
    now: float
    then: float | None
    first_then: str | None
    low: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class _Input:
    """One input, with the candidates' scores as polynomials in `variable` of its value.

    `coefficients` has a row for each power from 0 and a column for each candidate; what all have in common may be left out.
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
        """Between which values it is looked at."""
        return min(self.span[0], self.now), max(self.span[1], self.now)


def sensitivities(request: SelectionRequest, ranked: Ranking, flows: YearlyFlows) -> tuple[Sensitivity, ...]:
    """Each input by itself, for a ranking by money with at least two candidates."""
    passing, order, worth, best = ranked.passing, ranked.order, ranked.scores, ranked.best
    # The price of a unit moves it on every module: the rival is the first other unit.
    rival = next((index for index in order if passing[index].unit is not passing[best].unit), None)
    found = []
    if rival is not None:
        margin = float(worth[best] - worth[rival])
        name = ranked.names[rival]
        found += [_price(passing[index], name, margin, of_recommended=index == best) for index in (best, rival)]
    inputs = [_tariff(ranked), *_terms(request, flows)]
    if not request.home_use.of_the_roof:
        inputs.append(_share_at_home(request, ranked))
    return (*found, *_searched(inputs, ranked))


def _price(pairing: Evaluated, first_then: str, margin: float, *, of_recommended: bool) -> Sensitivity:
    """Price of one unit at which it changes places with the other."""
    assert pairing.cost is not None, "there is money"
    step = margin / (pairing.unit_count * pairing.cost.factor)
    then = pairing.cost.price + (step if of_recommended else -step)
    whose = "the recommended unit" if of_recommended else "the runner-up"
    possible = then >= 0.0
    return Sensitivity(
        f"price of {whose}", "currency", pairing.cost.price, then if possible else None, first_then if possible else None,
        0.0, 1e6,
    )  # fmt: skip


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
    """Discount rate, change of the tariff and, where it is one for all units, failure rate."""
    terms, tariff = request.terms, request.tariff
    assert tariff is not None, "there is money"
    first = -flows.units - flows.modules
    discount = discount_factors(terms.discount_rate, terms.horizon_years)
    energy, failing = (flows.energy * discount).T, (flows.at_failure * discount).T
    by_change = energy.copy()
    by_change[0] += first - (flows.failures.T * failing).sum(axis=0)
    found = [
        _Input(
            "discount_rate_percent", "%", terms.discount_rate, DISCOUNT_RANGE, np.vstack([first, flows.benefits.T]),
            lambda rate: 1.0 / (1.0 + rate), 100.0,
        ),
        _Input(
            "price_change_percent_per_year", "%", tariff.change_share_per_year, CHANGE_RANGE, by_change,
            lambda change: 1.0 + change, 100.0,
        ),
    ]  # fmt: skip
    if all(unit.failure_share_per_year is None for unit in request.units):
        now = BAND_CENTRE if terms.failure_share_per_year is None else terms.failure_share_per_year
        # A year's failures are what was left of the units before it, less what is left after it.
        by_left = -np.diff(failing, axis=0, prepend=0.0, append=0.0)
        by_left[0] += first + (energy.T * flows.growth).sum(axis=1)
        found.append(
            _Input(
                "failure_percent_per_year", "%", now, FAILURE_RANGE, by_left, lambda rate: 1.0 - rate, 100.0,
            )
        )  # fmt: skip
    return found


def _share_at_home(request: SelectionRequest, ranked: Ranking) -> _Input:
    at, now, passing = worth_of(request), request.home_use.share_used_at_home, ranked.passing
    assert now is not None, "no load is given"
    fixed = ranked.scores - np.array([pairing.value for pairing in passing])
    night = np.array([pairing.energy.night_kwh for pairing in passing])
    given = np.array([pairing.energy.delivered_kwh.sum(axis=0) for pairing in passing]) + night[:, None]
    home, exported, drawn = given @ at.home, given @ at.exported, night * at.home.sum()
    return _Input("share_used_at_home", "1", now, (0.0, 1.0), np.stack([fixed + exported - drawn, home - exported]))


@dataclass(frozen=True, slots=True, eq=False)
class _Turns:
    """Steps on which another comes first, a row for each.

    `which` input; `near`, its last value at which the best still comes first, and `far`, the next; `then`, who comes first
    there; how far that one is `behind` at the one value and `ahead` at the other.
    """

    which: IntArray
    near: FloatArray
    far: FloatArray
    then: IntArray
    behind: FloatArray
    ahead: FloatArray

    def closer(self) -> FloatArray:
        """Values of each step to look at next: all along it, and around where scores that change evenly would be even."""
        lead = self.ahead - self.behind
        even = np.divide(-self.behind, lead, out=np.full(lead.size, 0.5), where=lead > 0.0)
        everywhere = np.broadcast_to(EVENLY, (lead.size, EVENLY.size))
        shares = np.sort(np.clip(np.hstack([everywhere, even[:, None] + AROUND]), 0.0, 1.0), axis=1)
        return _between(self.near, self.far, shares)


def _between(near: FloatArray, far: FloatArray, shares: FloatArray) -> FloatArray:
    """Values at shares of the way, which begins and ends where it does to the last digit."""
    return np.asarray(near[:, None] * (1.0 - shares) + far[:, None] * shares)


def _searched(inputs: Sequence[_Input], ranked: Ranking) -> list[Sensitivity]:
    """Of each input the nearest value on a grid at which another comes first, closed in on; of all inputs together."""
    scores_at, now = _polynomials(inputs), np.array([each.now for each in inputs])

    def turns(which: IntArray, values: FloatArray, then: IntArray) -> _Turns:
        return _turns(ranked, scores_at(which, values), now[which], which, values, then)

    # A way down and a way up for each input.
    which, ends = np.repeat(np.arange(now.size), 2), np.array([each.ends for each in inputs]).ravel()
    found = turns(which, _between(now[which], ends, GRID), np.full(which.size, ranked.best))
    while np.any(np.abs(found.far - found.near) > PRECISION):
        found = turns(found.which, found.closer(), found.then)
    by_distance = np.argsort(np.abs(found.far - now[found.which]), kind="stable")[::-1]
    nearest = {int(found.which[row]): (float(found.far[row]), ranked.names[found.then[row]]) for row in by_distance}
    return [_told(each, *nearest.get(index, (None, None))) for index, each in enumerate(inputs)]


def _polynomials(inputs: Sequence[_Input]) -> Callable[[IntArray, FloatArray], FloatArray]:
    """What gives the candidates' scores, on a last axis, at values of inputs: a row of values for each of `which`."""
    width = max(len(each.coefficients) for each in inputs)
    coefficients = np.zeros((len(inputs), width, inputs[0].coefficients.shape[1]))
    for own, each in zip(coefficients, inputs, strict=True):
        own[: len(each.coefficients)] = each.coefficients

    def scores_at(which: IntArray, values: FloatArray) -> FloatArray:
        variable = np.empty(values.shape)
        for own, index, row in zip(variable, which.tolist(), values, strict=True):
            own[:] = inputs[index].variable(row)
        return np.asarray(powers(variable, width) @ coefficients[which])

    return scores_at


def _turns(ranked: Ranking, scores: FloatArray, now: FloatArray, which: IntArray, values: FloatArray, then: IntArray) -> _Turns:
    """The first turn along each row of values, where it can be the nearest of its input.

    At the first value of a row the best comes first, at the last one `then`: that stands, even where it is lost in rounding.
    """
    best, row, who = ranked.best, np.arange(which.size), ranked.firsts(scores)
    who[:, 0], who[:, -1] = best, np.where(who[:, -1] == best, then, who[:, -1])
    beyond = np.argmax(who != best, axis=1)
    near, far, then = values[row, beyond - 1], values[row, beyond], who[row, beyond]
    # One that starts farther away than another ends cannot be the nearest; by rounding one may end before it starts.
    reach, turned, away = np.full(which.max(initial=0) + 1, np.inf), then != best, np.abs(far - now)
    np.minimum.at(reach, which[turned], away[turned])
    kept = np.flatnonzero(turned & (np.minimum(np.abs(near - now), away) <= reach[which]))
    then, beyond = then[kept], beyond[kept]
    behind, ahead = (ranked.leads(scores[kept, at], then, np.full(kept.size, best)) for at in (beyond - 1, beyond))
    return _Turns(which[kept], near[kept], far[kept], then, behind, ahead)


def _told(given: _Input, then: float | None, first_then: str | None) -> Sensitivity:
    (low, high), scale = given.ends, given.scale
    return Sensitivity(
        given.name, given.unit, given.now * scale, None if then is None else then * scale, first_then, low * scale, high * scale
    )
