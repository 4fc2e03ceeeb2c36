"""Distribution of a month's daily clearness around its mean.

Arrays of shape (12, n): mean clearness index of each n-th of the month's days, rising.
"""

from __future__ import annotations

import numpy as np

from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.newton import newton

LOWEST = 0.05
"""Clearness of the darkest days (Bendt, Collares-Pereira and Rabl 1981)."""

CLEAREST_OVER_CLEAR_SKY = 1.05
"""Clearest days over the clear-sky model with the map's mean turbidity: the clearest days have cleaner air than the mean clear
day. Observed in typical years: no source."""

_POINTS = 20
_SLOPE_MAX = 60.0
_FLAT = 1e-6
_LANGEVIN_MAX = 0.98  # beyond, the slope exceeds its limit at any clearness
_POWER_RANGE = (0.02, 20.0)


def bendt_days(clearness: FloatArray, clear_day: FloatArray, count: int) -> FloatArray:
    """Published distribution of daily clearness around a month's mean.

    Exponential between the darkest and the clearest days (Bendt, Collares-Pereira and Rabl 1981, 10.1016/0038-092X(81)90013-2;
    its constant solved for the mean). The clearest day follows from the clear sky of the location and month, with elevation
    and turbidity; Hollands and Huget (1983, 10.1016/0038-092X(83)90149-4) derive it from the mean.

    Parameters
    ----------
    clearness, clear_day : array, shape (12,)
        Mean clearness index of the month, and of a clear day in it.
    count : int
        Parts of equal size.
    """
    low = np.minimum(LOWEST, clearness / 2.0)
    high = np.maximum(CLEAREST_OVER_CLEAR_SKY * clear_day, 1.02 * clearness + 1e-6)
    slope = np.clip(_steepness((clearness - low) / (high - low)) / (high - low), -_SLOPE_MAX, _SLOPE_MAX)
    slope = np.where(np.abs(slope) < _FLAT, _FLAT, slope)[:, None]
    share = (np.arange(count * _POINTS) + 0.5) / (count * _POINTS)
    start = np.exp(np.clip(slope * (low - high)[:, None], -700.0, 700.0))
    values = high[:, None] + np.log(start + share * (1.0 - start)) / slope
    return np.asarray(values.reshape(len(clearness), count, _POINTS).mean(axis=2))


def _steepness(mean: FloatArray) -> FloatArray:
    """The t for which a density proportional to exp(t x) between 0 and 1 has the given mean, by Newton's method.

    The mean is 1/2 + L(t/2) / 2 with Langevin's function L. First guess: Cohen's approximation of the inverse of L (1991,
    Rheologica Acta 30, 270-273; from memory), which is within 5 %.
    """
    target = np.clip(2.0 * mean - 1.0, -_LANGEVIN_MAX, _LANGEVIN_MAX)

    def step(half_t: FloatArray, target: FloatArray) -> FloatArray:
        is_small = np.abs(half_t) < 0.01
        x = np.where(is_small, 1.0, half_t)
        langevin = np.where(is_small, half_t / 3.0 - half_t**3 / 45.0, 1.0 / np.tanh(x) - 1.0 / x)
        slope = np.where(is_small, 1.0 / 3.0 - half_t**2 / 15.0, 1.0 / x**2 - 1.0 / np.sinh(x) ** 2)
        return (langevin - target) / slope

    start = target * (3.0 - target**2) / (1.0 - target**2)
    return 2.0 * newton(step, start, (target,), tolerance=np.full(target.shape, 1e-9))


def levelled_days(days: FloatArray, clearness: FloatArray, clear_day: FloatArray) -> FloatArray:
    """A distribution adjusted to another mean, while clear days stay clear.

    Every day's share of the clear sky is raised to one power for the month. So a data set whose clouds are too thin or too few
    is corrected on its cloudy days, and its clear days are not dimmed.

    Parameters
    ----------
    days : array, shape (12, n)
        Clearness index by rising part.
    clearness, clear_day : array, shape (12,)
        Target mean, and clearness index of a clear day.
    """
    top = np.maximum(CLEAREST_OVER_CLEAR_SKY * clear_day, 0.01)[:, None]
    share = np.clip(days / top, 0.01, 1.0)
    values = top * share ** _levelling_power(share, clearness / top[:, 0])[:, None]
    return np.asarray(values * (clearness[:, None] / values.mean(axis=1, keepdims=True)))


def _levelling_power(share: FloatArray, mean: FloatArray) -> FloatArray:
    """Power that gives the shares of each row a mean, within `_POWER_RANGE`.

    The logarithm of the mean falls with the power and is convex: after its first step Newton's method converges from below.
    """
    logarithm, target = np.log(share), np.log(np.maximum(mean, 1e-300))[:, None]

    def step(power: FloatArray, row: IntArray) -> FloatArray:
        raised = np.exp(power[:, None] * logarithm[row])
        total = raised.sum(axis=1)
        slope = (raised * logarithm[row]).sum(axis=1) / total
        next_power = power - (np.log(total / share.shape[1]) - target[row, 0]) / np.minimum(slope, -1e-12)
        return np.asarray(power - np.clip(next_power, *_POWER_RANGE))

    rows = np.arange(len(share))
    return newton(step, np.ones(rows.size), (rows,), tolerance=np.full(rows.size, 1e-9))
