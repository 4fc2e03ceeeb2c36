"""How the gain of a larger microinverter runs with the power of the module, and where it comes up to what the larger costs.

The shape of a curve comes from few points (`condensed_side`), and is set right where exact values are known: at the module's
own power and at both ends, which say whether the larger pays at all. What the few points miss changes smoothly in between.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator

from wattpair_service.engineering.condensed_side import condensed
from wattpair_service.engineering.crossings import Guess, closed_in, last_crossing, relative_doubt
from wattpair_service.engineering.evaluation import Evaluated
from wattpair_service.engineering.face_years import YearJob
from wattpair_service.engineering.lifetime_energy import Worth, lifetime_splits
from wattpair_service.engineering.selection_request import RoofTerms

FloatArray = npt.NDArray[np.float64]
Pair = tuple[Evaluated, Evaluated]

FACTORS = np.linspace(0.6, 1.6, 11)
"""Module powers at which the curve is computed, over the module's own."""
OWN = 4
EXACT = [0, OWN, -1]
"""Which of them are computed exactly: both ends and, between them, the module's own."""
PARTS = 20
FINE = np.linspace(FACTORS[0], FACTORS[-1], PARTS * (FACTORS.size - 1) + 1)
"""Where the curve between its points, by monotone cubics, is looked through for a crossing."""

CLOSE_ENOUGH = 5e-4
"""Gain over the costs in play at which a crossing is taken as found."""


@dataclass(frozen=True, slots=True, eq=False)
class GainCurves:
    """What energy the larger gains, in money: a column for each place of each pair, the roof before its faces, pair by pair.

    Attributes
    ----------
    fine : array, shape (201, columns)
        At each of `FINE`.
    crossing : array, shape (columns,)
        Factor from which on the gain stays above what the larger costs more; NaN where there is none.
    """

    fine: FloatArray
    crossing: FloatArray

    @property
    def energy_gains(self) -> FloatArray:
        """At each of `FACTORS`, shape (11, columns)."""
        return self.fine[::PARTS]

    def crossings_within(self, scale: FloatArray, extra: FloatArray) -> FloatArray:
        """By the curve alone, with gains `scale` times as high; where it does not cross, the end from which on it would.

        Parameters
        ----------
        scale : array, shape (k, columns)
            On each energy gain.
        extra : array, shape (columns,)
            What the larger costs more.

        Returns
        -------
        array, shape (k, columns)
            Factors.
        """
        gains = self.fine[:, None] * scale - extra
        end = np.where(gains[-1] > 0.0, FACTORS[0], FACTORS[-1])
        found = last_crossing(FINE, gains)
        return np.where(np.isnan(found), end, found)


def gain_curves(roof: RoofTerms, worth: Worth, pairs: Sequence[Pair], extra: FloatArray, costs: FloatArray) -> GainCurves:
    """Curve and crossing of each place of each pair.

    Parameters
    ----------
    roof, worth
        The module's roof, and what energy is worth.
    pairs : sequence of (Evaluated, Evaluated)
        At least one; the smaller first.
    extra, costs : array, shape (columns,)
        What the larger costs more over the horizon, and what it costs.
    """
    offered = _Pairs(roof, worth, pairs)
    shape, own = _shapes(offered), np.array([np.append(each.value, each.face_values) for each in offered.pairings])
    roughly = _fine(offered.gains(shape + (own - shape[:, OWN])[:, None]))
    guess = last_crossing(FINE, roughly - extra)
    ends, at_guess = _ends_and_guesses(offered, guess)
    missed = np.stack([ends[:, 0], own, ends[:, 1]], axis=1) - shape[:, EXACT]
    fine = _fine(offered.gains(shape + PchipInterpolator(FACTORS[EXACT], missed, axis=1)(FACTORS)))
    start = last_crossing(FINE, fine - extra)
    # What was computed at a guess serves where the curve, set right, crosses near there.
    near = np.abs(guess - start) <= FACTORS[1] - FACTORS[0]
    now = np.where(near, guess, start)
    slope = _slope(fine, now)
    crossing = closed_in(
        lambda factor: offered.exact_gains(factor) - extra,
        Guess(now, np.where(near, at_guess - extra, np.nan), slope, relative_doubt(_slope(roughly, now), slope)),
        # The curve's own points are not exact: only its ends are taken for a bracket.
        bounds=(FACTORS[0], FACTORS[-1]),
        below_at_lowest=fine[0] <= extra,
        close_enough=CLOSE_ENOUGH * np.maximum(np.abs(extra), 1e-3 * costs + 1e-9),
    )
    return GainCurves(fine, crossing)


@dataclass(frozen=True, slots=True, eq=False)
class _Pairs:
    """Neighbours on a roof, the smaller first. A place is the roof, or one of its faces by itself."""

    roof: RoofTerms
    worth: Worth
    pairs: Sequence[Pair]

    @property
    def pairings(self) -> list[Evaluated]:
        """Of all pairs, each once."""
        return list(dict.fromkeys(each for pair in self.pairs for each in pair))

    @property
    def places(self) -> int:
        """Of each pair."""
        return len(self.roof.counts) + 1

    def gains(self, values: FloatArray) -> FloatArray:
        """What the larger has more, shape (..., columns), from the worth of each pairing: (pairings, ..., places)."""
        number = {each: index for index, each in enumerate(self.pairings)}
        small, large = ([number[pair[side]] for pair in self.pairs] for side in (0, 1))
        return np.concatenate(list(values[large] - values[small]), axis=-1)

    def at(self, factor: FloatArray) -> list[tuple[Evaluated, FloatArray]]:
        """Both of each pair, with the factor of each place: what `_values` is asked for."""
        factors = factor.reshape(len(self.pairs), self.places)
        return [(each, of_pair) for pair, of_pair in zip(self.pairs, factors, strict=True) for each in pair]

    def exact_gains(self, factor: FloatArray) -> FloatArray:
        """At the factor of each column; NaN where that is NaN."""
        return _larger_less_smaller(_values(self.roof, self.worth, self.at(factor)))


def _larger_less_smaller(values: FloatArray) -> FloatArray:
    """From values at `_Pairs.at`."""
    return (values[1::2] - values[::2]).ravel()


def _shapes(offered: _Pairs) -> FloatArray:
    """`_values` at each of `FACTORS` from few points, shape (pairings, 11, places)."""
    roof, units = offered.roof, [each.unit.microinverter for each in offered.pairings]
    bursts = any(each.ac_peak_power_w > each.ac_power_w for each in units)
    few = roof.on(condensed(roof.side, moments=roof.home_use.of_the_roof, bursts=bursts))
    every = [np.full(offered.places, factor) for factor in FACTORS]
    values = _values(few, offered.worth, [(each, factors) for each in offered.pairings for factors in every])
    return values.reshape(-1, FACTORS.size, offered.places)


def _ends_and_guesses(offered: _Pairs, guess: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Exact worth of each pairing at both ends, shape (pairings, 2, places), and gains at the guesses, NaN without one.

    They are computed together, for each time that a roof is looked at costs more than a further power in it.
    """
    ends = [(each, np.full(offered.places, FACTORS[end])) for each in offered.pairings for end in (0, -1)]
    values = _values(offered.roof, offered.worth, [*ends, *offered.at(guess)])
    return values[: len(ends)].reshape(-1, 2, offered.places), _larger_less_smaller(values[len(ends) :])


def _values(roof: RoofTerms, worth: Worth, asked: Sequence[tuple[Evaluated, FloatArray]]) -> FloatArray:
    """Worth of the energy of the roof and of each face by itself, each with its own module: factors have the roof's first.

    Where a factor is NaN nothing is asked for, and the worth is NaN.
    """
    factors = np.array([each for _, each in asked])
    jobs = list[YearJob]()
    of_roof, of_faces = list[tuple[int, int]](), list[tuple[int, int]]()
    for row, (pairing, (whole, *faces)) in enumerate(asked):
        unit = pairing.unit.microinverter
        if not math.isnan(whole):
            of_roof.append((row, len(jobs)))
            jobs.append(roof.job(unit, float(whole)))
        if not all(map(math.isnan, faces)):
            if any(face != whole for face in faces):
                jobs.append(roof.job(unit, np.nan_to_num(faces, nan=1.0)))
            of_faces.append((row, len(jobs) - 1))
    found = np.full(factors.shape, np.nan)
    if jobs:
        by_face, together = (split.value(worth) for split in lifetime_splits(roof, jobs))
        for row, job in of_roof:
            found[row, 0] = together[job]
        for row, job in of_faces:
            found[row, 1:] = by_face[job]
    return np.where(np.isnan(factors), np.nan, found)


def _fine(points: FloatArray) -> FloatArray:
    """The curve between its points at `FACTORS`, by monotone cubics, at each of `FINE`."""
    found = PchipInterpolator(FACTORS, points)(FINE)
    # Rounding must not turn their signs.
    found[::PARTS] = points
    return np.asarray(found)


def _slope(fine: FloatArray, factor: FloatArray) -> FloatArray:
    """Of each column at its factor; of the first part where that is NaN."""
    inside = np.clip(np.searchsorted(FINE, np.nan_to_num(factor)) - 1, 0, FINE.size - 2)
    column = np.arange(factor.size)
    return np.asarray((fine[inside + 1, column] - fine[inside, column]) / (FINE[inside + 1] - FINE[inside]))
