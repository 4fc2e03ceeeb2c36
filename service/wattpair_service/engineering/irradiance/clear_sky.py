"""Clear-sky irradiance of each hour, with a turbidity estimated from the hourly data.

Ineichen and Perez 2002 (10.1016/S0038-092X(02)00045-2) with a Linke turbidity from the data: the 20 % quantile over the
bright steady hours of ten days either side, less what thin cloud adds to it where such hours are scarce (`_scarcity`).
Without this correction the clear sky of cloudy climates is too dim. Where there are no such hours a climatology is used.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pvlib

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.irradiance.conditions import Conditions

# Inversion for turbidity: quantile, tolerance and least count are common practice, no source. Thin cloud adds this much to it
# at full scarcity: the excess over the same quantile of the clearest minutes of each hour is 0.2 at Payerne (share of bright
# steady hours 0.18), 0.1 at Abashiri (0.22), 0.05 at Golden and at Carpentras (0.4), 0.5 to 1.1 where only the cloudier days of
# a year were kept (0.03 to 0.12).
TURBIDITY_QUANTILE = 0.2
TURBIDITY_ZENITH_MAX_DEG = 80.0
TURBIDITY_BEAM_INDEX_MIN = 0.5
TURBIDITY_STEADY = 0.06
TURBIDITY_COUNT_MIN = 15  # with 5, steady hours of broken cloud are taken for clear sky; 30 is worse
TURBIDITY_REACH_DAYS = (10.0, 20.0, 30.0, 45.0, 90.0)
TURBIDITY_STEP_DAYS = 3.0
TURBIDITY_PER_SCARCITY = 1.0
SCARCITY_SHARE = 0.10
SCARCITY_UNKNOWN = 0.15  # mean of the seven places over their variable hours; where the hours cannot tell
TURBIDITY_FIRST_GUESS = 3.0
TURBIDITY_UNKNOWN = (
    2.6  # mean of the seven places of SUBHOURLY.md from their own hours; used where there is neither data nor climatology
)
TURBIDITY_MIN = 1.8  # a clean, dry sky
CLIMATOLOGY_EXCESS = 1.0
"""Excess of monthly climatologies over the turbidity between clouds: mean of the seven places, 0.2 to 1.9."""
CLIMATOLOGY_WEIGHT = 0.5
"""The rest of the weight is on `TURBIDITY_UNKNOWN`: at the seven places that constant alone does better (0.33 points of clipped
share) than a climatology (0.40), but it ignores hazy countries."""


@dataclass(frozen=True, slots=True, eq=False)
class ClearSky:
    """Clear-sky irradiance of each hour [W/m2] and absolute air mass, all 0 at night."""

    ghi_w_m2: FloatArray
    dni_w_m2: FloatArray
    dhi_w_m2: FloatArray
    airmass: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Turbidity:
    """Linke turbidity of each hour.

    `scarcity` says how scarce bright steady hours are in the weeks around: 1 without any, 0.05 where they are 30 % of the
    daylight hours. `inverted_share` is the share of hours whose turbidity comes from the data (0-1).
    """

    linke: FloatArray
    scarcity: FloatArray
    inverted_share: float


def clear_sky(conditions: Conditions, linke_turbidity: FloatArray, *, elevation_m: float) -> ClearSky:
    """Clear-sky irradiance of each hour.

    Parameters
    ----------
    conditions : Conditions
        n points.
    linke_turbidity : array
        Of each point.
    elevation_m : float
        Elevation of the site.
    """
    day = np.flatnonzero(conditions.zenith_deg < 90.0)
    zenith, extra = conditions.zenith_deg[day], conditions.dni_extra_w_m2[day]
    relative = pvlib.atmosphere.get_relative_airmass(np.minimum(zenith, 89.5))
    airmass = pvlib.atmosphere.get_absolute_airmass(relative, pvlib.atmosphere.alt2pres(elevation_m))
    clear = pvlib.clearsky.ineichen(zenith, airmass, linke_turbidity[day], elevation_m, extra)
    by_hour = np.zeros((4, conditions.zenith_deg.size))
    for row, values in zip(by_hour, (clear["ghi"], clear["dni"], clear["dhi"], airmass), strict=True):
        row[day] = values
    return ClearSky(*by_hour)


def turbidity_of(
    conditions: Conditions, *, elevation_m: float, linke_turbidity_by_month: tuple[float, ...] | None, invert: bool
) -> Turbidity:
    """Linke turbidity of each hour.

    Parameters
    ----------
    conditions : Conditions
        In time order within each sequence.
    elevation_m : float
        Elevation of the site.
    linke_turbidity_by_month : tuple of float, optional
        Climatology, January first, for periods without bright steady hours.
    invert : bool
        Whether to estimate the turbidity from the hours; False for representative days, which are not real ones.
    """
    size = conditions.zenith_deg.size
    fallback = np.full(size, TURBIDITY_UNKNOWN)
    if linke_turbidity_by_month is not None:
        climatology = np.asarray(linke_turbidity_by_month)[conditions.month - 1] - CLIMATOLOGY_EXCESS
        mixed = CLIMATOLOGY_WEIGHT * climatology + (1.0 - CLIMATOLOGY_WEIGHT) * TURBIDITY_UNKNOWN
        fallback = np.maximum(mixed, TURBIDITY_MIN)
    if not invert:
        return Turbidity(fallback, np.full(size, SCARCITY_UNKNOWN), 0.0)
    guess = clear_sky(conditions, np.full(size, TURBIDITY_FIRST_GUESS), elevation_m=elevation_m)
    daylight = conditions.zenith_deg < TURBIDITY_ZENITH_MAX_DEG
    beam_index = ratio(conditions.dni_w_m2, guess.dni_w_m2, daylight)
    # Ineichen's beam, solved for the turbidity.
    scale = 0.664 + 0.163 / np.exp(-elevation_m / 8000.0)
    beam = np.flatnonzero(daylight & (beam_index > TURBIDITY_BEAM_INDEX_MIN))
    inverted = np.ones(size)
    extinction = scale * conditions.dni_extra_w_m2[beam] / np.maximum(conditions.dni_w_m2[beam], 1.0)
    inverted[beam] += np.log(extinction) / (0.09 * guess.airmass[beam])
    bright = inverted > 1.0
    estimate, scarcity = np.full(size, np.nan), np.full(size, SCARCITY_UNKNOWN)
    for part in sequences(conditions.sequence):
        usable = bright[part] & _steady(beam_index[part])
        quantile, bright_share = _quantile_around(inverted[part], usable, daylight[part])
        scarcity[part] = np.where(np.isfinite(quantile), _scarcity(bright_share), SCARCITY_UNKNOWN)
        estimate[part] = np.maximum(quantile - TURBIDITY_PER_SCARCITY * scarcity[part], TURBIDITY_MIN)
    known = np.isfinite(estimate)
    return Turbidity(np.where(known, estimate, fallback), scarcity, float(known.mean()))


def _steady(beam_index: FloatArray) -> BoolArray:
    """Whether the hour before or after has nearly the same beam index."""
    similar = np.abs(beam_index[1:] - beam_index[:-1]) < TURBIDITY_STEADY * np.maximum(beam_index[:-1], 1e-3)
    steady = np.zeros(beam_index.size, dtype=bool)
    steady[1:] |= similar
    steady[:-1] |= similar
    return steady


def _quantile_around(turbidity: FloatArray, usable: BoolArray, daylight: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Quantile of one sequence's turbidity in steps of a few days (NaN where too few hours are usable), and the usable share.

    Each step uses the shortest window of `TURBIDITY_REACH_DAYS` that has enough usable hours.
    """
    index, hours, step = np.flatnonzero(usable), turbidity.size, int(TURBIDITY_STEP_DAYS * 24.0)
    middle = np.arange(0, hours, step)[:, None] + step // 2
    reach = np.array([int(days * 24.0) for days in TURBIDITY_REACH_DAYS])
    low, high = np.maximum(middle - reach, 0), np.minimum(middle + reach + 1, hours)
    first, last = np.searchsorted(index, low), np.searchsorted(index, high)
    enough = last - first >= TURBIDITY_COUNT_MIN
    chosen = np.arange(middle.size), np.argmax(enough, axis=1)
    known, first, last = enough.any(axis=1), first[chosen], last[chosen]
    daylight_before = np.concatenate([[0], np.cumsum(daylight)])
    daylight_hours = daylight_before[high[chosen]] - daylight_before[low[chosen]]
    quantile, share = np.full(middle.size, np.nan), np.zeros(middle.size)
    quantile[known] = _quantiles(turbidity[index], first[known], last[known], TURBIDITY_QUANTILE)
    share[known] = (last - first)[known] / np.maximum(daylight_hours[known], 1)
    return np.repeat(quantile, step)[:hours], np.repeat(share, step)[:hours]


def _quantiles(values: FloatArray, first: IntArray, last: IntArray, share: float) -> FloatArray:
    """Quantile of values[first:last], two values at least, for each pair; linear between the sorted values."""
    count = last - first
    columns = np.arange(int(count.max(initial=0)))
    inside = columns < count[:, None]
    ordered = np.sort(np.where(inside, values[np.where(inside, first[:, None] + columns, 0)], np.inf), axis=1)
    position = share * (count - 1)
    below = np.minimum(position.astype(np.int64), count - 2)
    low, high = np.take_along_axis(ordered, np.stack([below, below + 1], axis=1), axis=1).T
    return np.asarray(low + (position - below) * (high - low))


def _scarcity(bright_share: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-bright_share / SCARCITY_SHARE))


def sequences(sequence: IntArray) -> list[slice]:
    """Slices of the runs of equal numbers."""
    edges = np.flatnonzero(np.diff(sequence)) + 1
    starts = [0, *edges.tolist()]
    return [slice(start, end) for start, end in zip(starts, [*starts[1:], sequence.size], strict=True)]


def ratio(value: FloatArray, reference: FloatArray, where: BoolArray) -> FloatArray:
    """Value over reference, 0 outside `where` and where the reference is at most 1."""
    return np.divide(value, reference, out=np.zeros_like(value), where=where & (reference > 1.0))
