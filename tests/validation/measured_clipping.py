"""Clipped share of a metered power whose plane, module and losses are unknown, by a regression on its unclipped intervals.

The power without a limit is taken as a constant (the inverter's own consumption), a light in the plane, its square and its
product with the air temperature. The light is linear in the beam's three components and the diffuse, so that the plane's own
direction follows from the coefficients, roughly; or in the measured plane's irradiance by the sun's direction.

Two errors are known and stated: chance, by drawing the days anew and from the scatter of the intervals, and extrapolation: how
far the fit to the lower four fifths of the unclipped powers misses the upper fifth, times how much farther the intervals at the
limit lie. A share below zero is noise, single intervals at the limit without the light for it, and counts as 0. Not known:
intervals clipped in part, which lie below the flat top: where they are longer than some minutes, the share is a lower bound.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from tests.validation.measured_record import Record
from tests.validation.minutes import FileRefusedError
from wattpair_service.engineering.arrays import BoolArray, FloatArray

FLAT_TOP = 0.985
"""Share of the AC limit from which an interval counts as clipped."""
UNCLIPPED_LOAD = (0.3, 0.95)
"""Fitted loads between which intervals count as unclipped and are fitted: in low light other losses rule than at the limit."""
ZENITH_MAX_DEG = 80.0
OUTLIER = 4.0
PASSES = 5
DRAWS = 200
INTERVALS_MIN = 200
UPPER_FIFTH = 0.8
NORMAL_QUANTILE_95 = 1.645


@dataclass(frozen=True, slots=True)
class Clipping:
    """A clipped share [% of the energy without a limit] with the range that holds it with 90 % by the two known errors.

    `rmse_percent` is of the unclipped intervals, over their mean power; `extrapolation_percent` the error
    expected of the power at the limit. `tilt_deg` and `azimuth_deg` are the fitted plane's where beam was given, else None.
    """

    clipped_percent: float
    low_percent: float
    high_percent: float
    hours_at_limit: float
    metered_kwh: float
    unclipped_intervals: int
    rmse_percent: float
    extrapolation_percent: float
    tilt_deg: float | None
    azimuth_deg: float | None


def fitted(record: Record, limit_w: float) -> Clipping:
    """The clipped share of a record's power.

    Parameters
    ----------
    record : Record
    limit_w : float
        AC limit [W], or the height of the flat top where that is lower.

    Raises
    ------
    FileRefusedError
        No energy, too few intervals below the limit, or columns that do not vary.
    """
    power, by_direction = record.series["power"], _by_direction(record)
    at_limit = record.counted & (power >= FLAT_TOP * limit_w)
    usable = record.counted & (record.conditions.zenith_deg < ZENITH_MAX_DEG) & ~at_limit
    unclipped = usable & (power > UNCLIPPED_LOAD[0] * limit_w) & (power < UNCLIPPED_LOAD[1] * limit_w)
    light = by_direction[:, -1]
    # Later chosen by the fitted power: by the metered one, low errors below the limit would stay and high ones go.
    for _ in range(PASSES):
        if unclipped.sum() < INTERVALS_MIN:
            raise FileRefusedError(f"{unclipped.sum()} intervals below the limit; {INTERVALS_MIN} are needed")
        terms = _terms(record, by_direction, light)
        coefficients = _solved(terms[unclipped], power[unclipped])
        unlimited = terms @ coefficients
        light = by_direction @ coefficients[: by_direction.shape[1]] / limit_w
        typical = np.abs(power - unlimited) < OUTLIER * float(np.std((power - unlimited)[unclipped]))
        load = unlimited / limit_w
        unclipped = usable & (load > UNCLIPPED_LOAD[0]) & (load < UNCLIPPED_LOAD[1]) & typical
    metered = record.metered_w
    lost = float((unlimited - power)[at_limit].sum())
    upper = unclipped & (unlimited > np.quantile(unlimited[unclipped], UPPER_FIFTH))
    lower = unclipped & ~upper
    missed = float((terms[upper] @ _solved(terms[lower], power[lower]) - power[upper]).sum() / power[upper].sum())
    farther = (unlimited[at_limit].mean() - unlimited[unclipped].mean()) if at_limit.any() else 0.0
    missed *= max(farther / (unlimited[upper].mean() - unlimited[lower].mean()), 1.0)
    scatter = float(np.std((power - unlimited)[unclipped])) * float(np.sqrt(at_limit.sum()))
    chance = float(np.hypot(np.std(_drawn(terms, power, unclipped, at_limit, record.day)), scatter))
    half = np.hypot(NORMAL_QUANTILE_95 * chance, missed * float(unlimited[at_limit].sum()))
    percent = [max(100.0 * float(each) / (metered + lost), 0.0) for each in (lost, lost - half, lost + half)]
    tilt_deg, azimuth_deg = _plane(coefficients) if "poa" not in record.series else (None, None)
    rmse = float(np.sqrt(np.mean((power - unlimited)[unclipped] ** 2)) / power[unclipped].mean())
    return Clipping(
        clipped_percent=percent[0], low_percent=percent[1], high_percent=percent[2],
        hours_at_limit=float(at_limit.sum()) * record.step_min / 60.0, metered_kwh=metered * record.step_min / 6e4,
        unclipped_intervals=int(unclipped.sum()), rmse_percent=100.0 * rmse, extrapolation_percent=100.0 * missed,
        tilt_deg=tilt_deg, azimuth_deg=azimuth_deg,
    )  # fmt: skip


def _by_direction(record: Record) -> FloatArray:
    """Beam by its components and diffuse, or the plane's irradiance by the sun's direction and alone [kW/m2], shape (n, 4)."""
    at, poa = record.conditions, record.series.get("poa")
    zenith, azimuth = np.radians(at.zenith_deg), np.radians(at.azimuth_deg)
    sun = np.stack([np.sin(zenith) * np.sin(azimuth), np.sin(zenith) * np.cos(azimuth), np.cos(zenith)], axis=1)
    along, whole = (at.dni_w_m2, at.dhi_w_m2) if poa is None else (poa, poa)
    return np.column_stack([along[:, None] * sun, whole]) / 1000.0


def _terms(record: Record, by_direction: FloatArray, light: FloatArray) -> FloatArray:
    """Terms of the power without a limit, each of the size of 1, shape (n, 6 or 7)."""
    warmth = (record.series["temp_air"] - 25.0) / 25.0
    by_temperature = [light * warmth] if np.ptp(warmth) > 0.0 else []
    return np.column_stack([by_direction, np.ones(light.size), light**2, *by_temperature])


def _solved(terms: FloatArray, power: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.lstsq(terms, power, rcond=None)[0])


def _plane(coefficients: FloatArray) -> tuple[float, float]:
    """Tilt and azimuth of the fitted plane [deg]."""
    east, north, up = coefficients[:3].tolist()
    return float(np.degrees(np.arctan2(np.hypot(east, north), up))), float(np.degrees(np.arctan2(east, north)) % 360.0)


def _drawn(
    terms: FloatArray, power: FloatArray, unclipped: BoolArray, at_limit: BoolArray, day: pd.DatetimeIndex
) -> FloatArray:
    """Lost power with the days of the fit drawn anew [W], shape (draws,)."""
    of_day = np.unique(day[unclipped], return_inverse=True)[1]
    rows, count = np.column_stack([terms, power])[unclipped], int(of_day.max()) + 1
    # Each day's products once: a draw then only weighs them.
    products = np.zeros((count, rows.shape[1], rows.shape[1]))
    np.add.at(products, of_day, rows[:, :, None] * rows[:, None, :])
    weights = np.random.default_rng(1).multinomial(count, np.full(count, 1.0 / count), size=DRAWS)
    summed = np.einsum("ij,jkl->ikl", weights.astype(np.float64), products)
    try:
        coefficients = np.linalg.solve(summed[:, :-1, :-1], summed[:, :-1, -1:])[..., 0]
    except np.linalg.LinAlgError as error:
        raise FileRefusedError(f"no single fit, since a column does not vary: {error}") from error
    return np.asarray(coefficients @ terms[at_limit].sum(axis=0) - power[at_limit].sum())


def text(found: Clipping) -> list[str]:
    """The result as lines."""
    is_noise = found.hours_at_limit > 0.0 and found.clipped_percent <= 0.0
    noise = "; with less light than the limit asks for, which is noise: nothing clipped is seen" if is_noise else ""
    lines = [
        f"metered {found.metered_kwh:.1f} kWh, {found.hours_at_limit:.1f} h at the limit{noise}",
        f"clipped {found.clipped_percent:.2f} % ({found.low_percent:.2f} to {found.high_percent:.2f} by chance and "
        "extrapolation; more, where intervals were clipped in part)",
        f"fit to {found.unclipped_intervals} intervals: RMSE {found.rmse_percent:.1f} %; error at the limit "
        f"{found.extrapolation_percent:+.1f} %",
    ]
    if found.tilt_deg is not None:
        lines.append(f"fitted plane: tilt {found.tilt_deg:.0f}, azimuth {found.azimuth_deg:.0f} degrees")
    return lines
