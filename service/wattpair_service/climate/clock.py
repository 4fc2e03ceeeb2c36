"""Detects wrong times from the irradiance itself: only at the right time do beam, diffuse and global agree.

Typical years made from satellite snapshots are often labelled by the start of the hour of the snapshot, or by its end. Read as
hourly means, their sun position is up to an hour off, which moves energy between east and west roofs.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from wattpair_service.climate.sun import irradiation_middle_h, zenith_deg
from wattpair_service.engineering.irradiance.conditions import HourlyWeather
from wattpair_service.engineering.sentences import sentence

SEARCHED_MIN = np.arange(-75, 80, 5)
IGNORED_MIN = 10
"""An offset up to this is not corrected: with hourly means of a moving sun the components agree no better."""
NOON_GAIN = 0.5
"""Share of the offset by which the middle of the irradiation must come nearer to noon. Common practice, no source."""
IMPROVEMENT = 0.5
"""The misfit must fall to this share of the misfit at the given times. Common practice, no source."""

SHIFTED = sentence("climate.shifted", "source", "minutes")


def with_right_clock(weather: HourlyWeather) -> HourlyWeather:
    """The year with its times shifted to where its three components agree best; unchanged without clear evidence.

    `source` of the result names the correction.
    """
    offset_min = clock_offset_min(weather)
    if offset_min == 0:
        return weather
    return replace(
        weather,
        middle_utc=weather.middle_utc + pd.Timedelta(minutes=offset_min),
        clock_moved_min=offset_min,
        source=SHIFTED(source=weather.source, minutes=offset_min),
    )


def clock_offset_min(weather: HourlyWeather) -> int:
    """Minutes from the labelled middle of the intervals to the time of the irradiance; 0 without clear evidence.

    Two conditions must hold: the misfit between beam, diffuse and global falls to half or less, and the middle of the year's
    irradiation comes nearer to solar noon by at least half of the offset. The second excludes beam irradiance that was
    computed for another minute of the hour.
    """
    if weather.dni_w_m2 is None or weather.dhi_w_m2 is None:
        return 0
    beam = weather.dni_w_m2 > 50.0
    if not beam.any():
        return 0
    misfit = np.array([_misfit_w_m2(weather, beam, minutes / 60.0) for minutes in SEARCHED_MIN])
    best = int(np.argmin(misfit))
    if best in (0, len(SEARCHED_MIN) - 1):
        # The true offset lies beyond the searched range and cannot be corrected.
        return 0
    uncorrected = float(misfit[SEARCHED_MIN == 0][0])
    offset = int(SEARCHED_MIN[best])
    if abs(offset) <= IGNORED_MIN or misfit[best] >= IMPROVEMENT * uncorrected:
        return 0
    from_noon_min, shifted_min = (abs(irradiation_middle_h(weather, shift_h)) * 60.0 for shift_h in (0.0, offset / 60.0))
    return offset if from_noon_min - shifted_min > NOON_GAIN * abs(offset) else 0


def _misfit_w_m2(weather: HourlyWeather, beam: np.ndarray[tuple[int], np.dtype[np.bool_]], shift_h: float) -> float:
    assert weather.dni_w_m2 is not None, "called only where beam is known"
    assert weather.dhi_w_m2 is not None, "called only where diffuse irradiance is known"
    cosine = np.maximum(np.cos(np.radians(zenith_deg(weather, shift_h)[beam])), 0.0)
    beam_and_diffuse = weather.dni_w_m2[beam] * cosine + weather.dhi_w_m2[beam]
    return float(np.mean(np.abs(beam_and_diffuse - weather.ghi_w_m2[beam])))
