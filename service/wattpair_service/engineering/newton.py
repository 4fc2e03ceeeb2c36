"""Newton's method for many points at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.arrays import FloatArray

STEPS_MAX = 60


def newton(
    step: Callable[..., FloatArray],
    start: FloatArray,
    given: tuple[npt.NDArray[Any], ...],
    *,
    within: FloatArray,
    end: FloatArray | None = None,
    of_the_way: float = 0.0,
) -> FloatArray:
    """Root of an equation at each point, never nearer to `end` than a tenth of the way left.

    Each point goes its own way, whichever others it is solved with.

    Parameters
    ----------
    step : callable
        How far the next value lies below one, from values and what is given for them, which gets fewer as points are solved.
    start : array
        First value of each point.
    given : tuple of array
        What `step` needs to know of each point.
    within : array
        A point is solved when it moves by no more; what is left is of the order of the square.
    end : array, optional
        Where the equation of each point ends.
    of_the_way : float
        A point is solved also when it moves by no more than this part of what is left to `end`.
    """
    value, left = start.ravel(), None
    arrays = [each.ravel() for each in (within, *given, *(() if end is None else (end,)))]
    found = value
    for _ in range(STEPS_MAX):
        before, (near, *own) = value, arrays
        value = before - step(before, *own[: len(given)])
        if end is not None:
            value = np.minimum(value, 0.1 * before + 0.9 * own[-1])
            if of_the_way > 0.0:
                near = np.maximum(near, of_the_way * (own[-1] - value))
        if left is None:
            found = value
        else:
            found[left] = value
        moving = np.flatnonzero(np.abs(value - before) > near)
        if not moving.size:
            break
        if moving.size < value.size:
            left = moving if left is None else left[moving]
            value, arrays = value[moving], [each[moving] for each in arrays]
    return found.reshape(start.shape)
