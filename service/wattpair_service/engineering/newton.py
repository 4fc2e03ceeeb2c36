"""Newton's method for many points at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

STEPS_MAX = 60


def newton(
    step: Callable[..., FloatArray],
    start: FloatArray,
    end: FloatArray | float,
    given: tuple[FloatArray, ...],
    *,
    within: FloatArray,
) -> FloatArray:
    """Root of an equation at each point, never nearer to `end` than a tenth of the way left.

    Each point goes its own way, whichever others it is solved with.

    Parameters
    ----------
    step : callable
        How far the next value lies below one, from values and what is given for them, which gets fewer as points are solved.
    start, end : array
        First value of each point, and where its equation ends.
    given : tuple of array
        What `step` needs to know of each point.
    within : array
        A point is solved when it moves by no more; what is left is of the order of the square.
    """
    found = start.flatten()
    left, value = np.arange(found.size), found.copy()
    arrays = [np.broadcast_to(each, start.shape).ravel() for each in (within, end, *given)]
    for _ in range(STEPS_MAX):
        before, (near, last, *own) = value, arrays
        value = np.minimum(before - step(before, *own), 0.1 * before + 0.9 * last)
        found[left] = value
        moving = np.flatnonzero(np.abs(value - before) > near)
        if not moving.size:
            break
        if moving.size < left.size:
            left, value, arrays = left[moving], value[moving], [each[moving] for each in arrays]
    return found.reshape(start.shape)
