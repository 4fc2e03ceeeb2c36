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
DOUBT_LEAST = 0.3
"""Of a slope, relative: what a step along it leaves is at least this part of the gain. The curve's points lie far apart."""
STEPS_MOST = 30


@dataclass(frozen=True, slots=True, eq=False)
class GainCurves:
    """What energy the larger gains, in money: a column for each place of each pair, the roof before its faces, pair by pair.

    Attributes
    ----------
    energy_gains : array, shape (11, columns)
        At each of `FACTORS`.
    fine : array, shape (201, columns)
        Between them, at each of `FINE`.
    crossing : array, shape (columns,)
        Factor from which on the gain stays above what the larger costs more; NaN where there is none.
    """

    energy_gains: FloatArray
    fine: FloatArray
    crossing: FloatArray

    def crossings_within(self, scale: FloatArray, extra: FloatArray) -> FloatArray:
        """By the curve alone, with gains `scale` times as high; where it does not cross, the end from which on it would.

        Parameters
        ----------
        scale : array, shape (k, columns)
            On each energy gain.
        extra : array, shape (columns,)
            What the larger costs more.
        """
        gains, fine = (
            (values[:, None] * scale - extra).reshape(values.shape[0], -1) for values in (self.energy_gains, self.fine)
        )
        found = _last_crossing(gains, fine)
        end = np.where(gains[-1] > 0.0, FACTORS[0], FACTORS[-1])
        return np.where(np.isnan(found), end, found).reshape(scale.shape)


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
    pairings = list({id(each): each for pair in pairs for each in pair}.values())
    number = {id(each): index for index, each in enumerate(pairings)}
    small, large = ([number[id(pair[side])] for pair in pairs] for side in (0, 1))

    def gains(values: FloatArray) -> FloatArray:
        """From the worth of each pairing, with places along the last axis, to a column for each place of each pair."""
        return np.concatenate(list(values[large] - values[small]), axis=-1)

    shape = _shapes(roof, worth, pairings)
    own = np.array([np.append(each.value, each.face_values) for each in pairings])
    roughly = gains(shape + (own - shape[:, OWN])[:, None])
    roughly_fine = PchipInterpolator(FACTORS, roughly)(FINE)
    guess = _last_crossing(roughly - extra, roughly_fine - extra)
    ends, at_guess = _ends_and_guesses(roof, worth, pairings, pairs, guess)
    missed = np.stack([ends[:, 0], own, ends[:, 1]], axis=1) - shape[:, EXACT]
    energy_gains = gains(shape + PchipInterpolator(FACTORS[EXACT], missed, axis=1)(FACTORS))
    fine = PchipInterpolator(FACTORS, energy_gains)(FINE)
    search = _Search(roof, worth, pairs, extra, CLOSE_ENOUGH * np.maximum(np.abs(extra), 1e-3 * costs + 1e-9))
    start = _last_crossing(energy_gains - extra, fine - extra)
    # What was computed at a guess serves where the curve, set right, crosses near there.
    near = np.abs(guess - start) <= FACTORS[1] - FACTORS[0]
    now = np.where(near, guess, start)
    value, slope = np.where(near, at_guess - extra, np.nan), _slope(fine, now)
    crossing = search.closed_in(now, value, slope, _doubt(_slope(roughly_fine, now), slope), energy_gains[0] <= extra)
    return GainCurves(energy_gains, fine, crossing)


def _shapes(roof: RoofTerms, worth: Worth, pairings: Sequence[Evaluated]) -> FloatArray:
    """`_values` at each of `FACTORS` from few points, shape (pairings, 11, places)."""
    bursts = any(each.unit.microinverter.ac_peak_power_w > each.unit.microinverter.ac_power_w for each in pairings)
    few = roof.on(condensed(roof.side, moments=roof.home_use.of_the_roof, bursts=bursts))
    places = len(roof.counts) + 1
    every = [np.full(places, factor) for factor in FACTORS]
    values = _values(few, worth, [(pairing, factors) for pairing in pairings for factors in every])
    return values.reshape(len(pairings), FACTORS.size, places)


def _ends_and_guesses(
    roof: RoofTerms, worth: Worth, pairings: Sequence[Evaluated], pairs: Sequence[Pair], guess: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Exact worth of each pairing at both ends, shape (pairings, 2, places), and gains at the guesses, NaN without one.

    They are computed together, for each time that a roof is looked at costs more than a further power in it.
    """
    places = len(roof.counts) + 1
    asked = [(each, np.full(places, FACTORS[end])) for each in pairings for end in (0, -1)]
    guesses = zip(pairs, guess.reshape(len(pairs), places), strict=True)
    values = _values(roof, worth, asked + [(each, factors) for pair, factors in guesses for each in pair])
    ends, at_guess = values[: len(asked)], values[len(asked) :]
    return ends.reshape(len(pairings), 2, places), (at_guess[1::2] - at_guess[::2]).ravel()


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


def _last_crossing(gains: FloatArray, fine: FloatArray) -> FloatArray:
    """Lowest factor of each column from which on the gain stays positive to the end; NaN without a crossing."""
    losing = gains <= 0.0
    crosses = losing.any(axis=0) & ~losing[-1]
    # The point before the crossing, and in the part behind it the last fine one.
    at = np.where(crosses, FACTORS.size - 1 - np.argmax(losing[::-1], axis=0), 0)
    column, part = np.arange(at.size), at * PARTS + np.arange(PARTS)[:, None]
    rising = (fine[part, column] <= 0.0) & (fine[part + 1, column] > 0.0)
    i = at * PARTS + PARTS - 1 - np.argmax(rising[::-1], axis=0)
    here, rise = fine[i, column], fine[i + 1, column] - fine[i, column]
    found = FINE[i] - np.divide(here, rise, out=np.zeros_like(here), where=rise > 0.0) * (FINE[1] - FINE[0])
    return np.where(crosses, found, np.nan)


def _slope(fine: FloatArray, factor: FloatArray) -> FloatArray:
    """Of each column at its factor; of the first part where that is NaN."""
    inside = np.clip(np.searchsorted(FINE, np.nan_to_num(factor)) - 1, 0, FINE.size - 2)
    column = np.arange(factor.size)
    return np.asarray((fine[inside + 1, column] - fine[inside, column]) / (FINE[inside + 1] - FINE[inside]))


def _doubt(slope: FloatArray, other: FloatArray) -> FloatArray:
    """What two slopes of the same curves differ by, over the second; 1 where that does not rise."""
    return np.asarray(np.abs(np.divide(slope - other, other, out=np.ones_like(slope), where=other > 0.0)))


@dataclass(frozen=True, slots=True, eq=False)
class _Search:
    """For exact crossings of all places of all pairs together; `close_enough` is in money, for each column."""

    roof: RoofTerms
    worth: Worth
    pairs: Sequence[Pair]
    extra: FloatArray
    close_enough: FloatArray

    def closed_in(
        self, start: FloatArray, value: FloatArray, slope: FloatArray, doubt: FloatArray, lost_below: npt.NDArray[np.bool_]
    ) -> FloatArray:
        """Crossing of each column by secants within their brackets; NaN where there is none.

        None is where the curve crosses by what its few points miss alone: no power looked at was a loss.

        Parameters
        ----------
        start, value : array
            First factor, NaN where none is sought, and the gain there where it is known, else NaN.
        slope, doubt : array
            Of the curve there, and the part of the slope that is in doubt.
        lost_below : array of bool
            Whether the lower end of the curve is a loss.
        """
        sought = ~np.isnan(start)
        now, done, found = np.where(sought, start, 1.0), ~sought, np.full(start.size, np.nan)
        # The curve's own points are not exact: only its ends are taken for a bracket.
        low, high = np.full(now.size, FACTORS[0]), np.full(now.size, FACTORS[-1])
        lost = lost_below
        value = self._gains(now, value, sought & np.isnan(value))
        for _ in range(STEPS_MOST):
            close = ~done & (np.abs(value) <= self.close_enough)
            low, high, lost = np.where(value < 0.0, now, low), np.where(value < 0.0, high, now), lost | (value < 0.0)
            after = now - np.divide(value, slope, out=np.zeros_like(now), where=slope > 0.0)
            straight = (after > low) & (after < high) & (slope > 0.0)
            # The next value would be what is in doubt of this one: it need not be computed.
            left = np.abs(value) * np.maximum(doubt, DOUBT_LEAST)
            sure = ~done & ~close & straight & lost & (left <= self.close_enough)
            found = np.where(close, now, np.where(sure, after, found))
            done = done | close | sure
            if done.all():
                break
            before, value_before = now, value
            # A step out of the bracket, or none at all, is halved instead.
            now = np.where(done, now, np.where(straight, after, 0.5 * (low + high)))
            value = self._gains(now, value, ~done)
            secant = np.divide(value - value_before, now - before, out=slope.copy(), where=now != before)
            slope, doubt = secant, _doubt(secant, slope)
        return np.where(~done & (low > FACTORS[0]), now, found)

    def _gains(self, factor: FloatArray, known: FloatArray, wanted: npt.NDArray[np.bool_]) -> FloatArray:
        """Exact gains less what the larger costs more where wanted, else what is known."""
        if not wanted.any():
            return known
        factors = np.where(wanted, factor, np.nan).reshape(len(self.pairs), -1)
        asked = [(each, of_pair) for pair, of_pair in zip(self.pairs, factors, strict=True) for each in pair]
        values = _values(self.roof, self.worth, asked)
        return np.where(wanted, (values[1::2] - values[::2]).ravel() - self.extra, known)
