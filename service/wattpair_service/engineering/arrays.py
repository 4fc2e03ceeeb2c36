"""Types of arrays, and their numbering."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


def without_gaps(number: IntArray) -> IntArray:
    """The numbers that occur, numbered anew from 0 in their order."""
    highest = int(number.max(initial=0)) + 1
    if highest > 4 * number.size + 1_000_000:
        return np.unique(number, return_inverse=True)[1].reshape(number.shape)
    occurs = np.zeros(highest, dtype=np.bool_)
    occurs[number] = True
    return np.asarray((np.cumsum(occurs) - 1)[number])


def paired(first: IntArray, second: IntArray) -> IntArray:
    """A number, without gaps, for each pair that occurs; both are numbered without large gaps."""
    return without_gaps(first * (int(second.max(initial=0)) + 1) + second)
