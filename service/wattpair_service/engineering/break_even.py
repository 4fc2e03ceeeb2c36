"""From which module power on the larger microinverter pays, and up to which price.

The module grows in current at the same voltages, size and price, so that its single diode grows exactly with it and the curve
is smooth. For two neighbouring candidates the gain is the worth of the energy that the larger delivers more, less what it
costs more over the horizon, both today. Electrical limits at the other power are not looked at: the sizing of the chosen module
decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.evaluation import Evaluated
from wattpair_service.engineering.gain_curves import FACTORS, gain_curves
from wattpair_service.engineering.lifetime_energy import Worth
from wattpair_service.engineering.selection_request import RoofTerms

FloatArray = npt.NDArray[np.float64]
Pays = Literal["always", "never", "above"]

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
    costs = [(_costs(small), _costs(large)) for small, large in pairs]
    extra = np.concatenate([large - small for small, large in costs])
    curves = gain_curves(roof, worth, pairs, extra, np.concatenate([large for _, large in costs]))
    places = [_Place(index, small, large) for small, large in pairs for index in range(len(face_names) + 1)]
    low_ends, high_ends = np.array([place.gain_ends for place in places]).T
    ranges = curves.crossings_within(np.array([high_ends, low_ends]), extra)
    gains = curves.energy_gains - extra
    told = zip((None, *face_names) * len(pairs), places, gains.T, curves.crossing.tolist(), ranges.T.tolist(), strict=True)
    found = [place.told(name, *others) for name, place, *others in told]
    width = len(face_names) + 1
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


def _costs(pairing: Evaluated) -> FloatArray:
    """What the units of the roof and of each face cost over the horizon."""
    assert pairing.cost is not None, "asked for only where there is money"
    return np.concatenate([[pairing.unit_counts.sum()], pairing.unit_counts]) * pairing.cost.total


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

    def told(self, face: str | None, gains: FloatArray, crossing: float, ends: Sequence[float]) -> PlaceBreakEven:
        """With the gain at each power of the curve, and the factors at which it crosses zero: NaN where it does not."""
        crosses, power_w = not math.isnan(crossing), self.small.panel.power_w
        low, high = (min(ends[0], crossing), max(ends[1], crossing)) if crosses else ends
        return PlaceBreakEven(
            face=face,
            power=BreakEvenPower(
                pays="above" if crosses else "always" if gains[-1] > 0.0 else "never",
                value_w=crossing * power_w if crosses else None,
                low_w=low * power_w,
                high_w=high * power_w,
                covers=POWER_COVERS,
            ),
            price_gap=self.price_gap,
            gains=gains,
        )
