"""The swing of light inside an hour: a few weighted states whose mean is the hour itself.

An hour of broken cloud is neither sunny nor grey all through: it is sun and shade in turn, and the sunny minutes meet an
AC limit that the mean never reaches. Each hour is split into three states:

    state   weight        beam                  diffuse
    shade   v (1 - f)     0                     c kd
    even    1 - v         kb (the hour's own)   kd
    sun     v f           b                     c r kd

in units of the clear sky's beam and diffuse, kb and kd being the hour's own indices. b = 1 - BEAM_DIMMING (1 - kb) is the beam
between the clouds, f = kb / b the share of sun, r = 1.25 - 0.65 kb the diffuse light in sun over that in shade, and c makes
the mean diffuse kd. The share of swing v is a probability whose odds are a product of four things that hourly data know:

    v / (1 - v) = ODDS (s / 0.1) (S / 0.1)^0.5 exp(2.5 (o - 0.5)) exp(cos(zenith) - 0.7)

s    mean change of the clear-sky index k from hour to hour around this hour, weighted exp(-distance / 1 h)
S    mean of s over the days around (exp(-distance / 5 d)): how changeable the weather of these days is
o    opacity: how much of the beam that is missing is missing from the global too, (1 - k) / (1 - kb). Thin cloud scatters
     forward and keeps the global (o about 0.2, an even hour), heaps of cloud reflect it (o 0.5 to 0.7, a swinging hour)
zenith  under a high sun convection is strongest and the flanks of the clouds hide least

The clear sky and its turbidity are those of `turbidity`.

Taken up from the literature: light inside the hour has two modes (Suehrcke and McCormick 1988; Skartveit and Olseth 1992) and
the neighbouring hours tell how far it swings (Skartveit and Olseth). Calibration: tests/validation/calibrate_subhourly.py.

Neglected: order in time (an AC limit has no memory), the sun's own way inside the hour (measured: no gain), enhancement at
cloud edges beyond the diffuse light of the sunny state.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.irradiance.clear_sky import clear_sky, ratio, sequences, turbidity_of
from wattpair_service.engineering.irradiance.conditions import Conditions

IrradianceOrigin = Literal[
    "measured_hourly",
    "measured_global_only",
    "satellite_15_min",
    "satellite_30_min",
    "satellite_60_min",
    "reanalysis",
    "representative_days",
]

STATES = 3
"""Shade, even, sun: the columns of every array of states."""

# Calibrated on the minutes of Golden 2020, Abashiri 2023 and Payerne June 2016 (see the calibration's own file). The first two
# are fitted to the clipped energy of each hour. The exponents are rounded between that fit with all five free (0.7, 3.0, 0.7)
# and a fit to the variance of each hour's beam (0.5, 1.9, 1.0); the first two trade against each other along a ridge.
ODDS = 0.74
BEAM_DIMMING = 0.33
ODDS_LONG_EXPONENT = 0.5
ODDS_PER_OPACITY = 2.5
ODDS_PER_COS_ZENITH = 1.0

# Diffuse light in minutes of sun over that in minutes of shade within the same hour, at beam index 0 and its fall to 1: mean of
# the three stations, which agree within 0.05.
DIFFUSE_SUN_TO_SHADE = 1.25
DIFFUSE_SUN_TO_SHADE_FALL = 0.65

CHANGE_REFERENCE = 0.1
CHANGE_FLOOR = 0.003
CHANGE_HOURS = 1.0  # e-folding distance of s; 0.7 to 2 h do as well
CHANGE_REACH_HOURS = 8
LONG_HOURS = 120.0  # e-folding distance of S
LONG_REACH_HOURS = 240
SHORT_HOURS = 192
"""Up to this length sequences are looked at together."""
BLOCK_HOURS = 64
"""Hours whose surroundings are summed together, by one matrix."""
OPACITY_REFERENCE = 0.5
OPACITY_PULL = 0.1  # draws o to 0.4 where hardly any beam is missing and the ratio would be noise
OPACITY_PULL_TO = 0.4
OPACITY_RANGE = (-0.2, 1.2)
COS_ZENITH_REFERENCE = 0.7

ZENITH_MAX_DEG = 80.0  # below, the hour stays as it is: no limit is met
LIT_CLEAR_GHI_W_M2 = 20.0
BEAM_INDEX_MIN = 0.005

TEMPERATURE_FOLLOWS = 0.57
"""Share of a state's swing that the cell's temperature follows with ten minutes of inertia (0.4 to 1 changes 0.05 points)."""

VARIABILITY_ADDED: dict[IrradianceOrigin, float] = {
    "measured_hourly": 1.0,
    "measured_global_only": 1.0,
    "satellite_15_min": 1.0,
    "satellite_30_min": 0.8,
    "satellite_60_min": 0.5,
    "reanalysis": 1.0,
    "representative_days": 1.0,
}
"""Share of the swing that the source leaves out. Snapshots of a pixel carry the rest: Mikofski et al. 2023 find about half for
hourly ones; from the four stations' minutes, smoothed over a pixel's 5 to 10 minutes: 0.28 to 0.78 with one snapshot an hour,
0.74 to 0.87 with two, 0.92 to 0.98 with four."""


CHANGE_SCALE: dict[IrradianceOrigin, float] = {"representative_days": 0.44}
"""What the changes from hour to hour are to be multiplied with. Representative days swing to and fro around their mean by twice
their spread in every hour, where real hours, correlated by 0.4 with the one before (Aguiar and Collares-Pereira 1992,
10.1016/0038-092X(92)90068-L), change by 0.80 (2 (1 - 0.4))^0.5 = 0.87 of it on average."""


@dataclass(frozen=True, slots=True)
class RangeWidth:
    """Half width of a clipped share's range: `floor_share` (0-1) plus a part of what the spread adds to the hourly share."""

    floor_share: float
    of_correction: float


RANGE_WIDTH: dict[IrradianceOrigin, RangeWidth] = {
    "measured_hourly": RangeWidth(0.0015, 0.25),
    "measured_global_only": RangeWidth(0.0025, 0.35),
    "satellite_15_min": RangeWidth(0.0020, 0.30),
    "satellite_30_min": RangeWidth(0.0020, 0.40),
    "satellite_60_min": RangeWidth(0.0025, 0.80),
    "reanalysis": RangeWidth(0.0060, 0.70),
    "representative_days": RangeWidth(0.0050, 0.50),
}
"""The first from the stations left out; the others are widened by their own scatter and by what input errors cost."""
RANGE_PER_CONTAMINATION = 0.2
"""Wider by this part of what the spread adds, for each unit of turbidity that was taken off for thin cloud: a unit changes
what is added by 0.4, and half of it is in doubt."""


@dataclass(frozen=True, slots=True, eq=False)
class SubhourlyStates:
    """States of the intervals that swing; every other interval stays as it is.

    Attributes
    ----------
    index : array of int, shape (m,)
        Which intervals swing, in order.
    weight, beam_ratio, diffuse_ratio : array, shape (m, 3)
        Weights add up to 1 in each row; the ratios, times the interval's own beam or diffuse, have weighted means of 1.
    variable_share : array, shape (n,)
        v after the source's share, 0 where nothing swings.
    linke_turbidity : array, shape (n,)
        What the clear sky was computed with.
    inverted_share : float
        Share of the intervals whose turbidity comes from the data themselves (0-1).
    contamination : float
        Mean of what was taken off the turbidity for thin cloud, over the swinging intervals.
    origin : str
        How the light was obtained, which sets how much was added.
    """

    index: IntArray
    weight: FloatArray
    beam_ratio: FloatArray
    diffuse_ratio: FloatArray
    variable_share: FloatArray
    linke_turbidity: FloatArray
    inverted_share: float
    contamination: float
    origin: IrradianceOrigin


@dataclass(frozen=True, slots=True, eq=False)
class StateIrradiance:
    """Irradiance of each state [W/m2], shape (m, 3); weighted means are the intervals' own values."""

    ghi_w_m2: FloatArray
    dni_w_m2: FloatArray
    dhi_w_m2: FloatArray


def subhourly_states(
    conditions: Conditions,
    *,
    origin: IrradianceOrigin,
    elevation_m: float,
    linke_turbidity_by_month: tuple[float, ...] | None,
) -> SubhourlyStates:
    """States of each hour.

    Parameters
    ----------
    conditions : Conditions
        n hours, in time order within each sequence.
    origin : str
        How the light was obtained, a key of `VARIABILITY_ADDED`. With `representative_days` the turbidity is climatological.
    elevation_m : float
        Height of the place.
    linke_turbidity_by_month : tuple of float, optional
        Climatological turbidity, January first, for where the hours tell nothing.

    Returns
    -------
    SubhourlyStates
        No state has more beam than the clear sky or the hour itself, whichever is more.
    """
    turbidity = turbidity_of(
        conditions,
        elevation_m=elevation_m,
        linke_turbidity_by_month=linke_turbidity_by_month,
        invert=origin != "representative_days",
    )
    clear = clear_sky(conditions, turbidity.linke, elevation_m=elevation_m)
    lit = clear.ghi_w_m2 > LIT_CLEAR_GHI_W_M2
    beam_index = ratio(conditions.dni_w_m2, clear.dni_w_m2, lit)
    global_index = ratio(conditions.ghi_w_m2, clear.ghi_w_m2, lit)
    swings = lit & (conditions.zenith_deg < ZENITH_MAX_DEG) & (beam_index > BEAM_INDEX_MIN) & (beam_index < 1.0)
    index = np.flatnonzero(swings)
    changes = _changes(conditions.sequence, global_index, np.where(lit, clear.ghi_w_m2, 0.0), CHANGE_SCALE.get(origin, 1.0))
    cosine = np.cos(np.radians(conditions.zenith_deg[index]))
    own, of_days = changes[:, index]
    share = VARIABILITY_ADDED[origin] * _variable_share(own, of_days, beam_index[index], global_index[index], cosine)
    swing = np.zeros(swings.size)
    swing[index] = share
    weight, beam_ratio, diffuse_ratio = _states(share, beam_index[index])
    contamination = float(np.average(turbidity.taken_off[index], weights=share + 1e-9)) if index.size else 0.0
    return SubhourlyStates(
        index, weight, beam_ratio, diffuse_ratio, swing, turbidity.linke, turbidity.inverted_share, contamination, origin
    )


def state_irradiance(conditions: Conditions, states: SubhourlyStates) -> StateIrradiance:
    """Irradiance of each state: beam and diffuse by their ratios, global by what these add to the interval's own."""
    at = states.index
    dni, dhi = conditions.dni_w_m2[at][:, None], conditions.dhi_w_m2[at][:, None]
    state_dni, state_dhi = dni * states.beam_ratio, dhi * states.diffuse_ratio
    upright = np.cos(np.radians(conditions.zenith_deg[at]))[:, None]
    ghi = conditions.ghi_w_m2[at][:, None] + (state_dni - dni) * upright + (state_dhi - dhi)
    return StateIrradiance(np.maximum(ghi, 0.0), state_dni, state_dhi)


def power_ratios(
    *, weight: FloatArray, effective_irradiance_w_m2: FloatArray, temp_cell_c: FloatArray, power_coefficient_per_k: float
) -> FloatArray:
    """Power of each state over the interval's own power, weighted mean 1: the unclipped energy stays as it is.

    Parameters
    ----------
    weight, effective_irradiance_w_m2 : array, shape (..., 3, m)
        Weights and irradiance that reaches the cells [W/m2].
    temp_cell_c : array, shape (..., 3, m)
        Cell temperature if each state lasted [degC]; a share of its swing is followed.
    power_coefficient_per_k : float
        Relative change of power [1/K], negative.

    Returns
    -------
    array, shape (..., 3, m)
        1 everywhere where a face is dark.
    """
    power = effective_irradiance_w_m2
    if power_coefficient_per_k:
        mean_c = (temp_cell_c * weight).sum(axis=-2, keepdims=True)
        temp_c = mean_c + TEMPERATURE_FOLLOWS * (temp_cell_c - mean_c)
        power = np.maximum(effective_irradiance_w_m2 * (1.0 + power_coefficient_per_k * (temp_c - 25.0)), 0.0)
    mean = (power * weight).sum(axis=-2, keepdims=True)
    return np.asarray(np.divide(power, mean, out=np.ones_like(power), where=mean > 0.0))


def clipped_share_range(*, share: float, hourly_share: float, states: SubhourlyStates) -> tuple[float, float]:
    """Range of a clipped share (0-1): never below what the hourly means show, nor below zero.

    Made to hold what minutes would show in at least 80 % of cases with a station left out, even when every coefficient is
    fitted anew. It covers the swing inside the hour and the turbidity found, not the year's weather, the module or its
    temperature.
    """
    width = RANGE_WIDTH[states.origin]
    part = width.of_correction + RANGE_PER_CONTAMINATION * states.contamination
    half = width.floor_share + part * max(share - hourly_share, 0.0)
    return max(min(share, hourly_share), share - half), share + half


def _states(swing: FloatArray, beam_index: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    sunny = np.maximum(1.0 - BEAM_DIMMING * (1.0 - beam_index), beam_index)
    sun_share = beam_index / sunny
    zero, one = np.zeros_like(swing), np.ones_like(swing)
    sun_to_shade = DIFFUSE_SUN_TO_SHADE - DIFFUSE_SUN_TO_SHADE_FALL * beam_index
    shade = 1.0 / (1.0 - sun_share + sun_share * sun_to_shade)
    weight = np.stack([swing * (1.0 - sun_share), 1.0 - swing, swing * sun_share])
    # Turned, so that the hours of one state lie side by side in memory, where everything is computed state by state.
    return weight.T, np.stack([zero, one, 1.0 / sun_share]).T, np.stack([shade, one, shade * sun_to_shade]).T


def _variable_share(
    change: FloatArray, long_change: FloatArray, beam_index: FloatArray, global_index: FloatArray, cosine: FloatArray
) -> FloatArray:
    opacity = (1.0 - global_index + OPACITY_PULL * OPACITY_PULL_TO) / (1.0 - beam_index + OPACITY_PULL)
    odds = (
        ODDS
        * ((change + CHANGE_FLOOR) / CHANGE_REFERENCE)
        * ((long_change + CHANGE_FLOOR) / CHANGE_REFERENCE) ** ODDS_LONG_EXPONENT
        * np.exp(ODDS_PER_OPACITY * (np.clip(opacity, *OPACITY_RANGE) - OPACITY_REFERENCE))
        * np.exp(ODDS_PER_COS_ZENITH * (cosine - COS_ZENITH_REFERENCE))
    )
    return np.asarray(odds / (1.0 + odds))


def _changes(sequence: IntArray, index: FloatArray, light: FloatArray, scale: float) -> FloatArray:
    """Mean change of the index from hour to hour around each hour, and over the days around, shape (2, n); 0 in the dark."""
    found = np.zeros((2, index.size))
    for rows in _rows(sequence):
        inside = rows >= 0
        lights = np.where(inside, light[rows], 0.0)
        change = scale * _change_around(index[rows], lights > 0.0)
        found[:, rows[inside]] = change[inside], _mean_around(change, lights)[inside]
    return found


def _rows(sequence: IntArray) -> Iterator[IntArray]:
    """Indexes of the hours, a row for each sequence: the short ones together, filled up with -1, each long one by itself."""
    parts = sequences(sequence)
    short = [part for part in parts if part.stop - part.start <= SHORT_HOURS]
    long = ([part] for part in parts if part.stop - part.start > SHORT_HOURS)
    for together in (*([short] if short else []), *long):
        starts, stops = (np.array([getattr(part, end) for part in together]) for end in ("start", "stop"))
        hour = starts[:, None] + np.arange(np.max(stops - starts))
        yield np.where(hour < stops[:, None], hour, -1)


def _change_around(index: FloatArray, lit: BoolArray) -> FloatArray:
    """Mean absolute change from one lit hour to the next around each hour of sequences, a row each."""
    steps = np.zeros((2, *index.shape))
    usable = lit[:, 1:] & lit[:, :-1]
    steps[0, :, :-1], steps[1, :, :-1] = np.where(usable, np.abs(np.diff(index)), 0.0), usable
    # A step lies half an hour behind the hour that it starts from.
    return _ratio_of(_sums_around(steps, CHANGE_REACH_HOURS, CHANGE_HOURS, later_h=0.5))


def _mean_around(values: FloatArray, light: FloatArray) -> FloatArray:
    """Mean over the days around, weighted with light and nearness, of sequences, a row each."""
    return _ratio_of(_sums_around(np.stack([values * light, light]), LONG_REACH_HOURS, LONG_HOURS))


def _ratio_of(sums: FloatArray) -> FloatArray:
    total, weight = sums
    return np.asarray(np.divide(total, weight, out=np.zeros(total.shape), where=weight > 1e-9))


def _sums_around(values: FloatArray, reach: int, hours: float, *, later_h: float = 0.0) -> FloatArray:
    """Sums over the hours around each hour along the last axis, as far as `reach`, weighted exp(-distance / `hours`).

    `later_h`: how much later than its hour a value lies.
    """
    *rows, size = values.shape
    reach, block = min(reach, size), min(size, BLOCK_HOURS)
    count = -(-size // block)
    padded = np.zeros((*rows, count * block + 2 * reach))
    padded[..., reach : reach + size] = values
    seen = np.lib.stride_tricks.sliding_window_view(padded, block + 2 * reach, axis=-1)[..., ::block, :]
    sums = seen.reshape(-1, block + 2 * reach) @ _weights(reach, block, hours, later_h)
    return np.asarray(sums.reshape(*rows, -1)[..., :size])


@lru_cache(maxsize=64)
def _weights(reach: int, block: int, hours: float, later_h: float) -> FloatArray:
    """Weight of each hour from `reach` before a block to as much behind it, in the sums of each hour of the block."""
    apart = np.arange(block) + reach - np.arange(block + 2 * reach)[:, None]
    return np.where(np.abs(apart) <= reach, np.exp(-np.abs(apart - later_h) / hours), 0.0)
