"""The module power above which the larger of two microinverters pays, and the price difference up to which it does.

The module's power is varied by its current at the same voltages, size and price, so that its single diode scales exactly and
the curve is smooth. For two neighbouring candidates the gain is the present value of the larger's additional energy less the
present value of its additional cost, with its balance of plant, which is shared out over the faces by their units. Electrical
limits at other module powers are not checked: the sizing of the chosen module decides.

The curve of eleven module powers comes from condensed points: its break-even power differs from that over all points by 0.7 W
in the median and 2.8 W in 95 of 100 pairs, far inside its stated range.
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
from wattpair_service.engineering.sentences import Words, fixed

Pays = Literal["always", "never", "above"]

FACTORS = np.linspace(0.6, 1.6, 11)
"""Module powers of a curve, relative to the module's own."""
OWN_POWER_INDEX = 4
"""Index of the module's own power in `FACTORS`."""
LIFETIME_UNCERTAINTY_SHARE = 0.101
"""Half width of the 80 % range of lifetime energy: 1.28155 x 7.9 % (Thevenard and Pelland 2013,
10.1016/j.solener.2011.05.006)."""

POWER_COVERS = fixed("covers.break_even_power")


@dataclass(frozen=True, slots=True)
class BreakEvenPower:
    """Module power above which the larger pays; `value_w` is None where it `pays` always or never within the curve."""

    pays: Pays
    value_w: float | None
    low_w: float
    high_w: float
    covers: Words


@dataclass(frozen=True, slots=True)
class PriceGap:
    """Price of the larger unit less that of the smaller, for as many modules, up to which it pays; `asked` is today's gap."""

    value: float
    low: float
    high: float
    asked: float
    covers: Words


@dataclass(frozen=True, slots=True, eq=False)
class PlaceBreakEven:
    """Break-even of the whole roof (`face` None) or of one face by itself.

    `gains` holds the larger's gain in money over all modules, at each module power of the curve.
    """

    face: str | None
    power: BreakEvenPower
    price_gap: PriceGap
    gains: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class BreakEven:
    """Break-even of two neighbouring candidates: the whole roof, then each face. `module_power_w` is the curve's axis."""

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
    only_with: Evaluated | None = None,
) -> tuple[BreakEven, ...]:
    """Break-even of each pair of neighbours on one module, in the order of AC power for each module.

    Parameters
    ----------
    roof, worth
        The module's roof, and the present value of energy.
    passing : list of Evaluated
        Candidates on this module.
    face_names : tuple of str
        In the roof's order.
    only_with : Evaluated, optional
        Where given, only pairs that include this candidate.
    """
    ordered = _best_of_each_power(roof, passing, only_with)
    pairs = [(small, large) for small, large in pairwise(ordered) if only_with is None or only_with in (small, large)]
    if not pairs:
        return ()
    values = _values_by_power(roof, worth, pairs)
    areas_per_pair = len(face_names) + 1
    comparisons = [_Comparison(area, small, large) for small, large in pairs for area in range(areas_per_pair)]
    energy_gains = np.column_stack([values[large] - values[small] for small, large in pairs])
    extra_costs = np.array([each.extra_cost for each in comparisons])
    low_factors, high_factors = np.array([each.gain_factors for each in comparisons]).T
    # The high end of the gain gives the low end of the break-even power.
    curves = np.stack([energy_gains, energy_gains * high_factors, energy_gains * low_factors], axis=1) - extra_costs
    factors = last_break_even(curves)
    rows = zip((None, *face_names) * len(pairs), comparisons, curves[:, 0].T, factors.T.tolist(), strict=True)
    results = [comparison.result(name, *others) for name, comparison, *others in rows]
    # With a single face the result of the face repeats that of the roof.
    reported = areas_per_pair if len(face_names) > 1 else 1
    return tuple(
        BreakEven(
            module=small.panel.name,
            smaller=small.name,
            larger=large.name,
            module_power_w=FACTORS * small.panel.power_w,
            places=tuple(results[pair * areas_per_pair : pair * areas_per_pair + reported]),
        )
        for pair, (small, large) in enumerate(pairs)
    )


def _values_by_power(
    roof: RoofTerms, worth: Worth, pairs: Sequence[tuple[Evaluated, Evaluated]]
) -> dict[Evaluated, FloatArray]:
    """Present value of the energy of the roof, then of each face by itself, at each of `FACTORS`: shape (11, 1 + faces).

    Condensed points give the curves, which are then shifted to the value over all points at the module's own power.
    """
    few = condensed(roof.dc, moments=not roof.household.by_share)
    condensed_roof = replace(roof, dc=few, household=roof.household.coarse(few.time))
    values_by_pairing = {}
    for pairing in dict.fromkeys(each for pair in pairs for each in pair):
        faces, whole_roof = lifetime_splits(
            condensed_roof, pairing.unit.microinverter, FACTORS[:, None], pairing.losses.kept_power
        )
        values = pairing.losses.kept_hours * np.column_stack([whole_roof.value(worth), faces.value(worth)])
        shift = np.append(pairing.value, pairing.face_values) - values[OWN_POWER_INDEX]
        values_by_pairing[pairing] = values + shift
    return values_by_pairing


def last_break_even(gains: FloatArray) -> FloatArray:
    """Factor above which each curve, along the first axis, stays positive up to its end.

    Monotone cubics join the points of a curve. The result is the first factor where a curve is positive throughout, and NaN
    where it ends at or below zero.
    """
    coefficients = PchipInterpolator(FACTORS, gains.reshape(FACTORS.size, -1)).c
    # Each curve by itself: of several at once scipy 1.17 loses roots.
    curves = (PPoly(np.ascontiguousarray(coefficients[..., index]), FACTORS) for index in range(coefficients.shape[-1]))
    roots = [curve.roots(extrapolate=False) for curve in curves]
    # Where a curve is zero over an interval scipy appends NaN to the root.
    last = np.array([each[np.isfinite(each)].max(initial=FACTORS[0]) for each in roots]).reshape(gains.shape[1:])
    # Rounding may lose a root at a point of the curve: the last root is not below the last point without a gain.
    no_gain = gains <= 0.0
    last_no_gain = FACTORS[FACTORS.size - 1 - np.argmax(no_gain[::-1], axis=0)]
    last = np.where(no_gain.any(axis=0), np.maximum(last, last_no_gain), FACTORS[0])
    return np.where(gains[-1] > 0.0, last, np.nan)


def _best_of_each_power(roof: RoofTerms, passing: list[Evaluated], preferred: Evaluated | None) -> list[Evaluated]:
    """The preferred or else the best-ranked candidate of each AC power for each module, by rising power."""
    best: dict[float, Evaluated] = {}

    def order(pairing: Evaluated) -> tuple[bool, float, float, float]:
        return (pairing is not preferred, pairing.own_cost - pairing.value, pairing.own_cost, -pairing.useful_kwh)

    for pairing in sorted(passing, key=order):
        best.setdefault(pairing.unit.microinverter.per_module(roof.input_wiring).ac_power_w, pairing)
    return [best[power] for power in sorted(best)]


@dataclass(frozen=True, slots=True, eq=False)
class _Comparison:
    """Two candidates on one area: 0 is the whole roof, 1 the first face, 2 the second."""

    area: int
    small: Evaluated
    large: Evaluated

    @property
    def faces(self) -> slice:
        """Indexes of the faces that the area holds."""
        return slice(None) if self.area == 0 else slice(self.area - 1, self.area)

    @property
    def gain(self) -> float:
        """Present value of the larger's additional energy at the module's own power."""
        if self.area == 0:
            return self.large.value - self.small.value
        return float(self.large.face_values[self.area - 1] - self.small.face_values[self.area - 1])

    @property
    def extra_plant(self) -> float:
        """Additional balance of plant and grid connection of the larger."""
        return float((self.large.plant_by_face - self.small.plant_by_face)[self.faces].sum())

    @property
    def gain_factors(self) -> tuple[float, float]:
        """Factors on the gain at the low and high ends of the clipping's range and of the lifetime energy.

        The clipping that the larger avoids scales with the clipping of the smaller.
        """
        small, faces, gain = self.small, self.faces, self.gain
        avoided = (small.lost_values - self.large.lost_values)[faces]
        if gain <= 0.0 or avoided.sum() <= 0.0:
            return 1.0 - LIFETIME_UNCERTAINTY_SHARE, 1.0 + LIFETIME_UNCERTAINTY_SHARE
        low = max(0.0, 1.0 + float((small.clip_low[faces] - 1.0) @ avoided) / gain)
        high = 1.0 + float((small.clip_high[faces] - 1.0) @ avoided) / gain
        return low * (1.0 - LIFETIME_UNCERTAINTY_SHARE), high * (1.0 + LIFETIME_UNCERTAINTY_SHARE)

    @property
    def price_gap(self) -> PriceGap:
        """Price difference up to which the larger pays at the module's own power."""
        assert self.small.cost is not None, "computed only where prices are known"
        assert self.large.cost is not None, "computed only where prices are known"
        small_cost, large_cost = self.small.cost, self.large.cost
        small_units, large_units = (float(each.unit_counts[self.faces].sum()) for each in (self.small, self.large))
        units_ratio = small_units / large_units

        def gap(energy_gain: float) -> float:
            for_units = energy_gain - self.extra_plant + small_units * small_cost.total
            price = (for_units / large_units - large_cost.rest) / large_cost.factor
            return price - small_cost.price * units_ratio

        low, high = sorted(gap(self.gain * factor) for factor in self.gain_factors)
        return PriceGap(gap(self.gain), low, high, large_cost.price - small_cost.price * units_ratio, POWER_COVERS)

    @property
    def extra_cost(self) -> float:
        """Present value of the additional cost of the larger over the horizon."""
        assert self.small.cost is not None, "computed only where prices are known"
        assert self.large.cost is not None, "computed only where prices are known"
        small, large = (float(each.unit_counts[self.faces].sum()) for each in (self.small, self.large))
        return large * self.large.cost.total - small * self.small.cost.total + self.extra_plant

    def result(self, face: str | None, gains: FloatArray, break_even_factors: list[float]) -> PlaceBreakEven:
        """From the gain at each of `FACTORS` and the break-even factors of the gain, its high end and its low end."""
        power_w, (factor, low, high) = self.small.panel.power_w, break_even_factors
        within_curve = factor > FACTORS[0]
        # An end that never pays is set to the end of the curve.
        low, high = sorted(float(FACTORS[-1]) if math.isnan(end) else end for end in (low, high))
        if within_curve:
            low, high = min(low, factor), max(high, factor)
        return PlaceBreakEven(
            face=face,
            power=BreakEvenPower(
                pays="above" if within_curve else "never" if math.isnan(factor) else "always",
                value_w=factor * power_w if within_curve else None,
                low_w=low * power_w,
                high_w=high * power_w,
                covers=POWER_COVERS,
            ),
            price_gap=self.price_gap,
            gains=gains,
        )
