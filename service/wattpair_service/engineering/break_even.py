"""From which module power on the larger microinverter pays, and up to which price.

The module grows in current at the same voltages, size and price, so that its single diode grows exactly with it and the curve
is smooth. For two neighbouring candidates the gain is the worth of the energy that the larger delivers more, less what it
costs more over the horizon, both today. Electrical limits at the other power are not looked at: the sizing of the chosen module
decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator

from wattpair_service.engineering.condensed_side import condensed
from wattpair_service.engineering.evaluation import Evaluated
from wattpair_service.engineering.lifetime_energy import Worth, lifetime_splits
from wattpair_service.engineering.selection_request import RoofTerms

FloatArray = npt.NDArray[np.float64]
Pays = Literal["always", "never", "above"]

FACTORS = np.linspace(0.6, 1.6, 11)
"""Module powers at which the curve is computed, over the module's own."""
EXACT = [0, 4, -1]
"""Which of them are computed exactly: both ends and, between them, the module's own."""

CLOSE_ENOUGH = 5e-4
"""Gain over the costs in play at which a root is taken as found."""
STEPS_MOST = 30
FINE = np.linspace(FACTORS[0], FACTORS[-1], 201)
"""Where the curve between its points, by monotone cubics, is looked through for the first guess of a root."""

LEVEL_SHARE = 0.101
"""Energy level in a long run of years: 1.28155 x 7.9 % (Thevenard and Pelland 2013, 10.1016/j.solener.2011.05.006)."""

POWER_COVERS = (
    "the clipping's own range together with 10 % more or less energy (80 % of lifetimes, Thevenard and Pelland 2013); prices, "
    "tariff and failures are held; an end outside the curve stands at the curve's end"
)


@dataclass(frozen=True, slots=True)
class BreakEvenPower:
    """Module power at which the larger pays: `value_w` None where it `pays` always or never within the curve."""

    pays: Pays
    value_w: float | None
    low_w: float
    high_w: float
    covers: str


@dataclass(frozen=True, slots=True)
class PriceGap:
    """Price of the larger unit less that of the smaller (for as many modules) up to which it pays, with its range."""

    value: float
    low: float
    high: float
    asked: float
    covers: str


@dataclass(frozen=True, slots=True, eq=False)
class PlaceBreakEven:
    """Break-even of the whole roof (`face` None) or of one face by itself.

    `gains` is the gain in money of the larger, over all its modules, at each power of the curve.
    """

    face: str | None
    power: BreakEvenPower
    price_gap: PriceGap
    gains: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class BreakEven:
    """Two neighbouring candidates: the roof, then face by face. `module_power_w` is the curve's axis."""

    module: str
    smaller: str
    larger: str
    module_power_w: FloatArray
    places: tuple[PlaceBreakEven, ...]


def break_evens(
    roof: RoofTerms,
    worth: Worth,
    passing: list[Evaluated],
    face_names: tuple[str, ...],
    *,
    beside: Evaluated | None = None,
) -> tuple[BreakEven, ...]:
    """Break-even of each pair of neighbours among pairings of one module, by AC power for each module.

    Parameters
    ----------
    roof, worth
        The module's roof, and what energy is worth.
    passing : list of Evaluated
        Candidates on this module.
    face_names : tuple of str
        In the roof's order.
    beside : Evaluated, optional
        Where given, only pairs with this one.
    """
    ordered = _best_of_each_power(roof, passing, beside)
    pairs = [(a, b) for a, b in pairwise(ordered) if beside is None or beside in (a, b)]
    if not pairs:
        return ()
    needed = list({id(each): each for pair in pairs for each in pair}.values())
    curves = dict(zip(map(id, needed), _curves(roof, worth, needed), strict=True))
    energy_gains = [curves[id(large)] - curves[id(small)] for small, large in pairs]
    extras = [_extra_costs(small, large) for small, large in pairs]
    # Monotone cubics keep their shape when they are scaled and shifted: one set serves every end of the ranges.
    together = np.concatenate(energy_gains, axis=1)
    fine = PchipInterpolator(FACTORS, together)(FINE)
    roots = _roots(roof, worth, pairs, together, fine, extras)
    places = (None, *face_names) if len(face_names) > 1 else (None,)
    width = len(face_names) + 1
    return tuple(
        BreakEven(
            module=small.panel.name,
            smaller=small.name,
            larger=large.name,
            module_power_w=FACTORS * small.panel.power_w,
            places=tuple(
                _place(
                    place,
                    index,
                    small,
                    large,
                    energy_gains[pair][:, index],
                    fine[:, pair * width + index],
                    float(extras[pair][index]),
                    roots[pair * width + index],
                )
                for index, place in enumerate(places)
            ),
        )
        for pair, (small, large) in enumerate(pairs)
    )


def _extra_costs(small: Evaluated, large: Evaluated) -> FloatArray:
    """What the larger costs more over the horizon, on the roof and on each face."""
    assert small.cost is not None, "asked for only where there is money"
    assert large.cost is not None, "asked for only where there is money"
    small_units, large_units = (_units(each) for each in (small, large))
    return np.asarray(large_units * large.cost.total - small_units * small.cost.total)


def _units(pairing: Evaluated) -> FloatArray:
    """Units on the roof and on each face."""
    return np.concatenate([[pairing.unit_counts.sum()], pairing.unit_counts])


def _best_of_each_power(roof: RoofTerms, passing: list[Evaluated], beside: Evaluated | None) -> list[Evaluated]:
    """By AC power for each module; of several of the same power the one that is ranked first."""
    found: dict[float, Evaluated] = {}

    def order(pairing: Evaluated) -> tuple[bool, float, float, float]:
        return (pairing is not beside, pairing.units_cost - pairing.value, pairing.units_cost, -pairing.useful_kwh)

    for pairing in sorted(passing, key=order):
        found.setdefault(pairing.unit.microinverter.per_module(roof.modules_per_input).ac_power_w, pairing)
    return [found[power] for power in sorted(found)]


def _curves(roof: RoofTerms, worth: Worth, pairings: list[Evaluated]) -> list[FloatArray]:
    """Worth at each of `FACTORS`, as `_values`: shape from few points, set right where exact values are known.

    That is at the module's own power and at both ends, which say whether the larger pays at all; what the few points miss
    changes smoothly in between.
    """
    places = len(roof.counts) + 1
    ends = iter(_values(roof, worth, [(each, np.full(places, FACTORS[end])) for each in pairings for end in (0, -1)]))
    found = []
    for pairing, shape in zip(pairings, _shapes(roof, worth, pairings), strict=True):
        exact = np.array([next(ends), np.append(pairing.value, pairing.face_values), next(ends)])
        missed = PchipInterpolator(FACTORS[EXACT], exact - shape[EXACT], axis=0)
        found.append(shape + missed(FACTORS))
    return found


def _shapes(roof: RoofTerms, worth: Worth, pairings: list[Evaluated]) -> list[FloatArray]:
    """`_values` at each of `FACTORS` from few points."""
    bursts = any(each.unit.microinverter.ac_peak_power_w > each.unit.microinverter.ac_power_w for each in pairings)
    few = roof.on(condensed(roof.side, moments=roof.home_use.of_the_roof, bursts=bursts))
    places = len(roof.counts) + 1
    every = [np.full(places, factor) for factor in FACTORS]
    values = _values(few, worth, [(pairing, factor) for pairing in pairings for factor in every])
    return [np.array(values[at : at + FACTORS.size]) for at in range(0, len(values), FACTORS.size)]


def _values(roof: RoofTerms, worth: Worth, asked: list[tuple[Evaluated, FloatArray]]) -> list[FloatArray]:
    """Worth of the energy of the roof and of each face by itself, each with its own module: factors have the roof's first."""
    jobs = []
    for pairing, factors in asked:
        unit = pairing.unit.microinverter
        one_for_all = bool((factors == factors[0]).all())
        jobs.append(roof.job(unit, float(factors[0]) if one_for_all else factors[1:]))
        jobs.append(jobs[-1] if one_for_all else roof.job(unit, float(factors[0])))
    distinct = list(dict.fromkeys(jobs))
    faces, whole = (split.value(worth) for split in lifetime_splits(roof, distinct))
    place = {job: number for number, job in enumerate(distinct)}
    return [
        np.append(whole[place[whole_job]], faces[place[faces_job]])
        for faces_job, whole_job in zip(jobs[::2], jobs[1::2], strict=True)
    ]


def _place(
    face: str | None,
    index: int,
    small: Evaluated,
    large: Evaluated,
    energy_gains: FloatArray,
    fine: FloatArray,
    extra: float,
    root: float | None,
) -> PlaceBreakEven:
    """One place; `index` 0 is the roof, face i is i + 1."""
    assert small.cost is not None, "asked for only where there is money"
    assert large.cost is not None, "asked for only where there is money"
    small_cost, large_cost = small.cost, large.cost
    faces = slice(None) if index == 0 else slice(index - 1, index)
    small_units, large_units = float(small.unit_counts[faces].sum()), float(large.unit_counts[faces].sum())
    now = large.value - small.value if index == 0 else float((large.face_values - small.face_values)[index - 1])
    ends = _gain_ends(now, small, large, faces)
    crossings = [_first_guess(energy_gains * end - extra, fine * end - extra) for end in reversed(ends)]
    power_w = small.panel.power_w
    low, high = (_within_curve(energy_gains * end - extra, at) for end, at in zip(reversed(ends), crossings, strict=True))
    if root is not None:
        low, high = min(low, root), max(high, root)
    share = small_units / large_units

    def gap(energy_gain: float) -> float:
        price = ((energy_gain + small_units * small_cost.total) / large_units - large_cost.rest) / large_cost.factor
        return price - small_cost.price * share

    gaps = sorted(gap(now * end) for end in ends)
    return PlaceBreakEven(
        face=face,
        power=BreakEvenPower(
            pays="above" if root is not None else "always" if energy_gains[-1] > extra else "never",
            value_w=None if root is None else root * power_w,
            low_w=low * power_w,
            high_w=high * power_w,
            covers=POWER_COVERS,
        ),
        price_gap=PriceGap(gap(now), gaps[0], gaps[1], large_cost.price - small_cost.price * share, POWER_COVERS),
        gains=energy_gains - extra,
    )


def _gain_ends(now: float, small: Evaluated, large: Evaluated, faces: slice) -> tuple[float, float]:
    """Factors on the energy gain at the ends of the clipping's range and of the energy level.

    What the larger saves goes with the clipping that the smaller has more.
    """
    saved = (small.lost_values - large.lost_values)[faces]
    if now <= 0.0 or saved.sum() <= 0.0:
        return 1.0 - LEVEL_SHARE, 1.0 + LEVEL_SHARE
    low = max(0.0, 1.0 + float((small.clip_low[faces] - 1.0) @ saved) / now)
    high = 1.0 + float((small.clip_high[faces] - 1.0) @ saved) / now
    return low * (1.0 - LEVEL_SHARE), high * (1.0 + LEVEL_SHARE)


def _within_curve(gains: FloatArray, crossing: float | None) -> float:
    if crossing is not None:
        return crossing
    return float(FACTORS[0] if gains[-1] > 0.0 else FACTORS[-1])


def _first_guess(gains: FloatArray, fine: FloatArray) -> float | None:
    """Lowest factor from which on the gain stays positive to the end of the curve; None without a crossing."""
    losing = np.flatnonzero(gains <= 0.0)
    if gains[-1] <= 0.0 or not losing.size:
        return None
    at = int(losing[-1])
    here = np.flatnonzero((fine[:-1] <= 0.0) & (fine[1:] > 0.0) & (FINE[1:] > FACTORS[at]) & (FINE[:-1] < FACTORS[at + 1]))
    i = int(here[-1])
    return float(FINE[i] - fine[i] * (FINE[i + 1] - FINE[i]) / (fine[i + 1] - fine[i]))


def _roots(
    roof: RoofTerms,
    worth: Worth,
    pairs: list[tuple[Evaluated, Evaluated]],
    energy_gains: FloatArray,
    fine: FloatArray,
    extras: list[FloatArray],
) -> list[float | None]:
    """Exact crossing of each place of each pair, all of them closed in together by secants within their brackets.

    None where the curve crosses by what its few points miss alone: no power looked at was a loss.
    """
    extra = np.concatenate(extras)
    costs = np.concatenate([_units(large) * (0.0 if large.cost is None else large.cost.total) for _, large in pairs])
    close_enough = CLOSE_ENOUGH * np.maximum(np.abs(extra), 1e-3 * costs + 1e-9)
    guesses = [_first_guess(gains, between) for gains, between in zip((energy_gains - extra).T, (fine - extra).T, strict=True)]
    sought = np.array([guess is not None for guess in guesses])
    if not sought.any():
        return guesses

    def gains_of(some: list[int], factors: FloatArray) -> FloatArray:
        asked = [(each, part) for pair, part in zip(some, factors, strict=True) for each in pairs[pair]]
        values = np.array(_values(roof, worth, asked))
        return np.asarray(values[1::2] - values[::2])

    now = np.array([1.0 if guess is None else guess for guess in guesses])
    places = np.arange(now.size)
    inside = np.clip(np.searchsorted(FINE, now) - 1, 0, len(FINE) - 2)
    slope = (fine[inside + 1, places] - fine[inside, places]) / (FINE[inside + 1] - FINE[inside])
    # The curve's own points are not exact: only its ends are taken for a bracket.
    low, high = np.full(now.size, FACTORS[0]), np.full(now.size, FACTORS[-1])
    before = value_before = None
    value, shape = np.zeros(now.size), (len(pairs), -1)
    done = ~sought
    for _ in range(STEPS_MOST):
        # Pairs whose places are all found are not computed again.
        some = np.flatnonzero(~done.reshape(shape).all(axis=1))
        value = value.copy()
        value.reshape(shape)[some] = gains_of(some.tolist(), now.reshape(shape)[some]) - extra.reshape(shape)[some]
        done = ~sought | (np.abs(value) <= close_enough)
        if done.all():
            break
        low, high = np.where(value < 0.0, now, low), np.where(value < 0.0, high, now)
        if before is not None and value_before is not None:
            moved = now != before
            slope = np.divide(value - value_before, now - before, out=slope.copy(), where=moved)
        step = np.divide(value, slope, out=np.zeros_like(now), where=slope > 0.0)
        after = now - step
        # A step out of the bracket, or none at all, is halved instead.
        after = np.where((after > low) & (after < high) & (slope > 0.0), after, 0.5 * (low + high))
        before, value_before, now = now, value, np.where(done, now, after)
    found = sought & ((np.abs(value) <= close_enough) | (low > FACTORS[0]))
    return [float(at) if there else None for at, there in zip(now, found, strict=True)]
