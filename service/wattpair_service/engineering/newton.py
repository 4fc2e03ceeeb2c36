"""Newton's method for many points at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.arrays import FloatArray

STEPS_MOST = 60


def newton(
    step: Callable[..., FloatArray],
    start: FloatArray,
    arguments: tuple[npt.NDArray[Any], ...],
    *,
    tolerance: FloatArray,
    end: FloatArray | None = None,
    end_tolerance: float = 0.0,
    steps_most: int = STEPS_MOST,
) -> FloatArray:
    """Root of an equation at each point; a step covers at most nine tenths of the distance to `end`.

    The points are independent: the result of one does not depend on which others are solved with it.

    Parameters
    ----------
    step : callable
        Newton step to subtract, as a function of values and their `arguments`. Solved points are left out of later calls.
    start : array
        First value of each point.
    arguments : tuple of array
        Arguments of `step` at each point.
    tolerance : array
        A point is solved when its step is no larger; the remaining error is of the order of the square.
    end : array, optional
        Upper end of the range in which the equation of each point is defined.
    end_tolerance : float
        A point is also solved when its step is no larger than this part of the distance to `end`.
    steps_most : int
        Points that are not solved after so many steps keep their last value.
    """
    value, unsolved = start.ravel(), None
    arrays = [each.ravel() for each in (tolerance, *arguments, *(() if end is None else (end,)))]
    root = value
    for _ in range(steps_most):
        previous, (step_max, *point_arrays) = value, arrays
        value = previous - step(previous, *point_arrays[: len(arguments)])
        if end is not None:
            value = np.minimum(value, 0.1 * previous + 0.9 * point_arrays[-1])
            if end_tolerance > 0.0:
                step_max = np.maximum(step_max, end_tolerance * (point_arrays[-1] - value))
        if unsolved is None:
            root = value
        else:
            root[unsolved] = value
        moving = np.flatnonzero(np.abs(value - previous) > step_max)
        if not moving.size:
            break
        if moving.size < value.size:
            unsolved = moving if unsolved is None else unsolved[moving]
            value, arrays = value[moving], [each[moving] for each in arrays]
    return root.reshape(start.shape)
