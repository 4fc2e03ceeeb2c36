"""What one input must become for the recommendation to change, everything else held."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.evaluation import Evaluated
from wattpair_service.engineering.recommendation import first, firsts, label
from wattpair_service.engineering.replacements import BAND_CENTRE
from wattpair_service.engineering.selection_request import SelectionRequest, worth_of

FloatArray = npt.NDArray[np.float64]

STEPS = 20
"""Points on either side of the input's value that are looked at first."""
CLOSER = 64
ROUNDS = 4
"""How often the turn is closed in, each time to that part of the step before."""
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
                  lambda factors: fixed + factors[:, None] * values)
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

    def changed(discount: FloatArray, change: FloatArray, rate: FloatArray | None = None) -> FloatArray:
        """Net present values less what all have in common, shape (values, candidates), with other terms."""
        discounted = _powers(1.0 / (1.0 + discount), years.size)
        grown = _powers((1.0 + change) / (1.0 + discount), years.size) / (1.0 + change[:, None])
        value = tariff.import_price_per_kwh * (grown @ home.T) + tariff.export_price_per_kwh * (grown @ exported.T)
        each = known if rate is None else rate
        failing = _powers(1.0 - each, years.size) * (each / (1.0 - each))[:, None]
        if rate is None:
            after_warranty, visits = discounted @ (failing * after).T, discounted @ failing.T
        else:
            after_warranty, visits = (failing * discounted) @ after.T, (failing * discounted).sum(axis=1)[:, None]
        return np.asarray(value - prices * (1.0 + after_warranty) - counts * visits * terms.labour_per_visit - panels)

    def held(now: float, values: FloatArray) -> FloatArray:
        return np.full(values.shape, now)

    found += [
        _searched("discount_rate_percent", "%", terms.discount_rate, DISCOUNT_RANGE, passing, best, names,
                  lambda rates: changed(rates, held(tariff.change_share_per_year, rates)), scale=100.0),
        _searched("price_change_percent_per_year", "%", tariff.change_share_per_year, CHANGE_RANGE, passing, best, names,
                  lambda changes: changed(held(terms.discount_rate, changes), changes), scale=100.0),
    ]  # fmt: skip
    if all(unit.failure_share_per_year is None for unit in request.units):
        now = BAND_CENTRE if terms.failure_share_per_year is None else terms.failure_share_per_year
        found.append(
            _searched(
                "failure_percent_per_year", "%", now, FAILURE_RANGE, passing, best, names,
                lambda rates: changed(held(terms.discount_rate, rates), held(tariff.change_share_per_year, rates), rates),
                scale=100.0,
            )
        )  # fmt: skip
    if not request.home_use.of_the_roof:
        found.append(_share_at_home(request, passing, names, best, fixed))
    return tuple(found)


def _powers(base: FloatArray, years: int) -> FloatArray:
    """First to last power of each base, shape (bases, years): quicker than raising each to each."""
    return np.multiply.accumulate(np.broadcast_to(base[:, None], (base.size, years)), axis=1)


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
                     lambda shares: fixed + shares[:, None] * home + (1.0 - shares[:, None]) * exported - drawn)  # fmt: skip


def _searched(
    name: str,
    unit: str,
    now: float,
    span: tuple[float, float],
    passing: list[Evaluated],
    best: int,
    names: list[str],
    worth_at: Callable[[FloatArray], FloatArray],
    *,
    scale: float = 1.0,
) -> Sensitivity:
    """Nearest value on a grid at which another comes first, closed in on; `worth_at` gives a row for each value."""
    low, high = min(span[0], now), max(span[1], now)
    turns = _turns([np.linspace(now, end, STEPS) for end in (low, high)], passing, best, worth_at)
    if not turns:
        return Sensitivity(name, unit, now * scale, None, None, low * scale, high * scale)
    for _ in range(ROUNDS):
        # A turn that starts farther away than another ends cannot be the nearest.
        reach = min(abs(beyond - now) for _, beyond in turns)
        turns = [turn for turn in turns if abs(turn[0] - now) <= reach]
        nearer = _turns([np.linspace(*turn, CLOSER + 1) for turn in turns], passing, best, worth_at)
        if len(nearer) < len(turns):  # a turn is lost in rounding
            break
        turns = nearer
    then = min((beyond for _, beyond in turns), key=lambda value: abs(value - now))
    turns_to = first(passing, worth_at(np.array([then]))[0])
    return Sensitivity(name, unit, now * scale, then * scale, names[turns_to], low * scale, high * scale)


def _turns(
    ways: list[FloatArray], passing: list[Evaluated], best: int, worth_at: Callable[[FloatArray], FloatArray]
) -> list[tuple[float, float]]:
    """On each way where it is so, the last of its values at which `best` still comes first, and the next."""
    other = firsts(passing, worth_at(np.concatenate([way[1:] for way in ways]))) != best
    found = []
    for way, turned in zip(ways, np.split(other, np.cumsum([way.size - 1 for way in ways])[:-1]), strict=True):
        if turned.any():
            at = int(np.argmax(turned))
            found.append((float(way[at]), float(way[at + 1])))
    return found
