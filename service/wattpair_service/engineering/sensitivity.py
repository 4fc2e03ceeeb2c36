"""What one input must become for the recommendation to change, everything else held."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.cash_flow import discount_factors
from wattpair_service.engineering.evaluation import Evaluated
from wattpair_service.engineering.recommendation import first, label
from wattpair_service.engineering.replacements import BAND_CENTRE
from wattpair_service.engineering.selection_request import SelectionRequest, worth_of

FloatArray = npt.NDArray[np.float64]

STEPS = 41
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


def sensitivities(
    request: SelectionRequest, passing: list[Evaluated], order: list[int], worth: FloatArray
) -> tuple[Sensitivity, ...]:
    """Each input by itself, for a ranking by money with at least two candidates."""
    several = len(request.modules) > 1
    names = [label(pairing, several) for pairing in passing]
    best = order[0]
    # The price of a unit moves it on every module: the rival is the first other unit.
    rival = next((index for index in order if passing[index].unit is not passing[best].unit), None)
    values = np.array([pairing.value for pairing in passing])
    fixed = worth - values
    found = []
    if rival is not None:
        margin = float(worth[best] - worth[rival])
        found += [_price(passing[index], names[rival], margin, of_recommended=index == best) for index in (best, rival)]
    found.append(
        _searched("tariff, import and export together, over what it is", "1", 1.0, TARIFF_RANGE, passing, best, names,
                  lambda factor: fixed + factor * values)
    )  # fmt: skip
    terms, tariff = request.terms, request.tariff
    assert tariff is not None, "there is money"

    modules = sum(face.module_count for face in request.faces)
    panels = np.array([modules * (each.module.price or 0.0) for each in passing])
    home = np.array([each.energy.roof.home_kwh for each in passing])
    exported = np.array([each.energy.roof.exported_kwh for each in passing])
    prices = np.array([each.price_today for each in passing])
    counts = np.array([float(each.unit_count) for each in passing])
    years = np.arange(float(terms.horizon_years))
    after = np.array([[float(year >= each.unit.warranty_years) for year in years] for each in passing])
    rates = [request.failure_rate(each.unit) for each in passing]
    known = np.array([BAND_CENTRE if rate is None else rate for rate in rates])

    def changed(of: SelectionRequest, rate: float | None = None) -> FloatArray:
        """Net present values less what all have in common, with other terms."""
        at = worth_of(of)
        failing = np.power.outer(1.0 - (known if rate is None else np.full_like(known, rate)), years)
        failing *= (known if rate is None else np.full_like(known, rate))[:, None]
        failing *= discount_factors(of.terms.discount_rate, of.terms.horizon_years)
        again = prices * (failing * after).sum(axis=1) + counts * failing.sum(axis=1) * terms.labour_per_visit
        return np.asarray(home @ at.home + exported @ at.exported - prices - again - panels)

    found += [
        _searched("discount_rate_percent", "%", terms.discount_rate, DISCOUNT_RANGE, passing, best, names,
                  lambda rate: changed(replace(request, terms=replace(terms, discount_rate=rate))), scale=100.0),
        _searched("price_change_percent_per_year", "%", tariff.change_share_per_year, CHANGE_RANGE, passing, best, names,
                  lambda rate: changed(replace(request, tariff=replace(tariff, change_share_per_year=rate))), scale=100.0),
    ]  # fmt: skip
    if all(unit.failure_share_per_year is None for unit in request.units):
        now = BAND_CENTRE if terms.failure_share_per_year is None else terms.failure_share_per_year
        found.append(
            _searched("failure_percent_per_year", "%", now, FAILURE_RANGE, passing, best, names,
                      lambda rate: changed(request, rate), scale=100.0)
        )  # fmt: skip
    if not request.home_use.of_the_roof:
        found.append(_share_at_home(request, passing, names, best, fixed))
    return tuple(found)


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


def _share_at_home(
    request: SelectionRequest, passing: list[Evaluated], names: list[str], best: int, fixed: FloatArray
) -> Sensitivity:
    at = worth_of(request)
    night = np.array([pairing.energy.night_kwh for pairing in passing])
    given = np.array([pairing.energy.delivered_kwh.sum(axis=0) for pairing in passing]) + night[:, None]
    home, exported, drawn = given @ at.home, given @ at.exported, night * at.home.sum()
    now = request.home_use.share_used_at_home
    assert now is not None, "no load is given"
    return _searched("share_used_at_home", "1", now, (0.0, 1.0), passing, best, names,
                     lambda share: fixed + share * home + (1.0 - share) * exported - drawn)  # fmt: skip


def _searched(
    name: str,
    unit: str,
    now: float,
    span: tuple[float, float],
    passing: list[Evaluated],
    best: int,
    names: list[str],
    worth_at: Callable[[float], FloatArray],
    *,
    scale: float = 1.0,
) -> Sensitivity:
    """Nearest value on a grid at which another comes first, closed in by halving."""
    low, high = min(span[0], now), max(span[1], now)
    turned = []
    for end in (low, high):
        before = now
        for value in np.linspace(now, end, STEPS // 2)[1:]:
            if first(passing, worth_at(float(value))) != best:
                turned.append(_halved(before, float(value), passing, best, worth_at))
                break
            before = float(value)
    if not turned:
        return Sensitivity(name, unit, now * scale, None, None, low * scale, high * scale)
    then = min(turned, key=lambda value: abs(value - now))
    turns_to = first(passing, worth_at(then))
    return Sensitivity(name, unit, now * scale, then * scale, names[turns_to], low * scale, high * scale)


def _halved(same: float, other: float, passing: list[Evaluated], best: int, worth_at: Callable[[float], FloatArray]) -> float:
    for _ in range(30):
        middle = 0.5 * (same + other)
        if first(passing, worth_at(middle)) == best:
            same = middle
        else:
            other = middle
    return other
