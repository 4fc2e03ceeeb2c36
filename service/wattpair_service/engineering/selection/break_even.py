"""From which module power on the larger microinverter pays, and up to which price.

The module grows in current at the same voltages, size and price, so that its single diode grows exactly with it and the curve
is smooth. For two neighbouring candidates the gain is the worth of the energy that the larger delivers more, less what it
costs more over the horizon, both today. Electrical limits at the other power are not looked at: the sizing of the chosen module
decides.

The curve of eleven module powers comes from condensed points: against all points a break-even power is off by 0.7 W in the
median and 2.8 W in 95 of 100 pairs, far inside its stated range.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from scipy.interpolate import PchipInterpolator, PPoly

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.condensed_points import condensed
from wattpair_service.engineering.energy.lifetime_energy import Worth, lifetime_splits
from wattpair_service.engineering.selection.evaluation import Evaluated
from wattpair_service.engineering.selection.request import RoofTerms

Pays = Literal["always", "never", "above"]

FACTORS = np.linspace(0.6, 1.6, 11)
"""Module powers of a curve, over the module's own."""
OWN = 4
"""Where in these the module's own stands."""
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
    values = _values_by_power(roof, worth, pairs)
    width = len(face_names) + 1
    places = [_Place(index, small, large) for small, large in pairs for index in range(width)]
    energy_gains = np.column_stack([values[large] - values[small] for small, large in pairs])
    extra = np.array([place.extra_cost for place in places])
    low_ends, high_ends = np.array([place.gain_ends for place in places]).T
    # A higher gain is even at a lower power.
    curves = np.stack([energy_gains, energy_gains * high_ends, energy_gains * low_ends], axis=1) - extra
    crossings = last_break_even(curves)
    told = zip((None, *face_names) * len(pairs), places, curves[:, 0].T, crossings.T.tolist(), strict=True)
    found = [place.told(name, *others) for name, place, *others in told]
    # One face is the roof.
    shown = width if len(face_names) > 1 else 1
    return tuple(
        BreakEven(
            module=small.panel.name,
            smaller=small.name,
            larger=large.name,
            module_power_w=FACTORS * small.panel.power_w,
            places=tuple(found[pair * width : pair * width + shown]),
        )
        for pair, (small, large) in enumerate(pairs)
    )


def _values_by_power(
    roof: RoofTerms, worth: Worth, pairs: Sequence[tuple[Evaluated, Evaluated]]
) -> dict[Evaluated, FloatArray]:
    """Worth of the energy of the roof, then of each face by itself, at each of `FACTORS`: shape (11, 1 + faces).

    The curves come from condensed points, and are moved to go through what all points give at the module's own power.
    """
    few = replace(roof, dc=condensed(roof.dc, moments=roof.home_use.of_the_roof))
    found = {}
    for pairing in dict.fromkeys(each for pair in pairs for each in pair):
        faces, whole = lifetime_splits(few, pairing.unit.microinverter, FACTORS[:, None])
        values = np.column_stack([whole.value(worth), faces.value(worth)])
        found[pairing] = values + (np.append(pairing.value, pairing.face_values) - values[OWN])
    return found


def last_break_even(gains: FloatArray) -> FloatArray:
    """Factor from which on each curve, along the first axis, stays above zero up to its end.

    Between its points a curve goes by monotone cubics. Where it is above zero from the start that is the first factor; where it
    ends at or below zero, NaN.
    """
    coefficients = PchipInterpolator(FACTORS, gains.reshape(FACTORS.size, -1)).c
    # Each curve by itself: of several at once scipy 1.17 loses roots.
    curves = (PPoly(np.ascontiguousarray(coefficients[..., at]), FACTORS) for at in range(coefficients.shape[-1]))
    roots = [curve.roots(extrapolate=False) for curve in curves]
    # Where a curve is zero over a part of it the root's end is not a number.
    last = np.array([each[np.isfinite(each)].max(initial=FACTORS[0]) for each in roots]).reshape(gains.shape[1:])
    # A root at one of the curve's own points may be lost in rounding; the last one is no earlier than the last gain below zero.
    low = gains <= 0.0
    last_low = FACTORS[FACTORS.size - 1 - np.argmax(low[::-1], axis=0)]
    last = np.where(low.any(axis=0), np.maximum(last, last_low), FACTORS[0])
    return np.where(gains[-1] > 0.0, last, np.nan)


def _best_of_each_power(roof: RoofTerms, passing: list[Evaluated], beside: Evaluated | None) -> list[Evaluated]:
    """By AC power for each module; of several of the same power the one that is ranked first."""
    found: dict[float, Evaluated] = {}

    def order(pairing: Evaluated) -> tuple[bool, float, float, float]:
        return (pairing is not beside, pairing.units_cost - pairing.value, pairing.units_cost, -pairing.useful_kwh)

    for pairing in sorted(passing, key=order):
        found.setdefault(pairing.unit.microinverter.per_module(roof.modules_per_input).ac_power_w, pairing)
    return [found[power] for power in sorted(found)]


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """A pair on the whole roof, `index` 0, or on face i, i + 1."""

    index: int
    small: Evaluated
    large: Evaluated

    @property
    def faces(self) -> slice:
        """Of the place."""
        return slice(None) if self.index == 0 else slice(self.index - 1, self.index)

    @property
    def gain(self) -> float:
        """Worth of the energy that the larger delivers more with the module as it is."""
        if self.index == 0:
            return self.large.value - self.small.value
        return float(self.large.face_values[self.index - 1] - self.small.face_values[self.index - 1])

    @property
    def gain_ends(self) -> tuple[float, float]:
        """Factors on the gain at the ends of the clipping's range and of the energy level.

        What the larger saves goes with the clipping that the smaller has more.
        """
        small, faces, gain = self.small, self.faces, self.gain
        saved = (small.lost_values - self.large.lost_values)[faces]
        if gain <= 0.0 or saved.sum() <= 0.0:
            return 1.0 - LEVEL_SHARE, 1.0 + LEVEL_SHARE
        low = max(0.0, 1.0 + float((small.clip_low[faces] - 1.0) @ saved) / gain)
        high = 1.0 + float((small.clip_high[faces] - 1.0) @ saved) / gain
        return low * (1.0 - LEVEL_SHARE), high * (1.0 + LEVEL_SHARE)

    @property
    def price_gap(self) -> PriceGap:
        """Up to which the larger pays with the module as it is."""
        assert self.small.cost is not None, "asked for only where there is money"
        assert self.large.cost is not None, "asked for only where there is money"
        small_cost, large_cost = self.small.cost, self.large.cost
        small_units, large_units = (float(each.unit_counts[self.faces].sum()) for each in (self.small, self.large))
        share = small_units / large_units

        def gap(energy_gain: float) -> float:
            price = ((energy_gain + small_units * small_cost.total) / large_units - large_cost.rest) / large_cost.factor
            return price - small_cost.price * share

        low, high = sorted(gap(self.gain * end) for end in self.gain_ends)
        return PriceGap(gap(self.gain), low, high, large_cost.price - small_cost.price * share, POWER_COVERS)

    @property
    def extra_cost(self) -> float:
        """What the units of the larger cost more over the horizon."""
        assert self.small.cost is not None, "asked for only where there is money"
        assert self.large.cost is not None, "asked for only where there is money"
        small, large = (float(each.unit_counts[self.faces].sum()) for each in (self.small, self.large))
        return large * self.large.cost.total - small * self.small.cost.total

    def told(self, face: str | None, gains: FloatArray, crossings: list[float]) -> PlaceBreakEven:
        """With the gain at each of `FACTORS`, and where it, and its ends with high and low energy, come above zero."""
        power_w, (crossing, low, high) = self.small.panel.power_w, crossings
        crosses = crossing > FACTORS[0]
        # Where an end never pays it stands at the curve's end.
        low, high = sorted(float(FACTORS[-1]) if math.isnan(each) else each for each in (low, high))
        if crosses:
            low, high = min(low, crossing), max(high, crossing)
        return PlaceBreakEven(
            face=face,
            power=BreakEvenPower(
                pays="above" if crosses else "never" if math.isnan(crossing) else "always",
                value_w=crossing * power_w if crosses else None,
                low_w=low * power_w,
                high_w=high * power_w,
                covers=POWER_COVERS,
            ),
            price_gap=self.price_gap,
            gains=gains,
        )
