"""Where curves come up from zero for the last time: on a fine grid, and exactly where each further value costs much."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

DOUBT_LEAST = 0.3
"""Of a slope, relative: what a step along it leaves is at least this part of the value. Known values lie far apart."""
USEFUL = 0.9
"""A step has to leave no more than this part of the value, or half the bracket, or the next halves the bracket."""
STEPS_MOST = 30


def last_crossing(x: FloatArray, values: FloatArray) -> FloatArray:
    """Lowest x from which on each curve stays above zero to the end, by straight lines between its values.

    Parameters
    ----------
    x : array, shape (n,)
        Rising, n >= 2.
    values : array, shape (n, ...)
        Of each curve along the first axis.

    Returns
    -------
    array, shape (...)
        NaN where a curve is above zero everywhere, or ends at or below it, or has NaN at the end.
    """
    curves = values.reshape(x.size, -1)
    low = curves <= 0.0
    crosses = low.any(axis=0) & (curves[-1] > 0.0)
    i = np.where(crosses, x.size - 1 - np.argmax(low[::-1], axis=0), 0)
    here, after = (curves[at, np.arange(i.size)] for at in (i, i + 1))
    part = np.divide(-here, after - here, out=np.full(i.size, np.nan), where=crosses)
    return np.asarray(x[i] + part * (x[i + 1] - x[i])).reshape(values.shape[1:])


def relative_doubt(slope: FloatArray, used: FloatArray) -> FloatArray:
    """What a slope differs by from the one that is used, over that; 1 where that does not rise."""
    return np.asarray(np.abs(np.divide(slope - used, used, out=np.ones_like(slope), where=used > 0.0)))


@dataclass(frozen=True, slots=True, eq=False)
class Guess:
    """Where the search for each curve's crossing begins.

    Attributes
    ----------
    x, value : array
        NaN where no crossing is sought; and the value there, NaN where it is not known.
    slope, doubt : array
        Of the curve there, and the part of the slope that is in doubt (`relative_doubt`).
    """

    x: FloatArray
    value: FloatArray
    slope: FloatArray
    doubt: FloatArray


def closed_in(
    exact: Callable[[FloatArray], FloatArray],
    guess: Guess,
    *,
    bounds: tuple[float, float],
    below_at_lowest: BoolArray,
    close_enough: FloatArray,
) -> FloatArray:
    """Crossing of each of n curves by secants within their brackets; all are looked at together.

    Parameters
    ----------
    exact : callable
        Values of the curves, each at its own x: shape (n,); where x is NaN none is asked for.
    guess : Guess
        For each curve, shape (n,).
    bounds : tuple of float
        Lowest and highest x; at the highest the curves that have a guess are above zero.
    below_at_lowest : array of bool, shape (n,)
        Whether the curve is at or below zero at the lowest x.
    close_enough : array, shape (n,)
        Value at which a crossing is taken as found, and below which it is once a step's slope makes sure of it.

    Returns
    -------
    array, shape (n,)
        NaN where no crossing is sought, and where no value looked at was below zero: there is none.
    """
    sought = ~np.isnan(guess.x)
    now, done, found = np.where(sought, guess.x, bounds[1]), ~sought, np.full(guess.x.size, np.nan)
    low, high, below = *(np.full(now.size, end) for end in bounds), below_at_lowest
    slope, doubt, value_before = guess.slope, guess.doubt, np.full(now.size, np.inf)
    value = _where_wanted(exact, now, guess.value, sought & np.isnan(guess.value))
    for _ in range(STEPS_MOST):
        close = ~done & (np.abs(value) <= close_enough)
        wide = high - low
        low, high, below = np.where(value < 0.0, now, low), np.where(value < 0.0, high, now), below | (value < 0.0)
        after = now - np.divide(value, slope, out=np.zeros_like(now), where=slope > 0.0)
        straight = (after > low) & (after < high) & (slope > 0.0)
        straight &= (np.abs(value) <= USEFUL * np.abs(value_before)) | (high - low <= 0.5 * wide)
        # The next value would be what is in doubt of this one: it need not be computed.
        left = np.abs(value) * np.maximum(doubt, DOUBT_LEAST)
        sure = ~done & ~close & straight & below & (left <= close_enough)
        found = np.where(close, now, np.where(sure, after, found))
        done = done | close | sure
        if done.all():
            break
        before, value_before = now, value
        # Where a step leads out of the bracket, or the one before was of no use, as at a jump, the bracket is halved.
        now = np.where(done, now, np.where(straight, after, 0.5 * (low + high)))
        value = _where_wanted(exact, now, value, ~done)
        secant = np.divide(value - value_before, now - before, out=slope.copy(), where=now != before)
        slope, doubt = secant, relative_doubt(slope, secant)
    return np.where(~done & (low > bounds[0]), now, found)


def _where_wanted(exact: Callable[[FloatArray], FloatArray], x: FloatArray, known: FloatArray, wanted: BoolArray) -> FloatArray:
    return np.where(wanted, exact(np.where(wanted, x, np.nan)), known) if wanted.any() else known
