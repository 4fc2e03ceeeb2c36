"""How a month's days spread around its mean clearness.

Arrays of shape (12, n): mean clearness index of each n-th of the month's days, rising.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

LOWEST = 0.05
"""Clearness of the darkest days (Bendt, Collares-Pereira and Rabl 1981)."""

CLEAREST_OVER_CLEAR_SKY = 1.05
"""Clearest days over the clear-sky model with the map's mean turbidity: the clearest days have cleaner air than the mean clear
day. Seen in typical years: no source."""

_POINTS = 20
_STEPS = 50


def bendt_days(clearness: FloatArray, clear_day: FloatArray, count: int) -> FloatArray:
    """Published distribution of daily clearness around a month's mean.

    Exponential between the darkest and the clearest days (Bendt, Collares-Pereira and Rabl 1981, 10.1016/0038-092X(81)90013-2;
    its constant solved for the mean). The clearest day is taken from the clear sky of the place and month, which knows height
    and turbidity, where Hollands and Huget (1983, 10.1016/0038-092X(83)90149-4) take it from the mean.

    Parameters
    ----------
    clearness, clear_day : array, shape (12,)
        Mean clearness index of the month, and of a clear day in it.
    count : int
        Parts of equal size.
    """
    low = np.minimum(LOWEST, clearness / 2.0)
    high = np.maximum(CLEAREST_OVER_CLEAR_SKY * clear_day, 1.02 * clearness + 1e-6)
    smallest, largest = np.full_like(clearness, -60.0), np.full_like(clearness, 60.0)
    for _ in range(_STEPS):
        slope = (smallest + largest) / 2.0
        below = _exponential_mean(slope, low, high) < clearness
        smallest, largest = np.where(below, slope, smallest), np.where(below, largest, slope)
    slope = _not_flat((smallest + largest) / 2.0)[:, None]
    share = (np.arange(count * _POINTS) + 0.5) / (count * _POINTS)
    start = np.exp(np.clip(slope * (low - high)[:, None], -700.0, 700.0))
    values = high[:, None] + np.log(start + share * (1.0 - start)) / slope
    return np.asarray(values.reshape(len(clearness), count, _POINTS).mean(axis=2))


def _not_flat(slope: FloatArray) -> FloatArray:
    return np.where(np.abs(slope) < 1e-6, 1e-6, slope)


def _exponential_mean(slope: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Mean of a density proportional to exp(slope x) between two ends."""
    slope = _not_flat(slope)
    ratio = np.exp(np.clip(slope * (low - high), -700.0, 700.0))
    return np.asarray((high - low * ratio) / (1.0 - ratio) - 1.0 / slope)


def levelled_days(days: FloatArray, clearness: FloatArray, clear_day: FloatArray) -> FloatArray:
    """A known distribution brought to another mean while clear days stay clear.

    Every day's share of the clear sky is raised to one power for the month: a data set whose clouds are too thin or too few is
    corrected on its cloudy days, not by dimming its clear ones.

    Parameters
    ----------
    days : array, shape (12, n)
        Clearness index by rising part.
    clearness, clear_day : array, shape (12,)
        The mean wanted, and that of a clear day.
    """
    top = np.maximum(CLEAREST_OVER_CLEAR_SKY * clear_day, 0.01)[:, None]
    share = np.clip(days / top, 0.01, 1.0)
    smallest, largest = np.full((len(clearness), 1), 0.02), np.full((len(clearness), 1), 20.0)
    for _ in range(_STEPS):
        power = (smallest + largest) / 2.0
        above = (top * share**power).mean(axis=1, keepdims=True) > clearness[:, None]
        smallest, largest = np.where(above, power, smallest), np.where(above, largest, power)
    values = top * share**smallest
    return np.asarray(values * (clearness[:, None] / values.mean(axis=1, keepdims=True)))
