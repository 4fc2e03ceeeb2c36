"""Subhourly variability of irradiance: three weighted states for each hour, whose mean is the hour itself.

In an hour of broken cloud sun and shade alternate, and the sunny minutes exceed an AC limit that the mean never reaches. Each
hour is split into three states:

    state   weight        beam                  diffuse
    shade   v (1 - f)     0                     c kd
    even    1 - v         kb (the hour's own)   kd
    sun     v f           b                     c r kd

in units of the clear sky's beam and diffuse, kb and kd being the hour's own indices. b = 1 - BEAM_DIMMING (1 - kb) is the beam
between the clouds, f = kb / b the share of sun, r = 1.25 - 0.65 kb the diffuse in sun over that in shade, and c makes
the mean diffuse kd. The variable share v is a probability whose odds are a product of four quantities from hourly data:

    v / (1 - v) = ODDS (s / 0.1)^1.04 exp(4.27 (o - 0.5)) exp(1.37 (cos(zenith) - 0.7)) exp(1.99 min(q, 0.3))

s    mean change of the clear-sky index k from hour to hour around this hour, weighted exp(-distance / 1 h)
o    opacity: missing global over missing beam, (1 - k) / (1 - kb). Thin cloud scatters forward and keeps the global (o about
     0.2, an even hour), cumulus reflects it (o 0.5 to 0.7, a variable hour)
zenith  under a high sun convection is strongest and the sides of the clouds hide least
q    scarcity of bright steady hours in the weeks around, 0 to 1 (`clear_sky`). Fields of small cumulus leave few such hours
     although their hours change little from one to the next

Clear sky and turbidity: `clear_sky`.

From the literature: irradiance inside the hour has two modes (Suehrcke and McCormick 1988; Skartveit and Olseth 1992), and its
variability follows from the neighbouring hours (Skartveit and Olseth). Calibration: tests/validation/calibrate_subhourly.py.

Neglected: order in time (an AC limit has no memory), the sun's path inside the hour (measured: no gain), enhancement at
cloud edges beyond the diffuse irradiance of the sunny state, variability below a minute (the minutes of the calibration are
means).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from wattpair_service.engineering.arrays import BoolArray, FloatArray, IntArray
from wattpair_service.engineering.irradiance.clear_sky import clear_sky, ratio, turbidity_of
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

# Calibrated on the minutes of seven places (SUBHOURLY.md): the four exponents by least squares on the variance of each hour's
# horizontal beam, then these two on the clipped shares of the places.
ODDS = 0.715
BEAM_DIMMING = 0.264
ODDS_CHANGE_EXPONENT = 1.04
ODDS_PER_OPACITY = 4.27
ODDS_PER_COS_ZENITH = 1.37
ODDS_PER_SCARCITY = 1.99
SCARCITY_MAX = 0.3
"""Scarcity counts up to this: a fifth of the places' variable hours have more, and leaving places out finds no gain in it."""

# Diffuse irradiance in minutes of sun over that in shade within the same hour, at beam index 0 and its fall to 1: mean of
# Golden, Payerne and Abashiri, which agree within 0.05.
DIFFUSE_SUN_TO_SHADE = 1.25
DIFFUSE_SUN_TO_SHADE_FALL = 0.65

CHANGE_REFERENCE = 0.1
CHANGE_FLOOR = 0.003
CHANGE_HOURS = 1.0  # e-folding distance of s; 0.7 to 2 h do as well
CHANGE_REACH_HOURS = 8
OPACITY_REFERENCE = 0.5
OPACITY_PULL = 0.1  # pulls o to 0.4 where hardly any beam is missing and the ratio would be noise
OPACITY_PULL_TO = 0.4
OPACITY_RANGE = (-0.2, 1.2)
COS_ZENITH_REFERENCE = 0.7

ZENITH_MAX_DEG = 80.0  # with a lower sun the hour is not split: no limit is reached
LIT_CLEAR_GHI_W_M2 = 20.0
BEAM_INDEX_MIN = 0.005

CELL_TEMPERATURE_SHARE = 0.57
"""Share of a state's temperature difference that a cell with ten minutes of inertia reaches (0.4 to 1 changes 0.05 points)."""

VARIABILITY_ADDED: dict[IrradianceOrigin, float] = {
    "measured_hourly": 1.0,
    "measured_global_only": 1.1,
    "satellite_15_min": 1.05,
    "satellite_30_min": 0.9,
    "satellite_60_min": 0.6,
    "reanalysis": 1.7,
    "representative_days": 1.1,
}
"""Factor for the variable share: snapshots of a pixel contain some of the variability, smoothed data less than hourly means do.
From the seven places' minutes, degraded as each origin has them (tests/validation/calibrate_origins.py); Mikofski et al. 2023
find about half for hourly snapshots."""


CHANGE_SCALE: dict[IrradianceOrigin, float] = {"representative_days": 0.44}
"""Factor for the changes from hour to hour. The hours of representative days alternate around their mean, each change being
twice their standard deviation; real hours, correlated by 0.4 with the one before (Aguiar and Collares-Pereira 1992,
10.1016/0038-092X(92)90068-L), change by 0.80 (2 (1 - 0.4))^0.5 = 0.87 of it on average."""


@dataclass(frozen=True, slots=True)
class RangeWidth:
    """Half width of a clipped share's range: `floor_share` (0-1) plus `correction_share` of the subhourly correction.

    The subhourly correction is the clipped share with subhourly states less that of hourly means.
    """

    floor_share: float
    correction_share: float


RANGE_WIDTH: dict[IrradianceOrigin, RangeWidth] = {
    "measured_hourly": RangeWidth(0.0020, 0.15),
    "measured_global_only": RangeWidth(0.0030, 0.20),
    "satellite_15_min": RangeWidth(0.0030, 0.20),
    "satellite_30_min": RangeWidth(0.0025, 0.20),
    "satellite_60_min": RangeWidth(0.0035, 0.50),
    "reanalysis": RangeWidth(0.0030, 0.20),
    "representative_days": RangeWidth(0.0040, 0.30),
}
"""Chosen so that, with each place left out in turn, the minutes' share lies inside at every ratio and on every face at six of
seven places or more (four of five for representative days). Of the other origins only the factor was fitted without it."""
RANGE_PER_SCARCITY = 0.4
"""Wider by this share of the subhourly correction at full scarcity of bright steady hours: few places had such skies."""


@dataclass(frozen=True, slots=True, eq=False)
class SubhourlyStates:
    """Subhourly states of the variable intervals; every other interval is not split.

    Attributes
    ----------
    index : array of int, shape (m,)
        The variable intervals, in order.
    weight, beam_ratio, diffuse_ratio : array, shape (m, 3)
        Weights add up to 1 in each row; the ratios, times the interval's own beam or diffuse, have weighted means of 1.
    variable_share : array, shape (n,)
        v times the factor of `VARIABILITY_ADDED`, at most 1; 0 where an interval is not split.
    linke_turbidity : array, shape (n,)
        Of the clear sky.
    inverted_share : float
        Share of the intervals whose turbidity comes from the data themselves (0-1).
    scarcity : float
        Mean scarcity of bright steady hours over the variable intervals (0-1).
    origin : str
        How the irradiance was obtained.
    """

    index: IntArray
    weight: FloatArray
    beam_ratio: FloatArray
    diffuse_ratio: FloatArray
    variable_share: FloatArray
    linke_turbidity: FloatArray
    inverted_share: float
    scarcity: float
    origin: IrradianceOrigin


@dataclass(frozen=True, slots=True, eq=False)
class StateIrradiance:
    """Irradiance of each state [W/m2], shape (m, 3); weighted means are the intervals' own values where these close."""

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
    """Subhourly states of a year.

    Parameters
    ----------
    conditions : Conditions
        n hours, in time order within each sequence.
    origin : str
        How the irradiance was obtained, a key of `VARIABILITY_ADDED`; `representative_days` get the climatological turbidity.
    elevation_m : float
        Elevation of the site.
    linke_turbidity_by_month : tuple of float, optional
        Climatological turbidity, January first, for periods without bright steady hours.

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
    is_variable = lit & (conditions.zenith_deg < ZENITH_MAX_DEG) & (beam_index > BEAM_INDEX_MIN) & (beam_index < 1.0)
    index = np.flatnonzero(is_variable)
    change = CHANGE_SCALE.get(origin, 1.0) * change_around(conditions.sequence, global_index, lit)
    variable = _variable_share(
        change[index],
        beam_index[index],
        global_index[index],
        np.cos(np.radians(conditions.zenith_deg[index])),
        turbidity.scarcity[index],
    )
    share = np.minimum(VARIABILITY_ADDED[origin] * variable, 1.0)
    variable_share = np.zeros(is_variable.size)
    variable_share[index] = share
    weight, beam_ratio, diffuse_ratio = _states(share, beam_index[index])
    return SubhourlyStates(
        index=index,
        weight=weight,
        beam_ratio=beam_ratio,
        diffuse_ratio=diffuse_ratio,
        variable_share=variable_share,
        linke_turbidity=turbidity.linke,
        inverted_share=turbidity.inverted_share,
        scarcity=float(np.average(turbidity.scarcity[index], weights=share + 1e-9)) if index.size else 0.0,
        origin=origin,
    )


def state_irradiance(conditions: Conditions, states: SubhourlyStates) -> StateIrradiance:
    """Irradiance of each state: beam and diffuse by their ratios; global changes by as much as beam and diffuse do."""
    index = states.index
    dni, dhi = conditions.dni_w_m2[index][:, None], conditions.dhi_w_m2[index][:, None]
    state_dni, state_dhi = dni * states.beam_ratio, dhi * states.diffuse_ratio
    cos_zenith = np.cos(np.radians(conditions.zenith_deg[index]))[:, None]
    ghi = conditions.ghi_w_m2[index][:, None] + (state_dni - dni) * cos_zenith + (state_dhi - dhi)
    return StateIrradiance(np.maximum(ghi, 0.0), state_dni, state_dhi)


def power_ratios(
    *, weight: FloatArray, effective_irradiance_w_m2: FloatArray, temp_cell_c: FloatArray, power_coefficient_per_k: float
) -> FloatArray:
    """Power of each state over the interval's mean, with a weighted mean of 1: the unclipped energy does not change.

    Parameters
    ----------
    weight, effective_irradiance_w_m2 : array, shape (..., 3, m)
        Weights and irradiance on the cells [W/m2].
    temp_cell_c : array, shape (..., 3, m)
        Steady cell temperature of each state [degC]; the cell follows only a share of the differences.
    power_coefficient_per_k : float
        Relative change of power [1/K], negative.

    Returns
    -------
    array, shape (..., 3, m)
        1 in every state where the face is dark.
    """
    power = effective_irradiance_w_m2
    if power_coefficient_per_k:
        mean_c = (temp_cell_c * weight).sum(axis=-2, keepdims=True)
        temp_c = mean_c + CELL_TEMPERATURE_SHARE * (temp_cell_c - mean_c)
        power = np.maximum(effective_irradiance_w_m2 * (1.0 + power_coefficient_per_k * (temp_c - 25.0)), 0.0)
    mean = (power * weight).sum(axis=-2, keepdims=True)
    return np.asarray(np.divide(power, mean, out=np.ones_like(power), where=mean > 0.0))


def clipped_share_range(*, share: float, hourly_share: float, states: SubhourlyStates) -> tuple[float, float]:
    """Range of a clipped share (0-1), never below the share of hourly means, nor below zero.

    With each of seven places, or its climate, left out of the fit, the share from its minutes lies inside in 98 % of cases; the
    width was chosen with all of them. The range covers subhourly variability and turbidity, not the year's weather, the module
    or its temperature.
    """
    width = RANGE_WIDTH[states.origin]
    correction_share = width.correction_share + RANGE_PER_SCARCITY * states.scarcity
    half_width = width.floor_share + correction_share * max(share - hourly_share, 0.0)
    return max(min(share, hourly_share), share - half_width), share + half_width


def _states(variable_share: FloatArray, beam_index: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Weights, beam ratios and diffuse ratios of shade, even and sun, shape (m, 3)."""
    sun_beam_index = np.maximum(1.0 - BEAM_DIMMING * (1.0 - beam_index), beam_index)
    sun_share = beam_index / sun_beam_index
    zero, one = np.zeros_like(variable_share), np.ones_like(variable_share)
    sun_to_shade = DIFFUSE_SUN_TO_SHADE - DIFFUSE_SUN_TO_SHADE_FALL * beam_index
    shade_diffuse_ratio = 1.0 / (1.0 - sun_share + sun_share * sun_to_shade)
    weight = np.stack([variable_share * (1.0 - sun_share), 1.0 - variable_share, variable_share * sun_share])
    beam_ratio = np.stack([zero, one, 1.0 / sun_share])
    diffuse_ratio = np.stack([shade_diffuse_ratio, one, shade_diffuse_ratio * sun_to_shade])
    # Transposed views: the hours of one state stay contiguous in memory, and everything is computed state by state.
    return weight.T, beam_ratio.T, diffuse_ratio.T


def _variable_share(
    change: FloatArray, beam_index: FloatArray, global_index: FloatArray, cosine: FloatArray, scarcity: FloatArray
) -> FloatArray:
    opacity = (1.0 - global_index + OPACITY_PULL * OPACITY_PULL_TO) / (1.0 - beam_index + OPACITY_PULL)
    odds = (
        ODDS
        * ((change + CHANGE_FLOOR) / CHANGE_REFERENCE) ** ODDS_CHANGE_EXPONENT
        * np.exp(ODDS_PER_OPACITY * (np.clip(opacity, *OPACITY_RANGE) - OPACITY_REFERENCE))
        * np.exp(ODDS_PER_COS_ZENITH * (cosine - COS_ZENITH_REFERENCE))
        * np.exp(ODDS_PER_SCARCITY * np.minimum(scarcity, SCARCITY_MAX))
    )
    return np.asarray(odds / (1.0 + odds))


def change_around(sequence: IntArray, index: FloatArray, lit: BoolArray) -> FloatArray:
    """Mean absolute change of an index from one lit hour to the next around each hour of the same sequence: s of the formula.

    Weighted exp(-distance / `CHANGE_HOURS`) up to `CHANGE_REACH_HOURS`; 0 where no two lit hours follow one another.
    """
    usable = lit[1:] & lit[:-1] & (sequence[1:] == sequence[:-1])
    steps = np.stack([np.where(usable, np.abs(np.diff(index)), 0.0), usable])
    sums = np.zeros((2, index.size))
    # A change lies half an hour after the hour that it starts from.
    for hours in range(-CHANGE_REACH_HOURS, CHANGE_REACH_HOURS):
        first, last = max(-hours, 0), min(index.size - 1 - hours, index.size)
        if first < last:
            around, start = slice(first, last), slice(first + hours, last + hours)
            weight = np.exp(-abs(hours + 0.5) / CHANGE_HOURS) * (sequence[around] == sequence[start])
            sums[:, around] += weight * steps[:, start]
    total, weight = sums
    return np.asarray(np.divide(total, weight, out=np.zeros(total.shape), where=weight > 1e-9))
