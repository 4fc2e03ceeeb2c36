"""Clear sky of each hour, with a turbidity that the hours themselves tell.

Ineichen and Perez 2002 (10.1016/S0038-092X(02)00045-2) with a Linke turbidity found in the data: the 20 % quantile over the
bright steady hours of ten days either side, less what thin cloud adds to it where such hours are rare (`_contamination`).
Without that the cloudiest climates get a dim sky. Where there are no such hours a climatology stands in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pvlib

from wattpair_service.engineering.conditions import Conditions

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

# Inversion for turbidity: quantile, tolerance and least count are common practice, no source. The contamination was read off
# the same quantile
# over the clearest minutes of each hour: 0.2 at Payerne (bright share 0.18), 0.1 at Abashiri (0.22), 0.05 at Golden and at
# Carpentras (0.4), 0.5 to 1.1 where only the cloudier days of a year were kept (0.03 to 0.12).
TURBIDITY_QUANTILE = 0.2
TURBIDITY_ZENITH_MAX_DEG = 80.0
TURBIDITY_BEAM_INDEX_MIN = 0.5
TURBIDITY_STEADY = 0.06
TURBIDITY_COUNT_MIN = 5
TURBIDITY_REACH_DAYS = (10.0, 20.0, 30.0, 45.0, 90.0)
TURBIDITY_STEP_DAYS = 3.0
CONTAMINATION_MAX = 1.0
CONTAMINATION_SHARE = 0.10
TURBIDITY_FIRST_GUESS = 3.0
TURBIDITY_UNKNOWN = 2.7  # mean of what the stations' own data give; used where there is neither data nor climatology
TURBIDITY_MIN = 1.8  # a clean, dry sky
CLIMATOLOGY_EXCESS = 0.7
"""How far monthly climatologies lie above the turbidity between the clouds: mean of the four stations, -0.1 to 1.7."""
CLIMATOLOGY_WEIGHT = 0.5
"""The rest goes to `TURBIDITY_UNKNOWN`: at the four stations that constant alone does better (0.20 points) than a climatology
(0.42), but it knows nothing of hazy countries."""


@dataclass(frozen=True, slots=True, eq=False)
class ClearSky:
    """Clear sky of each hour [W/m2] and absolute air mass."""

    ghi_w_m2: FloatArray
    dni_w_m2: FloatArray
    dhi_w_m2: FloatArray
    airmass: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Turbidity:
    """Linke turbidity of each hour, what was taken off it for thin cloud, and the share of hours that told it themselves."""

    linke: FloatArray
    taken_off: FloatArray
    inverted_share: float


def clear_sky(conditions: Conditions, linke_turbidity: FloatArray, *, elevation_m: float) -> ClearSky:
    """Clear sky of each hour.

    Parameters
    ----------
    conditions : Conditions
        n points.
    linke_turbidity : array
        Of each point.
    elevation_m : float
        Height of the place.
    """
    pressure = pvlib.atmosphere.alt2pres(elevation_m)
    relative = pvlib.atmosphere.get_relative_airmass(np.minimum(conditions.zenith_deg, 89.5))
    airmass = pvlib.atmosphere.get_absolute_airmass(relative, pressure)
    with np.errstate(divide="ignore", invalid="ignore"):  # by night pvlib divides by the sun's height
        clear = pvlib.clearsky.ineichen(conditions.zenith_deg, airmass, linke_turbidity, elevation_m, conditions.dni_extra_w_m2)
    ghi, dni, dhi = (np.nan_to_num(np.asarray(clear[name], dtype=np.float64)) for name in ("ghi", "dni", "dhi"))
    return ClearSky(ghi, dni, dhi, airmass)


def turbidity_of(
    conditions: Conditions, *, elevation_m: float, linke_turbidity_by_month: tuple[float, ...] | None, invert: bool
) -> Turbidity:
    """Linke turbidity of each hour.

    Parameters
    ----------
    conditions : Conditions
        In time order within each sequence.
    elevation_m : float
        Height of the place.
    linke_turbidity_by_month : tuple of float, optional
        Climatology, January first, for where the hours tell nothing.
    invert : bool
        Whether the hours may be asked; representative days are not real ones.
    """
    size = conditions.zenith_deg.size
    fallback = np.full(size, TURBIDITY_UNKNOWN)
    if linke_turbidity_by_month is not None:
        climatology = np.asarray(linke_turbidity_by_month)[conditions.month - 1] - CLIMATOLOGY_EXCESS
        mixed = CLIMATOLOGY_WEIGHT * climatology + (1.0 - CLIMATOLOGY_WEIGHT) * TURBIDITY_UNKNOWN
        fallback = np.maximum(mixed, TURBIDITY_MIN)
    if not invert:
        return Turbidity(fallback, np.zeros(size), 0.0)
    guess = clear_sky(conditions, np.full(size, TURBIDITY_FIRST_GUESS), elevation_m=elevation_m)
    daylight = conditions.zenith_deg < TURBIDITY_ZENITH_MAX_DEG
    beam_index = ratio(conditions.dni_w_m2, guess.dni_w_m2, daylight)
    # Ineichen's beam, solved for the turbidity.
    scale = 0.664 + 0.163 / np.exp(-elevation_m / 8000.0)
    inverted = 1.0 + np.log(scale * conditions.dni_extra_w_m2 / np.maximum(conditions.dni_w_m2, 1.0)) / (0.09 * guess.airmass)
    bright = daylight & (beam_index > TURBIDITY_BEAM_INDEX_MIN) & (inverted > 1.0)
    found, taken_off = np.full(size, np.nan), np.zeros(size)
    for part in sequences(conditions.sequence):
        usable = bright[part] & _steady(beam_index[part])
        quantile, bright_share = _quantile_around(inverted[part], usable, daylight[part])
        taken_off[part] = np.where(np.isfinite(quantile), _contamination(bright_share), 0.0)
        found[part] = np.maximum(quantile - taken_off[part], TURBIDITY_MIN)
    known = np.isfinite(found)
    return Turbidity(np.where(known, found, fallback), taken_off, float(known.mean()))


def _steady(beam_index: FloatArray) -> BoolArray:
    """Whether one of the two neighbours is nearly the same."""
    near = np.abs(beam_index[1:] - beam_index[:-1]) < TURBIDITY_STEADY * np.maximum(beam_index[:-1], 1e-3)
    steady = np.zeros(beam_index.size, dtype=bool)
    steady[1:] |= near
    steady[:-1] |= near
    return steady


def _quantile_around(turbidity: FloatArray, usable: BoolArray, daylight: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Quantile of one sequence's turbidity in steps of a few days (NaN where too little is usable), and the usable share."""
    out, bright_share = np.full(turbidity.size, np.nan), np.zeros(turbidity.size)
    at, values = np.flatnonzero(usable), turbidity[usable]
    daylight_before = np.concatenate([[0], np.cumsum(daylight)])
    step = int(TURBIDITY_STEP_DAYS * 24.0)
    for start in range(0, turbidity.size, step):
        middle = start + step // 2
        for days in TURBIDITY_REACH_DAYS:
            reach = int(days * 24.0)
            low, high = max(middle - reach, 0), min(middle + reach + 1, turbidity.size)
            first, last = np.searchsorted(at, (low, high))
            if last - first >= TURBIDITY_COUNT_MIN:
                here = slice(start, start + step)
                out[here] = _quantile(values[first:last], TURBIDITY_QUANTILE)
                bright_share[here] = (last - first) / max(int(daylight_before[high] - daylight_before[low]), 1)
                break
    return out, bright_share


def _quantile(values: FloatArray, share: float) -> float:
    """Quantile by straight lines between the values in order: numpy's, without its overhead for so few."""
    place = share * (values.size - 1)
    below = min(int(place), values.size - 2)
    low, high = np.partition(values, (below, below + 1))[below : below + 2].tolist()
    return float(low + (place - below) * (high - low))


def _contamination(bright_share: FloatArray) -> FloatArray:
    """What thin and scattered cloud adds to the inverted turbidity where steady bright hours are rare."""
    return np.asarray(CONTAMINATION_MAX * np.exp(-bright_share / CONTAMINATION_SHARE))


def sequences(sequence: IntArray) -> list[slice]:
    """Runs of equal numbers."""
    edges = np.flatnonzero(np.diff(sequence)) + 1
    starts = [0, *edges.tolist()]
    return [slice(start, end) for start, end in zip(starts, [*starts[1:], sequence.size], strict=True)]


def ratio(value: FloatArray, reference: FloatArray, where: BoolArray) -> FloatArray:
    """Value over reference, 0 outside `where` and where the reference is next to nothing."""
    return np.divide(value, reference, out=np.zeros_like(value), where=where & (reference > 1.0))
